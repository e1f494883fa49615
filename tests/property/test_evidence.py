"""What must hold of ages, surfaces and ranges whatever the sign."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from boscage.evidence.ages import age_signs
from boscage.evidence.bandwidth import choose_bandwidth
from boscage.evidence.ranges import convex_hull, isopleths
from boscage.evidence.surface import kernel_density
from boscage.model.evidence import AGE_FROM_DAYS, Sign, SignOptions
from boscage.values import Grid

FEW = settings(derandomize=True, deadline=None, max_examples=30)
KINDS = st.sampled_from(["rooting", "track", "scat", "bed", "rub"])
STATES = st.sampled_from([None, *AGE_FROM_DAYS])


@FEW
@given(KINDS, STATES, st.floats(0, 300), st.floats(0, 60), st.one_of(st.just(float("nan")), st.floats(0, 90)))
def test_older_never_weighs_more(kind: str, state: str | None, days: float, more: float, rain: float) -> None:
    pair = [
        Sign(x_m=0.0, y_m=0.0, kind=kind, days=d, state=state, days_since_rain=rain)  # type: ignore[arg-type]
        for d in (days, days + more)
    ]
    found = age_signs(pair, SignOptions())
    assert found.weights[0] >= found.weights[1] > 0.0
    assert list(found.classes) == sorted(found.classes)


@FEW
@given(st.integers(0, 10**6), st.sampled_from(["reference", "cross-validation"]), st.floats(0.2, 5.0))
def test_a_bandwidth_grows_with_the_ground_and_not_with_the_weights(seed: int, rule: str, scale: float) -> None:
    rng = np.random.default_rng(seed)
    points, weights = rng.normal(0, 100, (25, 2)), rng.random(25) + 0.1
    first = choose_bandwidth(points, weights, rule, fixed_m=1.0, least_m=1e-9)  # type: ignore[arg-type]
    moved = choose_bandwidth(points * scale + 5e5, 7 * weights, rule, fixed_m=1.0, least_m=1e-9)  # type: ignore[arg-type]
    assert abs(moved.metres / (scale * first.metres) - 1) < 1e-5


@FEW
@given(st.integers(0, 10**6), st.floats(0.05, 0.9))
def test_a_larger_share_takes_more_ground_and_a_weight_of_all_changes_none(seed: int, share: float) -> None:
    rng = np.random.default_rng(seed)
    grid = Grid("EPSG:32615", 0.0, 1000.0, 20.0, 50, 50)
    density = kernel_density(rng.random((6, 2)) * 1000.0, rng.random(6), grid, 90.0)
    less, more = isopleths(density, 20.0, (share, share + 0.09))
    assert less.hectares < more.hectares and less.level >= more.level
    (again,) = isopleths(density * np.float32(4.0), 20.0, (share,))
    assert abs(again.hectares - less.hectares) < 1e-9
    assert (density >= less.level).sum() * 0.04 >= less.hectares - 1e-9


@FEW
@given(st.integers(0, 10**6), st.floats(0.4, 0.9))
def test_a_polygon_of_fewer_points_is_no_larger_and_turns_with_them(seed: int, share: float) -> None:
    points = np.random.default_rng(seed).normal(0, 100, (30, 2))
    part, whole = convex_hull(points, share), convex_hull(points)
    assert part.hectares <= whole.hectares and part.kept.sum() >= share * 29
    turned = points @ np.array([[0.6, 0.8], [-0.8, 0.6]]) + 1e4
    assert abs(convex_hull(turned, share).hectares - part.hectares) < 1e-6
