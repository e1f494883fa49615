"""A queue of grid cells by time: windows of time, tiles of the grid inside a window, buckets inside a tile.

A window spans many buckets. All that falls into one window is done tile by tile, so that the cells at work lie close
together in memory; inside a tile, bucket after bucket. A tile comes up again in the same window when a neighbouring
tile has bettered some of its cells.

Cells stand in lists of chunks, and may stand in several. Which entry counts is told by the cell's time and by the mark
WAITING: the entry in the place that the time belongs to. The others are dropped when they are met. Where the pool of
chunks is full an entry is lost, its cell stays marked, and `fill` finds it again.

The inner functions take arrays and numbers, not tuples of arrays: taking an array out of a tuple counts a reference,
for every cell.

References: R. B. Dial (1969), Algorithm 360: shortest-path forest with topological ordering, CACM 12(11), 632-633;
U. Meyer and P. Sanders (2003), Delta-stepping: a parallelizable shortest path algorithm, J. Algorithms 49(1), 114-152.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.flags import jit

RING = 1024  # windows that have a list of their own, used round and round
LAST_BUCKET = 1 << 62
NO_WINDOW = LAST_BUCKET + 1
NO_BUCKET = -1
WAITING = 64  # bit of a cell's mark: the cell stands in the queue, or ought to
_CHUNK_BITS = 6
_IN_CHUNK = (1 << _CHUNK_BITS) - 1  # cells a chunk; before them stands the number of the next chunk
EMPTY = _IN_CHUNK  # the top of an empty list: the end of chunk 0, which is never used
_TILE_BITS = 9

# Where things stand in `Queue.lists`.
_FREE, _UNUSED, _LOST, _FIRST, _NEXT = range(5)  # numbers
AT_WORK = 5  # the list that is being worked off
_LATER = 6  # cells of a later round of the ring
_WINDOWS = 7
BUCKETS = _WINDOWS + RING


class Frame(NamedTuple):
    """Sizes of a queue.

    per_s: buckets a second. shift: a window has 2**shift buckets. cols: cells in a row of the grid. across, tiles:
    tiles in a row of the grid and in all.
    """

    per_s: float
    shift: int
    cols: int
    across: int
    tiles: int


class Queue(NamedTuple):
    """Lists of cells.

    pool: int32 (chunks * 64,). lists: int64; five numbers: first free chunk, first chunk never used, whether an entry
    was lost, first and next place in the ring of tiles; then for each list the place in the pool of its last entry: the
    one at work, that for later, RING windows, the buckets of the window at work, the tiles; then the ring of the tiles
    that have work in the window, one place more than there are tiles.
    """

    pool: NDArray[np.int32]
    lists: NDArray[np.int64]
    frame: Frame


@jit
def bucket_of(time_s: float, per_s: float) -> int:
    """Number of the bucket that a time belongs to; never falls as the time grows."""
    scaled = time_s * per_s
    return int(scaled) if scaled < 4.0e18 else LAST_BUCKET


@jit
def _tile_of(frame: Frame, cell: int) -> int:
    """Number of the tile that a cell lies in."""
    row = cell // frame.cols
    return (row >> _TILE_BITS) * frame.across + ((cell - row * frame.cols) >> _TILE_BITS)


@jit
def push(pool: NDArray[np.int32], lists: NDArray[np.int64], at: int, cell: int) -> None:
    """Put a cell on a list; where the pool is full, note that one was lost."""
    place = lists[at]
    if (place & _IN_CHUNK) == _IN_CHUNK:
        chunk = lists[_FREE]
        if chunk > 0:
            lists[_FREE] = pool[chunk << _CHUNK_BITS]
        elif (lists[_UNUSED] << _CHUNK_BITS) < pool.size:
            chunk = lists[_UNUSED]
            lists[_UNUSED] += 1
        else:
            lists[_LOST] = 1
            return
        pool[chunk << _CHUNK_BITS] = place >> _CHUNK_BITS
        place = chunk << _CHUNK_BITS
    pool[place + 1] = cell
    lists[at] = place + 1


@jit
def pop(pool: NDArray[np.int32], lists: NDArray[np.int64], at: int) -> int:
    """Take the last cell off a list that is not empty."""
    place = lists[at]
    cell = int(pool[place])
    if (place & _IN_CHUNK) == 1:
        lists[at] = (int(pool[place - 1]) << _CHUNK_BITS) | _IN_CHUNK
        pool[place - 1] = lists[_FREE]
        lists[_FREE] = place >> _CHUNK_BITS
    else:
        lists[at] = place - 1
    return cell


@jit
def take_up(lists: NDArray[np.int64], at: int) -> bool:
    """Make a list the one at work, leaving an empty one in its place; False where it was empty."""
    lists[AT_WORK] = lists[at]
    lists[at] = EMPTY
    return bool(lists[AT_WORK] != EMPTY)


@jit
def _push_to_tile(pool: NDArray[np.int32], lists: NDArray[np.int64], frame: Frame, tile: int, cell: int) -> None:
    """Put a cell on its tile's list, and the tile in the ring of those with work."""
    tiles = BUCKETS + (1 << frame.shift)
    if lists[tiles + tile] == EMPTY:
        lists[tiles + frame.tiles + lists[_NEXT]] = tile
        lists[_NEXT] = (lists[_NEXT] + 1) % (frame.tiles + 1)
    push(pool, lists, tiles + tile, cell)


