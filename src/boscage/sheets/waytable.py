"""Tables and figure cards for reading at arm's length: nothing in them is set smaller than 7 points."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from boscage.sheets.flow import Block, height_of
from boscage.sheets.page import Page
from boscage.sheets.style import BODY, FAINT, GREY, LINES, LineLook, TextStyle
from boscage.sheets.typeset import Fitted, fit, wrap

LEAST_PT = 7.0
NOTE = TextStyle(size_pt=LEAST_PT, colour=GREY)
TITLE = TextStyle(size_pt=LEAST_PT, colour=GREY, bold=True)
_VALUE = TextStyle(size_pt=12.0, bold=True)
_GAP_MM = 1.5


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column: its title (wrapped), its width and whether its cells stand at the right."""

    title: str
    width_mm: float
    right: bool = False


@dataclass(frozen=True, kw_only=True)
class Row:
    """One row: a text a column, whether it is bold, and the line drawn in its first cell (a key of `LINES`)."""

    cells: tuple[str, ...]
    bold: bool = False
    line: str = ""


def table(columns: Sequence[Column], rows: Sequence[Row]) -> list[Block]:
    """A ruled table; the head is set again where it goes on in another box."""
    head = _head(columns)
    return [head, *[_row(columns, row, head) for row in rows]]


def _head(columns: Sequence[Column]) -> Block:
    titles = [_fitted(c, c.title, TITLE) for c in columns]
    height = max(t.height_mm for t in titles)

    def draw(page: Page, x: float, y: float) -> None:
        for column, title in zip(columns, titles, strict=True):
            _set(page, x, y + height - title.height_mm, column, title)
            x += column.width_mm

    return Block(height_mm=height + 0.5, draw=draw, keep_next=True)


def _row(columns: Sequence[Column], row: Row, head: Block) -> Block:
    style = replace(BODY, bold=row.bold)
    cells = [_fitted(c, text, style) for c, text in zip(columns, row.cells, strict=True)]
    height = max([c.height_mm for c in cells] + [BODY.line_mm])
    width = sum(c.width_mm for c in columns)
    rule = LineLook(width_pt=0.8) if row.bold else LineLook(colour=FAINT, width_pt=0.6)

    def draw(page: Page, x: float, y: float) -> None:
        page.line((x, x + width), (y, y), rule)
        if row.line:
            middle = y + 0.4 + BODY.line_mm * 0.5
            for look in LINES[row.line]:
                page.line((x + 0.5, x + columns[0].width_mm - 2.0), (middle, middle), look)
        for column, cell in zip(columns, cells, strict=True):
            _set(page, x, y + 0.4, column, cell)
            x += column.width_mm

    return Block(height_mm=height + 0.9, draw=draw, again=head)


def _fitted(column: Column, text: str, style: TextStyle) -> Fitted:
    own = replace(style, align="right" if column.right else "left")
    once = fit(text, column.width_mm - _GAP_MM, own, floor_pt=LEAST_PT)
    return Fitted(lines=tuple(wrap(text, column.width_mm - _GAP_MM, own)), style=own) if once.cut else once


def _set(page: Page, x: float, y: float, column: Column, cell: Fitted) -> None:
    page.lines(x + column.width_mm - _GAP_MM if column.right else x, y, cell)


def beside(left: Sequence[Block], right: Sequence[Block], off_mm: float) -> Block:
    """Two stacks side by side as one block that is never split; the right one stands so far from the left edge."""

    def draw(page: Page, x: float, y: float) -> None:
        for at, stack in ((x, left), (x + off_mm, right)):
            top = y
            for block in stack:
                block.draw(page, at, top)
                top += block.height_mm

    return Block(height_mm=max(height_of(left), height_of(right)), draw=draw)


@dataclass(frozen=True, kw_only=True)
class Card:
    """A figure to be found at once: what it is, the figure, and what to know of it."""

    label: str
    value: str
    note: str = ""
    share: float = 1.0


def cards(items: Sequence[Card], width_mm: float) -> Block:
    """Cards in a row, parted by rules; each is as wide as its share."""
    whole = sum(c.share for c in items)
    widths = [width_mm * c.share / whole for c in items]
    set_up = [_card(c, w - 2.5) for c, w in zip(items, widths, strict=True)]
    height = max(sum(f.height_mm for f in card) for card in set_up) + 1.0

    def draw(page: Page, x: float, y: float) -> None:
        for k, (card, wide) in enumerate(zip(set_up, widths, strict=True)):
            if k:
                page.line((x, x), (y + 0.5, y + height - 0.5), LineLook(colour=GREY, width_pt=0.5))
            top = y + 0.3
            for fitted in card:
                top = page.lines(x + (1.5 if k else 0.0), top, fitted)
            x += wide

    return Block(height_mm=height, draw=draw)


def _card(card: Card, width_mm: float) -> tuple[Fitted, ...]:
    label = Fitted(lines=tuple(wrap(card.label, width_mm, TITLE)), style=TITLE)
    once = fit(card.value, width_mm, _VALUE, floor_pt=9.0)
    value = fit(card.value, width_mm, _VALUE, lines=9, floor_pt=LEAST_PT) if once.cut else once
    note = Fitted(lines=tuple(wrap(card.note, width_mm, NOTE)), style=NOTE)
    return label, value, note
