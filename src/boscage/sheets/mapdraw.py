"""The map renderer: one for every sheet and for a window. It draws onto given axes at an exact scale."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.patches import Circle
from shapely.geometry.base import BaseGeometry

from boscage.model.results import Site
from boscage.sheets import features, fencing, setmarks
from boscage.sheets.content import MapContent, MapKey
from boscage.sheets.features import Sketch
from boscage.sheets.frame import MapFrame
from boscage.sheets.labels import Placer, Spot
from boscage.sheets.relief import Contours, draw_ground, trace_contours
from boscage.sheets.shapes import array_path, clip, draw_line, line_path, pieces
from boscage.sheets.style import BLUE, INK, LAYER_ORDER, LINES, MM_PER_PT, PAPER, LineLook, TextStyle
from boscage.sheets.symbols import DISC_MM
from boscage.sheets.typeset import Fitted, fit, printable

_NAME = TextStyle(size_pt=7.0, bold=True, align="center", valign="center", backing=True)
_WATER_NAME = TextStyle(size_pt=6.5, italic=True, colour=BLUE, align="center", valign="center", backing=True)
_HEIGHT_NAME = TextStyle(size_pt=6.0, colour="#6b5c45", align="center", valign="center", backing=True)
_NAME_WIDTH_MM, _NAME_LINES = 34.0, 2
_GATE_NAME = TextStyle(size_pt=6.5, align="center", valign="center", backing=True)
_LEAST_CONTOUR_MM = 22.0
_MARK_EVERY_MM = 2.5
MARK_ORDER = LAYER_ORDER["site"] - 0.2
"""Marks of readings and cameras stand just under the discs of sites."""


def draw_map(
    axes: Axes, frame: MapFrame, content: MapContent, overlay: Callable[[Sketch], None] | None = None
) -> MapKey:
    """Draw a map that fills the axes.

    Args:
        axes: Filled by the map.
        frame: The ground that it shows.
        content: What to draw.
        overlay: Draws what a sheet puts on top of the layers, before names take the room that is left.

    Returns:
        What is on it, for the legend.
    """
    b = frame.bounds
    axes.set_xlim(b.west, b.east)
    axes.set_ylim(b.south, b.north)
    sketch = Sketch(
        axes=axes, frame=frame, content=content, placer=Placer(frame.width_mm, frame.height_mm), key=MapKey()
    )
    contours = _draw_ground(sketch) if content.ground else None
    features.draw_stops(sketch)
    features.draw_water(sketch)
    if content.parcels:
        features.draw_parcels(sketch)
    features.draw_no_go(sketch)
    fencing.draw_fences(sketch)
    features.draw_tracks(sketch)
    features.draw_power_lines(sketch)
    setmarks.draw_reach(sketch)
    if content.focus is not None:
        _draw_focus(sketch, content.focus)
    fencing.draw_gates(sketch)
    features.draw_dwellings(sketch)
    _draw_sites(sketch)
    if overlay is not None:
        overlay(sketch)
    if content.sign:
        features.draw_sign(sketch)
    if content.focus is not None:
        name_site(sketch, content.focus)
    if content.names:
        _draw_names(sketch)
    if contours is not None:
        label_contours(sketch, contours)
    return sketch.key


def _draw_ground(sketch: Sketch) -> Contours | None:
    frame, content, b = sketch.frame, sketch.content, sketch.frame.bounds
    ground = draw_ground(content.backdrop, frame)
    sketch.axes.imshow(
        ground.image, extent=(b.west, b.east, b.south, b.north), interpolation="none", aspect="auto",
        zorder=LAYER_ORDER["image"],
    )  # fmt: skip
    sketch.key.canopy, sketch.key.canopy_unknown = ground.canopy, ground.canopy_unknown
    sketch.key.has_relief = ground.has_relief
    contours = trace_contours(content.backdrop, frame, content.units) if content.contours else None
    if contours is None:
        return None
    for heavy, look in ((False, LINES["contour"]), (True, LINES["contour_index"])):
        lines = [a for h, parts in contours.lines.items() if contours.is_index(h) == heavy for a in parts]
        path = line_path(clip([shapely.LineString(a) for a in lines if len(a) > 1], frame))
        draw_line(sketch.axes, path, look, LAYER_ORDER["contour"])
    sketch.key.contour_interval_m = contours.interval_m
    return contours


def _draw_focus(sketch: Sketch, focus: Site) -> None:
    """The way in and the ring."""
    frame = sketch.frame
    if focus.way_in is not None and len(focus.way_in) > 1:
        way = shapely.LineString(focus.way_in[:, :2])
        path = line_path(clip([way], frame))
        draw_line(sketch.axes, path, LINES["way_in"], LAYER_ORDER["way_in"])
        mark_along(sketch, way)
        sketch.key.shown.add("way_in")
    draw_ring(sketch, focus)


def mark_along(sketch: Sketch, line: shapely.LineString) -> None:
    """Keep names off a line where there is other room."""
    for along in np.arange(0.0, line.length, _MARK_EVERY_MM * sketch.frame.metres_per_mm):
        p = line.interpolate(along)
        sketch.placer.mark(*sketch.frame.to_mm(p.x, p.y), _MARK_EVERY_MM)


def draw_ring(sketch: Sketch, site: Site) -> None:
    """The ring to scale and a cross that points at it from outside."""
    frame, x, y = sketch.frame, site.place.x_m, site.place.y_m
    order, radius = LAYER_ORDER["site"], sketch.content.ring_radius_m
    mm = frame.metres_per_mm
    inner, outer = radius + 0.8 * mm, radius + 4.2 * mm
    arms = [np.array([(x + i * inner, y + j * inner), (x + i * outer, y + j * outer)])
            for i, j in ((1, 0), (-1, 0), (0, 1), (0, -1))]  # fmt: skip
    draw_line(sketch.axes, array_path(arms), (LineLook(colour=PAPER, width_pt=3.0), LineLook(width_pt=1.4)), order)
    for look in (LineLook(colour=PAPER, width_pt=2.8), LineLook(width_pt=1.3)):
        sketch.axes.add_patch(
            Circle((x, y), radius, facecolor="none", edgecolor=look.colour, lw=look.width_pt, zorder=order + 0.1)
        )
    sketch.key.shown.add("ring")
    at = frame.to_mm(x, y)
    sketch.placer.take(*at, 2 * outer / mm, 2 * outer / mm)


def name_site(sketch: Sketch, focus: Site) -> None:
    """The site's id beside its ring."""
    mm = sketch.frame.metres_per_mm
    at, outer = sketch.frame.to_mm(focus.place.x_m, focus.place.y_m), sketch.content.ring_radius_m + 4.2 * mm
    name = Fitted(lines=(printable(focus.site),), style=replace(_NAME, size_pt=9.0))
    spot = sketch.placer.beside(*at, name.width_mm + 1.5, name.height_mm + 0.8, off_mm=outer / mm + 0.5)
    if spot:
        _set_label(sketch, spot, name)


