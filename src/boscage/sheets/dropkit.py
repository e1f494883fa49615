"""What the front of a drop brief is made of: numbered titles, fields with a value or a line to write on, boxes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from boscage.sheets.dropjob import LEAST_PT
from boscage.sheets.flow import Block
from boscage.sheets.page import Box, Page
from boscage.sheets.style import GREY, INK, PAPER, AreaLook, LineLook, TextStyle
from boscage.sheets.typeset import Fitted, fit, text_width_mm

LABEL = TextStyle(size_pt=7.5, colour=GREY, bold=True)
VALUE = TextStyle(size_pt=9.5, bold=True)
PLAIN = TextStyle(size_pt=8.0)
NOTE = TextStyle(size_pt=7.5)
ROW_MM = 5.3
TITLE_MM = 5.9
_TAB_MM = 4.6
_BLANK = LineLook(width_pt=0.6)
THIN = LineLook(colour=GREY, width_pt=0.5)


def titled(number: int, words: str, width_mm: float, note: str = "", *, is_loud: bool = False) -> Block:
    """The head of a block: its number in a dark tab, its name, words at the right, bold if loud, a rule below."""
    name = Fitted(lines=(words,), style=TextStyle(size_pt=9.5, bold=True))
    start = _TAB_MM + 1.6
    style = replace(NOTE, align="right", bold=is_loud)
    aside = fit(note, width_mm - start - name.width_mm - 3.0, style, floor_pt=LEAST_PT)

    def draw(page: Page, x: float, y: float) -> None:
        draw_tab(page, x, y, number)
        page.text(x + start, y + 3.6, words, name.style)
        if note:
            page.text(x + width_mm, y + 3.6, aside.lines[0], aside.style)
        page.line((x, x + width_mm), (y + _TAB_MM, y + _TAB_MM), LineLook(width_pt=1.0))

    return Block(height_mm=TITLE_MM, draw=draw, keep_next=True)


def draw_tab(page: Page, x: float, y: float, number: int) -> None:
    """A block's number in a dark tab."""
    page.area(Box(x, y, _TAB_MM, _TAB_MM), AreaLook(fill=INK))
    style = TextStyle(size_pt=9.5 if number < 10 else 8.5, bold=True, colour=PAPER, align="center")
    page.text(x + _TAB_MM / 2, y + 3.5, str(number), style)


@dataclass(frozen=True, kw_only=True)
class Field:
    """One thing to state.

    Attributes:
        value: None for a line to write on.
        share: Of the row's width.
        lines: Most lines of the value.
        unit: Printed at the end of a line to write on.
    """

    label: str
    value: str | None
    share: float = 1.0
    lines: int = 2
    unit: str = ""


def field_row(fields: Sequence[Field], width_mm: float, label_mm: float = 0.0) -> Block:
    """Fields beside one another, each with its label in front; with `label_mm` the first label is that wide."""
    widths = _widths(fields, width_mm)
    leads = [max(text_width_mm(f.label, LABEL) + 1.8, label_mm if not k else 0.0) for k, f in enumerate(fields)]
    values = [_value(f, w - lead, VALUE) for f, w, lead in zip(fields, widths, leads, strict=True)]
    height = max([ROW_MM] + [v.height_mm + 1.0 for v in values if v])

    def draw(page: Page, x: float, y: float) -> None:
        for field, wide, lead, value in zip(fields, widths, leads, values, strict=True):
            page.text(x, y + 3.7, field.label, LABEL)
            if value is None:
                _draw_blank(page, x + lead, y + 4.4, wide - lead, field.unit)
            else:
                drop = 3.7 - value.style.ascent_mm if len(value.lines) == 1 else 0.3
                page.lines(x + lead, y + drop, value)
            x += wide + _PARTED_MM

    return Block(height_mm=height, draw=draw)


_PARTED_MM = 3.0


def _widths(fields: Sequence[Field], width_mm: float) -> list[float]:
    room = width_mm - _PARTED_MM * (len(fields) - 1)
    whole = sum(f.share for f in fields)
    return [room * f.share / whole for f in fields]


def _value(field: Field, width_mm: float, style: TextStyle) -> Fitted | None:
    """The value in its style where it fits on one line, else smaller and on more lines."""
    if field.value is None:
        return None
    once = fit(field.value, width_mm, style, floor_pt=8.0)
    if not once.cut:
        return once
    smaller = replace(style, size_pt=min(style.size_pt, 8.5))
    return fit(field.value, width_mm, smaller, lines=field.lines, floor_pt=LEAST_PT)


def _draw_blank(page: Page, x: float, y: float, width_mm: float, unit: str) -> None:
    room = text_width_mm(unit, NOTE) + 1.0 if unit else 0.0
    page.line((x, x + width_mm - room), (y, y), _BLANK)
    if unit:
        page.text(x + width_mm - room + 1.0, y - 0.7, unit, NOTE)


