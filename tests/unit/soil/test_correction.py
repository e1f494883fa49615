"""What readings add to the map, by either rule."""

from __future__ import annotations

import math

import numpy as np
import pytest

from boscage.model.soil import ProbeReading, SoilOptions
from boscage.soil.components import profiles
from boscage.soil.correction import correct
from boscage.soil.ground import know_ground
from boscage.soil.readings import group_places, slice_mpa

OPTIONS = SoilOptions()


def reading(x: float, y: float, mpa: float, depth: float = 30.0, **facts: object) -> ProbeReading:
    return ProbeReading(x_m=x, y_m=y, top_cm=depth, bottom_cm=depth, resistance_mpa=mpa, **facts)


def made_of(readings, units, keys=None, options=OPTIONS):
    made = {k: profiles(u, options) for k, u in units.items()}
    return correct(readings, made, keys or ["A"] * len(readings), options)


def test_the_simple_rule_by_hand(soil, unit) -> None:
    """Map 1 MPa, one reading of 4 MPa: all of it at the place, half at 200 m, a fifth at 400 m, none in unit B."""
    units = {"A": unit(soil(1.0)), "B": unit(soil(1.0), key="B")}
    made = made_of([reading(0, 0, 4.0)], units)
    shift = made.at(np.array([[0, 0], [200, 0], [0, 400], [200, 0]]), ["A", "A", "A", "B"], np.full(4, 0.5))
    assert shift.shift_ln / math.log(4.0) == pytest.approx([1.0, 0.5, 0.2, 0.0])
    assert shift.error_ln == pytest.approx(
        [0.2, math.sqrt(0.5 * 0.25 + 0.5 * 0.04), math.sqrt(0.8 * 0.25 + 0.2 * 0.04), 0.5]
    )
    assert shift.basis == ("map and readings", "map and readings", "map and readings", "map")
    assert made.left_out is None and "inverse squared distance" in made.rule


def test_with_eight_places_kriging_is_used_where_it_misses_by_less(soil, unit) -> None:
    """A field that leans from west to east, twelve places: kriging follows it into ground without readings."""
    units = {"A": unit(soil(1.0))}
    places = [(x * 100.0, y * 100.0) for x in range(4) for y in range(3)]
    readings = [reading(x, y, math.exp(x / 150.0)) for x, y in places]
    made = made_of(readings, units)
    assert made.mapped.variogram is not None and made.rule.startswith("ordinary kriging of residuals (exponential")
    assert made.left_out is not None and made.left_out.count == 12
    assert made.left_out.rmse < 0.4 * made.left_out.map_rmse and made.left_out.worse <= 3
    assert made.mapped.widen >= math.sqrt(11 / 9)
    at = made.at(np.array([[150.0, 150.0]]), ["A"], np.array([0.5]))
    assert at.shift_ln[0] == pytest.approx(1.0, abs=0.1) and at.error_ln[0] >= OPTIONS.reading_error


def test_kriging_that_does_not_help_is_not_used(soil, unit) -> None:
    """A chessboard a kilometre wide a square: the mean of the others tells less than the map."""
    readings = [reading(1000.0 * x, 1000.0 * y, math.exp(0.5 * (-1) ** (x + y))) for x in range(4) for y in range(3)]
    made = made_of(readings, {"A": unit(soil(1.0))})
    assert made.mapped.variogram is None and any("Kriging was tried" in n for n in made.notes)


def test_seven_places_are_too_few_for_kriging(soil, unit) -> None:
    readings = [reading(x * 50.0, 0.0, math.exp(x / 4)) for x in range(7)]
    assert made_of(readings, {"A": unit(soil(1.0))}).mapped.variogram is None


def test_leaving_out_with_the_simple_rule_by_hand(soil, unit) -> None:
    """Two readings 200 m apart, residuals ln 2 and ln 4: each is foretold as half the other."""
    made = made_of([reading(0, 0, 2.0), reading(200, 0, 4.0)], {"A": unit(soil(1.0))})
    missed = np.array([math.log(2) - 0.5 * math.log(4), math.log(4) - 0.5 * math.log(2)])
    assert made.left_out is not None
    assert made.left_out.rmse == pytest.approx(math.sqrt((missed**2).mean()))
    assert made.left_out.map_rmse == pytest.approx(math.sqrt((math.log(2) ** 2 + math.log(4) ** 2) / 2))
    assert made.left_out.bias == pytest.approx(missed.mean()) and made.left_out.worse == 0
    assert made.left_out.factor == pytest.approx(math.exp(made.left_out.rmse))


