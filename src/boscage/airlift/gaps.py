"""Open gaps in the canopy: the largest circles that no cell over a stated height, or without data, reaches into."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation, distance_transform_edt
from scipy.spatial import cKDTree

from boscage.model.drop import Gap
from boscage.values import Grid

Floats = NDArray[np.float64]
CLOSE_M = 0.005
"""The radius found is at most this much below the greatest there is."""
_NEAR = 24
_CORNERS = np.array([[-1.0, -1.0], [1.0, -1.0], [-1.0, 1.0], [1.0, 1.0]])


@dataclass(frozen=True, kw_only=True)
class GapSearch:
    """What counts as a gap.

    Attributes:
        open_height_m: Vegetation up to here does not close it.
        near_m, far_m: Least and greatest distance of its middle from the site.
        least_m: Diameter below which none but the widest is given.
        count: Most gaps to give.
    """

    open_height_m: float
    near_m: float = 0.0
    far_m: float = 1e6
    least_m: float = 0.0
    count: int = 1


def widest_gaps(
    height_m: NDArray[np.float32], grid: Grid, site: tuple[float, float], search: GapSearch
) -> tuple[Gap, ...]:
    """The widest circles of open ground, widest first: the widest of all, then those of at least a diameter.

    A cell is open if its canopy height is known and not over the stated one. A circle touches no part of any other cell
    and does not pass the grid's edge. Its middle lies in a cell whose own middle is as far from the site as stated, and
    farther than half the least diameter from every earlier circle. The diameter is the greatest possible less at most
    twice `CLOSE_M`; one that passes twice the greatest distance from the site is given as it is up to there.

    Args:
        height_m: (R, C) canopy height, NaN = no data.
        site: East and north of the set.

    References: the search is that of polylabel (V. Agafonkin 2016): boxes are halved while they could hold more.
    """
    rows, cols, grid = _window(grid, site, 2.0 * search.far_m)
    is_open = np.asarray(height_m[rows, cols] <= search.open_height_m)
    if not is_open.any():
        return ()
    east = grid.west + (np.arange(grid.cols) + 0.5) * grid.cell_m
    north = grid.north - (np.arange(grid.rows) + 0.5) * grid.cell_m
    away = np.hypot(east[None, :] - site[0], north[:, None] - site[1])
    allowed = is_open & (away >= search.near_m) & (away <= search.far_m)
    walls = _Walls(is_open, grid)
    found: list[Gap] = []
    while len(found) < search.count and allowed.any():
        x, y, radius = _widest(walls, allowed, grid)
        if found and 2.0 * radius < search.least_m:
            break
        found.append(Gap(x_m=x, y_m=y, diameter_m=2.0 * radius, reach_m=math.hypot(x - site[0], y - site[1])))
        allowed &= np.hypot(east[None, :] - x, north[:, None] - y) > radius + search.least_m / 2.0
    return tuple(found)


def _window(grid: Grid, site: tuple[float, float], reach_m: float) -> tuple[slice, slice, Grid]:
    """The part of the grid within a distance east, west, north and south of a place."""
    row0, col0 = grid.index(site[0] - reach_m, site[1] + reach_m)
    row1, col1 = grid.index(site[0] + reach_m, site[1] - reach_m)
    row0, col0 = min(max(0, row0), grid.rows), min(max(0, col0), grid.cols)
    row1, col1 = max(row0, min(grid.rows, row1 + 1)), max(col0, min(grid.cols, col1 + 1))
    part = grid.window(row0, col0, row1 - row0, col1 - col0)
    return slice(row0, row1), slice(col0, col1), part


class _Walls:
    """Distance from places in open cells to the nearest cell that is not open, or to the grid's edge."""

    def __init__(self, is_open: NDArray[np.bool_], grid: Grid) -> None:
        self.half = grid.cell_m / 2.0
        self.bounds = grid.bounds
        ringed = np.pad(is_open, 1, constant_values=False)
        self.rough = distance_transform_edt(ringed)[1:-1, 1:-1] * grid.cell_m
        rows, cols = np.nonzero(~is_open & binary_dilation(is_open, np.ones((3, 3), dtype=bool)))
        at = np.column_stack([grid.west + (cols + 0.5) * grid.cell_m, grid.north - (rows + 0.5) * grid.cell_m])
        self.middles = at
        self.tree = cKDTree(at) if len(at) else None

    def distance(self, places: Floats) -> Floats:
        """(N,) metres to the nearest wall; squares count, not their middles."""
        box = self.bounds
        x, y = places[:, 0], places[:, 1]
        out = np.minimum(np.minimum(x - box.west, box.east - x), np.minimum(y - box.south, box.north - y))
        if self.tree is None:
            return out
        away, which = self.tree.query(places, k=min(_NEAR, len(self.middles)))
        away, which = away.reshape(len(places), -1), which.reshape(len(places), -1)
        out = np.minimum(out, self._to_squares(places[:, None, :], which).min(axis=1))
        # a square whose middle is farther than this cannot be the nearest
        reach = away[:, 0] + self.half * (math.sqrt(2.0) - 1.0) + 1e-9
        open_ended = np.flatnonzero((away[:, -1] < reach) & (away.shape[1] < len(self.middles)))
        if len(open_ended):
            balls = self.tree.query_ball_point(places[open_ended], reach[open_ended])
            for n, ball in zip(open_ended, balls, strict=True):
                out[n] = min(out[n], float(self._to_squares(places[n], np.array(ball)).min()))
        return out

    def _to_squares(self, places: Floats, which: NDArray[np.int64]) -> Floats:
        gap = np.maximum(np.abs(self.middles[which] - places) - self.half, 0.0)
        return np.hypot(gap[..., 0], gap[..., 1])


def _widest(walls: _Walls, allowed: NDArray[np.bool_], grid: Grid) -> tuple[float, float, float]:
    """Middle and radius of the widest circle with its middle in an allowed cell."""
    half = walls.half
    # a wall's middle is `rough` away from the cell's, so the wall itself is nearer by one to root two half cells
    least = float(walls.rough[allowed].max()) - half * math.sqrt(2.0)
    rows, cols = np.nonzero(allowed & (walls.rough - half + half * math.sqrt(2.0) > least))
    at = np.column_stack([grid.west + (cols + 0.5) * grid.cell_m, grid.north - (rows + 0.5) * grid.cell_m])
    away = walls.distance(at)
    best = int(np.argmax(away))
    top = (float(at[best, 0]), float(at[best, 1]), float(away[best]))
    size = half
    while True:
        at = at[away + size * math.sqrt(2.0) > top[2] + CLOSE_M]
        if not len(at):
            return top
        size /= 2.0
        at = (at[:, None, :] + size * _CORNERS).reshape(-1, 2)
        away = walls.distance(at)
        best = int(np.argmax(away))
        if away[best] > top[2]:
            top = (float(at[best, 0]), float(at[best, 1]), float(away[best]))
