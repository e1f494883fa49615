"""Block 3 of the front: the map of base, flights, drops, hazards and places to land, with its key."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np
from matplotlib.patches import Circle

from boscage.model.results import Backdrop
from boscage.sheets import dropmarks as marks
from boscage.sheets.content import MapContent, MapKey
from boscage.sheets.dropframe import drop_frame
from boscage.sheets.dropjob import DropGroup, Numbered
from boscage.sheets.dropkit import LEAST_PT, NOTE
from boscage.sheets.dropwords import NAUTICAL, bearing, declination_words, east_west, nautical
from boscage.sheets.features import Sketch
from boscage.sheets.frame import MapFrame
from boscage.sheets.furniture import crs_words, draw_quarters
from boscage.sheets.legend import Entry, draw_legend, entries
from boscage.sheets.mapdraw import draw_map, put_text
from boscage.sheets.page import Box, Page
from boscage.sheets.shapes import array_path, draw_line
from boscage.sheets.style import GREY, INK, LAYER_ORDER, PAPER, AreaLook, LineLook, TextStyle
from boscage.sheets.typeset import Fitted, fit, wrap
from boscage.sheets.wayfurniture import draw_north_in, draw_scale_bar
from boscage.values import Bounds

_APART_MM = 1.4
_SHOWN_APART_MM = 3.2
_KEY_COLUMNS, _KEY_ROW_MM, _BARS_MM = 4, 3.8, (44.0, 10.0)
_SHORTER = {
    "G: permission granted": "G: granted", "NO: permission refused": "NO: refused",
    "?: permission unknown": "?: not known", "no-go area": "no-go", "dwelling": "house",
    "creek, runs dry": "creek, dry",
}  # fmt: skip
_GRANTED = "land to be used"
_LEFT_OUT = ("gates", "sign", "searched", "soils", "stems")


@dataclass(frozen=True, kw_only=True, eq=False)
class DropMap:
    """A map of drops, laid out.

    Attributes:
        frame: The ground shown.
        map_box: On the page.
        rows: Its key.
        words: What is said under it.
    """

    frame: MapFrame
    map_box: Box
    rows: list[Entry]
    words: Fitted

    @property
    def key_mm(self) -> float:
        """Height of the key."""
        return _key_mm(self.rows)

    def moved(self, x: float, y: float) -> DropMap:
        """The same with its corner elsewhere."""
        return replace(self, map_box=replace(self.map_box, x=self.map_box.x + x, y=self.map_box.y + y))


def plan_drop_map(group: DropGroup, box: Box) -> DropMap:
    """The map as high as its key and words leave it in a box."""
    words = Fitted(lines=tuple(wrap(_under(group), box.width - _BARS_MM[0] - 2.0, NOTE)), style=NOTE)
    strip = max(_BARS_MM[1], words.height_mm + 0.6)
    draft = Box(box.x, box.y, box.width, box.height * 0.7)
    reserved = 0.0
    while True:  # the room kept for the key only grows, and no key is longer than all its rows
        frame = drop_frame(group, draft)
        rows = _rows(_draw(Page(group.result.plan.paper), group, frame, draft, ground=False), group)
        reserved = max(reserved, _key_mm(rows))
        height = box.height - strip - reserved - _APART_MM
        if abs(height - draft.height) < 1e-6:
            return DropMap(frame=frame, map_box=draft, rows=rows, words=words)
        draft = Box(box.x, box.y, box.width, height)


def _key_mm(rows: Sequence[Entry]) -> float:
    return -(-len(rows) // _KEY_COLUMNS) * _KEY_ROW_MM


def draw_drop_map(page: Page, group: DropGroup, plan: DropMap) -> None:
    """The map, its bars, its words and its key."""
    box, units = plan.map_box, group.result.plan.ranch.units
    _draw(page, group, plan.frame, box)
    page.area(box, AreaLook(outline=LineLook(width_pt=1.0)))
    y = box.bottom + 0.4
    wide, high = _BARS_MM
    draw_scale_bar(page, box.x, y, wide, plan.frame, units)
    _nautical_bar(page, box.x, y + high / 2, wide, plan.frame)
    below = max(page.lines(box.x + wide + 2.0, y + 0.4, plan.words), y + high)
    key = Box(box.x, below + 0.6, box.width, plan.key_mm)
    draw_legend(page, key, plan.rows, columns=_KEY_COLUMNS, least_pt=LEAST_PT)


def _draw(page: Page, group: DropGroup, frame: MapFrame, box: Box, *, ground: bool = True) -> MapKey:
    overview = group.overview
    vectors = {name: layer for name, layer in overview.vectors.items() if name not in _LEFT_OUT}
    parcels = vectors.get("parcels")
    if parcels is not None and {"access", "parcel"} <= set(parcels.columns):
        vectors["parcels"] = _joined(parcels)
    content = MapContent(
        backdrop=replace(overview, cover=None, canopy_top=None, vectors=vectors), sign=False, contours=False,
        ground=ground, units=group.result.plan.ranch.units, least_pt=LEAST_PT,
    )  # fmt: skip
    axes = page.map_axes(box, frame.bounds, overview.grid.crs)
    return draw_map(axes, frame, content, partial(_draw_over, group=group))


def _joined(parcels: Any) -> Any:
    """All land with permission as one piece: a pilot needs the neighbours' names, not those of every pasture."""
    access = [str(a).strip().lower() for a in parcels["access"].tolist()]
    keys = [a if a == "granted" else f"{n}" for n, a in enumerate(access)]
    joined = parcels.assign(part=keys).dissolve(by="part", aggfunc="first")
    names = [_GRANTED if key == "granted" else name for key, name in zip(joined.index, joined["parcel"], strict=True)]
    return joined.assign(parcel=names)


