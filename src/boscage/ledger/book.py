"""The book: rows held against one another, and the nights that each set stood in each state."""

from __future__ import annotations

import datetime as dt
import math
from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from boscage.model.ledger import CHANGES, STATES, Book, Log, LogProblem, LogRow, Stay

MOVED_M = 50.0
"""Places of one set farther apart than this are listed. Common practice, no source."""
ASIDE = "the row is not counted until it is mended."


def make_book(log: Log, day: dt.date, places: Mapping[str, tuple[float, float]] | None = None) -> Book:
    """Hold the rows of a log against one another.

    A state lasts from its night up to the night of the next state, or of `pulled`, at the same set; one that still
    lasts is counted up to the day, whose own night is still to come. Of several states on one night the last row holds.

    Set aside and listed: a capture at a set that was not armed, and a check before the set existed. Listed but counted:
    a capture on the very night whose rows also end the armed state; a non-target at a set that was not armed; a set
    that is pulled without having been up; a set with two places.

    Args:
        log: As read.
        day: The plan's date.
        places: East and north of sets that the log itself gives no place.
    """
    rows = sorted(log.rows, key=lambda r: (r.night, r.row))
    by_site: dict[str, list[LogRow]] = {}
    for row in sorted(log.rows, key=lambda r: r.row):
        by_site.setdefault(row.site, [])
    for row in rows:
        by_site[row.site].append(row)
    work = _Work(day=day, places=places or {}, problems=list(log.problems))
    stays = [stay for site, held in by_site.items() for stay in work.site(site, held)]
    aside = {p.row for p in work.problems if not p.counted}
    return Book(
        day=day, rows=tuple(r for r in rows if r.row not in aside), stays=tuple(stays),
        problems=tuple(sorted(work.problems, key=lambda p: p.row)), unplaced=tuple(work.unplaced), columns=log.columns,
    )  # fmt: skip


@dataclass(kw_only=True)
class _Work:
    """What has been found so far."""

    day: dt.date
    places: Mapping[str, tuple[float, float]]
    problems: list[LogProblem]
    unplaced: list[str] = field(default_factory=list)

    def site(self, site: str, rows: Sequence[LogRow]) -> list[Stay]:
        """Stays of one set; its rows come by night."""
        changes = [r for r in rows if r.event in CHANGES]
        stays = self._placed(site, _stays(changes, self.day), rows)
        nights = _States(changes)
        for row in rows:
            if row.event == "capture":
                self._capture(row, nights)
            elif row.event == "check" and nights.at(row.night) is None:
                self._say(row, f"a check at {site}, which no row has set up by then; add its first state", aside=True)
            elif row.event == "nontarget" and nights.at(row.night) != "armed" and not nights.ended(row.night):
                said = nights.words(row.night)
                self._say(row, f"a non-target at {site}, which was not armed ({said}); check the date and the set")
        up = None
        for row in changes:
            if row.event == "pulled" and up in (None, "pulled"):
                self._say(
                    row, f"{site} is pulled, and no row has set it up before; add its first state, or take it out"
                )
            up = row.event
        return stays

    def _capture(self, row: LogRow, nights: _States) -> None:
        if nights.at(row.night) == "armed":
            return
        ended = nights.ended(row.night)
        if ended is not None:
            text = (
                f"a capture on the night of {row.night}, whose row {ended.row} ({ended.event}) already ends the armed "
                f"nights of {row.site}; it counts and its night does not; date the {ended.event} with the next evening"
            )
            self._say(row, text)
            return
        text = (
            f"a capture at {row.site}, which was not armed on the night of {row.night} ({nights.words(row.night)}); "
            "correct the date or the set, or add the armed row that is missing"
        )
        self._say(row, text, aside=True)

    def _say(self, row: LogRow, text: str, *, aside: bool = False) -> None:
        text = f"{text}; {ASIDE}" if aside else f"{text}."
        held = row.animals if aside and row.event == "capture" else 0
        self.problems.append(LogProblem(row=row.row, text=text, counted=not aside, animals=held))

    def _placed(self, site: str, stays: Sequence[Stay], rows: Sequence[LogRow]) -> list[Stay]:
        """Stays with the place written last by their first night, else the first one written, else the one given."""
        held = [r for r in rows if r.has_place]
        for first, second in pairwise(held):
            if math.dist((first.x_m, first.y_m), (second.x_m, second.y_m)) > MOVED_M:
                away = math.dist((first.x_m, first.y_m), (second.x_m, second.y_m))
                text = (
                    f"{site} stands {away:.0f} m from its place in row {first.row}; each stretch of nights keeps the "
                    "place written last before it; give a set that moved a new name"
                )
                self._say(second, text)
        out, nights = [], [r.night for r in held]
        for stay in stays:
            own = held[max(0, bisect_right(nights, stay.first) - 1)] if held else None
            place = self.places.get(site) if own is None else (own.x_m, own.y_m)
            if place is None and stay.state == "armed" and site not in self.unplaced:
                self.unplaced.append(site)
            out.append(stay if place is None else replace(stay, x_m=place[0], y_m=place[1]))
        return out


class _States:
    """The state of one set by night."""

    def __init__(self, changes: Sequence[LogRow]) -> None:
        self.changes = changes
        self.by_night: dict[dt.date, list[LogRow]] = {}
        for row in changes:
            self.by_night.setdefault(row.night, []).append(row)
        self.nights = sorted(self.by_night)

    def _last(self, night: dt.date, *, before: bool = False) -> LogRow | None:
        where = (bisect_left if before else bisect_right)(self.nights, night)
        return self.by_night[self.nights[where - 1]][-1] if where else None

    def at(self, night: dt.date) -> str | None:
        """The state that holds on a night: one of `CHANGES`, None before the first."""
        row = self._last(night)
        return None if row is None else row.event

    def ended(self, night: dt.date) -> LogRow | None:
        """The row that ends the armed state on this very night, or None."""
        rows = self.by_night.get(night)
        if not rows or rows[-1].event == "armed":
            return None
        before = self._last(night, before=True)
        was = any(r.event == "armed" for r in rows) or (before is not None and before.event == "armed")
        return rows[-1] if was else None

    def words(self, night: dt.date) -> str:
        """The state in words."""
        row = self._last(night)
        if row is None:
            return "no row has set it up by then"
        return f"{row.event} since {row.night}, row {row.row}"


def _stays(changes: Sequence[LogRow], day: dt.date) -> list[Stay]:
    """Stays from the changes of one set; neighbours in the same state are one; none without a night."""
    out: list[Stay] = []
    for i, row in enumerate(changes):
        if row.event not in STATES:
            continue
        is_lasting = i + 1 == len(changes)
        until = max(day, row.night) if is_lasting else changes[i + 1].night
        if out and out[-1].state == row.event and out[-1].until == row.night:
            out[-1] = replace(out[-1], until=until, rows=(*out[-1].rows, row.row), is_lasting=is_lasting)
        elif until > row.night or is_lasting:
            out.append(
                Stay(
                    site=row.site, state=row.event, first=row.night, until=until, rows=(row.row,), is_lasting=is_lasting
                )
            )
    return out
