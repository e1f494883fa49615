"""Moving the corners of a ring on given trees: rounder, and with fewer built supports."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from boscage.model.rig import BUILT_COST, RingOptions
from boscage.rigging.placing import Stand, constraints, log_roundness
from boscage.rigging.polygon import regular_roundness, score_of, spans

Array = NDArray[np.float64]

_GUARD = 1e-9


@dataclass(frozen=True, kw_only=True)
class Placed:
    """A set of trees with its corners.

    Attributes:
        trees: Places in the list of trunks, counter-clockwise.
        corners: (K, 2).
        score: -inf where the corners are no ring yet.
    """

    trees: NDArray[np.int64]
    corners: Array
    score: float


def needed(corners: Array, options: RingOptions) -> NDArray[np.int64]:
    """Built supports on each span."""
    share = spans(corners) / options.longest_span_m * (1.0 - _GUARD)
    return np.maximum(np.ceil(share).astype(np.int64) - 1, 0)


def _shortest_spans(trees: NDArray[np.int64], trunk: Array, options: RingOptions) -> Array:
    """How short each span can be, corners anywhere within reach."""
    tree = trunk[trees]
    off = tree[:, 2] + options.reach_m
    return np.maximum(spans(tree[:, :2]) - off - np.roll(off, -1), 0.0)


def most_score(trees: NDArray[np.int64], trunk: Array, options: RingOptions) -> float:
    """No ring of these trees in this order scores more: roundness of the regular polygon, fewest supports."""
    count = len(trees)
    whole = max(math.ceil(options.least_m / options.longest_span_m * (1.0 - _GUARD)) - count, 0)
    share = _shortest_spans(trees, trunk, options) / options.longest_span_m * (1.0 - _GUARD)
    built = max(int(np.maximum(np.ceil(share) - 1, 0).sum()), whole)
    return 100.0 * (regular_roundness(count) - BUILT_COST * built)


def move(one: Placed, trunk: Array, options: RingOptions, built: NDArray[np.int64]) -> Placed:
    """The set with its corners moved to be as round as it can with so many supports; as it was if that is no better."""
    tree = trunk[one.trees]
    stand = Stand(
        trunk=tree, reach_m=options.reach_m, most_span_m=(built + 1) * options.longest_span_m,
        least_m=options.least_m, most_m=options.perimeter_m,
    )  # fmt: skip

    def loss(x: Array) -> tuple[float, Array]:
        value, slope = log_roundness(x.reshape(-1, 2))
        return -value, -slope

    @functools.lru_cache(maxsize=2)
    def limits(x: bytes) -> tuple[Array, Array]:
        return constraints(np.frombuffer(x).reshape(-1, 2), stand)

    found = minimize(
        loss, one.corners.ravel(), jac=True, method="SLSQP", options={"maxiter": 120, "ftol": 1e-9},
        constraints={
            "type": "ineq", "fun": lambda x: limits(x.tobytes())[0], "jac": lambda x: limits(x.tobytes())[1],
        },
    )  # fmt: skip
    corners = found.x.reshape(-1, 2)
    score = _checked_score(corners, stand, options)
    if score is None or score <= one.score:
        return one
    return Placed(trees=one.trees, corners=corners, score=score)


def _checked_score(corners: Array, stand: Stand, options: RingOptions) -> float | None:
    """The score of moved corners; None where any of them is not allowed."""
    if not np.isfinite(corners).all() or constraints(corners, stand)[0].min() < -2e-7:
        return None
    return score_of(corners, options.longest_span_m, options.least_m, options.perimeter_m)


def with_fewer(one: Placed, trunk: Array, options: RingOptions) -> Placed:
    """The set with fewer built supports, span by span, as long as the score rises."""
    while True:
        built = needed(one.corners, options)
        excess = spans(one.corners) - built * options.longest_span_m
        possible = (built > 0) & (_shortest_spans(one.trees, trunk, options) <= built * options.longest_span_m)
        better = one
        for span in np.argsort(excess, kind="stable"):
            if possible[span]:
                fewer = built.copy()
                fewer[span] -= 1
                better = move(one, trunk, options, fewer)
                if better is not one:
                    break
        if better is one:
            return one
        one = better
