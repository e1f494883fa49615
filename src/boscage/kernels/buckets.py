"""A queue of cells by time: first-in-first-out buckets of equal width that are used round and round.

References: R. B. Dial (1969), Algorithm 360: shortest-path forest with topological ordering, CACM 12(11),
632-633.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.flags import jit

_MOST_BUCKETS = 1 << 16
LAST_BUCKET = 1 << 62
LOOSE = -1  # in the first column of Queue.links: the cell is in no bucket


class Queue(NamedTuple):
    """Cells by time, in first-in-first-out buckets that are used round and round.

    ends: int32 (slots + 1, 2), first and last cell of each slot's list, -1 = empty; the last slot holds cells
    that belong to a later round. links: int32 (R * C, 2), the cells before and after in the list; at its ends
    -2 - slot.
    per_s: buckets a second.
    """

    ends: NDArray[np.int32]
    links: NDArray[np.int32]
    per_s: float


@jit
def bucket_of(time_s: float, per_s: float) -> int:
    """Number of the bucket that a time belongs to; never falls as the time grows."""
    scaled = time_s * per_s
    return int(scaled) if scaled < 4.0e18 else LAST_BUCKET


@jit
def append(ends: NDArray[np.int32], links: NDArray[np.int32], slot: int, cell: int) -> None:
    """Put a loose cell at the end of a slot's list."""
    tail = ends[slot, 1]
    links[cell, 1] = -2 - slot
    ends[slot, 1] = cell
    if tail < 0:
        ends[slot, 0] = cell
        links[cell, 0] = -2 - slot
    else:
        links[tail, 1] = cell
        links[cell, 0] = tail


@jit
def take_out(ends: NDArray[np.int32], links: NDArray[np.int32], cell: int) -> None:
    """Take a cell out of whichever list holds it."""
    before, after = int(links[cell, 0]), int(links[cell, 1])
    links[cell, 0] = LOOSE
    if before >= 0:
        links[before, 1] = after
    else:
        ends[-2 - before, 0] = after if after >= 0 else -1
    if after >= 0:
        links[after, 0] = before
    else:
        ends[-2 - after, 1] = before if before >= 0 else -1


@jit
def open_queue(time: NDArray[np.float64], across: int, width_s: float) -> Queue:
    """A queue that holds the seeds, in a power of two of slots that grows with `across`, rows + columns."""
    slots = 256
    while slots < 32 * across and slots < _MOST_BUCKETS:
        slots *= 2
    ends = np.full((slots + 1, 2), -1, np.int32)
    links = np.full((time.size, 2), LOOSE, np.int32)
    for cell in range(time.size):
        if math.isfinite(time[cell]):
            append(ends, links, bucket_of(time[cell], 1.0 / width_s) & (slots - 1), cell)
    return Queue(ends, links, 1.0 / width_s)


@jit
def keep_for_later(queue: Queue, slot: int) -> None:
    """Move the list of the last slot, set aside for a later round, back to its own empty slot."""
    aside = queue.ends.shape[0] - 1
    head, tail = queue.ends[aside, 0], queue.ends[aside, 1]
    if head >= 0:
        queue.ends[slot, 0], queue.ends[slot, 1] = head, tail
        queue.ends[aside, 0], queue.ends[aside, 1] = -1, -1
        queue.links[head, 0] = -2 - slot
        queue.links[tail, 1] = -2 - slot


@jit
def lowest_bucket(queue: Queue, time: NDArray[np.float64]) -> int:
    """Lowest bucket that holds a cell, found by looking at every list."""
    lowest = LAST_BUCKET
    for slot in range(queue.ends.shape[0]):
        cell = queue.ends[slot, 0]
        while cell >= 0:
            lowest = min(lowest, bucket_of(time[cell], queue.per_s))
            cell = queue.links[cell, 1]
    return lowest
