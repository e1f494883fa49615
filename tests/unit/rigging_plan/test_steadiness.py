"""Steadiness: draws of the stated spread, a sufficient test that is right, and cases with a known answer."""

from __future__ import annotations

import math
import time

import numpy as np
import pytest
from scipy.optimize import linprog

from boscage.model.rig import RingOptions, Stem
from boscage.model.rig_plan import RigFrame, RiggingOptions
from boscage.rigging.bearings import Pivot
from boscage.rigging.steadiness import draw_places, holds, judge_steadiness, least_move
from boscage.values import Length

MIDDLE = Pivot(place=(0.0, 0.0), stem=None)


def trunks(ring):
    return np.array([(s.x_m, s.y_m, s.radius_m) for s in (c.stem for c in ring.contacts)])


def corners(ring):
    return np.array([(c.x_m, c.y_m) for c in ring.contacts])


def test_draws_have_the_stated_spread_and_come_out_the_same():
    centres, options = np.array([[3.0, 0.0], [0.0, -4.0], [6.0, 8.0]]), RiggingOptions(draws=20_000)
    measured = np.array([True, True, False])
    taped = draw_places(centres, measured, MIDDLE, RigFrame(taped=True), options)
    far = np.hypot(taped[:, :, 0], taped[:, :, 1])
    assert far.std(axis=0)[:2] == pytest.approx([0.03, 0.04], rel=0.03)  # 1 % of the distance
    across = np.degrees(np.arctan2(taped[:, 0, 1], taped[:, 0, 0]))
    assert across.std() == pytest.approx(1.0, rel=0.03)
    assert taped.mean(axis=0) == pytest.approx(centres, abs=2e-3)
    assert taped[:, 2] == pytest.approx(np.broadcast_to(centres[2], (20_000, 2)))
    mapped = draw_places(centres, measured, MIDDLE, RigFrame(), options)
    assert mapped[:, :2].std(axis=0) == pytest.approx(np.full((2, 2), 0.5), rel=0.03)
    assert (draw_places(centres, measured, MIDDLE, RigFrame(), options) == mapped).all()


def test_no_error_no_failure_and_more_error_more_failures(rings):
    ring = rings.regular(6, 2.8)
    shares = [
        judge_steadiness(ring, MIDDLE, RigFrame(), RiggingOptions(mapped_error=Length(e), draws=60)).holds_share
        for e in (0.0, 0.3, 1.2)
    ]
    assert shares[0] == 1.0
    assert shares[0] >= shares[1] > shares[2]


def test_a_triangle_of_points_at_the_bark_has_a_share_that_is_known():
    """Points, no reach, one tree moved by a map's error: the share is that of perimeters within the window.

    Reckoned from a million draws of the three distances, apart from the program.
    """
    options = RingOptions(perimeter_m=6.3, gather=0.1, contacts=3, reach_m=0.0, min_dbh_m=0.0, spacing_m=10.0)
    points = np.array([[0.0, 0.0], [2.0, 0.0], [1.0, math.sqrt(3.0)]])
    trunk = np.column_stack([points, np.zeros(3)])
    rng = np.random.default_rng(11)
    many = points + rng.normal(0.0, 0.2, (1_000_000, 3, 2))
    length = np.hypot(*np.moveaxis(many - np.roll(many, 1, axis=1), 2, 0)).sum(axis=1)
    expected = ((length >= 5.67) & (length <= 6.3)).mean()
    spread = RiggingOptions(mapped_error=Length(0.2), draws=4000)
    draws = draw_places(points, np.ones(3, bool), MIDDLE, RigFrame(), spread)
    got = np.mean([holds(np.column_stack([p, np.zeros(3)]), trunk, points, options) for p in draws])
    assert got == pytest.approx(expected, abs=3.5 * math.sqrt(expected * (1 - expected) / 4000))


def test_too_long_at_full_reach_fails_and_just_short_of_it_holds(rings):
    """Six trees on a circle: corners at full reach make a hexagon whose perimeter is six times its radius."""
    ring = rings.regular(6, 2.8, perimeter_m=17.0, spacing_m=10.0)
    unit = corners(ring) / 2.8
    for radius, fits in ((17.0 / 6 + 0.6 - 0.01, True), (17.0 / 6 + 0.6 + 0.01, False)):
        trunk = np.column_stack([unit * (radius + 0.15), np.full(6, 0.15)])
        assert holds(trunk, trunks(ring), corners(ring), ring.options) == fits


