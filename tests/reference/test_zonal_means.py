"""Means over ground against exactextract, which weighs every cell by the share of it that a polygon covers."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pytest
import rasterio
import shapely
from exactextract import exact_extract
from rasterio.transform import from_origin

from boscage.kernels.focal import disk_mean
from boscage.kernels.reduce import BlockOut, block_reduce


def raster(values: np.ndarray, cell: float) -> rasterio.io.MemoryFile:
    memory = rasterio.io.MemoryFile()
    place = from_origin(0, values.shape[0] * cell, cell, cell)
    profile = {"driver": "GTiff", "height": values.shape[0], "width": values.shape[1], "count": 1, "dtype": "float32"}
    profile |= {"crs": "EPSG:32615", "transform": place, "nodata": np.nan}
    with memory.open(**profile) as file:
        file.write(values.astype(np.float32), 1)
    return memory


def means(values: np.ndarray, cell: float, shapes: list[shapely.Geometry]) -> np.ndarray:
    frame = gpd.GeoDataFrame(geometry=shapes, crs="EPSG:32615")
    with raster(values, cell) as memory, memory.open() as file:
        return exact_extract(file, frame, "mean", output="pandas")["mean"].to_numpy()


def test_blocks_of_cells() -> None:
    """Blocks of 10 x 10 cells of 1 m: whole cells only, so the two must agree to rounding, NaN cells left out."""
    rng = np.random.default_rng(3)
    heights = (rng.random((120, 90)) * 30).astype(np.float32)
    heights[rng.random(heights.shape) < 0.2] = np.nan
    out = BlockOut(*[np.empty((12, 9), np.float32) for _ in range(4)])
    block_reduce(heights, 10, 2.0, out)
    squares = [shapely.box(c * 10, 120 - r * 10 - 10, c * 10 + 10, 120 - r * 10) for r in range(12) for c in range(9)]
    assert out.mean.ravel() == pytest.approx(means(heights, 1.0, squares), rel=1e-5)
    tall = np.where(np.isnan(heights), np.nan, heights >= 2.0)
    assert out.share.ravel() == pytest.approx(means(tall, 1.0, squares), abs=1e-6)


def test_disks() -> None:
    """A disk of 30 m on 10 m cells takes whole cells by their centre; exactextract cuts them at the circle.

    On a smooth surface the two differ by far less than the surface varies across the disk; on noise by no more than
    the cells that the circle cuts can move a mean of 29 cells.
    """
    rows, cols = np.mgrid[0:60, 0:60]
    smooth = (50 + 30 * np.sin(rows / 9.0) * np.cos(cols / 7.0)).astype(np.float32)
    noise = (np.random.default_rng(4).random((60, 60)) * 100).astype(np.float32)
    cells = [(r, c) for r in range(5, 55, 4) for c in range(5, 55, 4)]
    circles = [shapely.Point(c * 10 + 5, 600 - r * 10 - 5).buffer(30, quad_segs=64) for r, c in cells]
    for surface, bound in ((smooth, 0.5), (noise, 6.0)):
        out = np.empty_like(surface)
        disk_mean(surface, 3.0, 0.5, out)
        ours = np.array([out[cell] for cell in cells])
        theirs = means(surface, 10.0, circles)
        assert np.abs(ours - theirs).max() < bound
