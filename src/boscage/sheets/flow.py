"""Text that flows: blocks of known height poured into boxes, and on to the next box when one is full."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from boscage.sheets.page import Box, Page
from boscage.sheets.style import BODY, BOLD, FAINT, INK, LABEL, LineLook, TextStyle
from boscage.sheets.typeset import Fitted, fit, text_width_mm, wrap


@dataclass(frozen=True, kw_only=True)
class Block:
    """A piece that is never split.

    Attributes:
        height_mm: Room it takes.
        draw: Called with the page and the block's left and top, mm.
        keep_next: Whether it must not be the last in a box.
        again: Block set again above this one when it opens a further box, such as a table's head.
        is_gap: Whether it is empty room, left out at the top of a further box.
    """

    height_mm: float
    draw: Callable[[Page, float, float], None]
    keep_next: bool = False
    again: Block | None = None
    is_gap: bool = False

    @staticmethod
    def opening(blocks: Sequence[Block]) -> list[Block]:
        """Blocks as they open a further box: no gaps in front, and the head they belong under set again."""
        rest = list(itertools.dropwhile(lambda b: b.is_gap, blocks))
        return [rest[0].again, *rest] if rest and rest[0].again else rest


@dataclass(frozen=True)
class Placed:
    """A block with its place on the page, mm."""

    block: Block
    x: float
    y: float


def pour(blocks: Sequence[Block], boxes: Sequence[Box]) -> tuple[list[list[Placed]], list[Block]]:
    """Fill boxes one after another.

    Returns:
        The placed blocks of each box, and the blocks that no box had room for.
    """
    filled: list[list[Placed]] = []
    rest, started = list(blocks), False
    for box in boxes:
        placed: list[Placed] = []
        y = box.y
        rest = Block.opening(rest) if started else rest
        while rest:
            unit = _unit(rest)
            height = sum(b.height_mm for b in unit)
            if y + height > box.bottom + 1e-6:
                if placed or height <= box.height:
                    break
                unit = unit[:1]
            for block in unit:
                placed.append(Placed(block, box.x, y))
                y += block.height_mm
            del rest[: len(unit)]
        started = started or bool(placed)
        filled.append(placed)
    return filled, rest


def _unit(blocks: Sequence[Block]) -> list[Block]:
    count = 1
    while blocks[count - 1].keep_next and count < len(blocks):
        count += 1
    return list(blocks[:count])


def draw_all(page: Page, placed: Sequence[Placed]) -> None:
    """Draw placed blocks."""
    for item in placed:
        item.block.draw(page, item.x, item.y)


def height_of(blocks: Sequence[Block]) -> float:
    """Height of blocks set one under another, mm."""
    return sum(b.height_mm for b in blocks)


def gap(height_mm: float) -> Block:
    """Empty room."""
    return Block(height_mm=height_mm, draw=lambda page, x, y: None, is_gap=True)


def heading(text: str, width_mm: float) -> Block:
    """A heading with a rule under it, kept with what follows."""
    fitted = fit(text, width_mm, TextStyle(size_pt=8.5, bold=True))

    def draw(page: Page, x: float, y: float) -> None:
        below = page.lines(x, y, fitted)
        page.line((x, x + width_mm), (below + 0.3, below + 0.3), LineLook(width_pt=0.8))

    return Block(height_mm=fitted.height_mm + 1.4, draw=draw, keep_next=True)


def set_lines(fitted: Fitted, *, indent_mm: float = 0.0, again: Block | None = None) -> list[Block]:
    """One block a line, so that a long text can go on in the next box."""

    def one(line: str) -> Block:
        single = Fitted(lines=(line,), style=fitted.style)

        def draw(page: Page, x: float, y: float) -> None:
            page.lines(x + indent_mm, y, single)

        return Block(height_mm=fitted.style.line_mm, draw=draw, again=again)

    blocks = [one(line) for line in fitted.lines]
    if len(blocks) > 1:
        blocks[0] = replace(blocks[0], keep_next=True)
        blocks[-2] = replace(blocks[-2], keep_next=True)
    return blocks


def paragraph(
    text: str, width_mm: float, style: TextStyle = BODY, *, bullet: bool = False, again: Block | None = None
) -> list[Block]:
    """A paragraph; with a bullet the text is indented behind a short dash."""
    indent = 3.2 if bullet else 0.0
    blocks = set_lines(
        Fitted(lines=tuple(wrap(text, width_mm - indent, style)), style=style), indent_mm=indent, again=again
    )
    if bullet and blocks:
        first = blocks[0].draw

        def draw(page: Page, x: float, y: float) -> None:
            middle = y + style.line_mm * 0.48
            page.line((x + 0.4, x + 1.9), (middle, middle), LineLook(width_pt=1.2))
            first(page, x, y)

        blocks[0] = replace(blocks[0], draw=draw)
    return [*blocks, gap(0.7)] if blocks else []


def bullets(
    texts: Sequence[str], width_mm: float, style: TextStyle = BODY, *, again: Block | None = None
) -> list[Block]:
    """One paragraph behind a dash for each text."""
    return [b for text in texts for b in paragraph(text, width_mm, style, bullet=True, again=again)]


def pair(label: str, value: str, width_mm: float, *, label_mm: float = 26.0, style: TextStyle = BODY) -> Block:
    """A label and its value on one row; the value wraps."""
    lines = Fitted(lines=tuple(wrap(value, width_mm - label_mm, style)), style=style)
    name = fit(label, label_mm - 1.5, LABEL)

    def draw(page: Page, x: float, y: float) -> None:
        page.text(x, y + style.ascent_mm, name.lines[0], name.style)
        page.lines(x + label_mm, y, lines)

    return Block(height_mm=max(lines.height_mm, style.line_mm) + 0.25, draw=draw)


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column of a table."""

    title: str
    width_mm: float
    style: TextStyle = BODY
    lines: int | None = None

    def fitted(self, text: str) -> Fitted:
        """The cell's text in the column."""
        room = self.width_mm - 1.5
        if self.lines is None:
            return Fitted(lines=tuple(wrap(text, room, self.style)), style=self.style)
        return fit(text, room, self.style, lines=self.lines)


