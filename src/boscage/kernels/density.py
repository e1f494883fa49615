"""Smoothed density of weighted points on a grid."""

import math
from typing import NamedTuple

import numpy as np
from numba import prange
from numpy.typing import NDArray

from boscage.kernels.flags import jit, parallel_jit

BAND_ROWS = 64


class Points(NamedTuple):
    """Weighted points: three float64 arrays of one length N; metres east and north, weight of any sign."""

    x_m: NDArray[np.float64]
    y_m: NDArray[np.float64]
    weight: NDArray[np.float64]


class Corner(NamedTuple):
    """Where a grid lies: its west edge, its north edge and the side of a cell, all float, metres."""

    west_m: float
    north_m: float
    cell_m: float


@jit
def _is_finite(points: Points, i: int) -> bool:
    """Whether both coordinates and the weight of point i are finite."""
    return math.isfinite(points.x_m[i]) and math.isfinite(points.y_m[i]) and math.isfinite(points.weight[i])


@jit
def _cells_between(near: float, far: float, count: int) -> tuple[int, int]:
    """Cells whose centre lies in [near, far] (cells from the grid's edge), as a range within 0..count."""
    first = math.ceil(min(max(near - 0.5, 0.0), float(count)))
    past = math.floor(min(max(far - 0.5, -1.0), count - 1.0)) + 1
    return int(first), int(past)


@jit
def _add_point(
    place: tuple[float, float, float], sigma: float, reach: float, row0: int, out: NDArray[np.float64]
) -> None:
    """Add one point to the rows of `out`, whose first row is row `row0` of the grid.

    place: columns east of the west edge, rows south of the north edge (both in cells), and the peak value at
    the point.
    sigma, reach: bandwidth and radius of the cut, in cells.
    """
    east, south, peak = place
    rows, cols = out.shape
    south -= row0
    row_a, row_b = _cells_between(south - reach, south + reach, rows)
    col_a, col_b = _cells_between(east - reach, east + reach, cols)
    if row_a >= row_b or col_a >= col_b:
        return
    fall = -0.5 / (sigma * sigma)
    across = np.empty(col_b - col_a, np.float64)
    for c in range(col_a, col_b):
        across[c - col_a] = math.exp(fall * (c + 0.5 - east) ** 2)
    for r in range(row_a, row_b):
        away = r + 0.5 - south
        half = math.sqrt(max(reach * reach - away * away, 0.0))
        down = peak * math.exp(fall * away * away)
        first, past = _cells_between(east - half, east + half, cols)
        for c in range(max(first, col_a), min(past, col_b)):
            out[r, c] += down * across[c - col_a]


@parallel_jit
def gaussian_density(
    points: Points, corner: Corner, bandwidth_m: float, cutoff: float, out: NDArray[np.float64]
) -> int:
    """Sum of weight * bivariate normal density of each point, at each cell centre.

    out: float64 (R, C), weight per square metre; rows run north to south from corner.north_m, columns west to
    east from corner.west_m. bandwidth_m: standard deviation along each axis, metres, over 0.
    cutoff: radius, in bandwidths, beyond which a point adds nothing. Nothing is scaled up to make good the
    cut, so each point loses the share exp(-cutoff**2 / 2) of its weight (0.011 at 3, 0.00034 at 4, 0.0000037
    at 5).
    Points with a coordinate or weight that is not finite are left out, and their number is the answer
    returned.
    Points off the grid add what falls on it. With N = 0 all is 0; with R or C = 0 nothing is written.
    The answer does not depend on the number of threads: each cell adds the points in their order.

    References: B. J. Worton (1989), Kernel methods for estimating the utilization distribution in home-range
    studies, Ecology 70(1), 164-168, equation 1, with a fixed bandwidth.
    """
    rows = out.shape[0]
    left_out = 0
    for i in range(points.x_m.size):
        left_out += not _is_finite(points, i)
    sigma = bandwidth_m / corner.cell_m
    scale = 1.0 / (2.0 * math.pi * bandwidth_m * bandwidth_m)
    for band in prange((rows + BAND_ROWS - 1) // BAND_ROWS):
        strip = out[band * BAND_ROWS : min(rows, (band + 1) * BAND_ROWS)]
        strip[:, :] = 0.0
        for i in range(points.x_m.size):
            if _is_finite(points, i):
                east = (points.x_m[i] - corner.west_m) / corner.cell_m
                south = (corner.north_m - points.y_m[i]) / corner.cell_m
                _add_point((east, south, points.weight[i] * scale), sigma, cutoff * sigma, band * BAND_ROWS, strip)
    return left_out
