"""The features of a map, one function a layer: parcels, stops, water, tracks, wires, houses, sign."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from shapely.geometry.base import BaseGeometry

from boscage.sheets.content import MapContent, MapKey
from boscage.sheets.frame import MapFrame
from boscage.sheets.labels import Placer
from boscage.sheets.shapes import area_path, array_path, clip, draw_area, draw_line, line_path, pieces
from boscage.sheets.style import AREAS, INK, LAYER_ORDER, LINES, PAPER, PERMISSION_LETTERS
from boscage.sheets.symbols import DWELLING, DWELLING_HALF_MM, FRESH_DAYS, OLD_DAYS, SIGN_HALF_MM, sign_paths

_LEAST_POND_MM2, _OUTLINED_MM = 20.0, 1.0
_TICK_EVERY_MM, _TICK_HALF_MM = 5.0, 0.9


@dataclass(frozen=True, kw_only=True)
class Sketch:
    """A map being drawn: where, what, and what is known of it so far."""

    axes: Axes
    frame: MapFrame
    content: MapContent
    placer: Placer
    key: MapKey

    def layer(self, name: str) -> Any:
        """The GeoDataFrame of a layer, or None when it is missing or empty."""
        frame = self.content.backdrop.vectors.get(name)
        return None if frame is None or len(frame) == 0 else frame

    def clipped(self, name: str) -> list[BaseGeometry]:
        """The layer's geometries in the frame, one a row; empty without the layer."""
        layer = self.layer(name)
        return [] if layer is None else clip(layer.geometry.to_numpy(), self.frame)

    def column(self, name: str, field: str, default: str = "") -> list[str]:
        """A text column of a layer; the default where it is absent or blank."""
        layer = self.layer(name)
        if layer is None:
            return []
        if field not in layer.columns:
            return [default] * len(layer)
        return [default if _blank(v) else str(v) for v in layer[field].tolist()]


def _blank(value: object) -> bool:
    return value is None or str(value).strip() in ("", "None", "NaT", "<NA>", "nan")


def draw_stops(sketch: Sketch) -> None:
    """Hatch the ground that is ruled out, all stops but permission alike: parcels show permission themselves.

    All of it is hatched; what is narrower on the paper than a millimetre has no outline, which would hide the rest.
    """
    areas = [s.geometry for s in sketch.content.stops if s.geometry is not None and s.name != "permission"]
    inside = [g for g in clip(areas, sketch.frame) if not g.is_empty]
    if not inside:
        return
    whole = shapely.union_all([p for g in inside for p in pieces(g, "Polygon")])
    look, order = AREAS["ruled_out"], LAYER_ORDER["ruled_out"]
    draw_area(sketch.axes, area_path([whole]), replace(look, outline=None), order)
    thin = _OUTLINED_MM / 2 * sketch.frame.metres_per_mm
    wide = whole.buffer(-thin, quad_segs=2).buffer(thin, quad_segs=4)
    draw_area(sketch.axes, area_path([wide]), replace(look, hatch=""), order)
    sketch.key.shown.add("ruled_out")


def draw_parcels(sketch: Sketch) -> None:
    """Parcels by permission: each has its own line and hatch, and a letter with the parcel's name."""
    shapes = sketch.clipped("parcels")
    access = [a.strip().lower() for a in sketch.column("parcels", "access", "unknown")]
    for state in ("granted", "refused", "unknown"):
        of_state = [g for g, a in zip(shapes, access, strict=True) if _permission(a) == state and not g.is_empty]
        if not of_state:
            continue
        look = AREAS[state]
        path = area_path(of_state)
        draw_area(sketch.axes, path, look, LAYER_ORDER["permission"] + (0.1 if look.cased else 0.0))
        sketch.key.shown.add(state)


def _permission(access: str) -> str:
    return access if access in PERMISSION_LETTERS else "unknown"


