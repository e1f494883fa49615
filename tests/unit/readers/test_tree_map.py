"""Trees from canopy rasters: no seams, the right places, and words for what is not known."""

from __future__ import annotations

from dataclasses import dataclass

import numba
import numpy as np
import pytest

from boscage.errors import InputError
from boscage.model.layers import LayerReport
from boscage.model.trees import TreeMap, TreeOptions, estimate_dbh_m
from boscage.readers.tree_map import TileSize, canopy_frame, find_trees
from boscage.values import Bounds, Grid


@dataclass
class Held:
    """Canopy heights held in memory that count how often each row is read."""

    values: np.ndarray
    grid: Grid
    native_cell_m: float
    report: LayerReport
    reads: np.ndarray

    def read(self, grid: Grid, *, smooth: bool = False) -> np.ndarray:
        row = round((self.grid.north - grid.north) / grid.cell_m)
        col = round((grid.west - self.grid.west) / grid.cell_m)
        self.reads[row : row + grid.rows, col : col + grid.cols] += 1
        return self.values[row : row + grid.rows, col : col + grid.cols].copy()


def held(values: np.ndarray, cell_m: float = 1.0) -> Held:
    values = np.ascontiguousarray(values, np.float32)
    grid = Grid("EPSG:32615", 500_000.0, 4_000_000.0, cell_m, *values.shape)
    report = LayerReport(name="canopy_height", state="usable", read="")
    return Held(values, grid, cell_m, report, np.zeros(values.shape, int))


def same(one: TreeMap, other: TreeMap) -> bool:
    names = ("x_m", "y_m", "height_m", "crown_radius_m", "dbh_m")
    return all(np.array_equal(getattr(one, n), getattr(other, n)) for n in names) and one.doubts == other.doubts


@pytest.fixture(scope="module")
def rugged() -> np.ndarray:
    """Random heights in half metres, so with level patches, and holes in the data."""
    rng = np.random.default_rng(3)
    coarse = rng.uniform(0, 30, (40, 35)).repeat(8, axis=0).repeat(8, axis=1)
    values = np.round((coarse + rng.normal(0, 2, coarse.shape)) * 2) / 2
    values[rng.random(values.shape) < 0.002] = np.nan
    values[100:140, 60:90] = np.nan
    return values


@pytest.mark.parametrize("window", ["auto", "close", "combined"])
def test_the_same_trees_whatever_the_tiles_and_threads(rugged: np.ndarray, window: str) -> None:
    options = TreeOptions(window=window)
    source = held(rugged)
    whole = find_trees(source, source.grid, options)
    assert len(whole) > 200
    before = numba.get_num_threads()
    try:
        for threads in range(1, min(2, before) + 1):
            numba.set_num_threads(threads)
            for size in (TileSize(rows=23, cols=50), TileSize(rows=64, cols=1000), TileSize(rows=97, cols=33)):
                assert same(find_trees(source, source.grid, options, size=size), whole)
    finally:
        numba.set_num_threads(before)


def test_every_cell_is_read_once(rugged: np.ndarray) -> None:
    source = held(rugged)
    calls = []
    find_trees(source, source.grid, size=TileSize(rows=50), progress=lambda done, total: calls.append((done, total)))
    assert (source.reads == 1).all()
    assert calls == [(i, 7) for i in range(1, 8)]


def test_trees_are_placed_in_metres_on_the_grid() -> None:
    """A bowl drawn at a known place comes back there, from the largest to the smallest cell."""
    for cell_m in (0.5, 1.0):
        x, y = 12.3, 21.6
        size = round(40 / cell_m)
        col, row = np.meshgrid(np.arange(size), np.arange(size))
        east, south = (col + 0.5) * cell_m, (row + 0.5) * cell_m
        away = np.hypot(east - x, south - y)
        source = held(np.where(away < 4.0, 18.0 - 0.3 * away**2, 0.0), cell_m)
        found = find_trees(source, source.grid)
        assert len(found) == 1
        assert found.x_m[0] == pytest.approx(500_000.0 + x, abs=0.01)
        assert found.y_m[0] == pytest.approx(4_000_000.0 - y, abs=0.01)
        assert found.height_m[0] == pytest.approx(18.0, abs=0.1)
        assert found.crown_radius_m[0] == pytest.approx(4.0, abs=0.75 * cell_m)
        assert found.dbh_m == pytest.approx(estimate_dbh_m(found.height_m, found.crown_radius_m))
        assert found.canopy_ha == pytest.approx(0.16)
        assert found.doubts == ()


def test_moving_the_wood_moves_the_trees(rugged: np.ndarray) -> None:
    part = held(rugged[150:, 100:])
    moved = held(rugged[150:, 100:])
    moved.grid = Grid("EPSG:32615", 500_100.0, 3_999_000.0, 1.0, *moved.grid.shape)
    one, other = find_trees(part, part.grid), find_trees(moved, moved.grid)
    assert np.allclose(one.x_m + 100.0, other.x_m) and np.allclose(one.y_m - 1000.0, other.y_m)