def _draw_over(sketch: Sketch, *, group: DropGroup) -> None:
    """Edge of the data, flights, wires, marks, then their names."""
    _draw_edge(sketch, group.overview)
    if marks.draw_wires(sketch):
        sketch.key.shown.add("wire")
    heads = _draw_flights(sketch, group)
    for numbered in group.every:
        _draw_one(sketch, numbered, is_own=numbered in group.drops)
    _draw_places(sketch, group)
    draw_north_in(sketch)
    _name_drops(sketch, group)
    _name_places(sketch, group)
    _name_flights(sketch, heads)


def _draw_edge(sketch: Sketch, overview: Backdrop) -> None:
    """Ground beyond the data is hatched: nothing is known of it."""
    f, w = sketch.frame.bounds, overview.grid.bounds
    parts = (
        Bounds(f.west, f.south, min(w.west, f.east), f.north), Bounds(max(w.east, f.west), f.south, f.east, f.north),
        Bounds(max(f.west, w.west), f.south, min(f.east, w.east), min(w.south, f.north)),
        Bounds(max(f.west, w.west), max(w.north, f.south), min(f.east, w.east), f.north),
    )  # fmt: skip
    for part in parts:
        if part.width > 0 and part.height > 0:
            xs, ys = (part.west, part.east, part.east, part.west), (part.south, part.south, part.north, part.north)
            sketch.axes.fill(xs, ys, fc="none", ec=GREY, hatch="\\\\\\", lw=0, zorder=LAYER_ORDER["power_line"])
            sketch.key.shown.add("no_data")


def _places(group: DropGroup) -> dict[str, tuple[float, float]]:
    """East and north by the name that legs use."""
    found = {d.drop.site: (d.drop.place.x_m, d.drop.place.y_m) for d in group.every}
    base = group.result.base
    return found if base is None else {base.name: (base.place.x_m, base.place.y_m), **found}


def _draw_flights(sketch: Sketch, group: DropGroup) -> list[tuple[int, list[tuple[float, float]]]]:
    """Legs of every flight of the front; the answer is each flight's number with the places of its arrow heads."""
    places, heads = _places(group), []
    for flight in group.rounds:
        own = []
        for leg in flight.legs:
            line = np.array([places[leg.start], places[leg.end]])
            head = marks.draw_leg(sketch, line, flight.number)
            own += [head] if head is not None else []
            for share in np.linspace(0.0, 1.0, 25):
                x, y = line[0] + share * (line[1] - line[0])
                if sketch.frame.holds(x, y):
                    sketch.placer.mark(*sketch.frame.to_mm(x, y), 2.5)
        heads.append((flight.number, own))
        sketch.key.shown.add("flight")
    return heads