def _draw_sites(sketch: Sketch) -> None:
    """Every other site's rank in a ringed disc, moved aside with a leader where discs would overlap."""
    focus = sketch.content.focus
    inside = [s for s in sketch.content.sites if s is not focus and sketch.frame.holds(s.place.x_m, s.place.y_m)]
    chosen = {s.site for s in sketch.content.sets}
    for site in inside:
        x, y = sketch.frame.to_mm(site.place.x_m, site.place.y_m)
        is_chosen = site.site in chosen
        spot = sketch.placer.must_place(x, y, setmarks.CHOSEN_MM if is_chosen else DISC_MM)
        if spot is None:
            sketch.key.sites_left_out.append(site.rank)
            continue
        sketch.key.shown.add("site")
        if is_chosen:
            setmarks.draw_second_ring(sketch, spot)
        draw_disc(sketch, spot, site.rank, (site.place.x_m, site.place.y_m))


def draw_disc(sketch: Sketch, spot: Spot, rank: int, place: tuple[float, float]) -> None:
    """A number in a ringed disc, with a leader to its place where it stands aside."""
    frame, order = sketch.frame, LAYER_ORDER["site"]
    x, y = frame.to_ground(spot.x, spot.y)
    radius = (DISC_MM / 2 - 0.3) * frame.metres_per_mm
    if np.hypot(*np.subtract(frame.to_mm(*place), (spot.x, spot.y))) > 0.05:
        leader = np.array([place, (x, y)])
        draw_line(sketch.axes, array_path([leader]), (LineLook(width_pt=0.8),), order)
        sketch.axes.add_patch(Circle(place, 0.5 * frame.metres_per_mm, facecolor=INK, lw=0, zorder=order))
    disc = Circle((x, y), radius, facecolor=PAPER, edgecolor=INK, lw=1.3, zorder=order + 0.2)
    sketch.axes.add_patch(disc)
    size = 8.5 if rank < 100 else 6.5
    put_text(sketch, spot.x, spot.y, str(rank), TextStyle(size_pt=size, bold=True, align="center", valign="center"))


