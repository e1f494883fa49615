"""Masking: squares that leave enough land to choose from, and words without coordinates, codes, numbers or people."""

from __future__ import annotations

import datetime as dt

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from boscage.ledger.masking import Hider, coarse_square, middle_of, three_figures
from boscage.model.report import NextStep
from boscage.values import Bounds

ANYWHERE = shapely.box(-1e7, -1e7, 1e7, 1e7)


def test_a_square_of_whole_sides_holds_the_place() -> None:
    square = coarse_square(525_815.0, 4_006_485.0, 1000.0, ANYWHERE)
    assert square == Bounds(525_000.0, 4_006_000.0, 526_000.0, 4_007_000.0)
    assert middle_of(square) == (525_500.0, 4_006_500.0)
    assert coarse_square(525_000.0, 4_006_000.0, 1000.0, ANYWHERE) == square, "edges belong to the east and north"


@given(st.floats(-1e5, 1e5), st.floats(-1e5, 1e5), st.floats(0.0, 1000.0), st.floats(0.0, 1000.0))
def test_the_square_says_nothing_of_the_place_in_it(x: float, y: float, dx: float, dy: float) -> None:
    square = coarse_square(x, y, 1000.0, ANYWHERE)
    inside = (min(square.west + dx, square.east - 1e-6), min(square.south + dy, square.north - 1e-6))
    assert coarse_square(*inside, 1000.0, ANYWHERE) == square


@pytest.mark.parametrize(("wide", "side"), [(600.0, 1000.0), (400.0, 2000.0), (100.0, 8000.0)])
def test_a_strip_of_land_makes_the_square_larger(wide: float, side: float) -> None:
    """Half a square of land, 0.5 km2, is asked for: a strip of 400 m gives 0.8 in 2 km, one of 100 m 0.8 in 8 km."""
    land = shapely.box(-1e5, 0.0, 1e5, wide)
    square = coarse_square(500.0, 50.0, 1000.0, land)
    assert square.width == square.height == side
    assert land.intersection(shapely.box(square.west, square.south, square.east, square.north)).area >= 0.5e6


@pytest.mark.parametrize(
    "text",
    [
        "at -92.712836", "36.202840,-92.7", "15S WA 12345 67890", "520123 E", "4005678.25", "36° 12.345' N",
        "N 36 12.345", "092:42.770 W",
    ],
)  # fmt: skip
def test_coordinates_go(text: str) -> None:
    assert "[place]" in Hider().text(text)
    assert Hider(places=True).text(text) == text


@pytest.mark.parametrize(
    "text",
    [
        "UC group of 9", "SH-1", "armed since 2026-11-18", "due 2026-11-22 06:40", "row 17 of the log", "2.5 hours",
        "63 m from its place in row 3", "12 of 15 intervals", "the plan's day and the ranch's", "pin oak group of 7",
    ],
)  # fmt: skip
def test_plain_words_stay(text: str) -> None:
    assert Hider(["Bob Miller"]).text(text) == text


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("gate code 4711", "gate code ####"), ("pin: 4711", "pin: ####"), ("keypad 22", "keypad ##"),
        ("call 555-0173", "call [name]"), ("(417) 555-0173", "[name]"), ("Bob Miller held", "[name] held"),
        ("op 1's row", "[name]'s row"), ("the event is 'Bob at 4711'; expected", "the event is '...'; expected"),
        ("the date is '2026-13-01'", "the date is '2026-13-01'"), ("sow is '2.5'; expected", "sow is '2.5'; expected"),
        ("lat is '36.20'", "lat is '...'"),
    ],
)  # fmt: skip
def test_codes_numbers_people_and_what_was_typed_go(text: str, said: str) -> None:
    assert Hider(["Bob Miller", "op 1", "crew"]).text(text) == said


def test_words_of_roles_and_single_letters_are_nobodys_name() -> None:
    assert Hider(["crew", "A", "7", ""]).text("A 7: the crew looks") == "A 7: the crew looks"


def test_every_text_of_a_value_is_gone_through() -> None:
    step = NextStep(what="Ask Bob Miller", who="crew", by=dt.date(2026, 11, 22))
    hider = Hider(["Bob Miller"])
    held = {"Bob Miller": 1.5, "[name]": 2.0, "x": [step, ("at 36.20284", 3)]}
    made = hider.every(held)
    assert made == {"[name]": 3.5, "x": [NextStep(what="Ask [name]", who="crew", by=step.by), ("at [place]", 3)]}
    assert hider.every(step) != step and hider.every(made) == made


@pytest.mark.parametrize(("value", "said"), [(1684.6, 1680.0), (0.012345, 0.0123), (0.0, 0.0), (-98.76, -98.8)])
def test_three_figures(value: float, said: float) -> None:
    assert three_figures(value) == said
