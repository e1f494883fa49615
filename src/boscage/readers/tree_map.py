"""Trees from canopy heights of any size: read in strips, each cell once, so that memory stays bounded."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.crowns import (
    LONGEST_RAY_M,
    PLATEAU_CELLS,
    TopOut,
    Window,
    check_windows,
    count_blocks,
    list_tops,
    mark_tops,
    measure_tops,
    window_radius,
)
from boscage.model.layers import RasterSource
from boscage.model.trees import CROWDED_PER_HA, TreeMap, TreeOptions, estimate_dbh_m
from boscage.readers.raster_layer import RasterLayer
from boscage.values import Bounds, Grid

BLOCK_ROWS = 256  # strips begin where a tiled file's blocks do, as long as the grid begins with the file
STRIP_CELLS = 4_000_000
PANEL_COLS = 14_848
COARSEST_M, FINEST_M = 1.5, 0.4
OPEN_SHARE = 0.25
SQUARE_M = 20.0
LEAST_CROWD = 4

Progress = Callable[[int, int], None]
Floats = NDArray[np.float32]


@dataclass(frozen=True, kw_only=True)
class TileSize:
    """How much is read at once; the trees found do not depend on it.

    Attributes:
        rows: Rows of a strip, or None for what keeps one under 4 million cells.
        cols: Columns of a panel.
    """

    rows: int | None = None
    cols: int = PANEL_COLS


def canopy_frame(layer: RasterLayer, crs: str, area: Bounds | None = None) -> Grid:
    """The grid of a canopy raster's own cells in a projected CRS, over all of it or the part that covers an area.

    Where the raster is in another CRS, the grid has cells of the same size over the rectangle that holds it.
    """
    whole, cell_m = layer.raw.bounds(crs), layer.native_cell_m
    rows, cols = (max(1, math.ceil(side / cell_m - 1e-3)) for side in (whole.height, whole.width))
    grid = Grid(crs, whole.west, whole.north, cell_m, rows, cols)
    if area is None:
        return grid
    row, col = (max(0, v) for v in grid.index(area.west, area.north))
    last_row, last_col = grid.index(area.east, area.south)
    if last_row < row or last_col < col or row >= rows or col >= cols:
        return Grid(crs, whole.west, whole.north, cell_m, 0, 0)
    return grid.window(row, col, last_row - row + 1, last_col - col + 1)


def find_trees(
    source: RasterSource,
    grid: Grid,
    options: TreeOptions | None = None,
    *,
    size: TileSize | None = None,
    progress: Progress | None = None,
) -> TreeMap:
    """Find trees in canopy heights: local maxima in a round window that grows with the height of its centre.

    The canopy is taken as it is, without smoothing. Each cell is read once in strips of at most 4 million cells, but
    for the columns where panels of a very wide raster overlap. The trees do not depend on the strips or on the number
    of threads. See `boscage.kernels.crowns` for the exact rules.

    Args:
        source: Canopy heights.
        grid: Frame to look at, best the raster's own cells (`canopy_frame`). Trees outside it are not found, and
            cells outside it are not looked at.
        options: Window, least height, and the equation for diameters.
        size: How much is read at once.
        progress: Called with (strips done, strips in all).
    """
    options, size = options or TreeOptions(), size or TileSize()
    halo = _halo(options, grid.cell_m)
    found: list[_Found] = []
    squares = _Squares.over(grid)
    panels = list(_panels(grid, halo, size.cols))
    for number, (part, cols, origin) in enumerate(panels):
        strips = _strips(source, part, halo, _strip_rows(part, size))
        for done, total, strip in strips:
            squares.add(strip, cols, origin)
            found.append(strip.tops(cols, origin, options, grid.cell_m))
            if progress is not None:
                progress(number * total + done, len(panels) * total)
    return _tree_map(_Found.joined(found), grid, options, squares)


def _halo(options: TreeOptions, cell_m: float) -> int:
    """Cells round a cell that its answer can depend on."""
    widest = window_radius(60.0, Window(options.window_range_m()[1], 0.0, 0.0), cell_m)
    return max(math.ceil(widest), math.ceil(LONGEST_RAY_M / cell_m), PLATEAU_CELLS + 1) + 1


def _strip_rows(part: Grid, size: TileSize) -> int:
    return size.rows or max(1, STRIP_CELLS // max(1, part.cols) // BLOCK_ROWS) * BLOCK_ROWS


def _panels(grid: Grid, halo: int, most: int) -> Iterator[tuple[Grid, tuple[int, int], int]]:
    """Upright stretches of the grid: the part to read, the columns of it that count, and its first column."""
    for col in range(0, grid.cols, most):
        first, last = max(0, col - halo), min(grid.cols, col + most + halo)
        part = grid.window(0, first, grid.rows, last - first)
        yield part, (col - first, min(grid.cols, col + most) - first), first


@dataclass(frozen=True, kw_only=True)
class _Found:
    """Tops: their cells (n, 2) in the grid, what was measured, and whether each also tops the window for crowds."""

    cells: NDArray[np.int64]
    tops: TopOut
    apart: NDArray[np.bool_]

    @classmethod
    def joined(cls, parts: list[_Found]) -> _Found:
        """All parts as one."""
        cells = np.concatenate([p.cells for p in parts] or [np.empty((0, 2), np.int64)])
        tops = (np.concatenate([getattr(p.tops, n) for p in parts] or [np.empty(0)]) for n in TopOut._fields)
        return cls(
            cells=cells, tops=TopOut(*tops), apart=np.concatenate([p.apart for p in parts] or [np.empty(0, bool)])
        )

    def taken(self, which: NDArray) -> _Found:
        """Those at some indices, or where a mask is true."""
        tops = TopOut(*(getattr(self.tops, n)[which] for n in TopOut._fields))
        return _Found(cells=self.cells[which], tops=tops, apart=self.apart[which])


@dataclass(frozen=True, kw_only=True)
class _Squares:
    """Squares of 20 m that lie on whole multiples of 20 m, whatever part of the raster is looked at.

    Attributes:
        row_edges, col_edges: Rows and columns of the grid where squares begin, and the end.
        counts: Cells of each square that hold data, and that are canopy; (2, r, c).
        cell_ha: Area of a cell.
    """

    row_edges: NDArray[np.int64]
    col_edges: NDArray[np.int64]
    counts: NDArray[np.int64]
    cell_ha: float

    @classmethod
    def over(cls, grid: Grid) -> _Squares:
        """Empty squares over a grid."""
        side = max(SQUARE_M, grid.cell_m)
        x = np.floor((grid.west + (np.arange(grid.cols) + 0.5) * grid.cell_m) / side)
        y = np.floor((grid.north - (np.arange(grid.rows) + 0.5) * grid.cell_m) / side)
        edges = [
            np.concatenate([[0], np.flatnonzero(np.diff(v)) + 1, [len(v)]]).astype(np.int64) for v in (y, x) if len(v)
        ]
        rows, cols = edges if len(edges) == 2 else (np.zeros(1, np.int64), np.zeros(1, np.int64))
        return cls(
            row_edges=rows, col_edges=cols, counts=np.zeros((2, len(rows) - 1, len(cols) - 1), np.int64),
            cell_ha=grid.cell_ha,
        )  # fmt: skip

    def add(self, strip: _Strip, cols: tuple[int, int], origin: int) -> None:
        """Count the cells of a strip that count."""
        part = strip.canopy[slice(*strip.rows), slice(*cols)]
        first = (strip.first + strip.rows[0], origin + cols[0])
        count_blocks(part, first, self.row_edges, self.col_edges, self.counts)

    @property
    def held(self) -> int:
        """Cells that hold data."""
        return int(self.counts[0].sum())

    def crowded(self, cells: NDArray[np.int64]) -> tuple[NDArray[np.bool_], float]:
        """Which tops stand in a square with more tops than trees can have, and the share of the canopy there."""
        shape = self.counts.shape[1:]
        row, col = (np.repeat(np.arange(len(e) - 1), np.diff(e)) for e in (self.row_edges, self.col_edges))
        square = row[cells[:, 0]] * shape[1] + col[cells[:, 1]]
        tops = np.bincount(square, minlength=shape[0] * shape[1])
        canopy = self.counts[1].ravel()
        many = (tops >= LEAST_CROWD) & (tops > CROWDED_PER_HA * self.cell_ha * canopy)
        return many[square], float(canopy[many].sum() / max(1, canopy.sum()))


@dataclass(frozen=True, kw_only=True)
class _Strip:
    """Some rows of a panel with the rows round them.

    Attributes:
        canopy: Heights (R, C), metres.
        marks: Scratch of the same shape.
        rows: First row that counts and row after the last, in `canopy`.
        first: Row of the grid that row 0 of `canopy` is.
    """

    canopy: Floats
    marks: NDArray[np.uint8]
    rows: tuple[int, int]
    first: int

    def tops(self, cols: tuple[int, int], origin: int, options: TreeOptions, cell_m: float) -> _Found:
        """Tops among the cells that count."""
        mark_tops(self.canopy, self.rows, Window(*options.coefficients), cell_m, options.least_height_m, self.marks)
        cells = np.empty((int(np.count_nonzero(self.marks[slice(*self.rows)])), 2), np.int64)
        cells = cells[: list_tops(self.marks, self.rows, cols, cells)]
        out = TopOut(*(np.empty(len(cells), np.float32) for _ in TopOut._fields))
        measure_tops(self.canopy, cells, cell_m, out)
        apart = np.ones(len(cells), np.bool_)
        if options.crowded is not None:
            check_windows(self.canopy, cells, Window(*options.crowded), cell_m, apart)
        return _Found(cells=cells + (self.first, origin), tops=out, apart=apart)


def _strips(source: RasterSource, part: Grid, halo: int, step: int) -> Iterator[tuple[int, int, _Strip]]:
    """Number, number in all, and each strip of a panel; a strip keeps the rows it shares with the next.

    A strip's own rows lag behind the rows read by the halo, so that every row is read once.
    """
    total = max(1, math.ceil(part.rows / step))
    buffer = np.empty((min(step + 2 * halo, part.rows) if total > 1 else part.rows, part.cols), np.float32)
    marks = np.empty(buffer.shape, np.uint8)
    first = kept = done_row = 0
    for number in range(total):
        start, stop = number * step, min(part.rows, (number + 1) * step)
        buffer[kept : kept + stop - start] = source.read(part.window(start, 0, stop - start, part.cols))
        filled = kept + stop - start
        until = part.rows if stop == part.rows else max(done_row, stop - halo)
        yield (
            number + 1,
            total,
            _Strip(canopy=buffer[:filled], marks=marks[:filled], rows=(done_row - first, until - first), first=first),
        )
        done_row = until
        keep_from = max(0, done_row - halo - first)
        kept = filled - keep_from
        buffer[:kept] = buffer[keep_from:filled].copy()
        first += keep_from


def _tree_map(found: _Found, grid: Grid, options: TreeOptions, squares: _Squares) -> TreeMap:
    """Tops as trees, in the grid's reading order."""
    rough = 0.0
    if options.crowded is not None and len(found.cells):
        crowded, rough = squares.crowded(found.cells)
        if crowded.any():
            found = found.taken(found.apart | ~crowded)
    order = found.cells[:, 0] * grid.cols + found.cells[:, 1]
    if (order[1:] < order[:-1]).any():
        found = found.taken(np.argsort(order, kind="stable"))
    down, across, height, radius, open_rays = (v.astype(np.float64) for v in found.tops)
    x = grid.west + (found.cells[:, 1] + across + 0.5) * grid.cell_m
    y = grid.north - (found.cells[:, 0] + down + 0.5) * grid.cell_m
    at_edge = int((open_rays >= OPEN_SHARE).sum())
    return TreeMap(
        x_m=x, y_m=y, height_m=height, crown_radius_m=radius, dbh_m=estimate_dbh_m(height, radius, options.group),
        crs=grid.crs, cell_m=grid.cell_m, options=options, canopy_ha=squares.held * grid.cell_ha,
        doubts=(*_doubts(grid, squares.held, at_edge, len(height)), *_doubt_rough(rough)),
    )  # fmt: skip


