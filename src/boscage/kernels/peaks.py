"""The best cells of a field that no near cell beats, each a distance from the others.

A field is (rows, cols) float32; NaN is no place. A peak is a cell that no cell of the square of 2 * reach + 1 cells
round it beats. Blocks of reach + 1 cells along a side lie inside the square of each of their cells, so that only the
best cells of a block can be peaks (A. Neubeck, L. Van Gool (2006), Efficient non-maximum suppression, ICPR, 850-855);
here ties count, and a block is looked into only when its turn has come.
"""

import math

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.flags import jit

Floats32 = NDArray[np.float32]
Ints = NDArray[np.int64]
FEW = 3
PARTS = 1000.0
"""The mean round a cell is compared in thousandths."""


@jit
def block_range(field: Floats32, reach: int, tops: Floats32, lows: Floats32) -> None:
    """Greatest and least value of each block of reach + 1 cells along a side.

    tops, lows: (R, C), R = ceil(rows / (reach + 1)), C likewise. tops is -inf where a block has no place. lows counts
    no place, and values under 0, as 0.
    """
    side = reach + 1
    rows, cols = field.shape
    tops[:] = np.float32(-math.inf)
    lows[:] = np.float32(math.inf)
    nothing = np.float32(0.0)
    for row in range(rows):
        b = row // side
        for c in range(tops.shape[1]):
            top, low = tops[b, c], lows[b, c]
            for col in range(c * side, min(c * side + side, cols)):
                value = field[row, col]
                top = value if value > top else top
                low = min(low, value if value > nothing else nothing)
            tops[b, c], lows[b, c] = top, low


@jit
def pick_peaks(
    field: Floats32,
    ranges: tuple[Floats32, Floats32],
    order: Ints,
    how: tuple[int, float],
    taken: NDArray[np.float64],
    given: int,
) -> int:
    """Pick the best peaks, no two nearer than they may be.

    Of equal cells the one with the higher mean over its square (no place, values under 0 and what lies off the field
    count 0; in thousandths) comes first, then the upper, then the left one.

    ranges: tops and lows of `block_range`. order: flat indices of the blocks by top, best first. how: reach, and the
    least distance between two picks, in cells. taken: (n, 3) row, col and distance that picks keep from there, in
    cells; the first `given` are given, the others are filled with the picks, best first.
    Returns how many of `taken` are filled by then; as many as given where no cell is a place.
    """
    tops = ranges[0].ravel()
    found, first = given, np.int64(0)
    while first < order.size and found < taken.shape[0]:
        level = tops[order[first]]
        if level == -math.inf:
            break
        last = first + 1
        while last < order.size and tops[order[last]] == level:
            last += 1
        found = _pick_level(field, ranges, order[first:last], how, taken, found)
        first = last
    return found


@jit
def _pick_level(
    field: Floats32,
    ranges: tuple[Floats32, Floats32],
    blocks: Ints,
    how: tuple[int, float],
    taken: NDArray[np.float64],
    found: int,
) -> int:
    """Pick from blocks with the same top; returns how many are taken by then."""
    best = np.empty((blocks.size, 3), np.int64)
    fresh = np.ones(blocks.size, np.bool_)
    while found < taken.shape[0]:
        pick = -1
        for k in range(blocks.size):
            if fresh[k]:
                _find_best(field, ranges, blocks[k], how[0], taken, found, best, k)
                fresh[k] = False
            if best[k, 0] >= 0 and (pick < 0 or _before(best, k, pick)):
                pick = k
        if pick < 0:
            break
        taken[found, 0], taken[found, 1], taken[found, 2] = best[pick, 0], best[pick, 1], how[1]
        found += 1
        for k in range(blocks.size):
            fresh[k] = best[k, 0] >= 0 and _near(best[k, 0], best[k, 1], taken, found - 1, found)
    return found


@jit
def _before(best: Ints, k: int, other: int) -> bool:
    """Whether a cell (row, col, mean round it) comes before another of the same value."""
    if best[k, 2] != best[other, 2]:
        return bool(best[k, 2] > best[other, 2])
    return bool(best[k, 0] < best[other, 0] or (best[k, 0] == best[other, 0] and best[k, 1] < best[other, 1]))


@jit
def _near(row: int, col: int, taken: NDArray[np.float64], first: int, last: int) -> bool:
    """Whether a cell lies too near to one that is taken, of those from `first` up to `last`."""
    for k in range(first, last):
        down, right = row - taken[k, 0], col - taken[k, 1]
        if math.sqrt(down * down + right * right) < taken[k, 2]:
            return True
    return False


