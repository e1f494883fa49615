"""The trees behind the canopy: spacing, density, crowns; cover, height and stem lists agree with them."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from generate import stemlists
from generate import trees as growing
from scipy.spatial import cKDTree

BLOCKS = {block.name: block for block in growing.BLOCKS}


def _tile(ranch, name):
    return ranch.raster(f"canopy_height/{name}.tif")


def _inside(trees, transform, shape, margin=0.0):
    east, north = trees["x_m"] - transform.c, transform.f - trees["y_m"]
    return trees[east.between(-margin, shape[1] + margin) & north.between(-margin, shape[0] + margin)]


def test_trunks_are_a_metre_apart(trees):
    nearest = cKDTree(trees[["x_m", "y_m"]].to_numpy()).query(trees[["x_m", "y_m"]].to_numpy(), k=2)[0][:, 1]
    assert nearest.min() >= 1.0
    assert len(trees) > 100_000
    assert set(trees.columns) == {"x_m", "y_m", "height_m", "crown_radius_m", "dbh_cm", "species"}


def _hectares_of_timber(ranch, name):
    """South-west corners of the 100 m squares of a tile with cover between 60 and 90 percent."""
    height, transform, _ = _tile(ranch, name)
    rows, cols = height.shape[0] // 100, height.shape[1] // 100
    tall = (height[: rows * 100, : cols * 100] >= 20).reshape(rows, 100, cols, 100).mean(axis=(1, 3))
    found = np.argwhere((tall > 0.6) & (tall < 0.9))
    return [(transform.c + col * 100, transform.f - (row + 1) * 100) for row, col in found]


def test_timber_is_dense_and_clustered(ranch, trees):
    """Counts on 10 m squares of timber vary more than a Poisson's would (variance over mean)."""
    stems, spread = [], []
    for name in BLOCKS:
        for west, south in _hectares_of_timber(ranch, name):
            here = trees[trees["x_m"].between(west, west + 100) & trees["y_m"].between(south, south + 100)]
            count = np.histogram2d(here["x_m"] - west, here["y_m"] - south, bins=10, range=[[0, 100], [0, 100]])[0]
            stems.append(len(here))
            spread.append(count.var(ddof=1) / count.mean())
    assert len(stems) > 200
    assert np.percentile(stems, 2) > 150 and np.percentile(stems, 98) < 650
    assert np.mean(spread) > 1.4


@pytest.mark.parametrize("name", BLOCKS)
def test_tiles_lie_on_the_cells_of_the_cover(ranch, name):
    height, transform, source = _tile(ranch, name)
    cover_transform = ranch.raster("canopy_cover.tif")[1]
    assert height.dtype == np.uint16 and source.nodata == 65535 and source.crs.to_epsg() == 32615
    assert transform.a == 1.0 and source.units == ("dm",)
    assert (transform.c - cover_transform.c) % 10 == 0 and (cover_transform.f - transform.f) % 10 == 0
    assert (height == 0).mean() > 0.1
    assert 200 < height.max() < 400


def test_the_two_blocks_leave_a_gap(ranch):
    bounds = [_tile(ranch, name)[2].bounds for name in BLOCKS]
    hectares = sum((b.right - b.left) * (b.top - b.bottom) for b in bounds) / 1e4
    assert 400 <= hectares <= 500
    assert bounds[0].bottom - bounds[1].top > 500


