"""Which trunks can share a ring: a list of near trunks, found through square cells."""

import math

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.flags import jit


@jit
def _cell_lists(stem: NDArray[np.float64], side_m: float) -> tuple[NDArray[np.int64], NDArray[np.int64], int, int]:
    """Trunks by cell: those of cell c are order[start[c]:start[c + 1]], rising; and rows and columns of cells.

    The cells are made larger where there would be more than four for a trunk.
    """
    count = stem.shape[0]
    west, south = stem[:, 0].min(), stem[:, 1].min()
    wide, high = stem[:, 0].max() - west, stem[:, 1].max() - south
    while (wide / side_m + 1.0) * (high / side_m + 1.0) > 4.0 * count + 16.0:
        side_m *= 2.0
    cols, rows = int(wide / side_m) + 1, int(high / side_m) + 1
    cell = np.empty(count, np.int64)
    start = np.zeros(rows * cols + 1, np.int64)
    for i in range(count):
        cell[i] = int((stem[i, 1] - south) / side_m) * cols + int((stem[i, 0] - west) / side_m)
        start[cell[i] + 1] += 1
    start = np.cumsum(start)
    fill, order = start[:-1].copy(), np.empty(count, np.int64)
    for i in range(count):
        order[fill[cell[i]]] = i
        fill[cell[i]] += 1
    return order, start, rows, cols


@jit
def near_above(stem: NDArray[np.float64], most_m: float) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """For each trunk i those of a higher number that can share a closed line of length most_m with it.

    stem: (N, 3) east, north, radius, sorted by north, N >= 1. A line that touches both trunks is at least twice as
    long as the gap between them. Returns near and first: the list of i is near[first[i]:first[i + 1]], rising.
    """
    count, thickest = stem.shape[0], stem[:, 2].max()
    reach = (0.5 * most_m + 2.0 * thickest) * (1.0 + 1e-9)
    order, start, rows, cols = _cell_lists(stem, reach)
    west, south = stem[:, 0].min(), stem[:, 1].min()
    wide, high = stem[:, 0].max() - west, stem[:, 1].max() - south
    side = reach
    while (wide / side + 1.0) * (high / side + 1.0) > 4.0 * count + 16.0:
        side *= 2.0
    first = np.zeros(count + 1, np.int64)
    near = np.empty(0, np.int64)
    for fill in range(2):
        for i in range(count):
            row, col = int((stem[i, 1] - south) / side), int((stem[i, 0] - west) / side)
            held = 0
            for r in range(row, min(row + 2, rows)):
                for c in range(max(col - 1, 0), min(col + 2, cols)):
                    for k in range(start[r * cols + c], start[r * cols + c + 1]):
                        j = order[k]
                        gap = math.hypot(stem[j, 0] - stem[i, 0], stem[j, 1] - stem[i, 1]) - stem[i, 2] - stem[j, 2]
                        if j > i and 2.0 * gap <= most_m * (1.0 + 1e-9):
                            if fill:
                                near[first[i] + held] = j
                            held += 1
            if fill:
                near[first[i] : first[i + 1]].sort()
            else:
                first[i + 1] = first[i] + held
        if not fill:
            near = np.empty(first[count], np.int64)
    return near, first