def parcel_names(sketch: Sketch) -> list[tuple[str, BaseGeometry]]:
    """Each parcel's label, `G North block` and the like, with its part in the frame."""
    shapes = sketch.clipped("parcels")
    names = sketch.column("parcels", "parcel", "no name")
    access = [_permission(a.strip().lower()) for a in sketch.column("parcels", "access", "unknown")]
    labels = [f"{PERMISSION_LETTERS[a]}: {n}" for a, n in zip(access, names, strict=True)]
    return [(label, g) for label, g in zip(labels, shapes, strict=True) if not g.is_empty]


def draw_no_go(sketch: Sketch) -> None:
    """No-go areas with their own hatch and outline."""
    path = area_path(sketch.clipped("no_go"))
    if path is not None:
        draw_area(sketch.axes, path, AREAS["no_go"], LAYER_ORDER["no_go"])
        sketch.key.shown.add("no_go")


def draw_water(sketch: Sketch) -> None:
    """Creeks as lines, broken where they run dry, and ponds as hatched areas."""
    shapes = sketch.clipped("water")
    if not shapes:
        return
    ponds = area_path(shapes)
    if ponds is not None:
        draw_area(sketch.axes, ponds, AREAS["pond"], LAYER_ORDER["pond"])
        sketch.key.shown.add("pond")
    classes = sketch.column("water", "class")
    for name, dry in (("creek", False), ("creek_dry", True)):
        own = [g for g, c in zip(shapes, classes, strict=True) if ("interm" in c or "ephem" in c) == dry]
        path = line_path(own)
        if path is not None:
            draw_line(sketch.axes, path, LINES[name], LAYER_ORDER["creek"])
            sketch.key.shown.add(name)


def draw_tracks(sketch: Sketch) -> None:
    """Roads as double lines, tracks and trails in two kinds of dashes."""
    shapes = sketch.clipped("tracks")
    classes = sketch.column("tracks", "class", "track")
    for step, name in enumerate(("trail", "track", "road")):
        path = line_path([g for g, c in zip(shapes, classes, strict=True) if c.strip().lower() == name])
        if path is not None:
            draw_line(sketch.axes, path, LINES[name], LAYER_ORDER["tracks"] + step * 0.1)
            sketch.key.shown.add(name)


def draw_power_lines(sketch: Sketch) -> None:
    """Power lines as a line with short ticks across; a lone point as a tick cross."""
    shapes = [g for g in sketch.clipped("power_lines") if not g.is_empty]
    lines = [p for g in shapes for p in pieces(g, "LineString")]
    points = [p for g in shapes for p in pieces(g, "Point")]
    ticks = [t for line in lines for t in _ticks(line, sketch.frame)]
    half = 1.4 * sketch.frame.metres_per_mm
    for p in points:
        ticks += [np.array([(p.x - half, p.y), (p.x + half, p.y)]), np.array([(p.x, p.y - half), (p.x, p.y + half)])]
    for path in (line_path(lines), array_path(ticks)):
        if path is not None:
            looks = LINES["power_line"] if lines and path is not None else LINES["power_line"][1:]
            draw_line(sketch.axes, path, looks, LAYER_ORDER["power_line"])
            sketch.key.shown.add("power_line")


def _ticks(line: BaseGeometry, frame: MapFrame) -> list[Any]:
    step, half = _TICK_EVERY_MM * frame.metres_per_mm, _TICK_HALF_MM * frame.metres_per_mm
    ticks = []
    for along in np.arange(step / 2, line.length, step):
        a, b = line.interpolate(max(0.0, along - half)), line.interpolate(along + half)
        dx, dy = b.x - a.x, b.y - a.y
        size = float(np.hypot(dx, dy)) or 1.0
        x, y = (a.x + b.x) / 2, (a.y + b.y) / 2
        ox, oy = -dy / size * half, dx / size * half
        ticks.append(np.array([(x - ox, y - oy), (x + ox, y + oy)]))
    return ticks


