"""The legends of the ground's maps: swatch, class, limits, how it is dug; the answers on posts with their areas."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial

from boscage.sheets.content import MapKey
from boscage.sheets.evencolumns import columns_between, even_height
from boscage.sheets.flow import Block, draw_all, gap, height_of, pour
from boscage.sheets.furniture import TICK_ROOM_MM, draw_scale_bars, draw_words
from boscage.sheets.groundmap import draw_probe_swatch, outline_of
from boscage.sheets.groundpatterns import POSTS_PATTERNS, RESISTANCE_PATTERNS, UNKNOWN, Pattern, draw_swatch
from boscage.sheets.groundwords import class_limits, counted, digging_words, part_words, verdict_words
from boscage.sheets.legend import Entry, draw_legend, entries
from boscage.sheets.page import Box, Page
from boscage.sheets.ranchmap import (
    PACKED_FURNITURE_MM,
    STRIP_FURNITURE_MM,
    STRIP_MM,
    Furniture,
    LegendRoom,
    MapPlan,
)
from boscage.sheets.style import BOLD, PERMISSION_LETTERS, SMALL, LineLook, TextStyle
from boscage.sheets.typeset import Fitted, wrap
from boscage.values import Printer

CLASSES_SIDE_MM = 51.0
POSTS_COLUMN_MM = 46.0
POSTS_ROOM = LegendRoom(side_mm=86.0, least_mm=80.0, strip_mm=32.0)
_SWATCH = (8.0, 5.4)
_NAME = TextStyle(size_pt=7.5, bold=True)
_LIMITS = TextStyle(size_pt=7.0)
_BOTH, _UPPER = "On both maps", "; probes on the upper"
_BARS_MM, _STRIP_BARS_MM, _KEY_GAP_MM = 18.0, 48.0, 1.0
_TEXT_AT_MM, _GUTTER_MM, _ROW_MM = 9.6, 4.0, 4.3
_NOT_SOFT = "NOT the same as soft ground"
_SOURCE = "Classes of the Soil Survey Manual. How each is dug is assumed: see How it was made."


def class_blocks(printer: Printer, width: float) -> list[Block]:
    """One row for each class of the manual and one for what is not known, then who says so."""
    limits = class_limits(printer)
    rows = []
    for name, pattern in RESISTANCE_PATTERNS.items():
        text = _NOT_SOFT if name == UNKNOWN else digging_words(name)
        rows.append(pattern_row(pattern, verdict_words(name), limits.get(name, ""), text, width))
    small = Fitted(lines=tuple(wrap(_SOURCE, width, SMALL)), style=SMALL)
    source = Block(height_mm=small.height_mm, draw=lambda page, x, y: _set(page, x, y, small))
    return [*rows, gap(0.8), source]


def post_blocks(areas: Mapping[str, tuple[float, float]], printer: Printer, width: float) -> list[Block]:
    """One row for each answer on posts: area and share of the ranch."""
    rows = []
    for verdict, pattern in POSTS_PATTERNS.items():
        hectares, share = areas[verdict]
        words = f"{printer.area(hectares)}, {part_words(share)} of the ranch"
        rows.append(pattern_row(pattern, verdict_words(verdict), "", words, width))
    return rows


def pattern_row(pattern: Pattern, name: str, limits: str, text: str, width: float) -> Block:
    """A swatch with a name, limits beside it where there is room, and a text below."""
    words = Fitted(lines=tuple(wrap(text, width - _TEXT_AT_MM, SMALL)), style=SMALL)
    head = Fitted(lines=(name,), style=_NAME)
    beside = head.width_mm + Fitted(lines=(limits,), style=_LIMITS).width_mm + 2.0 <= width - _TEXT_AT_MM
    height = head.height_mm + (0.0 if beside or not limits else _LIMITS.line_mm) + words.height_mm

    def draw(page: Page, x: float, y: float) -> None:
        draw_swatch(page, Box(x, y + 0.5, *_SWATCH), pattern)
        at = x + _TEXT_AT_MM
        below = page.lines(at, y, head)
        if limits and beside:
            page.text(at + head.width_mm + 2.0, y + _NAME.ascent_mm, limits, _LIMITS)
        elif limits:
            below = page.lines(at, below, Fitted(lines=(limits,), style=_LIMITS))
        page.lines(at, below, words)

    return Block(height_mm=max(height, _SWATCH[1] + 0.8) + 0.8, draw=draw)


def _set(page: Page, x: float, y: float, fitted: Fitted) -> None:
    page.lines(x, y, fitted)


def feature_entries(key: MapKey, printer: Printer, unnamed: int = 0) -> list[Entry]:
    """Rows for sites, parcels, ways, water and probed places on a map."""
    others = entries(MapKey(shown=key.shown - set(PERMISSION_LETTERS)), printer)
    lines = [
        Entry(f"{letter}: permission {state}", partial(_outline, state=state))
        for state, letter in PERMISSION_LETTERS.items()
        if state in key.shown
    ]
    probes = []
    if "probe" in key.shown:
        probes.append(Entry("probe: value read", partial(draw_probe_swatch, stopped=False)))
    if "probe_stopped" in key.shown:
        probes.append(Entry("probe stopped: value read", partial(draw_probe_swatch, stopped=True)))
    if unnamed:
        probes.append(Entry(f"no room for {counted(unnamed, 'figure', 'figures')}", lambda page, box: None))
    return [*others, *lines, *probes]


def _outline(page: Page, box: Box, *, state: str) -> None:
    look = outline_of(state).outline
    middle = box.y + box.height / 2
    page.line((box.x, box.right), (middle, middle), look or LineLook())


def classes_room(printer: Printer, width: float) -> LegendRoom:
    """Room that the key of the upper map needs beside the map, and below it on a body of a width."""
    beside = height_of(class_blocks(printer, CLASSES_SIDE_MM - 4.0)) + _KEY_GAP_MM + PACKED_FURNITURE_MM + TICK_ROOM_MM
    columns = _strip_columns(0.0, width)
    below = even_height(class_blocks(printer, columns[0][1]), len(columns)) or 0.0
    return LegendRoom(side_mm=CLASSES_SIDE_MM, least_mm=beside, strip_mm=max(below, STRIP_MM) + 2.5)


def classes_bottom(plan: MapPlan, printer: Printer) -> float:
    """Below the upper map and its key, mm."""
    if not plan.beside:
        return plan.bottom
    high = height_of(class_blocks(printer, plan.legend_box.width)) + _KEY_GAP_MM + PACKED_FURNITURE_MM
    return max(plan.map_box.bottom, plan.legend_box.y + high)


def _strip_columns(x: float, right: float) -> list[tuple[float, float]]:
    return columns_between(x, right - STRIP_FURNITURE_MM - _GUTTER_MM, 3, gutter_mm=_GUTTER_MM)


def draw_classes_key(page: Page, plan: MapPlan, furniture: Furniture, printer: Printer) -> None:
    """Classes beside or below the upper map, with bars, north and grid."""
    box = plan.legend_box
    if plan.beside:
        blocks = class_blocks(printer, box.width)
        high = height_of(blocks)
        draw_all(page, pour(blocks, [Box(box.x, box.y, box.width, high)])[0][0])
        furniture.draw_below(page, box.right, box.y + high + _KEY_GAP_MM, box.width)
        return
    columns = _strip_columns(box.x, box.right)
    blocks = class_blocks(printer, columns[0][1])
    high = even_height(blocks, len(columns)) or box.height
    for placed in pour(blocks, [Box(x, box.y, width, high) for x, width in columns])[0]:
        draw_all(page, placed)
    furniture.draw_below(page, box.right, box.y)


def draw_posts_key(page: Page, plan: MapPlan, blocks: Sequence[Block], rows: list[Entry], furniture: Furniture) -> None:
    """Answers on posts, then what lies over both maps, then bars and scale, beside or below the lower map."""
    box, high = plan.legend_box, height_of(blocks)
    draw_all(page, pour(blocks, [Box(box.x, box.y, box.width, high)])[0][0])
    lines = -(-len(rows) // 2)
    title = _BOTH + (_UPPER if any(r.words.startswith("probe") for r in rows) else "")
    if plan.beside:
        y = box.y + high + 1.5
        page.text(box.x, y + BOLD.ascent_mm, title, _NAME)
        features = Box(box.x, y + 4.2, box.width, min(lines * _ROW_MM, box.bottom - _BARS_MM - y - 4.2))
        draw_legend(page, features, rows, columns=2)
        y = features.bottom + 2.5
        draw_scale_bars(page, box.x, y, 60.0, furniture.frame, furniture.units)
        draw_words(page, box.x, y + 13.4, box.width, [furniture.scale])
        return
    x = box.x + POSTS_COLUMN_MM + _GUTTER_MM
    width = box.right - _STRIP_BARS_MM - _GUTTER_MM - x
    page.text(x, box.y + BOLD.ascent_mm, title, _NAME)
    draw_legend(page, Box(x, box.y + 4.2, width, min(lines * _ROW_MM, box.height - 4.2)), rows, columns=2)
    x = box.right - _STRIP_BARS_MM
    draw_scale_bars(page, x, box.y, _STRIP_BARS_MM, furniture.frame, furniture.units)
    draw_words(page, x, box.y + 14.0, _STRIP_BARS_MM, [furniture.scale])
