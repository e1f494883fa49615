"""Corners that stand off the bark keep the rules; finished rings are as round as the rope allows."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import approx_fprime, minimize

from boscage.model.rig import RingOptions, Stem
from boscage.rigging.finish import finish
from boscage.rigging.placing import Stand, constraints, log_roundness
from boscage.rigging.polygon import area, regular_roundness, spans, turns
from boscage.rigging.posts import regular_ring
from boscage.rigging.ring import fit_ring

P = 18.288


def polygon(count: int, radius: float, turn: float = 0.1) -> np.ndarray:
    angle = turn + 2 * math.pi * np.arange(count) / count
    return radius * np.column_stack([np.cos(angle), np.sin(angle)])


def stems_of(points: np.ndarray, dbh: float) -> list[Stem]:
    return [Stem(stem=str(k), x_m=float(x), y_m=float(y), dbh_m=dbh) for k, (x, y) in enumerate(points)]


@pytest.mark.parametrize("seed", range(6))
def test_corners_with_reach_keep_every_rule(seed: int) -> None:
    rng = np.random.default_rng(seed)
    stems = stems_of(rng.uniform(0, 9, (12, 2)), 0.3)
    ring = fit_ring(stems, RingOptions(perimeter_m=P))
    if not ring:
        pytest.skip("no ring in this wood")
    corners = np.array([(c.x_m, c.y_m) for c in ring.contacts])
    step = np.roll(corners, -1, axis=0) - corners
    assert (turns(corners) > 0).all()
    assert turns(corners).sum() == pytest.approx(2 * math.pi)
    assert 0.9 * P - 1e-6 <= spans(corners).sum() <= P + 1e-6
    for k, contact in enumerate(ring.contacts):
        strap = np.array([contact.stem.x_m, contact.stem.y_m]) - corners[k]
        assert contact.stem.radius_m - 1e-6 <= np.hypot(*strap) <= contact.stem.radius_m + 0.6 + 1e-6
        into, out = step[k - 1], step[k]
        backward_in, backward_out = into, -out
        first = backward_in[0] * strap[1] - backward_in[1] * strap[0]
        second = strap[0] * backward_out[1] - strap[1] * backward_out[0]
        assert first <= 1e-6
        assert second <= 1e-6


def test_constraints_have_the_derivatives_they_say() -> None:
    rng = np.random.default_rng(2)
    corners = polygon(6, 2.9) + rng.normal(0, 0.1, (6, 2))
    trunk = np.column_stack([polygon(6, 3.3), np.full(6, 0.15)])
    stand = Stand(trunk=trunk, reach_m=0.6, most_span_m=np.full(6, 3.5), least_m=16.0, most_m=P)
    value, slope = constraints(corners, stand)
    for row in range(len(value)):
        near = approx_fprime(corners.ravel(), lambda x, r=row: constraints(x.reshape(-1, 2), stand)[0][r], 1e-7)
        assert slope[row] == pytest.approx(near, abs=1e-5)
    near = approx_fprime(corners.ravel(), lambda x: log_roundness(x.reshape(-1, 2))[0], 1e-7)
    assert log_roundness(corners)[1] == pytest.approx(near, abs=1e-6)


def test_a_wood_without_a_ring_at_the_bark_may_hold_one_with_reach() -> None:
    """A regular hexagon of thin trees 0.4 m too far out: too long at the bark, within the rope at 0.6 m of reach."""
    stems = stems_of(polygon(6, P / 6 + 0.4), 0.2)
    assert not fit_ring(stems, RingOptions(perimeter_m=P, reach_m=0.0))
    ring = fit_ring(stems, RingOptions(perimeter_m=P))
    assert ring
    assert ring.best_at_bark is None
    assert ring.roundness == pytest.approx(regular_roundness(6), abs=1e-3)


def test_a_regular_pentagon_grows_into_the_regular_decagon() -> None:
    """One support a span and the rope of the decagon of the same circumcircle."""
    corners = polygon(5, 3.0)
    rope = 10 * 2 * 3.0 * math.sin(math.pi / 10)
    done = finish(corners, np.ones(5, np.int64), rope)
    assert done.length_m == pytest.approx(rope, abs=1e-9)
    assert done.roundness == pytest.approx(regular_roundness(10), abs=1e-9)
    decagon = polygon(10, 3.0)[1::2]
    for place in np.vstack(done.supports):
        assert np.min(np.hypot(*(decagon - place).T)) < 1e-6


@pytest.mark.parametrize("seed", range(6))
def test_no_finished_span_runs_through_the_trunk_that_holds_it(seed: int) -> None:
    rng = np.random.default_rng(seed)
    stems = stems_of(rng.uniform(0, 9, (12, 2)), 0.4)
    for reach in (0.0, 0.6):
        ring = fit_ring(stems, RingOptions(perimeter_m=P, reach_m=reach))
        if not ring:
            continue
        line = np.array(ring.outline)
        ends = np.roll(line, -1, axis=0)
        for contact in ring.contacts:
            centre = np.array([contact.stem.x_m, contact.stem.y_m])
            way = ends - line
            along = np.clip(((centre - line) * way).sum(axis=1) / (way**2).sum(axis=1), 0, 1)
            away = np.hypot(*(line + along[:, None] * way - centre).T).min()
            assert away >= contact.stem.radius_m - 1e-4


def test_more_rope_than_is_needed_is_not_used() -> None:
    corners = polygon(5, 3.0)
    rope = 10 * 2 * 3.0 * math.sin(math.pi / 10)
    done = finish(corners, np.ones(5, np.int64), rope + 1.0)
    assert done.roundness >= regular_roundness(10) - 1e-12
    assert done.length_m <= rope + 1.0


@pytest.mark.parametrize("seed", range(12))
def test_random_finished_rings_against_a_general_optimiser(seed: int) -> None:
    """scipy's SLSQP over the supports' free coordinates, convexity and rope as constraints, from several starts."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(5, 8))
    angle = np.sort(rng.uniform(0, 2 * math.pi, count) * 0.3 + 2 * math.pi * np.arange(count) / count)
    corners = 2.8 * np.column_stack([np.cos(angle), np.sin(angle)]) * rng.uniform(0.93, 1.07, (count, 1))
    if (turns(corners) <= 0.02).any():
        pytest.skip("not convex")
    built = rng.integers(0, 3, count)
    rope = spans(corners).sum() * rng.uniform(1.005, 1.05)
    done = finish(corners, built, rope)
    whole = outline(corners, done.supports)
    assert (turns(whole) >= -1e-6).all()
    assert spans(whole).sum() <= rope + 1e-9
    assert done.roundness >= 4 * math.pi * area(corners) / spans(corners).sum() ** 2 - 1e-12
    assert done.roundness == pytest.approx(4 * math.pi * area(whole) / spans(whole).sum() ** 2, abs=1e-9)
    best = by_slsqp(corners, built, rope, done.supports)
    assert done.roundness >= best - 2e-4