def _draw_one(sketch: Sketch, numbered: Numbered, *, is_own: bool) -> None:
    """A drop, and of the front's own the set that it is not."""
    drop = numbered.drop
    place, there = (drop.place.x_m, drop.place.y_m), (drop.set_place.x_m, drop.set_place.y_m)
    if not sketch.frame.holds(*place):
        return
    apart = math.dist(place, there) / sketch.frame.metres_per_mm
    if is_own and apart >= _SHOWN_APART_MM and sketch.frame.holds(*there):
        line = array_path([np.array([place, there])])
        draw_line(sketch.axes, line, (LineLook(colour=GREY, width_pt=0.9, dashes=(1.5, 1.2)),), marks.ORDER - 0.2)
        radius = 0.8 * sketch.frame.metres_per_mm
        sketch.axes.add_patch(Circle(there, radius, fc=PAPER, ec=GREY, lw=1.2, zorder=marks.ORDER - 0.1))
        sketch.placer.take(*sketch.frame.to_mm(*there), 1.8, 1.8)
        sketch.key.shown.add("set")
    marks.draw_drop(sketch, place, is_own=is_own)
    sketch.key.shown.add("drop" if is_own else "other drop")


def _shown_landings(sketch: Sketch, group: DropGroup) -> list[tuple[str, tuple[float, float]]]:
    """The nearest landing place of each drop of the front, those apart on the paper."""
    shown: list[tuple[str, tuple[float, float]]] = []
    for numbered in group.drops:
        for letter, landing in zip("abc", numbered.drop.landings[:1], strict=False):
            at = (landing.place.x_m, landing.place.y_m)
            near = marks.LANDING_MM * sketch.frame.metres_per_mm
            if sketch.frame.holds(*at) and all(math.dist(at, other) > near for _, other in shown):
                shown.append((f"{numbered.number}{letter}", at))
    return shown


def _draw_places(sketch: Sketch, group: DropGroup) -> None:
    result, holds, shown = group.result, sketch.frame.holds, sketch.key.shown
    for _, at in _shown_landings(sketch, group):
        marks.draw_lettered(sketch, at, "H")
        shown.add("landing")
    if result.evacuation is not None and holds(result.evacuation.x_m, result.evacuation.y_m):
        marks.draw_lettered(sketch, (result.evacuation.x_m, result.evacuation.y_m), "+")
        shown.add("evacuation")
    if result.road_end is not None and holds(result.road_end.x_m, result.road_end.y_m):
        at = (result.road_end.x_m, result.road_end.y_m)
        marks.draw_point(sketch, marks.TRIANGLE, at, marks.MARK_MM + 0.6, fill=INK)
        shown.add("road_end")
    if result.base is not None:
        at = (result.base.place.x_m, result.base.place.y_m)
        if holds(*at):
            marks.draw_point(sketch, marks.SQUARE, at, marks.MARK_MM, fill=INK)
            shown.add("base")


def _name_drops(sketch: Sketch, group: DropGroup) -> None:
    for numbered in group.every:
        place, own = numbered.drop.place, numbered in group.drops
        if not sketch.frame.holds(place.x_m, place.y_m):
            continue
        style = replace(marks.NAME, size_pt=9.5) if own else marks.SMALL_NAME
        words = numbered.name if own else str(numbered.number)
        size = 2 * marks.CROSS_MM
        if own and fit(words, 30.0, style, floor_pt=style.size_pt).cut:
            words = str(numbered.number)
        if not marks.label_beside(sketch, (place.x_m, place.y_m), words, size, style):
            marks.label_beside(sketch, (place.x_m, place.y_m), str(numbered.number), size, style)


def _name_places(sketch: Sketch, group: DropGroup) -> None:
    result = group.result
    for words, at in _shown_landings(sketch, group):
        marks.label_beside(sketch, at, words, marks.LANDING_MM, marks.SMALL_NAME)
    if result.base is None:
        return
    at = (result.base.place.x_m, result.base.place.y_m)
    if sketch.frame.holds(*at):
        name = fit(result.base.name, 30.0, marks.NAME, floor_pt=LEAST_PT)
        marks.label_beside(sketch, at, "base" if name.cut else name.lines[0], marks.MARK_MM, name.style)
        return
    _point_to_base(sketch, group, at)


def _point_to_base(sketch: Sketch, group: DropGroup, at: tuple[float, float]) -> None:
    """Words at the map's edge on the side of a base that lies off it."""
    frame, home = sketch.frame, None
    for flight in group.rounds:
        home = flight.legs[-1]
    words = "to base, off the map"
    if home is not None:
        turn = "" if home.magnetic_bearing_deg is None else f" / {bearing(home.magnetic_bearing_deg)} M"
        words = f"to base {nautical(home.distance_m)}, {bearing(home.true_bearing_deg)} T{turn}"
    fitted = Fitted(lines=(words,), style=marks.NAME)
    width, height = fitted.width_mm + 1.4, fitted.height_mm + 0.4
    x0, y0 = frame.width_mm / 2, frame.height_mm / 2
    bx, by = frame.to_mm(*at)
    share = min(abs((x0 - width / 2 - 1.0) / (bx - x0)) if bx != x0 else 9.9,
                abs((y0 - height / 2 - 1.0) / (by - y0)) if by != y0 else 9.9)  # fmt: skip
    spots = [(x0 + (bx - x0) * share * k, y0 + (by - y0) * share * k) for k in np.linspace(1.0, 0.3, 15)]
    spot = sketch.placer.place(spots, width, height)
    if spot is not None:
        put_text(sketch, spot.x, spot.y, words, marks.NAME)


