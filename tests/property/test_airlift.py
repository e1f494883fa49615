"""Gaps, legs, sorties and daylight: unchanged by what should not matter, and monotone where they should be."""

from __future__ import annotations

import datetime as dt
import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boscage.airlift.air import air_at
from boscage.airlift.gaps import CLOSE_M, GapSearch, widest_gaps
from boscage.airlift.legs import heading_for, wind_triangle
from boscage.airlift.sorties import SortieRules, plan_sorties
from boscage.airlift.sun import daylight
from boscage.model.drop import Load
from boscage.values import Grid

QUICK = settings(derandomize=True, deadline=None, max_examples=40)


def wood(seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    height = np.where(rng.random((30, 30)) < 0.12, 15.0, 0.0).astype(np.float32)
    height[rng.random((30, 30)) < 0.02] = np.nan
    return height


def widest(height: np.ndarray, *, west: float = 0.0, north: float = 30.0, cell: float = 1.0) -> float:
    grid = Grid("EPSG:32615", west, north, cell, *height.shape)
    site = (west + 15.0 * cell, north - 15.0 * cell)
    found = widest_gaps(height, grid, site, GapSearch(open_height_m=1.0))
    return found[0].diameter_m if found else 0.0


@QUICK
@given(st.integers(0, 10_000), st.integers(0, 3))
def test_a_gap_moves_turns_and_grows_with_the_ground(seed: int, turns: int) -> None:
    height = wood(seed)
    base = widest(height)
    assert widest(height, west=500_000.0, north=4_000_000.0) == pytest.approx(base, abs=2 * CLOSE_M)
    assert widest(np.rot90(height, turns).copy()) == pytest.approx(base, abs=2 * CLOSE_M)
    assert widest(height, cell=3.0) == pytest.approx(3.0 * base, abs=8 * CLOSE_M)


@QUICK
@given(st.integers(0, 10_000), st.integers(0, 29), st.integers(0, 29))
def test_one_more_tree_never_widens_a_gap(seed: int, row: int, col: int) -> None:
    height = wood(seed)
    base = widest(height)
    height[row, col] = 20.0
    assert widest(height) <= base + 2 * CLOSE_M


@QUICK
@given(st.integers(0, 10_000))
def test_gaps_come_widest_first_and_apart(seed: int) -> None:
    grid = Grid("EPSG:32615", 0.0, 30.0, 1.0, 30, 30)
    found = widest_gaps(
        wood(seed), grid, (15.0, 15.0), GapSearch(open_height_m=1.0, near_m=3.0, far_m=12.0, least_m=2.0, count=6)
    )
    widths = [g.diameter_m for g in found]
    assert all(a >= b - 2 * CLOSE_M for a, b in itertools.pairwise(widths))
    assert all(3.0 - 0.71 <= g.reach_m <= 12.0 + 0.71 for g in found), "a cell's middle is in the band"
    for a, b in itertools.combinations(found, 2):
        assert math.hypot(a.x_m - b.x_m, a.y_m - b.y_m) > a.diameter_m / 2 + 1.0 - 0.71


@QUICK
@given(st.floats(0, 359.9), st.floats(40, 120), st.floats(0, 359.9), st.floats(0, 30))
def test_the_two_wind_triangles_undo_each_other(track: float, speed: float, wind: float, knots: float) -> None:
    heading, ground = wind_triangle(track, speed, wind, knots)
    assert math.cos(math.radians(heading_for(track, ground, wind, knots) - heading)) == pytest.approx(1.0, abs=1e-12)
    assert speed - knots - 1e-9 <= ground <= speed + knots + 1e-9


@QUICK
@given(st.integers(0, 10_000), st.floats(100.0, 400.0))
def test_a_greater_limit_and_another_order_of_loads(seed: int, limit: float) -> None:
    rng = np.random.default_rng(seed)
    at = rng.uniform(-10, 10, (6, 2))
    cost = np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1))
    loads = [Load(site=str(n), mass_kg=float(m)) for n, m in enumerate(rng.uniform(20, 100, 5))]
    names = [str(n) for n in range(5)]
    base = plan_sorties(loads, names, cost, SortieRules(limit_kg=limit))
    assert plan_sorties(loads[::-1], names, cost, SortieRules(limit_kg=limit)).cost == pytest.approx(base.cost)
    assert plan_sorties(loads, names, cost, SortieRules(limit_kg=limit + 50.0)).cost <= base.cost + 1e-9
    alone = plan_sorties(loads, names, cost, SortieRules(limit_kg=limit, most_loads=1)).cost
    assert base.cost <= alone + 1e-9 and alone == pytest.approx(2.0 * cost[0].sum())


@QUICK
@given(st.floats(-60.0, 60.0), st.floats(-180.0, 180.0), st.integers(0, 364))
def test_times_of_a_day_are_in_order(lat: float, lon: float, day: int) -> None:
    made = daylight(dt.date(2026, 1, 1) + dt.timedelta(days=day), lat, lon)
    times = [made.civil_dawn, made.sunrise, made.noon, made.sunset, made.civil_dusk]
    known = [t for t in times if t is not None]
    assert known == sorted(known) and made.sunrise is not None and made.sunset is not None
    assert abs((made.noon - made.sunrise) - (made.sunset - made.noon)) < dt.timedelta(minutes=4)


@QUICK
@given(st.floats(0.0, 2500.0), st.floats(-10.0, 42.0), st.floats(980.0, 1040.0))
def test_hotter_and_higher_is_thinner(elevation: float, degrees: float, setting: float) -> None:
    base = air_at(elevation, degrees, setting).density_altitude_m
    assert air_at(elevation, degrees + 1.0, setting).density_altitude_m > base
    assert air_at(elevation + 10.0, degrees, setting).density_altitude_m > base
    assert air_at(elevation, degrees, setting + 1.0).density_altitude_m < base
    assert air_at(elevation, degrees, setting, degrees - 5.0).density_altitude_m > base
