"""Ways, houses, wires, no-go ground, soils and probes of the sample ranch."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from scipy import ndimage, stats
from shapely.geometry import box
from shapely.ops import unary_union

FLOOD = {"none", "rare", "occasional", "frequent"}


def test_ways_make_one_network(ranch):
    ways = ranch.layer("tracks.gpkg", "tracks")
    assert set(ways["class"]) == {"road", "track", "trail"}
    assert list(ways.columns[:4]) == ["name", "class", "public", "surface"]
    drawn = ways.geometry.iloc[0]
    for line in ways.geometry.iloc[1:]:
        assert drawn.distance(line) < 0.15
        drawn = unary_union([drawn, line])


def test_one_public_road_runs_along_the_south(ranch, parcels):
    ways = ranch.layer("tracks.gpkg", "tracks")
    public = ways[ways["public"] == 1]
    assert list(public["class"]) == ["road"]
    assert public.geometry.iloc[0].intersects(parcels.union_all())
    assert public.geometry.iloc[0].bounds[3] < parcels.total_bounds[[1, 3]].mean()


def test_tracks_climb_no_more_than_a_vehicle_can(ranch):
    height, transform, _ = ranch.raster("terrain.tif")
    ways = ranch.layer("tracks.gpkg", "tracks")
    grade = []
    for line in ways.geometry[ways["class"] != "trail"]:
        points = np.array([line.interpolate(s).coords[0] for s in np.arange(0, line.length, 60)])
        row, col = (transform.f - points[:, 1]) / 10 - 0.5, (points[:, 0] - transform.c) / 10 - 0.5
        z = ndimage.map_coordinates(height.astype(float), [row, col], order=1, mode="nearest")
        grade.extend(abs(np.diff(z)) / 60)
    assert np.percentile(grade, 95) < 0.15  # 15 percent: a loaded ATV is flagged above, common practice, no source
    assert max(grade) < 0.25


def test_gate_is_on_the_lane_and_holds_no_code(ranch):
    gate, ways = ranch.layer("tracks.gpkg", "gates"), ranch.layer("tracks.gpkg", "tracks")
    assert len(gate) == 1
    assert ways.distance(gate.geometry.iloc[0]).min() < 0.5
    assert not any(c.isdigit() for c in gate["lock"].iloc[0])


def test_houses_stand_by_the_road(ranch):
    houses, ways = ranch.layer("dwellings.gpkg"), ranch.layer("tracks.gpkg", "tracks")
    road = ways[ways["class"] == "road"].union_all()
    assert list(houses["name"]) == [f"house {n}" for n in range(1, 6)]
    assert (houses.distance(road) < 150).all()


def test_power_line_crosses_granted_land_and_says_it_is_not_complete(ranch, granted):
    line = ranch.layer("power_lines.gpkg")
    assert line["voltage_kv"].gt(0).all()
    assert "not complete" in line["source"].iloc[0]
    assert line.geometry.iloc[0].intersection(granted).length > 1000


def test_no_go_dates(ranch):
    ground = ranch.layer("no_go.gpkg").fillna("")
    for row in ground.itertuples():
        first, last = row[2], row[3]
        assert (first == "") == (last == "")
        if first:
            assert date.fromisoformat(first) < date.fromisoformat(last)
    assert (ground["from"] == "").sum() == 1
    assert set(ground["reason"]) >= {"cattle with calves", "old homestead and cemetery"}


def test_soils_cover_everything_once(ranch, parcels):
    soils = ranch.layer("soils.gpkg")
    assert soils.is_valid.all()
    whole = box(*soils.total_bounds)
    assert soils.area.sum() == pytest.approx(whole.area, rel=1e-6)
    assert soils.union_all().area == pytest.approx(whole.area, rel=1e-6)
    assert whole.contains(parcels.union_all())
    assert soils["mapunit"].nunique() >= 5


def _texture(sand: float, clay: float) -> str:
    """The classes that the map uses; NRCS inequalities, Soil Survey Manual ch. 3 (from memory)."""
    silt = 100 - sand - clay
    if 27 <= clay < 40 and sand <= 20:
        return "silty clay loam"
    if (silt >= 50 and 12 <= clay < 27) or (50 <= silt < 80 and clay < 12):
        return "silt loam"
    if 7 <= clay < 27 and 28 <= silt < 50 and sand <= 52:
        return "loam"
    return "other"


def test_soil_values_are_consistent(ranch):
    soils = ranch.layer("soils.gpkg").drop_duplicates("mapunit")
    assert set(soils["flood_class"]) <= FLOOD and "frequent" in set(soils["flood_class"])
    for row in soils.itertuples():
        assert _texture(row.sand_pct, row.clay_pct) == row.texture
        assert 1.0 <= row.bulk_density <= 1.7 and 0 <= row.rock_pct <= 70 and 0 < row.organic_pct < 6
    by_depth = soils.sort_values("depth_cm")
    assert by_depth["resistance_mpa"].is_monotonic_decreasing
    assert stats.spearmanr(soils["depth_cm"], soils["rock_pct"])[0] < -0.8


def test_flooded_ground_is_low(ranch):
    height, transform, _ = ranch.raster("terrain.tif")
    low = height - ndimage.uniform_filter(height, 61)
    soils = ranch.layer("soils.gpkg")
    mean = {}
    for name in ("frequent", "none"):
        points = soils[soils["flood_class"] == name].representative_point()
        row = ((transform.f - points.y) // 10).astype(int).clip(0, height.shape[0] - 1)
        col = ((points.x - transform.c) // 10).astype(int).clip(0, height.shape[1] - 1)
        mean[name] = low[row, col].mean()
    assert mean["frequent"] < mean["none"] - 3


def test_probes_agree_with_the_soil_map(ranch, granted):
    probes = ranch.points("probes.csv")
    assert len(probes) == 60
    assert probes.within(granted).all()
    assert set(probes["cone"]) == {"12.83 mm"}  # ASAE S313.3, small cone
    assert probes["cone_index_kpa"].between(200, 5000).all()
    where = probes.sjoin(ranch.layer("soils.gpkg")[["resistance_mpa", "geometry"]], predicate="within")
    assert stats.spearmanr(where["cone_index_kpa"], where["resistance_mpa"])[0] > 0.5
    nearest = where.groupby("geometry")["cone_index_kpa"].agg(["min", "max"])
    assert len(nearest) == 30 and (nearest["max"] < 4 * nearest["min"]).all()
