"""Tree tops in a canopy height raster: local maxima in a round window that grows with the height of its centre.

References: S. C. Popescu and R. H. Wynne (2004), Seeing the trees in the forest, Photogrammetric Engineering and
Remote Sensing 70(5), 589-604 (the window's diameter as a function of the centre's height).
"""

import math
from typing import NamedTuple

import numpy as np
from numba import prange
from numpy.typing import NDArray

from boscage.kernels.flags import jit, parallel_jit

PLATEAU_CELLS = 8
TALLEST_M = 60.0
CANOPY_M = 2.0
LONGEST_RAY_M = 8.0
RAY_SHARE = 0.6
RAY_RISE_M = 0.5
_RAYS = 8
_STRIDE = 64
_ROW_STEP = (0, -1, -1, -1, 0, 1, 1, 1)
_COL_STEP = (1, 1, 0, -1, -1, -1, 0, 1)


class Window(NamedTuple):
    """A window's diameter in metres: base + slope * h + square * h**2, h in metres, held at that of a 60 m tree."""

    base: float
    slope: float
    square: float


class TopOut(NamedTuple):
    """What `measure_tops` fills: float32 arrays of shape (n,), one entry a top.

    down, across: from the centre of the top's cell to the top, in cells, -0.5..0.5. height: the canopy there, m.
    radius: of the crown, m. open_rays: share 0..1 of the crown's rays that end where there are no data.
    """

    down: NDArray[np.float32]
    across: NDArray[np.float32]
    height: NDArray[np.float32]
    radius: NDArray[np.float32]
    open_rays: NDArray[np.float32]


@jit
def window_radius(height_m: float, window: Window, cell_m: float) -> float:
    """Radius of the window in cells, at least 1."""
    h = min(height_m, TALLEST_M)
    diameter = window.base + window.slope * h + window.square * h * h
    return max(1.0, 0.5 * diameter / cell_m)


@jit
def _candidates(
    above: NDArray[np.float32],
    here: NDArray[np.float32],
    below: NDArray[np.float32],
    least_m: float,
    out: NDArray[np.uint8],
) -> None:
    """Mark the cells of one row with no higher neighbour above, below, left or right; cells without data do not count.

    above, here, below: (n + 2,); out: (n,), for the cells 1..n of `here`.
    """
    left, middle, right = here[:-2], here[1:-1], here[2:]
    up, down = above[1:-1], below[1:-1]
    least = np.float32(least_m)
    for i in range(out.size):
        c = middle[i]
        out[i] = (c >= least) & (not up[i] > c) & (not down[i] > c) & (not left[i] > c) & (not right[i] > c)


@jit
def _tops_window(canopy: NDArray[np.float32], row: int, col: int, radius: float) -> int:
    """Whether a cell tops its window: 0 no, 1 yes, 2 yes but beside a cell just as high."""
    rows, cols = canopy.shape
    height = canopy[row, col]
    reach = math.floor(radius)
    limit = radius * radius
    answer = 1
    for r in range(max(0, row - reach), min(rows, row + reach + 1)):
        for c in range(max(0, col - reach), min(cols, col + reach + 1)):
            value = canopy[r, c]
            if value < height or (r == row and c == col):
                continue
            away = (r - row) * (r - row) + (c - col) * (c - col)
            if value > height and away <= limit:
                return 0
            if value == height and away <= limit:
                if r < row or (r == row and c < col):
                    return 0
                answer = 2
            elif value == height and away <= 2:
                answer = 2
    return answer


@jit
def _leads_plateau(canopy: NDArray[np.float32], row: int, col: int) -> bool:
    """Whether a cell is the first, in reading order, of the level patch it belongs to, and nothing beside it is higher.

    The patch is grown over the sides and corners of cells just as high, no farther than `PLATEAU_CELLS` rows or columns
    from the cell.
    """
    rows, cols = canopy.shape
    side = 2 * PLATEAU_CELLS + 1
    seen = np.zeros((side, side), np.bool_)
    cells = np.empty((side * side, 2), np.int64)
    height = canopy[row, col]
    cells[0, 0], cells[0, 1] = row, col
    seen[PLATEAU_CELLS, PLATEAU_CELLS] = True
    count = 1
    done = 0
    while done < count:
        r0, c0 = cells[done, 0], cells[done, 1]
        done += 1
        for r in range(max(0, r0 - 1), min(rows, r0 + 2)):
            for c in range(max(0, c0 - 1), min(cols, c0 + 2)):
                if canopy[r, c] > height and (r == r0 or c == c0):
                    return False
                i, j = r - row + PLATEAU_CELLS, c - col + PLATEAU_CELLS
                if canopy[r, c] != height or i < 0 or j < 0 or i >= side or j >= side or seen[i, j]:
                    continue
                if r < row or (r == row and c < col):
                    return False
                seen[i, j] = True
                cells[count, 0], cells[count, 1] = r, c
                count += 1
    return True


