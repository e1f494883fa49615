"""Drainage on a grid: filling, steepest descent, contributing area, height above the stream.

Steepest descent to one of eight neighbours: O'Callaghan and Mark (1984). Filling by priority
flood: Barnes, Lehman and Mulla (2014). Implicit erosion by stream power: Braun and Willett (2013).
Cells are numbered row by row. Work that must run down the drainage tree is done level by level.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass

import numpy as np

from generate.frame import Bools, Floats, Ints

STEPS = [(-1, -1), (-1, 0), (-1, 1), (0, -1), (0, 1), (1, -1), (1, 0), (1, 1)]


def fill(height_m: Floats, outlets: Bools, rise_m: float = 0.0) -> Floats:
    """Raise every hollow so that each cell has a way down to an outlet, by `rise_m` a cell at least."""
    rows, cols = height_m.shape
    filled = height_m.copy()
    seen = outlets.copy()
    heap = [(filled[r, c], r, c) for r, c in zip(*np.nonzero(outlets), strict=True)]
    heapq.heapify(heap)
    while heap:
        level, row, col = heapq.heappop(heap)
        for down, right in STEPS:
            r, c = row + down, col + right
            if 0 <= r < rows and 0 <= c < cols and not seen[r, c]:
                seen[r, c] = True
                if filled[r, c] < level + rise_m:
                    filled[r, c] = level + rise_m
                heapq.heappush(heap, (filled[r, c], r, c))
    return filled


def edge(shape: tuple[int, int]) -> Bools:
    """The cells on the border of a grid."""
    mask = np.ones(shape, dtype=bool)
    mask[1:-1, 1:-1] = False
    return mask


@dataclass(frozen=True, kw_only=True)
class Drainage:
    """Each cell's receiver, the distance to it in cells, and the cells in order from the outlets up."""

    receiver: Ints
    reach: Floats
    levels: list[Ints]


def drain(height_m: Floats, outlets: Bools) -> Drainage:
    """Steepest descent. Outlets and cells with no lower neighbour receive themselves."""
    rows, cols = height_m.shape
    number = np.arange(rows * cols).reshape(rows, cols)
    padded = np.pad(height_m, 1, constant_values=np.inf)
    best = np.zeros(height_m.shape)
    receiver = number.copy()
    reach = np.ones(height_m.shape)
    for down, right in STEPS:
        length = np.hypot(down, right)
        there = padded[1 + down : 1 + down + rows, 1 + right : 1 + right + cols]
        drop = (height_m - there) / length
        take = (drop > best) & ~outlets
        best[take] = drop[take]
        receiver[take] = number[take] + down * cols + right
        reach[take] = length
    flat = receiver.ravel()
    return Drainage(receiver=flat, reach=reach.ravel(), levels=_levels(flat))


def _levels(receiver: Ints) -> list[Ints]:
    """Cells grouped by the number of steps to their outlet, nearest first (pointer doubling)."""
    depth = (receiver != np.arange(receiver.size)).astype(np.int64)
    jump = receiver.copy()
    while True:
        gain = depth[jump]
        if not gain.any():
            break
        depth += gain
        jump = jump[jump]
    order = np.argsort(depth, kind="stable")
    return np.split(order, np.cumsum(np.bincount(depth))[:-1])


def gather(drainage: Drainage, amount: Floats) -> Floats:
    """What reaches each cell from itself and all cells above it. `amount` is flat."""
    total = amount.astype(float).copy()
    for cells in reversed(drainage.levels[1:]):
        np.add.at(total, drainage.receiver[cells], total[cells])
    return total


def erode(height_m: Floats, drainage: Drainage, strength: Floats) -> Floats:
    """One implicit step of stream-power erosion, slope exponent 1; `strength` is flat, dimensionless."""
    flat = height_m.ravel().copy()
    for cells in drainage.levels[1:]:
        pull = strength[cells] / drainage.reach[cells]
        flat[cells] = (flat[cells] + pull * flat[drainage.receiver[cells]]) / (1.0 + pull)
    return flat.reshape(height_m.shape)


def carry_up(drainage: Drainage, start: Floats, fixed: Bools) -> Floats:
    """Each cell takes the value of the first fixed cell below it; `start` holds the fixed values (flat)."""
    value = start.copy()
    for cells in drainage.levels[1:]:
        loose = cells[~fixed[cells]]
        value[loose] = value[drainage.receiver[loose]]
    return value
