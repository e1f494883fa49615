"""The ground of the ranch: how hard it is and where it takes posts, on two maps, with the map units behind them."""

from __future__ import annotations

from boscage.model.ground import GroundField
from boscage.model.results import Backdrop, ScoutResult
from boscage.sheets.flow import Block, draw_all, gap, heading, height_of, pour
from boscage.sheets.furniture import TICK_ROOM_MM
from boscage.sheets.groundkey import (
    POSTS_COLUMN_MM,
    POSTS_ROOM,
    classes_bottom,
    classes_room,
    draw_classes_key,
    draw_posts_key,
    feature_entries,
    post_blocks,
)
from boscage.sheets.groundmap import draw_ground_map, post_areas, posts_picture, resistance_picture, unknown_share
from boscage.sheets.groundtable import cautions, how_made, standing, unit_table
from boscage.sheets.page import Box, Page
from boscage.sheets.ranchmap import Furniture, MapPlan, left_out_words, plan_map
from boscage.sheets.running import body_box, draw_foot, draw_plain_head
from boscage.sheets.sheet import HEAD_MM, Sheet, flowing_sheets
from boscage.values import Printer

TITLE = "The ground"
_UPPER_SHARE, _LOWER_MM, _LEAST_TEXT_MM, _BETWEEN_MM = 0.6, 86.0, 30.0, 3.0


def plan_ground(result: ScoutResult, overview: Backdrop) -> list[Sheet]:
    """The page or pages on the ranch's ground; none without soil map and readings."""
    field = result.ground
    if field is None:
        return []
    blank = Page(result.plan.paper)
    body = body_box(blank.width_mm, blank.height_mm)
    printer = Printer(result.plan.ranch.units)
    opening, lower_title = _headings(field, unknown_share(field, result.grid, result.ranch_ha), body.width)
    top = body.y + HEAD_MM
    room = Box(body.x, top + height_of(opening), body.width, body.bottom - top - height_of(opening))
    upper, lower = _plan_maps(overview, room, lower_title.height_mm, printer)
    blocks = [
        *unit_table(field, printer, body.width), gap(2.0), *how_made(field, body.width), *cautions(body.width)
    ]  # fmt: skip
    left = Box(body.x, lower.bottom + 4.0, body.width, body.bottom - lower.bottom - 4.0)
    filled, rest = pour(blocks, [left]) if left.height >= _LEAST_TEXT_MM else ([[]], blocks)

    def draw(page: Page) -> None:
        draw_plain_head(page, body, *_head(result))
        draw_all(page, pour(opening, [Box(body.x, top, body.width, height_of(opening))])[0][0])
        lower_title.draw(page, body.x, lower.map_box.y - TICK_ROOM_MM - lower_title.height_mm)
        _draw_maps(page, result, overview, field, (upper, lower))
        draw_all(page, filled[0])
        draw_foot(page, result)

    further = flowing_sheets(
        result, Block.opening(rest), (f"{TITLE}, continued", _head(result)[1]), columns=1, sheet=Sheet("ground", draw)
    )
    return [Sheet("ground", draw), *further]


def _headings(field: GroundField, unknown: float, width: float) -> tuple[list[Block], Block]:
    """What stands above the upper map, and the heading of the lower one."""
    upper = f"How hard it is: penetration resistance from the surface to the depth of a post, {field.moisture} ground"
    lower = f"Whether posts can be driven by hand, {field.moisture} ground"
    return [*standing(field, unknown, width), heading(upper, width)], heading(lower, width)


def _plan_maps(overview: Backdrop, room: Box, title_mm: float, printer: Printer) -> tuple[MapPlan, MapPlan]:
    """The upper and the lower map in a room, the lower one's heading between them."""
    both = room.height - title_mm - _BETWEEN_MM
    high = min(both * _UPPER_SHARE, both - _LOWER_MM)
    upper = plan_map(overview, Box(room.x, room.y, room.width, high), classes_room(printer, room.width))
    top = classes_bottom(upper, printer) + _BETWEEN_MM + title_mm
    height = min(room.bottom - top, max(_LOWER_MM, both * (1.0 - _UPPER_SHARE)))
    return upper, plan_map(overview, Box(room.x, top, room.width, height), POSTS_ROOM)


def _head(result: ScoutResult) -> tuple[str, str]:
    return TITLE, f"{result.plan.ranch.name}, plan of {result.plan.date.isoformat()}"


def _draw_maps(
    page: Page, result: ScoutResult, overview: Backdrop, field: GroundField, plans: tuple[MapPlan, MapPlan]
) -> None:
    upper, lower = plans
    printer = Printer(result.plan.ranch.units)
    seen = draw_ground_map(page, result, overview, upper, resistance_picture(field))
    draw_classes_key(page, upper, Furniture.of(result, overview, upper.frame, left_out_words(seen.key)), printer)
    draw_ground_map(page, result, overview, lower, posts_picture(field))
    areas = post_areas(field, result.grid, result.ranch_ha)
    rows = feature_entries(seen.key, printer, seen.unnamed)
    draw_posts_key(
        page, lower, post_blocks(areas, printer, lower.legend_box.width if lower.beside else POSTS_COLUMN_MM), rows,
        Furniture.of(result, overview, lower.frame),
    )  # fmt: skip
