"""The first page: the ranch on one map, and the ranking."""

from __future__ import annotations

from dataclasses import dataclass

from boscage.model.layers import LAYER_TITLES
from boscage.model.results import Backdrop, ScoutResult
from boscage.sheets.content import MapContent
from boscage.sheets.flow import Block, Column, draw_all, gap, heading, height_of, loud, paragraph, pour, table
from boscage.sheets.frame import MapFrame, fitting_scale
from boscage.sheets.furniture import (
    TICK_ROOM_MM,
    crs_words,
    draw_grid,
    draw_north,
    draw_scale_bars,
    draw_words,
    north_words,
    scale_words,
)
from boscage.sheets.legend import draw_legend, entries
from boscage.sheets.mapdraw import draw_map
from boscage.sheets.page import Box, Page
from boscage.sheets.running import body_box, draw_foot
from boscage.sheets.sheet import Sheet
from boscage.sheets.style import BODY, BOLD, SMALL, LineLook, TextStyle
from boscage.sheets.typeset import Fitted, fit
from boscage.values import Bounds, Printer

_SIDE_MM = 42.0
_STRIP_MM = 31.0
_LEAST_MAP_MM, _MOST_MAP_MM = 124.0, 205.0


@dataclass(frozen=True, kw_only=True)
class _MapPlan:
    """Where the map, its legend and its furniture stand."""

    frame: MapFrame
    map_box: Box
    legend_box: Box
    beside: bool


def plan_overview(result: ScoutResult, backdrop: Backdrop) -> tuple[Sheet, list[Block]]:
    """The overview page, and the rows of the ranking that go on on the next page."""
    blank = Page(result.plan.paper)
    body = body_box(blank.width_mm, blank.height_mm)
    name = fit(result.plan.ranch.name, body.width, TextStyle(size_pt=19.0, bold=True), lines=3, floor_pt=8.0)
    top = body.y + name.height_mm + 8.6
    blocks = _ranking(result, body.width)
    room = body.bottom - top
    map_height = min(_MOST_MAP_MM, max(_LEAST_MAP_MM, room - height_of(blocks) - 3.0))
    plan = _plan_map(result, backdrop, Box(body.x, top, body.width, map_height))
    below = max(plan.map_box.bottom, plan.legend_box.bottom) + 3.0
    filled, rest = pour(blocks, [Box(body.x, below, body.width, body.bottom - below)])

    def draw(page: Page) -> None:
        _draw_head(page, result, body, name)
        _draw_map(page, result, backdrop, plan)
        draw_all(page, filled[0])
        draw_foot(page, result)

    return Sheet("overview", draw), rest


def _draw_head(page: Page, result: ScoutResult, body: Box, name: Fitted) -> None:
    y = page.lines(body.x, body.y, name) + 0.6
    printer = Printer(result.plan.ranch.units)
    words = (
        f"Plan of {result.plan.date.isoformat()}     Ranch {printer.area(result.ranch_ha)}, "
        f"permission for {printer.area(result.granted_ha)}, open to rank after all stops {printer.area(result.open_ha)}"
    )
    page.lines(body.x, y, fit(words, body.width - 30.0, BODY))
    page.text(body.right, y + BODY.ascent_mm, f"page {page.number} of {page.of}", TextStyle(bold=True, align="right"))
    y += 4.6
    page.line((body.x, body.right), (y, y), LineLook(width_pt=1.2))


def _extent(result: ScoutResult, backdrop: Backdrop) -> Bounds:
    """The parcels' bounds, or the whole backdrop."""
    parcels = backdrop.vectors.get("parcels")
    whole = backdrop.grid.bounds
    if parcels is None or len(parcels) == 0:
        return whole
    west, south, east, north = (float(v) for v in parcels.total_bounds)
    own = Bounds(max(west, whole.west), max(south, whole.south), min(east, whole.east), min(north, whole.north))
    return own if own.width > 0 and own.height > 0 else whole


def _plan_map(result: ScoutResult, backdrop: Backdrop, room: Box) -> _MapPlan:
    """Legend beside or below the map, whichever gives the larger scale; beside on a tie."""
    extent = _extent(result, backdrop)
    pad = 0.01 * max(extent.width, extent.height)
    extent = extent.padded(pad)
    tick = TICK_ROOM_MM
    side = (room.width - _SIDE_MM - tick, room.height - tick)
    strip = (room.width - tick, room.height - tick - _STRIP_MM)
    beside = fitting_scale(extent, *side) <= fitting_scale(extent, *strip)
    width, height = side if beside else strip
    scale = fitting_scale(extent, width, height)
    frame = _frame(backdrop, extent, scale, (width, height))
    map_box = Box(room.x + tick, room.y + tick, frame.width_mm, frame.height_mm)
    if beside:
        least = min(_LEAST_MAP_MM, room.height) - tick
        legend = Box(map_box.right + 4.0, map_box.y, room.right - map_box.right - 4.0, max(frame.height_mm, least))
    else:
        legend = Box(room.x, map_box.bottom + 2.0, room.width, _STRIP_MM - 2.0)
    return _MapPlan(frame=frame, map_box=map_box, legend_box=legend, beside=beside)