def test_too_short_can_be_mended_only_so_far(rings):
    """Trees that let the ring be just long enough with corners at the bark, and trees half a metre farther in."""
    ring = rings.regular(6, 2.8, perimeter_m=17.0, spacing_m=10.0)
    unit, least = corners(ring) / 2.8, 0.9 * 17.0
    just = np.column_stack([unit * (least / 6 + 0.151), np.full(6, 0.15)])
    assert holds(just, trunks(ring), corners(ring), ring.options)
    tight = np.column_stack([unit * (least / 6 - 0.5), np.full(6, 0.15)])
    assert not holds(tight, trunks(ring), corners(ring), ring.options)


def test_the_tree_in_the_worst_place_is_named(rings):
    """One tree stands where a small move inward leaves no convex ring; the others have room to spare."""
    options = RingOptions(perimeter_m=12.6, contacts=5, reach_m=0.02, min_dbh_m=0.0, spacing_m=20.0, gather=0.4)
    angle = np.radians([45.0, 135.0, 225.0, 315.0])
    square = [(2.0 * math.cos(a), 2.0 * math.sin(a)) for a in angle]
    places = [(1.4142 + 0.03, 0.0), *square]
    stems = [Stem(stem=str(k), x_m=x, y_m=y, dbh_m=0.0) for k, (x, y) in enumerate(places)]
    ring = rings.ring_from(places, stems, options)
    steady = judge_steadiness(ring, MIDDLE, RigFrame(), RiggingOptions(mapped_error=Length(0.05), draws=80))
    assert 0.4 < steady.holds_share < 0.95
    assert steady.weakest == "0"


def test_nothing_to_judge(rings):
    posts = rings.regular(6, 2.8, posts=range(6))
    assert judge_steadiness(posts, MIDDLE, RigFrame(), RiggingOptions()) is None
    assert judge_steadiness(rings.regular(6), MIDDLE, RigFrame(), RiggingOptions(draws=0)) is None


def test_a_ring_with_posts_is_judged_by_its_trees(rings):
    ring = rings.regular(6, 2.8, posts=(2,))
    steady = judge_steadiness(ring, MIDDLE, RigFrame(), RiggingOptions(draws=40, mapped_error=Length(1.5)))
    assert steady.holds_share < 1.0
    assert steady.weakest != "3"


def test_words_say_the_errors(rings):
    ring = rings.regular(6)
    taped = judge_steadiness(ring, MIDDLE, RigFrame(taped=True), RiggingOptions(draws=3))
    assert taped.error == "standard errors of 1 degree of bearing and 1 % of distance from the pivot"
    assert "0.5 m (1.6 ft)" in judge_steadiness(ring, MIDDLE, RigFrame(), RiggingOptions(draws=3)).error


def test_five_hundred_draws_take_under_three_seconds_of_work(rings):
    ring = rings.regular(7, 2.8)
    judge_steadiness(ring, MIDDLE, RigFrame(), RiggingOptions(draws=2))
    start = time.process_time()
    judge_steadiness(ring, MIDDLE, RigFrame(), RiggingOptions(draws=500))
    assert time.process_time() - start < 3.0


@pytest.mark.parametrize("seed", range(10))
def test_least_move_meets_the_rules_and_none_is_shorter(seed):
    """Optimality of the shortest vector of a polyhedron: no point of it has a smaller product with the answer."""
    rng = np.random.default_rng(seed)
    slopes, wanted = rng.normal(size=(9, 5)), rng.normal(size=9) - 0.4
    move = least_move(slopes, wanted)
    some = linprog(np.zeros(5), -slopes, -wanted, bounds=(None, None))
    if not some.success:
        assert move is None
        return
    assert (slopes @ move >= wanted - 1e-8).all()
    nearest = linprog(move, -slopes, -wanted, bounds=(None, None))
    assert move @ move <= nearest.fun + 1e-7


def test_least_move_says_when_there_is_none():
    assert least_move(np.array([[1.0, 0.0], [-1.0, 0.0]]), np.array([1.0, 1.0])) is None
