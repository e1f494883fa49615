"""The cells of a raster as the file lays them out, and how values on a grid are taken from them.

Pixel coordinates are (row, col) as real numbers: the cell (0, 0) covers [0, 1) x [0, 1). A place on the border of two
cells belongs to the one below or to the right; a millionth of a cell is allowed for rounding, so that the answer for a
place does not depend on which piece of the grid is asked for.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Protocol

import numpy as np
from affine import Affine
from numpy.typing import NDArray
from pyproj import Transformer

from boscage.readers.crs import same_crs
from boscage.values import Bounds, Grid

ROUNDING = 1e-6
MESH_CELLS = 32
STRIP_CELLS = 4_000_000
PIECE_CELLS = 100_000

Floats = NDArray[np.float64]


class Lattice(Protocol):
    """Cells laid out in rows and columns."""

    @property
    def crs(self) -> str:
        """Horizontal CRS of the cells."""
        ...

    @property
    def transform(self) -> Affine:
        """From (col, row) to coordinates in the CRS."""
        ...

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        ...

    def sample(self, rows: Floats, cols: Floats) -> NDArray[np.float32]:
        """Values (len(rows), len(cols)) of the cells that hold these pixel coordinates; NaN off the raster.

        Each of the two rises or falls evenly. Where they are far apart, a cell near each is enough.
        """
        ...


@lru_cache(maxsize=64)
def transformer(source: str, target: str) -> Transformer:
    """The change of coordinates between two systems, x before y; kept, since making one is slow."""
    return Transformer.from_crs(source, target, always_xy=True)


@lru_cache(maxsize=64)
def alike(one: str, other: str) -> bool:
    """Whether two systems are the same, remembered."""
    return same_crs(one, other)


def at(t: Affine, col: Any, row: Any) -> tuple[Any, Any]:
    """Coordinates of a pixel place, or of arrays of them. (Spelt out: versions of affine differ in their operators.)"""
    return t.a * col + t.b * row + t.c, t.d * col + t.e * row + t.f


def whole(pixels: Floats) -> NDArray[np.int64]:
    """Index of the cell that holds each pixel coordinate."""
    return np.floor(pixels + ROUNDING).astype(np.int64)


def lattice_bounds(lattice: Lattice, crs: str) -> Bounds:
    """The rectangle in a CRS that holds the whole raster."""
    rows, cols = lattice.shape
    corners = [at(lattice.transform, *corner) for corner in ((0, 0), (cols, 0), (0, rows), (cols, rows))]
    xs, ys = zip(*corners, strict=True)
    if alike(lattice.crs, crs):
        return Bounds(min(xs), min(ys), max(xs), max(ys))
    box = transformer(lattice.crs, crs).transform_bounds(min(xs), min(ys), max(xs), max(ys), densify_pts=21)
    return Bounds(*(float(v) for v in box))


def lattice_cell_m(lattice: Lattice, crs: str) -> float:
    """Side in metres of a square as large as the cell in the raster's middle, measured in a projected CRS."""
    rows, cols = lattice.shape
    xs, ys = at(lattice.transform, cols / 2 + np.array([0.0, 1.0, 0.0]), rows / 2 + np.array([0.0, 0.0, 1.0]))
    if not alike(lattice.crs, crs):
        xs, ys = transformer(lattice.crs, crs).transform(xs, ys)
    across, down = (xs[1] - xs[0], ys[1] - ys[0]), (xs[2] - xs[0], ys[2] - ys[0])
    return float(math.sqrt(abs(across[0] * down[1] - across[1] * down[0])))


