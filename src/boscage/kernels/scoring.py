"""The weighted score of a grid, factor by factor in single precision."""

import math

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.flags import jit

Floats32 = NDArray[np.float32]


@jit
def add_factor(values: Floats32, weight: np.float32, total: Floats32, known: Floats32) -> None:
    """Add one factor to the sums of some cells.

    values: (n,) 0..1, NaN = no data. weight: over 0.
    total, known: (n,) sums so far of weight * value and of the weight that has data; both are added to. A cell without
    data changes neither. With n = 0 nothing is done.
    """
    nothing = np.float32(0.0)
    for i in range(values.size):
        value = values[i]
        has = value == value  # noqa: PLR0124  (false for NaN alone)
        total[i] += value * weight if has else nothing
        known[i] += weight if has else nothing


@jit
def finish_score(
    total: Floats32,
    known: Floats32,
    limits: tuple[np.float32, np.float32],
    open_cells: NDArray[np.bool_],
    out: Floats32,
) -> None:
    """Turn the sums of some cells into scores.

    total, known: (n,) as `add_factor` leaves them. limits: sum of all weights, and the least share of it that must have
    data. open_cells: (n,) where a place may be.
    out: (n,) 100 * total / known; NaN where a cell is not open, nothing is known, or too little is.
    """
    whole, least = limits
    for i in range(total.size):
        share = known[i] / whole
        enough = open_cells[i] and known[i] > np.float32(0.0) and share >= least
        out[i] = np.float32(100.0) * total[i] / known[i] if enough else np.float32(math.nan)
