"""The front of a drop brief: ten blocks on one page, for a pilot to read at arm's length."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from boscage.sheets.dropair import air_blocks
from boscage.sheets.dropcoords import coordinate_blocks, least_warning_mm, warnings
from boscage.sheets.dropcrew import comms_blocks, go_blocks, ppe_block, rescue_blocks
from boscage.sheets.drophead import draw_head, head_mm
from boscage.sheets.dropjob import DropGroup
from boscage.sheets.dropkit import titled
from boscage.sheets.droploads import LoadTable, load_table
from boscage.sheets.dropmap import DropMap, caution, draw_drop_map, plan_drop_map
from boscage.sheets.flow import Block, Placed, draw_all, gap, height_of
from boscage.sheets.page import Box, Page
from boscage.sheets.running import draw_foot

_LEFT_SHARE, _GUTTER_MM, _GAP_MM = 0.555, 4.0, 1.6
_LEAST_MAP_MM, _MOST_MAP_MM = 80.0, 150.0
_WAYS = ((3, True), (3, False), (2, False), (1, False))
_GOOD_MAP_MM, _WARNED_MM = 94.0, 24.0
"""Height of the map with its key, and of the warnings, from which on a load's items may take further lines."""
_ITEM_LINES = (3, 2, 1)
_TITLE_MM, _SOME_ROWS_MM = 6.0, 11.5


@dataclass(frozen=True, kw_only=True, eq=False)
class DropFront:
    """A front, laid out.

    Attributes:
        placed: Everything but head and map.
        left: Numbers of the loads whose rows the back has to show.
    """

    group: DropGroup
    room: _Room
    map_plan: DropMap
    placed: list[Placed]
    left: tuple[int, ...]


def plan_front(group: DropGroup) -> DropFront:
    """Lay the page out: what is stated at length is shortened only where the load table would have next to no room."""
    room = _room(group)
    body, right, coordinates = room.body, room.right, room.coordinates
    told = height_of(coordinates) + height_of(warnings(group, right, _WARNED_MM))
    loads = _loads(group, body.width, (room.height - max(told, _GOOD_MAP_MM), room.height - room.least))
    height = min(room.height - height_of(loads.blocks), _MOST_MAP_MM)
    told_here = [*coordinates, *warnings(group, right, height - height_of(coordinates))]
    map_plan = plan_drop_map(group, Box(body.x, room.top + _TITLE_MM, room.left, height - _TITLE_MM))
    below, bottom = room.top + height + _GAP_MM, body.bottom - room.ppe.height_mm
    placed = [
        Placed(titled(3, "Map, north up", room.left, caution(group), is_loud=True), body.x, room.top),
        *_stacked(told_here, body.x + room.left + _GUTTER_MM, room.top), *_stacked(loads.blocks, body.x, below),
        Placed(room.low, body.x, bottom - _GAP_MM - room.low.height_mm), Placed(room.ppe, body.x, bottom),
    ]  # fmt: skip
    return DropFront(group=group, room=room, map_plan=map_plan, placed=placed, left=loads.left)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Room:
    """What takes its room first, with so many lines for what is stated, and the room that map and loads share.

    Attributes:
        left, right: Widths of the two columns.
        top: Below the head.
        low: Performance, radio, rescue, go or no-go.
        height: Of map and load table together.
        least: Height of the map's row at the least.
    """

    body: Box
    lines: int
    left: float
    right: float
    top: float
    coordinates: list[Block]
    low: Block
    ppe: Block
    height: float
    least: float

    @classmethod
    def of(cls, group: DropGroup, lines: int, *, is_large: bool) -> _Room:
        """The room of a group's front."""
        body = group.body()
        left = body.width * _LEFT_SHARE
        right = body.width - left - _GUTTER_MM
        top = body.y + head_mm(group, body.width, lines)
        coordinates = coordinate_blocks(group, right, is_large=is_large)
        low, ppe = _low(group, (left, right), min(lines, 2)), ppe_block(body.width)
        return cls(
            body=body, lines=lines, left=left, right=right, top=top, coordinates=coordinates, low=low, ppe=ppe,
            height=body.bottom - top - ppe.height_mm - low.height_mm - 3 * _GAP_MM,
            least=max(_LEAST_MAP_MM, height_of(coordinates) + least_warning_mm(group)),
        )  # fmt: skip


def _room(group: DropGroup) -> _Room:
    """The first way to set the page that leaves room for some loads: large figures go first, then long words."""
    least_mm = height_of(load_table(group, group.body().width, lines=1, most_mm=0.0).blocks) + _SOME_ROWS_MM
    ways = [_Room.of(group, lines, is_large=is_large) for lines, is_large in _WAYS]
    return next((way for way in ways if least_mm <= way.height - way.least), ways[-1])


def _low(group: DropGroup, widths: tuple[float, float], lines: int) -> Block:
    """Performance and go or no-go at the left, radio and rescue at the right."""
    left, right = widths
    return _two(
        [*air_blocks(group, left), gap(_GAP_MM), *go_blocks(left)],
        [*comms_blocks(group, right, lines=lines), gap(_GAP_MM), *rescue_blocks(group, right, lines=lines)],
        left + _GUTTER_MM,
    )  # fmt: skip


def _loads(group: DropGroup, width_mm: float, most_mm: tuple[float, float]) -> LoadTable:
    """The load table; more than a line for its items only where the map keeps a good size, the first of two heights."""
    for lines in _ITEM_LINES:
        table = load_table(group, width_mm, lines=lines, most_mm=1e9)
        if height_of(table.blocks) <= most_mm[0 if lines > 1 else 1]:
            return table
    return load_table(group, width_mm, lines=1, most_mm=most_mm[1])


def _two(left: Sequence[Block], right: Sequence[Block], off_mm: float) -> Block:
    """Two stacks side by side."""

    def draw(page: Page, x: float, y: float) -> None:
        draw_all(page, [*_stacked(left, x, y), *_stacked(right, x + off_mm, y)])

    return Block(height_mm=max(height_of(left), height_of(right)), draw=draw)


def _stacked(blocks: Sequence[Block], x: float, y: float) -> list[Placed]:
    placed = []
    for block in blocks:
        placed.append(Placed(block, x, y))
        y += block.height_mm
    return placed


def draw_front(page: Page, front: DropFront) -> None:
    """Draw the page."""
    draw_head(page, front.group, front.room.body, front.room.lines)
    draw_drop_map(page, front.group, front.map_plan)
    draw_all(page, front.placed)
    draw_foot(page, front.group.result)
