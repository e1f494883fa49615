"""Where each cell's way begins, against following it step by step."""

import numpy as np
import pytest

from boscage.kernels.roots import find_roots
from boscage.kernels.travel import OFFSETS_8, OFFSETS_16, TOBLER_OUTWARD, Ground, travel_time


@pytest.mark.nojit
@pytest.mark.parametrize("offsets", [OFFSETS_8, OFFSETS_16], ids=["8", "16"])
def test_roots_equal_following_every_way_back(offsets):
    rng = np.random.default_rng(2)
    shape = (14, 17)
    pace = rng.uniform(1.0, 3.0, shape).astype(np.float32)
    pace[rng.random(shape) < 0.25] = np.inf
    time_s = np.full(shape, np.inf)
    for seed in ((2, 3), (10, 12), (7, 0)):
        time_s[seed], pace[seed] = rng.uniform(0.0, 30.0), 1.0
    back = np.empty(shape, np.int8)
    travel_time(Ground(np.zeros(shape, np.float32), pace, 10.0), TOBLER_OUTWARD, offsets, time_s, time_s, back)
    roots = np.empty(shape, np.int64)
    find_roots(back, offsets, roots)
    for row, col in np.ndindex(shape):
        r, c = row, col
        while back[r, c] >= 0:
            r, c = r + offsets[back[r, c], 0], c + offsets[back[r, c], 1]
        assert roots[row, col] == r * shape[1] + c
    assert len(np.unique(roots[np.isfinite(time_s)])) == 3


@pytest.mark.nojit
def test_an_empty_grid_has_no_roots():
    find_roots(np.empty((0, 4), np.int8), OFFSETS_8, np.empty((0, 4), np.int64))
