"""A book set by set and night by night."""

from __future__ import annotations

import datetime as dt
import math
from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from boscage.ledger.book import MOVED_M
from boscage.model.ledger import STATES, Book, LogProblem, LogRow, Stay
from boscage.model.ledger_clock import ClockReport
from boscage.model.report import NightLine, Quality, SetLine

Place = tuple[float, float]


def set_lines(book: Book, clock: ClockReport, parcel_at: Callable[[float, float], str]) -> tuple[SetLine, ...]:
    """One line a set, in order of first appearance in the rows.

    Args:
        book: The log.
        clock: Its checks.
        parcel_at: Name of the parcel at a place.
    """
    rows: dict[str, list[LogRow]] = {}
    stays: dict[str, list[Stay]] = {}
    unchecked: dict[str, int] = {}
    for row in book.rows:
        rows.setdefault(row.site, []).append(row)
    for stay in book.stays:
        stays.setdefault(stay.site, []).append(stay)
    for site, _ in clock.unchecked:
        unchecked[site] = unchecked.get(site, 0) + 1
    return tuple(_line(site, held, stays.get(site, []), unchecked.get(site, 0), parcel_at)
                 for site, held in rows.items())  # fmt: skip


def _line(
    site: str, rows: Sequence[LogRow], stays: Sequence[Stay], unchecked: int, parcel_at: Callable[[float, float], str]
) -> SetLine:  # fmt: skip
    nights = {state: sum(s.nights for s in stays if s.state == state) for state in STATES}
    hours = [r.hours for r in rows if not math.isnan(r.hours)]
    caught = [r for r in rows if r.event == "capture"]
    places = _places([(s.x_m, s.y_m) for s in stays])
    x, y = places[-1] if places else (math.nan, math.nan)
    return SetLine(
        site=site, first=rows[0].night, last=rows[-1].night, prebait=nights["prebait"], open=nights["open"],
        armed=nights["armed"], checks=sum(r.event == "check" for r in rows),
        events=len({r.night for r in caught}), animals=sum(r.animals for r in caught),
        nontargets=sum(r.event == "nontarget" for r in rows), hours=math.fsum(hours) if hours else math.nan,
        unchecked=unchecked, state=_state(rows, stays), places=len(places), x_m=x, y_m=y,
        parcel=parcel_at(x, y) if places else "",
    )  # fmt: skip


def _places(given: Iterable[Place]) -> list[Place]:
    """Places one after another that are farther apart than a few steps."""
    out: list[Place] = []
    for place in given:
        if math.isnan(place[0]) or (out and math.dist(out[-1], place) <= MOVED_M):
            continue
        out.append(place)
    return out


def _state(rows: Sequence[LogRow], stays: Sequence[Stay]) -> str:
    if stays and stays[-1].is_lasting:
        return f"{stays[-1].state} since {stays[-1].first}"
    return "pulled" if any(r.event == "pulled" for r in rows) else ""


def night_lines(book: Book) -> tuple[NightLine, ...]:
    """Every night from the first row to the last row or standing night, all sets together."""
    if not book.rows:
        return ()
    begin = book.rows[0].night
    last_stay = max((s.until for s in book.stays if s.nights), default=begin) - dt.timedelta(days=1)
    count = (max(book.rows[-1].night, last_stay) - begin).days + 1
    turns = {state: [0] * (count + 1) for state in STATES}
    for stay in book.stays:
        turns[stay.state][(stay.first - begin).days] += 1
        turns[stay.state][(stay.until - begin).days] -= 1
    checks, animals = [0] * count, [0] * count
    events: list[set[str]] = [set() for _ in range(count)]
    for row in book.rows:
        k = (row.night - begin).days
        checks[k] += row.event == "check"
        if row.event == "capture":
            animals[k] += row.animals
            events[k].add(row.site)
    out, now = [], dict.fromkeys(STATES, 0)
    for k in range(count):
        now = {state: now[state] + turns[state][k] for state in STATES}
        line = NightLine(night=begin + dt.timedelta(days=k), checks=checks[k], events=len(events[k]),
                         animals=animals[k], **now)  # fmt: skip
        out.append(line)
    return tuple(out)


def judge_quality(book: Book, clock: ClockReport, rows: int, unknown_groups: int) -> Quality:
    """What the figures rest on; `rows` counts those that were set aside too."""
    aside = {p.row for p in book.problems if not p.counted}
    return Quality(
        rows=rows, aside=len(aside), animals_aside=sum(p.animals for p in book.problems if not p.counted),
        listed=len({p.row for p in book.problems}), without_hours=sum(math.isnan(r.hours) for r in book.rows),
        gaps=clock.intervals, gaps_unknown=clock.intervals_unknown,
        late=sum(g.kept is False for g in clock.gaps), unchecked=len(clock.unchecked), unplaced=len(book.unplaced),
        groups_unknown=unknown_groups,
    )  # fmt: skip


def part_of(book: Book, every: Sequence[LogRow], holds: Callable[[float, float], bool]) -> tuple[Book, int]:
    """The rows and stays of sets where they stood on some land, and how many problems of rows are of no such set.

    A row belongs to the place at which its set stood that night: that of the last stay begun by then, else of the
    first.

    Args:
        book: The whole log.
        every: Rows as read, those that the book set aside among them.
        holds: Whether a place lies on the land.
    """
    stays: dict[str, list[tuple[Stay, bool]]] = {}
    for stay in book.stays:
        inside = not math.isnan(stay.x_m) and holds(stay.x_m, stay.y_m)
        stays.setdefault(stay.site, []).append((stay, inside))

    def is_of(site: str, night: dt.date) -> bool:
        held = stays.get(site)
        return bool(held) and held[max(0, bisect_right([s.first for s, _ in held], night) - 1)][1]

    rows = {r.row for r in every if is_of(r.site, r.night)}
    problems: tuple[LogProblem, ...] = tuple(p for p in book.problems if p.row in rows)
    part = replace(
        book, rows=tuple(r for r in book.rows if r.row in rows), problems=problems, unplaced=(),
        stays=tuple(s for held in stays.values() for s, inside in held if inside),
    )  # fmt: skip
    return part, len(book.problems) - len(problems)