def lead_mark(sketch: Sketch, place: tuple[float, float], size_mm: float) -> Spot | None:
    """Where a mark stands: at its place, or beside what stands there already with a line to the place drawn.

    None on a full map.
    """
    spot = sketch.placer.must_place(*sketch.frame.to_mm(*place), size_mm)
    if spot is None:
        return None
    x, y = sketch.frame.to_ground(spot.x, spot.y)
    if np.hypot(x - place[0], y - place[1]) > 0.05 * sketch.frame.metres_per_mm:
        leader = array_path([np.array([place, (x, y)])])
        looks = (LineLook(colour=PAPER, width_pt=2.0), LineLook(width_pt=0.8))
        draw_line(sketch.axes, leader, looks, MARK_ORDER - 0.1)
    return spot


def _draw_names(sketch: Sketch) -> None:
    """Names of gates and parcels, then of water and no-go areas, where there is room."""
    for text, place in fencing.gate_names(sketch):
        _name_gate(sketch, text, place)
    for text, shape in features.parcel_names(sketch):
        _name_area(sketch, text, shape, _NAME)
    no_go = zip(sketch.column("no_go", "reason", "no-go"), sketch.clipped("no_go"), strict=True)
    for text, shape in no_go:
        if not shape.is_empty:
            _name_area(sketch, text, shape, replace(_NAME, size_pt=6.5, bold=False))
    for text, shape in features.creek_names(sketch):
        _name_area(sketch, text, shape, _WATER_NAME)


def _name_gate(sketch: Sketch, text: str, place: BaseGeometry) -> None:
    least = sketch.content.least_pt
    style = replace(_GATE_NAME, size_pt=max(_GATE_NAME.size_pt, least))
    lines = 1 if least < style.size_pt else _NAME_LINES
    fitted = fit(printable(text), _NAME_WIDTH_MM, style, lines=lines, floor_pt=least)
    width, height = fitted.width_mm + 0.8, fitted.height_mm + 0.4
    off_mm = fencing.GATE_SIDE_MM / 2 + 0.1
    spot = sketch.placer.beside(*sketch.frame.to_mm(place.x, place.y), width, height, off_mm=off_mm)
    if spot:
        _set_label(sketch, spot, fitted)


def _name_area(sketch: Sketch, text: str, shape: BaseGeometry, style: TextStyle) -> None:
    least = sketch.content.least_pt
    style = replace(style, size_pt=max(style.size_pt, least))
    fitted = fit(text, _NAME_WIDTH_MM, style, lines=_NAME_LINES, floor_pt=least)
    width, height = fitted.width_mm + 1.2, fitted.height_mm + 0.6
    spot = sketch.placer.place(_spots_in(sketch, shape), width, height)
    if spot:
        _set_label(sketch, spot, fitted)


