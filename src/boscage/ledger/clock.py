"""When armed sets must be looked at, which looks came late, which nights nobody reported."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from boscage.model.ledger import ATTENDED, CHANGES, Book, LogRow, Stay
from boscage.model.ledger_clock import CheckOptions, ClockReport, DueCheck, DueState, Gap


def check_clock(
    book: Book, options: CheckOptions, now: dt.datetime, zone: dt.tzinfo | None = None
) -> ClockReport:  # fmt: skip
    """Hold the armed sets of a log against the rule for checks.

    A look is a check, a capture or a non-target, and arming itself. A row without a clock time may be anywhere from
    noon of its evening date to noon of the next day: what is due is counted from the earliest, and a gap is kept or not
    only where the times leave no doubt.

    Args:
        book: The log.
        options: The rule.
        now: In the ranch's own time, without a zone.
        zone: The ranch's time zone, so that hours are counted through where clocks change; None where they do not.
    """
    armed = [s for s in book.stays if s.state == "armed"]
    rows = _Rows(book)
    looks = [_looks(s, rows.of(s)) for s in armed]
    hours = _Hours(limit=options.hours, zone=zone)
    due = [_due(s, seen[-1], hours, now) for s, seen in zip(armed, looks, strict=True) if s.is_lasting]
    gaps = [_gap(a, b, hours) for seen in looks for a, b in pairwise(seen)]
    unchecked = [(s.site, n) for s in armed for n in _without(s, rows.of(s))]
    return ClockReport(
        now=now, due=tuple(sorted(due, key=lambda d: (d.due_latest, d.due, d.site))), gaps=tuple(gaps),
        unchecked=tuple(unchecked), armed_nights=book.nights("armed"), intervals=len(gaps),
        intervals_unknown=sum(g.kept is None for g in gaps), notes=_notes(book, options, gaps),
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class _Hours:
    """Hours as they pass, also through a night in which clocks change.

    Attributes:
        limit: Most hours from look to look.
        zone: Of the moments, or None.
    """

    limit: float
    zone: dt.tzinfo | None

    def due(self, moment: dt.datetime) -> dt.datetime:
        """The moment by the clock when the limit has passed."""
        later = dt.timedelta(hours=self.limit)
        if self.zone is None:
            return moment + later
        passed = moment.replace(tzinfo=self.zone).astimezone(dt.UTC) + later
        return passed.astimezone(self.zone).replace(tzinfo=None)

    def between(self, first: dt.datetime, second: dt.datetime) -> float:
        """Hours from one moment to another."""
        if self.zone is not None:
            first, second = (m.replace(tzinfo=self.zone).astimezone(dt.UTC) for m in (first, second))
        return (second - first).total_seconds() / 3600.0


class _Rows:
    """Rows by set and night."""

    def __init__(self, book: Book) -> None:
        self.rows: dict[str, list[LogRow]] = {}
        for row in book.rows:
            self.rows.setdefault(row.site, []).append(row)
        self.nights = {site: [r.night for r in rows] for site, rows in self.rows.items()}

    def of(self, stay: Stay) -> list[LogRow]:
        """Rows of the set from the first night of a stay to the night that ends it."""
        rows, nights = self.rows.get(stay.site, []), self.nights.get(stay.site, [])
        return rows[bisect_left(nights, stay.first) : bisect_right(nights, stay.until)]


def _looks(stay: Stay, rows: Sequence[LogRow]) -> list[LogRow]:
    """Rows of a stay in which somebody was at the set, by moment, and the row that ends it."""
    held = [r for r in rows if r.event in (*ATTENDED, "armed") and (stay.is_lasting or r.night < stay.until)]
    if not stay.is_lasting:
        held += [r for r in rows if r.event in CHANGES and r.event != "armed" and r.night == stay.until][:1]
    return sorted(held, key=lambda r: (r.night, r.row != stay.rows[0], r.earliest, r.row))


def _due(stay: Stay, last: LogRow, hours: _Hours, now: dt.datetime) -> DueCheck:
    due, latest = hours.due(last.earliest), hours.due(last.latest)
    state: DueState = "upcoming" if now <= due else "perhaps overdue" if now <= latest else "overdue"
    return DueCheck(
        site=stay.site, last_row=last.row, last_night=last.night, due=due, due_latest=latest, state=state
    )  # fmt: skip


def _gap(first: LogRow, second: LogRow, hours: _Hours) -> Gap:
    """Hours between two looks, as few and as many as the times allow; never under nought."""
    least = max(0.0, hours.between(first.latest, second.earliest))
    most = max(0.0, hours.between(first.earliest, second.latest))
    kept = True if most <= hours.limit else False if least > hours.limit else None
    return Gap(
        site=first.site, from_row=first.row, to_row=second.row, least_hours=least, most_hours=most, kept=kept
    )  # fmt: skip


def _without(stay: Stay, rows: Sequence[LogRow]) -> list[dt.date]:
    """Nights of an armed stay that no check, capture or non-target is dated with."""
    seen = {r.night for r in rows if r.event in ATTENDED}
    nights = (stay.first + dt.timedelta(days=i) for i in range(stay.nights))
    return [n for n in nights if n not in seen]


def _notes(book: Book, options: CheckOptions, gaps: Sequence[Gap]) -> tuple[str, ...]:
    notes = []
    if options.method is None:
        notes.append("nobody has said whether the sets count as operator-fired or self-acting; ask the supervisor.")
    if options.attended:
        notes.append("the rule wants somebody there while a set is armed; the log does not show whether one was.")
    if options.is_stale(book.day):
        notes.append(f"the rule for checks was last looked up on {options.checked}; look it up again.")
    unknown = sum(g.kept is None for g in gaps)
    if unknown:
        notes.append(
            f"for {unknown} of {len(gaps)} intervals between looks the rows have no clock time that settles whether "
            f"{options.hours:g} hours were kept; write the time of every check."
        )
    return tuple(notes)
