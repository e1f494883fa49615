"""What each further net adds: a step for each number of nets, its bound where it is not proven, the next net marked."""

from __future__ import annotations

import math
from collections.abc import Sequence

from matplotlib.patches import Circle

from boscage.model.portfolio import CurvePoint
from boscage.sheets.evidencewords import tenths
from boscage.sheets.flow import Block
from boscage.sheets.page import Box, Page
from boscage.sheets.style import FAINT, GREY, INK, PAPER, LineLook, TextStyle
from boscage.sheets.typeset import text_width_mm

HEIGHT_MM = 62.0
STEP, BOUND = LineLook(width_pt=1.8), LineLook(width_pt=0.6, dashes=(3.0, 1.5))
_AXIS = TextStyle(size_pt=6.5, colour=GREY)
_LABEL = TextStyle(size_pt=6.5, bold=True, align="center")
_LEFT_MM, _TOP_MM, _BELOW_MM, _KEY_MM = 11.0, 5.0, 8.0, 9.0
_LEAST_LABEL_MM = 8.5


def curve_block(curve: Sequence[CurvePoint], nets: int, width: float) -> Block:
    """The chart as a block; `nets` is how many there are."""

    def draw(page: Page, x: float, y: float) -> None:
        draw_curve(page, Box(x, y, width, HEIGHT_MM), curve, nets)

    return Block(height_mm=HEIGHT_MM, draw=draw)


def draw_curve(page: Page, box: Box, curve: Sequence[CurvePoint], nets: int) -> None:
    """Share of use covered, 0 to 100 %, against nets."""
    plot = Box(box.x + _LEFT_MM, box.y + _TOP_MM, box.width - _LEFT_MM - 2.0,
               box.height - _TOP_MM - _BELOW_MM - _KEY_MM)  # fmt: skip
    for quarter in range(5):
        y = plot.bottom - plot.height * quarter / 4
        page.line((plot.x, plot.right), (y, y), LineLook(colour=FAINT, width_pt=0.5))
        page.text(plot.x - 1.0, y + 0.8, f"{25 * quarter} %", TextStyle(size_pt=6.5, colour=GREY, align="right"))
    page.line((plot.x, plot.x), (plot.y, plot.bottom), LineLook(width_pt=0.6))
    page.line((plot.x, plot.right), (plot.bottom, plot.bottom), LineLook(width_pt=0.6))
    page.text(box.x, box.y + 2.2, "share of the use covered", _AXIS)
    wide = plot.width / max(1, len(curve))
    numbered = _numbered(len(curve), nets - 1, wide)
    last = None
    for k, point in enumerate(curve):
        left = plot.x + k * wide
        high = _height(plot, point.share)
        if last is not None:
            page.line((left, left), (last, high), LineLook(width_pt=0.8))
        page.line((left, left + wide), (high, high), STEP)
        last = high
        if point.ending != "optimal":
            bound = _height(plot, point.bound)
            page.line((left, left + wide), (bound, bound), BOUND)
        if k in numbered:
            page.text(left + wide / 2, plot.bottom + 3.2, str(point.nets), _LABEL)
        if point.nets in (nets, nets + 1):
            _mark(page, left + wide / 2, high, is_next=point.nets > nets)
        if wide >= _LEAST_LABEL_MM:
            page.text(left + wide / 2, high + 4.0, f"{100 * point.share:.0f} %", _LABEL)
    page.text(plot.x + plot.width / 2, plot.bottom + 6.8, "nets", TextStyle(size_pt=6.5, colour=GREY, align="center"))
    _key(page, plot.x, plot.bottom + _BELOW_MM + 3.4, any(p.ending != "optimal" for p in curve), len(curve) > nets)


def _numbered(count: int, first: int, wide: float) -> set[int]:
    """Indexes of the steps that are numbered: that of the nets there are, and as many others as there is room for."""
    every = max(1, math.ceil(text_width_mm("000", _LABEL) / wide + 0.2))
    return {k for k in range(count) if (k - first) % every == 0}


def next_net_words(curve: Sequence[CurvePoint], nets: int) -> str:
    """What the next net would add."""
    point = next((p for p in curve if p.nets == nets + 1), None)
    if point is None:
        return "What one more net would add is not known."
    proof = "" if point.ending == "optimal" else f" (not proven; no choice covers more than {tenths(point.bound)})"
    return f"One more net ({point.nets}) would add {100 * point.added:.1f} points, to {tenths(point.share)}{proof}."


def _height(plot: Box, share: float) -> float:
    return plot.bottom - plot.height * min(max(share, 0.0), 1.0)


def _mark(page: Page, x: float, y: float, *, is_next: bool) -> None:
    fill = PAPER if is_next else INK
    page.figure.add_artist(Circle((x, y), 1.1, fc=fill, ec=INK, lw=1.0, transform=page.transform, zorder=4))


def _key(page: Page, x: float, y: float, has_bound: bool, has_next: bool) -> None:
    _mark(page, x + 1.2, y - 0.8, is_next=False)
    page.text(x + 3.4, y, "nets there are", _AXIS)
    if has_next:
        _mark(page, x + 27.0, y - 0.8, is_next=True)
        page.text(x + 29.2, y, "the next net", _AXIS)
    if has_bound:
        page.line((x, x + 5.0), (y + 2.9, y + 2.9), BOUND)
        page.text(x + 6.2, y + 3.7, "not proven: no choice covers more than this", _AXIS)