def test_what_is_not_known_is_said() -> None:
    empty = held(np.full((20, 20), np.nan))
    nothing = find_trees(empty, empty.grid)
    assert len(nothing) == 0 and nothing.canopy_ha == 0.0
    assert "the trees are not known" in nothing.doubts[0]
    half = np.zeros((20, 20))
    half[:10] = np.nan
    half[10, 10] = 12.0
    some = find_trees(held(half), held(half).grid)
    assert "missing for 50 %" in some.doubts[0]
    assert "trees beside ground without canopy heights: 1 of 1" in some.doubts[1]
    coarse = held(np.zeros((5, 5)), 3.0)
    assert "too coarse" in find_trees(coarse, coarse.grid).doubts[0]
    fine = held(np.zeros((5, 5)), 0.25)
    assert "branches" in find_trees(fine, fine.grid).doubts[0]


def test_rough_canopy_gives_one_tree_a_crown() -> None:
    """Heights that jump from cell to cell make a top of every fifth cell: those are branches; beside smooth crowns."""
    rng = np.random.default_rng(12)
    rough = rng.uniform(18, 28, (40, 40))
    row, col = np.mgrid[:40, :40]
    smooth = 18.0 - 0.5 * ((row % 8 - 3.5) ** 2 + (col % 8 - 3.5) ** 2)
    source = held(np.hstack([rough, np.maximum(smooth, 0.0)]))
    made = {w: find_trees(source, source.grid, TreeOptions(window=w)) for w in ("auto", "close", "combined")}
    left = {w: int((m.x_m < 500_040).sum()) for w, m in made.items()}
    right = {w: int((m.x_m >= 500_040).sum()) for w, m in made.items()}
    assert left["auto"] == left["combined"] < left["close"] / 4
    assert right["auto"] == right["close"] == 25
    assert any("rough on" in doubt for doubt in made["auto"].doubts)
    assert not any("rough on" in doubt for doubt in made["close"].doubts)


def test_a_part_of_the_raster_gives_the_trees_of_the_whole() -> None:
    """Away from its edges a part looked at by itself holds the same trees; the squares do not move with it."""
    rng = np.random.default_rng(13)
    values = np.where(rng.random((160, 160)) < 0.5, rng.uniform(5, 25, (160, 160)), 12.0)
    values[:, 80:] = np.maximum(values[:, 80:], 15.0)
    source = held(values)
    whole = find_trees(source, source.grid)
    part = find_trees(source, source.grid.window(13, 27, 110, 117))
    inner = Bounds(500_060.0, 3_999_900.0, 500_120.0, 3_999_960.0)
    for name in ("x_m", "y_m", "height_m", "crown_radius_m"):
        assert np.array_equal(getattr(whole.within(inner), name), getattr(part.within(inner), name))
    assert len(part.within(inner)) > 5


def test_least_height_and_own_window() -> None:
    values = np.zeros((30, 30))
    values[5, 5], values[5, 9], values[20, 20] = 12.0, 14.0, 4.0
    source = held(values)
    assert len(find_trees(source, source.grid)) == 2
    assert len(find_trees(source, source.grid, TreeOptions(least_height_m=3.0))) == 3
    assert len(find_trees(source, source.grid, TreeOptions(window=(8.0, 0.0, 0.0)))) == 1


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"window": "oak"}, "combined"),
        ({"group": "oak"}, "conifer"),
        ({"least_height_m": 0.0}, "0.5 m or more"),
        ({"least_height_m": float("nan")}, "0.5 m or more"),
        ({"window": (1.0, -0.1, 0.0)}, "over 0"),
        ({"window": (1.0, 5.0, 0.0)}, "up to 60 m"),
    ],
)
def test_bad_options(wrong: dict, words: str) -> None:
    with pytest.raises(InputError, match=words):
        TreeOptions(**wrong)


def test_within_and_stems() -> None:
    values = np.zeros((30, 30))
    values[5, 5], values[5, 20] = 12.0, 14.0
    source = held(values)
    found = find_trees(source, source.grid)
    west = found.within(Bounds(500_000.0, 3_999_970.0, 500_010.0, 4_000_000.0))
    assert west.x_m.tolist() == [500_005.5] and west.options == found.options
    assert [(s.stem, s.kind) for s in found.stems()] == [("T1", "tree"), ("T2", "tree")]
    assert found.stems()[1].dbh_m == found.dbh_m[1]


def test_the_frame_of_a_raster_of_tiles(folder) -> None:
    """Two tiles in a folder, one frame on their cells; an area cuts whole cells out of it."""
    rng = np.random.default_rng(4)
    values = rng.uniform(0, 25, (60, 90)).astype(np.float32)
    for name, col in (("a.tif", 0), ("b.tif", 45)):
        west, north = folder.west + 100 + col, folder.north - 50
        folder.raster(f"tops/{name}", values[:, col : col + 45], 1.0, west=west, north=north)
    folder.layers["canopy_height"] = '"tops"'
    made = folder.read()
    layer = made.rasters["canopy_height"]
    grid = canopy_frame(layer, made.crs)
    assert (grid.west, grid.north, grid.shape) == (folder.west + 100, folder.north - 50, (60, 90))
    assert np.array_equal(layer.read(grid), values)
    alone = held(values)
    alone.grid = grid
    assert same(find_trees(layer, grid, size=TileSize(rows=16, cols=40)), find_trees(alone, grid))
    area = Bounds(folder.west + 110.4, folder.north - 80.5, folder.west + 130.2, folder.north - 60.5)
    part = canopy_frame(layer, made.crs, area)
    assert (part.west, part.north, part.shape) == (folder.west + 110, folder.north - 60, (21, 21))
    off = canopy_frame(layer, made.crs, Bounds(0.0, 0.0, 10.0, 10.0))
    assert off.rows == 0 and len(find_trees(layer, off)) == 0
