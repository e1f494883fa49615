"""Block statistics against numpy."""

import numpy as np
import pytest

from boscage.kernels.reduce import BlockOut, block_reduce


def reduced(values, k, threshold):
    shape = (values.shape[0] // k, values.shape[1] // k)
    out = BlockOut(*(np.full(shape, -9.0, np.float32) for _ in range(4)))
    block_reduce(values, k, threshold, out)
    return out


def twin(values, k, threshold):
    rows, cols = values.shape[0] // k, values.shape[1] // k
    blocks = values.astype(np.float64).reshape(rows, k, cols, k).swapaxes(1, 2).reshape(rows, cols, k * k)
    valid = ~np.isnan(blocks)
    count = valid.sum(-1)
    some = np.where(count > 0, count, np.nan)
    mean = np.where(valid, blocks, 0.0).sum(-1) / some
    share = (valid & (np.where(valid, blocks, -np.inf) >= threshold)).sum(-1) / some
    peak = np.where(count > 0, np.where(valid, blocks, -np.inf).max(-1), np.nan)
    return mean, share, peak, count / (k * k)


@pytest.mark.nojit
@pytest.mark.parametrize("k", [1, 2, 3, 5])
def test_block_reduce_equals_numpy(k):
    rng = np.random.default_rng(k)
    values = rng.normal(10.0, 5.0, (4 * k, 3 * k)).astype(np.float32)
    values[rng.random(values.shape) < 0.4] = np.nan
    for got, want in zip(reduced(values, k, 9.0), twin(values, k, 9.0), strict=True):
        np.testing.assert_allclose(got, want, rtol=1e-6)


@pytest.mark.nojit
def test_a_value_at_the_threshold_counts():
    out = reduced(np.array([[2.0, 1.0], [np.nan, 3.0]], np.float32), 2, 2.0)
    assert out.share[0, 0] == np.float32(2 / 3)
    assert out.peak[0, 0] == 3.0
    assert out.valid[0, 0] == 0.75


@pytest.mark.nojit
def test_a_block_without_data_is_nan_and_not_zero():
    out = reduced(np.full((2, 2), np.nan, np.float32), 2, 0.0)
    assert out.valid[0, 0] == 0.0
    assert np.isnan([out.mean[0, 0], out.share[0, 0], out.peak[0, 0]]).all()


@pytest.mark.nojit
@pytest.mark.parametrize("shape", [(0, 0), (0, 4), (4, 0)])
def test_empty_grid_writes_nothing(shape):
    assert reduced(np.empty(shape, np.float32), 2, 1.0).mean.size == 0
