"""The first page: the ranch on one map, and the ranking."""

from __future__ import annotations

from boscage.model.results import Backdrop, ScoutResult
from boscage.sheets.content import MapContent
from boscage.sheets.flow import Block, draw_all, height_of, pour
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
from boscage.sheets.rankingtable import ranking
from boscage.sheets.running import body_box, draw_foot
from boscage.sheets.sheet import Sheet
from boscage.sheets.style import BODY, LineLook, TextStyle
from boscage.sheets.typeset import Fitted, fit
from boscage.values import Printer

_LEAST_MAP_MM, _MOST_MAP_MM, _TIGHT_MAP_MM = 124.0, 205.0, 116.0


def plan_overview(result: ScoutResult, backdrop: Backdrop) -> tuple[Sheet, list[Block]]:
    """The overview page, and the rows of the ranking that go on on the next page."""
    blank = Page(result.plan.paper)
    body = body_box(blank.width_mm, blank.height_mm)
    name = fit(result.plan.ranch.name, body.width, TextStyle(size_pt=19.0, bold=True), lines=3, floor_pt=8.0)
    top = body.y + name.height_mm + 8.6
    blocks = ranking(result, body.width)
    map_height = _map_height(body.bottom - top - height_of(blocks) - 3.0)
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


def _map_height(left: float) -> float:
    """Height of the map for the room that the table leaves: a little lower where that keeps the table whole."""
    return min(left, _MOST_MAP_MM) if left >= _TIGHT_MAP_MM else _LEAST_MAP_MM


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
        ring_radius_m=result.plan.net.radius_m, sets=result.together.sets if result.together else (),
    )  # fmt: skip
    key = draw_map(page.map_axes(plan.map_box, plan.frame.bounds, backdrop.grid.crs), plan.frame, content)
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
