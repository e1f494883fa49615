"""Least travel time on foot over a grid, with walking speed that depends on the slope and its direction."""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.buckets import (
    LAST_BUCKET,
    LOOSE,
    Queue,
    append,
    bucket_of,
    keep_for_later,
    lowest_bucket,
    open_queue,
    take_out,
)
from boscage.kernels.flags import jit

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

_BUCKETS_A_MEAN_EDGE = 32.0
_BARRIER = -math.inf  # in out_time while the pass runs


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


class Limits(NamedTuple):
    """Slopes beyond which a move is barred, rise / run: a wheeled vehicle's.

    up, down: greatest slope upward and downward in the direction of travel, 0 or more.
    across: greatest component of the gradient at right angles to the move, mean of its two end cells.
    dzdx, dzdy: float32 (R, C), gradient east- and north-positive; NaN sets no limit across.
    """

    up: float
    down: float
    across: float
    dzdx: NDArray[np.float32]
    dzdy: NDArray[np.float32]


class _Edges(NamedTuple):
    """The moves laid flat. rows, cols: shape of the grid. offsets: (K, 2). step: (K,), moves in a flat grid.

    beside: int64 (K, 2), flat steps to the two cells that a move passes between. half_time_s: float64 (K,),
    half the time at top speed and pace 1. per_run: float64 (K,), 1 / map length in metres, negative when
    walked inward.
    """

    rows: int
    cols: int
    offsets: NDArray[np.int64]
    step: NDArray[np.int64]
    beside: NDArray[np.int64]
    half_time_s: NDArray[np.float64]
    per_run: NDArray[np.float64]


@jit
def walking_speed_mps(slope: float, walk: Walk) -> float:
    """Metres a second on a slope (rise / run in the direction of travel).

    Where speed would be under exp(-700) of the top speed it is 0.
    """
    fall = walk.decay * abs(slope - walk.best_slope)
    return walk.top_speed_mps * math.exp(-fall) if fall < 700.0 else 0.0


@jit
def _lay_edges(ground: Ground, walk: Walk, offsets: NDArray[np.int64]) -> _Edges:
    """Lengths and flat steps of the moves, and the two cells that each passes between."""
    rows, cols = ground.pace.shape
    moves = offsets.shape[0]
    step = np.empty(moves, np.int64)
    beside = np.zeros((moves, 2), np.int64)
    half_time_s = np.empty(moves, np.float64)
    per_run = np.empty(moves, np.float64)
    for k in range(moves):
        south, east = offsets[k, 0], offsets[k, 1]
        run_m = ground.cell_m * math.sqrt(south * south + east * east)
        step[k] = south * cols + east
        half_time_s[k] = 0.5 * run_m / walk.top_speed_mps
        per_run[k] = (-1.0 if walk.inward else 1.0) / run_m
        if abs(south) == 1 and abs(east) == 1:
            beside[k, 0], beside[k, 1] = south * cols, east
        elif abs(south) == 2:
            beside[k, 0], beside[k, 1] = south // 2 * cols, south // 2 * cols + east
        elif abs(east) == 2:
            beside[k, 0], beside[k, 1] = east // 2, south * cols + east // 2
    return _Edges(rows, cols, offsets, step, beside, half_time_s, per_run)


@jit
def _mark_cells(ground: Ground, start: NDArray[np.float64], time: NDArray[np.float64]) -> float:
    """Write start times and barriers into `time` (flat); return the least pace of any passable cell."""
    z_m, pace, begin = ground.elevation_m.ravel(), ground.pace.ravel(), start.ravel()
    least = math.inf
    for i in range(time.size):
        if pace[i] > 0.0 and math.isfinite(pace[i]) and math.isfinite(z_m[i]):
            time[i] = begin[i] if math.isfinite(begin[i]) else math.inf
            least = min(least, np.float64(pace[i]))
        else:
            time[i] = _BARRIER
    return least


