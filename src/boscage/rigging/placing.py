"""Constraints on corners that stand off the bark, with their derivatives.

The corners x (K, 2) of trees with centres p and radii r. Pull: a strap from the corner to the trunk holds two spans
when it lies between their backward directions, that is, when the trunk's centre is on the outer side of both lines.
Bark: neither span runs through the trunk that holds it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.ring_placing import log_roundness_of, placing_rows, placing_values

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Stand:
    """Where the corners of some trees may be.

    Attributes:
        trunk: (K, 3) east, north, radius, in the ring's order.
        reach_m: Farthest from the bark.
        most_span_m: (K,) longest span from each corner to the next.
        least_m, most_m: Perimeter.
    """

    trunk: Array
    reach_m: float
    most_span_m: Array
    least_m: float
    most_m: float


def log_roundness(corners: Array) -> tuple[float, Array]:
    """log(area / perimeter**2) and its derivative (2K,), columns x0 y0 x1 y1 ..."""
    slope = np.empty(2 * len(corners))
    return log_roundness_of(np.ascontiguousarray(corners), slope), slope


def constraints(corners: Array, stand: Stand) -> tuple[Array, Array]:
    """All values that must be 0 or more, (M,), and their derivatives, (M, 2K)."""
    rows = placing_rows(len(corners))
    value, slope = np.empty(rows), np.empty((rows, 2 * len(corners)))
    limits = np.concatenate([[stand.reach_m, stand.least_m, stand.most_m], stand.most_span_m])
    trunk = np.ascontiguousarray(stand.trunk, dtype=np.float64)
    placing_values(np.ascontiguousarray(corners, dtype=np.float64), trunk, limits, value, slope)
    return value, slope
