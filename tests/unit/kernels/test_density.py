"""Density against a double loop over points and cells."""

import math

import numpy as np
import pytest

from boscage.kernels.density import Corner, Points, gaussian_density


def density(points, corner, bandwidth_m, cutoff, shape):
    out = np.full(shape, -9.0)
    left_out = gaussian_density(points, corner, bandwidth_m, cutoff, out)
    return out, left_out


def twin(points, corner, bandwidth_m, cutoff, shape):
    row, col = np.indices(shape)
    x_m = corner.west_m + (col + 0.5) * corner.cell_m
    y_m = corner.north_m - (row + 0.5) * corner.cell_m
    total = np.zeros(shape)
    for px, py, weight in zip(*points, strict=True):
        d2 = ((x_m - px) ** 2 + (y_m - py) ** 2) / bandwidth_m**2
        peak = weight / (2 * math.pi * bandwidth_m**2)
        total += np.where(d2 <= cutoff**2, peak * np.exp(-d2 / 2), 0.0)
    return total


def some_points(count, seed=7):
    rng = np.random.default_rng(seed)
    return Points(rng.uniform(-200.0, 900.0, count), rng.uniform(-100.0, 800.0, count), rng.random(count) * 4 - 1)


CORNER = Corner(west_m=31.7, north_m=702.3, cell_m=37.1)


@pytest.mark.nojit
@pytest.mark.parametrize("cutoff", [1.0, 2.5, 6.0])
def test_density_equals_the_double_loop(cutoff):
    points = some_points(8)
    got, left_out = density(points, CORNER, 90.0, cutoff, (17, 15))
    assert left_out == 0
    np.testing.assert_allclose(got, twin(points, CORNER, 90.0, cutoff, (17, 15)), rtol=1e-11, atol=1e-18)


def test_density_is_whole_across_the_seams_of_its_bands():
    points = some_points(30)
    corner = Corner(0.0, 700.0, 5.0)
    got, _ = density(points, corner, 60.0, 4.0, (140, 150))
    np.testing.assert_allclose(got, twin(points, corner, 60.0, 4.0, (140, 150)), rtol=1e-11, atol=1e-18)


@pytest.mark.nojit
def test_points_that_are_not_finite_are_left_out_and_counted():
    good = Points(np.array([100.0]), np.array([600.0]), np.array([2.0]))
    bad = Points(
        np.array([100.0, np.nan, 100.0, 100.0]),
        np.array([600.0, 600.0, np.inf, 600.0]),
        np.array([2.0, 1, 1, np.nan]),
    )
    got, left_out = density(bad, CORNER, 50.0, 4.0, (9, 9))
    assert left_out == 3
    assert np.array_equal(got, density(good, CORNER, 50.0, 4.0, (9, 9))[0])


@pytest.mark.nojit
def test_a_point_far_off_the_grid_adds_nothing():
    far = Points(np.array([1e300, -1e300, 0.0]), np.array([0.0, 0.0, 1e300]), np.ones(3))
    got, left_out = density(far, CORNER, 50.0, 4.0, (4, 4))
    assert left_out == 0
    assert not got.any()


@pytest.mark.nojit
def test_no_points_is_zero_everywhere_and_an_empty_grid_stays_empty():
    none = Points(np.empty(0), np.empty(0), np.empty(0))
    assert not density(none, CORNER, 50.0, 4.0, (3, 4))[0].any()
    assert density(some_points(2), CORNER, 50.0, 4.0, (0, 4))[0].size == 0
    assert density(some_points(2), CORNER, 50.0, 4.0, (4, 0))[0].size == 0