def read_grid(lattice: Lattice, grid: Grid, *, smooth: bool = False) -> NDArray[np.float32]:
    """Values on a grid in any projected CRS: the nearest cell's, or bilinear between cell centres with `smooth`.

    Bilinear weights are shared among the cells that have data; where the nearest cell has none, the answer is NaN.
    The change of CRS is computed exactly at the nodes of a mesh of 32 grid cells that is fixed to the origin of the
    grid's CRS, and linearly between (within 1 cm for cells up to 30 m).
    """
    out = np.empty(grid.shape, dtype=np.float32)
    turned = lattice.transform.b != 0.0 or lattice.transform.d != 0.0
    straight = not turned and alike(lattice.crs, grid.crs)
    step = max(1, STRIP_CELLS // max(1, grid.cols))
    for row in range(0, grid.rows, step):
        strip = grid.window(row, 0, step, grid.cols)
        part = out[row : row + strip.rows]
        if straight:
            _read_straight(lattice, strip, part, smooth=smooth)
        else:
            _read_warped(lattice, strip, part, smooth=smooth)
    return out


def _read_straight(lattice: Lattice, grid: Grid, out: NDArray[np.float32], *, smooth: bool) -> None:
    t = lattice.transform
    cols = (grid.west + (np.arange(grid.cols) + 0.5) * grid.cell_m - t.c) / t.a
    rows = (grid.north - (np.arange(grid.rows) + 0.5) * grid.cell_m - t.f) / t.e
    if not smooth or (_on_centres(rows) and _on_centres(cols)):
        out[:] = lattice.sample(rows, cols)
        return
    (r0, r1), (c0, c1) = _around(rows), _around(cols)
    native = lattice.sample(np.arange(r0, r1) + 0.5, np.arange(c0, c1) + 0.5)
    height = max(1, PIECE_CELLS // max(1, len(cols)))
    for start in range(0, len(rows), height):
        piece = slice(start, start + height)
        out[piece] = _bilinear(native, (rows[piece] - r0)[:, None], (cols - c0)[None, :])


def _on_centres(pixels: Floats) -> bool:
    """Whether the places are the centres of cells."""
    return bool(np.abs(pixels - np.floor(pixels) - 0.5).max(initial=0.0) < 1e-3)


def _around(pixels: Floats) -> tuple[int, int]:
    """First and last-but-one index of the cells that bilinear weights can fall on."""
    return math.floor(pixels.min()) - 1, math.floor(pixels.max()) + 3


def _read_warped(lattice: Lattice, grid: Grid, out: NDArray[np.float32], *, smooth: bool) -> None:
    mesh = _Mesh.over(lattice, grid)
    out[:] = np.nan
    if not (np.isfinite(mesh.rows).any() and np.isfinite(mesh.cols).any()):
        return
    (r0, r1), (c0, c1) = (_reach(m, n) for m, n in zip((mesh.rows, mesh.cols), lattice.shape, strict=True))
    if r1 - r0 < 3 or c1 - c0 < 3:
        return
    step = 1 if smooth else mesh.spacing()
    native = lattice.sample(np.arange(r0, r1, step) + step / 2, np.arange(c0, c1, step) + step / 2)
    height = max(1, PIECE_CELLS // max(1, grid.cols))
    for start in range(0, grid.rows, height):
        rows, cols = mesh.pixels(start, start + height)
        piece = out[start : start + height]
        with np.errstate(invalid="ignore"):
            if smooth:
                piece[:] = _bilinear(native, rows - r0, cols - c0)
            else:
                piece[:] = native[_index(rows, r0, step, native.shape[0]), _index(cols, c0, step, native.shape[1])]


def _reach(pixels: Floats, size: int) -> tuple[int, int]:
    """The stretch of cells to read for pixel coordinates: two cells off the raster at most, where there are no data."""
    return max(-2, math.floor(np.nanmin(pixels)) - 2), min(size + 2, math.floor(np.nanmax(pixels)) + 4)


def _index(pixels: Floats, start: int, step: int, size: int) -> NDArray[np.int64]:
    """Index into an array read from cell `start` on in steps; what lies off it falls on its empty border."""
    index = np.floor(pixels + (ROUNDING - start)).astype(np.int64)
    if step > 1:
        index //= step
    return np.clip(index, 0, size - 1, out=index)


@dataclass(frozen=True)
class _Mesh:
    """Pixel coordinates at the nodes of a mesh that is fixed to the origin of the grid's CRS.

    Attributes:
        rows, cols: Pixel coordinates at the nodes.
        x, y: Places of the grid's columns and rows in units of the mesh, counted from its first node.
    """

    rows: Floats
    cols: Floats
    x: Floats
    y: Floats

    @classmethod
    def over(cls, lattice: Lattice, grid: Grid) -> _Mesh:
        """The mesh over a grid."""
        side = MESH_CELLS * grid.cell_m
        x = (grid.west + (np.arange(grid.cols) + 0.5) * grid.cell_m) / side
        y = (grid.north - (np.arange(grid.rows) + 0.5) * grid.cell_m) / side
        node_x = np.arange(math.floor(x.min()), math.floor(x.max()) + 2)
        node_y = np.arange(math.floor(y.min()), math.floor(y.max()) + 2)
        at_x, at_y = np.meshgrid(node_x * side, node_y * side)
        if not alike(grid.crs, lattice.crs):
            at_x, at_y = transformer(grid.crs, lattice.crs).transform(at_x, at_y)
        held = np.isfinite(at_x) & np.isfinite(at_y)
        cols, rows = at(~lattice.transform, np.where(held, at_x, np.nan), np.where(held, at_y, np.nan))
        return cls(rows, cols, x - node_x[0], y - node_y[0])

    def spacing(self) -> int:
        """Whole number of the raster's cells between neighbours on the grid, at least 1."""
        steps = [np.hypot(np.diff(self.rows, axis=a), np.diff(self.cols, axis=a)) for a in (0, 1)]
        return max(1, int(min(float(np.nanmedian(s)) for s in steps) / MESH_CELLS + ROUNDING))

    def pixels(self, start: int, stop: int) -> tuple[Floats, Floats]:
        """Pixel coordinates of some rows of the grid, linear in x and y between the nodes."""
        y = self.y[start:stop]
        i, j = np.floor(y).astype(np.int64), np.floor(self.x).astype(np.int64)
        s, t = (y - i)[:, None], self.x - j
        found = []
        for nodes in (self.rows, self.cols):
            lines = nodes[i] * (1.0 - s) + nodes[i + 1] * s
            values = np.take(np.diff(lines, axis=1), j, axis=1)
            values *= t
            values += np.take(lines, j, axis=1)
            found.append(values)
        return found[0], found[1]


def _bilinear(native: NDArray[np.float32], rows: Floats, cols: Floats) -> NDArray[np.float32]:
    """Bilinear values at pixel coordinates of an array, weights shared among the cells with data."""
    high, wide = native.shape
    r, c = np.floor(rows - 0.5), np.floor(cols - 0.5)
    s, t = rows - 0.5 - r, cols - 0.5 - c
    total, weights = np.zeros(np.broadcast_shapes(rows.shape, cols.shape)), 0.0
    for dr, dc, weight in ((0, 0, (1 - s) * (1 - t)), (0, 1, (1 - s) * t), (1, 0, s * (1 - t)), (1, 1, s * t)):
        i = np.clip(r + dr, 0, high - 1).astype(np.int64)
        j = np.clip(c + dc, 0, wide - 1).astype(np.int64)
        values = native[i, j]
        held = np.isfinite(values)
        total += np.where(held, values, 0.0) * weight
        weights = weights + held * weight
    nearest = native[np.clip(whole(rows), 0, high - 1), np.clip(whole(cols), 0, wide - 1)]
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(np.isfinite(nearest), total / weights, np.nan).astype(np.float32)
