"""Damage before and after: the same transects or no comparison at all."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace

import pytest

from boscage.errors import InputError
from boscage.ledger.damage import compare_damage
from boscage.model.ledger_land import DamageChange, NoComparison, Transect

MAY, LATER = dt.date(2026, 5, 2), dt.date(2026, 5, 30)


def survey(
    *damaged: float, length: float = 100.0, date: dt.date | None = MAY, observer: str = "op 1"
) -> list[Transect]:
    return [
        Transect(transect=f"T{i}", surveyed=length, damaged=d, date=date, observer=observer)
        for i, d in enumerate(damaged, start=1)
    ]


def compare(*surveys: list[Transect]) -> DamageChange:
    found = compare_damage(*surveys)
    assert isinstance(found, DamageChange)
    return found


def test_shares_and_their_change() -> None:
    found = compare(survey(10, 20, 30), survey(2, 4, 0, date=LATER))
    assert (found.before.value, found.after.value, found.change.value) == pytest.approx((0.20, 0.02, -0.18))
    assert (found.transects, found.surveyed, found.unit, found.notes) == (3, 300.0, "m", ())
    assert found.change.low < -0.18 < found.change.high


def test_longer_transects_weigh_more() -> None:
    before = [Transect(transect="a", surveyed=300, damaged=30), Transect(transect="b", surveyed=100, damaged=50)]
    assert compare(before, before).before.value == pytest.approx(0.2)


def test_order_does_not_matter() -> None:
    before, after = survey(10, 20, 30), survey(2, 4, 0, date=LATER)
    assert compare(before, after[::-1]) == compare(before, after)


@pytest.mark.parametrize(
    ("after", "said"),
    [
        (survey(1, 2), "not the same transects: T3 were walked only once"),
        (survey(1, 2, 3, 4), "not the same transects: T4"),
        (survey(1, 2, 3, length=120.0), "transect T1 has 100 m before and 120 after"),
        ([replace(t, unit="m2") for t in survey(1, 2, 3)], "m and m2; line intercept and area cannot be compared"),
        ([*survey(1, 2, 3), *survey(1)], "transect T1 stands twice in the survey after"),
        ([], "there is no survey after"),
    ],
)
def test_surveys_that_differ_are_refused(after: list[Transect], said: str) -> None:
    found = compare_damage(survey(10, 20, 30), after)
    assert isinstance(found, NoComparison) and not found and said in found.reason


def test_a_length_a_hair_off_is_the_same_transect() -> None:
    found = compare(survey(10, 20), survey(10.05, 20.1, length=100.5))
    assert found.change.value == pytest.approx(0.0, abs=1e-12)


def test_one_transect_has_no_interval() -> None:
    found = compare(survey(10), survey(5))
    assert math.isnan(found.change.low) and "one transect gives no interval." in found.notes


def test_no_damage_says_nothing_of_other_ground() -> None:
    found = compare(survey(0, 0), survey(0, 0))
    assert (found.after.low, found.after.high) == (0.0, 0.0)
    assert "ground off the transects is not known" in found.notes[0]
    assert compare(survey(0, 0), survey(1, 0)).notes == compare(survey(1, 0), survey(0, 0)).notes == ()
    assert "every transect shows the same" in compare(survey(5, 9), survey(5, 9)).notes[0]


def test_intervals_stay_within_what_a_share_can_be() -> None:
    found = compare(survey(0, 90, 100), survey(0, 0, 1))
    assert found.before.high == 1.0 and found.after.low == 0.0 and found.change.low >= -1.0
    assert 0.0 <= found.before.low < found.before.value and found.after.value < found.after.high < 1.0
    assert compare_damage(survey(1, 2), survey(1, 2), 0.5)


@pytest.mark.parametrize(
    ("facts", "said"),
    [
        ({"observer": "op 2"}, "not the same observer"),
        ({"observer": ""}, "not the same observer"),
        ({"date": dt.date(2026, 11, 2)}, "not the same season"),
        ({"date": None}, "the day of a survey is not written down"),
    ],
)
def test_another_observer_or_season_is_said(facts: dict[str, object], said: str) -> None:
    assert said in " ".join(compare(survey(10, 20), survey(1, 2, **facts)).notes)  # type: ignore[arg-type]


def test_the_turn_of_the_year_is_one_season() -> None:
    found = compare(survey(1, 2, date=dt.date(2025, 12, 20)), survey(1, 1, date=dt.date(2027, 1, 5)))
    assert found.notes == ()


@pytest.mark.parametrize("bad", [(0.0, 0.0), (100.0, 101.0), (100.0, -1.0), (-5.0, 0.0)])
def test_impossible_transects_are_refused(bad: tuple[float, float]) -> None:
    wrong = [Transect(transect="T1", surveyed=bad[0], damaged=bad[1])]
    with pytest.raises(InputError, match="transect T1 has"):
        compare_damage(wrong, wrong)


def test_a_level_outside_is_refused() -> None:
    for level in (0.0, 1.0, 95.0):
        with pytest.raises(InputError, match=f"the level is {level:g}"):
            compare_damage(survey(1), survey(1), level)
