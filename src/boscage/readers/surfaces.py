"""The scene's raster surfaces, made block by block so that memory stays bounded whatever the size of the ranch."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.reduce import BlockOut, block_reduce
from boscage.kernels.terrain import horn_gradient, plane_roughness
from boscage.model.layers import LayerSet, RasterSource
from boscage.model.scene import SURFACES, Surface
from boscage.values import Grid

CANOPY_M = 2.0
LEAST_VALID = 0.5
BLOCK_CELLS = 4_000_000

Floats = NDArray[np.float32]
Progress = Callable[[int, int], None]


def make_surfaces(
    layers: LayerSet,
    grid: Grid,
    *,
    ring_radius_m: float,
    progress: Progress | None = None,
    block: int | None = None,
) -> dict[str, Surface]:
    """Make every surface that the raster layers allow, on one grid.

    cover: per cent; the canopy cover layer's mean over the cell, and where that has no data, 100 times the share of
    the canopy height's cells that are 2 m or higher, if at least half of them have data and they are at most half as
    wide as the grid's. canopy_top: greatest canopy height of the cell, m. elevation: mean over the cell, m; bilinear
    where the terrain is coarser than the grid. slope: tangent, Horn's at the terrain's own cell, averaged over the
    grid's cell. roughness: root-mean-square, m, off the plane through the ground within the ring's radius, averaged
    over the cell, where the terrain's cell is no wider than that radius.

    The answer does not depend on the block size, and the file is never read whole.

    Args:
        layers: The layers as read.
        grid: The scene's frame, in the layers' CRS.
        ring_radius_m: Radius of the ring, metres.
        progress: Called with (blocks done, blocks in all) after each block.
        block: Side of a block in cells of the grid; by default what keeps a block under 4 million native cells.
    """
    plans = [p for p in (_canopy_plan(layers, grid), _terrain_plan(layers, grid)) if p]
    jobs = [(plan, window) for plan in plans for window in _windows(grid, plan.side(block))]
    values = {name: np.full(grid.shape, np.nan, np.float32) for plan in plans for name in plan.names}
    counts = dict.fromkeys(("own", "derived"), 0)
    for done, (plan, (row, col, part)) in enumerate(jobs, start=1):
        made = plan.make(part, ring_radius_m)
        for name in plan.names:
            values[name][row : row + part.rows, col : col + part.cols] = made[name]
        for key in counts:
            counts[key] += int(made[key].sum()) if key in made else 0
        if progress is not None:
            progress(done, len(jobs))
    notes = _notes(layers, grid, ring_radius_m, counts)
    found = {name: Surface(values=values[name], note=notes[name]) for name in SURFACES if name in values}
    terrain = layers.rasters.get("terrain")
    if terrain is not None and terrain.native_cell_m > ring_radius_m:
        found.pop("roughness", None)
    return found


@dataclass(frozen=True, kw_only=True)
class _BlockPlan:
    """How one group of surfaces is made of one block.

    Attributes:
        names: Surfaces it fills.
        finest: Most native cells along one cell of the grid.
        make: From a block's frame and the ring's radius to arrays by name.
    """

    names: tuple[str, ...]
    finest: int
    make: Callable[[Grid, float], Mapping[str, NDArray]]

    def side(self, block: int | None) -> int:
        """Side of a block in cells of the grid."""
        return block or max(1, int(math.sqrt(BLOCK_CELLS) / self.finest))


def _windows(grid: Grid, side: int) -> Iterator[tuple[int, int, Grid]]:
    """Blocks of the grid with their first row and column."""
    for row in range(0, grid.rows, side):
        for col in range(0, grid.cols, side):
            yield row, col, grid.window(row, col, side, side)


def ratio(source: RasterSource, cell_m: float) -> int:
    """Native cells along one cell of the grid, at least 1."""
    return max(1, round(cell_m / source.native_cell_m))


def finer(grid: Grid, k: int, halo: int = 0) -> Grid:
    """The grid with k x k cells in place of each, grown by `halo` of the small cells on every side."""
    cell_m = grid.cell_m / k
    rows, cols = grid.rows * k + 2 * halo, grid.cols * k + 2 * halo
    return Grid(grid.crs, grid.west - halo * cell_m, grid.north + halo * cell_m, cell_m, rows, cols)


def reduced(values: Floats, k: int, threshold: float = 0.0) -> BlockOut:
    """Mean, share at or over the threshold, peak and valid share of each k x k block."""
    shape = (values.shape[0] // k, values.shape[1] // k)
    out = BlockOut(*(np.empty(shape, np.float32) for _ in range(4)))
    block_reduce(np.ascontiguousarray(values), k, threshold, out)
    return out


def sees_cover(source: RasterSource, cell_m: float) -> bool:
    """Whether canopy heights are fine enough to count the covered share of a cell."""
    return source.native_cell_m <= cell_m / 2.0 * (1.0 + 1e-6)


def covered(tops: BlockOut) -> Floats:
    """Canopy cover in per cent from reduced canopy heights; NaN where under half of a cell has data."""
    return np.where(tops.valid >= LEAST_VALID, 100.0 * tops.share, np.nan).astype(np.float32)


def _canopy_plan(layers: LayerSet, grid: Grid) -> _BlockPlan | None:
    """Cover and the greatest height; the heights are read once for both."""
    cover, heights = layers.rasters.get("canopy_cover"), layers.rasters.get("canopy_height")
    counts = heights is not None and sees_cover(heights, grid.cell_m)
    names = (*(["cover"] if cover is not None or counts else []), *(["canopy_top"] if heights is not None else []))
    if not names:
        return None
    k = 1 if cover is None else ratio(cover, grid.cell_m)
    n = 1 if heights is None else ratio(heights, grid.cell_m)

    def make(part: Grid, ring_radius_m: float) -> dict[str, NDArray]:
        values = np.full(part.shape, np.nan, np.float32)
        if cover is not None:
            values = reduced(cover.read(finer(part, k)), k).mean
        own = np.isfinite(values)
        made = {"own": own}
        if heights is not None:
            tops = reduced(heights.read(finer(part, n)), n, CANOPY_M)
            made["canopy_top"] = tops.peak
            values = np.where(own, values, covered(tops)) if counts else values
        return made | {"cover": values, "derived": np.isfinite(values) & ~own}

    return _BlockPlan(names=names, finest=max(k, n), make=make)


def _terrain_plan(layers: LayerSet, grid: Grid) -> _BlockPlan | None:
    terrain = layers.rasters.get("terrain")
    if terrain is None:
        return None
    k = ratio(terrain, grid.cell_m)

    def make(part: Grid, ring_radius_m: float) -> dict[str, NDArray]:
        rough = terrain.native_cell_m <= ring_radius_m
        cell_m = grid.cell_m / k
        radius = ring_radius_m / cell_m
        halo = math.ceil(max(radius, 1.5)) if rough else 1
        z = terrain.read(finer(part, k, halo), smooth=True)
        inner = (slice(halo, z.shape[0] - halo), slice(halo, z.shape[1] - halo))
        east, north = np.empty_like(z), np.empty_like(z)
        horn_gradient(z, cell_m, east, north)
        made = {
            "elevation": _half(z[inner], k),
            "slope": _half(np.hypot(east[inner], north[inner]), k),
            "roughness": np.full(part.shape, np.nan, np.float32),
        }
        if rough:
            plane_roughness(z, radius, cell_m, east, north)
            made["roughness"] = _half(north[inner], k)
        return made

    return _BlockPlan(names=("elevation", "slope", "roughness"), finest=k, make=make)


def _half(values: Floats, k: int) -> Floats:
    """Block means; NaN where under half of a block has data."""
    out = reduced(values, k)
    return np.where(out.valid >= LEAST_VALID, out.mean, np.nan).astype(np.float32)


def _notes(layers: LayerSet, grid: Grid, ring_radius_m: float, counts: Mapping[str, int]) -> dict[str, str]:
    """How each surface was made, in words."""
    cells = {name: f"{source.native_cell_m:.3g} m" for name, source in layers.rasters.items()}
    notes = {"canopy_top": f"greatest of the canopy heights (cells of {cells.get('canopy_height', '')})"}
    total = counts["own"] + counts["derived"]
    parts = []
    for key, name, words in (
        ("own", "canopy_cover", "from the canopy cover layer"),
        ("derived", "canopy_height", "the share of canopy heights of 2 m or more"),
    ):
        if counts[key]:
            parts.append(f"{100.0 * counts[key] / total:.0f} % {words} (cells of {cells[name]})")
    heights = layers.rasters.get("canopy_height")
    if heights is not None and not sees_cover(heights, grid.cell_m):
        parts.append(f"canopy heights too coarse ({cells['canopy_height']}) to make cover of")
    notes["cover"] = "; ".join(parts) or "no data"
    if "terrain" in cells:
        native = layers.rasters["terrain"].native_cell_m
        how = "mean over the cell" if native < grid.cell_m else "bilinear"
        notes["elevation"] = f"terrain (cells of {cells['terrain']}), {how}"
        notes["slope"] = f"Horn's slope of the terrain (cells of {cells['terrain']})"
        notes["roughness"] = f"off the plane within {ring_radius_m:.1f} m (cells of {cells['terrain']})"
        if native > ring_radius_m:
            notes["slope"] += f"; terrain too coarse ({cells['terrain']}) to see roughness inside the ring"
    return notes
