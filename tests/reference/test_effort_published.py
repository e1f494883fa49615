"""Rates and changes of damage against published tables, tail probabilities and scipy's paired test."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import poisson, ttest_rel

from boscage.ledger.damage import compare_damage
from boscage.ledger.effort import corrected_per_hundred, poisson_rate
from boscage.model.ledger_land import DamageChange, Transect


@pytest.mark.parametrize(
    ("events", "low", "high"),
    [
        (0, 0.0, 3.6889), (1, 0.0253, 5.5716), (2, 0.2422, 7.2247), (5, 1.6235, 11.6683), (10, 4.7954, 18.3904),
        (20, 12.2165, 30.8884),
    ],
)  # fmt: skip
def test_exact_limits_of_a_count(events: int, low: float, high: float) -> None:
    """95 % limits of a Poisson mean: Garwood (1936), Biometrika 28:437-442, as in later tables; from memory."""
    found = poisson_rate(events, 1.0)
    assert (found.low, found.high) == pytest.approx((low, high), abs=6e-5)


@pytest.mark.parametrize("events", [1, 3, 26, 400])
@pytest.mark.parametrize("level", [0.8, 0.95, 0.99])
def test_limits_by_what_they_mean(events: int, level: float) -> None:
    """At the low end as many or more, at the high end as few or fewer, have the probability of one tail."""
    found = poisson_rate(events, 7.0, level)
    tail = (1.0 - level) / 2.0
    assert poisson.sf(events - 1, found.low * 7.0) == pytest.approx(tail, rel=1e-9)
    assert poisson.cdf(events, found.high * 7.0) == pytest.approx(tail, rel=1e-9)


def test_sprung_traps() -> None:
    """100 A / (TU - I S / 2) of Nelson and Clark (1973), J. Mammal. 54:295-298: 6 animals, 40 trap-nights, 8 sprung."""
    assert corrected_per_hundred(6, 40.0, 8) == pytest.approx(16.667, abs=5e-4)


@pytest.mark.parametrize("seed", range(5))
def test_a_change_on_equal_transects_is_the_paired_t_interval(seed: int) -> None:
    """Where all transects are of one length the ratio estimate is a mean: scipy.stats.ttest_rel."""
    rng = np.random.default_rng(seed)
    before, after = rng.uniform(20, 70, 12), rng.uniform(0, 50, 12)
    made = [
        [Transect(transect=str(i), surveyed=200.0, damaged=float(d)) for i, d in enumerate(x)] for x in (before, after)
    ]
    found = compare_damage(*made, level=0.9)
    assert isinstance(found, DamageChange)
    theirs = ttest_rel(after / 200.0, before / 200.0).confidence_interval(0.9)
    assert (found.change.low, found.change.high) == pytest.approx((theirs.low, theirs.high), rel=1e-9)
