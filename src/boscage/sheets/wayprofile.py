"""The profile of the way in: ground height over distance, legs told apart as on the map."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import permutations, product

import numpy as np
from matplotlib.patches import Polygon
from numpy.typing import NDArray

from boscage.model.journey import CHANGE_WORDS, Leg
from boscage.sheets.flow import heading
from boscage.sheets.frame import round_step
from boscage.sheets.page import Box, Page
from boscage.sheets.style import FAINT, GREY, LINES, LineLook, TextStyle
from boscage.sheets.typeset import Fitted
from boscage.sheets.waytable import LEAST_PT, NOTE
from boscage.sheets.waytext import minutes, rise
from boscage.values import Printer

NO_TERRAIN = "No terrain data lie under the way in: its ups and downs are not known."
_LEFT_MM, _RIGHT_MM = 13.0, 4.0
_LABELS_MM, _BELOW_MM = 7.2, 11.0
_THIN = 0.62
_MOST_TIMES = 40.0
_FOOT, _MILE = 0.3048, 1609.344
_TICK = TextStyle(size_pt=LEAST_PT)


@dataclass(frozen=True, kw_only=True)
class Axis:
    """A scale in round ticks: metres in one unit, the unit, the ticks in that unit."""

    unit_m: float
    unit: str
    ticks: tuple[float, ...]

    def words(self, tick: float) -> str:
        """A tick's figure; the last one has the unit."""
        return f"{tick:,g} {self.unit}" if tick == self.ticks[-1] else f"{tick:,g}"


@dataclass(frozen=True, kw_only=True)
class Profile:
    """A profile ready to be drawn.

    Attributes:
        runs: Kind of leg with (N, 2) distance and height in metres, without gaps.
        changes: Distance in metres of each change-over, and its words.
        length_m: Of the whole way.
        gap_m: Length without terrain data.
        low_m, high_m: Range of the height axis.
    """

    runs: tuple[tuple[str, NDArray[np.float64]], ...]
    changes: tuple[tuple[float, str], ...]
    length_m: float
    gap_m: float
    low_m: float
    high_m: float
    across: Axis
    up: Axis

    def times(self, width_mm: float, height_mm: float) -> float:
        """How many times as large heights are drawn as distances."""
        return (height_mm / (self.high_m - self.low_m)) / (width_mm / self.length_m)


def plan_profile(legs: Sequence[Leg], units: str, width_mm: float, height_mm: float) -> Profile | None:
    """The profile for a plot of that size; None without terrain under the way."""
    runs: list[tuple[str, NDArray[np.float64]]] = []
    changes: list[tuple[float, str]] = []
    far = gap = 0.0
    for leg in legs:
        if far or changes or runs:
            changes.append((far, _change_words(leg)))
        step = np.hypot(*np.diff(leg.line[:, :2], axis=0).T)
        along = far + np.concatenate([[0.0], np.cumsum(step)])
        known = np.isfinite(leg.elevation_m)
        gap += float(step[~(known[1:] & known[:-1])].sum())
        runs += [(leg.kind, part) for part in _known_runs(along, leg.elevation_m, known)]
        far = float(along[-1])
    if not runs:
        return None
    heights = np.concatenate([part[:, 1] for _, part in runs])
    across = _axis(0.0, far, _across_unit(far, units), most=5, inside=True)
    span = far * height_mm / (width_mm * _MOST_TIMES)
    low, high = float(heights.min()), float(heights.max())
    more = max(0.0, span - (high - low)) / 2
    up = _axis(low - more, high + more, (_FOOT, "ft") if units == "us" else (1.0, "m"), most=4, inside=False)
    return Profile(
        runs=tuple(runs), changes=tuple(changes), length_m=far, gap_m=gap, low_m=up.ticks[0] * up.unit_m,
        high_m=up.ticks[-1] * up.unit_m, across=across, up=up,
    )  # fmt: skip


def _change_words(leg: Leg) -> str:
    to = CHANGE_WORDS[leg.kind]
    return f"{to}, {minutes(leg.change_min)}" if leg.change_min else to


