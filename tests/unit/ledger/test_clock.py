"""The clock: due from the earliest moment that the log allows, late only where the times leave no doubt."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from zoneinfo import ZoneInfo

import pytest

from boscage.ledger.clock import check_clock
from boscage.model.ledger import Book
from boscage.model.ledger_clock import CheckOptions

RULE = CheckOptions()
HEAD = "date,site,event,time\n"


def at(day: int, hour: int = 12, minute: int = 0) -> dt.datetime:
    return dt.datetime(2026, 11, day, hour, minute)


def test_due_from_the_last_look_with_a_time(book_of: Callable[..., Book]) -> None:
    book = book_of(f"{HEAD}2026-11-18,A,armed,17:00\n2026-11-19,A,check,06:30\n")
    (due,) = check_clock(book, RULE, at(20, 20)).due
    assert (due.last_row, due.due, due.time_is_known) == (2, at(21, 6, 30), True)
    assert due.state == "upcoming"


@pytest.mark.parametrize(
    ("now", "state"),
    [(at(20, 6, 30), "upcoming"), (at(20, 6, 31), "overdue"), (at(25), "overdue")],
)
def test_overdue_to_the_minute(book_of: Callable[..., Book], now: dt.datetime, state: str) -> None:
    book = book_of(f"{HEAD}2026-11-18,A,armed,17:00\n2026-11-18,A,check,06:30\n")
    assert check_clock(book, RULE, now).due[0].state == state


@pytest.mark.parametrize(
    ("now", "state"), [(at(19), "upcoming"), (at(19, 12, 1), "perhaps overdue"), (at(20, 12, 1), "overdue")]
)
def test_without_a_time_the_earliest_and_the_latest_moment_count(
    book_of: Callable[..., Book], now: dt.datetime, state: str
) -> None:
    (due,) = check_clock(book_of("date,site,event\n2026-11-18,A,armed\n"), RULE, now).due
    assert (due.due, due.due_latest, due.time_is_known, due.state) == (at(19), at(20), False, state)


def test_the_most_pressing_first_and_only_sets_still_armed(book_of: Callable[..., Book]) -> None:
    book = book_of(
        f"{HEAD}2026-11-18,A,armed,17:00\n2026-11-17,B,armed,17:00\n2026-11-18,C,armed,17:00\n2026-11-19,C,open,\n"
    )
    assert [d.site for d in check_clock(book, RULE, at(21)).due] == ["B", "A"]


def test_gaps_are_kept_broken_or_not_known(book_of: Callable[..., Book]) -> None:
    book = book_of(
        f"{HEAD}2026-11-10,A,armed,18:00\n2026-11-10,A,check,06:00\n2026-11-12,A,check,06:00\n2026-11-13,A,check,\n"
        "2026-11-20,A,pulled,\n"
    )
    gaps = check_clock(book, RULE, at(21)).gaps
    assert [(g.from_row, g.to_row, g.kept) for g in gaps] == [(1, 2, True), (2, 3, False), (3, 4, None), (4, 5, False)]
    assert [(g.least_hours, g.most_hours) for g in gaps[:3]] == [(12.0, 12.0), (48.0, 48.0), (6.0, 30.0)]
    assert (gaps[3].least_hours, gaps[3].most_hours) == (144.0, 192.0)


def test_a_stricter_rule_breaks_more(book_of: Callable[..., Book]) -> None:
    book = book_of(f"{HEAD}2026-11-10,A,armed,18:00\n2026-11-10,A,check,07:00\n2026-11-11,A,pulled,18:00\n")
    kept = [[g.kept for g in check_clock(book, CheckOptions(hours=h), at(21)).gaps] for h in (24.0, 12.0, 10.0)]
    assert kept == [[True, True], [False, True], [False, False]]


def test_nights_without_a_check_in_the_sample(sample: Book) -> None:
    """By hand: the night of arming has no other row at LH-1; the non-target of 8 October counts as a look."""
    found = check_clock(sample, RULE, at(21, 18))
    assert found.unchecked == (("LH-1", dt.date(2026, 9, 17)),)
    assert found.armed_nights == 12
    late = [(g.site, g.least_hours) for g in found.gaps if g.kept is False]
    assert late == [("LH-1", pytest.approx(36 + 55 / 60))], "armed 17:40 on the 17th, next look 06:35 on the 19th"
    assert all(g.kept is not None for g in found.gaps) and [d.site for d in found.due] == ["UC-1"]
    assert found.due[0].due == at(22, 6, 40) and found.due[0].time_is_known


def test_hours_are_counted_through_the_night_in_which_clocks_go_back(book_of: Callable[..., Book]) -> None:
    """Chicago, 1 November 2026, 02:00 becomes 01:00 (US Energy Policy Act of 2005: first Sunday in November)."""
    book = book_of(f"{HEAD}2026-10-30,A,armed,18:00\n2026-10-30,A,check,07:00\n2026-10-31,A,check,07:00\n")
    zone = ZoneInfo("America/Chicago")
    plain, zoned = (check_clock(book, RULE, at(1), z) for z in (None, zone))
    assert [g.least_hours for g in plain.gaps] == [13.0, 24.0] and [g.least_hours for g in zoned.gaps] == [13.0, 25.0]
    assert [g.kept for g in zoned.gaps] == [True, False]
    first = check_clock(book_of(f"{HEAD}2026-10-30,A,armed,18:00\n2026-10-30,A,check,07:00\n"), RULE, at(1), zone)
    assert first.due[0].due == dt.datetime(2026, 11, 1, 6, 0)


def test_a_check_dated_with_the_pull_is_not_of_an_armed_night(book_of: Callable[..., Book]) -> None:
    book = book_of("date,site,event\n2026-11-10,A,armed\n2026-11-11,A,check\n2026-11-11,A,pulled\n")
    found = check_clock(book, RULE, at(21))
    assert found.unchecked == (("A", dt.date(2026, 11, 10)),)
    assert [(g.from_row, g.to_row) for g in found.gaps] == [(1, 3)]


def test_what_nobody_said_and_an_old_rule_are_said(book_of: Callable[..., Book]) -> None:
    book = book_of(f"{HEAD}2026-11-18,A,armed,17:00\n2026-11-19,A,check,\n")
    said = " ".join(check_clock(book, RULE, at(20)).notes)
    assert "operator-fired or self-acting; ask the supervisor" in said and "1 of 1 intervals" in said
    told = CheckOptions(method="self-acting", checked=dt.date(2025, 1, 1), attended=True)
    said = " ".join(check_clock(book, told, at(20)).notes)
    assert "ask the supervisor" not in said and "last looked up on 2025-01-01" in said and "somebody there" in said


def test_the_rule_carries_its_citation_and_grade() -> None:
    assert "common practice, no source" in RULE.citation and RULE.grade == "C" and RULE.place and RULE.text
    assert not RULE.is_stale(dt.date(2026, 11, 26)) and RULE.is_stale(dt.date(2027, 11, 26))


def test_an_empty_log(book_of: Callable[..., Book]) -> None:
    found = check_clock(book_of("date,site,event\n"), RULE, at(21))
    assert (found.due, found.gaps, found.unchecked) == ((), (), ())
