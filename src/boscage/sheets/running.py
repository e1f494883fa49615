"""What every page carries: the foot with note, print date and page number, and the head of a further page."""

from __future__ import annotations

from boscage.model.results import ScoutResult
from boscage.sheets.page import Box, Page
from boscage.sheets.style import GREY, LineLook, TextStyle
from boscage.sheets.typeset import fit

MARGIN_MM = 12.0
TOP_MM = 9.0
FOOT_MM = 9.0
_FOOT = TextStyle(size_pt=6.5, colour=GREY)


def body_box(page_width_mm: float, page_height_mm: float) -> Box:
    """The part of a page between margins and above the foot."""
    height = page_height_mm - TOP_MM - FOOT_MM - 8.5
    return Box(MARGIN_MM, TOP_MM, page_width_mm - 2 * MARGIN_MM, height)


def draw_foot(page: Page, result: ScoutResult) -> None:
    """The plan's note, the ranch, the date the sheets are printed for, page n of N."""
    y = page.height_mm - FOOT_MM - 6.6
    left, right = MARGIN_MM, page.width_mm - MARGIN_MM
    page.line((left, right), (y, y), LineLook(width_pt=0.5))
    date = result.plan.date.isoformat()
    number = TextStyle(size_pt=7.5, bold=True, align="right")
    page.text(right, y + 3.2, f"page {page.number} of {page.of}", number)
    page.text(right, y + 6.2, f"Printed for {date}", TextStyle(size_pt=6.5, colour=GREY, align="right"))
    note = result.plan.ranch.note or ""
    room = right - left - 42.0
    ranch = fit(result.plan.ranch.name, room, _FOOT)
    below = page.lines(left, y + 0.7, ranch)
    if note:
        page.lines(left, below, fit(note, room, TextStyle(size_pt=6.5, bold=True), lines=2))


def draw_plain_head(page: Page, box: Box, left: str, right: str) -> float:
    """A one-line head; the answer is the y where the body starts."""
    big = fit(left, box.width * 0.55, TextStyle(size_pt=14.0, bold=True))
    page.lines(box.x, box.y, big)
    small = fit(right, box.width * 0.42, TextStyle(size_pt=8.0, align="right"), lines=2)
    page.lines(box.right, box.y, small)
    y = box.y + 7.4
    page.line((box.x, box.right), (y, y), LineLook(width_pt=1.2))
    return y + 2.0