def _known_runs(
    along: NDArray[np.float64], height: NDArray[np.float64], known: NDArray[np.bool_]
) -> list[NDArray[np.float64]]:
    """Stretches of at least two places in a row that have a height."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], known.astype(np.int8), [0]])))
    spans = zip(edges[::2], edges[1::2], strict=True)
    return [
        np.column_stack([along[a:b], height[a:b]]) for a, b in spans if b - a > 1 and along[b - 1] > along[a]
    ]  # fmt: skip


def _across_unit(length_m: float, units: str) -> tuple[float, str]:
    if units == "us":
        return (_FOOT, "ft") if length_m < 2640 * _FOOT else (_MILE, "mi")
    return (1.0, "m") if length_m < 1000.0 else (1000.0, "km")


def _axis(low_m: float, high_m: float, unit: tuple[float, str], *, most: int, inside: bool) -> Axis:
    """Round ticks inside a range, or round a range."""
    unit_m, name = unit
    low, high = low_m / unit_m, high_m / unit_m
    step = round_step((high - low) / most)
    first, last = (math.ceil, math.floor) if inside else (math.floor, math.ceil)
    from_k, to_k = first(low / step - 1e-9), last(high / step + 1e-9)
    if not inside:
        from_k, to_k = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return Axis(
        unit_m=unit_m, unit=name, ticks=tuple(round(k * step, 10) for k in range(from_k, max(to_k, from_k + 1) + 1))
    )


def plot_box(box: Box) -> Box:
    """The plot inside the room for heading, labels and ticks."""
    top = box.y + heading("x", box.width).height_mm + _LABELS_MM
    return Box(box.x + _LEFT_MM, top, box.width - _LEFT_MM - _RIGHT_MM, box.bottom - _BELOW_MM - top)


def draw_profile(page: Page, box: Box, profile: Profile, legs: Sequence[Leg], units: str) -> None:
    """Heading with climb and fall, axes, ground, change-overs, and a line on what was left out."""
    printer, plot = Printer(units), plot_box(box)
    heading("Profile of the way in", box.width).draw(page, box.x, box.y)
    up, down = (sum(v) for v in ([g.climb_m for g in legs], [g.descent_m for g in legs]))
    words = f"climb {rise(up, printer)}, fall {rise(down, printer)}"
    page.lines(box.right, box.y, Fitted(lines=(words,), style=TextStyle(bold=True, align="right")))

    def at(far_m: float, height_m: float) -> tuple[float, float]:
        share = (height_m - profile.low_m) / (profile.high_m - profile.low_m)
        return plot.x + far_m / profile.length_m * plot.width, plot.bottom - share * plot.height

    _draw_ticks(page, profile, plot)
    for kind, run in profile.runs:
        places = [at(float(d), float(h)) for d, h in run]
        under = [*places, (places[-1][0], plot.bottom), (places[0][0], plot.bottom)]
        page.figure.add_artist(Polygon(under, fc="#e6e6e6", lw=0, transform=page.transform))
        for look in LINES[f"way_{kind}"]:
            page.line(*zip(*places, strict=True), replace(look, width_pt=look.width_pt * _THIN))
    _draw_changes(page, profile, plot)
    page.lines(box.x, plot.bottom + 4.4, Fitted(lines=_notes(profile, plot, printer), style=NOTE))


def _notes(profile: Profile, plot: Box, printer: Printer) -> tuple[str, ...]:
    """Lines under the plot."""
    exaggeration = f"Heights drawn {_times(profile.times(plot.width, plot.height))} times as large as distances."
    if profile.gap_m <= 0.0:
        return (exaggeration,)
    return exaggeration, f"No terrain data along {printer.length(profile.gap_m)}: left out, also of climb, fall."


def _times(times: float) -> str:
    return f"{times:.1f}" if times < 9.95 else f"{times:.0f}"


def _draw_ticks(page: Page, profile: Profile, plot: Box) -> None:
    thin, grey = LineLook(colour=GREY, width_pt=0.6), LineLook(colour=FAINT, width_pt=0.5)
    for tick in profile.up.ticks:
        share = (tick * profile.up.unit_m - profile.low_m) / (profile.high_m - profile.low_m)
        y = plot.bottom - share * plot.height
        page.line((plot.x, plot.right), (y, y), grey)
        page.line((plot.x - 1.0, plot.x), (y, y), thin)
        page.text(plot.x - 1.6, y + 0.9, profile.up.words(tick), replace(_TICK, align="right"))
    for tick in profile.across.ticks:
        x = plot.x + tick * profile.across.unit_m / profile.length_m * plot.width
        page.line((x, x), (plot.bottom, plot.bottom + 1.0), thin)
        page.text(x, plot.bottom + 3.6, profile.across.words(tick), replace(_TICK, align="center"))
    page.line((plot.x, plot.x), (plot.y, plot.bottom), thin)
    page.line((plot.x, plot.right), (plot.bottom, plot.bottom), thin)


def _draw_changes(page: Page, profile: Profile, plot: Box) -> None:
    """A dashed line at each change-over with its words above the plot, each in a row of its own."""
    style = TextStyle(size_pt=LEAST_PT, bold=True)
    places = [plot.x + far / profile.length_m * plot.width for far, _ in profile.changes]
    wide = [Fitted(lines=(words,), style=style).width_mm for _, words in profile.changes]
    edges = (plot.x - _LEFT_MM, plot.right + _RIGHT_MM)
    for x, (left, row), (_, words) in zip(places, label_places(places, wide, edges), profile.changes, strict=True):
        y = plot.y - 0.8 - row * 3.2
        page.line((x, x), (y - 1.8, plot.bottom), LineLook(width_pt=0.8, dashes=(3.0, 2.0)))
        page.text(left, y, words, style)


def label_places(
    places: Sequence[float], wide: Sequence[float], edges: tuple[float, float], *, off_mm: float = 1.0
) -> list[tuple[float, int]]:
    """Left edge and row (0 the lowest) of a label beside the top of each upright line.

    Each label has a row of its own and stands right or left of its line, where it crosses no other line that reaches up
    to its row, and stays between the edges, if there is such an arrangement.
    """
    count = len(places)
    tried: list[tuple[int, list[tuple[float, int]]]] = []
    for rows in permutations(range(count - 1, -1, -1)):
        for sides in product((True, False), repeat=count):
            lefts = [x + off_mm if r else x - off_mm - w for x, w, r in zip(places, wide, sides, strict=True)]
            bad = 0
            for k in range(count):
                bad += lefts[k] < edges[0] or lefts[k] + wide[k] > edges[1]
                bad += sum(
                    rows[j] > rows[k] and lefts[k] - 0.5 < places[j] < lefts[k] + wide[k] + 0.5 for j in range(count)
                )
            tried.append((bad, list(zip(lefts, rows, strict=True))))
    return min(tried, key=lambda t: t[0])[1]
