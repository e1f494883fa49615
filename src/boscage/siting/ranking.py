"""From a score surface to ranked places: local maxima that keep their distance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter, uniform_filter

from boscage.model.scene import RingField
from boscage.values import Grid

PEAK_RADIUS_M = 50.0


@dataclass(frozen=True, kw_only=True)
class Peak:
    """One place: its cell, east and north in metres, the cell's score, and that of the ring it stands on, if any."""

    row: int
    col: int
    x_m: float
    y_m: float
    score: float
    ring_score: float | None = None


def find_peaks(score: NDArray[np.float32], grid: Grid, *, count: int, spacing_m: float) -> list[Peak]:
    """The best local maxima of the score, no two nearer than `spacing_m`, best first.

    A local maximum has no better cell within 50 m east, west, north or south (or within the spacing, if that is less).
    Of cells that score the same, the one amid the better ground (mean score within 50 m, ruled-out ground counting 0)
    comes first, so that a place lies inside a good patch and not on its rim; then the northern, then the western.

    Args:
        score: (rows, cols), NaN where no place may be.
        grid: Its frame.
        count: Most places.
        spacing_m: Least distance between two places' middles.
    """
    filled = np.nan_to_num(score, nan=-1.0)
    reach = max(1, int(min(PEAK_RADIUS_M, spacing_m) / grid.cell_m))
    top = maximum_filter(filled, size=2 * reach + 1, mode="constant", cval=-1.0)
    rows, cols = np.nonzero((filled >= top) & ~np.isnan(score))
    if rows.size == 0:
        return []
    around = uniform_filter(np.maximum(filled, 0.0), size=2 * reach + 1, mode="constant", cval=0.0)
    order = np.lexsort((cols, rows, -around[rows, cols].round(3), -score[rows, cols]))
    peaks: list[Peak] = []
    taken = np.empty((count, 2))
    for i in order:
        if len(peaks) == count:
            break
        x, y = grid.centre(int(rows[i]), int(cols[i]))
        near = taken[: len(peaks)]
        if peaks and np.min(np.hypot(near[:, 0] - x, near[:, 1] - y)) < spacing_m:
            continue
        taken[len(peaks)] = x, y
        peaks.append(Peak(row=int(rows[i]), col=int(cols[i]), x_m=x, y_m=y, score=float(score[rows[i], cols[i]])))
    return peaks


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
    away = np.hypot(rings.x_m - peak.x_m, rings.y_m - peak.y_m)
    near = np.flatnonzero(away <= walk_m)
    for i in near[np.lexsort((rings.x_m[near], away[near], -rings.score[near]))]:
        x, y = float(rings.x_m[i]), float(rings.y_m[i])
        row, col = grid.index(x, y)
        may = grid.holds(row, col) and not np.isnan(score[row, col])
        if may and all(np.hypot(x - p.x_m, y - p.y_m) >= spacing_m for p in taken):
            return Peak(row=row, col=col, x_m=x, y_m=y, score=float(score[row, col]), ring_score=float(rings.score[i]))
    return peak
