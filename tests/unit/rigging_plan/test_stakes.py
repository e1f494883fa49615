"""Stakes: evenly round, none at the closure, inside, in order; the largest circle against a linear programme."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from boscage.rigging.stakes import largest_circle_m, place_stakes


def polygon(count, radius):
    angle = 2 * np.pi * np.arange(count) / count
    return radius * np.column_stack([np.cos(angle), np.sin(angle)])


def along(outline, point):
    """Metres along the wall to the place nearest to a point, by shapely."""
    return shapely.LinearRing(outline).project(shapely.Point(point))


@st.composite
def convex_outlines(draw):
    """Corners on an ellipse at uneven angles: convex, at times long, pointed or few."""
    gaps = draw(st.lists(st.floats(0.25, 1.0), min_size=4, max_size=12))
    angle = np.cumsum(gaps) / sum(gaps) * 2 * np.pi
    return np.column_stack([3.0 * np.cos(angle), draw(st.floats(1.2, 3.0)) * np.sin(angle)])


def test_stakes_of_a_regular_ring():
    outline = polygon(12, 3.0)
    staked = place_stakes(outline, (3.0, 0.0), 1.0, 1.8288)
    whole = 24 * 3.0 * math.sin(math.pi / 12)
    assert len(staked.places) == math.ceil(whole / 1.8288) == 11
    assert staked.offsets_m == pytest.approx(np.ones(11))
    assert staked.shortened == 0
    place = np.array([along(outline, f) for f in staked.feet])
    assert np.diff(np.sort(place)) == pytest.approx(np.full(10, whole / 11))
    assert min(place.min(), whole - place.max()) == pytest.approx(whole / 22)  # the closure is at 0
    assert staked.room_m == pytest.approx(3.0 * math.cos(math.pi / 12), rel=1e-4)


def test_never_fewer_than_five_and_a_spacing_met_exactly_needs_no_more():
    outline = polygon(6, 2.0)
    assert len(place_stakes(outline, (2.0, 0.0), 0.5, 50.0).places) == 5
    assert len(place_stakes(outline, (2.0, 0.0), 0.5, 2.0).places) == 6


def test_normal_of_the_run_and_bisector_at_a_corner():
    square = np.array([[0.0, 0.0], [6.0, 0.0], [6.0, 6.0], [0.0, 6.0]])
    staked = place_stakes(square, (3.0, 0.0), 0.8, 6.0)  # five stakes, 4.8 m apart, from 2.4 m after the closure
    assert staked.feet[0] == pytest.approx((5.4, 0.0))
    assert staked.places[0] == pytest.approx((5.4, 0.8))
    corner = place_stakes(square, (3.0, 0.0), 0.8, 4.0)  # six, 4 m apart, from 2 m after: the second is on no corner
    assert corner.feet[0] == pytest.approx((5.0, 0.0))
    at_corner = place_stakes(square, (3.6, 0.0), 0.8, 6.0)  # the first at a corner exactly
    assert at_corner.feet[0] == pytest.approx((6.0, 0.0))
    assert at_corner.places[0] == pytest.approx((6.0 - 0.8 / math.sqrt(2), 0.8 / math.sqrt(2)))


def test_offsets_leave_the_middle_open():
    staked = place_stakes(polygon(12, 1.0), (1.0, 0.0), 5.0, 1.0)
    assert (staked.offsets_m <= 0.9 * staked.room_m + 1e-12).all()
    assert staked.shortened == len(staked.places)


@settings(max_examples=60, deadline=None)
@given(convex_outlines(), st.floats(0.0, 1.0), st.floats(0.1, 2.5), st.floats(0.6, 3.0))
def test_stakes_are_inside_and_in_order(outline, share, offset, spacing):
    ring = shapely.LinearRing(outline)
    closure = ring.interpolate(share, normalized=True)
    staked = place_stakes(outline, (closure.x, closure.y), offset, spacing)
    shape = shapely.Polygon(outline)
    assert all(shape.contains(shapely.Point(p)) for p in staked.places)
    assert (staked.offsets_m <= min(offset, 0.9 * staked.room_m) + 1e-12).all()
    assert np.hypot(*(staked.places - staked.feet).T) == pytest.approx(staked.offsets_m)
    assert ring.distance(closure) < 1e-9
    assert min(math.dist(f, (closure.x, closure.y)) for f in staked.feet) > 0.0
    lines = [shapely.LineString([f, p]) for f, p in zip(staked.feet, staked.places, strict=True)]
    for a, b in zip(lines, lines[1:] + lines[:1], strict=True):
        assert not a.crosses(b)


@settings(max_examples=40, deadline=None)
@given(convex_outlines())
def test_largest_circle_is_that_of_the_linear_programme(outline):
    """The Chebyshev centre of a convex polygon (Boyd and Vandenberghe 2004, Convex Optimization, 4.3.1)."""
    way = np.roll(outline, -1, axis=0) - outline
    normal = np.column_stack([way[:, 1], -way[:, 0]]) / np.hypot(*way.T)[:, None]
    best = linprog([0, 0, -1], np.column_stack([normal, np.ones(len(way))]), (normal * outline).sum(axis=1),
                   bounds=[(None, None), (None, None), (0, None)])  # fmt: skip
    assert largest_circle_m(outline) == pytest.approx(best.x[2], rel=1e-4)
    assert largest_circle_m(outline) <= best.x[2] * (1 + 1e-9)
