"""The ground of the sample ranch: parcels, terrain, water, cover."""

from __future__ import annotations

import numpy as np
import pytest
from generate import flow
from scipy import ndimage
from shapely.geometry import box


def test_parcels_fill_the_ranch_once(parcels):
    assert parcels.crs.to_epsg() == 32615
    assert 8 <= len(parcels) <= 12
    assert parcels["owner"].nunique() == 3
    assert set(parcels["access"]) == {"granted", "refused", "unknown"}
    total_ha = parcels.area.sum() / 1e4
    assert 3400 <= total_ha <= 3700
    assert parcels.union_all().area == pytest.approx(parcels.area.sum(), abs=10.0)
    assert parcels.loc[parcels["access"] == "granted"].area.sum() / 1e4 > 0.85 * total_ha


def test_refused_land_is_an_inholding_and_unknown_land_is_at_the_edge(parcels):
    edge = parcels.union_all().exterior
    assert all(edge.distance(g) > 300 for g in parcels.geometry[parcels["access"] == "refused"])
    assert all(edge.distance(g) < 1 for g in parcels.geometry[parcels["access"] == "unknown"])


def test_some_parcels_follow_the_creek(ranch, parcels):
    creek = ranch.layer("water.gpkg", "creeks").query("name == 'Dunnock Creek'").union_all()
    shared = [p.boundary.intersection(creek.buffer(15)).length for p in parcels.geometry]
    assert sum(length > 800 for length in shared) >= 5


def test_terrain_covers_the_ranch_with_a_margin(ranch, parcels):
    height, transform, source = ranch.raster("terrain.tif")
    assert source.crs.to_epsg() == 32615
    assert height.dtype == np.float32
    assert transform.a == 10.0 and transform.e == -10.0
    assert box(*source.bounds).contains(parcels.union_all().buffer(300))
    assert 100 < height.max() - height.min() < 135
    assert np.abs(height * 10 - np.round(height * 10)).max() < 1e-3


def test_terrain_has_no_hollow(ranch):
    height = ranch.raster("terrain.tif")[0].astype(float)
    filled = flow.fill(height, flow.edge(height.shape))
    assert np.array_equal(filled, height)


def test_filling_equals_reconstruction_by_erosion():
    """Plain twin: repeated 3 x 3 minimum held above the ground (Vincent 1993)."""
    height = np.round(np.random.default_rng(5).normal(0, 3, (30, 37)), 1)
    mark = np.where(flow.edge(height.shape), height, np.inf)
    while True:
        lower = np.maximum(ndimage.grey_erosion(mark, size=3, mode="constant", cval=np.inf), height)
        if np.array_equal(lower, mark):
            break
        mark = lower
    assert (mark > height).any()
    assert np.array_equal(flow.fill(height, flow.edge(height.shape)), mark)


def test_creeks_run_downhill_in_the_valley_bottoms(ranch):
    height, transform, _ = ranch.raster("terrain.tif")
    creeks = ranch.layer("water.gpkg", "creeks")
    assert set(creeks["class"]) == {"perennial", "intermittent"}
    assert "Dunnock Creek" in set(creeks["name"])
    rise, sink = [], []
    around = ndimage.uniform_filter(height, 21)
    for line in creeks.geometry:
        east, north = np.asarray(line.coords).T
        row = np.clip(((transform.f - north) // 10).astype(int), 0, height.shape[0] - 1)
        col = np.clip(((east - transform.c) // 10).astype(int), 0, height.shape[1] - 1)
        along = height[row, col]
        rise.append(np.maximum.accumulate(along[::-1])[::-1].max() - along[0])
        sink.append((around[row, col] - along).mean())
        assert along[0] >= along[-1]
    assert max(rise) < 0.5
    assert np.mean(np.array(sink) > 0) > 0.95


def test_perennial_water_lies_below_intermittent(ranch):
    creeks = ranch.layer("water.gpkg", "creeks")
    ends = {k: creeks[creeks["class"] == k].geometry for k in ("perennial", "intermittent")}
    joined = [ends["perennial"].distance(g).min() < 0.2 for g in ends["intermittent"]]
    assert sum(joined) >= 10
    assert ends["perennial"].length.sum() < ends["intermittent"].length.sum()


def test_ponds_are_small_and_in_draws(ranch):
    ponds = ranch.layer("water.gpkg", "ponds")
    creeks = ranch.layer("water.gpkg", "creeks").union_all()
    assert 4 <= len(ponds) <= 8
    assert ponds.is_valid.all()
    assert ((ponds.area > 2000) & (ponds.area < 15000)).all()
    assert sum(creeks.distance(p) < 250 for p in ponds.geometry) >= len(ponds) - 1


def test_cover_has_timber_pasture_and_one_hole(ranch):
    cover, transform, source = ranch.raster("canopy_cover.tif")
    assert cover.dtype == np.uint8 and source.nodata == 255 and transform.a == 10.0
    hole, count = ndimage.label(cover == 255)
    assert count == 1
    assert 2 <= (hole > 0).sum() / 100 <= 10
    seen = cover[cover != 255]
    assert seen.max() <= 100
    assert 0.20 < np.mean(seen < 15) < 0.40
    assert np.mean(seen > 60) > 0.40
