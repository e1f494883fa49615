"""The search for the fewest trips when its bound does not meet its first plan."""

from __future__ import annotations

import numpy as np
import pytest

from boscage.packing import trips
from boscage.packing.trips import Kinds, fewest_trips

KINDS = Kinds(
    masses=np.array([12, 33, 44]), counts=np.array([6, 3, 2]), limits=np.array([132]),
    carrier=np.zeros(1, dtype=np.int64), cargo=np.array([132]),
)  # fmt: skip


def test_a_bound_that_is_too_low_is_raised_by_proof(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(trips, "generate", lambda kinds, start: (2, list(start)))
    made = fewest_trips(KINDS)
    assert (len(made.fillings), made.bound, made.is_fewest) == (3, 3, True)


def test_a_plan_that_is_not_proven_is_not_called_fewest(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(trips, "generate", lambda kinds, start: (2, list(start)))
    monkeypatch.setattr(trips, "whole_model", lambda kinds, count, seconds: (None, False))
    made = fewest_trips(KINDS)
    assert (len(made.fillings), made.bound, made.is_fewest) == (3, 2, False)


def test_a_piece_that_fits_nowhere() -> None:
    heavy = Kinds(
        masses=np.array([133]), counts=np.array([1]), limits=np.array([132]), carrier=np.array([0]),
        cargo=np.array([132]),
    )  # fmt: skip
    with pytest.raises(ValueError, match="fits on no part"):
        fewest_trips(heavy)
