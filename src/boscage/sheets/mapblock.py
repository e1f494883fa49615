"""A map of the ranch as one block of a flowing text, its legend in columns of blocks beside or below it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from boscage.model.results import Backdrop, ScoutResult
from boscage.sheets.evencolumns import columns_between, even_height
from boscage.sheets.flow import Block, draw_all, height_of, pour
from boscage.sheets.furniture import TICK_ROOM_MM
from boscage.sheets.legend import ROW_MM, Entry, draw_legend
from boscage.sheets.page import Box, Page
from boscage.sheets.ranchmap import (
    PACKED_FURNITURE_MM,
    STRIP_FURNITURE_MM,
    STRIP_MM,
    Furniture,
    LegendRoom,
    MapPlan,
    plan_map,
)

_GUTTER_MM, _GAP_MM, _STRIP_COLUMNS = 4.0, 1.5, 3
KeyBlocks = Callable[[float], Sequence[Block]]


@dataclass(frozen=True, kw_only=True)
class MapKeyed:
    """A map to be set in a text.

    Attributes:
        draw: Draws the map in its place; the answer is what its furniture says further, such as what had no room.
        key: The legend's blocks for a width in mm.
        side_mm: Width of the legend beside the map.
    """

    draw: Callable[[Page, MapPlan], tuple[str, ...]]
    key: KeyBlocks
    side_mm: float


def map_block(result: ScoutResult, overview: Backdrop, keyed: MapKeyed, box: Box) -> Block:
    """The map in a box whose top is that of the block, as large as the legend lets it."""
    plan = plan_map(overview, Box(box.x, 0.0, box.width, box.height), _room(keyed, box.width))
    bottom = _bottom(plan, keyed)

    def draw(page: Page, x: float, y: float) -> None:
        here = _moved(plan, y)
        extra = keyed.draw(page, here)
        _draw_key(page, here, keyed.key, Furniture.of(result, overview, here.frame, extra))

    return Block(height_mm=bottom + _GAP_MM, draw=draw)


def legend_block(rows: Sequence[Entry], width: float, columns: int = 1) -> Block:
    """Rows of a legend as one block."""
    height = -(-len(rows) // columns) * ROW_MM

    def draw(page: Page, x: float, y: float) -> None:
        draw_legend(page, Box(x, y, width, height), list(rows), columns=columns)

    return Block(height_mm=height, draw=draw)


def legend_blocks(rows: Sequence[Entry], width: float) -> list[Block]:
    """Rows of a legend, one block each, so that they can be parted."""
    return [legend_block([row], width) for row in rows]


def room_below(blocks: Sequence[Block], box: Box) -> float:
    """Height left under blocks on the page where they end; each page has the same box."""
    rest, left = list(blocks), box.height
    while rest:
        (placed,), rest = pour(rest, [box])
        left = box.bottom - max((p.y + p.block.height_mm for p in placed), default=box.y)
        rest = Block.opening(rest)
    return left


def _moved(plan: MapPlan, y: float) -> MapPlan:
    lower = [replace(b, y=b.y + y) for b in (plan.map_box, plan.legend_box)]
    return replace(plan, map_box=lower[0], legend_box=lower[1])


def _room(keyed: MapKeyed, width: float) -> LegendRoom:
    blocks = keyed.key(keyed.side_mm - _GUTTER_MM)
    beside = height_of(blocks) + _GAP_MM + PACKED_FURNITURE_MM + TICK_ROOM_MM
    columns = _strip_columns(0.0, width)
    below = even_height(keyed.key(columns[0][1]), len(columns)) or 0.0
    return LegendRoom(side_mm=keyed.side_mm, least_mm=beside, strip_mm=max(below, STRIP_MM) + 2.5)


def _bottom(plan: MapPlan, keyed: MapKeyed) -> float:
    if not plan.beside:
        return plan.bottom
    high = height_of(keyed.key(plan.legend_box.width)) + _GAP_MM + PACKED_FURNITURE_MM
    return max(plan.map_box.bottom, plan.legend_box.y + high)


def _strip_columns(x: float, right: float) -> list[tuple[float, float]]:
    return columns_between(x, right - STRIP_FURNITURE_MM - _GUTTER_MM, _STRIP_COLUMNS, gutter_mm=_GUTTER_MM)


def _draw_key(page: Page, plan: MapPlan, key: KeyBlocks, furniture: Furniture) -> None:
    """Blocks beside or below the map, with bars, north and grid."""
    box = plan.legend_box
    if plan.beside:
        blocks = key(box.width)
        high = height_of(blocks)
        draw_all(page, pour(blocks, [Box(box.x, box.y, box.width, high)])[0][0])
        furniture.draw_below(page, box.right, box.y + high + _GAP_MM, box.width)
        return
    columns = _strip_columns(box.x, box.right)
    blocks = key(columns[0][1])
    high = even_height(blocks, len(columns)) or box.height
    for placed in pour(blocks, [Box(x, box.y, width, high) for x, width in columns])[0]:
        draw_all(page, placed)
    furniture.draw_below(page, box.right, box.y)