@jit
def _tops_of_row(
    canopy: NDArray[np.float32], row: int, window: Window, cell_m: float, marks: NDArray[np.uint8]
) -> None:
    """Keep, of the marked candidates of one row, those that top their window. marks: (C,)."""
    for col in range(marks.size):
        if marks[col] == 0:
            continue
        kind = _tops_window(canopy, row, col, window_radius(np.float64(canopy[row, col]), window, cell_m))
        marks[col] = kind == 1 or (kind == 2 and _leads_plateau(canopy, row, col))


@jit
def _mark_row(
    canopy: NDArray[np.float32], row: int, window: Window, cell_m: float, least_m: float, out: NDArray[np.uint8]
) -> None:
    """Marks of one row. The outermost columns are looked at by themselves."""
    rows, cols = canopy.shape
    above, below = canopy[max(0, row - 1)], canopy[min(rows - 1, row + 1)]
    if cols > 2:
        _candidates(above, canopy[row], below, least_m, out[row, 1:-1])
    for col in (0, cols - 1):
        out[row, col] = canopy[row, col] >= np.float32(least_m)
    _tops_of_row(canopy, row, window, cell_m, out[row])


@parallel_jit
def mark_tops(
    canopy: NDArray[np.float32],
    span: tuple[int, int],
    window: Window,
    cell_m: float,
    least_m: float,
    out: NDArray[np.uint8],
) -> None:
    """Mark the cells that are tree tops with 1, all others with 0.

    canopy: float32 (R, C), heights in m, C-contiguous; NaN = no data. span: first row and row after the last that
    are looked at; other rows of `out` are left alone. window: see `Window`. cell_m: over 0. least_m: over 0; lower
    cells are no tops. out: uint8 (R, C). With R or C = 0 nothing is written.

    A cell is a top when no cell whose centre lies in its round window is higher. Of cells just as high, the first in
    reading order stands for all: within a window, and over any level patch that reaches no farther than 8 cells from
    it. A patch beside a higher cell is none. Cells off the grid and without data count for nothing. The answer for a
    cell depends on the cells within max(window's radius, 9 cells) alone, and not on the number of threads.
    """
    if canopy.shape[1] > 0:
        for row in prange(span[0], span[1]):
            _mark_row(canopy, row, window, cell_m, least_m, out)


@jit
def list_tops(marks: NDArray[np.uint8], rows: tuple[int, int], cols: tuple[int, int], out: NDArray[np.int64]) -> int:
    """Rows and columns of the marked cells of a part of the grid, in reading order; their number.

    marks: uint8 (R, C). rows, cols: first and after the last. out: int64 (n, 2); at most n cells are listed.
    """
    count = 0
    for row in range(rows[0], rows[1]):
        for col in range(cols[0], cols[1], _STRIDE):
            stretch = marks[row, col : min(col + _STRIDE, cols[1])]
            held = 0
            for k in range(stretch.size):
                held |= stretch[k]
            if held == 0:
                continue
            for k in range(stretch.size):
                if stretch[k] != 0 and count < out.shape[0]:
                    out[count, 0], out[count, 1] = row, col + k
                    count += 1
    return count


@jit
def count_blocks(
    canopy: NDArray[np.float32],
    first: tuple[int, int],
    row_edges: NDArray[np.int64],
    col_edges: NDArray[np.int64],
    out: NDArray[np.int64],
) -> None:
    """Add to each block the number of its cells that hold data, and of those that are canopy (2 m and higher).

    canopy: float32 (R, C), m, NaN = no data. first: row and column of the grid that cell (0, 0) of `canopy` is.
    row_edges, col_edges: (r + 1,), (c + 1,), rising, in rows and columns of the grid: block (i, j) holds the rows from
    row_edges[i] up to row_edges[i + 1], the last left out. Only cells of `canopy` within the edges are counted.
    out: int64 (2, r, c), added to.
    """
    rows, cols = canopy.shape
    tall = np.float32(CANOPY_M)
    for i in range(row_edges.size - 1):
        for row in range(max(0, row_edges[i] - first[0]), min(rows, row_edges[i + 1] - first[0])):
            for j in range(col_edges.size - 1):
                line = canopy[row, max(0, col_edges[j] - first[1]) : max(0, min(cols, col_edges[j + 1] - first[1]))]
                held = 0
                high = 0
                for k in range(line.size):
                    held += line[k] == line[k]
                    high += line[k] >= tall
                out[0, i, j] += held
                out[1, i, j] += high


