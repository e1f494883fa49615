"""Effort, captures and rates of a log."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Sequence

from boscage.errors import InputError
from boscage.model.ledger import ANIMAL_CLASSES, NONE, Book, LogRow, moment_of
from boscage.model.ledger_effort import CaptureNight, Captures, Effort, Rate, Rates
from boscage.model.report import counted

NO_INJURY = frozenset({"", "none", "no", "0", "nil"})


def poisson_rate(events: int, exposure: float, level: float = 0.95) -> Rate:
    """A rate with its exact central interval.

    low = chi2(a/2, 2 n) / 2 T and high = chi2(1 - a/2, 2 n + 2) / 2 T, with a = 1 - level, n events in exposure T; low
    is 0 for no event; chi2(p, 2 n) / 2 is the inverse of the regularised lower incomplete gamma function of n. Without
    exposure there is no rate: NaN.

    Raises:
        InputError: A number is negative, or the level is not between 0 and 1.

    References:
        Garwood (1936), Biometrika 28:437-442.
    """
    from scipy.special import gammaincinv

    if events < 0 or exposure < 0 or not 0.0 < level < 1.0:
        raise InputError(
            f"{events} events, exposure {exposure:g}, level {level:g}", expected="none negative, the level within 0..1"
        )
    if exposure == 0:
        return Rate(events=events, exposure=0.0, value=math.nan, low=math.nan, high=math.nan, level=level)
    tail = (1.0 - level) / 2.0
    low = float(gammaincinv(events, tail)) / exposure if events else 0.0
    high = float(gammaincinv(events + 1, 1.0 - tail)) / exposure
    return Rate(events=events, exposure=exposure, value=events / exposure, low=low, high=high, level=level)


def corrected_per_hundred(caught: int, trap_nights: float, sprung: int) -> float:
    """Animals per 100 trap-nights where each sprung trap counts as half a night: 100 A / (TU - S / 2).

    NaN where nothing is left of the effort.

    References:
        Nelson and Clark (1973), J. Mammal. 54:295-298.

    >>> round(corrected_per_hundred(6, 40, 8), 3)
    16.667
    """
    left = trap_nights - sprung / 2.0
    return 100.0 * caught / left if left > 0 else math.nan


def sum_effort(book: Book, camera_nights: float = math.nan) -> Effort:
    """Nights of each state apart, checks, hours by task, bait. What no row states is NaN, not 0."""
    hours: dict[str, list[float]] = {}
    for row in book.rows:
        if not math.isnan(row.hours):
            hours.setdefault(row.task or row.event, []).append(row.hours)
    bait = [r.bait_kg for r in book.rows if not math.isnan(r.bait_kg)]
    return Effort(
        sites=len(book.sites), armed_nights=book.nights("armed"), open_nights=book.nights("open"),
        prebait_nights=book.nights("prebait"), camera_nights=camera_nights, checks=len(book.of("check")),
        hours=math.fsum(h for held in hours.values() for h in held) if hours else math.nan,
        rows_without_hours=sum(math.isnan(r.hours) for r in book.rows),
        hours_by_task={name: math.fsum(held) for name, held in sorted(hours.items())},
        bait_kg=math.fsum(bait) if bait else math.nan, rows_with_bait=len(bait),
    )  # fmt: skip


def sum_captures(book: Book) -> Captures:
    """Animals by class and by night, non-targets, injuries, fates, and animals in rows set aside."""
    rows = book.of("capture")
    totals = _add(r.counts for r in rows)
    fates: dict[str, int] = {}
    for row in rows:
        fates[row.fate.lower()] = fates.get(row.fate.lower(), 0) + row.animals
    others: dict[str, int] = {}
    for row in book.of("nontarget"):
        others[row.species.lower()] = others.get(row.species.lower(), 0) + 1
    return Captures(
        by_class={**dict(zip(ANIMAL_CLASSES, totals, strict=True)), "total": sum(totals)}, nights=_nights(book, rows),
        nontargets=dict(sorted(others.items())), injuries=_injuries(rows), fates=dict(sorted(fates.items())),
        set_aside=sum(p.animals for p in book.problems if not p.counted),
    )  # fmt: skip


def find_rates(effort: Effort, captures: Captures, level: float = 0.95) -> Rates:
    """Animals and capture nights per armed night, hours per animal."""
    notes = []
    if not effort.armed_nights:
        notes.append("no armed night: there is no rate.")
    elif captures.total > len(captures.nights):
        notes.append(
            "animals came in groups, so the interval of animals per armed night is too narrow; that of capture nights "
            "per armed night takes each capture once."
        )
    if math.isnan(effort.hours):
        notes.append("no row states hours.")
    elif effort.rows_without_hours:
        rows = counted(effort.rows_without_hours, "row")
        notes.append(f"{rows} without hours; the hours are at least what is written.")
    has_both = captures.total and not math.isnan(effort.hours)
    return Rates(
        per_armed_night=poisson_rate(captures.total, effort.armed_nights, level),
        events_per_armed_night=poisson_rate(len(captures.nights), effort.armed_nights, level),
        hours_per_capture=effort.hours / captures.total if has_both else math.nan, notes=tuple(notes),
    )  # fmt: skip


def _add(counts: Iterable[Sequence[int]]) -> tuple[int, ...]:
    return tuple(sum(column) for column in zip(NONE, *counts, strict=True))


def _injuries(rows: Sequence[LogRow]) -> dict[str, int] | None:
    """Animals in rows that name an injury; a row that says none was looked at."""
    if not any(r.injury for r in rows):
        return None
    totals = _add(r.counts for r in rows if r.injury.lower() not in NO_INJURY)
    return dict(zip(ANIMAL_CLASSES, totals, strict=True))


def _nights(book: Book, rows: Sequence[LogRow]) -> tuple[CaptureNight, ...]:
    held: dict[tuple[str, dt.date], list[LogRow]] = {}
    for row in rows:
        held.setdefault((row.site, row.night), []).append(row)
    bait = _bait_starts(book)
    return tuple(
        CaptureNight(
            site=site, night=night, groups=tuple(dict.fromkeys(r.group for r in found if r.group)),
            counts=_add(r.counts for r in found), minutes_to_approach=_longest(found, "approached"),
            minutes_to_finish=_longest(found, "finished"), days_from_bait=_days(bait.get(site, ()), night),
        )
        for (site, night), found in sorted(held.items(), key=lambda item: (item[0][1], item[0][0]))
    )  # fmt: skip


def _longest(rows: Sequence[LogRow], until: str) -> float:
    """Minutes from the net down to another moment of the same night, the longest; NaN where neither is written."""
    found = []
    for row in rows:
        end: dt.time | None = getattr(row, until)
        if row.closed is None or end is None:
            continue
        apart = moment_of(row.night, end) - moment_of(row.night, row.closed)
        minutes = apart.total_seconds() / 60.0
        found.append(minutes if minutes >= 0.0 else minutes + 1440.0)
    return max(found, default=math.nan)


def _bait_starts(book: Book) -> dict[str, list[dt.date]]:
    """First night of bait of each stretch at a set: since it was set up, last pulled, or last caught."""
    starts: dict[str, list[dt.date]] = {}
    begun: dict[str, bool] = {}
    for row in book.rows:
        if row.event == "prebait" and not begun.get(row.site):
            starts.setdefault(row.site, []).append(row.night)
            begun[row.site] = True
        elif row.event in ("pulled", "capture"):
            begun[row.site] = False
    return starts


def _days(starts: Sequence[dt.date], night: dt.date) -> float:
    """Days from the last start of bait on a night before; NaN for none."""
    before = [s for s in starts if s < night]
    return float((night - before[-1]).days) if before else math.nan
