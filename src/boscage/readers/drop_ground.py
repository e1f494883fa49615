"""The ground round a place as a drop is judged by: canopy heights at their own cells or the greatest of several."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from boscage.model.layers import LayerSet
from boscage.readers.surfaces import finer, ratio, reduced
from boscage.values import Bounds, Grid

LEAST_CELL_M = 0.5
HORIZON_CELL_M = 10.0


def read_canopy(
    layers: LayerSet, around: tuple[float, float], reach_m: float, cell_m: float = 0.0
) -> tuple[Grid, NDArray[np.float32]]:
    """Canopy heights of a square, and its frame; a cell holds the greatest of the raster's cells in it.

    Args:
        around: East and north of its middle; `reach_m` is half its side.
        cell_m: Least cell; the raster's own where that is wider, and never under half a metre.

    Returns:
        A frame of 1 m cells and NaN throughout where the plan has no canopy heights.
    """
    x, y = around
    bounds = Bounds(x - reach_m, y - reach_m, x + reach_m, y + reach_m)
    heights = layers.rasters.get("canopy_height")
    if heights is None:
        grid = Grid.covering(bounds, cell_m=max(1.0, cell_m), crs=layers.crs)
        return grid, np.full(grid.shape, np.nan, np.float32)
    k = max(1, int(max(cell_m, LEAST_CELL_M) / heights.native_cell_m + 1e-6))
    grid = Grid.covering(bounds, cell_m=k * heights.native_cell_m, crs=layers.crs)
    out = reduced(heights.read(finer(grid, k)), k)
    return grid, np.where(out.valid == 1.0, out.peak, np.float32(np.nan))


def read_terrain(layers: LayerSet, grid: Grid) -> NDArray[np.float32] | None:
    """Elevation on a frame, bilinear; None where the plan has no terrain."""
    terrain = layers.rasters.get("terrain")
    return None if terrain is None else terrain.read(grid, smooth=True)


def read_far_terrain(
    layers: LayerSet, around: tuple[float, float], reach_m: float
) -> tuple[Grid, NDArray[np.float32]] | None:
    """Elevation of a wide square in cells of at least 10 m, for the horizon; None without terrain."""
    terrain = layers.rasters.get("terrain")
    if terrain is None:
        return None
    x, y = around
    k = ratio(terrain, HORIZON_CELL_M)
    grid = Grid.covering(
        Bounds(x - reach_m, y - reach_m, x + reach_m, y + reach_m), cell_m=k * terrain.native_cell_m, crs=layers.crs
    )
    return grid, reduced(terrain.read(finer(grid, k), smooth=True), k).mean