@jit
def check_windows(
    canopy: NDArray[np.float32],
    cells: NDArray[np.int64],
    window: Window,
    cell_m: float,
    out: NDArray[np.bool_],
) -> None:
    """Whether tops also top another, wider window.

    canopy: float32 (R, C), m, NaN = no data. cells: (n, 2), row and column. window, cell_m: as in `mark_tops`.
    out: (n,).
    """
    for i in range(cells.shape[0]):
        row, col = cells[i, 0], cells[i, 1]
        radius = window_radius(np.float64(canopy[row, col]), window, cell_m)
        out[i] = _tops_window(canopy, row, col, radius) != 0


@jit
def _vertex(before: float, here: float, after: float) -> float:
    """Where the parabola through three neighbours has its top, in cells from the middle one, held to half a cell."""
    bend = 2.0 * here - before - after
    if not bend > 1e-6:
        return 0.0
    return min(0.5, max(-0.5, 0.5 * (after - before) / bend))


@jit
def _height(canopy: NDArray[np.float32], row: int, col: int) -> float:
    """A cell's height, NaN off the grid."""
    inside = 0 <= row < canopy.shape[0] and 0 <= col < canopy.shape[1]
    return np.float64(canopy[row, col]) if inside else math.nan


@jit
def _ray(canopy: NDArray[np.float32], row: int, col: int, ray: int, most: int) -> int:
    """Steps that one ray of a crown runs; -1 less that where it ends for want of data.

    It runs out from the top until the canopy is lower than `RAY_SHARE` of the top's height, or has risen more than
    `RAY_RISE_M` above the lowest canopy on the way (there it is cut back to that), or `most` steps are done.
    """
    rows, cols = canopy.shape
    down, across = _ROW_STEP[ray], _COL_STEP[ray]
    lowest = canopy[row, col]
    floor = np.float32(RAY_SHARE) * lowest
    rise = np.float32(RAY_RISE_M)
    held = 0
    r, c = row, col
    for step in range(1, most + 1):
        r += down
        c += across
        if r < 0 or c < 0 or r >= rows or c >= cols:
            return -1 - held
        value = canopy[r, c]
        if value >= floor and value <= lowest + rise:
            if value <= lowest:
                lowest = value
                held = step
        else:
            return -1 - held if math.isnan(value) else held
    return held


@jit
def _measure(canopy: NDArray[np.float32], row: int, col: int, cell_m: float, i: int, out: TopOut) -> None:
    """Fill one entry."""
    here = np.float64(canopy[row, col])
    out.down[i] = _vertex(_height(canopy, row - 1, col), here, _height(canopy, row + 1, col))
    out.across[i] = _vertex(_height(canopy, row, col - 1), here, _height(canopy, row, col + 1))
    out.height[i] = here
    total = 0.0
    ends = 0
    straight, slant = int(LONGEST_RAY_M / cell_m), int(LONGEST_RAY_M / (cell_m * math.sqrt(2.0)))
    for ray in range(_RAYS):
        steps = _ray(canopy, row, col, ray, slant if ray & 1 else straight)
        if steps < 0:
            steps = -1 - steps
            ends += 1
        total += (steps + 0.5) ** 2 * (1 + (ray & 1))
    out.radius[i] = cell_m * math.sqrt(total / _RAYS)
    out.open_rays[i] = ends / _RAYS


@parallel_jit
def measure_tops(canopy: NDArray[np.float32], cells: NDArray[np.int64], cell_m: float, out: TopOut) -> None:
    """Place, height and crown radius of tops.

    canopy: float32 (R, C), m, NaN = no data. cells: (n, 2), row and column, inside the grid. cell_m: over 0.
    out: see `TopOut`.

    The place is the vertex of the parabolas through the top and its neighbours, along the row and along the column,
    at most half a cell off; beside missing data it is the cell's centre. The radius is the quadratic mean of eight
    rays (see `_ray`), each half a step longer than the cells it runs over. With n = 0 nothing is written. The answer
    does not depend on the number of threads.
    """
    for i in prange(cells.shape[0]):
        _measure(canopy, cells[i, 0], cells[i, 1], cell_m, i, out)
