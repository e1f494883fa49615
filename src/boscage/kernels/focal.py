"""Moving-window means over a disk."""

import math

import numpy as np
from numba import prange
from numpy.typing import NDArray

from boscage.kernels.flags import jit, parallel_jit

TILE_COLS = 512
TILE_ROWS = 256


@jit
def half_widths(radius_cells: float) -> NDArray[np.int64]:
    """Half width in cells of each row of a disk from top to bottom, shape (2 * floor(radius) + 1,).

    A cell (dr, dc) belongs to the disk when dr**2 + dc**2 <= radius_cells**2.
    """
    reach = math.floor(radius_cells)
    limit = radius_cells * radius_cells
    halves = np.zeros(2 * reach + 1, np.int64)
    for i in range(2 * reach + 1):
        half = reach
        while half * half + (i - reach) * (i - reach) > limit:
            half -= 1
        halves[i] = half
    return halves


@jit
def _prefix_row(
    values: NDArray[np.float32], row: int, first: int, sums: NDArray[np.float64], counts: NDArray[np.int32]
) -> None:
    """Running sum and count of one row from column `first` on; cells off the grid count as no data.

    sums, counts: shape (n + 1,); entry i covers the first i cells, so entry 0 is 0.
    """
    rows, cols = values.shape
    total = 0.0
    count = 0
    sums[0] = 0.0
    counts[0] = 0
    for i in range(sums.size - 1):
        col = first + i
        if 0 <= row < rows and 0 <= col < cols:
            value = np.float64(values[row, col])
            if math.isfinite(value):
                total += value
                count += 1
        sums[i + 1] = total
        counts[i + 1] = count


@jit
def _add_span(total: NDArray[np.float64], ahead: NDArray[np.float64], behind: NDArray[np.float64]) -> None:
    """Add one row of the disk to the running totals; three arrays of one length."""
    for i in range(total.size):
        total[i] += ahead[i] - behind[i]


@jit
def _add_count(total: NDArray[np.int32], ahead: NDArray[np.int32], behind: NDArray[np.int32]) -> None:
    """Add one row of the disk to the running counts; three arrays of one length."""
    for i in range(total.size):
        total[i] += ahead[i] - behind[i]


@jit
def _tile(
    values: NDArray[np.float32],
    halves: NDArray[np.int64],
    need: int,
    row0: int,
    col0: int,
    out: NDArray[np.float32],
) -> None:
    """Means of one tile of the grid with north-west cell (row0, col0); the prefix rows live in a ring."""
    reach = halves.size // 2
    row1 = min(row0 + _tile_side(TILE_ROWS, reach), out.shape[0])
    width = min(col0 + _tile_side(TILE_COLS, reach), out.shape[1]) - col0
    sums = np.empty((halves.size, width + 2 * reach + 1), np.float64)
    counts = np.empty((halves.size, width + 2 * reach + 1), np.int32)
    total = np.empty(width, np.float64)
    count = np.empty(width, np.int32)
    for row in range(row0 - reach, row0 + reach):
        slot = (row - row0 + reach) % halves.size
        _prefix_row(values, row, col0 - reach, sums[slot], counts[slot])
    for row in range(row0, row1):
        slot = (row - row0 + 2 * reach) % halves.size
        _prefix_row(values, row + reach, col0 - reach, sums[slot], counts[slot])
        total[:] = 0.0
        count[:] = 0
        for i in range(halves.size):
            slot = (row - row0 + i) % halves.size
            behind = reach - halves[i]
            ahead = reach + halves[i] + 1
            _add_span(total, sums[slot, ahead : ahead + width], sums[slot, behind : behind + width])
            _add_count(count, counts[slot, ahead : ahead + width], counts[slot, behind : behind + width])
        for i in range(width):
            out[row, col0 + i] = total[i] / count[i] if count[i] >= need else math.nan


@jit
def _tile_side(least: int, reach: int) -> int:
    """Side of a tile in cells, so that the rim computed twice stays small beside it."""
    return max(least, 8 * reach)


@parallel_jit
def disk_mean(values: NDArray[np.float32], radius_cells: float, least_share: float, out: NDArray[np.float32]) -> None:
    """Mean of the cells whose centre lies within `radius_cells` (included) of each cell's centre.

    values: float32 (R, C); NaN or infinite = no data. radius_cells: 0 or more, in cells.
    least_share: 0..1. out: float32 (R, C), in the unit of `values`; another array than `values`.
    A cell is NaN where fewer than `least_share` of the whole disk's cells have data, or none has. Cells of
    the disk that lie off the grid count as cells without data. With R or C = 0 nothing is written.

    Work per cell grows with the radius, not with its square: each row of the disk is the difference of two
    running sums in float64, begun anew in each tile of the grid. Absolute error of a disk's sum: at most
    about 3e-16 * cells in a tile's row * sum of the absolute values in the tile's rows. Scratch memory per
    thread: 12 bytes * (2 r + 1) * (max(512, 8 r) + 2 r + 1). The answer does not depend on the number of
    threads.
    """
    rows, cols = values.shape
    halves = half_widths(radius_cells)
    reach = halves.size // 2
    cells = 0
    for half in halves:
        cells += 2 * half + 1
    need = max(1, math.ceil(least_share * cells - 1e-9))
    tall = _tile_side(TILE_ROWS, reach)
    wide = _tile_side(TILE_COLS, reach)
    across = (cols + wide - 1) // wide
    for tile in prange(((rows + tall - 1) // tall) * across):
        _tile(values, halves, need, (tile // across) * tall, (tile % across) * wide, out)
