"""What carrying costs: Pandolf with the downhill correction, and how a load is shared out."""

from __future__ import annotations

import numpy as np
import pytest

from boscage.model.journey import TravelOptions
from boscage.values import Mass
from boscage.ways.load import energy_kcal, metabolic_rate_w, pace_under_load, share_load

# W, L, n, V, G -> watts. Pandolf, Givoni and Goldman (1977), J. Appl. Physiol. 43:577-581, the equation worked by hand.
PANDOLF = [
    ((70, 0, 1.0, 0, 0), 105.00), ((70, 30, 1.0, 0, 0), 141.73), ((70, 0, 1.0, 1.34, 0), 293.54),
    ((70, 20, 1.0, 1.1111, 0), 286.36), ((70, 20, 1.0, 1.1111, 10), 636.35), ((80, 22.6796, 1.0, 1.34, 0), 413.06),
    ((80, 22.6796, 1.2, 1.34, 0), 468.37), ((80, 22.6796, 1.2, 1.34, 5), 757.31),
    ((80, 22.6796, 1.5, 1.0, 10), 906.60),
]  # fmt: skip
# Santee et al. (2001/2003), USARIEM; the sign convention is from memory.
DOWNHILL = [
    ((80, 22.6796, 1.0, 1.34, -5), 346.92), ((80, 22.6796, 1.0, 1.34, -10), 321.94), ((80, 0, 1.0, 1.34, -10), 259.35),
]  # fmt: skip


@pytest.mark.parametrize(("given", "watts"), PANDOLF + DOWNHILL)
def test_watts_of_a_person_with_a_load(given: tuple[float, ...], watts: float) -> None:
    body, load, terrain, speed, grade = given
    assert float(metabolic_rate_w(body, load, speed, grade, terrain)) == pytest.approx(watts, abs=0.011)


def test_going_down_never_costs_less_than_standing() -> None:
    grade = np.linspace(-60.0, 0.0, 61)
    watts = metabolic_rate_w(80.0, 20.0, 1.0, grade, 1.0)
    assert (watts >= metabolic_rate_w(80.0, 20.0, 0.0, 0.0, 1.0) - 1e-9).all()


@pytest.mark.parametrize(
    ("mass", "people", "trips", "share"),
    [(22.7, 2, 1, 11.35), (54.4, 2, 1, 27.2), (54.5, 2, 2, 13.625), (100.0, 1, 4, 25.0), (0.0, 2, 1, 0.0)],
)
def test_a_load_is_shared_evenly_over_the_fewest_trips(mass: float, people: int, trips: int, share: float) -> None:
    carry = share_load(mass, TravelOptions(people=people))
    assert (carry.trips, carry.share_kg) == (trips, pytest.approx(share))
    assert carry.share_kg <= TravelOptions().carry_limit.kg + 1e-9


def test_a_full_back_walks_slower_by_the_stated_share() -> None:
    options = TravelOptions(load_slows=0.2, carry_limit=Mass(25.0))
    assert pace_under_load(0.0, options) == 1.0
    assert pace_under_load(25.0, options) == pytest.approx(1.25)
    assert pace_under_load(12.5, options) == pytest.approx(1 / 0.9)
    assert pace_under_load(99.0, options) == pytest.approx(1.25)


def test_energy_of_a_level_walk() -> None:
    """An hour at 1.34 m/s with the 22.68 kg pack: 413.06 W * 3600 s / 4184 J."""
    seconds = np.full(36, 100.0)
    kcal = energy_kcal(80.0, 22.6796, (1.34 * seconds, np.zeros(36), seconds), 1.0)
    assert kcal == pytest.approx(413.06 * 3600 / 4184, rel=1e-4)