@jit
def _find_best(
    field: Floats32,
    ranges: tuple[Floats32, Floats32],
    block: int,
    reach: int,
    taken: NDArray[np.float64],
    found: int,
    best: Ints,
    k: int,
) -> None:
    """Write row, col and mean round it, in thousandths, of the first peak of a block into best[k]; -1 for none."""
    tops, lows = ranges
    b_row, b_col = block // tops.shape[1], block % tops.shape[1]
    top, left = b_row * (reach + 1), b_col * (reach + 1)
    level = tops[b_row, b_col]
    held = np.zeros((min(reach + 1, field.shape[0] - top), min(reach + 1, field.shape[1] - left)), np.bool_)
    count = 0
    for r in range(held.shape[0]):
        for c in range(held.shape[1]):
            if field[top + r, left + c] == level and not _near(top + r, left + c, taken, 0, found):
                held[r, c] = True
                count += 1
    best[k, 0] = best[k, 1] = best[k, 2] = -1
    if count > 0 and _beaten_near(tops, b_row, b_col):
        _keep_peaks(field, top, left, reach, held, count)
    if _level_round(tops, lows, b_row, b_col):
        _take_first(held, top, left, _parts(float(level)), best, k)
    else:
        _take_richest(field, top, left, reach, held, best, k)


@jit
def _beaten_near(tops: Floats32, b_row: int, b_col: int) -> bool:
    """Whether a neighbouring block holds a better cell."""
    for r in range(max(0, b_row - 1), min(tops.shape[0], b_row + 2)):
        for c in range(max(0, b_col - 1), min(tops.shape[1], b_col + 2)):
            if tops[r, c] > tops[b_row, b_col]:
                return True
    return False


@jit
def _level_round(tops: Floats32, lows: Floats32, b_row: int, b_col: int) -> bool:
    """Whether every cell of the nine blocks round has the same value, and all nine are whole."""
    if b_row < 1 or b_col < 1 or b_row + 2 >= tops.shape[0] or b_col + 2 >= tops.shape[1]:
        return False
    level = tops[b_row, b_col]
    for r in range(b_row - 1, b_row + 2):
        for c in range(b_col - 1, b_col + 2):
            if tops[r, c] != level or lows[r, c] != level:
                return False
    return True


@jit
def _parts(mean: float) -> int:
    return math.floor(mean * PARTS + 0.5)


@jit
def _take_first(held: NDArray[np.bool_], top: int, left: int, around: int, best: Ints, k: int) -> None:
    """The upper and left one of the held cells."""
    for r in range(held.shape[0]):
        for c in range(held.shape[1]):
            if held[r, c]:
                best[k, 0], best[k, 1], best[k, 2] = top + r, left + c, around
                return


@jit
def _take_richest(
    field: Floats32, top: int, left: int, reach: int, held: NDArray[np.bool_], best: Ints, k: int
) -> None:
    """The held cell with the highest mean over its square, the upper and left one of equals."""
    sums = np.empty((0, 0))
    for r in range(held.shape[0]):
        for c in range(held.shape[1]):
            if held[r, c]:
                if sums.size == 0:
                    sums = _sums(field, top, left, reach, held.shape, -math.inf)
                around = _parts(_square(sums, r, c, reach) / float((2 * reach + 1) ** 2))
                if around > best[k, 2]:
                    best[k, 0], best[k, 1], best[k, 2] = top + r, left + c, around


@jit
def _keep_peaks(field: Floats32, top: int, left: int, reach: int, held: NDArray[np.bool_], count: int) -> None:
    """Take out of `held`, which holds `count` equal cells, those that a cell of their square beats."""
    sums = np.empty((0, 0))
    for r in range(held.shape[0]):
        for c in range(held.shape[1]):
            if not held[r, c]:
                continue
            if count <= FEW:
                held[r, c] = not _is_beaten(field, top + r, left + c, reach)
                continue
            if sums.size == 0:
                sums = _sums(field, top, left, reach, held.shape, float(field[top + r, left + c]))
            held[r, c] = _square(sums, r, c, reach) == 0.0


@jit
def _is_beaten(field: Floats32, row: int, col: int, reach: int) -> bool:
    level = field[row, col]
    for r in range(max(0, row - reach), min(field.shape[0], row + reach + 1)):
        for c in range(max(0, col - reach), min(field.shape[1], col + reach + 1)):
            if field[r, c] > level:
                return True
    return False


@jit
def _sums(
    field: Floats32, top: int, left: int, reach: int, shape: tuple[int, int], level: float
) -> NDArray[np.float64]:
    """Sums over the rectangles from the upper left of a block's surroundings, a row and a column of zeros first.

    Of the values, no place and what is under 0 or off the field counting 0; with a level over -inf, the number of cells
    over it.
    """
    high, wide = shape[0] + 2 * reach, shape[1] + 2 * reach
    out = np.zeros((high + 1, wide + 1))
    for r in range(high):
        row, run = top - reach + r, 0.0
        for c in range(wide):
            col = left - reach + c
            if 0 <= row < field.shape[0] and 0 <= col < field.shape[1]:
                value = float(field[row, col])
                if level > -math.inf:
                    run += 1.0 if value > level else 0.0
                elif value > 0.0:
                    run += value
            out[r + 1, c + 1] = out[r, c + 1] + run
    return out


@jit
def _square(sums: NDArray[np.float64], row: int, col: int, reach: int) -> float:
    """Sum over the square round a cell of the block."""
    low, right = row + 2 * reach + 1, col + 2 * reach + 1
    return float(sums[low, right] - sums[row, right] - sums[low, col] + sums[row, col])
