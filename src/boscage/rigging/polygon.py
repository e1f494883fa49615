"""Measures of a closed ring of corners, (K, 2) east and north, counter-clockwise."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.ring_corners import ring_worth

Array = NDArray[np.float64]


def spans(corners: Array) -> Array:
    """(K,) metres from each corner to the next."""
    return np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)


def area(corners: Array) -> float:
    """Square metres; positive counter-clockwise."""
    x, y = (corners - corners[0]).T
    return float(0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))


def roundness(corners: Array) -> float:
    """Isoperimetric quotient 4 pi area / perimeter**2."""
    return 4.0 * math.pi * area(corners) / float(spans(corners).sum()) ** 2


def turns(corners: Array) -> Array:
    """(K,) radians by which the line turns left at each corner."""
    back, ahead = corners - np.roll(corners, 1, axis=0), np.roll(corners, -1, axis=0) - corners
    return np.arctan2(back[:, 0] * ahead[:, 1] - back[:, 1] * ahead[:, 0], (back * ahead).sum(axis=1))


def regular_roundness(count: int) -> float:
    """Isoperimetric quotient of the regular polygon, (pi / n) cot(pi / n): the most that n corners can reach."""
    return math.pi / count / math.tan(math.pi / count)


def score_of(corners: Array, spacing_m: float, least_m: float, most_m: float) -> float | None:
    """Score of a ring without posts; None where it is not strictly convex or its perimeter is outside the window."""
    out = np.empty(4)
    fits = ring_worth(np.ascontiguousarray(corners), spacing_m, least_m, most_m, out)
    return float(out[0]) if fits else None