def cells(fields: Sequence[Field], width_mm: float, style: TextStyle = VALUE) -> Block:
    """Fields beside one another, parted by rules, each with its label above."""
    widths = _widths(fields, width_mm)
    values = [_value(f, w, style) for f, w in zip(fields, widths, strict=True)]
    least = style.line_mm + 0.8
    height = 3.5 + max([least] + [v.height_mm + 0.4 for v in values if v])

    def draw(page: Page, x: float, y: float) -> None:
        for k, (field, wide, value) in enumerate(zip(fields, widths, values, strict=True)):
            if k:
                at = x - _PARTED_MM / 2
                page.line((at, at), (y + 0.6, y + height - 0.4), THIN)
            page.text(x, y + 2.9, field.label, replace(LABEL, size_pt=LEAST_PT))
            if value is None:
                _draw_blank(page, x, y + height - 0.8, wide, field.unit)
            else:
                page.lines(x, y + 3.5, value)
            x += wide + _PARTED_MM

    return Block(height_mm=height + 0.6, draw=draw)


def said(text: str, width_mm: float, style: TextStyle = NOTE, *, lines: int = 2) -> Block:
    """Words of a few lines."""
    fitted = fit(text, width_mm, style, lines=lines, floor_pt=LEAST_PT)

    def draw(page: Page, x: float, y: float) -> None:
        page.lines(x, y, fitted)

    return Block(height_mm=fitted.height_mm + 0.3, draw=draw)


def barred(fitted: Fitted) -> Block:
    """Lines behind a heavy bar, for what must not be overlooked."""

    def draw(page: Page, x: float, y: float) -> None:
        page.line((x + 0.7, x + 0.7), (y + 0.2, y + fitted.height_mm), LineLook(width_pt=2.2))
        page.lines(x + 2.4, y, fitted)

    return Block(height_mm=fitted.height_mm + 0.5, draw=draw)


@dataclass(frozen=True, kw_only=True)
class Cell:
    """One cell of a table: its text, None for a line to write on, `box` for an empty box."""

    text: str | None = ""
    bold: bool = False
    lines: int = 1
    box: bool = False


@dataclass(frozen=True, kw_only=True)
class Stripe:
    """One column of a table on the front."""

    title: str
    width_mm: float
    right: bool = False
    size_pt: float = 9.0


def stripes_head(columns: Sequence[Stripe]) -> Block:
    """The titles, on two lines at the most."""
    titles = [
        fit(c.title, c.width_mm - 1.6, replace(LABEL, size_pt=LEAST_PT, align="right" if c.right else "left"), lines=2,
            floor_pt=LEAST_PT) for c in columns
    ]  # fmt: skip
    height = max(t.height_mm for t in titles)

    def draw(page: Page, x: float, y: float) -> None:
        for column, title in zip(columns, titles, strict=True):
            at = x + (column.width_mm - 1.6 if column.right else 0.0)
            page.lines(at, y + height - title.height_mm, title)
            x += column.width_mm

    return Block(height_mm=height + 0.5, draw=draw, keep_next=True)


def stripes_row(columns: Sequence[Stripe], row: Sequence[Cell], least_mm: float = ROW_MM) -> Block:
    """One ruled row; blanks are lines to write on, boxes are as high as the row."""
    texts = [_cell(c, cell) for c, cell in zip(columns, row, strict=True)]
    height = max([least_mm] + [t.height_mm + 1.0 for t in texts if t])
    width = sum(c.width_mm for c in columns)

    def draw(page: Page, x: float, y: float) -> None:
        page.line((x, x + width), (y, y), THIN)
        for column, cell, text in zip(columns, row, texts, strict=True):
            if cell.box:
                look = AreaLook(outline=LineLook(width_pt=1.0))
                page.area(Box(x + 0.5, y + 0.7, column.width_mm - 1.5, height - 1.2), look)
            elif text is None:
                page.line((x, x + column.width_mm - 1.6), (y + height - 0.9,) * 2, _BLANK)
            else:
                at = x + (column.width_mm - 1.6 if column.right else 0.0)
                page.lines(at, y + 0.2 + (height - 0.2 - text.height_mm) / 2, text)
            x += column.width_mm

    return Block(height_mm=height, draw=draw)


def _cell(column: Stripe, cell: Cell) -> Fitted | None:
    if cell.text is None:
        return None
    style = TextStyle(size_pt=column.size_pt, bold=cell.bold, align="right" if column.right else "left")
    return fit(cell.text, column.width_mm - 1.6, style, lines=cell.lines, floor_pt=LEAST_PT)
