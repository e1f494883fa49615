"""The book: nights of each state, rows that contradict one another, places that move."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest

from boscage.ledger.book import make_book
from boscage.model.ledger import Book, Log

HEAD = "date,site,event,boar,sow,yearling,piglet,note,x,y\n"


def test_nights_of_the_sample_by_hand(sample: Book) -> None:
    """Counted by hand: a state lasts up to the next one; the set still armed counts up to the plan's day."""
    held = [(s.site, s.nights) for s in sample.stays if s.state == "armed"]
    assert held == [("LH-1", 3), ("SH-1", 4), ("SH-1", 2), ("UC-1", 3)]
    assert {s: sample.nights(s) for s in ("prebait", "open", "armed")} == {"prebait": 80, "open": 33, "armed": 12}
    assert sample.problems == () and sample.unplaced == () and sample.sites == ("LH-1", "SH-1", "CD-1", "UC-1")
    assert [s.is_lasting for s in sample.stays if s.site == "UC-1"] == [False, False, True]


@pytest.mark.parametrize(
    ("rows", "armed"),
    [
        ("2026-09-01,A,armed", 81),
        ("2026-09-01,A,armed\n2026-09-02,A,pulled", 1),
        ("2026-09-01,A,armed\n2026-09-04,A,armed\n2026-09-06,A,open", 5),
        ("2026-09-01,A,armed\n2026-09-01,A,open\n2026-09-05,A,pulled", 0),
        ("2026-09-05,A,pulled\n2026-09-01,A,armed", 4),
        ("2026-09-01,A,armed\n2026-09-03,B,armed\n2026-09-05,A,pulled\n2026-09-05,B,pulled", 6),
        ("2026-11-21,A,armed", 0),
        ("2026-11-20,A,armed", 1),
    ],
)
def test_armed_nights(book_of: Callable[..., Book], rows: str, armed: int) -> None:
    assert book_of(f"date,site,event\n{rows}\n").nights("armed") == armed


def test_a_set_armed_this_evening_is_armed_without_a_night(book_of: Callable[..., Book]) -> None:
    (stay,) = book_of("date,site,event\n2026-11-21,A,armed\n").stays
    assert stay.nights == 0 and stay.is_lasting and not stay.holds(dt.date(2026, 11, 21))


def test_a_capture_at_a_set_that_was_not_armed_is_set_aside(book_of: Callable[..., Book]) -> None:
    book = book_of(f"{HEAD}2026-09-01,A,open,,,,,,,\n2026-09-03,A,capture,,2,,3,,,\n2026-09-04,B,capture,1,,,,,,\n")
    first, second = book.problems
    assert (first.row, first.counted, first.animals, second.row, second.animals) == (2, False, 5, 3, 1)
    assert "a capture at A, which was not armed on the night of 2026-09-03 (open since 2026-09-01, row 1)" in first.text
    assert "no row has set it up by then" in second.text and "add the armed row that is missing" in second.text
    assert [r.row for r in book.rows] == [1]


def test_a_capture_on_the_night_that_ends_the_armed_state_counts_and_is_listed(book_of: Callable[..., Book]) -> None:
    book = book_of(f"{HEAD}2026-09-01,A,armed,,,,,,,\n2026-09-03,A,capture,,2,,,,,\n2026-09-03,A,pulled,,,,,,,\n")
    (problem,) = book.problems
    assert problem.counted and "whose row 3 (pulled) already ends the armed nights" in problem.text
    assert len(book.of("capture")) == 1 and book.nights("armed") == 2


def test_a_capture_the_night_after_the_pull_is_set_aside(book_of: Callable[..., Book]) -> None:
    book = book_of(f"{HEAD}2026-09-01,A,armed,,,,,,,\n2026-09-03,A,pulled,,,,,,,\n2026-09-04,A,capture,,2,,,,,\n")
    assert [(p.row, p.counted) for p in book.problems] == [(3, False)]


def test_a_check_before_the_set_existed_is_set_aside(book_of: Callable[..., Book]) -> None:
    book = book_of(
        "date,site,event\n2026-09-01,A,check\n2026-09-02,A,prebait\n2026-09-02,A,check\n2026-09-03,Z,check\n"
    )
    assert [(p.row, p.counted) for p in book.problems] == [(1, False), (4, False)]
    assert "which no row has set up by then; add its first state" in book.problems[0].text
    assert [r.row for r in book.rows] == [2, 3]


def test_a_check_after_the_pull_is_no_fault(book_of: Callable[..., Book]) -> None:
    """The camera is watched for weeks after the net is out: common practice, no source."""
    text = "date,site,event\n2026-09-01,A,armed\n2026-09-02,A,pulled\n2026-09-09,A,check\n"
    assert book_of(text).problems == ()


def test_other_contradictions_are_listed_and_counted(book_of: Callable[..., Book]) -> None:
    book = book_of("date,site,event\n2026-09-01,A,pulled\n2026-09-02,A,prebait\n2026-09-03,A,nontarget\n")
    assert [(p.row, p.counted) for p in book.problems] == [(1, True), (3, True)]
    assert "no row has set it up before" in book.problems[0].text
    assert "a non-target at A, which was not armed" in book.problems[1].text


def test_rows_in_any_order_make_the_same_book(book_of: Callable[..., Book]) -> None:
    lines = ["2026-09-01,A,prebait", "2026-09-05,A,open", "2026-09-07,A,armed", "2026-09-09,A,pulled"]
    straight, turned = (book_of("date,site,event\n" + "\n".join(x) + "\n") for x in (lines, lines[::-1]))
    assert [(s.state, s.nights) for s in straight.stays] == [(s.state, s.nights) for s in turned.stays]


def test_places_from_any_row_and_from_elsewhere(book_of: Callable[..., Book]) -> None:
    text = f"{HEAD}2026-09-01,A,armed,,,,,,,\n2026-09-03,A,pulled,,,,,,500,600\n"
    text += "2026-09-01,B,armed,,,,,,,\n2026-09-01,C,armed,,,,,,,\n"
    book = book_of(text, places={"A": (9.0, 9.0), "B": (7.0, 8.0)})
    assert {s.site: (s.x_m, s.y_m) for s in book.stays if s.site != "C"} == {"A": (500.0, 600.0), "B": (7.0, 8.0)}
    assert book.unplaced == ("C",)


def test_a_set_that_moved_keeps_the_place_of_each_stretch(book_of: Callable[..., Book]) -> None:
    text = (
        f"{HEAD}2026-09-01,A,armed,,,,,,0,0\n2026-09-03,A,pulled,,,,,,30,0\n"
        "2026-09-05,A,armed,,,,,,300,400\n2026-09-06,A,pulled,,,,,,,\n"
    )
    book = book_of(text)
    assert [(s.x_m, s.y_m) for s in book.stays] == [(0.0, 0.0), (300.0, 400.0)]
    (problem,) = book.problems
    assert problem.row == 3 and "A stands 483 m from its place in row 2" in problem.text and problem.counted


def test_an_empty_log() -> None:
    book = make_book(Log(rows=()), dt.date(2026, 11, 21))
    assert (book.sites, book.stays, book.problems, book.nights("armed")) == ((), (), (), 0)
