"""Searched ground: where somebody looked along a line, so that nothing found differs from never looked."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from boscage.errors import InputError
from boscage.model.evidence import NOT_LOOKED, NOTHING, SIGN, AgedSigns, Effort, Searched, SignOptions
from boscage.values import Grid


def search_effort(lines: Sequence[Searched], signs: AgedSigns, grid: Grid, options: SignOptions) -> Effort:
    """Cells whose middle lies within sight of a walked line, and whether sign was found there.

    A line older than `search_days` before the day that ages are counted from no longer counts; one without a date does,
    and it is said. A cell has sign where a sign with any weight lies in it or within sight of its middle.

    Args:
        lines: Walked lines in the grid's CRS.

    Raises:
        InputError: A line has fewer than two points or a coordinate that is no number.
    """
    looked = np.full(grid.shape, NOT_LOOKED, dtype=np.int8)
    days = np.full(grid.shape, np.nan, dtype=np.float32)
    walked, old, undated = 0.0, 0, 0
    for number, line in enumerate(lines, start=1):
        path = _checked(line.line, number)
        if line.days > options.search_days or line.days < 0.0:
            old += 1
            continue
        undated += math.isnan(line.days)
        for begin, end in pairwise(path):
            _mark(grid, begin, end, options.sight.m, looked, days, line.days)
            walked += _length_on(grid, begin, end)
    _mark_signs(grid, signs, options.sight.m, looked)
    area = float((looked != NOT_LOOKED).sum()) * grid.cell_ha
    return Effort(looked=looked, days=days, walked_m=walked, looked_ha=area, notes=_notes(old, undated, options))


def _checked(line: NDArray[np.float64], number: int) -> NDArray[np.float64]:
    path = np.asarray(line, dtype=np.float64)
    if path.ndim != 2 or path.shape[0] < 2 or path.shape[1] != 2 or not np.isfinite(path).all():
        raise InputError("a searched line is broken", expected="two or more points, each east and north", row=number)
    return path


def _mark(
    grid: Grid,
    begin: NDArray[np.float64],
    end: NDArray[np.float64],
    sight_m: float,
    looked: NDArray[np.int8],
    days: NDArray[np.float32],
    since: float,
) -> None:
    """Mark the cells along one straight piece; long pieces bit by bit, so that no more than a strip is held."""
    length = float(np.hypot(*(end - begin)))
    bits = max(1, math.ceil(length / max(50.0 * grid.cell_m, sight_m)))
    for k in range(bits):
        first, last = begin + (end - begin) * (k / bits), begin + (end - begin) * ((k + 1) / bits)
        window = _window(grid, np.minimum(first, last) - sight_m, np.maximum(first, last) + sight_m)
        if window is None:
            continue
        rows, cols = window
        east = grid.west + (np.arange(cols.start, cols.stop) + 0.5) * grid.cell_m
        north = grid.north - (np.arange(rows.start, rows.stop) + 0.5) * grid.cell_m
        seen = _away(east[None, :], north[:, None], first, last) <= sight_m
        part = looked[rows, cols]
        part[seen] = NOTHING
        if not math.isnan(since):
            np.fmin(days[rows, cols], np.where(seen, np.float32(since), np.float32(np.nan)), out=days[rows, cols])


def _window(grid: Grid, low: NDArray[np.float64], high: NDArray[np.float64]) -> tuple[slice, slice] | None:
    top, left = grid.index(float(low[0]), float(high[1]))
    bottom, right = grid.index(float(high[0]), float(low[1]))
    rows = slice(max(0, top), min(grid.rows, bottom + 1))
    cols = slice(max(0, left), min(grid.cols, right + 1))
    return (rows, cols) if rows.start < rows.stop and cols.start < cols.stop else None


def _away(
    east: NDArray[np.float64], north: NDArray[np.float64], begin: NDArray[np.float64], end: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Distance of every middle to a straight piece."""
    along = end - begin
    square = float(along @ along)
    share = ((east - begin[0]) * along[0] + (north - begin[1]) * along[1]) / square if square > 0.0 else 0.0 * east
    share = np.clip(share, 0.0, 1.0)
    return np.hypot(east - begin[0] - share * along[0], north - begin[1] - share * along[1])


def _length_on(grid: Grid, begin: NDArray[np.float64], end: NDArray[np.float64]) -> float:
    """Length of a straight piece inside the grid (Liang and Barsky, 1984)."""
    box, along = grid.bounds, end - begin
    low, high = 0.0, 1.0
    for k, (least, most) in enumerate(((box.west, box.east), (box.south, box.north))):
        if along[k] == 0.0:
            if not least <= begin[k] <= most:
                return 0.0
            continue
        ends = sorted(((least - begin[k]) / along[k], (most - begin[k]) / along[k]))
        low, high = max(low, ends[0]), min(high, ends[1])
    return max(0.0, high - low) * float(np.hypot(*along))


def _mark_signs(grid: Grid, signs: AgedSigns, sight_m: float, looked: NDArray[np.int8]) -> None:
    for x, y, weight in zip(signs.x_m, signs.y_m, signs.weights, strict=True):
        place = np.array([x, y])
        window = _window(grid, place - sight_m, place + sight_m) if weight > 0.0 else None
        if window is None:
            continue
        rows, cols = window
        east = grid.west + (np.arange(cols.start, cols.stop) + 0.5) * grid.cell_m
        north = grid.north - (np.arange(rows.start, rows.stop) + 0.5) * grid.cell_m
        near = np.hypot(east[None, :] - x, north[:, None] - y) <= sight_m
        looked[rows, cols][near] = SIGN
        row, col = grid.index(x, y)
        if grid.holds(row, col):
            looked[row, col] = SIGN


def _notes(old: int, undated: int, options: SignOptions) -> tuple[str, ...]:
    said = []
    if old:
        said.append(f"Searched lines older than {options.search_days:g} days: {old}; they no longer count as looked.")
    if undated:
        said.append(f"Searched lines without a date: {undated}; taken as recent enough to count.")
    return tuple(said)
