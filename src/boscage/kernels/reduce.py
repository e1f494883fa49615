"""From a fine grid to a coarse one, block by block."""

import math
from typing import NamedTuple

import numpy as np
from numba import prange
from numpy.typing import NDArray

from boscage.kernels.flags import jit, parallel_jit


class BlockOut(NamedTuple):
    """What `block_reduce` fills: four float32 arrays of one shape (R, C)."""

    mean: NDArray[np.float32]
    share: NDArray[np.float32]
    peak: NDArray[np.float32]
    valid: NDArray[np.float32]


@jit
def _block(values: NDArray[np.float32], k: int, threshold: float, row: int, col: int) -> tuple[float, int, float, int]:
    """Sum, count at or over the threshold, peak and count of the valid cells of one block."""
    total = 0.0
    over = 0
    peak = -math.inf
    valid = 0
    for r in range(row * k, row * k + k):
        for c in range(col * k, col * k + k):
            value = np.float64(values[r, c])
            if math.isnan(value):
                continue
            valid += 1
            total += value
            over += value >= threshold
            peak = max(peak, value)
    return total, over, peak, valid


@jit
def _reduce_row(values: NDArray[np.float32], k: int, threshold: float, row: int, out: BlockOut) -> None:
    """Fill one row of the output."""
    for c in range(out.mean.shape[1]):
        total, over, peak, valid = _block(values, k, threshold, row, c)
        out.valid[row, c] = valid / (k * k)
        out.mean[row, c] = total / valid if valid else math.nan
        out.share[row, c] = over / valid if valid else math.nan
        out.peak[row, c] = peak if valid else math.nan


@parallel_jit
def block_reduce(values: NDArray[np.float32], k: int, threshold: float, out: BlockOut) -> None:
    """Describe each k x k block of `values` by four numbers.

    values: float32 (R * k, C * k), NaN = no data. k: cells along one side of a block, 1 or more.
    threshold: in the unit of `values`.
    out.mean:  mean of the valid cells, in the unit of `values`; summed in float64.
    out.share: share 0..1 of the valid cells whose value is `threshold` or more.
    out.peak:  greatest valid value, in the unit of `values`.
    out.valid: share 0..1 of the block's cells that are valid.
    Where a block has no valid cell, valid is 0 and the other three are NaN. With R or C = 0 nothing is
    written.
    """
    # The stores stay in a function of their own: written here, through the tuple, the compiler drops them.
    for row in prange(out.mean.shape[0]):
        _reduce_row(values, k, threshold, row, out)
