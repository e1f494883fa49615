"""Surfaces on the scene's grid, and backdrops for maps."""

from __future__ import annotations

import datetime as dt
import tracemalloc

import numpy as np
import pytest

from boscage.readers.backdrop import read_backdrop
from boscage.readers.surfaces import make_surfaces
from boscage.values import Bounds, Grid

CRS = "EPSG:32615"
WEST, NORTH = 520_000.0, 4_008_000.0
RING_M = 2.9
GRID = Grid(CRS, WEST, NORTH, 10.0, 100, 200)


def surfaces(folder, grid: Grid = GRID, **more):
    return make_surfaces(folder.read(), grid, ring_radius_m=RING_M, **more)


@pytest.fixture
def fine(folder):
    """The folder with 1 m canopy heights over its western half and 1 m terrain over all of it."""
    rng = np.random.default_rng(3)
    values = np.where(rng.random((1000, 1000)) < 0.4, 12.0, 0.5).astype("float32")
    values += rng.random(values.shape, dtype="float32")
    folder.raster("h.tif", values, 1.0, tiled=True, compress="deflate", nodata=-1.0)
    cols, rows = np.meshgrid(np.arange(2060), np.arange(1060))
    z = 200.0 + 0.1 * (cols + 0.5) - 0.2 * (rows + 0.5) + 0.1 * np.sin(cols / 3.0) * np.cos(rows / 4.0)
    folder.raster("z.tif", z.astype("float32"), 1.0, west=WEST - 30.0, north=NORTH + 30.0, tiled=True)
    folder.layers |= {"canopy_height": '"h.tif"', "terrain": '"z.tif"'}
    return folder, values, z


def blocks(values: np.ndarray, k: int) -> np.ndarray:
    rows, cols = values.shape[0] // k, values.shape[1] // k
    return values[: rows * k, : cols * k].reshape(rows, k, cols, k).swapaxes(1, 2).reshape(rows, cols, k * k)


def test_cover_and_canopy_top_equal_plain_numpy(bare) -> None:
    rng = np.random.default_rng(1)
    bare.parcels()
    values = (rng.random((1000, 2000)) * 20.0).astype("float32")
    values[:500, :1000][rng.random((500, 1000)) < 0.6] = -1.0
    values[900:, 1900:] = -1.0
    bare.raster("h.tif", values, 1.0, nodata=-1.0)
    bare.layers["canopy_height"] = '"h.tif"'
    made = surfaces(bare)
    cells = blocks(np.where(values < 0, np.nan, values), 10)
    held = np.isfinite(cells)
    with np.errstate(invalid="ignore"):
        share = 100.0 * (held & (cells >= 2.0)).sum(axis=2) / held.sum(axis=2)
    share[held.mean(axis=2) < 0.5] = np.nan
    np.testing.assert_allclose(made["cover"].values, share, rtol=1e-5)
    peak = np.where(held, cells, -np.inf).max(axis=2)
    np.testing.assert_array_equal(made["canopy_top"].values, np.where(np.isinf(peak), np.nan, peak).astype("float32"))
    assert made["cover"].note == "100 % the share of canopy heights of 2 m or more (cells of 1 m)"


def test_cover_comes_from_its_own_layer_first_and_the_note_says_the_shares(fine) -> None:
    folder, heights, _ = fine
    cover = np.full((100, 200), 30, np.uint8)
    cover[:, :20] = 255
    folder.raster("cover.tif", cover, nodata=255)
    made = surfaces(folder)["cover"]
    assert (made.values[:, 20:] == 30.0).all()
    derived = 100.0 * (blocks(heights, 10) >= 2.0).mean(axis=2)
    np.testing.assert_allclose(made.values[:, :20], derived[:, :20], rtol=1e-5)
    assert made.note.startswith("90 % from the canopy cover layer (cells of 10 m); 10 % the share of canopy heights")


