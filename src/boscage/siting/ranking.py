"""From a score surface to ranked places: local maxima that keep their distance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter, uniform_filter

from boscage.values import Grid

PEAK_RADIUS_M = 50.0


@dataclass(frozen=True, kw_only=True)
class Peak:
    """One place on the grid: cell, east and north of its centre in metres, and its score."""

    row: int
    col: int
    x_m: float
    y_m: float
    score: float


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
