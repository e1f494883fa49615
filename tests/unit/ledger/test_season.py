"""Several seasons together: what is added, what is not, and what is said of it."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable

import pytest
import shapely

from boscage.ledger.clock import check_clock
from boscage.ledger.effort import find_rates, sum_captures, sum_effort
from boscage.ledger.lines import judge_quality
from boscage.ledger.season import Season, sum_seasons
from boscage.model.ledger import Book
from boscage.model.ledger_clock import CheckOptions
from boscage.model.report import SeasonLine

HEAD = "date,site,event,sow,hours\n"


@pytest.fixture
def season_of(book_of: Callable[..., Book]) -> Callable[..., Season]:
    def make(text: str, shape: shapely.Geometry, *, crs: str = "EPSG:32615", **facts: object) -> Season:
        book = book_of(HEAD + text)
        effort, captures = sum_effort(book), sum_captures(book)
        clock = check_clock(book, CheckOptions(), dt.datetime(2026, 11, 21, 12))
        given = {"ranch": "R", "season": "S", "crew": "one", "missing": 0, **facts}
        line = SeasonLine(
            begin=book.rows[0].night, end=book.rows[-1].night, effort=effort, captures=captures,
            rates=find_rates(effort, captures), groups_known=1, groups_complete=0, covered_ha=shape.area / 1e4,
            granted_ha=1000.0, radius_m=1500.0, quality=judge_quality(book, clock, len(book.rows), 0), **given,
        )  # type: ignore[arg-type]  # fmt: skip
        return Season(line=line, covered=shape, crs=crs)

    return make


FIRST = "2026-10-01,A,armed,,4\n2026-10-03,A,capture,2,2\n2026-10-11,A,pulled,,\n"
LATER = "2026-11-01,A,armed,,\n2026-11-02,A,capture,4,\n2026-11-06,A,pulled,,\n"


def test_rates_are_totals_over_totals(season_of: Callable[..., Season]) -> None:
    one, two = season_of(FIRST, shapely.box(0, 0, 1000, 1000)), season_of(LATER, shapely.box(500, 0, 1500, 1000))
    whole, crew, land = sum_seasons([one, two])
    assert (whole.armed_nights, whole.animals, whole.events, whole.hours) == (15, 6, 2, 6.0)
    assert whole.rates.per_armed_night.value == pytest.approx(6 / 15)
    assert whole.rates.hours_per_capture == pytest.approx(6.0 / 2), "the season without hours is left out"
    assert whole.notes == ("hours an animal are from the 1 line with hours.",)
    assert (crew.kind, crew.name, land.kind, land.name) == ("crew", "one", "land", "R")


def test_ground_of_one_ranch_counts_once_and_of_two_is_added(season_of: Callable[..., Season]) -> None:
    shapes = shapely.box(0, 0, 1000, 1000), shapely.box(500, 0, 1500, 1000)
    one, two = season_of(FIRST, shapes[0]), season_of(LATER, shapes[1])
    assert sum_seasons([one, two])[0].covered_ha == pytest.approx(150.0)
    other = season_of(LATER, shapes[1], ranch="Q")
    assert sum_seasons([one, other])[0].covered_ha == pytest.approx(200.0)
    moved = season_of(LATER, shapes[1], crs="EPSG:32614")
    assert math.isnan(sum_seasons([one, moved])[0].covered_ha)


def test_who_is_left_is_of_the_last_season_of_each_ranch(season_of: Callable[..., Season]) -> None:
    box = shapely.box(0, 0, 1, 1)
    held = [
        season_of(LATER, box, missing=3),
        season_of(FIRST, box, missing=9),
        season_of(FIRST, box, missing=5, ranch="Q"),
    ]
    assert sum_seasons(held)[0].missing == 3 + 5


def test_crews_and_lands_stand_in_the_order_of_the_plans(season_of: Callable[..., Season]) -> None:
    box = shapely.box(0, 0, 1, 1)
    held = [season_of(FIRST, box, crew="b"), season_of(LATER, box, crew=""), season_of(FIRST, box, crew="b", ranch="Q")]
    found = [(t.kind, t.name, t.lines) for t in sum_seasons(held)]
    assert found == [
        ("all", "all", 3), ("crew", "b", 2), ("crew", "crew not stated", 1), ("land", "R", 2), ("land", "Q", 1)
    ]  # fmt: skip
