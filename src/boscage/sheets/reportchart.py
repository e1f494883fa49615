"""Animals caught and sets out, by night; by week or month where there are too many nights."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from boscage.model.report import NightLine, counted
from boscage.sheets.flow import Block
from boscage.sheets.frame import round_step
from boscage.sheets.page import Box, Page
from boscage.sheets.style import FAINT, GREY, INK, AreaLook, LineLook, TextStyle

CAUGHT_MM, OUT_MM, LABEL_MM, AXIS_MM = 26.0, 20.0, 16.0, 9.0
HEIGHT_MM = CAUGHT_MM + OUT_MM + AXIS_MM + 7.0
STATES = (("prebait", "#e2e2e2"), ("open", "#9c9c9c"), ("armed", "#262626"))
_MOST_NIGHTS, _MOST_WEEKS = 130, 130
_TEXT = TextStyle(size_pt=7.0)
_TICK = TextStyle(size_pt=6.5, colour=GREY, align="right")
_DAY = TextStyle(size_pt=6.5, colour=GREY, align="center")
_NUMBER = TextStyle(size_pt=6.5, bold=True, align="center")
_LEAST_LABEL_MM = 15.0


@dataclass(frozen=True, kw_only=True)
class Bin:
    """Some nights in a row: first night, set-nights in each state, animals."""

    begin: dt.date
    prebait: int
    open: int
    armed: int
    animals: int


def bins_of(nights: Sequence[NightLine]) -> tuple[str, list[Bin]]:
    """`night`, `week` or `month`, and the nights put together so."""
    first: tuple[str, Callable[[dt.date], dt.date]] = ("night", lambda d: d)
    if len(nights) > 7 * _MOST_WEEKS:
        first = ("month", lambda d: d.replace(day=1))
    elif len(nights) > _MOST_NIGHTS:
        first = ("week", lambda d: d - dt.timedelta(days=d.weekday()))
    word, start = first
    held: dict[dt.date, list[NightLine]] = {}
    for line in nights:
        held.setdefault(start(line.night), []).append(line)
    return word, [
        Bin(begin=begin, prebait=sum(n.prebait for n in part), open=sum(n.open for n in part),
            armed=sum(n.armed for n in part), animals=sum(n.animals for n in part))
        for begin, part in held.items()
    ]  # fmt: skip


def chart_block(nights: Sequence[NightLine], width: float) -> Block:
    """The chart as one block of a text."""
    word, bins = bins_of(nights)

    def draw(page: Page, x: float, y: float) -> None:
        plot = Box(x + LABEL_MM, y + 4.5, width - LABEL_MM - 2.0, CAUGHT_MM)
        low = Box(plot.x, plot.bottom + 6.0, plot.width, OUT_MM)
        per = "night" if word == "night" else word
        page.text(x, y + 2.6, f"Animals caught, by {per}", TextStyle(size_pt=7.5, bold=True))
        page.text(x, low.y - 1.6, "Sets out" if word == "night" else f"Set-nights, by {per}",
                  TextStyle(size_pt=7.5, bold=True))  # fmt: skip
        _caught(page, plot, bins)
        _out(page, low, bins)
        _days(page, low, bins)
        _legend(page, plot.x + 40.0, low.y - 4.0)

    return Block(height_mm=HEIGHT_MM, draw=draw)


def top_of(most: int) -> tuple[int, int]:
    """Top of an axis and its step, whole numbers.

    >>> top_of(12), top_of(1), top_of(0), top_of(87)
    ((15, 5), (2, 1), (1, 1), (100, 50))
    """
    step = max(1, round(round_step(max(most, 1) / 3.0)))
    return max(step, math.ceil(1.1 * most / step) * step), step


def _frame(page: Page, box: Box, most: int) -> int:
    """Axis, rules and figures of one plot; the answer is its top."""
    top, step = top_of(most)
    for tick in range(0, top + 1, step):
        y = box.bottom - tick / top * box.height
        page.line((box.x, box.right), (y, y), LineLook(colour=GREY if tick == 0 else FAINT, width_pt=0.5))
        page.text(box.x - 1.2, y + 0.9, f"{tick:,}", _TICK)
    return top


def _caught(page: Page, box: Box, bins: Sequence[Bin]) -> None:
    top = _frame(page, box, max((b.animals for b in bins), default=0))
    wide = box.width / max(len(bins), 1)
    bar = min(max(0.7 * wide, 0.5), 6.0)
    taken = -math.inf
    for k, one in enumerate(bins):
        if not one.animals:
            continue
        high, middle = one.animals / top * box.height, box.x + (k + 0.5) * wide
        page.area(Box(middle - bar / 2.0, box.bottom - high, bar, high), AreaLook(fill=INK))
        if middle - taken > 5.0:
            page.text(middle, box.bottom - high - 0.8, f"{one.animals:,}", _NUMBER)
            taken = middle


def _out(page: Page, box: Box, bins: Sequence[Bin]) -> None:
    """Stacked bars: armed lowest, then open, then bait alone."""
    top = _frame(page, box, max((b.prebait + b.open + b.armed for b in bins), default=0))
    wide = box.width / max(len(bins), 1)
    bar = min(wide, 6.0)
    for k, one in enumerate(bins):
        y, left = box.bottom, box.x + (k + 0.5) * wide - bar / 2.0
        for state, fill in reversed(STATES):
            high = getattr(one, state) / top * box.height
            if high > 0.0:
                y -= high
                page.area(Box(left, y, bar, high), AreaLook(fill=fill))


def _days(page: Page, box: Box, bins: Sequence[Bin]) -> None:
    """Dates under the lower plot, as many as have room."""
    wide = box.width / max(len(bins), 1)
    every = max(1, math.ceil(_LEAST_LABEL_MM / wide))
    for k in range(0, len(bins), every):
        x = box.x + (k + 0.5) * wide
        page.line((x, x), (box.bottom, box.bottom + 1.0), LineLook(colour=GREY, width_pt=0.5))
        if k == 0 or x < box.right - 4.0:
            page.text(x, box.bottom + 3.8, bins[k].begin.isoformat(), _DAY)


def _legend(page: Page, x: float, y: float) -> None:
    for state, fill in STATES:
        words = {"prebait": "bait alone", "open": "net open", "armed": "armed"}[state]
        page.area(Box(x, y, 4.0, 2.6), AreaLook(fill=fill, outline=LineLook(width_pt=0.4)))
        page.text(x + 5.2, y + 2.2, words, _TEXT)
        x += 26.0


def chart_words(nights: Sequence[NightLine]) -> str:
    """What the chart counts."""
    word, bins = bins_of(nights)
    if word == "night":
        return f"{counted(len(nights), 'night')}, each named by its evening date."
    return f"{counted(len(nights), 'night')} in {counted(len(bins), word)}, each named by its first day."
