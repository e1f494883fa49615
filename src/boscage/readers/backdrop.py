"""One stretch of ground read for drawing."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from boscage.model.layers import LayerSet
from boscage.model.results import Backdrop
from boscage.readers.surfaces import CANOPY_M, covered, finer, ratio, reduced, sees_cover
from boscage.values import Bounds, Grid

if TYPE_CHECKING:
    import geopandas

MOST_RATIO = 4


def read_backdrop(layers: LayerSet, bounds: Bounds, cell_m: float, date: dt.date) -> Backdrop:
    """Read the terrain, the canopy and the features of one stretch of ground.

    Elevation is bilinear where the terrain is coarser than the cell. Where a raster is much finer than the cell, its
    thinned view is read: one native cell stands for each cell of the backdrop (for cover made of canopy heights, up to
    4 x 4 of them).

    Args:
        layers: The layers as read.
        bounds: The stretch, metres in the layers' CRS.
        cell_m: Cell of the arrays, metres.
        date: The plan's date.
    """
    grid = Grid.covering(bounds, cell_m=cell_m, crs=layers.crs)
    terrain, heights = layers.rasters.get("terrain"), layers.rasters.get("canopy_height")
    return Backdrop(
        grid=grid,
        date=date,
        elevation=None if terrain is None else terrain.read(grid, smooth=terrain.native_cell_m > cell_m / 2.0),
        cover=_cover(layers, grid),
        canopy_top=None if heights is None else heights.read(grid),
        vectors={name: clip(layer.frame, grid.bounds) for name, layer in layers.vectors.items()},
    )


def _cover(layers: LayerSet, grid: Grid) -> NDArray[np.float32] | None:
    cover, heights = layers.rasters.get("canopy_cover"), layers.rasters.get("canopy_height")
    values = None if cover is None else cover.read(grid)
    if heights is None or not sees_cover(heights, grid.cell_m):
        return values
    if values is not None and not np.isnan(values).any():
        return values
    k = min(MOST_RATIO, ratio(heights, grid.cell_m))
    derived = covered(reduced(heights.read(finer(grid, k)), k, CANOPY_M))
    return derived if values is None else np.where(np.isnan(values), derived, values)


def clip(frame: geopandas.GeoDataFrame, bounds: Bounds) -> geopandas.GeoDataFrame:
    """The features that touch a rectangle, cut off at its edges."""
    box = shapely.box(bounds.west, bounds.south, bounds.east, bounds.north)
    shapes = frame.geometry.to_numpy()
    held = np.flatnonzero(shapely.intersects(shapes, box))
    cut = shapely.intersection(shapes[held], box)
    return frame.iloc[held].set_geometry(list(cut), crs=frame.crs).reset_index(drop=True)
