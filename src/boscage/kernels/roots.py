"""Where each cell's way begins, from the moves that a least-time pass leaves behind."""

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.flags import jit


@jit
def find_roots(out_from: NDArray[np.int8], offsets: NDArray[np.int64], out_root: NDArray[np.int64]) -> None:
    """Flat index of the seed that each cell was reached from; a cell that was not reached is its own root.

    out_from, offsets: as `travel.travel_time` fills and takes them, (R, C) and (K, 2). out_root: int64 (R, C).
    Each cell is visited twice at the most. Zero-length grids: nothing is written.
    """
    cols = out_from.shape[1]
    back, root = out_from.ravel(), out_root.ravel()
    step = np.empty(offsets.shape[0], np.int64)
    for k in range(offsets.shape[0]):
        step[k] = offsets[k, 0] * cols + offsets[k, 1]
    root[:] = -1
    for start in range(back.size):
        cell = start
        while root[cell] < 0 and back[cell] >= 0:
            cell += step[back[cell]]
        found = root[cell] if root[cell] >= 0 else cell
        cell = start
        while root[cell] < 0:
            root[cell] = found
            if back[cell] >= 0:
                cell += step[back[cell]]
