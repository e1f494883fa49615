"""Where the invented ranch lies, its grid, its dates and its random streams.

Arrays are (row, column), north up. Points are east and north in metres (UTM zone 15 north).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import rasterio.features
from numpy.typing import NDArray
from pyproj import Transformer
from rasterio.transform import Affine, from_origin

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

CRS = "EPSG:32615"
RANCH = "Dunnock Hollow Ranch (invented)"
NOTE = "Invented data for Dunnock Hollow Ranch. No real place, owner, brand or person."
PLAN_DATE = date(2026, 11, 21)
FIXED_TIME = "2026-11-21T00:00:00.000Z"
SEED = 20261121

CELL_M = 10.0
WEST_M, NORTH_M = 523_500.0, 4_009_800.0
ROWS, COLS = 680, 720
EAST_M, SOUTH_M = WEST_M + COLS * CELL_M, NORTH_M - ROWS * CELL_M

_TO_LONLAT = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True)


def rng(stream: str) -> np.random.Generator:
    """Random numbers for one product: the same on every run, whatever else is built."""
    return np.random.default_rng([SEED, *stream.encode()])


@dataclass(frozen=True, kw_only=True)
class Grid:
    """A north-up grid. `west_m`, `north_m` are the outer corner of cell (0, 0)."""

    west_m: float
    north_m: float
    cell_m: float
    rows: int
    cols: int

    @property
    def transform(self) -> Affine:
        """Affine transform of the grid."""
        return from_origin(self.west_m, self.north_m, self.cell_m, self.cell_m)

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.rows, self.cols

    def centres(self) -> tuple[Floats, Floats]:
        """East and north of every cell centre, each (rows, cols)."""
        east = self.west_m + (np.arange(self.cols) + 0.5) * self.cell_m
        north = self.north_m - (np.arange(self.rows) + 0.5) * self.cell_m
        grid_east, grid_north = np.meshgrid(east, north)
        return grid_east, grid_north

    def cells(self, east_m: Floats, north_m: Floats) -> tuple[Ints, Ints]:
        """Row and column of points, held to the edge cells when a point is outside."""
        row = np.floor((self.north_m - np.asarray(north_m)) / self.cell_m).astype(np.int64)
        col = np.floor((np.asarray(east_m) - self.west_m) / self.cell_m).astype(np.int64)
        return np.clip(row, 0, self.rows - 1), np.clip(col, 0, self.cols - 1)


GRID = Grid(west_m=WEST_M, north_m=NORTH_M, cell_m=CELL_M, rows=ROWS, cols=COLS)


def lonlat(east_m: Floats | float, north_m: Floats | float) -> tuple[Floats, Floats]:
    """Longitude and latitude in degrees (WGS 84), rounded to seven places (about 1 cm)."""
    lon, lat = _TO_LONLAT.transform(np.asarray(east_m), np.asarray(north_m))
    return np.round(lon, 7), np.round(lat, 7)


def burn(shapes: list, grid: Grid = GRID, *, all_touched: bool = False) -> Bools:
    """Cells of `grid` that the shapes cover, (rows, cols)."""
    if not shapes:
        return np.zeros(grid.shape, dtype=bool)
    return rasterio.features.rasterize(
        [(shape, 1) for shape in shapes], grid.shape, transform=grid.transform, all_touched=all_touched
    ).astype(bool)
