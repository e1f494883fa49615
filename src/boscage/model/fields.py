"""Features to fields: which cells a shape holds, and how far each cell is from a set of shapes."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from boscage.values import Grid

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_SLAB = 400_000


def cell_centres(grid: Grid) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """East of every column and north of every row, metres: shapes (cols,) and (rows,)."""
    x = grid.west + (np.arange(grid.cols) + 0.5) * grid.cell_m
    y = grid.north - (np.arange(grid.rows) + 0.5) * grid.cell_m
    return x, y


def cells_at(x_m: Floats, y_m: Floats, grid: Grid) -> tuple[Ints, Ints, NDArray[np.bool_]]:
    """Row and column of the cell that holds each place, and whether that lies on the grid; (N,) each."""
    rows = np.floor((grid.north - y_m) / grid.cell_m).astype(np.int64)
    cols = np.floor((x_m - grid.west) / grid.cell_m).astype(np.int64)
    return rows, cols, (rows >= 0) & (rows < grid.rows) & (cols >= 0) & (cols < grid.cols)


def centres_of(rows: Ints, cols: Ints, grid: Grid) -> Floats:
    """East and north of the centres of cells, metres; (N, 2)."""
    return np.column_stack([grid.west + (cols + 0.5) * grid.cell_m, grid.north - (rows + 0.5) * grid.cell_m])


def burn(shape: Any, grid: Grid) -> NDArray[np.bool_]:
    """Cells whose centre lies inside a (multi)polygon or any of an array of them, edges included; (rows, cols) bool.

    Empty shapes and shapes off the grid give no cells.
    """
    out = np.zeros(grid.shape, dtype=bool)
    x, y = cell_centres(grid)
    for part in shapely.get_parts(shape):
        if part.is_empty or part.geom_type != "Polygon":
            continue
        west, south, east, north = part.bounds
        col0, col1 = np.searchsorted(x, (west, np.nextafter(east, np.inf)))
        row0, row1 = np.searchsorted(-y, (-north, np.nextafter(-south, np.inf)))
        if col0 >= col1 or row0 >= row1:
            continue
        shapely.prepare(part)
        step = max(1, _SLAB // (col1 - col0))
        for top in range(row0, row1, step):
            xx, yy = np.meshgrid(x[col0:col1], y[top : min(top + step, row1)])
            out[top : min(top + step, row1), col0:col1] |= shapely.intersects_xy(part, xx, yy)
    return out


def cells_along(lines: Any, grid: Grid) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Rows and columns of the cells that lines pass, in grid order, each once.

    Points are taken every third of a cell.
    """
    points = _points_along(lines, grid.cell_m / 3.0)
    rows, cols, inside = cells_at(points[:, 0], points[:, 1], grid)
    flat = np.unique(rows[inside] * grid.cols + cols[inside])
    return flat // grid.cols, flat % grid.cols


def distance_field(shapes: Any, grid: Grid, *, step_m: float = 1.0, within_m: float = np.inf) -> NDArray[np.float32]:
    """Distance in metres from each cell's centre to the nearest shape, 0 inside polygons; (rows, cols) float32.

    Outlines are sampled every `step_m` metres, so the distance is never too short and at most
    sqrt(d**2 + step**2 / 4) - d too long. Beyond `within_m`, and without any shape, the field is infinite.
    """
    parts = shapely.get_parts(shapely.union_all(np.atleast_1d(np.asarray(shapes, dtype=object))))
    if len(parts) == 0:
        return np.full(grid.shape, np.inf, dtype=np.float32)
    polygons = parts[shapely.get_dimensions(parts) == 2]
    outlines = np.where(shapely.get_dimensions(parts) == 2, shapely.boundary(parts), parts)
    tree = cKDTree(_points_along(outlines, step_m))
    x, y = cell_centres(grid)
    out = np.empty(grid.shape, dtype=np.float32)
    step = max(1, _SLAB // grid.cols)
    for top in range(0, grid.rows, step):
        xx, yy = np.meshgrid(x, y[top : top + step])
        near, _ = tree.query(np.column_stack([xx.ravel(), yy.ravel()]), distance_upper_bound=within_m)
        out[top : top + step] = near.reshape(xx.shape)
    if len(polygons):
        out[burn(shapely.union_all(polygons), grid)] = 0.0
    return out


def _points_along(shapes: Any, step_m: float) -> NDArray[np.float64]:
    """(N, 2) vertices of lines and points with extra vertices so that no two neighbours are over `step_m` apart."""
    parts = shapely.get_parts(np.atleast_1d(np.asarray(shapes, dtype=object)))
    dense = shapely.segmentize(parts, step_m) if len(parts) else parts
    return shapely.get_coordinates(dense)
