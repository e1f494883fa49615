"""Slope and roughness of the ground from an elevation grid (rows north to south, columns west to east)."""

import math

import numpy as np
from numba import prange
from numpy.typing import NDArray

from boscage.kernels.flags import jit, parallel_jit
from boscage.kernels.focal import half_widths

Elevation = NDArray[np.float32] | NDArray[np.float64]


@parallel_jit
def horn_gradient(z_m: Elevation, cell_m: float, out_dzdx: NDArray[np.float32], out_dzdy: NDArray[np.float32]) -> None:
    """Gradient of the ground by Horn's weighted differences over the 3 x 3 neighbourhood, rise over run.

    z_m: float32 or float64 (R, C), metres, NaN = no data. cell_m: side of a cell, metres.
    out_dzdx: (R, C), positive where the ground rises to the east.
    out_dzdy: (R, C), positive where the ground rises to the NORTH. (Many texts count rows downward and so
    print the opposite sign for dz/dy.) Downhill therefore faces atan2(-dzdx, -dzdy), clockwise from north.
    NaN where any of the nine cells is NaN, and all along the outer row or column of the grid. Grids under 3 x
    3 are all NaN; with R or C = 0 nothing is written.

    References: B. K. P. Horn (1981), Hill shading and the reflectance map, Proc. IEEE 69(1), 14-47.
    """
    rows, cols = z_m.shape
    scale = 1.0 / (8.0 * cell_m)
    for r in prange(rows):
        if r == 0 or r == rows - 1 or cols < 3:
            out_dzdx[r, :] = math.nan
            out_dzdy[r, :] = math.nan
            continue
        out_dzdx[r, 0] = math.nan
        out_dzdy[r, 0] = math.nan
        out_dzdx[r, cols - 1] = math.nan
        out_dzdy[r, cols - 1] = math.nan
        for c in range(1, cols - 1):
            nw, n, ne = (
                np.float64(z_m[r - 1, c - 1]),
                np.float64(z_m[r - 1, c]),
                np.float64(z_m[r - 1, c + 1]),
            )
            w, e = np.float64(z_m[r, c - 1]), np.float64(z_m[r, c + 1])
            sw, s, se = (
                np.float64(z_m[r + 1, c - 1]),
                np.float64(z_m[r + 1, c]),
                np.float64(z_m[r + 1, c + 1]),
            )
            missing = 0.0 * (n + s + w + e + np.float64(z_m[r, c]))  # NaN where one that a sum leaves out is NaN
            out_dzdx[r, c] = ((ne + 2.0 * e + se) - (nw + 2.0 * w + sw)) * scale + missing
            out_dzdy[r, c] = ((nw + 2.0 * n + ne) - (sw + 2.0 * s + se)) * scale + missing


@jit
def _plane(z_m: Elevation, halves: NDArray[np.int64], row: int, col: int) -> tuple[float, float, float]:
    """Least-squares plane over a disk wholly in the grid: rise per cell eastward, southward, and rms in m.

    The disk is symmetric in both axes, so the normal equations are three separate divisions.
    """
    reach = halves.size // 2
    origin = np.float64(z_m[row, col])
    count, total, sum_x, sum_y, xx, yy = 0, 0.0, 0.0, 0.0, 0.0, 0.0
    for dr in range(-reach, reach + 1):
        half = halves[dr + reach]
        for dc in range(-half, half + 1):
            rise = np.float64(z_m[row + dr, col + dc]) - origin
            count += 1
            total += rise
            sum_x += rise * dc
            sum_y += rise * dr
            xx += dc * dc
            yy += dr * dr
    mean, east, south = total / count, sum_x / xx, sum_y / yy
    squares = 0.0
    for dr in range(-reach, reach + 1):
        half = halves[dr + reach]
        for dc in range(-half, half + 1):
            rest = np.float64(z_m[row + dr, col + dc]) - origin - mean - east * dc - south * dr
            squares += rest * rest
    return east, south, math.sqrt(squares / count)


@parallel_jit
def plane_roughness(
    z_m: Elevation,
    radius_cells: float,
    cell_m: float,
    out_slope: NDArray[np.float32],
    out_rms_m: NDArray[np.float32],
) -> None:
    """Fit a plane by least squares to the disk round each cell; give its slope and what it leaves over.

    z_m: float32 or float64 (R, C), metres, NaN = no data. radius_cells: radius of the disk in cells (that
    distance included); below 1.5 the 3 x 3 neighbourhood is used. cell_m: side of a cell, metres.
    out_slope: (R, C), tangent of the plane's steepest slope (rise over run, 0 or more).
    out_rms_m: (R, C), root of the mean squared residual over all cells of the disk, metres.
    Both NaN where any cell of the disk is missing or off the grid. With R or C = 0 nothing is written.
    """
    rows, cols = z_m.shape
    halves = half_widths(max(radius_cells, 1.5))
    reach = halves.size // 2
    for r in prange(rows):
        for c in range(cols):
            slope, rms = math.nan, math.nan
            if reach <= r < rows - reach and reach <= c < cols - reach:
                east, south, rms = _plane(z_m, halves, r, c)
                slope = math.sqrt(east * east + south * south) / cell_m
            out_slope[r, c] = slope
            out_rms_m[r, c] = rms
