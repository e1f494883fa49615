"""The exact search against brute force over every set of trees, written apart in `tests/support/brute_rings.py`."""

from __future__ import annotations

import math

import brute_rings
import numpy as np
import pytest

from boscage.model.rig import RingOptions, Stem
from boscage.rigging.ring import fit_ring
from boscage.rigging.search import best_rings, best_sets

P, GATHER = 18.288, 0.10
RULES = {"perimeter": P, "gather": GATHER, "spacing": P / 10, "contacts": 5}
OPTIONS = RingOptions(perimeter_m=P, gather=GATHER, reach_m=0.0, min_dbh_m=0.0)


def wood(kind: str, rng: np.random.Generator) -> np.ndarray:
    """A small wood: scattered, on a grid (ties, collinear), in rows, round a circle, or with duplicates."""
    n = int(rng.integers(5, 15))
    if kind == "grid":
        return rng.integers(0, 6, (n, 2)) * 1.4
    if kind == "rows":
        return np.column_stack([rng.uniform(0, 8, n), rng.choice([0.0, 2.5, 5.0], n)])
    if kind == "circle":
        angle, radius = rng.uniform(0, 2 * math.pi, n), rng.choice([2.6, 2.8, 2.9], n)
        return np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])
    points = rng.uniform(0, 7.5, (n, 2))
    if kind == "duplicates":
        points[rng.integers(0, n, 3)] = points[rng.integers(0, n, 3)]
    if kind == "far":
        points *= 6
    return points


@pytest.mark.parametrize("kind", ["scattered", "grid", "rows", "circle", "duplicates", "far"])
def test_points_agree_with_brute_force(kind: str) -> None:
    """60 woods of each kind, 360 in all, of 5 to 14 stems."""
    rng = np.random.default_rng(sum(kind.encode()))
    feasible = 0
    for _ in range(60):
        points = wood(kind, rng)
        theirs, _ = brute_rings.best_of_points(points, **RULES)
        ours = best_sets(np.column_stack([points, np.zeros(len(points))]), OPTIONS, count=1)
        assert (ours.scores[0] if ours.scores else -math.inf) == pytest.approx(theirs, abs=1e-7)
        feasible += theirs > -math.inf
        stems = [Stem(stem=str(k), x_m=x, y_m=y, dbh_m=0.0) for k, (x, y) in enumerate(points.tolist())]
        ring = fit_ring(stems, OPTIONS)
        assert bool(ring) == (theirs > -math.inf)
        if ring:
            assert ring.score == pytest.approx(theirs, abs=1e-7)
            again, _ = brute_rings.best_of_points(np.array([(c.x_m, c.y_m) for c in ring.contacts]), **RULES)
            assert again == pytest.approx(theirs, abs=1e-7)
        else:
            assert ring.reason
            assert ring.nearest_miss
    assert feasible == 0 if kind == "far" else feasible >= 10


def test_thick_trunks_agree_with_brute_force() -> None:
    rng = np.random.default_rng(77)
    feasible = 0
    for n in range(60):
        count = int(rng.integers(5, 8))
        angle = np.sort(rng.uniform(0, 2 * math.pi, count))
        radius = rng.uniform(2.9, 3.25, count)
        trunks = np.column_stack([radius * np.cos(angle), radius * np.sin(angle), rng.uniform(0.05, 0.4, count)])
        theirs, _ = brute_rings.best_of_trunks(trunks, **RULES)
        ours = best_sets(trunks, OPTIONS, count=1)
        assert (ours.scores[0] if ours.scores else -math.inf) == pytest.approx(theirs, abs=1e-5), n
        feasible += theirs > -math.inf
    assert feasible >= 8


def test_the_best_ring_of_every_stem_holds_the_best_ring() -> None:
    """The search over all roots at once: its best is the optimum, and each ring's lowest stem is its root."""
    rng = np.random.default_rng(5)
    points = rng.uniform(0, 40, (260, 2))
    radii = rng.uniform(0.05, 0.2, 260)
    found = best_rings(points, radii, OPTIONS)
    whole = best_sets(np.column_stack([points, radii]), OPTIONS, count=1)
    assert np.nanmax(found.score) == pytest.approx(whole.scores[0], abs=1e-9)
    for root in np.flatnonzero(found.contacts)[::9]:
        ring = found.ring(root)
        assert root in ring
        assert points[ring, 1].min() == points[root, 1]
        trunks = np.column_stack([points[ring], radii[ring]])
        alone = brute_rings.bark_ring(trunks)
        assert alone is not None
        x, y = alone.T
        area = 0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))
        assert found.area_m2[root] == pytest.approx(area, abs=1e-6)
