"""Where everything stands on the page on the way in and on who sees the set."""

from __future__ import annotations

from dataclasses import dataclass

from boscage.model.journey import Journey, Leg
from boscage.model.results import ScoutResult, Site
from boscage.sheets.flow import Block, Placed, heading, height_of, pour
from boscage.sheets.page import Box, Page
from boscage.sheets.running import body_box
from boscage.sheets.sheet import HEAD_MM
from boscage.sheets.sightmap import KEY_MM, key_block
from boscage.sheets.sighttext import sight_blocks
from boscage.sheets.waytext import way_in_blocks

GAP_MM = 2.2
_LEAST_MAP_MM, _MOST_MAP_MM = 84.0, 150.0
_SIDE_MM = 80.0
_SIGHT_MM, _MOST_SIGHT_MM = 60.0, 125.0
_LEAST_SEEN_MM = 40.0
_GUTTER_MM = 5.0
_MORE_MM = 3.6


@dataclass(frozen=True, kw_only=True)
class WayLayout:
    """The page laid out.

    Attributes:
        placed: The text of both parts, as it stands.
        rest: What there is no room for.
        map_box, side_box, sight_box: Where the map, its profile and key, and the map of sight lines stand; None for
            a drawing that is not made.
        seen_top: Where the heading of the lower part stands.
    """

    site: Site
    body: Box
    placed: tuple[Placed, ...]
    rest: tuple[Block, ...]
    map_box: Box | None
    side_box: Box | None
    sight_box: Box | None
    seen_top: float


@dataclass(frozen=True, kw_only=True)
class _Parts:
    """What the page is made of, with the heights in mm that each part asks for.

    Attributes:
        key: Key of the map of sight lines, or None without the map.
        head_mm: Height of a heading.
    """

    way: list[Block]
    seen: list[Block]
    legs: tuple[Leg, ...]
    key: Block | None
    head_mm: float

    @property
    def least_map_mm(self) -> float:
        """Least height of the map of the way in with the gap below it."""
        return _LEAST_MAP_MM + GAP_MM if self.legs else 0.0

    @property
    def sight_mm(self) -> float:
        """Least height of the map of sight lines."""
        return _SIGHT_MM if self.key else 0.0

    @property
    def text_mm(self) -> float:
        """Height of the lower part's text with the key."""
        return height_of(self.seen) + (KEY_MM + 1.0 if self.key else 0.0)

    @property
    def seen_mm(self) -> float:
        """Height of the lower part; without a way in its map stands under its text, not beside it."""
        if not self.legs:
            return self.head_mm + self.text_mm + self.sight_mm
        return self.head_mm + max(self.text_mm, self.sight_mm)

    @property
    def least_seen_mm(self) -> float:
        """The same when its text has to go on on a further page."""
        least = min(self.text_mm, _LEAST_SEEN_MM)
        return self.head_mm + (max(least, self.sight_mm) if self.legs else least + self.sight_mm)


def plan_way_page(result: ScoutResult, site: Site) -> WayLayout:
    """Lay the page out: the map of the way in takes what the rest leaves, and gives way, within limits, to the text."""
    blank = Page(result.plan.paper)
    body = body_box(blank.width_mm, blank.height_mm)
    room = Box(body.x, body.y + HEAD_MM, body.width, body.height - HEAD_MM - _MORE_MM)
    parts = _parts(result, site, room.width)
    spare = room.height - height_of(parts.way) - parts.least_map_mm - parts.seen_mm
    seen_mm = parts.seen_mm if spare >= 0.0 else max(parts.least_seen_mm, parts.seen_mm + spare)
    (way,), way_rest = pour(parts.way, [Box(room.x, room.y, room.width, room.height - parts.least_map_mm - seen_mm)])
    top = max((p.y + p.block.height_mm for p in way), default=room.y)
    map_box = side_box = None
    if parts.legs:
        high = min(_MOST_MAP_MM, room.bottom - seen_mm - GAP_MM - top)
        map_box = Box(room.x, top, room.width - _SIDE_MM - _GUTTER_MM, high)
        side_box = Box(room.right - _SIDE_MM, top, _SIDE_MM, high)
        top = map_box.bottom + GAP_MM
    below = Box(room.x, top + parts.head_mm, room.width, room.bottom - top - parts.head_mm)
    seen, seen_rest, sight_box = _lay_seen(parts, below)
    return WayLayout(
        site=site, body=body, placed=(*way, *seen), rest=(*Block.opening(way_rest), *Block.opening(seen_rest)),
        map_box=map_box, side_box=side_box, sight_box=sight_box, seen_top=top,
    )  # fmt: skip


def _parts(result: ScoutResult, site: Site, width: float) -> _Parts:
    legs = site.journey.inward if isinstance(site.journey, Journey) else ()
    has_map = site.exposure is not None and len(site.exposure.watchers) > 0
    column = width - (_SIGHT_MM + _GUTTER_MM if has_map and legs else 0.0)
    return _Parts(
        way=way_in_blocks(site.journey, result, width), seen=sight_blocks(site.exposure, result, column), legs=legs,
        key=key_block(site.exposure, result, column) if has_map and site.exposure is not None else None,
        head_mm=heading("Who sees it", width).height_mm + 0.8,
    )  # fmt: skip


def _lay_seen(parts: _Parts, box: Box) -> tuple[list[Placed], list[Block], Box | None]:
    """The lower part in a box under its heading: text and key, what is left over, and the box of the map."""
    if parts.key is None:
        (seen,), rest = pour(parts.seen, [box])
        return seen, rest, None
    under = 0.0 if parts.legs else parts.sight_mm
    (seen,), rest = pour(parts.seen, [Box(box.x, box.y, box.width, box.height - under - KEY_MM - 1.0)])
    y = max((p.y + p.block.height_mm for p in seen), default=box.y) + 1.0
    placed = [*seen, Placed(parts.key, box.x, y)]
    if parts.legs:
        high = min(max(parts.sight_mm, y + KEY_MM - box.y), box.height, _SIGHT_MM + 10.0)
        return placed, rest, Box(box.right - _SIGHT_MM, box.y, _SIGHT_MM, high)
    y += KEY_MM
    return placed, rest, Box(box.x, y, box.width, min(_MOST_SIGHT_MM, box.bottom - y))
