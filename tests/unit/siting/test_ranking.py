"""Local maxima that keep their distance."""

from __future__ import annotations

import numpy as np
import pytest

from boscage.siting.ranking import find_peaks
from boscage.values import Grid

GRID = Grid("EPSG:32615", 0.0, 2000.0, 10.0, 200, 200)


def hills(*tops: tuple[int, int, float]) -> np.ndarray:
    rows, cols = np.mgrid[0:200, 0:200]
    score = np.zeros((200, 200))
    for row, col, high in tops:
        score = np.maximum(score, high - np.hypot(rows - row, cols - col))
    return score.astype(np.float32)


def test_the_tops_come_out_in_order() -> None:
    peaks = find_peaks(hills((50, 50, 80), (50, 150, 95), (150, 100, 60)), GRID, count=3, spacing_m=300.0)
    assert [(p.row, p.col) for p in peaks] == [(50, 150), (50, 50), (150, 100)]
    assert (peaks[0].x_m, peaks[0].y_m) == GRID.centre(50, 150)
    assert peaks[0].score == pytest.approx(95.0)


def test_no_two_are_nearer_than_the_spacing() -> None:
    score = hills((50, 50, 80), (50, 62, 79), (50, 90, 70))
    near = find_peaks(score, GRID, count=9, spacing_m=100.0)
    far = find_peaks(score, GRID, count=9, spacing_m=130.0)
    assert (50, 62) in [(p.row, p.col) for p in near]
    assert (50, 62) not in [(p.row, p.col) for p in far]
    for peaks, least in ((near, 100.0), (far, 130.0)):
        for n, p in enumerate(peaks):
            assert all(np.hypot(p.x_m - q.x_m, p.y_m - q.y_m) >= least for q in peaks[:n])


def test_the_rim_of_a_taken_circle_is_no_site() -> None:
    """A single cone has one local maximum, however many sites are asked for."""
    assert len(find_peaks(hills((100, 100, 90)) - 0.0, GRID, count=12, spacing_m=300.0)) == 1 or all(
        p.score == 0.0 for p in find_peaks(hills((100, 100, 90)), GRID, count=12, spacing_m=300.0)[1:]
    )


def test_a_plateau_is_taken_in_its_middle() -> None:
    score = np.full((200, 200), 10.0, np.float32)
    score[80:101, 60:81] = 90.0
    best = find_peaks(score, GRID, count=1, spacing_m=300.0)[0]
    assert abs(best.row - 90) <= 5
    assert abs(best.col - 70) <= 5


def test_ruled_out_ground_holds_nothing() -> None:
    score = hills((50, 50, 80), (150, 150, 60))
    score[:100] = np.nan
    peaks = find_peaks(score, GRID, count=1, spacing_m=100.0)
    assert (peaks[0].row, peaks[0].col) == (150, 150)
    assert find_peaks(np.full((200, 200), np.nan, np.float32), GRID, count=5, spacing_m=100.0) == []