def draw_dwellings(sketch: Sketch) -> None:
    """Dwellings as filled houses at their middle; footprints are filled too."""
    shapes = [g for g in sketch.clipped("dwellings") if not g.is_empty]
    middles = [g.centroid for g in shapes if sketch.frame.holds(g.centroid.x, g.centroid.y)]
    if not middles:
        return
    _points(sketch, middles, DWELLING, half_mm=DWELLING_HALF_MM, fill=INK, order=LAYER_ORDER["dwelling"])
    sketch.key.shown.add("dwelling")
    for p in middles:
        x, y = sketch.frame.to_mm(p.x, p.y)
        sketch.placer.take(x, y, 2 * DWELLING_HALF_MM, 2 * DWELLING_HALF_MM)


def draw_sign(sketch: Sketch) -> None:
    """Sign by kind, filled when fresh, grey up to two weeks, hollow when older or without a date."""
    layer = sketch.layer("sign")
    if layer is None:
        return
    ages = sign_ages(layer, sketch.content.backdrop.date)
    kinds = [k.strip().lower() for k in sketch.column("sign", "kind")]
    points = layer.geometry.to_numpy()
    rows = [
        (k, _age_fill(a), p) for k, a, p in zip(kinds, ages, points, strict=True)
        if p is not None and not p.is_empty and k in sign_paths() and sketch.frame.holds(p.x, p.y)
    ]  # fmt: skip
    for step, fill in enumerate((PAPER, "#a8a8a8", INK)):
        for kind, path in sign_paths().items():
            own = [p for k, f, p in rows if k == kind and f == fill]
            if own:
                order = LAYER_ORDER["sign"] + step * 0.01
                _points(sketch, own, path, half_mm=SIGN_HALF_MM, fill=fill, order=order)
                for p in own:
                    sketch.placer.mark(*sketch.frame.to_mm(p.x, p.y), 2 * SIGN_HALF_MM)
                sketch.key.sign_kinds.add(kind)


def sign_ages(layer: Any, day: dt.date) -> list[float | None]:
    """Age of each sign in days, None without a date or with one after the day."""
    if "age_days" in layer.columns:
        given = [None if _blank(v) else float(v) for v in layer["age_days"].tolist()]
    elif "date" in layer.columns:
        given = [None if _blank(v) else _age(str(v), day) for v in layer["date"].tolist()]
    else:
        given = [None] * len(layer)
    return [a if a is not None and a >= 0 else None for a in given]


def _age(text: str, day: dt.date) -> float | None:
    try:
        return float((day - dt.date.fromisoformat(text[:10])).days)
    except ValueError:
        return None


def _age_fill(age: float | None) -> str:
    if age is None or age > OLD_DAYS:
        return PAPER
    return INK if age <= FRESH_DAYS else "#a8a8a8"


def _points(
    sketch: Sketch, points: Sequence[BaseGeometry], path: Any, *, half_mm: float, fill: str, order: float
) -> None:
    size_pt = 2 * half_mm / 25.4 * 72
    sketch.axes.plot(
        [p.x for p in points], [p.y for p in points], ls="none", marker=path, ms=size_pt, mfc=fill,
        mec=PAPER if fill == INK else INK, mew=0.45,
        zorder=order, scalex=False, scaley=False,
    )  # fmt: skip


def creek_names(sketch: Sketch) -> list[tuple[str, BaseGeometry]]:
    """Names of creeks, and of ponds that are large on the paper: one part in the frame for each, the longest."""
    best: dict[str, BaseGeometry] = {}
    least = _LEAST_POND_MM2 * sketch.frame.metres_per_mm**2
    for name, shape in zip(sketch.column("water", "name"), sketch.clipped("water"), strict=True):
        small = bool(pieces(shape, "Polygon")) and shape.area < least
        if name and not shape.is_empty and not small and (name not in best or shape.length > best[name].length):
            best[name] = shape
    return list(best.items())
