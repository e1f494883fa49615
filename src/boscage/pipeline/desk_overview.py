"""Overviews: fields brought down to coarser cells, so that a picture costs the same at any zoom and any ranch's size.

Of a raster whose cells are finer than the scoring grid's an overview is kept on the disk, beside the store's results;
it is made piece by piece and mapped afterwards. Fields of the scoring grid are brought down in memory.
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from boscage.errors import InputError
from boscage.exports.staging import STATE_FOLDER
from boscage.exports.store import key_of
from boscage.kernels.reduce import BlockOut, block_reduce
from boscage.model.layers import RasterSource
from boscage.sheets.screenground import MARGIN_CELLS, Field
from boscage.values import Bounds, Grid

FOLDER = "desk"
STRIP_ROWS = 256
LEAST_SIDE = 64
NO_DATA = 255
STEP_M = 0.25
"""Canopy heights are kept in steps of so many metres, up to 63.5 m."""
FORM = 1
Floats32 = NDArray[np.float32]


def halved(values: Floats32) -> Floats32:
    """Mean of the known cells of each 2 x 2 block; a last odd row or column makes blocks of its own."""
    rows, cols = values.shape
    even = np.full((rows + rows % 2, cols + cols % 2), np.nan, dtype=np.float32)
    even[:rows, :cols] = values
    out = BlockOut(*(np.empty((even.shape[0] // 2, even.shape[1] // 2), np.float32) for _ in range(4)))
    block_reduce(even, 2, 0.0, out)
    return out.mean


def coarser(grid: Grid) -> Grid:
    """The grid of `halved` values."""
    return Grid(grid.crs, grid.west, grid.north, 2 * grid.cell_m, -(-grid.rows // 2), -(-grid.cols // 2))


class Pyramid:
    """A field of the scoring grid with ever coarser ones over it, made when they are first asked for."""

    def __init__(self, field: Field) -> None:
        self._levels = [field]

    def window(self, bounds: Bounds, metres_per_px: float) -> Field:
        """The level that suits a picture, over its ground and a margin."""
        want = max(0, round(math.log2(max(metres_per_px, 1e-9) / self._levels[0].grid.cell_m)))
        while len(self._levels) <= want and min(self._levels[-1].values.shape) > 1:
            last = self._levels[-1]
            self._levels.append(Field(grid=coarser(last.grid), values=halved(last.values)))
        return cut(self._levels[min(want, len(self._levels) - 1)], bounds)


def cut(field: Field, bounds: Bounds) -> Field:
    """The part of a field over some ground, with `MARGIN_CELLS` round it."""
    rows, cols = cells_over(field.grid, bounds)
    part = field.grid.window(rows.start, cols.start, rows.stop - rows.start, cols.stop - cols.start)
    return Field(grid=part, values=np.ascontiguousarray(field.values[rows, cols]))


def cells_over(grid: Grid, bounds: Bounds) -> tuple[slice, slice]:
    """Rows and columns of a grid over some ground, with a margin; empty where the two do not meet."""
    top, left = grid.index(bounds.west, bounds.north)
    bottom, right = grid.index(bounds.east, bounds.south)
    rows = _clipped(top - MARGIN_CELLS, bottom + MARGIN_CELLS + 1, grid.rows)
    return rows, _clipped(left - MARGIN_CELLS, right + MARGIN_CELLS + 1, grid.cols)


def _clipped(first: int, last: int, size: int) -> slice:
    first = min(max(first, 0), size)
    return slice(first, min(max(last, first), size))


@dataclass(frozen=True, kw_only=True)
class Level:
    """One level of an overview: its frame and its cells as kept."""

    grid: Grid
    cells: NDArray[np.generic]


class RasterOverview:
    """A raster layer at any zoom: its own cells while they are few enough, else the overview.

    Args:
        source: The raster.
        whole: Frame of its own cells over the ranch.
        levels: The overview, finest first; each has cells twice as wide as the one before.
        is_height: Whether cells are kept in steps of `STEP_M` metres, else as they are.
        paths: Where the levels are kept.
    """

    def __init__(
        self, source: RasterSource, whole: Grid, levels: tuple[Level, ...], *, is_height: bool,
        paths: Sequence[Path] = (),
    ) -> None:  # fmt: skip
        self._source, self._whole, self._levels, self._is_height = source, whole, levels, is_height
        self.paths = tuple(paths)

    def window(self, bounds: Bounds, metres_per_px: float) -> Field:
        """Values over some ground and a margin, at cells that suit a picture."""
        fitting = [k for k in self._levels if k.grid.cell_m <= 1.45 * metres_per_px]
        level = fitting[-1] if fitting else None
        if level is None or not self._levels:
            rows, cols = cells_over(self._whole, bounds)
            part = self._whole.window(rows.start, cols.start, rows.stop - rows.start, cols.stop - cols.start)
            values = self._source.read(part) if part.rows > 0 and part.cols > 0 else np.empty(part.shape, np.float32)
            return Field(grid=part, values=values)
        rows, cols = cells_over(level.grid, bounds)
        part = level.grid.window(rows.start, cols.start, rows.stop - rows.start, cols.stop - cols.start)
        return Field(grid=part, values=opened(level.cells[rows, cols], is_height=self._is_height))


def kept(values: Floats32, *, is_height: bool) -> NDArray[np.generic]:
    """Values as an overview keeps them."""
    if not is_height:
        return values
    steps = np.clip(np.rint(values / np.float32(STEP_M)), 0, NO_DATA - 1)
    return np.where(np.isnan(values), NO_DATA, steps).astype(np.uint8)


def opened(cells: NDArray[np.generic], *, is_height: bool) -> Floats32:
    """Values as `kept` took them, to its step."""
    if not is_height:
        return np.ascontiguousarray(cells, dtype=np.float32)
    values = cells.astype(np.float32) * np.float32(STEP_M)
    return np.where(cells == NO_DATA, np.float32(np.nan), values)


def make_overview(
    source: RasterSource, whole: Grid, out: Path, *, is_height: bool, progress: Callable[[int, int], None]
) -> RasterOverview:
    """The overview of a raster, from the disk where it is there, else made and, if the disk lets it, kept there.

    Args:
        source: The raster.
        whole: Frame of its own cells over the ranch.
        out: Folder of the run's outputs.
        is_height: Whether heights are kept in steps.
        progress: Called with pieces done and pieces in all.
    """
    grids = _frames(whole)
    key = key_of("overview", FORM, source.report.digest, source.report.name, whole, is_height)
    folder = out / STATE_FOLDER / FOLDER
    dtype = np.dtype(np.uint8 if is_height else np.float32)
    paths = [folder / f"{key}.{n}.npy" for n in range(len(grids))]
    held = [_load(path, grid, dtype) for path, grid in zip(paths, grids, strict=True)]
    if any(cells is None for cells in held):
        held = _build(source, whole, grids, paths, is_height=is_height, progress=progress)
    levels = [Level(grid=g, cells=c) for g, c in zip(grids, held, strict=True) if c is not None]
    return RasterOverview(source, whole, tuple(levels), is_height=is_height, paths=paths)


def _frames(whole: Grid) -> list[Grid]:
    """Frames of the levels, the finest with cells twice as wide as the raster's."""
    grids = [coarser(whole)]
    while max(grids[-1].shape) > LEAST_SIDE:
        grids.append(coarser(grids[-1]))
    return grids