@jit
def _typical_pace(ground: Ground, time: NDArray[np.float64]) -> float:
    """Geometric mean pace of a sample of the passable cells, which a few extreme cells hardly move."""
    pace = ground.pace.ravel()
    total = 0.0
    count = 0
    for i in range(0, time.size, time.size // 50000 + 1):
        if time[i] != _BARRIER:
            total += math.log(np.float64(pace[i]))
            count += 1
    return math.exp(total / count) if count else 0.0


@jit
def _is_barred(time: NDArray[np.float64], beside: NDArray[np.int64], k: int, cell: int) -> bool:
    """Whether barriers beside move k forbid it: both cells for a diagonal, either for a knight's move."""
    if k < 4:
        return False
    a = time[cell + beside[k, 0]] == _BARRIER
    b = time[cell + beside[k, 1]] == _BARRIER
    return (a and b) if k < 8 else (a or b)


@jit
def _leaves_grid(shape: tuple[int, int], offsets: NDArray[np.int64], k: int, cell: int) -> bool:
    """Whether move k leads from a cell off the grid."""
    rows, cols = shape
    row = cell // cols + offsets[k, 0]
    col = cell % cols + offsets[k, 1]
    return row < 0 or row >= rows or col < 0 or col >= cols


@jit
def _is_near_rim(shape: tuple[int, int], cell: int) -> bool:
    """Whether a cell lies so near the grid's edge that some move may lead off it."""
    rows, cols = shape
    row = cell // cols
    col = cell - row * cols
    return row < 2 or row >= rows - 2 or col < 2 or col >= cols - 2


@jit
def _edge_time(walk: Walk, least_s: float, slope: float, limit_s: float) -> float:
    """Time over one edge, or infinity as soon as it is known to be `limit_s` or more.

    least_s: the same edge at top speed. The Taylor polynomial never exceeds exp for an exponent of 0 or more,
    so most exponentials need not be computed.
    """
    fall = walk.decay * abs(slope - walk.best_slope)
    if fall > 700.0 or least_s * (1.0 + fall * (1.0 + fall * (0.5 + fall / 6.0))) >= limit_s:
        return math.inf
    return least_s * math.exp(fall)


@jit
def _is_too_steep(limits: Limits, offsets: NDArray[np.int64], move: tuple[int, int, int], slope: float) -> bool:
    """Whether move k from one flat cell to another goes over a limit; `slope` is in the direction walked."""
    k, cell, there = move
    if slope > limits.up or -slope > limits.down:
        return True
    south, east = np.float64(offsets[k, 0]), np.float64(offsets[k, 1])
    gx = 0.5 * (np.float64(limits.dzdx[cell]) + np.float64(limits.dzdx[there]))
    gy = 0.5 * (np.float64(limits.dzdy[cell]) + np.float64(limits.dzdy[there]))
    return abs(gx * south + gy * east) > limits.across * math.sqrt(south * south + east * east)


@jit
def _empty_bucket(
    ground: Ground,
    walk: Walk,
    edges: _Edges,
    limits: Limits | None,
    queue: Queue,
    bucket: int,
    out: tuple[NDArray[np.float64], NDArray[np.int8]],
) -> bool:
    """Settle each cell of a bucket, again where one of the same bucket betters it; False if none was in it.

    Settling a cell offers each neighbour the time that leads through the cell. ground, out: flat arrays.
    Arrays are taken out of their tuples here and not in the inner calls, which would count references for
    every cell.
    """
    z_m, pace, _ = ground
    rows, cols, offsets, step, beside, half_time_s, per_run = edges
    ends, links, per_s = queue
    time, back = out
    slots = ends.shape[0] - 1
    found = False
    while ends[bucket & (slots - 1), 0] >= 0:
        cell = int(ends[bucket & (slots - 1), 0])
        take_out(ends, links, cell)
        here_s, here_z, here_pace = time[cell], np.float64(z_m[cell]), np.float64(pace[cell])
        if bucket_of(here_s, per_s) > bucket:
            append(ends, links, slots, cell)
            continue
        found = True
        near_rim = _is_near_rim((rows, cols), cell)
        for k in range(step.size):
            if near_rim and _leaves_grid((rows, cols), offsets, k, cell):
                continue
            there = cell + step[k]
            there_s = time[there]
            least_s = half_time_s[k] * (here_pace + np.float64(pace[there]))
            if k >= 8:
                least_s *= 0.5
            if there_s <= here_s or here_s + least_s >= there_s:
                continue
            if k >= 8:
                middle = np.float64(pace[cell + beside[k, 0]]) + np.float64(pace[cell + beside[k, 1]])
                least_s += 0.5 * half_time_s[k] * middle
                if here_s + least_s >= there_s:
                    continue
            slope = (np.float64(z_m[there]) - here_z) * per_run[k]
            if limits is not None and _is_too_steep(limits, offsets, (k, cell, there), slope):
                continue
            offer_s = here_s + _edge_time(walk, least_s, slope, there_s - here_s)
            if offer_s >= there_s or _is_barred(time, beside, k, cell):
                continue
            time[there] = offer_s
            back[there] = k ^ 1
            better = bucket_of(offer_s, per_s)
            if links[there, 0] != LOOSE:
                if better == bucket_of(there_s, per_s):
                    continue
                take_out(ends, links, there)
            append(ends, links, better & (slots - 1), there)
    return found


@jit
def _run(
    ground: Ground,
    walk: Walk,
    edges: _Edges,
    limits: Limits | None,
    queue: Queue,
    out: tuple[NDArray[np.float64], NDArray[np.int8]],
) -> None:
    """Empty bucket after bucket; after a whole idle round, jump to the next bucket that holds a cell."""
    slots = queue.ends.shape[0] - 1
    bucket = lowest_bucket(queue, out[0])
    idle = 0
    while bucket < LAST_BUCKET:
        slot = bucket & (slots - 1)
        if queue.ends[slot, 0] >= 0 and _empty_bucket(ground, walk, edges, limits, queue, bucket, out):
            idle = 0
        else:
            idle += 1
        keep_for_later(queue, slot)
        bucket += 1
        if idle > slots:
            bucket = lowest_bucket(queue, out[0])
            idle = 0
    _empty_bucket(ground, walk, edges, limits, queue, LAST_BUCKET, out)


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

    Buckets of cells by time (Dial's queue) as wide as the shortest move or a 32nd of the typical one,
    whichever is more; inside a bucket a cell is settled again when bettered, so the width changes the work,
    never the answer.
    Memory beside inputs: 17 bytes a cell (9 of them output) and at most 512 kB.

    References: R. B. Dial (1969), Algorithm 360: shortest-path forest with topological ordering, CACM 12(11),
    632-633; U. Meyer and P. Sanders (2003), Delta-stepping: a parallelizable shortest path algorithm, J.
    Algorithms 49(1), 114-152; W. Tobler (1993), NCGIA Technical Report 93-1.
    """
    time, back = out_time_s.ravel(), out_from.ravel()
    least_pace = _mark_cells(ground, start_s, time)
    back[:] = -1
    if least_pace < math.inf:
        edges = _lay_edges(ground, walk, offsets)
        pace = max(least_pace, _typical_pace(ground, time) / _BUCKETS_A_MEAN_EDGE)
        width_s = 2.0 * edges.half_time_s[0] * pace
        queue = open_queue(time, ground.pace.shape[0] + ground.pace.shape[1], width_s)
        flat = Ground(ground.elevation_m.ravel(), ground.pace.ravel(), ground.cell_m)
        if limits is None:
            _run(flat, walk, edges, None, queue, (time, back))
        else:
            bounds = Limits(limits.up, limits.down, limits.across, limits.dzdx.ravel(), limits.dzdy.ravel())
            _run(flat, walk, edges, bounds, queue, (time, back))
    for i in range(time.size):
        if time[i] == _BARRIER:
            time[i] = math.inf


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