@jit
def put(
    pool: NDArray[np.int32],
    lists: NDArray[np.int64],
    frame: Frame,
    at: tuple[int, int],
    cell: int,
    buckets: tuple[int, int],
) -> None:
    """Put a bettered cell where it belongs.

    at: the window and the tile at work. buckets: the cell's, and the one in which it was waiting, or NO_BUCKET.
    """
    new, old = buckets
    window, tile = at
    if new == old:
        return
    if new >> frame.shift != window:
        if new >> frame.shift != old >> frame.shift:
            push(pool, lists, _WINDOWS + ((new >> frame.shift) & (RING - 1)), cell)
        return
    its_tile = _tile_of(frame, cell)
    if its_tile == tile:
        push(pool, lists, BUCKETS + (new & ((1 << frame.shift) - 1)), cell)
    else:
        _push_to_tile(pool, lists, frame, its_tile, cell)


@jit
def open_queue(shape: tuple[int, int], width_s: float, window_s: float, room: int) -> Queue:
    """A queue, to be filled, for at least `room` cells, with windows of `window_s` or more in buckets of `width_s`.

    4.1 bytes for each cell of `room`, of which memory is only used as lists grow, and at most 272 bytes a list.
    """
    shift = 0
    while (1 << shift) * width_s < window_s:
        shift += 1
    rows, cols = shape
    across = (cols >> _TILE_BITS) + 1
    tiles = across * ((rows >> _TILE_BITS) + 1)
    most = BUCKETS + (1 << shift) + tiles
    pool = np.empty((room // _IN_CHUNK + most + 2) << _CHUNK_BITS, np.int32)
    return Queue(pool, np.empty(most + tiles + 1, np.int64), Frame(1.0 / width_s, shift, cols, across, tiles))


@jit
def fill(queue: Queue, time: NDArray[np.float64], marks: NDArray[np.int8]) -> None:
    """Empty the queue and put every cell in it that is marked WAITING."""
    pool, lists, frame = queue
    lists[:] = EMPTY
    lists[:AT_WORK] = 0
    lists[_UNUSED] = 1
    for cell in range(time.size):
        if marks[cell] & WAITING:
            window = bucket_of(time[cell], frame.per_s) >> frame.shift
            push(pool, lists, _WINDOWS + (window & (RING - 1)), cell)


@jit
def has_lost(queue: Queue) -> bool:
    """Whether an entry found no room since the queue was filled."""
    return bool(queue.lists[_LOST] != 0)


@jit
def lowest_window(queue: Queue, time: NDArray[np.float64], marks: NDArray[np.int8]) -> int:
    """Lowest window with a list that holds a waiting cell of its own, found by looking at all; else NO_WINDOW."""
    pool, lists, frame = queue
    lowest = NO_WINDOW
    for at in range(RING):
        place = int(lists[_WINDOWS + at])
        while place != EMPTY:
            cell = pool[place]
            window = bucket_of(time[cell], frame.per_s) >> frame.shift
            if marks[cell] & WAITING and window & (RING - 1) == at:
                lowest = min(lowest, window)
            place -= 1
            if place & _IN_CHUNK == 0:
                place = (int(pool[place]) << _CHUNK_BITS) | _IN_CHUNK
    return lowest


@jit
def open_window(queue: Queue, window: int, time: NDArray[np.float64], marks: NDArray[np.int8]) -> bool:
    """Share out the cells of a window among the tiles; False where it has none."""
    pool, lists, frame = queue
    at = _WINDOWS + (window & (RING - 1))
    take_up(lists, at)
    while lists[AT_WORK] != EMPTY:
        cell = pop(pool, lists, AT_WORK)
        its_window = bucket_of(time[cell], frame.per_s) >> frame.shift
        if marks[cell] & WAITING and its_window == window:
            _push_to_tile(pool, lists, frame, _tile_of(frame, cell), cell)
        elif marks[cell] & WAITING and its_window > window:
            push(pool, lists, _LATER, cell)
    lists[at] = lists[_LATER]
    lists[_LATER] = EMPTY
    return bool(lists[_FIRST] != lists[_NEXT])


@jit
def open_tile(queue: Queue, time: NDArray[np.float64], marks: NDArray[np.int8]) -> int:
    """Share out the cells of the next tile with work among the buckets of the window; -1 where no tile has any."""
    pool, lists, frame = queue
    if lists[_FIRST] == lists[_NEXT]:
        return -1
    tiles = BUCKETS + (1 << frame.shift)
    tile = int(lists[tiles + frame.tiles + lists[_FIRST]])
    lists[_FIRST] = (lists[_FIRST] + 1) % (frame.tiles + 1)
    take_up(lists, tiles + tile)
    while lists[AT_WORK] != EMPTY:
        cell = pop(pool, lists, AT_WORK)
        if marks[cell] & WAITING:
            push(pool, lists, BUCKETS + (bucket_of(time[cell], frame.per_s) & ((1 << frame.shift) - 1)), cell)
    return tile