def _load(path: Path, grid: Grid, dtype: np.dtype) -> NDArray[np.generic] | None:
    try:
        cells = np.load(path, mmap_mode="r", allow_pickle=False)
    except (OSError, ValueError, EOFError):
        return None
    return cells if cells.shape == grid.shape and cells.dtype == dtype else None


def _build(
    source: RasterSource, whole: Grid, grids: list[Grid], paths: list[Path], *, is_height: bool,
    progress: Callable[[int, int], None],
) -> list[NDArray[np.generic] | None]:  # fmt: skip
    """Make every level, the finest from the raster and each other from the one before, strip by strip."""
    made: list[NDArray[np.generic]] = []
    total, done = sum(-(-g.rows // STRIP_ROWS) for g in grids), 0
    for n, (grid, path) in enumerate(zip(grids, paths, strict=True)):

        def strips(n: int = n, grid: Grid = grid) -> Iterator[NDArray[np.generic]]:
            for row in range(0, grid.rows, STRIP_ROWS):
                rows = min(STRIP_ROWS, grid.rows - row)
                if n == 0:
                    values = source.read(whole.window(2 * row, 0, 2 * rows, whole.cols))
                else:
                    values = opened(made[-1][2 * row : 2 * (row + rows)], is_height=is_height)
                yield kept(halved(values), is_height=is_height)

        def told(strip: NDArray[np.generic]) -> NDArray[np.generic]:
            nonlocal done
            done = min(done + 1, total)
            progress(done, total)
            return strip

        made.append(_stored(lambda strips=strips: map(told, strips()), path, grid, is_height=is_height))
    return list(made)


def _stored(
    strips: Callable[[], Iterator[NDArray[np.generic]]], path: Path, grid: Grid, *, is_height: bool
) -> NDArray[np.generic]:
    """A level written to the disk and mapped; in memory where it cannot be written."""
    part = path.with_name(f"{path.name}.{os.getpid()}.part")
    dtype = np.dtype(np.uint8 if is_height else np.float32)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with part.open("wb") as file:
            head = {"descr": np.lib.format.dtype_to_descr(dtype), "fortran_order": False, "shape": grid.shape}
            np.lib.format.write_array_header_1_0(file, head)
            for strip in strips():
                file.write(np.ascontiguousarray(strip, dtype=dtype).tobytes())
        os.replace(part, path)
        return np.load(path, mmap_mode="r", allow_pickle=False)
    except OSError as error:
        with suppress(OSError):
            part.unlink()
        if isinstance(error, InputError):
            raise
        return np.concatenate(list(strips()))


def forget_others(out: Path, used: Sequence[RasterOverview]) -> None:
    """Take away the overviews in a folder that are none of those in use."""
    names = {path.name for one in used for path in one.paths}
    for path in (out / STATE_FOLDER / FOLDER).glob("*.npy"):
        if path.name not in names:
            with suppress(OSError):
                path.unlink()
