"""Walking round the finished ring, and what stands about it, against shapely and regular polygons."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from boscage.model.rig import Stem
from boscage.rigging.course import is_inside, look_around, middle, rotated, run_lengths, walk, wall_distance_m


def test_turns_and_outward_of_a_regular_hexagon(rings):
    ring = rings.regular(6, 3.0, spacing_m=10.0)
    corners = walk(ring)
    assert [c.number for c in corners] == [1, 2, 3, 4, 5, 6]
    assert [c.turning_deg for c in corners] == pytest.approx([60.0] * 6)
    for corner in corners:
        assert corner.outward == pytest.approx(np.asarray(corner.place) / 3.0)


def test_built_supports_come_after_their_contact_and_all_turns_make_one_round(rings):
    ring = rings.regular(5, 3.0, spacing_m=2.0)
    corners = walk(ring)
    assert [c.contact is None for c in corners] == [False, True] * 5
    assert [c.number for c in corners] == [1, 1, 2, 2, 3, 3, 4, 4, 5, 5]
    assert sum(c.turning_deg for c in corners) == pytest.approx(360.0)
    assert [c.place for c in corners] == list(ring.outline)
    assert run_lengths(np.array(ring.outline)).sum() == pytest.approx(ring.finished_m)


def test_counting_from_another_contact_leaves_the_ring_as_it_is(rings):
    ring = rings.regular(5, 3.0, spacing_m=2.0)
    turned = rotated(ring, 3)
    assert turned.contacts == ring.contacts[3:] + ring.contacts[:3]
    assert turned.outline == ring.outline[6:] + ring.outline[:6]
    assert [(s.first, s.second) for s in turned.spans] == [(0, 1), (1, 2), (2, 3), (3, 4), (4, 0)]
    assert rotated(turned, 2) == ring


def test_inside_distance_and_middle_agree_with_shapely(rings):
    ring = rings.regular(7, 3.0, spacing_m=1.6)
    outline, shape = np.array(ring.outline), shapely.Polygon(ring.outline)
    for x, y in np.random.default_rng(3).uniform(-5.0, 5.0, (200, 2)):
        assert is_inside(outline, (x, y)) == shape.contains(shapely.Point(x, y))
        assert wall_distance_m(outline, (x, y)) == pytest.approx(shape.exterior.distance(shapely.Point(x, y)))
    assert middle(ring) == pytest.approx((shape.centroid.x, shape.centroid.y), abs=1e-9)


def test_who_stands_inside_near_the_wall_and_nearby(rings):
    ring = rings.regular(6, 3.0, spacing_m=10.0)
    others = [
        Stem(stem="in", x_m=0.0, y_m=0.5, dbh_m=0.05, kind="dead"),
        Stem(stem="wall", x_m=3.3, y_m=0.0, dbh_m=0.3),  # bark 0.55 m off a wall that is 2.6 m from the middle
        Stem(stem="thin", x_m=0.0, y_m=-3.0, dbh_m=0.09),
        Stem(stem="far", x_m=0.0, y_m=12.0, dbh_m=0.3),
        Stem(stem="tied", x_m=30.0, y_m=0.0, dbh_m=0.3),
    ]
    around = look_around(ring, [*rings.trees(ring), *others], 8.0, ["tied"])
    assert [s.stem for s in around.inside] == ["in"]
    assert [s.stem for s in around.near_wall] == ["wall"]
    assert [s.stem for s in around.nearby] == ["1", "2", "3", "4", "5", "6", "in", "wall", "thin", "tied"]
