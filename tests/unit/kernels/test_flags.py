"""The compile flags: one meaning for all kernels."""

import numpy as np
import pytest
from numba import config

from boscage.kernels import density, focal, reduce, terrain, travel

KERNELS = [
    density.gaussian_density,
    focal.disk_mean,
    reduce.block_reduce,
    terrain.horn_gradient,
    terrain.plane_roughness,
    travel.travel_time,
    travel.trace,
]


@pytest.mark.skipif(config.DISABLE_JIT, reason="plain Python carries no flags")
@pytest.mark.parametrize("kernel", KERNELS, ids=lambda kernel: kernel.__name__)
def test_flags_release_the_lock_and_keep_the_order_of_sums(kernel):
    options = kernel.targetoptions
    assert options["nogil"] is True
    assert options["error_model"] == "numpy"
    assert not options.get("fastmath", False)


@pytest.mark.nojit
def test_division_by_zero_raises_nothing_in_either_mode():
    out = np.empty((2, 2), np.float32)
    focal.disk_mean(np.full((2, 2), np.nan, np.float32), 1.0, 0.0, out)
    assert np.isnan(out).all()
