"""Age of sign: one class each, rain and look heard, old sign outweighed."""

from __future__ import annotations

import math

import numpy as np
import pytest

from boscage.errors import InputError
from boscage.evidence.ages import age_class, age_signs
from boscage.model.evidence import AGE_FROM_DAYS, Sign, SignOptions

OPTIONS = SignOptions()


def one(kind: str = "track", days: float = 0.0, **facts: object):
    return age_signs([Sign(x_m=0.0, y_m=0.0, kind=kind, days=days, row=7, **facts)], OPTIONS)


@pytest.mark.parametrize(
    ("days", "name"), [(0, "A"), (0.99, "A"), (1, "B"), (3, "B"), (4, "C"), (14, "C"), (15, "D"), (400, "D")]
)
def test_four_classes(days: float, name: str) -> None:
    """Under 24 h, 1 to 3, 4 to 14, over 14 days: common practice, no source."""
    assert age_class(days) == name
    assert one(days=float(days)).classes == (name,)


def test_every_sign_has_a_class_and_the_counts_add_up() -> None:
    signs = [Sign(x_m=0.0, y_m=0.0, kind="scat", days=d) for d in (0, 2, 5, 20, math.nan)]
    found = age_signs(signs, OPTIONS)
    assert found.classes == ("A", "B", "C", "D", "D")
    assert found.counts() == {"A": 1, "B": 1, "C": 1, "D": 2}


def test_the_look_is_added_to_the_days_since_it_was_recorded() -> None:
    assert one(days=2.0, state="A").age_days[0] == 2.5
    assert one(days=2.0, state="B").classes == ("C",)
    assert one(days=0.0, state="D").age_days[0] == 30.0


def test_a_crisp_track_is_no_older_than_the_last_rain() -> None:
    assert one(state="B", days_since_rain=1.0).age_days[0] == 1.0
    assert one(state="B", days_since_rain=9.0).age_days[0] == 2.0
    assert one(state="C", days_since_rain=1.0).age_days[0] == 9.0
    assert one("rooting", state="B", days_since_rain=1.0).age_days[0] == 2.0


def test_dry_ground_makes_a_track_of_no_stated_look_older() -> None:
    assert one(days_since_rain=0.0).classes == ("A",)
    assert one(days_since_rain=6.0).age_days[0] == 3.0
    assert one(days_since_rain=200.0).age_days[0] == 7.0
    assert one("rub", days_since_rain=200.0).age_days[0] == 0.0


def test_weights_halve_in_a_half_life_and_follow_the_kind() -> None:
    assert one("scat", 7.0).weights[0] == pytest.approx(0.5 * one("scat", 0.0).weights[0])
    assert one("bed").weights[0] == pytest.approx(2 * one("rooting").weights[0])


def test_undated_sign_is_old_and_coming_sign_counts_for_nothing_and_both_are_said() -> None:
    undated, coming = one(days=math.nan), one(days=-2.0)
    assert undated.classes == ("D",) and undated.age_days[0] == 60.0
    assert "without a date: 1 (rows 7); taken as 60 days old" in undated.notes[0]
    assert coming.classes == ("",) and coming.weights[0] == 0.0 and np.isnan(coming.age_days[0])
    assert "still to come: 1 (rows 7)" in coming.notes[0]
    assert coming.counts() == dict.fromkeys(AGE_FROM_DAYS, 0)


def test_a_look_that_rain_contradicts_is_doubted() -> None:
    assert "check the class" in one(state="B", days_since_rain=0.0).notes[0]
    assert one(state="B", days_since_rain=3.0).notes == ()


@pytest.mark.parametrize(
    ("facts", "said"),
    [
        ({"kind": "hoof"}, "row 7: the kind is hoof; expected one of rooting"),
        ({"state": "E"}, "row 7: the age class is E; expected A, B, C or D"),
        ({"days_since_rain": -1.0}, "row 7: the days since rain are -1"),
    ],
)
def test_wrong_rows_are_named(facts: dict[str, object], said: str) -> None:
    with pytest.raises(InputError, match=said):
        one(**facts)
