"""Blocks 1 and 2 of the front: who and when; objective, loads in and out, when to break off."""

from __future__ import annotations

from boscage.sheets.dropjob import DropGroup
from boscage.sheets.dropkit import Field, cells, draw_tab
from boscage.sheets.droploads import in_words
from boscage.sheets.dropwords import light_words, sun_words
from boscage.sheets.flow import Block, height_of
from boscage.sheets.page import Box, Page
from boscage.sheets.style import LineLook, TextStyle

_TAB_ROOM_MM, _RULE_MM = 6.4, 1.6
_BIG = TextStyle(size_pt=11.0, bold=True)


def head_mm(group: DropGroup, width_mm: float, lines: int) -> float:
    """Height of both blocks with the rule below; what is stated takes so many lines at the most."""
    return height_of(_rows(group, width_mm, "page 00 of 00", lines)) + _RULE_MM


def draw_head(page: Page, group: DropGroup, body: Box, lines: int) -> None:
    """Draw both blocks."""
    y = body.y
    rows = _rows(group, body.width, f"page {page.number} of {page.of}", lines)
    for number, block in zip((1, None, 2), rows, strict=True):
        if number is not None:
            draw_tab(page, body.x, y + 0.4, number)
        block.draw(page, body.x + _TAB_ROOM_MM, y)
        y += block.height_mm
    page.line((body.x, body.right), (y + 0.2, y + 0.2), LineLook(width_pt=1.4))


def _rows(group: DropGroup, width_mm: float, page_words: str, lines: int) -> list[Block]:
    result, figures = group.result, group.figures
    brief, day, date = result.plan.brief, result.daylight, result.plan.date.isoformat()
    zone = "UTC" if day is None else figures.zone_words(day.noon)
    first = [
        Field(label="mission", value=brief.mission, share=2.6, lines=lines), Field(label="date", value=date, share=0.8),
        Field(label="plan no.", value=brief.plan_number, share=0.7, lines=lines),
        Field(label=group.title, value=page_words, share=0.8),
    ]  # fmt: skip
    sun, light = (None, None) if day is None else (sun_words(day, figures), light_words(day, figures))
    second = [
        Field(label="take-off, local", value=brief.takeoff, share=0.75, lines=lines),
        Field(label=f"sunrise to sunset ({zone})", value=sun, share=1.4),
        Field(label="civil dawn to dusk", value=light, share=1.05),
        Field(label="aircraft", value=brief.aircraft, share=1.5, lines=lines),
        Field(label="printed for", value=date, share=0.75),
    ]
    third = [
        Field(label="objective", value=brief.objective, share=2.2, lines=lines),
        Field(label="loads in", value=in_words(group), share=0.9, lines=lines),
        Field(label="loads out", value=None, share=0.6),
        Field(label="break off when", value=brief.abort, share=1.8, lines=lines),
    ]  # fmt: skip
    width = width_mm - _TAB_ROOM_MM
    return [cells(first, width, _BIG), cells(second, width), cells(third, width)]
