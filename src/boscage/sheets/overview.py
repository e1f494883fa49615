"""The first page: the ranch on one map, and the ranking."""

from __future__ import annotations

from boscage.model.layers import LAYER_TITLES
from boscage.model.results import Backdrop, ScoutResult
from boscage.sheets.content import MapContent
from boscage.sheets.flow import Block, Column, draw_all, gap, heading, height_of, loud, paragraph, pour, table
from boscage.sheets.furniture import draw_grid
from boscage.sheets.legend import draw_legend, entries
from boscage.sheets.mapdraw import draw_map
from boscage.sheets.page import Box, Page
from boscage.sheets.ranchmap import (
    SIDE_FURNITURE_MM,
    STRIP_FURNITURE_MM,
    Furniture,
    LegendRoom,
    MapPlan,
    left_out_words,
    plan_map,
)
from boscage.sheets.running import body_box, draw_foot
from boscage.sheets.sheet import Sheet
from boscage.sheets.style import BODY, BOLD, SMALL, LineLook, TextStyle
from boscage.sheets.typeset import Fitted, fit
from boscage.values import Printer

_LEAST_MAP_MM, _MOST_MAP_MM = 124.0, 205.0


def plan_overview(result: ScoutResult, backdrop: Backdrop) -> tuple[Sheet, list[Block]]:
    """The overview page, and the rows of the ranking that go on on the next page."""
    blank = Page(result.plan.paper)
    body = body_box(blank.width_mm, blank.height_mm)
    name = fit(result.plan.ranch.name, body.width, TextStyle(size_pt=19.0, bold=True), lines=3, floor_pt=8.0)
    top = body.y + name.height_mm + 8.6
    blocks = _ranking(result, body.width)
    room = body.bottom - top
    map_height = min(_MOST_MAP_MM, max(_LEAST_MAP_MM, room - height_of(blocks) - 3.0))
    plan = plan_map(
        backdrop, Box(body.x, top, body.width, map_height), LegendRoom(least_mm=min(_LEAST_MAP_MM, map_height))
    )
    below = plan.bottom + 3.0
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


def _draw_map(page: Page, result: ScoutResult, backdrop: Backdrop, plan: MapPlan) -> None:
    units = result.plan.ranch.units
    content = MapContent(
        backdrop=backdrop, stops=result.stops, sites=result.sites, units=units,
        ring_radius_m=result.plan.net.radius_m,
    )  # fmt: skip
    key = draw_map(page.axes(plan.map_box), plan.frame, content)
    draw_grid(page, plan.map_box, plan.frame)
    rows, box = entries(key, Printer(units)), plan.legend_box
    furniture = Furniture.of(result, backdrop, plan.frame, left_out_words(key))
    if plan.beside:
        height = min(len(rows) * 4.4, box.height - SIDE_FURNITURE_MM)
        draw_legend(page, Box(box.x, box.y, box.width, height), rows, columns=1)
        furniture.draw_beside(page, box.x, box.y + height + 3.0, box.width)
        return
    draw_legend(page, Box(box.x, box.y, box.width - STRIP_FURNITURE_MM - 4.0, box.height), rows, columns=3)
    furniture.draw_below(page, box.right, box.y)


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
