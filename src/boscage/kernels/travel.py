"""Least travel time on foot over a grid, with walking speed that depends on the slope and its direction."""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.flags import jit
from boscage.kernels.travel_moves import KNIGHTS, PER_RUN, SHARE_S, Field, Limits, lay_moves
from boscage.kernels.travel_pass import mark_cells, run, unmark_cells

# Moves as (rows south, columns east). Moves 2 i and 2 i + 1 are opposite, which `travel_time` relies on.
# The first four are straight, the next four diagonal, the last eight are knight's moves.
OFFSETS_16: NDArray[np.int64] = np.array(
    [
        (-1, 0), (1, 0), (0, -1), (0, 1),
        (-1, -1), (1, 1), (-1, 1), (1, -1),
        (-2, -1), (2, 1), (-2, 1), (2, -1),
        (-1, -2), (1, 2), (-1, 2), (1, -2),
    ],
    dtype=np.int64,
)  # fmt: skip
OFFSETS_8: NDArray[np.int64] = OFFSETS_16[:8].copy()


class Ground(NamedTuple):
    """What is walked over.

    elevation_m: float32 (R, C), metres; NaN is a barrier.
    pace: float32 (R, C), multiplier on time (1 = path, 1 / 0.6 = off path); a barrier where it is not finite
    or not over 0. cell_m: float, side of a cell, metres.
    """

    elevation_m: NDArray[np.float32]
    pace: NDArray[np.float32]
    cell_m: float


class Walk(NamedTuple):
    """How speed depends on slope: top_speed_mps * exp(-decay * abs(slope - best_slope)), slope = rise / run.

    top_speed_mps: over 0, metres a second. decay: 0 or more; 0 gives the same speed everywhere.
    best_slope: the slope at which top speed is reached. inward: False for the time from the seeds to each
    cell, True for the time from each cell to the seeds.
    """

    top_speed_mps: float
    decay: float
    best_slope: float
    inward: bool


# W. Tobler (1993), Three presentations on geographical analysis and modeling, NCGIA Technical Report 93-1:
# 6 exp(-3.5 |S + 0.05|) km/h on a path.
TOBLER_OUTWARD = Walk(top_speed_mps=6.0 / 3.6, decay=3.5, best_slope=-0.05, inward=False)
TOBLER_INWARD = TOBLER_OUTWARD._replace(inward=True)


@jit
def walking_speed_mps(slope: float, walk: Walk) -> float:
    """Metres a second on a slope (rise / run in the direction of travel).

    Where speed would be under exp(-700) of the top speed it is 0.
    """
    fall = walk.decay * abs(slope - walk.best_slope)
    return walk.top_speed_mps * math.exp(-fall) if fall < 700.0 else 0.0


@jit
def lay_out(ground: Ground, walk: Walk, offsets: NDArray[np.int64]) -> Field:
    """Ground, walk and moves laid flat."""
    rows, cols = ground.pace.shape
    moves = lay_moves(offsets, cols)
    costs = np.zeros((offsets.shape[0] + 1, 3), np.float64)
    for k in range(offsets.shape[0]):
        south, east = offsets[k, 0], offsets[k, 1]
        run_m = ground.cell_m * math.sqrt(south * south + east * east)
        costs[k, SHARE_S] = (0.5 if k < KNIGHTS else 0.25) * run_m / walk.top_speed_mps
        costs[k, PER_RUN] = (-1.0 if walk.inward else 1.0) / run_m
    z_m, pace = ground.elevation_m.ravel(), ground.pace.ravel()
    return Field((rows, cols), z_m, pace, walk.decay, walk.best_slope, moves, costs)


