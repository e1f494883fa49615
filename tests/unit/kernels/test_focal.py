"""Disk means against a sum over every cell of the disk."""

import numba
import numpy as np
import pytest
from numba import config

from boscage.kernels.focal import disk_mean, half_widths


def mean_of(values, radius_cells, least_share=0.0):
    out = np.full(values.shape, -9.0, np.float32)
    disk_mean(values, radius_cells, least_share, out)
    return out


def twin(values, radius_cells, least_share):
    """Shift the grid once for each cell of the disk, with a rim of no data round it."""
    reach = int(radius_cells)
    rows, cols = values.shape
    padded = np.pad(values.astype(np.float64), reach, constant_values=np.nan)
    total, count, cells = np.zeros(values.shape), np.zeros(values.shape), 0
    for dr in range(-reach, reach + 1):
        for dc in range(-reach, reach + 1):
            if dr * dr + dc * dc > radius_cells**2:
                continue
            cells += 1
            piece = padded[reach + dr : reach + dr + rows, reach + dc : reach + dc + cols]
            count += np.isfinite(piece)
            total += np.where(np.isfinite(piece), piece, 0.0)
    keep = (count > 0) & (count >= least_share * cells - 1e-9)
    return np.where(keep, total / np.where(keep, count, 1.0), np.nan)


@pytest.mark.nojit
@pytest.mark.parametrize("radius_cells", [0.0, 0.9, 1.0, 1.5, 2.3, 5.0])
@pytest.mark.parametrize("least_share", [0.0, 0.5, 0.9])
def test_disk_mean_equals_the_sum_over_the_disk(radius_cells, least_share):
    rng = np.random.default_rng(3)
    values = rng.normal(100.0, 30.0, (11, 14)).astype(np.float32)
    values[rng.random(values.shape) < 0.2] = np.nan
    want = twin(values, radius_cells, least_share)
    np.testing.assert_allclose(mean_of(values, radius_cells, least_share), want, rtol=3e-7)


@pytest.mark.parametrize("radius_cells", [3.0, 15.0])
def test_disk_mean_is_the_same_across_the_seams_of_its_tiles(radius_cells):
    rng = np.random.default_rng(4)
    values = (rng.random((300, 560)) * 1000.0).astype(np.float32)
    values[rng.random(values.shape) < 0.1] = np.nan
    np.testing.assert_allclose(mean_of(values, radius_cells, 0.4), twin(values, radius_cells, 0.4), rtol=3e-7)


def test_sums_do_not_drift_along_a_long_row():
    values = np.full((3, 20000), 0.1, np.float32)
    values[:, :50] = 1.0e6
    got = mean_of(values, 1.0)
    assert np.max(np.abs(got[:, 100:].astype(np.float64) - np.float64(np.float32(0.1)))) < 1e-8


@pytest.mark.nojit
def test_disk_takes_in_a_centre_exactly_at_the_radius():
    assert half_widths(5.0).tolist() == [0, 3, 4, 4, 4, 5, 4, 4, 4, 3, 0]
    assert half_widths(1.0).tolist() == [0, 1, 0]


@pytest.mark.nojit
def test_cells_off_the_grid_count_as_no_data():
    values = np.ones((5, 5), np.float32)
    got = mean_of(values, 1.0, 1.0)
    inner = np.zeros((5, 5), bool)
    inner[1:-1, 1:-1] = True
    assert np.array_equal(np.isfinite(got), inner)
    assert np.isfinite(mean_of(values, 1.0, 0.6)).all()  # a corner has 3 of 5


@pytest.mark.nojit
def test_one_infinite_cell_spoils_no_other():
    values = np.ones((4, 9), np.float32)
    values[1, 2] = np.inf
    assert np.array_equal(mean_of(values, 2.0), np.ones((4, 9), np.float32))


@pytest.mark.skipif(config.DISABLE_JIT or config.NUMBA_NUM_THREADS < 2, reason="needs two threads")
def test_any_number_of_threads_gives_the_same_bytes():
    values = np.random.default_rng(5).random((900, 700)).astype(np.float32)
    before = numba.get_num_threads()
    try:
        numba.set_num_threads(1)
        one = mean_of(values, 7.5)
        numba.set_num_threads(2)
        assert one.tobytes() == mean_of(values, 7.5).tobytes()
    finally:
        numba.set_num_threads(before)


@pytest.mark.nojit
@pytest.mark.parametrize("shape", [(0, 0), (0, 3), (3, 0)])
def test_empty_grid_writes_nothing(shape):
    assert mean_of(np.empty(shape, np.float32), 3.0).shape == shape
