"""From the returns of a lidar survey to the ground and to canopy heights on square cells.

The ground is the mean of the ground returns of each cell; cells between are filled with inverse-distance weights from
up to eight directions. Where the survey does not tell ground from canopy, the ground is taken from the lowest returns
by a progressive morphological filter.

References: K. Zhang, S.-C. Chen, D. Whitman, M.-L. Shyu, J. Yan and C. Zhang (2003), A progressive morphological filter
for removing nonground measurements from airborne LIDAR data, IEEE Transactions on Geoscience and Remote Sensing 41(4),
872-882.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from rasterio.fill import fillnodata
from scipy.ndimage import generate_binary_structure, grey_opening, median_filter, minimum_filter

GROUND = 2
NOISE = (7, 18)
OWN_CLASSES = 64  # from here on a survey's maker says what a class means
NOT_CANOPY = (6, 9, 13, 14, 15, 16, 17)  # building, water, wires and their towers, bridge deck
COARSE = 2  # cells along one side of the squares that the filter works on
WINDOWS_M = (4.0, 8.0, 16.0, 32.0)
STEEP = 0.5  # slope that the filter lets pass as ground
FIRST_STEP_M, LAST_STEP_M = 0.5, 4.0
GAP_M = 100.0
PIT_M = 2.0

Floats = NDArray[np.float32]


@dataclass(frozen=True, kw_only=True)
class Returns:
    """What is kept of the returns of each cell; row 0 is the northernmost. Heights in metres above the survey's zero.

    Attributes:
        west, north: Coordinates of the grid's corner, in the survey's horizontal unit.
        cell: Side of a cell in that unit.
        cell_m: The same in metres.
        top: Highest return that can be canopy; -inf where there is none.
        low: Lowest return; inf where there is none.
        ground_sum, ground_count: Sum and number of the returns that the survey calls ground.
        seen: Whether the cell has any return.
        counts: Number of returns kept, and of those left out.
    """

    west: float
    north: float
    cell: float
    cell_m: float
    top: Floats
    low: Floats
    ground_sum: NDArray[np.float64]
    ground_count: NDArray[np.int32]
    seen: NDArray[np.bool_]
    counts: dict[str, int] = field(default_factory=lambda: {"kept": 0, "left out": 0})

    @classmethod
    def empty(cls, corner: tuple[float, float], cell: float, cell_m: float, shape: tuple[int, int]) -> Returns:
        """A grid without returns."""
        return cls(
            west=corner[0], north=corner[1], cell=cell, cell_m=cell_m,
            top=np.full(shape, -np.inf, np.float32), low=np.full(shape, np.inf, np.float32),
            ground_sum=np.zeros(shape), ground_count=np.zeros(shape, np.int32), seen=np.zeros(shape, bool),
        )  # fmt: skip

    def add(self, x: NDArray, y: NDArray, z_m: NDArray, code: NDArray, dropped: NDArray[np.bool_]) -> None:
        """Put returns into their cells; noise, withheld ones and those of a class of the survey's own are left out.

        Args:
            x, y: Places in the survey's horizontal unit; (n,).
            z_m: Heights, metres.
            code: Classes of the LAS standard.
            dropped: Withheld by whoever made the file.
        """
        kept = ~(dropped | np.isin(code, NOISE) | (code >= OWN_CLASSES))
        self.counts["left out"] += int((~kept).sum())
        self.counts["kept"] += int(kept.sum())
        rows, cols = self.seen.shape
        row = np.clip(np.floor((self.north - y[kept]) / self.cell), 0, rows - 1).astype(np.int64)
        col = np.clip(np.floor((x[kept] - self.west) / self.cell), 0, cols - 1).astype(np.int64)
        z, code = z_m[kept], code[kept]
        self.seen[row, col] = True
        leaf = ~np.isin(code, NOT_CANOPY)
        np.maximum.at(self.top, (row[leaf], col[leaf]), z[leaf].astype(np.float32))
        np.minimum.at(self.low, (row, col), z.astype(np.float32))
        ground = code == GROUND
        np.add.at(self.ground_sum, (row[ground], col[ground]), z[ground])
        np.add.at(self.ground_count, (row[ground], col[ground]), 1)

    def per_m2(self) -> float:
        """Returns on a square metre of the squares of `COARSE` x `COARSE` cells that hold any."""
        held = int(_blocks(self.seen, COARSE, np.logical_or).sum()) * (COARSE * self.cell_m) ** 2
        return self.counts["kept"] / held if held else 0.0

    def tells_ground(self) -> bool:
        """Whether enough of the returns are called ground: somewhere in at least half of the surveyed 10 m squares."""
        side = max(1, round(10.0 / self.cell_m))
        seen = _blocks(self.seen, side, np.logical_or)
        ground = _blocks(self.ground_count > 0, side, np.logical_or)
        return bool(ground.sum() >= 0.5 * max(1, int(seen.sum()))) and bool(ground.any())


def _blocks(cells: NDArray, side: int, how: np.ufunc) -> NDArray:
    """Blocks of side x side cells brought down to one value each; the last ones may be cut off."""
    rows, cols = (np.arange(0, n, side) for n in cells.shape)
    return how.reduceat(how.reduceat(cells, rows, axis=0), cols, axis=1)


def ground_surface(returns: Returns) -> tuple[Floats, str]:
    """Height of the ground in every cell within 100 m of known ground, metres, NaN elsewhere; and how it was found."""
    if returns.tells_ground():
        with np.errstate(invalid="ignore", divide="ignore"):
            known = (returns.ground_sum / returns.ground_count).astype(np.float32)
        return _filled(known, returns.cell_m), "ground as the survey classes it"
    rough = _filled(_lowest_ground(returns), COARSE * returns.cell_m)
    rough = rough.repeat(COARSE, axis=0).repeat(COARSE, axis=1)[: returns.low.shape[0], : returns.low.shape[1]]
    with np.errstate(invalid="ignore"):
        known = np.where(np.abs(returns.low - rough) < FIRST_STEP_M, returns.low, np.nan).astype(np.float32)
    return _filled(known, returns.cell_m), "the survey does not class the ground; taken from the lowest returns"


def _lowest_ground(returns: Returns) -> Floats:
    """Lowest returns of squares of `COARSE` x `COARSE` cells that the filter takes for ground; NaN elsewhere.

    Openings with growing windows; a square that an opening lowers by more than the slope allows is no ground. Buildings
    wider than 32 m stay, and edges steeper than 50 % are cut.
    """
    cell_m = COARSE * returns.cell_m
    low = _blocks(returns.low, COARSE, np.minimum)
    low = np.where(np.isfinite(low), low, np.nan).astype(np.float32)
    surface = _filled(_without_wells(low), cell_m)
    surface = np.where(np.isnan(surface), np.float32(np.nanmedian(low)), surface)
    ground = np.isfinite(low) & (np.abs(low - surface) < FIRST_STEP_M)
    before = 0.0
    for window_m in WINDOWS_M:
        side = 2 * round(window_m / 2.0 / cell_m) + 1
        opened = grey_opening(surface, size=(side, side))
        step = min(LAST_STEP_M, FIRST_STEP_M + STEEP * (window_m - before))
        ground &= surface - opened <= step
        surface, before = opened, window_m
    return np.where(ground, low, np.nan).astype(np.float32)


def _without_wells(low: Floats) -> Floats:
    """The lowest returns without single ones 2 m and more below all round them, which are errors of range."""
    ring = generate_binary_structure(2, 2)
    ring[1, 1] = False
    lowest_round = minimum_filter(np.where(np.isnan(low), np.inf, low), footprint=ring, mode="nearest")
    with np.errstate(invalid="ignore"):
        return np.where(low < lowest_round - PIT_M, np.nan, low).astype(np.float32)


def _filled(known: Floats, cell_m: float) -> Floats:
    """Cells without a value filled from those round them, at most 100 m away; NaN beyond."""
    held = np.isfinite(known)
    if held.all() or not held.any():
        return known
    # a mark that no height can have stays where the search finds nothing
    mark = np.float32(-1e20)
    filled = fillnodata(np.where(held, known, mark), mask=held.astype(np.uint8), max_search_distance=GAP_M / cell_m)
    return np.where(filled < -1e19, np.nan, filled).astype(np.float32)


def canopy_heights(returns: Returns, ground: Floats) -> Floats:
    """Highest return of each cell above the ground, metres, 0 at the least; NaN where nothing is known.

    A cell whose returns are all of buildings, water or wires counts as 0. A pit, a cell 2 m and more below the median
    of the nine round it and lower than its eight neighbours, takes that median. A cell without returns takes the mean
    of its neighbours where at least five have a height; larger gaps stay without data.
    """
    with np.errstate(invalid="ignore"):
        heights = np.where(np.isfinite(returns.top), returns.top - ground, np.where(returns.seen, 0.0, np.nan))
    heights = np.maximum(heights, 0.0).astype(np.float32)
    heights[np.isnan(ground)] = np.nan
    return _bridged(_without_pits(heights))


def _without_pits(heights: Floats) -> Floats:
    ring = generate_binary_structure(2, 2)
    ring[1, 1] = False
    solid = np.where(np.isnan(heights), -1.0, heights)
    middle = median_filter(solid, size=3, mode="nearest")
    below = solid < minimum_filter(solid, footprint=ring, mode="nearest")
    return np.where(below & (middle - solid > PIT_M) & (solid >= 0.0), middle, heights).astype(np.float32)


def _bridged(heights: Floats) -> Floats:
    """Single cells without data take the mean of their neighbours."""
    padded = np.pad(heights, 1, constant_values=np.nan)
    rows, cols = heights.shape
    total, count = np.zeros(heights.shape, np.float32), np.zeros(heights.shape, np.uint8)
    for down in range(3):
        for right in range(3):
            part = padded[down : down + rows, right : right + cols]
            held = np.isfinite(part)
            total += np.where(held, part, np.float32(0.0))
            count += held
    gap = np.isnan(heights) & (count >= 5)
    return np.where(gap, total / np.maximum(count, 1), heights).astype(np.float32)
