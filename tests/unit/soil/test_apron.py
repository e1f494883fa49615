"""Stakes of the apron, what to bring, the table of map units, and the field of a ranch.

Which kind of stake serves in which ground: common practice, no source.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from boscage.model.soil import VERDICTS, Component, ProbeReading, SoilOptions
from boscage.soil.answers import Asking, answer
from boscage.soil.components import profiles
from boscage.soil.ground import know_ground
from boscage.soil.place import Place
from boscage.soil.stakes import answer_apron
from boscage.soil.table import left_out_words, read_places, unit_rows
from boscage.values import Printer

OPTIONS = SoilOptions()


def place(unit, **more) -> Place:
    return Place(unit=unit, made=profiles(unit, OPTIONS), **more)


def kind_of(unit, **more) -> str:
    return answer_apron(place(unit, **more), OPTIONS).kind


def test_kind_of_stake_by_ground(soil, unit) -> None:
    assert kind_of(unit(soil(1.0))) == "stake"
    assert kind_of(unit(soil(0.1))) == "long stake"
    assert kind_of(unit(soil(6.0))) == "steel pin"
    assert kind_of(unit(soil(1.0, rock_pct=45.0))) == "steel pin"
    assert kind_of(unit(soil(1.0, rock_cm=20.0))) == "weight"
    assert kind_of(unit(soil(12.0))) == "weight"
    assert kind_of(unit(soil(1.0)), stopped_cm=30.0) == "steel pin"


def test_one_standard_error_harder_must_still_be_easy(soil, unit) -> None:
    """4 MPa stops being easy; 3 MPa with a standard error of half a logarithm may be 4.9."""
    assert kind_of(unit(soil(3.0))) == "steel pin"
    assert kind_of(unit(soil(3.0)), error_ln=0.2) == "stake"


def test_unknown_ground_brings_both(soil, unit) -> None:
    found = answer_apron(Place(unit=None, basis="nothing"), OPTIONS)
    assert (found.kind, found.also) == ("stake", ("steel pin",)) and "Nobody knows" in found.why
    half = answer_apron(place(unit(soil(percent=40))), OPTIONS)
    assert half.also == ("steel pin",)


def test_wet_ground_takes_twice_as_many(soil, unit) -> None:
    """Halved holding strength in saturated ground: twice the stakes."""
    wet = replace(soil(1.0), wet_top_cm=(60.0,) * 3 + (math.inf,) * 9)
    assert answer_apron(place(unit(wet)), OPTIONS, month=2).times == pytest.approx(2.0)
    assert answer_apron(place(unit(wet)), OPTIONS, month=8).times == pytest.approx(1.0)
    assert answer_apron(place(unit(soil(0.1))), OPTIONS).times == pytest.approx(2.0)
    with_wet = answer(place(unit(wet)), OPTIONS, month=2)
    assert any("2 for each" in line for line in with_wet.bring)


def test_what_to_bring_follows_the_answers_in_the_plans_units(soil, unit) -> None:
    us = answer(place(unit(soil(1.0))), OPTIONS, printer=Printer("us"))
    assert us.bring[0].startswith("Posts go to 79 in") and "stakes of 18 in" in us.bring[1]
    assert us.bring[2].startswith("To dig: with a spade and the foot")
    assert "580 psi" in us.assumption and "MPa" not in us.assumption and " cm" not in us.posts.why
    rock = answer(place(unit(soil(1.0, rock_cm=20.0))), OPTIONS)
    assert rock.bring[0].startswith("No posts") and "bags for stones" in rock.bring[1]
    nothing = answer(Place(unit=None, basis="nothing"), OPTIONS)
    assert len(nothing.bring) == 2 and "steel pins" in nothing.bring[1] and math.isnan(nothing.hard_cm)


def test_an_asking_gives_the_same_as_the_functions(soil, unit) -> None:
    asked = Asking(place=place(unit(soil(1.0))), options=OPTIONS, month=3)
    assert asked.all(500.0) == answer(asked.place, OPTIONS, pull_n=500.0, month=3)
    assert asked.pickets(500.0) == asked.all(500.0).stakes


def test_hidden_rock_is_said(soil, unit) -> None:
    hidden = answer(place(unit(soil(1.0, rock_pct=math.nan))), OPTIONS)
    assert hidden.posts.verdict == "doubtful" and "Rock fragments are not known on 100 %" in hidden.posts.why
    assert "not known" not in answer(place(unit(soil(1.0))), OPTIONS).posts.why


def ranch(soil, unit, readings=()):
    units = {
        "A": unit(soil(1.0), key="A"), "B": unit(soil(3.0, rock_cm=40.0), key="B"),
        "C": unit(Component(name="bare", percent=100.0), key="C"),
    }  # fmt: skip
    return know_ground(units, readings, ["A"] * len(readings), OPTIONS)


def read(x: float, y: float, mpa: float, **more) -> ProbeReading:
    return ProbeReading(x_m=x, y_m=y, top_cm=20.0, bottom_cm=20.0, resistance_mpa=mpa, moisture="moist", **more)


def test_rows_of_map_units_are_the_maps_own_answers(soil, unit) -> None:
    made = ranch(soil, unit)
    rows = unit_rows(made, {"A": 10.0, "B": 30.0, "C": 5.0, "gone": 3.0, "": 9.0})
    assert [r.symbol for r in rows] == ["B", "A", "C"]
    assert [r.posts for r in rows] == ["no", "yes", "unknown"] and rows[2].burial == "unknown"
    assert rows[1].resistance_mpa == pytest.approx(1.0) and math.isnan(rows[2].resistance_mpa)
    assert (rows[0].depth_cm, rows[0].named_share) == (40.0, 1.0)


@pytest.mark.parametrize("with_readings", [False, True])
def test_a_field_says_of_every_place_what_that_place_says(soil, unit, with_readings: bool) -> None:
    """Many places at once, by key and by number, against one place at a time."""
    random = np.random.default_rng(5)
    readings = [read(*random.uniform(0, 400, 2), float(random.lognormal(0.5, 0.4))) for _ in range(12)]
    made = ranch(soil, unit, [*readings, read(50.0, 50.0, 2.0, stopped=True)] if with_readings else ())
    points = random.uniform(0, 400, (60, 2))
    points[:3] = 50.0, 50.0
    names = ("", "A", "B", "C")
    codes = random.integers(0, 4, 60)
    codes[:3] = 1
    keys = [names[c] for c in codes]
    field, same = made.layers_of(points, codes, names), made.layers(points, keys)
    for name in ("resistance_mpa", "error_ln", "posts", "known_share"):
        np.testing.assert_array_equal(getattr(field, name), getattr(same, name))
    for k, one in enumerate(made.places(points, keys)):
        told = answer(one, OPTIONS)
        assert VERDICTS[field.posts[k]] == told.posts.verdict
        assert field.resistance_mpa[k] == pytest.approx(told.resistance_mpa, rel=1e-9, nan_ok=True)
        assert field.error_ln[k] == pytest.approx(told.error_ln, rel=1e-9, nan_ok=True)
    if with_readings:
        assert {p.basis for p in made.places(points, keys)} == {"map and readings", "readings"}


def test_what_is_said_of_the_readings(soil, unit) -> None:
    made = ranch(soil, unit, [read(0.0, 0.0, 2.0), read(0.2, 0.0, 4.0), read(300.0, 0.0, 2.0, stopped=True)])
    places = read_places(made.correction, 60.96)
    assert [p.readings for p in places] == [2, 1]
    assert places[0].resistance_mpa == pytest.approx(math.sqrt(8.0)) and math.isnan(places[0].stopped_cm)
    assert places[1].stopped_cm == 20.0
    words = left_out_words(made.correction)
    assert words.startswith("Each of the 2 places left out in turn") and "at 0 of them" in words
    assert left_out_words(None) == "" == left_out_words(ranch(soil, unit, [read(0.0, 0.0, 2.0)]).correction)
    assert read_places(None, 60.0) == ()
