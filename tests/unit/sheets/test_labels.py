"""Labels and discs: never on one another, never outside."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boscage.sheets.labels import Placer

places = st.lists(st.tuples(st.floats(-10, 130), st.floats(-10, 110)), min_size=1, max_size=40)


def apart(placer: Placer) -> bool:
    return all(
        a[2] <= b[0] + 1e-9 or b[2] <= a[0] + 1e-9 or a[3] <= b[1] + 1e-9 or b[3] <= a[1] + 1e-9
        for a, b in combinations(placer.taken, 2)
    )


@settings(max_examples=40, deadline=None, derandomize=True)
@given(places)
def test_discs_keep_apart_and_inside(points):
    placer = Placer(120, 100)
    spots = [placer.must_place(x, y, 5.0) for x, y in points]
    assert all(s is not None for s in spots)
    assert apart(placer)
    assert all(placer.inside(rect) for rect in placer.taken)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(places, st.floats(5, 40), st.floats(2, 8))
def test_labels_keep_apart_and_inside(points, width, height):
    placer = Placer(120, 100)
    for x, y in points:
        placer.beside(x, y, width, height, off_mm=1.0)
    assert apart(placer)
    assert all(placer.inside(rect) for rect in placer.taken)


def test_a_free_place_is_taken_as_it_is():
    placer = Placer(100, 100)
    spot = placer.must_place(40, 50, 5.0)
    assert (spot.x, spot.y) == pytest.approx((40, 50))


def test_a_label_avoids_a_mark_when_it_can():
    placer = Placer(100, 100)
    placer.mark(60, 50, 3.0)
    spot = placer.beside(50, 50, 20, 4, off_mm=1.0)
    assert spot.x < 50
    for x, y in np.ndindex(40, 40):
        placer.mark(x * 2.5, y * 2.5, 2.5)
    assert placer.beside(50, 80, 20, 4, off_mm=1.0) is not None


def test_a_full_map_says_so():
    placer = Placer(12, 12)
    found = [placer.must_place(6, 6, 5.0) for _ in range(9)]
    assert found[0] is not None
    assert found[-1] is None
    assert placer.place([(6, 6)], 30, 30) is None