def _doubt_rough(share: float) -> tuple[str, ...]:
    if share < 0.01:
        return ()
    return (
        f"the canopy is rough on {100.0 * share:.0f} % of its ground: only tops a crown's width apart count as trees "
        "there, so smaller trees are missed.",
    )


def _doubts(grid: Grid, held: int, at_edge: int, trees: int) -> tuple[str, ...]:
    doubts = []
    if grid.cell_m > COARSEST_M:
        doubts.append(
            f"the canopy heights have cells of {grid.cell_m:.3g} m: too coarse to tell trees apart; use 1 m or finer."
        )
    if grid.cell_m < FINEST_M:
        doubts.append(
            f"the canopy heights have cells of {grid.cell_m:.2g} m: branches may pass for trees; use 0.5 m to 1 m."
        )
    cells = grid.rows * grid.cols
    if held == 0:
        doubts.append("there are no canopy heights here: the trees are not known; name a raster that covers the place.")
    elif held < cells:
        share = 100.0 * (1.0 - held / cells)
        doubts.append(
            f"canopy heights are missing for {share:.2g} % of the ground looked at: trees there are not known."
        )
    if at_edge:
        doubts.append(
            f"trees beside ground without canopy heights: {at_edge} of {trees}; their crowns may be wider; look there."
        )
    return tuple(doubts)
