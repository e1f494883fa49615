"""What every page of the rig sheets carries: who and when, the foot, the head of a further page."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from boscage.model.rig_plan import RigResult
from boscage.sheets.page import Box, Page
from boscage.sheets.rigwords import RigTape, day_words
from boscage.sheets.running import FOOT_MM, MARGIN_MM, body_box
from boscage.sheets.style import GREY, AreaLook, LineLook, TextStyle
from boscage.sheets.typeset import fit

CARD_MM = (17.5, 19.0)
_FOOT = TextStyle(size_pt=6.5, colour=GREY)
_CARD = TextStyle(size_pt=18.0, bold=True, align="center")


@dataclass(frozen=True, kw_only=True)
class RigJob:
    """One result on its way to paper."""

    result: RigResult
    date: dt.date | None

    @property
    def tape(self) -> RigTape:
        """Units of the figures."""
        return RigTape(self.result.units)

    @property
    def day(self) -> str:
        """The date that the pages carry."""
        return day_words(self.result, self.date)

    def body(self) -> Box:
        """Room on a page between margins and above the foot."""
        blank = Page(self.result.paper)
        return body_box(blank.width_mm, blank.height_mm)


def draw_rig_foot(page: Page, job: RigJob) -> None:
    """Note, ranch, date, page n of N."""
    y = page.height_mm - FOOT_MM - 6.6
    left, right = MARGIN_MM, page.width_mm - MARGIN_MM
    page.line((left, right), (y, y), LineLook(width_pt=0.5))
    page.text(right, y + 3.2, f"page {page.number} of {page.of}", TextStyle(size_pt=7.5, bold=True, align="right"))
    page.text(right, y + 6.2, f"Plan date: {job.day}", TextStyle(size_pt=6.5, colour=GREY, align="right"))
    room = right - left - 42.0
    who = ", ".join(t for t in (job.result.ranch, job.result.name) if t)
    below = page.lines(left, y + 0.7, fit(who, room, _FOOT))
    if job.result.note:
        page.lines(left, below, fit(job.result.note, room, TextStyle(size_pt=6.5, bold=True), lines=2))


def draw_cards(page: Page, right: float, y: float, cards: list[tuple[str, str, str]]) -> None:
    """Boxes with a label, a big figure and a word, ending at the right."""
    width, height = CARD_MM
    left = right + 2.0 - len(cards) * (width + 2.0)
    for k, (label, value, below) in enumerate(cards):
        card = Box(left + k * (width + 2.0), y, width, height)
        page.area(card, AreaLook(outline=LineLook(width_pt=0.9)))
        middle = card.x + width / 2
        small = fit(label, width - 1.0, TextStyle(size_pt=6.5, bold=True, colour=GREY, align="center"))
        page.text(middle, y + 3.6, small.lines[0], small.style)
        figure = fit(value, width - 2.0, _CARD)
        page.text(middle, y + 12.0, figure.lines[0], figure.style)
        words = fit(below, width - 1.0, TextStyle(size_pt=7.0, align="center"))
        page.text(middle, y + 16.8, words.lines[0], words.style)


def draw_name(page: Page, box: Box, job: RigJob) -> None:
    """The place's name as large as it may be, the ranch and the date under it."""
    name = fit(job.result.name, box.width, TextStyle(size_pt=34.0, bold=True), floor_pt=16.0)
    if name.cut:
        name = fit(job.result.name, box.width, TextStyle(size_pt=15.0, bold=True), lines=2, floor_pt=8.0)
    page.lines(box.x, box.y + max(0.0, (13.0 - name.height_mm) / 2), name)
    day = f"date {job.day}" if job.day[0].isalpha() else job.day
    line = fit(", ".join(t for t in (job.result.ranch, day) if t), box.width, TextStyle(size_pt=8.0), lines=2)
    page.lines(box.x, box.y + 14.0, line)
