"""The surface of use: fresh over stale, looked over not looked, strips over one piece."""

from __future__ import annotations

import math
import tracemalloc

import numpy as np
import pytest

from boscage.errors import InputError
from boscage.evidence import surface as surface_module
from boscage.evidence.ages import age_signs
from boscage.evidence.bandwidth import choose_bandwidth
from boscage.evidence.ranges import convex_hull, isopleths
from boscage.evidence.searching import search_effort
from boscage.evidence.surface import kernel_density, use_surface
from boscage.model.evidence import NOT_LOOKED, NOTHING, SIGN, Searched, Sign, SignOptions
from boscage.values import Grid, Length

GRID = Grid("EPSG:32615", 0.0, 2000.0, 10.0, 200, 200)
FIXED = SignOptions(rule="fixed")


def signs(*rows: tuple[float, float, str, float]):
    return age_signs([Sign(x_m=x, y_m=y, kind=k, days=d, row=i) for i, (x, y, k, d) in enumerate(rows, 1)], FIXED)


@pytest.mark.parametrize("rule", ["fixed", "reference", "cross-validation"])
def test_eighty_old_rootings_lose_to_five_fresh(rule: str) -> None:
    rng = np.random.default_rng(8)
    old = [(500 + u, 1000 + v, "rooting", 90.0) for u, v in rng.normal(0, 40, (80, 2))]
    fresh = [(1500 + u, 1000 + v, "rooting", 1.0) for u, v in rng.normal(0, 40, (5, 2))]
    found = use_surface(signs(*old, *fresh), GRID, SignOptions(rule=rule))
    stale, new = (found.density[GRID.index(x, 1000.0)] for x in (500.0, 1500.0))
    assert new > 50.0 * stale
    core = found.density >= found.isopleths[0].level
    assert core[GRID.index(1500.0, 1000.0)] and not core[GRID.index(500.0, 1000.0)]


def test_what_is_stated_of_a_surface() -> None:
    found = use_surface(signs((1000, 1000, "scat", 0), (10, 1000, "scat", 0)), GRID, FIXED)
    assert found.bandwidth.rule == "fixed" and found.bandwidth.metres == 200.0
    assert [i.share for i in found.isopleths] == [0.5, 0.95]
    assert found.isopleths[0].hectares < found.isopleths[1].hectares
    assert found.off_grid == pytest.approx(0.24, abs=0.01)
    assert any("24 % of use lies beyond the map" in n for n in found.notes)
    assert any("not looked at, as far as is known" in n for n in found.notes)


def test_without_weight_use_is_not_known() -> None:
    for none in (signs(), signs((1000, 1000, "scat", -1))):
        found = use_surface(none, GRID, FIXED)
        assert found.isopleths == () and not found.density.any()
        assert any("use is not known" in n for n in found.notes)


def test_looked_and_found_nothing_differs_from_not_looked() -> None:
    walked = Searched(line=np.array([[200.0, 505.0], [800.0, 505.0]]), days=3.0)
    found = use_surface(signs((505, 505, "scat", 0), (1505, 1505, "scat", 0)), GRID, FIXED, [walked])
    looked = found.effort.looked
    assert looked[GRID.index(300.0, 505.0)] == NOTHING
    assert looked[GRID.index(505.0, 505.0)] == SIGN
    assert looked[GRID.index(1000.0, 1000.0)] == NOT_LOOKED
    assert looked[GRID.index(1505.0, 1505.0)] == SIGN
    assert found.effort.walked_m == pytest.approx(600.0)
    assert found.effort.days[GRID.index(300.0, 505.0)] == 3.0
    assert math.isnan(found.effort.days[GRID.index(1000.0, 1000.0)])
    assert found.density[GRID.index(300.0, 505.0)] > 0.0
    assert not any("not looked at" in n for n in found.notes)


def test_ground_seen_is_the_strip_along_the_line() -> None:
    options = SignOptions(sight=Length(30.0))
    line = Searched(line=np.array([[300.0, 300.0], [300.0, 1300.0], [1300.0, 1300.0]]), days=0.0)
    found = search_effort([line], signs(), GRID, options)
    strip = 2 * 30.0 * 2000.0 + math.pi * 30.0**2 - (1 - math.pi / 4) * 30.0**2
    assert found.looked_ha == pytest.approx(strip / 1e4, rel=0.02)
    slant = Searched(line=np.array([[303.0, 317.0], [1251.0, 911.0]]), days=0.0)
    found = search_effort([slant], signs(), GRID, options)
    assert found.walked_m == pytest.approx(math.hypot(948.0, 594.0))
    assert found.looked_ha == pytest.approx((60.0 * math.hypot(948.0, 594.0) + math.pi * 900) / 1e4, rel=0.02)