def _frame(backdrop: Backdrop, extent: Bounds, scale: float, most_mm: tuple[float, float]) -> MapFrame:
    """The frame round an extent, as large as the paper allows without leaving the backdrop."""
    whole, per_mm = backdrop.grid.bounds, scale / 1000.0
    width = min(most_mm[0], max(whole.width, extent.width) / per_mm)
    height = min(most_mm[1], max(whole.height, extent.height) / per_mm)
    half_x, half_y = width * per_mm / 2, height * per_mm / 2
    x, y = (extent.west + extent.east) / 2, (extent.south + extent.north) / 2
    x = min(max(x, whole.west + half_x), max(whole.east - half_x, whole.west + half_x))
    y = min(max(y, whole.south + half_y), max(whole.north - half_y, whole.south + half_y))
    return MapFrame.centred(x, y, scale=scale, width_mm=width, height_mm=height)


def _draw_map(page: Page, result: ScoutResult, backdrop: Backdrop, plan: _MapPlan) -> None:
    units = result.plan.ranch.units
    content = MapContent(
        backdrop=backdrop, stops=result.stops, sites=result.sites, units=units,
        ring_radius_m=result.plan.net.radius_m,
    )  # fmt: skip
    key = draw_map(page.axes(plan.map_box), plan.frame, content)
    draw_grid(page, plan.map_box, plan.frame)
    rows = entries(key, Printer(units))
    convergence = result.sites[0].place.convergence_deg if result.sites else None
    words = [scale_words(plan.frame.scale, units), f"Grid: {crs_words(backdrop.grid.crs)}", *north_words(convergence)]
    if key.sites_left_out:
        words.append("no room on the map for rank " + ", ".join(map(str, key.sites_left_out)))
    box = plan.legend_box
    if plan.beside:
        height = min(len(rows) * 4.4, box.height - 47.0)
        draw_legend(page, Box(box.x, box.y, box.width, height), rows, columns=1)
        y = box.y + height + 3.0
        draw_scale_bars(page, box.x, y, min(box.width, 60.0), plan.frame, units)
        draw_north(page, box.x + 6.0, y + 14.0, convergence)
        draw_words(page, box.x + 14.0, y + 17.0, box.width - 14.0, north_words(convergence))
        rest = [w for w in words if w not in north_words(convergence)]
        draw_words(page, box.x, y + 33.0, box.width, rest)
        return
    draw_legend(page, Box(box.x, box.y, box.width - 66.0, box.height), rows, columns=3)
    x = box.right - 62.0
    draw_scale_bars(page, x, box.y, 46.0, plan.frame, units)
    draw_north(page, box.right - 6.0, box.y - 1.0, convergence)
    draw_words(page, x, box.y + 14.0, 62.0, words)


def _ranking(result: ScoutResult, width: float) -> list[Block]:
    """The table of sites, or why there is none."""
    if not result.sites:
        reason = result.reason or "no reason was given"
        return [heading("No site can be ranked", width), *loud(reason, width), *_not_mapped(result, width)]
    fixed = (10.0, 20.0, 13.0, 34.0)
    columns = [
        Column(title="rank", width_mm=fixed[0], style=BOLD),
        Column(title="site", width_mm=fixed[1], style=BOLD, lines=2),
        Column(title="score", width_mm=fixed[2], style=BOLD),
        Column(title="parcel", width_mm=fixed[3]),
        Column(title="main reason (all of them on the site's own page)", width_mm=width - sum(fixed), lines=2),
    ]
    rows = [
        (str(s.rank), s.site, f"{s.score}", s.parcel, s.why[0] if s.why else "no reason given") for s in result.sites
    ]
    title = heading(f"Ranked sites: {len(rows)} (score out of 100)", width)
    return [*table(columns, rows, title=title), gap(1.0), *_not_mapped(result, width)]


def _not_mapped(result: ScoutResult, width: float) -> list[Block]:
    """A loud line on the layers that are missing; the full account follows on the next page."""
    names = [LAYER_TITLES.get(n, n) for n in result.missing_layers]
    if not names:
        return paragraph("Rules and data: next page.", width, SMALL)
    text = f"NOT MAPPED: {', '.join(names)}. That is NOT the same as none. Look on the ground. See the next page."
    return loud(text, width)