def _spots_in(sketch: Sketch, shape: BaseGeometry) -> list[tuple[float, float]]:
    """Places in a shape, or along a line, in the order to be tried; mm."""
    b = sketch.frame.bounds
    seen = shapely.intersection(shape, shapely.box(b.west, b.south, b.east, b.north))
    if seen.is_empty:
        return []
    if not pieces(seen, "Polygon"):
        lines = sorted(pieces(seen, "LineString"), key=lambda g: -g.length)[:1]
        places = [g.interpolate(t, normalized=True) for g in lines for t in (0.5, 0.35, 0.65, 0.2, 0.8)]
        return [sketch.frame.to_mm(p.x, p.y) for p in places]
    middle = max(pieces(seen, "Polygon"), key=lambda g: g.area)
    start = middle.representative_point()
    best = shapely.maximum_inscribed_circle(middle, tolerance=sketch.frame.metres_per_mm)
    first = best.coords[0] if not best.is_empty else (start.x, start.y)
    west, south, east, north = middle.bounds
    xs, ys = np.meshgrid(np.linspace(west, east, 13)[1:-1], np.linspace(south, north, 13)[1:-1])
    inside = shapely.contains_xy(middle, xs, ys)
    grid = np.column_stack([xs[inside], ys[inside]])
    near = grid[np.argsort(np.hypot(*(grid - first).T), kind="stable")] if len(grid) else grid
    return [sketch.frame.to_mm(float(x), float(y)) for x, y in (first, *near)]


def _set_label(sketch: Sketch, spot: Spot, fitted: Fitted) -> None:
    top = spot.y - fitted.height_mm / 2
    for k, line in enumerate(fitted.lines):
        put_text(sketch, spot.x, top + (k + 0.5) * fitted.style.line_mm, line, fitted.style)


def put_text(sketch: Sketch, x_mm: float, y_mm: float, text: str, style: TextStyle) -> None:
    """Set a line of text on a map; its middle in mm from the frame's top left."""
    x, y = sketch.frame.to_ground(x_mm, y_mm)
    ground = {"boxstyle": "square,pad=0.12", "fc": PAPER, "ec": "none", "alpha": 0.78} if style.backing else None
    sketch.axes.text(
        x, y, text, fontsize=style.size_pt, color=style.colour, weight="bold" if style.bold else "normal",
        style="oblique" if style.italic else "normal", ha=style.align, va="center_baseline" if not ground else "center",
        rotation=style.rotation_deg, rotation_mode="anchor", bbox=ground, zorder=LAYER_ORDER["label"],
        family="DejaVu Sans", parse_math=False, clip_on=True,
    )  # fmt: skip


def label_contours(sketch: Sketch, contours: Contours) -> None:
    """The height of heavy lines, or of every line where they are few, along the line and reading upright."""
    few = len(contours.lines) <= 6
    per_unit = 0.3048 if sketch.content.units == "us" else 1.0
    for level, parts in contours.lines.items():
        if few or contours.is_index(level):
            text = f"{level / per_unit:g}"
            for line in clip([shapely.LineString(a) for a in parts if len(a) > 1], sketch.frame):
                for part in pieces(line, "LineString"):
                    _label_contour(sketch, part, text)


def _label_contour(sketch: Sketch, line: BaseGeometry, text: str) -> None:
    frame = sketch.frame
    if line.length < _LEAST_CONTOUR_MM * frame.metres_per_mm:
        return
    long = Fitted(lines=(text,), style=_HEIGHT_NAME).width_mm + 1.0
    high = _HEIGHT_NAME.size_pt * MM_PER_PT * 1.15
    for share in (0.5, 0.3, 0.7, 0.15, 0.85):
        at = share * line.length
        a, b = (line.interpolate(at + s * long / 2 * frame.metres_per_mm) for s in (-1, 1))
        angle = (np.degrees(np.arctan2(b.y - a.y, b.x - a.x)) + 90.0) % 180.0 - 90.0
        turn = np.radians(abs(angle))
        width = long * np.cos(turn) + high * np.sin(turn)
        height = long * np.sin(turn) + high * np.cos(turn)
        spot = sketch.placer.place([frame.to_mm((a.x + b.x) / 2, (a.y + b.y) / 2)], width, height)
        if spot:
            put_text(sketch, spot.x, spot.y, text, replace(_HEIGHT_NAME, rotation_deg=float(angle)))
            return
