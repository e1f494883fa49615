"""The frame of a ranch's map and where its legend goes."""

from dataclasses import replace

import pytest

from boscage.sheets.frame import fitting_scale
from boscage.sheets.furniture import TICK_ROOM_MM
from boscage.sheets.page import Box
from boscage.sheets.ranchmap import LegendRoom, left_out_words, plan_map

ROOM = Box(12.0, 30.0, 190.0, 140.0)
LEGEND = LegendRoom(side_mm=50.0, least_mm=100.0, strip_mm=35.0)


@pytest.mark.parametrize("wide", [False, True])
def test_the_legend_stands_where_the_scale_is_larger(make, wide):
    backdrop = make(sites=1, wide=wide).overview
    plan = plan_map(backdrop, ROOM, LEGEND)
    west, south, east, north = backdrop.vectors["parcels"].total_bounds
    bounds = replace(plan.frame.bounds, west=west, south=south, east=east, north=north)
    bounds = bounds.padded(0.01 * max(bounds.width, bounds.height))
    beside = fitting_scale(bounds, ROOM.width - 50.0 - TICK_ROOM_MM, ROOM.height - TICK_ROOM_MM)
    below = fitting_scale(bounds, ROOM.width - TICK_ROOM_MM, ROOM.height - TICK_ROOM_MM - 35.0)
    assert plan.frame.scale == min(beside, below)
    assert plan.beside == (beside <= below)
    assert plan.beside != wide


@pytest.mark.parametrize("wide", [False, True])
def test_map_and_legend_stay_apart_and_in_the_room(make, wide):
    backdrop = make(sites=1, wide=wide).overview
    plan = plan_map(backdrop, ROOM, LEGEND)
    box, legend = plan.map_box, plan.legend_box
    assert (box.width, box.height) == (plan.frame.width_mm, plan.frame.height_mm)
    assert max(box.right, legend.right) <= ROOM.right + 1e-6
    assert plan.bottom <= ROOM.bottom + 1e-6
    assert legend.y >= box.bottom if wide else legend.x > box.right
    assert legend.height >= 33.0 if wide else legend.height >= 96.0
    whole, own = backdrop.grid.bounds, plan.frame.bounds
    assert whole.west - 1 <= own.west < own.east <= whole.east + 1
    assert whole.south - 1 <= own.south < own.north <= whole.north + 1


def test_a_tall_legend_reaches_below_a_low_map(make):
    plan = plan_map(make(sites=1).overview, ROOM, replace(LEGEND, least_mm=190.0))
    assert plan.beside
    assert plan.bottom == pytest.approx(plan.legend_box.bottom) == pytest.approx(30.0 + 190.0)


def test_without_parcels_the_whole_backdrop_is_shown(make):
    backdrop = replace(make(sites=1).overview, vectors={})
    plan = plan_map(backdrop, ROOM, LEGEND)
    whole, own = backdrop.grid.bounds, plan.frame.bounds
    assert own.west <= whole.west and own.east >= whole.east
    assert own.south <= whole.south and own.north >= whole.north


def test_sites_left_out_are_named():
    from boscage.sheets.content import MapKey

    assert left_out_words(MapKey()) == ()
    assert left_out_words(MapKey(sites_left_out=[3, 12])) == ("no room on the map for rank 3, 12",)


def test_beside_on_a_tie(make):
    """The same scale either way: the legend takes as much from the side as from below."""
    backdrop = make(sites=1).overview
    room = Box(12.0, 30.0, 150.0, 150.0)
    small = LegendRoom(side_mm=5.0, least_mm=0.0, strip_mm=5.0)
    west, south, east, north = backdrop.vectors["parcels"].total_bounds
    assert east - west == pytest.approx(north - south)
    assert plan_map(backdrop, room, small).beside