def plane_rms(z: np.ndarray, row: int, col: int) -> float:
    """Mean over a 10 x 10 block of the rms off numpy's least-squares plane through the 2.9-cell disk of each cell."""
    r, c = np.mgrid[-3:4, -3:4]
    held = np.hypot(r, c) <= RING_M
    design = np.column_stack([np.ones(held.sum()), r[held], c[held]])
    found = []
    for i in range(row, row + 10):
        for j in range(col, col + 10):
            values = z[i - 3 : i + 4, j - 3 : j + 4][held]
            rest = values - design @ np.linalg.lstsq(design, values, rcond=None)[0]
            found.append(np.sqrt((rest**2).mean()))
    return float(np.mean(found))


def test_terrain_finer_than_the_cell(fine) -> None:
    """Against numpy's own central differences: Horn's weights on the same plane and ripple, and an exact cell mean."""
    folder, _, z = fine
    made = surfaces(folder)
    inner = z.astype("float32")[30:-30, 30:-30]
    np.testing.assert_allclose(made["elevation"].values, blocks(inner, 10).mean(axis=2), rtol=1e-6)
    p = z.astype("float32").astype("float64")
    east = (p[:-2, 2:] + 2 * p[1:-1, 2:] + p[2:, 2:] - p[:-2, :-2] - 2 * p[1:-1, :-2] - p[2:, :-2]) / 8.0
    south = (p[2:, :-2] + 2 * p[2:, 1:-1] + p[2:, 2:] - p[:-2, :-2] - 2 * p[:-2, 1:-1] - p[:-2, 2:]) / 8.0
    slope = np.hypot(east, south)[29:-29, 29:-29]
    np.testing.assert_allclose(made["slope"].values, blocks(slope, 10).mean(axis=2), atol=2e-5)
    assert np.isfinite(made["roughness"].values).all()
    assert made["roughness"].values[40, 70] == pytest.approx(plane_rms(p[30:-30, 30:-30], 400, 700), rel=1e-3)


def test_a_tilted_plane_has_its_slope_and_no_roughness(bare) -> None:
    cols, rows = np.meshgrid(np.arange(2060), np.arange(1060))
    bare.parcels()
    bare.raster("c.tif", np.full((100, 200), 50, "uint8"))
    bare.raster("z.tif", (0.3 * cols + 0.4 * rows).astype("float32"), 1.0, west=WEST - 30.0, north=NORTH + 30.0)
    bare.layers |= {"canopy_cover": '"c.tif"', "terrain": '"z.tif"'}
    made = surfaces(bare)
    np.testing.assert_allclose(made["slope"].values, 0.5, atol=1e-4)  # hypot(0.3, 0.4)
    np.testing.assert_allclose(made["roughness"].values, 0.0, atol=1e-4)


def test_coarse_terrain_is_smooth_and_has_no_roughness(folder) -> None:
    """A plane through 30 m cells must come out as a plane: no terraces, and its slope everywhere inside."""
    cols, rows = np.meshgrid(np.arange(80), np.arange(50))
    z = (200.0 + 30.0 * (0.06 * cols + 0.08 * rows)).astype("float32")
    folder.raster("z.tif", z, 30.0, west=WEST - 150.0, north=NORTH + 150.0)
    folder.layers["terrain"] = '"z.tif"'
    made = surfaces(folder)
    np.testing.assert_allclose(made["slope"].values, 0.1, atol=1e-5)  # hypot(0.06, 0.08)
    assert np.allclose(np.diff(made["elevation"].values, axis=1), 0.6, atol=1e-4)
    assert "roughness" not in made
    assert "terrain too coarse (30 m) to see roughness inside the ring" in made["slope"].note
    assert "bilinear" in made["elevation"].note


