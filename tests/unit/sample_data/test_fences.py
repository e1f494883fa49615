"""Fences and gates of the sample ranch, held against its parcels, ways and creeks."""

from __future__ import annotations

import geopandas as gpd
import pytest
from generate import fences, frame


@pytest.fixture(scope="module")
def fence(ranch) -> gpd.GeoDataFrame:
    return ranch.layer("fences.gpkg").fillna("")


@pytest.fixture(scope="module")
def gate(ranch) -> gpd.GeoDataFrame:
    return ranch.layer("gates.gpkg")


@pytest.fixture(scope="module")
def ways(ranch) -> gpd.GeoDataFrame:
    return ranch.layer("tracks.gpkg", "tracks")


def test_columns_and_words(fence, gate):
    assert list(fence.columns) == ["name", "kind", "note", "geometry"]
    assert list(gate.columns) == ["name", "kind", "state", "note", "geometry"]
    assert set(fence["kind"]) == {"perimeter", "cross", "water gap"}
    assert (gate["kind"] == "entry").sum() == 2 and (gate["kind"] == "inner").sum() == 4
    assert set(gate["state"]) == {"open", "closed", "locked"}
    assert gate["name"].is_unique
    assert (gate[gate["kind"] == "inner"]["state"] == "locked").sum() == 1


def test_no_gate_tells_its_code(gate):
    texts = gate.drop(columns="geometry").to_numpy().ravel()
    assert not any(c.isdigit() for text in texts for c in text)


def test_gates_stand_in_a_fence_and_on_a_way(fence, gate, ways):
    assert (gate.distance(fence.union_all()) < 0.2).all()
    assert (gate.distance(ways[ways["class"] != "trail"].union_all()) < 0.2).all()


def test_every_way_for_vehicles_has_a_gate_where_it_meets_a_fence(fence, gate, ways):
    met = ways[ways["class"] != "trail"].union_all().intersection(fence.union_all())
    assert len(met.geoms) == len(gate)
    assert all(gate.distance(place).min() < 0.2 for place in met.geoms)


def test_entry_gates_are_where_ways_leave_the_public_road(gate, ways):
    road = ways[ways["public"] == 1].union_all()
    away = gate.distance(road)
    assert (away[gate["kind"] == "entry"] < 40).all()
    assert (away[gate["kind"] == "inner"] > 1000).all()


def test_the_main_gate_is_the_one_marked_with_the_tracks(ranch, gate):
    first = ranch.layer("tracks.gpkg", "gates")
    same = gate[gate["name"] == first["name"].iloc[0]]
    assert same.distance(first.geometry.iloc[0]).iloc[0] < 3


def _along(lines, step: int) -> list:
    """Points every so many metres along lines."""
    return [line.interpolate(s) for line in lines.geoms for s in range(0, int(line.length), step)]


def test_the_perimeter_follows_the_granted_land_or_the_county_road(fence, granted, ways):
    road = ways[ways["public"] == 1].union_all()
    for line in fence[fence["name"] == "perimeter fence"].geometry:
        points = [line.interpolate(s) for s in range(0, int(line.length), 25)]
        assert all(p.distance(granted.boundary) < 12 or p.distance(road) < 90 for p in points)
    north = [p for p in _along(granted.boundary, 40) if p.y > road.bounds[3] + 30]
    assert len(north) > 500
    assert all(fence.distance(p).min() < 12 for p in north)


def test_fences_stand_on_granted_land(fence, granted):
    assert fence.intersection(granted.buffer(1.0)).length.sum() == pytest.approx(fence.length.sum(), rel=1e-6)


def test_cross_fences_end_at_another_fence_or_at_a_creek(ranch, fence):
    creeks = ranch.layer("water.gpkg", "creeks").union_all()
    crossing = fence[fence["kind"] == "cross"]
    assert crossing["name"].nunique() == 4
    for number, row in crossing.iterrows():
        rest = fence.drop(index=number).union_all()
        for end in row.geometry.boundary.geoms:
            assert end.distance(rest) < 15 or end.distance(creeks) < 40


def test_each_creek_that_always_runs_is_crossed_by_a_water_gap(ranch, fence):
    creeks = ranch.layer("water.gpkg", "creeks")
    steady = creeks[creeks["class"] == "perennial"].union_all()
    gaps, standing = fence[fence["kind"] == "water gap"], fence[fence["kind"] != "water gap"]
    assert len(gaps) >= 2
    assert gaps.intersects(steady).all()
    assert not standing.intersects(steady).any()
    assert (gaps.length < 100).all()


def test_the_generator_makes_these_files_again(ranch, parcels, ways, fence, gate):
    creeks = ranch.layer("water.gpkg", "creeks")
    made = fences.build(parcels, ways, creeks)
    assert made.drop(columns="geometry").equals(fence.drop(columns="geometry"))
    assert made.geometry.geom_equals(fence.geometry, align=False).all()
    again = fences.gates(ways, made)
    assert again.drop(columns="geometry").equals(gate.drop(columns="geometry"))
    assert again.geometry.geom_equals(gate.geometry, align=False).all()
    assert made.crs.to_string() == frame.CRS


def test_a_way_that_misses_its_fence_is_an_error(ways, fence):
    with pytest.raises(ValueError, match="does not meet its fence"):
        fences.gates(ways, fence[fence["name"] != "hollow fence"])
