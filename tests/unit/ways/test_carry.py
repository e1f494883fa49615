"""The walk from where a load came down to where it is used, against closed forms on flat and sloping squares."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from scenes import X, Y, layer, scene, square

from boscage.model.brief import CarryOver
from boscage.model.journey import NoWay
from boscage.ways.carry import carry_between
from boscage.ways.load import pace_under_load, share_load
from boscage.ways.terrain import make_ground

TOBLER_LEVEL_MPS = 5.0367 / 3.6  # Tobler (1993), 5.0367 km/h on level ground


def walk(made, start, end, load=40.0):
    ends = ((X + start[0], Y + start[1]), (X + end[0], Y + end[1]))
    return carry_between(made, make_ground(made, made.plan.travel), ends, load)


def test_level_open_ground_takes_what_tobler_says() -> None:
    made = scene(600.0)
    found = walk(made, (105.0, 305.0), (405.0, 305.0))
    assert isinstance(found, CarryOver)
    options = made.plan.travel
    carry = share_load(40.0, options)
    slow = pace_under_load(carry.share_kg + options.own_gear.kg, options)
    light = pace_under_load(options.own_gear.kg, options)
    level = 300.0 / (TOBLER_LEVEL_MPS * options.open_share) / 60.0
    assert found.distance_m == pytest.approx(300.0)
    assert found.minutes == pytest.approx(level * slow, rel=1e-4)
    assert found.trips == carry.trips and found.share_kg == pytest.approx(carry.share_kg)
    back = (carry.trips - 1) * level * light
    assert found.all_min == pytest.approx(carry.trips * level * slow + back, rel=1e-4)
    assert math.isnan(found.climb_m), "no terrain: the climb is not known"


def test_the_line_runs_from_place_to_place_and_not_from_cell_to_cell() -> None:
    found = walk(scene(600.0), (101.0, 303.0), (188.0, 222.0))
    assert found.line[0] == pytest.approx((X + 101.0, Y + 303.0))
    assert found.line[-1] == pytest.approx((X + 188.0, Y + 222.0))


def test_two_places_in_one_cell() -> None:
    found = walk(scene(600.0), (101.0, 301.0), (107.0, 309.0))
    assert found.distance_m == pytest.approx(10.0)
    assert 0.0 < found.minutes < 0.5


def test_a_pond_is_walked_round() -> None:
    pond = layer("water", [square(200, 200, 220, 420)], name=["pond"])
    found = walk(scene(600.0, water=pond), (150.0, 305.0), (270.0, 305.0))
    assert found.distance_m > 240.0, "120 m as the crow flies"
    assert not shapely.LineString(found.line).intersects(
        shapely.transform(square(201, 201, 219, 419), lambda c: c + (X, Y))
    )


def test_land_without_permission_bars_it() -> None:
    parcels = layer(
        "parcels", [square(0, 0, 200, 600), square(200, 0, 600, 600)], parcel=["1", "2"], access=["granted", "refused"]
    )
    found = walk(scene(600.0, parcels=parcels), (100.0, 300.0), (300.0, 300.0))
    assert isinstance(found, NoWay) and not found
    assert "land without permission" in found.reason


def test_off_the_map_is_said() -> None:
    found = walk(scene(600.0), (100.0, 300.0), (9000.0, 300.0))
    assert isinstance(found, NoWay) and "off the map" in found.reason


def test_uphill_is_slower_than_back_down_and_the_climb_is_told() -> None:
    slope = np.tile(np.arange(60) * 1.0, (60, 1))  # 1 m a cell: 10 % up to the east
    made = scene(600.0, surfaces={"elevation": slope})
    up, down = walk(made, (105.0, 305.0), (305.0, 305.0)), walk(made, (305.0, 305.0), (105.0, 305.0))
    # Tobler (1993): 3.5493 km/h at +0.1, 5.0367 at -0.1
    assert up.minutes / down.minutes == pytest.approx(5.0367 / 3.5493, rel=1e-3)
    assert up.climb_m == pytest.approx(20.0, abs=0.1) and down.climb_m == pytest.approx(0.0, abs=0.1)
