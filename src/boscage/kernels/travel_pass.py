"""One travel pass: settle cells in the order of their time until nothing is bettered any more."""

import math

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.buckets import (
    AT_WORK,
    BUCKETS,
    EMPTY,
    LAST_BUCKET,
    NO_BUCKET,
    RING,
    WAITING,
    Queue,
    bucket_of,
    fill,
    has_lost,
    lowest_window,
    open_queue,
    open_tile,
    open_window,
    pop,
    put,
    take_up,
)
from boscage.kernels.flags import jit
from boscage.kernels.travel_moves import (
    BARRIER,
    CHOSEN,
    KNIGHTS,
    LEAST_S,
    PER_RUN,
    SHARE_S,
    STEP,
    Field,
    Limits,
    better_moves,
    is_barred,
    is_too_steep,
    middle_pace,
    moves_on_grid,
    slowed,
)

# A cell's mark while the pass runs: the move that leads back, and bits.
_NO_MOVE = 16
_RIM = 32  # some move may lead off the grid

_BUCKETS_A_MEAN_EDGE = 32.0
_WINDOW_IN_MEAN_EDGES = 64.0

Out = tuple[NDArray[np.float64], NDArray[np.int8]]


@jit
def mark_cells(field: Field, begin: NDArray[np.float64], time: NDArray[np.float64], marks: NDArray[np.int8]) -> None:
    """Write start times, barriers and marks into flat arrays; begin and time may be the same."""
    (rows, cols), z_m, pace, _, _, _, _ = field
    for i in range(time.size):
        passable = pace[i] > 0.0 and math.isfinite(pace[i]) and math.isfinite(z_m[i])
        seed = passable and math.isfinite(begin[i])
        time[i] = (begin[i] if seed else math.inf) if passable else BARRIER
        marks[i] = _NO_MOVE | WAITING if seed else _NO_MOVE
    for row in range(rows):
        for col in range(cols):
            if 2 <= row < rows - 2 and 2 <= col < cols - 2:
                break
            marks[row * cols + col] |= _RIM
            marks[row * cols + cols - 1 - col] |= _RIM


@jit
def unmark_cells(time: NDArray[np.float64], marks: NDArray[np.int8]) -> None:
    """Turn barriers into times that are not reached, and marks into moves, -1 for none."""
    for i in range(time.size):
        if time[i] == BARRIER:
            time[i] = math.inf
        marks[i] = -1 if marks[i] & _NO_MOVE else marks[i] & 15


@jit
def _paces(field: Field, time: NDArray[np.float64]) -> tuple[float, float]:
    """Least pace of the passable cells, and the geometric mean of a sample, which a few extreme cells hardly move."""
    pace = field.pace
    least, total, count = math.inf, 0.0, 0
    for i in range(time.size):
        if time[i] != BARRIER:
            least = min(least, np.float64(pace[i]))
    for i in range(0, time.size, time.size // 50000 + 1):
        if time[i] != BARRIER:
            total += math.log(np.float64(pace[i]))
            count += 1
    return least, math.exp(total / count) if count else least


@jit
def _empty_tile(field: Field, limits: Limits | None, queue: Queue, at: tuple[int, int], out: Out) -> None:
    """Settle what a tile has in a window, bucket after bucket, again where a cell is bettered by the same bucket.

    Settling a cell offers each cell a move away the time that leads through it. at: the window and the tile.
    """
    shape, z_m, pace, decay, best_slope, moves, costs = field
    pool, lists, frame = queue
    time, marks = out
    is_level = decay == 0.0 and limits is None
    for i in range(1 << frame.shift):
        bucket = (at[0] << frame.shift) + i
        while take_up(lists, BUCKETS + i):
            while lists[AT_WORK] != EMPTY:
                cell = pop(pool, lists, AT_WORK)
                mark, here_s = marks[cell], time[cell]
                if not mark & WAITING or bucket_of(here_s, frame.per_s) != bucket:
                    continue
                marks[cell] = mark & ~WAITING
                if mark & _RIM:
                    count = moves_on_grid(pace, shape, cell, moves, costs)
                else:
                    count = better_moves(pace, time, cell, moves, costs)
                for j in range(count):
                    k, move_s = int(moves[j, CHOSEN]), costs[j, LEAST_S]
                    there = cell + moves[k, STEP]
                    there_s, there_mark = time[there], marks[there]
                    if k >= KNIGHTS:
                        move_s += costs[k, SHARE_S] * middle_pace(pace, moves, k, cell)
                    if not is_level and here_s + move_s < there_s:
                        slope = (np.float64(z_m[there]) - np.float64(z_m[cell])) * costs[k, PER_RUN]
                        if limits is not None and is_too_steep(limits, moves, k, cell, slope):
                            continue
                        move_s = slowed((decay, best_slope), slope, move_s, there_s - here_s)
                    offer_s = here_s + move_s
                    if not offer_s < there_s or is_barred(time, moves, k, cell):
                        continue
                    time[there] = offer_s
                    marks[there] = (there_mark & _RIM) | WAITING | (k ^ 1)
                    old = bucket_of(there_s, frame.per_s) if there_mark & WAITING else NO_BUCKET
                    put(pool, lists, frame, at, there, (bucket_of(offer_s, frame.per_s), old))


@jit
def _drain(field: Field, limits: Limits | None, queue: Queue, out: Out) -> None:
    """Window after window; after a whole idle round of the ring, jump to the next that holds a cell."""
    window = lowest_window(queue, out[0], out[1])
    idle = 0
    while window <= LAST_BUCKET:
        idle = 0 if open_window(queue, window, out[0], out[1]) else idle + 1
        tile = open_tile(queue, out[0], out[1])
        while tile >= 0:
            _empty_tile(field, limits, queue, (window, tile), out)
            tile = open_tile(queue, out[0], out[1])
        window = window + 1 if idle <= RING else lowest_window(queue, out[0], out[1])
        if idle > RING:
            idle = 0


@jit
def run(field: Field, limits: Limits | None, out: Out, room: int) -> None:
    """Settle all cells, from those that are marked as waiting. room: cells that the queue can hold at least."""
    time, marks = out
    least, typical = _paces(field, time)
    if not math.isfinite(least):
        return
    mean_s = 2.0 * field.costs[0, SHARE_S] * typical
    width_s = max(2.0 * field.costs[0, SHARE_S] * least, mean_s / _BUCKETS_A_MEAN_EDGE)
    queue = open_queue(field.shape, width_s, _WINDOW_IN_MEAN_EDGES * mean_s, room)
    fill(queue, time, marks)
    _drain(field, limits, queue, out)
    while has_lost(queue):
        fill(queue, time, marks)
        _drain(field, limits, queue, out)