def outline(corners: np.ndarray, supports: tuple[np.ndarray, ...]) -> np.ndarray:
    parts = []
    for corner, some in zip(corners, supports, strict=True):
        parts += [corner[None, :], np.asarray(some).reshape(-1, 2)]
    return np.vstack(parts)


def by_slsqp(corners: np.ndarray, built: np.ndarray, rope: float, guess: tuple[np.ndarray, ...]) -> float:
    if built.sum() == 0:
        return -math.inf
    ends = np.roll(corners, -1, axis=0)
    straight = [
        a + (b - a) * (np.arange(1, n + 1) / (n + 1))[:, None] for a, b, n in zip(corners, ends, built, strict=True)
    ]

    def whole(x: np.ndarray) -> np.ndarray:
        free, at, parts = x.reshape(-1, 2), 0, []
        for corner, n in zip(corners, built, strict=True):
            parts += [corner[None, :], free[at : at + n]]
            at += n
        return np.vstack(parts)

    def loss(x: np.ndarray) -> float:
        ring = whole(x)
        return -4 * math.pi * area(ring) / spans(ring).sum() ** 2

    def convex(x: np.ndarray) -> np.ndarray:
        ring = whole(x)
        back, ahead = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
        return back[:, 0] * ahead[:, 1] - back[:, 1] * ahead[:, 0]

    best = -math.inf
    limits = [{"type": "ineq", "fun": lambda x: rope - spans(whole(x)).sum()}, {"type": "ineq", "fun": convex}]
    limits += [{"type": "eq", "fun": lambda x: uneven(whole(x), built)}]
    for start in (np.vstack(straight), np.vstack([np.asarray(g).reshape(-1, 2) for g in guess])):
        found = minimize(
            loss, start.ravel(), method="SLSQP", constraints=limits, options={"maxiter": 200, "ftol": 1e-12}
        )
        ok = limits[0]["fun"](found.x) > -1e-7 and convex(found.x).min() > -1e-7
        if ok and np.abs(uneven(whole(found.x), built)).max() < 1e-6:
            best = max(best, -loss(found.x))
    return best


def uneven(ring: np.ndarray, built: np.ndarray) -> np.ndarray:
    """Differences of the sides within each span: supports are evenly placed."""
    side, at, rows = spans(ring), 0, [0.0]
    for n in built:
        rows += list(side[at + 1 : at + n + 1] - side[at])
        at += n + 1
    return np.array(rows)


def test_a_ring_of_posts_alone_is_the_best_regular_polygon() -> None:
    """Score of n posts at the shortest allowed perimeter: each post and each support in between costs 3."""
    options = RingOptions(perimeter_m=P, posts=True)
    ring = fit_ring([], options)
    assert ring.support == "posts"
    count, perimeter = regular_ring(options)
    scores = {}
    for n in range(5, 40):
        for length in np.linspace(0.9 * P, P, 301):
            need = n * max(0, math.ceil(length / n / (P / 10) * (1 - 1e-9)) - 1)
            scores[n] = max(scores.get(n, -math.inf), 100 * (regular_roundness(n) - 0.03 * (n + need)))
    assert ring.score == pytest.approx(max(scores.values()), abs=1e-6)
    assert len(ring.contacts) == count
    assert ring.perimeter_m == pytest.approx(perimeter)
    assert ring.built_supports >= count


def test_three_trees_and_posts_make_a_hybrid() -> None:
    points = polygon(6, 2.9)
    stems = stems_of(points[[0, 2, 3]], 0.3)
    ring = fit_ring(stems, RingOptions(perimeter_m=P, posts=True))
    assert ring.support == "hybrid"
    assert not ring.trees_only
    assert ring.trees_only.nearest_miss
    alone = fit_ring([], RingOptions(perimeter_m=P, posts=True))
    assert ring.score > alone.score
    assert len(ring.contacts) >= 5