def test_an_old_search_no_longer_counts_and_the_newest_one_is_told() -> None:
    line = np.array([[300.0, 305.0], [900.0, 305.0]])
    old = search_effort([Searched(line=line, days=15.0)], signs(), GRID, FIXED)
    assert not old.looked.any() and old.walked_m == 0.0 and "older than 14 days: 1" in old.notes[0]
    both = search_effort([Searched(line=line, days=9.0), Searched(line=line, days=2.0)], signs(), GRID, FIXED)
    assert both.days[GRID.index(500.0, 305.0)] == 2.0 and both.walked_m == pytest.approx(1200.0)
    undated = search_effort([Searched(line=line)], signs(), GRID, FIXED)
    assert undated.looked.any() and "without a date: 1" in undated.notes[0]


def test_a_line_beyond_the_grid_counts_only_inside() -> None:
    line = Searched(line=np.array([[-500.0, 1005.0], [500.0, 1005.0]]), days=1.0)
    assert search_effort([line], signs(), GRID, FIXED).walked_m == pytest.approx(500.0)
    away = Searched(line=np.array([[-500.0, 1005.0], [-100.0, 1005.0]]), days=1.0)
    found = search_effort([away], signs(), GRID, FIXED)
    assert found.walked_m == 0.0 and not found.looked.any()
    with pytest.raises(InputError, match="row 2: a searched line is broken"):
        search_effort([line, Searched(line=np.zeros((1, 2)))], signs(), GRID, FIXED)


def test_strips_give_the_same_surface_as_one_piece(monkeypatch: pytest.MonkeyPatch) -> None:
    points, weights = np.random.default_rng(1).random((30, 2)) * 2000.0, np.random.default_rng(2).random(30)
    whole = kernel_density(points, weights, GRID, 150.0)
    monkeypatch.setattr(surface_module, "STRIP_CELLS", 200 * 7)
    assert np.array_equal(kernel_density(points, weights, GRID, 150.0), whole)


def test_memory_stays_near_that_of_the_answer() -> None:
    """16 million cells: 64 MB for the surface; beside it strips of up to 32 MB and no copy of the grid."""
    grid = Grid("EPSG:32615", 0.0, 40000.0, 10.0, 4000, 4000)
    points, weights = np.random.default_rng(1).random((40, 2)) * 40000.0, np.ones(40)
    kernel_density(points, weights, GRID, 150.0)
    tracemalloc.start()
    density = kernel_density(points, weights, grid, 300.0)
    isopleths(density, 10.0, (0.5, 0.95))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < density.nbytes + 110e6


def test_rules_that_have_no_answer_fall_back_and_say_so() -> None:
    place = np.array([[10.0, 10.0]] * 5)
    single = choose_bandwidth(place, np.ones(5), "reference", fixed_m=77.0, least_m=5.0)
    assert (single.metres, single.rule) == (77.0, "fixed") and "Fewer than two places" in single.note
    piled = np.concatenate([place, place + 300.0])
    found = choose_bandwidth(piled, np.ones(10), "cross-validation", fixed_m=77.0, least_m=5.0)
    assert found.rule == "reference" and "no minimum" in found.note
    near = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    low = choose_bandwidth(near, np.ones(3), "reference", fixed_m=77.0, least_m=20.0)
    assert low.metres == 20.0 and "the least allowed is used" in low.note


def test_points_without_weight_do_not_move_the_bandwidth() -> None:
    points = np.random.default_rng(3).normal(0, 100, (40, 2))
    weights = np.concatenate([np.ones(20), np.zeros(20)])
    first = choose_bandwidth(points, weights, "reference", fixed_m=1.0, least_m=1.0)
    second = choose_bandwidth(points[:20], np.ones(20), "reference", fixed_m=1.0, least_m=1.0)
    assert first.metres == pytest.approx(second.metres)


def test_polygons_that_span_nothing_are_refused() -> None:
    for points in (np.zeros((0, 2)), np.zeros((2, 2)), np.column_stack([np.arange(5.0), np.arange(5.0)])):
        with pytest.raises(InputError, match="span no ground"):
            convex_hull(points)
    with pytest.raises(InputError, match="the share of points is 0"):
        convex_hull(np.random.default_rng(1).random((9, 2)), 0.0)
    with pytest.raises(InputError, match="the share of use is 1"):
        isopleths(np.ones((3, 3)), 10.0, (1.0,))
    square = convex_hull(np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [0.0, 100.0], [50.0, 50.0]]))
    assert square.hectares == pytest.approx(1.0) and len(square.corners) == 4


def test_isopleths_of_even_and_of_empty_ground() -> None:
    (half,) = isopleths(np.ones((10, 10)), 100.0, (0.5,))
    assert (half.hectares, half.level) == (50.0, 1.0)
    assert isopleths(np.zeros((10, 10)), 100.0, (0.5,)) == ()
    assert isopleths(np.full((4, 4), np.nan), 100.0, (0.5,)) == ()
    one = np.zeros((10, 10))
    one[3, 3] = 5.0
    assert isopleths(one, 100.0, (0.95,))[0].hectares == pytest.approx(0.95)
