"""The score: a weighted mean over the factors that have data, 0 to 100."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.scoring import add_factor, finish_score

CHUNK_CELLS = 65_536  # what the sums of stay in the processor's near memory
SHARE_ROUNDING = 1e-6


def weighted_score(
    values: Sequence[NDArray[np.float32]], weights: Sequence[float], *, least_data: float
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Weighted mean of factor values over those that have data at each cell.

    Args:
        values: Each (rows, cols), 0..1, NaN for no data.
        weights: One over 0 for each.
        least_data: Least share of the weight that must rest on data; below it the score is NaN.

    Returns:
        Score 0..100 and the share of weight that had data 0..1, each (rows, cols) float32.

    References: weighted sum, P. C. Fishburn (1967), Additive utilities with incomplete product sets, Oper. Res. 15.
    """
    total = np.zeros(values[0].shape, dtype=np.float32)
    known = np.zeros(values[0].shape, dtype=np.float32)
    for value, weight in zip(values, weights, strict=True):
        has = ~np.isnan(value)
        total += np.where(has, value * np.float32(weight), np.float32(0.0))
        known += has * np.float32(weight)
    share = known / np.float32(sum(weights))
    enough = (known > 0) & (share >= np.float32(least_data) - np.float32(SHARE_ROUNDING))
    with np.errstate(invalid="ignore", divide="ignore"):
        score = np.where(enough, np.float32(100.0) * total / known, np.float32(np.nan))
    return score.astype(np.float32), share


def open_score(
    values: Sequence[NDArray[np.float32]], weights: Sequence[float], open_cells: NDArray[np.bool_], *, least_data: float
) -> NDArray[np.float32]:
    """The score of `weighted_score`, bit for bit, on cells where a place may be; NaN on the others.

    Args:
        values, weights, least_data: As there.
        open_cells: (rows, cols) True where a place may be.
    """
    out = np.empty(open_cells.shape, dtype=np.float32)
    flat = [np.ascontiguousarray(v, dtype=np.float32).ravel() for v in values]
    shown, held = out.ravel(), np.ascontiguousarray(open_cells).ravel()
    limits = np.float32(sum(weights)), np.float32(least_data) - np.float32(SHARE_ROUNDING)
    total, known = (np.empty(CHUNK_CELLS, dtype=np.float32) for _ in range(2))
    for start in range(0, out.size, CHUNK_CELLS):
        part = slice(start, min(start + CHUNK_CELLS, out.size))
        some, has = total[: part.stop - start], known[: part.stop - start]
        some[:] = 0.0
        has[:] = 0.0
        for value, weight in zip(flat, weights, strict=True):
            add_factor(value[part], np.float32(weight), some, has)
        finish_score(some, has, limits, held[part], shown[part])
    return out
