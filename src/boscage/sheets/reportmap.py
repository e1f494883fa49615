"""The map of a report: land with permission, what of it was covered, and where sets stood, exactly or by squares."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial

import shapely
from matplotlib.lines import Line2D

from boscage.model.report import ReportResult, SetLine, counted
from boscage.model.results import Backdrop
from boscage.sheets.content import MapContent
from boscage.sheets.features import Sketch
from boscage.sheets.flow import height_of, paragraph
from boscage.sheets.furniture import crs_words, draw_grid, scale_words
from boscage.sheets.legend import Entry, draw_legend, entries
from boscage.sheets.mapdraw import draw_map, put_text
from boscage.sheets.page import Box, Page
from boscage.sheets.ranchmap import SIDE_FURNITURE_MM, STRIP_FURNITURE_MM, Furniture, LegendRoom, plan_map
from boscage.sheets.reportwords import NOT_THE_REST, copy_words
from boscage.sheets.running import body_box, draw_foot, draw_plain_head
from boscage.sheets.shapes import area_path, clip, draw_area, draw_line
from boscage.sheets.sheet import Sheet
from boscage.sheets.style import INK, LAYER_ORDER, PAPER, AreaLook, LineLook, TextStyle
from boscage.sheets.typeset import fit, text_width_mm
from boscage.values import Bounds, Printer

COVERED = AreaLook(fill="#dcdcdc", outline=LineLook(width_pt=1.1, dashes=(5.0, 2.2)))
SQUARE = AreaLook(outline=LineLook(width_pt=2.8), cased=True)
_COVERED_ORDER = LAYER_ORDER["ruled_out"] - 0.5
_MARK_MM, _HELD_MM = 3.2, 4.4
_MARK = {"marker": "o", "ms": _MARK_MM / 25.4 * 72, "mew": 1.1, "mec": INK}
_NAME = TextStyle(size_pt=8.0, bold=True, align="center", valign="center", backing=True)
_MOST_NAMES = 60
_SIDE_MM = 48.0
_NAME_MM = 40.0


def plan_map_page(result: ReportResult, backdrop: Backdrop) -> Sheet:
    """The map on a page of its own, laid out but not drawn."""
    blank = Page(result.plan.paper)
    body = body_box(blank.width_mm, blank.height_mm)
    words = paragraph(map_words(result), body.width, TextStyle(size_pt=9.0))
    top = body.y + 10.0 + height_of(words)
    room = Box(body.x, top, body.width, body.bottom - top)
    plan = plan_map(backdrop, room, LegendRoom(side_mm=_SIDE_MM))

    def draw(page: Page) -> None:
        head = f"{result.plan.ranch.name}, as of {result.plan.date}"
        y = draw_plain_head(page, body, "Where it was", f"{head}; land of {result.owner}" if result.owner else head)
        for block in words:
            block.draw(page, body.x, y)
            y += block.height_mm
        content = MapContent(
            backdrop=backdrop, units=result.plan.ranch.units, ground=False, sign=False, contours=False
        )  # fmt: skip
        axes = page.map_axes(plan.map_box, plan.frame.bounds, result.crs)
        key = draw_map(axes, plan.frame, content, partial(_overlay, result=result))
        draw_grid(page, plan.map_box, plan.frame)
        printer = Printer(result.plan.ranch.units)
        rows, box = [*_entries(key.shown), *entries(key, printer)], plan.legend_box
        extra = (f"no room for the names of {counted(len(key.sites_left_out), 'set')}",) if key.sites_left_out else ()
        furniture = Furniture(
            frame=plan.frame, units=result.plan.ranch.units, scale=scale_words(plan.frame.scale, printer.units),
            grid=f"Grid: {crs_words(result.crs)}", extra=extra, convergence_deg=result.convergence_deg,
        )  # fmt: skip
        if plan.beside:
            height = min(len(rows) * 4.6, box.height - SIDE_FURNITURE_MM)
            draw_legend(page, Box(box.x, box.y, box.width, height), rows, columns=1, least_pt=7.5)
            furniture.draw_beside(page, box.x, box.y + height + 3.0, box.width)
        else:
            width = box.width - STRIP_FURNITURE_MM - 4.0
            draw_legend(page, Box(box.x, box.y, width, box.height), rows, columns=2, least_pt=7.5)
            furniture.draw_below(page, box.right, box.y)
        draw_foot(page, result)

    return Sheet("map", draw)


def map_words(result: ReportResult) -> str:
    """What the map shows and how far it may be trusted."""
    printer = Printer(result.plan.ranch.units)
    radius = printer.length(result.covered.radius_m)
    covered = f"Grey: land with permission within {radius} of a set with an armed night. {NOT_THE_REST}"
    if not result.sets:
        return f"No set is in the log, so none is on the map and no land is grey. {copy_words(result)}"
    if not result.blur_m:
        return f"{covered} {copy_words(result)}"
    off = printer.length(result.blur_m)
    which = "Circles are drawn" if result.masked else "Circles of sets on other owners' land are drawn"
    return (
        f"{covered} {which} round the middle of a square in which the set stood, so they may be up to {off} off; the "
        "areas in this report are reckoned from the true places."
    )


def _overlay(sketch: Sketch, *, result: ReportResult) -> None:
    """Covered land under the lines of the map, sets or squares over them."""
    covered = [g for g in clip([result.covered.shape], sketch.frame) if not g.is_empty]
    if covered:
        path = area_path(covered)
        draw_area(sketch.axes, path, replace(COVERED, outline=None), _COVERED_ORDER)
        assert COVERED.outline is not None, "the look has a line"
        draw_line(sketch.axes, path, (LineLook(colour=PAPER, width_pt=2.2), COVERED.outline), LAYER_ORDER["reach"])
        sketch.key.shown.add("covered")
    if result.masked:
        _draw_squares(sketch, result)
    else:
        _draw_sets(sketch, result.sets)


def _draw_squares(sketch: Sketch, result: ReportResult) -> None:
    """Squares that hold sets, each with their names and what was caught."""
    held: dict[Bounds, list[SetLine]] = {}
    for line in result.sets:
        if line.square is not None:
            held.setdefault(line.square, []).append(line)
    for square, lines in held.items():
        shape = shapely.box(square.west, square.south, square.east, square.north)
        draw_area(sketch.axes, area_path(clip([shape], sketch.frame)), SQUARE, LAYER_ORDER["site"] - 1.0)
        sketch.key.shown.add("square")
        _name_square(sketch, square, lines)


def _name_square(sketch: Sketch, square: Bounds, lines: Sequence[SetLine]) -> None:
    names = lines[0].site if len(lines) == 1 else f"{lines[0].site} and {len(lines) - 1} more"
    caught = sum(line.animals for line in lines)
    texts = [fit(names, _NAME_MM, _NAME), fit(f"{caught} caught", _NAME_MM, replace(_NAME, bold=False))]
    wide, high = max(t.width_mm for t in texts) + 1.2, sum(t.height_mm for t in texts) + 0.6
    left, top = sketch.frame.to_mm(square.west, square.north)
    right, low = sketch.frame.to_mm(square.east, square.south)
    x, y = (left + right) / 2.0, (top + low) / 2.0
    tries = [(x, y + dy) for dy in (0.0, -high, high)] + [(x, top - high / 2.0 - 0.6), (x, low + high / 2.0 + 0.6)]
    spot = sketch.placer.place(tries, wide, high)
    if spot is None:
        sketch.key.sites_left_out += [0] * len(lines)
        return
    line_y = spot.y - high / 2.0 + 0.3
    for text in texts:
        put_text(sketch, spot.x, line_y + text.height_mm / 2.0, text.lines[0], text.style)
        line_y += text.height_mm


def _draw_sets(sketch: Sketch, sets: Sequence[SetLine]) -> None:
    """A disc at each set, filled where it caught; names where there is room."""
    placed = [s for s in sets if not math.isnan(s.x_m) and sketch.frame.holds(s.x_m, s.y_m)]
    order = LAYER_ORDER["site"]
    for fill, key, own in ((PAPER, "set", [s for s in placed if not s.animals]),
                           (INK, "set_caught", [s for s in placed if s.animals])):  # fmt: skip
        if own:
            sketch.axes.plot([s.x_m for s in own], [s.y_m for s in own], ls="none", mfc=fill, zorder=order,
                             scalex=False, scaley=False, **_MARK)  # fmt: skip
            sketch.key.shown.add(key)
    for line in placed:
        sketch.placer.take(*sketch.frame.to_mm(line.x_m, line.y_m), _HELD_MM, _HELD_MM)
    for k, line in enumerate(sorted(placed, key=lambda s: -s.animals)):
        text = fit(f"{line.site}: {line.animals} caught" if line.animals else line.site, _NAME_MM, _NAME).lines[0]
        wide, high = text_width_mm(text, _NAME) + 1.2, _NAME.line_mm + 0.4
        x, y = sketch.frame.to_mm(line.x_m, line.y_m)
        spot = sketch.placer.beside(x, y, wide, high, off_mm=_HELD_MM / 2.0) if k < _MOST_NAMES else None
        if spot is None:
            sketch.key.sites_left_out.append(0)
            continue
        put_text(sketch, spot.x, spot.y, text, _NAME)


def _entries(shown: set[str]) -> list[Entry]:
    """Rows of the legend that only this map has."""
    rows: Mapping[str, Entry] = {
        "covered": Entry("covered land", lambda page, box: page.area(box, COVERED)),
        "square": Entry("square that holds a set", lambda page, box: page.area(box, SQUARE)),
        "set": Entry("set", partial(_swatch, fill=PAPER)),
        "set_caught": Entry("set that caught", partial(_swatch, fill=INK)),
    }
    return [entry for name, entry in rows.items() if name in shown]


def _swatch(page: Page, box: Box, *, fill: str) -> None:
    at = ([box.x + box.width / 2.0], [box.y + box.height / 2.0])
    page.figure.add_artist(Line2D(*at, transform=page.transform, ls="none", mfc=fill, **_MARK))  # type: ignore[arg-type]