def _name_flights(sketch: Sketch, heads: Sequence[tuple[int, list[tuple[float, float]]]]) -> None:
    """The number of each flight beside an arrow of it."""
    style = replace(marks.SMALL_NAME, size_pt=7.5, bold=True)
    for number, own in heads:
        fitted = Fitted(lines=(f"F{number}",), style=style)
        width, height = fitted.width_mm + 0.8, fitted.height_mm
        for x, y in own:
            spot = sketch.placer.beside(x, y, width, height, off_mm=1.2)
            if spot is not None:
                put_text(sketch, spot.x, spot.y, fitted.lines[0], style)
                break


def _rows(key: MapKey, group: DropGroup) -> list[Entry]:
    shown = key.shown
    own: list[tuple[str, Entry]] = [
        ("drop", Entry("DROP POINT", partial(marks.cross_swatch, is_own=True))),
        ("other drop", Entry("other drop", partial(marks.cross_swatch, is_own=False))),
        ("base", Entry("base", partial(marks.point_swatch, path=marks.SQUARE, fill=INK))),
        ("flight", Entry("flight, F no.", partial(marks.line_swatch, looks=marks.flight_looks(1)[1:]))),
        ("wire", Entry("WIRE", marks.wire_swatch)),
        ("landing", Entry("landing, look", partial(marks.point_swatch, path=marks.DISC, fill=PAPER, letter="H"))),
        ("evacuation", Entry("med-evac", partial(marks.point_swatch, path=marks.DISC, fill=PAPER, letter="+"))),
        ("road_end", Entry("road end", partial(marks.point_swatch, path=marks.TRIANGLE, fill=INK))),
        ("set", Entry("set, NOT drop", marks.set_swatch)),
        ("no_data", Entry("no data", _hatched)),
    ]  # fmt: skip
    rest = [replace(e, words=_SHORTER.get(e.words, e.words)) for e in entries(key, group.figures.printer)]
    return [*[entry for name, entry in own if name in shown], *rest]


def _hatched(page: Page, box: Box) -> None:
    page.area(box, AreaLook(hatch="\\\\\\\\", hatch_colour=GREY, outline=LineLook(width_pt=0.3)))


def caution(group: DropGroup) -> str:
    """That hazards are never complete, for the title."""
    wires = next((r for r in group.result.reports if r.name == "power_lines"), None)
    no_wires = wires is None or wires.state == "missing"
    return "WIRES NOT SEARCHED, rest not complete" if no_wires else "wires and hazards: NOT COMPLETE"


def _under(group: DropGroup) -> str:
    """Where north is, what the datum and the grid are."""
    result, drop = group.result, group.drops[0].drop
    turn = east_west(-drop.place.convergence_deg)
    true = "true north is up with it" if turn == "0.0°" else f"true north {turn} of it"
    grid, datum = crs_words(result.grid.crs).split(", ")[-1], drop.place.datum
    names = f"Datum, grid {grid}" if grid.startswith(datum) else f"Datum {datum}, grid {grid}"
    return f"Grid north up, {true}; {declination_words(result, drop.declination_deg)}. {names}."


def _nautical_bar(page: Page, x: float, y: float, width_mm: float, frame: MapFrame) -> None:
    """A bar in nautical miles."""
    most = (width_mm - 12.0) * frame.metres_per_mm / NAUTICAL
    power = 10.0 ** math.floor(math.log10(most))
    number = max(s * power for s in (1.0, 2.0, 4.0, 5.0) if s * power <= most)
    long = number * NAUTICAL / frame.metres_per_mm
    draw_quarters(page, Box(x + 1.0, y + 3.2, long, 1.4))
    page.text(x + 1.0, y + 2.5, "0", TextStyle(size_pt=LEAST_PT, align="center"))
    page.text(x + long, y + 2.5, f"{number:g} nm", TextStyle(size_pt=LEAST_PT))
