"""Sets and nights of a book, what the figures rest on, and one owner's part of it."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable

from boscage.ledger.clock import check_clock
from boscage.ledger.lines import judge_quality, night_lines, part_of, set_lines
from boscage.model.ledger import Book
from boscage.model.ledger_clock import CheckOptions, ClockReport
from boscage.model.report import SetLine

HEAD = "date,site,event,sow,hours,x,y\n"
TEXT = (
    f"{HEAD}2026-11-01,A,prebait,,2,100,200\n2026-11-05,A,armed,,,,\n2026-11-05,A,check,,1,,\n"
    "2026-11-06,A,capture,3,4,,\n2026-11-08,A,pulled,,,,\n2026-11-10,B,armed,,,9000,200\n"
)


def clock_of(book: Book) -> ClockReport:
    return check_clock(book, CheckOptions(), dt.datetime(2026, 11, 21, 12))


def lines_of(book: Book) -> dict[str, SetLine]:
    return {s.site: s for s in set_lines(book, clock_of(book), lambda x, y: f"parcel {x:.0f}")}


def test_a_set_by_hand(book_of: Callable[..., Book]) -> None:
    held = lines_of(book_of(TEXT))
    a, b = held["A"], held["B"]
    assert (a.prebait, a.open, a.armed, a.checks, a.events, a.animals, a.hours) == (4, 0, 3, 1, 1, 3, 7.0)
    assert (a.first, a.last, a.state) == (dt.date(2026, 11, 1), dt.date(2026, 11, 8), "pulled")
    assert (a.places, a.x_m, a.y_m, a.parcel, a.unchecked) == (1, 100.0, 200.0, "parcel 100", 1)
    assert (b.armed, b.state, b.unchecked) == (11, "armed since 2026-11-10", 11) and math.isnan(b.hours)


def test_nights_add_up_to_those_of_the_book(book_of: Callable[..., Book]) -> None:
    book = book_of(TEXT)
    nights = night_lines(book)
    assert (nights[0].night, nights[-1].night, len(nights)) == (dt.date(2026, 11, 1), dt.date(2026, 11, 20), 20)
    for state in ("prebait", "open", "armed"):
        assert sum(getattr(n, state) for n in nights) == book.nights(state)
    assert [(n.night.day, n.animals, n.events) for n in nights if n.animals] == [(6, 3, 1)]
    assert sum(n.checks for n in nights) == 1 and night_lines(book_of(HEAD)) == ()


def test_a_set_without_a_place_and_one_that_moved(book_of: Callable[..., Book]) -> None:
    text = f"{HEAD}2026-11-01,A,armed,,,,\n2026-11-02,B,open,,,0,0\n2026-11-05,B,armed,,,400,0\n"
    held = lines_of(book_of(text))
    assert (held["A"].places, held["A"].parcel) == (0, "") and math.isnan(held["A"].x_m)
    assert (held["B"].places, held["B"].x_m) == (2, 400.0)


def test_what_the_figures_rest_on(book_of: Callable[..., Book]) -> None:
    book = book_of(f"{TEXT}2026-11-07,Z,capture,5,1,,\n2026-12-25,A,check,,1,,\n")
    held = judge_quality(book, clock_of(book), 8, 2)
    assert (held.rows, held.aside, held.animals_aside, held.listed, held.without_hours) == (8, 2, 5, 2, 3)
    assert (held.unchecked, held.unplaced, held.groups_unknown) == (12, 0, 2)
    assert held.gaps == clock_of(book).intervals and held.late == 0


def test_the_part_of_an_owner_is_where_sets_stood(book_of: Callable[..., Book]) -> None:
    """B stood over the line until it was moved: its rows go with the place of their night."""
    text = (
        f"{TEXT}2026-11-14,B,pulled,,,,\n2026-11-15,B,armed,,,500,200\n2026-11-16,B,capture,2,,,\n"
        "2026-11-12,B,capture,1,,,\n"
    )
    book = book_of(text)
    part, hidden = part_of(book, book.rows, lambda x, y: x < 1000.0)
    assert {r.site for r in part.rows} == {"A", "B"} and min(r.night.day for r in part.rows if r.site == "B") == 15
    assert sum(r.animals for r in part.of("capture")) == 5 and part.nights("armed") == 3 + 6
    other, _ = part_of(book, book.rows, lambda x, y: x >= 1000.0)
    assert other.nights("armed") == 4 and len(part.rows) + len(other.rows) == len(book.rows)
    assert hidden + len(part.problems) == len(book.problems)