@pytest.mark.parametrize("name", BLOCKS)
def test_cover_agrees_with_canopy_height(ranch, name):
    height, transform, _ = _tile(ranch, name)
    cover, wide, _ = ranch.raster("canopy_cover.tif")
    tall = (height >= 20).reshape(height.shape[0] // 10, 10, -1, 10).mean(axis=(1, 3)) * 100
    row, col = round((wide.f - transform.f) / 10), round((transform.c - wide.c) / 10)
    there = cover[row : row + tall.shape[0], col : col + tall.shape[1]].astype(float)
    seen = there != 255
    assert seen.mean() > 0.95
    assert abs(there[seen] - tall[seen]).mean() < 3
    assert abs(there[seen].mean() - tall[seen].mean()) < 1


@pytest.mark.parametrize("name", BLOCKS)
def test_canopy_is_the_highest_crown(ranch, trees, name):
    """Plain twin on 40 x 40 m: crown shapes as the module states them, tree by tree, cell by cell."""
    height, transform, _ = _tile(ranch, name)
    shape = {s.name: s for s in growing.SPECIES}
    top, left = 700, 400
    near = trees[
        trees["x_m"].between(transform.c + left - 10, transform.c + left + 50)
        & trees["y_m"].between(transform.f - top - 50, transform.f - top + 10)
    ]
    expected = np.zeros((40, 40))
    for tree in near.itertuples():
        kind = shape[tree.species]
        for row in range(40):
            for col in range(40):
                away = np.hypot(transform.c + left + col + 0.5 - tree.x_m, transform.f - top - row - 0.5 - tree.y_m)
                share = away / tree.crown_radius_m
                if share <= 1:
                    drop = (share if kind.cone else share * share) * kind.depth * tree.height_m
                    expected[row, col] = max(expected[row, col], tree.height_m - drop)
    found = height[top : top + 40, left : left + 40] / 10
    assert np.array_equal(found > 0, expected > 0)
    assert abs(found - expected).max() < 0.6  # six standard deviations of the stated noise of 0.1 m
    assert (found > 0).any() and (found == 0).any()


def test_generator_makes_the_shipped_tiles(ranch, trees):
    for name, block in BLOCKS.items():
        shipped, transform, _ = _tile(ranch, name)
        stems = _inside(trees, transform, shipped.shape, growing.EDGE_M).reset_index(drop=True)
        assert np.array_equal(growing.measured(block, growing.canopy(block, stems)), shipped)


@pytest.mark.parametrize(
    ("species", "width_ft"), [("post oak", 21.12), ("shortleaf pine", 16.36), ("eastern redcedar", 17.99)]
)
def test_crown_width_at_ten_inches(species, width_ft):
    """Bechtold (2003) SJAF 27:269-278 as carried by FIAstemmap; loblolly stands in for shortleaf."""
    kind = next(s for s in growing.SPECIES if s.name == species)
    assert kind.base_ft + 10 * kind.per_in == pytest.approx(width_ft, abs=0.005)


@pytest.mark.parametrize("name", ["creek", "bench"])
class TestStemList:
    def test_columns_and_kinds(self, ranch, name):
        table = ranch.table(f"stems_{name}.csv")
        assert list(table.columns) == ["stem", "dbh_in", "kind", "bearing_deg", "distance_ft"]
        assert 25 <= len(table) <= 40
        assert table["stem"].is_unique
        kinds = table["kind"].value_counts()
        assert kinds["dead"] == 1 and kinds["leaning"] == 1 and kinds["sapling"] >= 4
        assert (table["bearing_deg"].between(0, 359.99) & table["distance_ft"].between(2, 52)).all()

    def test_stems_are_where_trees_stand(self, ranch, trees, name):
        table, stake = ranch.table(f"stems_{name}.csv"), ranch.points("stems_places.csv")
        stake = stake[stake["list"] == f"stems_{name}.csv"].iloc[0]
        bearing = np.radians(table["bearing_deg"] + float(stake["declination_deg"]))
        length = table["distance_ft"] * 0.3048
        places = np.column_stack(
            [stake.geometry.x + length * np.sin(bearing), stake.geometry.y + length * np.cos(bearing)]
        )
        away, which = cKDTree(trees[["x_m", "y_m"]].to_numpy()).query(places)
        assert np.median(away) < 0.35
        assert (away < 1.2).all()
        same = abs(trees["dbh_cm"].to_numpy()[which] / 2.54 - table["dbh_in"]) < 0.1
        assert same.mean() > 0.85

    def test_generator_makes_the_shipped_list(self, ranch, trees, name):
        stake = ranch.points("stems_places.csv")
        place = stake[stake["list"] == f"stems_{name}.csv"].geometry.iloc[0]
        block = BLOCKS["upper_creek" if name == "creek" else "south_hollow"]
        stems = _inside(trees, block.grid.transform, block.grid.shape, growing.EDGE_M).reset_index(drop=True)
        made = stemlists.measure(name, stems, (round(place.x, 1), round(place.y, 1))).table
        pd.testing.assert_frame_equal(made, ranch.table(f"stems_{name}.csv"), check_dtype=False)
