"""The score against an independent library, and the value function against its closed form."""

from __future__ import annotations

import numpy as np
import pytest
from pymcdm.methods import WSM

from boscage.model.factor import rate
from boscage.siting.scoring import weighted_score


def test_weighted_mean_equals_pymcdm_weighted_sum() -> None:
    """pymcdm 1.x, method WSM with the values taken as they are (no normalisation)."""
    rng = np.random.default_rng(11)
    matrix = rng.random((400, 6))
    weights = rng.random(6) + 0.05
    values = [matrix[:, k].reshape(20, 20).astype(np.float32) for k in range(6)]
    ours, share = weighted_score(values, list(weights), least_data=0.5)
    theirs = WSM(normalization_function=lambda column, cost=False: column)(matrix, weights / weights.sum(), np.ones(6))
    assert ours.ravel() == pytest.approx(100 * theirs, abs=1e-4)
    assert np.all(share == pytest.approx(1.0))


def test_factors_without_data_are_left_out_of_the_mean() -> None:
    nan = np.float32(np.nan)
    values = [np.array([[1.0, nan, nan]], np.float32), np.array([[0.5, 0.5, nan]], np.float32)]
    score, share = weighted_score(values, [3.0, 1.0], least_data=0.0)
    assert score[0, :2] == pytest.approx([87.5, 50.0])
    assert np.isnan(score[0, 2])
    assert share[0] == pytest.approx([1.0, 0.25, 0.0])
    score, _ = weighted_score(values, [3.0, 1.0], least_data=0.5)
    assert np.isnan(score[0, 1])


def test_value_function_is_linear_between_points_and_flat_beyond() -> None:
    points = ((2.0, 0.0), (4.0, 1.0), (10.0, 0.25))
    assert rate(np.array([0.0, 2.0, 3.0, 4.0, 7.0, 10.0, 99.0, np.nan]), points) == pytest.approx(
        [0.0, 0.0, 0.5, 1.0, 0.625, 0.25, 0.25, np.nan], nan_ok=True
    )