@jit
def travel_time(
    ground: Ground,
    walk: Walk,
    offsets: NDArray[np.int64],
    start_s: NDArray[np.float64],
    out_time_s: NDArray[np.float64],
    out_from: NDArray[np.int8],
    limits: Limits | None = None,
) -> None:
    """Least time between the seeds and every cell, exact on the graph of cells and moves.

    ground, walk: see `Ground` and `Walk`; all arrays C-contiguous, shape (R, C), R * C under 2**31.
    offsets: `OFFSETS_8` or `OFFSETS_16`. start_s: float64 (R, C), seconds already spent at a seed (finite),
    infinite or NaN elsewhere; a seed on a barrier does not count. It may be the same array as out_time_s.
    out_time_s: float64 (R, C), seconds; infinite where not reached. Zero-length grids: nothing is written.
    out_from: int8 (R, C), the move that leads one step back towards the seed, -1 at seeds that nothing
    betters and where not reached. limits: slopes that bar a move, or None.

    A move takes its map length / `walking_speed_mps`(its slope) * its pace: the mean of the cells that it runs in,
    which are its two ends, and for a knight's move the two cells nearest its middle as well, a quarter of the way in
    each. The slope is the rise between the two end cells over the map length, in the direction walked. A diagonal is
    barred where both cells beside it are barriers, a knight's move where either of the two cells nearest its middle
    is.

    Cells wait in windows of time, tiles and buckets (`buckets.Queue`) and are settled again when bettered, so that
    the sizes of those change the work, never the answer.
    Memory beside inputs: 9 bytes a cell of output and the queue, which takes 4 more where all cells wait at once and
    next to nothing when times spread from a few seeds; and at most 2 MB.

    References: R. B. Dial (1969), Algorithm 360: shortest-path forest with topological ordering, CACM 12(11),
    632-633; U. Meyer and P. Sanders (2003), Delta-stepping: a parallelizable shortest path algorithm, J.
    Algorithms 49(1), 114-152; W. Tobler (1993), NCGIA Technical Report 93-1.
    """
    time, marks = out_time_s.ravel(), out_from.ravel()
    if time.size == 0:
        return
    field = lay_out(ground, walk, offsets)
    mark_cells(field, start_s.ravel(), time, marks)
    if limits is None:
        run(field, None, (time, marks), time.size)
    else:
        flat = Limits(limits.up, limits.down, limits.across, limits.dzdx.ravel(), limits.dzdy.ravel())
        run(field, flat, (time, marks), time.size)
    unmark_cells(time, marks)


@jit
def time_along(
    ground: Ground, walk: Walk, rows: NDArray[np.int64], cols: NDArray[np.int64], out_s: NDArray[np.float64]
) -> None:
    """Seconds of each step along cells, walked in the order given, whatever `walk.inward` says.

    rows, cols: int64 (M,), neighbours by a move of `OFFSETS_16`. out_s: float64 (M - 1,). The same formula as in
    `travel_time`, so that a traced path adds up to its time.
    """
    pace, z_m = ground.pace, ground.elevation_m
    for i in range(out_s.size):
        r0, c0, r1, c1 = rows[i], cols[i], rows[i + 1], cols[i + 1]
        south, east = r1 - r0, c1 - c0
        run_m = ground.cell_m * math.sqrt(np.float64(south * south + east * east))
        mean = 0.5 * (np.float64(pace[r0, c0]) + np.float64(pace[r1, c1]))
        if abs(south) == 2 and abs(east) == 1:
            half = south // 2
            mean = 0.5 * mean + 0.25 * (np.float64(pace[r0 + half, c0]) + np.float64(pace[r0 + half, c1]))
        elif abs(south) == 1 and abs(east) == 2:
            half = east // 2
            mean = 0.5 * mean + 0.25 * (np.float64(pace[r0, c0 + half]) + np.float64(pace[r1, c0 + half]))
        rise_m = np.float64(z_m[r1, c1]) - np.float64(z_m[r0, c0])
        speed = walking_speed_mps(rise_m / run_m if run_m > 0.0 else 0.0, walk)
        out_s[i] = run_m * mean / speed


@jit
def trace(
    out_from: NDArray[np.int8],
    offsets: NDArray[np.int64],
    row: int,
    col: int,
    out_rows: NDArray[np.int64],
    out_cols: NDArray[np.int64],
) -> int:
    """Cells from (row, col) back to its seed, both ends included; returns how many there are.

    out_from, offsets: as filled by and given to `travel_time`. out_rows, out_cols: int64 (M,); where the path
    has more than M cells the first M are written and the true number is returned, so that the caller can come
    again with more.
    A seed, and a cell that was not reached, gives 1: look at its time first. On an empty grid the answer is
    0.
    """
    count = 0
    while count < out_from.size:
        if count < out_rows.size:
            out_rows[count] = row
            out_cols[count] = col
        count += 1
        k = out_from[row, col]
        if k < 0:
            break
        row += offsets[k, 0]
        col += offsets[k, 1]
    return count
