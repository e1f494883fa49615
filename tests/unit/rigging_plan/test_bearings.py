"""Bearings, pivot, walking order and check distances."""

from __future__ import annotations

import math

import numpy as np
import pytest

from boscage.model.rig import Stem
from boscage.model.rig_plan import RigFrame
from boscage.model.trees import StemList
from boscage.rigging.bearings import (
    Pivot,
    check_distances,
    choose_pivot,
    first_contact,
    magnetic_deg,
    trunk_place,
)


def test_magnetic_is_grid_plus_convergence_less_declination():
    """Surveying rule (common practice, no source); equal to what the stem list's reader uses."""
    frame = RigFrame(declination_deg=5.0, convergence_deg=-1.25)
    assert magnetic_deg((10.0, 10.0), (10.0, 11.0), frame) == 353.75
    listed = StemList(stems=(), frame="crs", declination_deg=5.0, convergence_deg=-1.25)
    for x, y in ((1.0, 0.2), (-3.0, 4.0), (-1.0, -1.0)):
        assert magnetic_deg((0.0, 0.0), (x, y), frame) == pytest.approx(listed.magnetic_deg(x, y))
    assert magnetic_deg((1.0, 1.0), (1.0, 1.0), frame) == 0.0
    assert magnetic_deg((0.0, 0.0), (-1e-9 - 1e-6, 1e6), RigFrame()) == 0.0  # never 360


def test_tape_and_compass_come_back(rings):
    """A bearing and distance laid off from the pivot come back as they were."""
    bearing, distance, declination = 211.5, 7.32, -0.6
    true = math.radians(bearing + declination)
    place = (distance * math.sin(true), distance * math.cos(true))
    assert magnetic_deg((0.0, 0.0), place, RigFrame(declination_deg=declination)) == pytest.approx(bearing)


def test_pivot(rings):
    ring = rings.regular(6, 3.0, spacing_m=10.0)
    outline = np.array(ring.outline)
    near, far = Stem(stem="n", x_m=0.3, y_m=1.2, dbh_m=0.2), Stem(stem="f", x_m=0.0, y_m=1.6, dbh_m=0.2)
    trees = rings.trees(ring)
    given = choose_pivot(ring, [*trees, near], RigFrame(pivot=(9.0, 9.0)), outline)
    assert given == Pivot(place=(9.0, 9.0), stem=None)
    assert choose_pivot(ring, [*trees, near], RigFrame(pivot=(0.3, 1.25)), outline).stem == "n"
    assert choose_pivot(ring, [*trees, far, near], RigFrame(), outline) == Pivot(place=(0.3, 1.2), stem="n")
    assert choose_pivot(ring, [*trees, far], RigFrame(), outline).stem == "1"
    posts = rings.regular(6, 3.0, posts=range(6), spacing_m=10.0)
    assert choose_pivot(posts, [], RigFrame(), outline).place == pytest.approx((0.0, 0.0), abs=1e-12)


def test_walk_starts_at_the_pivots_own_contact_or_at_the_smallest_magnetic_bearing(rings):
    ring = rings.regular(6, 3.0, spacing_m=10.0)  # contacts at 30, 90, ... from east: bearings 60, 0, 300, 240, ...
    middle = Pivot(place=(0.0, 0.0), stem=None)
    assert first_contact(ring, middle, RigFrame(declination_deg=-1.0)) == 1  # magnetic 1
    assert first_contact(ring, middle, RigFrame(declination_deg=1.0)) == 0  # 359, so 59 is the smallest
    at = trunk_place(ring.contacts[4])
    assert first_contact(ring, Pivot(place=at, stem="5"), RigFrame()) == 4


def test_check_distances_are_seen_across_the_pivots_ray(rings):
    ring = rings.regular(4, 3.0, contacts=3, spacing_m=10.0, start_deg=0.0)
    middle = check_distances(ring, Pivot(place=(0.0, 0.0), stem=None))
    assert [c.first for c in middle] == [1, 0, 1, 0]  # two rays at 45 degrees alike, the one through the middle at 90
    for i, check in enumerate(middle):
        a, b = (trunk_place(ring.contacts[k]) for k in (i, check.first))
        assert check.length_m == pytest.approx(math.dist(a, b))
    own = check_distances(ring, Pivot(place=trunk_place(ring.contacts[0]), stem="1"))
    assert all(c.first != 0 for c in own)
    for i in (1, 3):  # square corners are seen at exactly 45 or 90 degrees: across is best
        a, b = np.subtract(trunk_place(ring.contacts[i]), trunk_place(ring.contacts[0])), None
        b = np.subtract(trunk_place(ring.contacts[i]), trunk_place(ring.contacts[own[i].first]))
        assert abs(a @ b) / np.hypot(*a) / np.hypot(*b) < 1e-9
