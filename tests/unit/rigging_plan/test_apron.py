"""The apron's fall: both limits, the curve's length by integration, and order."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from boscage.errors import InputError
from boscage.rigging.apron import Apron

HEIGHTS = st.floats(0.5, 3.0)
RATIOS = st.floats(1.02, 3.0)
SHARES = st.floats(0.0, 1.0)


def length(profile):
    return float(np.hypot(*np.diff(profile, axis=0).T).sum())


def test_limits_are_exact():
    apron = Apron(height_m=1.5, netting_m=2.5)
    assert apron.near_m == 1.0 == apron.offset_m(1.0)  # a = 0: drops at a right angle
    assert apron.far_m == 2.0  # the 3-4-5 triangle: straight and tight
    assert apron.near_m < apron.best_m < apron.touching_m < apron.far_m
    straight = apron.profile(apron.far_m)
    assert straight[:, 1] == pytest.approx(1.5 * (1.0 - straight[:, 0] / 2.0), abs=1e-12)
    dropped = apron.profile(apron.near_m)
    assert (dropped[:-1, 0] == 0.0).all()
    assert tuple(dropped[-1]) == (1.0, 0.0)


@given(HEIGHTS, RATIOS, SHARES)
def test_hanging_and_flat_make_up_the_netting(height, ratio, flat):
    apron = Apron(height_m=height, netting_m=height * ratio)
    a = apron.constant_m(flat)
    down = apron.offset_m(flat) - flat * apron.apron_m
    if a > 1e-6 * height:
        assert a * (math.cosh(down / a) - 1.0) == pytest.approx(height, rel=1e-9)
        if down / a < 20.0:
            hanging = quad(lambda x: math.cosh(x / a), 0.0, down, epsrel=1e-11)[0]
            assert hanging + flat * apron.apron_m == pytest.approx(apron.netting_m, rel=1e-9)


@given(HEIGHTS, RATIOS, st.lists(SHARES, min_size=2, max_size=6, unique=True))
def test_more_lying_flat_means_a_nearer_stake(height, ratio, shares):
    apron = Apron(height_m=height, netting_m=height * ratio)
    offsets = [apron.offset_m(s) for s in sorted(shares)]
    assert all(b <= a + 1e-12 for a, b in itertools.pairwise(offsets))
    assert apron.near_m - 1e-9 <= offsets[-1] <= offsets[0] + 1e-12 <= apron.touching_m + 1e-9 <= apron.far_m + 1e-9


@pytest.mark.parametrize("where", [0.0, 0.02, 0.3, 0.5, 0.8, 0.93, 0.99, 1.0])
def test_the_curve_drawn_is_as_long_as_the_netting(where):
    apron = Apron(height_m=1.524, netting_m=2.7432)
    offset = apron.near_m + where * (apron.far_m - apron.near_m)
    profile = apron.profile(offset, points=4000)
    assert length(profile) == pytest.approx(2.7432, rel=2e-6)
    assert tuple(profile[0]) == pytest.approx((0.0, 1.524), abs=1e-9)
    assert tuple(profile[-1]) == pytest.approx((offset, 0.0), abs=1e-9)
    assert (np.diff(profile[:, 0]) >= -1e-12).all()
    assert (np.diff(profile[:, 1]) <= 1e-12).all()
    assert (profile[:, 1] >= -1e-9).all()


def test_half_of_the_apron_lies_flat_at_the_recommended_offset():
    apron = Apron(height_m=1.5, netting_m=2.5)
    profile = apron.profile(apron.best_m)
    assert profile[-1, 0] - profile[-2, 0] == pytest.approx(0.5, abs=1e-9)


def test_curves_on_either_side_of_touching_meet():
    apron = Apron(height_m=1.5, netting_m=2.5)
    near, far = (apron.profile(apron.touching_m + step, points=400) for step in (-1e-6, 1e-6))
    middle = np.interp(0.8, near[:, 0], near[:, 1]), np.interp(0.8, far[:, 0], far[:, 1])
    assert middle[0] == pytest.approx(middle[1], abs=1e-3)


@pytest.mark.parametrize(("height", "netting"), [(1.5, 1.5), (1.5, 1.2), (0.0, 2.0), (1.5, math.nan), (1.5, math.inf)])
def test_netting_that_does_not_reach_the_ground_is_refused(height, netting):
    with pytest.raises(InputError):
        Apron(height_m=height, netting_m=netting)


def test_offsets_outside_the_band_and_shares_outside_0_to_1_are_refused():
    apron = Apron(height_m=1.5, netting_m=2.5)
    for wrong in (lambda: apron.profile(0.9), lambda: apron.profile(2.1), lambda: apron.offset_m(1.1)):
        with pytest.raises(InputError):
            wrong()
