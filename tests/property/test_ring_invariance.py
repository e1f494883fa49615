"""The same wood turned, moved, mirrored or listed in another order gives the same ring."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boscage.model.rig import RingOptions, Stem
from boscage.rigging.ring import fit_ring

BARK = RingOptions(perimeter_m=18.288, reach_m=0.0)
REACH = RingOptions(perimeter_m=18.288)


def stems_of(points: np.ndarray, dbh: np.ndarray) -> list[Stem]:
    return [
        Stem(stem=str(k), x_m=float(x), y_m=float(y), dbh_m=float(d))
        for k, ((x, y), d) in enumerate(zip(points, dbh, strict=True))
    ]


def a_wood(seed: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    count = int(rng.integers(8, 13))
    return rng.uniform(0, 8, (count, 2)), rng.uniform(0.12, 0.5, count)


@settings(derandomize=True, deadline=None, max_examples=40)
@given(
    st.integers(0, 10_000), st.floats(0, 6.28), st.floats(-500, 500), st.booleans(), st.randoms(use_true_random=False)
)
def test_the_ring_at_the_bark_does_not_depend_on_position(
    seed: int, turn: float, shift: float, mirror: bool, shuffle: object
) -> None:
    points, dbh = a_wood(seed)
    plain = fit_ring(stems_of(points, dbh), BARK)
    order = list(range(len(points)))
    shuffle.shuffle(order)
    c, s = math.cos(turn), math.sin(turn)
    moved = points @ np.array([[c, s], [-s, c]]) + (shift, -2 * shift)
    if mirror:
        moved = moved * (-1.0, 1.0)
    stems = stems_of(moved, dbh)
    other = fit_ring([stems[k] for k in order], BARK)
    assert bool(plain) == bool(other)
    if plain:
        assert other.score == pytest.approx(plain.score, abs=1e-6)
        assert {c.stem.stem for c in other.contacts} == {c.stem.stem for c in plain.contacts}


@pytest.mark.parametrize("seed", range(6))
def test_with_reach_the_order_of_the_list_does_not_matter(seed: int) -> None:
    points, dbh = a_wood(seed)
    stems = stems_of(points, dbh)
    one, other = fit_ring(stems, REACH), fit_ring(stems[::-1], REACH)
    assert bool(one) == bool(other)
    if one:
        assert one.score == other.score
        assert one.outline == other.outline


@pytest.mark.parametrize("seed", range(6))
def test_reach_and_more_trees_never_take_score_away_at_the_bark(seed: int) -> None:
    points, dbh = a_wood(seed)
    stems = stems_of(points, dbh)
    bark, reach = fit_ring(stems, BARK), fit_ring(stems, REACH)
    if bark:
        assert reach
        assert reach.score >= bark.score - 1e-9
        assert reach.best_at_bark == pytest.approx(bark.score, abs=1e-9)
        fewer = fit_ring(stems[:-1], BARK)
        assert not fewer or fewer.score <= bark.score + 1e-9


@pytest.mark.parametrize("seed", [3, 4])
def test_coordinates_of_a_projected_grid_are_as_good_as_local_ones(seed: int) -> None:
    """Eastings of half a million and northings of four million metres leave few digits behind the point."""
    points, dbh = a_wood(seed)
    for options in (BARK, REACH):
        near, far = (
            fit_ring(stems_of(points, dbh), options),
            fit_ring(stems_of(points + (527_184, 4_007_653), dbh), options),
        )
        assert bool(near) == bool(far)
        if near:
            assert far.score == pytest.approx(near.score, abs=1e-4)
            assert {c.stem.stem for c in far.contacts} == {c.stem.stem for c in near.contacts}
