"""From a score surface to ranked places: local maxima that keep their distance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.peaks import block_range, pick_peaks
from boscage.model.scene import RingField
from boscage.values import Grid

PEAK_RADIUS_M = 50.0
SAME_CELL = 0.5  # cells: what is nearer than this is the same place


@dataclass(frozen=True, kw_only=True)
class Peak:
    """One place.

    Attributes:
        row, col: Its cell.
        x_m, y_m: East and north.
        score: Of the cell, 0..100.
        ring_score: Of the ring of mapped trees that it stands on, or None.
        chosen: Row of the plan's `[[choices]]` that put it here, or None where the program found it.
    """

    row: int
    col: int
    x_m: float
    y_m: float
    score: float
    ring_score: float | None = None
    chosen: int | None = None


def find_peaks(
    score: NDArray[np.float32], grid: Grid, *, count: int, spacing_m: float, apart: NDArray[np.float64] | None = None
) -> list[Peak]:
    """The best local maxima of the score, no two nearer than `spacing_m`, best first.

    A local maximum has no better cell within 50 m east, west, north or south (or within the spacing, if that is less).
    Of cells that score the same, the one amid the better ground (mean score within 50 m, ruled-out ground counting 0)
    comes first, so that a place lies inside a good patch and not on its rim; then the northern, then the western.

    Args:
        score: (rows, cols), NaN where no place may be.
        grid: Its frame.
        count: Most places.
        spacing_m: Least distance between two places' middles.
        apart: (N, 3) east, north and the distance in metres that places keep from there.
    """
    field = np.ascontiguousarray(score, dtype=np.float32)
    reach = max(1, int(min(PEAK_RADIUS_M, spacing_m) / grid.cell_m))
    blocks = tuple(-(-n // (reach + 1)) for n in field.shape)
    tops, lows = np.empty(blocks, np.float32), np.empty(blocks, np.float32)
    block_range(field, reach, tops, lows)
    order = np.argsort(-tops, axis=None, kind="stable")
    kept = _in_cells(apart, grid)
    taken = np.concatenate([kept, np.empty((max(0, count), 3))])
    least = max(spacing_m / grid.cell_m, SAME_CELL)
    found = pick_peaks(field, (tops, lows), order, (reach, least), taken, len(kept))
    peaks = []
    for row, col in taken[len(kept) : found, :2].astype(np.int64).tolist():
        x, y = grid.centre(row, col)
        peaks.append(Peak(row=row, col=col, x_m=x, y_m=y, score=float(field[row, col])))
    return peaks


def _in_cells(apart: NDArray[np.float64] | None, grid: Grid) -> NDArray[np.float64]:
    """East, north and distance in metres as row, column and distance in cells, counted between cells' middles."""
    if apart is None or not len(apart):
        return np.empty((0, 3))
    x, y, metres = apart.T
    return np.column_stack([grid.north - y, x - grid.west, metres]) / grid.cell_m - (0.5, 0.5, 0.0)


def settle_on_rings(
    peaks: list[Peak], rings: RingField, score: NDArray[np.float32], grid: Grid, *, walk_m: float, spacing_m: float
) -> list[Peak]:
    """Move each place to the middle of the best ring of trees within a walk, and put the places in order again.

    A ring counts only where its middle lies on a cell that may be ranked and keeps the spacing from the places settled
    before it. Where none does, the place stays.
    """
    settled: list[Peak] = []
    for peak in peaks:
        settled.append(_settled(peak, rings, score, grid, (walk_m, spacing_m), settled))
    return sorted(settled, key=lambda p: -p.score)


def _settled(
    peak: Peak,
    rings: RingField,
    score: NDArray[np.float32],
    grid: Grid,
    reach_m: tuple[float, float],
    taken: list[Peak],
) -> Peak:
    """One place on the best ring that it may take, or as it was."""
    walk_m, spacing_m = reach_m
    strip = np.flatnonzero(np.abs(rings.y_m - peak.y_m) <= walk_m)
    away = np.hypot(rings.x_m[strip] - peak.x_m, rings.y_m[strip] - peak.y_m)
    near, away = strip[away <= walk_m], away[away <= walk_m]
    for i in near[np.lexsort((rings.x_m[near], away, -rings.score[near]))]:
        x, y = float(rings.x_m[i]), float(rings.y_m[i])
        row, col = grid.index(x, y)
        may = grid.holds(row, col) and not np.isnan(score[row, col])
        if may and all(np.hypot(x - p.x_m, y - p.y_m) >= spacing_m for p in taken):
            return Peak(row=row, col=col, x_m=x, y_m=y, score=float(score[row, col]), ring_score=float(rings.score[i]))
    return peak
