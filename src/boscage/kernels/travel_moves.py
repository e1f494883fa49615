"""The moves of a travel pass laid flat, and what one move costs."""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.flags import jit

BARRIER = -math.inf  # time of a barrier while a pass runs
# The first four moves are straight, the next four diagonal, the last eight knight's moves.
DIAGONAL = 4
KNIGHTS = 8

# Columns of Field.moves and Field.costs.
STEP, BESIDE, SOUTH, EAST, CHOSEN = 0, 1, 3, 4, 5
SHARE_S, PER_RUN, LEAST_S = 0, 1, 2


class Field(NamedTuple):
    """Ground and moves laid flat; N cells, K moves.

    shape: of the grid. z_m, pace: float32 (N,). decay, best_slope: of the walk. moves: int64 (K + 1, 6), step in a flat
    grid, flat steps to the two cells that a move passes between, rows south, columns east, and a move chosen by
    `better_moves`. costs: float64 (K + 1, 3), seconds at top speed and pace 1 for each of the cells that count,
    1 / map length in metres, negative when walked inward, and the least seconds of a chosen move.
    """

    shape: tuple[int, int]
    z_m: NDArray[np.float32]
    pace: NDArray[np.float32]
    decay: float
    best_slope: float
    moves: NDArray[np.int64]
    costs: NDArray[np.float64]


class Limits(NamedTuple):
    """Slopes beyond which a move is barred, rise / run: a wheeled vehicle's.

    up, down: greatest slope upward and downward in the direction of travel, 0 or more.
    across: greatest component of the gradient at right angles to the move, mean of its two end cells.
    dzdx, dzdy: float32 (R, C), gradient east- and north-positive; NaN sets no limit across. Inside a pass (N,), flat.
    """

    up: float
    down: float
    across: float
    dzdx: NDArray[np.float32]
    dzdy: NDArray[np.float32]


@jit
def lay_moves(offsets: NDArray[np.int64], cols: int) -> NDArray[np.int64]:
    """`Field.moves` from offsets, int64 (K, 2), rows south and columns east."""
    moves = np.zeros((offsets.shape[0] + 1, 6), np.int64)
    for k in range(offsets.shape[0]):
        south, east = offsets[k, 0], offsets[k, 1]
        moves[k, STEP], moves[k, SOUTH], moves[k, EAST] = south * cols + east, south, east
        if abs(south) == 1 and abs(east) == 1:
            moves[k, BESIDE], moves[k, BESIDE + 1] = south * cols, east
        elif abs(south) == 2:
            moves[k, BESIDE], moves[k, BESIDE + 1] = south // 2 * cols, south // 2 * cols + east
        elif abs(east) == 2:
            moves[k, BESIDE], moves[k, BESIDE + 1] = east // 2, south * cols + east // 2
    return moves


@jit
def is_barred(time: NDArray[np.float64], moves: NDArray[np.int64], k: int, cell: int) -> bool:
    """Whether barriers beside move k forbid it: both cells for a diagonal, either for a knight's move."""
    if k < DIAGONAL:
        return False
    a = time[cell + moves[k, BESIDE]] == BARRIER
    b = time[cell + moves[k, BESIDE + 1]] == BARRIER
    return bool(a and b) if k < KNIGHTS else bool(a or b)


@jit
def is_too_steep(limits: Limits, moves: NDArray[np.int64], k: int, cell: int, slope: float) -> bool:
    """Whether move k from a cell goes over a limit; `slope` is in the direction walked."""
    if slope > limits.up or -slope > limits.down:
        return True
    there = cell + moves[k, STEP]
    south, east = np.float64(moves[k, SOUTH]), np.float64(moves[k, EAST])
    gx = 0.5 * (np.float64(limits.dzdx[cell]) + np.float64(limits.dzdx[there]))
    gy = 0.5 * (np.float64(limits.dzdy[cell]) + np.float64(limits.dzdy[there]))
    return bool(abs(gx * south + gy * east) > limits.across * math.sqrt(south * south + east * east))


@jit
def slowed(walk: tuple[float, float], slope: float, least_s: float, limit_s: float) -> float:
    """Time of a move on a slope, or infinity as soon as it is known to be `limit_s` or more.

    walk: decay and best slope. least_s: the same move at top speed. The Taylor polynomial never exceeds exp for an
    exponent of 0 or more, so most exponentials need not be computed.
    """
    fall = walk[0] * abs(slope - walk[1])
    if fall > 700.0 or least_s * (1.0 + fall * (1.0 + fall * (0.5 + fall / 6.0))) >= limit_s:
        return math.inf
    return least_s * math.exp(fall)


@jit
def middle_pace(pace: NDArray[np.float32], moves: NDArray[np.int64], k: int, cell: int) -> float:
    """Sum of the paces of the two cells nearest the middle of a knight's move."""
    return np.float64(pace[cell + moves[k, BESIDE]]) + np.float64(pace[cell + moves[k, BESIDE + 1]])


@jit
def better_moves(
    pace: NDArray[np.float32],
    time: NDArray[np.float64],
    cell: int,
    moves: NDArray[np.int64],
    costs: NDArray[np.float64],
) -> int:
    """Moves from a cell off the rim that would better their end at top speed by its two ends' pace: how many.

    They and their seconds are written to the last columns of moves and costs. Without branches, since the answer to
    each comparison is as good as random; in two loops, of which the first has a length known beforehand.
    """
    here_s, here_pace = time[cell], np.float64(pace[cell])
    count = 0
    for k in range(KNIGHTS):
        there = np.uint64(cell + moves[k, STEP])
        least_s = costs[k, SHARE_S] * (here_pace + np.float64(pace[there]))
        moves[count, CHOSEN] = k
        costs[count, LEAST_S] = least_s
        count += int(here_s + least_s < time[there])
    for k in range(KNIGHTS, moves.shape[0] - 1):
        there = np.uint64(cell + moves[k, STEP])
        least_s = costs[k, SHARE_S] * (here_pace + np.float64(pace[there]))
        moves[count, CHOSEN] = k
        costs[count, LEAST_S] = least_s
        count += int(here_s + least_s < time[there])
    return count


@jit
def moves_on_grid(
    pace: NDArray[np.float32],
    shape: tuple[int, int],
    cell: int,
    moves: NDArray[np.int64],
    costs: NDArray[np.float64],
) -> int:
    """As `better_moves` for a cell on the rim, but all moves that stay on the grid, better or not."""
    rows, cols = shape
    count = 0
    for k in range(moves.shape[0] - 1):
        row, col = cell // cols + moves[k, SOUTH], cell % cols + moves[k, EAST]
        if 0 <= row < rows and 0 <= col < cols:
            moves[count, CHOSEN] = k
            there = cell + moves[k, STEP]
            costs[count, LEAST_S] = costs[k, SHARE_S] * (np.float64(pace[cell]) + np.float64(pace[there]))
            count += 1
    return count