def table(columns: Sequence[Column], rows: Sequence[Sequence[str]], *, title: Block | None = None) -> list[Block]:
    """A table with a head that is set again where the table goes on in another box.

    Args:
        columns: Titles, widths and styles.
        rows: Texts, one a column.
        title: Heading set above the head.
    """
    width = sum(c.width_mm for c in columns)
    head = _head(columns, width, title)
    return [head, *[_row(columns, row, width, head) for row in rows]]


def _head(columns: Sequence[Column], width: float, title: Block | None) -> Block:
    top = title.height_mm if title else 0.0

    def draw(page: Page, x: float, y: float) -> None:
        if title:
            title.draw(page, x, y)
        for column in columns:
            shown = fit(column.title, column.width_mm - 1.0, LABEL)
            page.lines(x, y + top, shown)
            x += column.width_mm

    return Block(height_mm=top + LABEL.line_mm + 0.6, draw=draw, keep_next=True)


def _row(columns: Sequence[Column], row: Sequence[str], width: float, head: Block) -> Block:
    cells = [column.fitted(text) for column, text in zip(columns, row, strict=True)]
    height = max([c.height_mm for c in cells] + [BODY.line_mm])

    def draw(page: Page, x: float, y: float) -> None:
        page.line((x, x + width), (y, y), LineLook(colour=FAINT, width_pt=0.6))
        for column, cell in zip(columns, cells, strict=True):
            page.lines(x, y + 0.35, cell)
            x += column.width_mm

    return Block(height_mm=height + 0.8, draw=draw, again=head)


def loud(text: str, width_mm: float) -> list[Block]:
    """A paragraph in bold behind a heavy bar, for what must not be overlooked."""
    blocks = set_lines(Fitted(lines=tuple(wrap(text, width_mm - 3.0, BOLD)), style=BOLD), indent_mm=3.0)

    def barred(block: Block) -> Block:
        inner = block.draw

        def draw(page: Page, x: float, y: float) -> None:
            page.line((x + 0.8, x + 0.8), (y, y + block.height_mm), LineLook(colour=INK, width_pt=2.2))
            inner(page, x, y)

        return replace(block, draw=draw)

    return [*[barred(b) for b in blocks], gap(0.8)]


def label_width_mm(labels: Sequence[str], style: TextStyle = LABEL) -> float:
    """Width of the widest label, mm."""
    return max((text_width_mm(t, style) for t in labels), default=0.0)