def test_a_reading_is_held_against_the_map_at_its_depth_and_in_its_state(unit) -> None:
    from boscage.model.soil import Component, Horizon

    two = Component(
        name="two", percent=100.0,
        horizons=(
            Horizon(top_cm=0, bottom_cm=20, rock_pct=0, resistance_mpa=1.0),
            Horizon(top_cm=20, bottom_cm=80, rock_pct=0, sand_pct=30, clay_pct=20, organic_pct=2 * 1.724,
                    bulk_density=1.4, water={"dry": 0.2, "moist": 0.3, "wet": 0.4}),
        ),
    )  # fmt: skip
    units = {"A": unit(two)}
    top = made_of([reading(0, 0, 3.0, depth=10.0)], units)
    assert top.mapped.values[0] == pytest.approx(math.log(3.0))
    dry = made_of([reading(0, 0, 2.7168, depth=50.0, moisture="dry")], units)
    assert dry.mapped.values[0] == pytest.approx(0.0, abs=1e-4)
    moist = made_of([reading(0, 0, 2.7168, depth=50.0)], units)
    assert moist.mapped.values[0] == pytest.approx(math.log(2.7168 / 0.9691), abs=1e-3)
    assert moist.notes == ("1 of 1 readings do not say how wet the ground was; taken as moist.",)


def test_readings_off_the_map_stand_for_themselves_within_reach(soil, unit) -> None:
    units = {"A": unit(soil(1.0))}
    made = made_of([reading(0, 0, 3.0)], units, keys=[""])
    assert len(made.mapped) == 0 and any("gives no resistance" in n for n in made.notes)
    at = made.at(np.array([[5.0, 0.0], [50.0, 0.0]]), ["", ""], np.full(2, np.nan))
    assert at.shift_ln[0] == pytest.approx(math.log(3.0)) and at.basis == ("readings", "nothing")
    assert math.isnan(at.error_ln[1])


def test_many_readings_off_the_map_are_kriged_within_their_range(unit) -> None:
    rng = np.random.default_rng(2)
    places = rng.uniform(0, 400, (20, 2))
    readings = [reading(x, y, math.exp(0.5 * math.sin(x / 80))) for x, y in places]
    made = made_of(readings, {}, keys=[""] * 20)
    assert made.bare.variogram is not None
    at = made.at(np.array([places[0], [1e5, 1e5]]), ["", ""], np.full(2, np.nan))
    assert at.shift_ln[0] == pytest.approx(math.log(readings[0].resistance_mpa), abs=1e-6)
    assert at.basis[1] == "nothing" and math.isnan(at.error_ln[1])


def test_stopped_probes_limit_what_is_close(soil, unit) -> None:
    made = made_of([reading(0, 0, 5.0, depth=35.0, stopped=True), reading(0, 0, 2.0, depth=15.0)],
                   {"A": unit(soil(1.0))})  # fmt: skip
    at = made.at(np.array([[9.0, 0.0], [11.0, 0.0]]), ["A", "A"], np.full(2, 0.5))
    assert at.stopped_cm.tolist() == [35.0, math.inf]
    assert any("least value" in n for n in made.notes)
    ranch = know_ground({"A": unit(soil(1.0))}, [reading(0, 0, 1.0, depth=35.0, stopped=True)], ["A"], OPTIONS)
    layers = ranch.layers(np.array([[5.0, 0.0], [500.0, 0.0]]), ["A", "A"])
    assert layers.posts.tolist() == [1, 0]


def test_readings_gather_by_place() -> None:
    readings = [reading(10, 0, 1.0, 15), reading(10.4, 0, 2.0, 30), reading(12, 0, 3.0), reading(0, 0, 4.0)]
    made = group_places(readings)
    assert [len(g) for g in made.members] == [1, 2, 1]
    assert made.points[1] == pytest.approx([10.2, 0.0])
    assert group_places(readings[::-1]).points == pytest.approx(made.points)


def test_slices_are_geometric_means_by_how_much_lies_inside() -> None:
    stretch = [
        ProbeReading(x_m=0, y_m=0, top_cm=0, bottom_cm=20, resistance_mpa=1.0),
        ProbeReading(x_m=0, y_m=0, top_cm=20, bottom_cm=60, resistance_mpa=4.0),
    ]
    assert slice_mpa(stretch, 0, 40) == pytest.approx(2.0)
    assert slice_mpa(stretch, 0, 20) == pytest.approx(1.0)
    assert slice_mpa([reading(0, 0, 3.0, depth=30.0)], 30, 45) == pytest.approx(3.0)
    assert math.isnan(slice_mpa([reading(0, 0, 3.0, depth=30.0)], 0, 30))