@pytest.mark.parametrize("block", [64, 37])
@pytest.mark.parametrize("crs", [CRS, "EPSG:32616"])
def test_the_block_size_does_not_matter(fine, crs: str, block: int) -> None:
    folder, _, _ = fine
    layers = folder.read()
    grid = Grid.covering(layers.ranch, cell_m=10.0, crs=layers.crs)
    if crs != CRS:
        import rasterio
        from rasterio.warp import calculate_default_transform, reproject

        with rasterio.open(folder.path / "z.tif") as file:
            transform, width, height = calculate_default_transform(
                file.crs, crs, file.width, file.height, *file.bounds, resolution=1.0
            )
            out = np.full((height, width), -9.0, "float32")
            reproject(rasterio.band(file, 1), out, dst_transform=transform, dst_crs=crs, dst_nodata=-9.0)
        folder.raster("z.tif", out, crs=crs, transform=transform, nodata=-9.0)
        layers = folder.read()
    whole = make_surfaces(layers, grid, ring_radius_m=RING_M)
    parts = make_surfaces(layers, grid, ring_radius_m=RING_M, block=block)
    assert set(whole) == set(parts) == {"cover", "canopy_top", "elevation", "slope", "roughness"}
    for name, surface in whole.items():
        np.testing.assert_allclose(parts[name].values, surface.values, rtol=0, atol=1e-4, err_msg=name)
        assert parts[name].note == surface.note


def test_progress_is_told_block_by_block(folder) -> None:
    told = []
    surfaces(folder, progress=lambda done, total: told.append((done, total)), block=50)
    assert told == [(i, 8) for i in range(1, 9)]


def test_heights_too_coarse_for_cover_are_said(bare) -> None:
    bare.parcels()
    bare.raster("h.tif", np.full((100, 200), 9.0, "float32") + np.arange(200, dtype="float32") / 100.0)
    bare.layers["canopy_height"] = '"h.tif"'
    made = surfaces(bare)
    assert "cover" not in made and made["canopy_top"].values.max() == pytest.approx(10.99)


def test_memory_stays_bounded(bare) -> None:
    """Ten million cells of float32 are 40 MB; the pieces in hand must stay well under a whole copy in float64."""
    bare.parcels()
    rng = np.random.default_rng(0)
    values = np.round(rng.random((2500, 4000), dtype="float32") * 20.0, 1)
    bare.raster("h.tif", values, 0.5, tiled=True, compress="deflate")
    bare.layers["canopy_height"] = '"h.tif"'
    layers = bare.read()
    del values
    make_surfaces(layers, GRID.window(0, 0, 4, 4), ring_radius_m=RING_M)
    tracemalloc.start()
    make_surfaces(layers, GRID, ring_radius_m=RING_M, block=25)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 20e6


def test_backdrop_of_a_site_and_of_the_ranch(fine, shapes) -> None:
    folder, heights, _ = fine
    folder.vector("t.gpkg", [shapes.line((-100, 50), (3000, 50))], **{"class": ["track"]})
    folder.layers["tracks"] = '"t.gpkg"'
    layers = folder.read()
    near = read_backdrop(layers, Bounds(WEST + 100, NORTH - 160, WEST + 160, NORTH - 100), 1.0, dt.date(2026, 11, 21))
    assert near.grid.shape == (60, 60)
    np.testing.assert_array_equal(near.canopy_top, heights[100:160, 100:160])
    wide = read_backdrop(layers, layers.ranch, 20.0, dt.date(2026, 11, 21))
    assert wide.grid.shape == (50, 100) and wide.elevation.shape == wide.cover.shape == (50, 100)
    assert wide.vectors["tracks"].length.sum() == pytest.approx(2000.0)
    assert len(near.vectors["parcels"]) == 1 and near.vectors["parcels"].area.sum() == pytest.approx(3600.0)
    assert near.vectors["tracks"].empty


def test_cover_of_a_backdrop_made_of_heights(bare) -> None:
    """Half of the cells of a chequerboard of 4 m squares are trees; the sampled share must come out near 50 %."""
    bare.parcels()
    tree = (np.indices((1000, 2000)) // 4).sum(axis=0) % 2
    bare.raster("h.tif", (tree * 9.0).astype("float32"), 1.0)
    bare.layers["canopy_height"] = '"h.tif"'
    layers = bare.read()
    cover = read_backdrop(layers, layers.ranch, 13.0, dt.date(2026, 11, 21)).cover
    assert np.nanmean(cover) == pytest.approx(50.0, abs=2.0)
