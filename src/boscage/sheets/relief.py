"""The ground under a map: one image of shaded relief with canopy tints, and contour lines."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import contourpy
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from boscage.model.results import Backdrop
from boscage.sheets.frame import MapFrame
from boscage.sheets.style import (
    CANOPY_DOTS,
    CANOPY_TINTS,
    COVER_STEPS_PERCENT,
    HEIGHT_STEPS_M,
    IMAGE_DPI,
    NO_CANOPY_TINT,
    SHADE_LEVELS,
)
from boscage.values import Grid

_LEAST_TOP_SHARE = 0.5
_COVER_SOFT_M = 5.0
_INTERVALS_FT = (5.0, 10.0, 20.0, 40.0, 80.0, 100.0, 200.0, 500.0)
_INTERVALS_M = (1.0, 2.5, 5.0, 10.0, 20.0, 25.0, 50.0, 100.0, 200.0)
_MOST_LEVELS = 16
Floats = NDArray[np.floating]


@dataclass(frozen=True, kw_only=True)
class Ground:
    """The image under a map.

    Attributes:
        image: (rows, cols, 3) uint8, row 0 in the north, filling the frame.
        canopy: What the tints show: `cover`, `height`, or `` where there is no canopy layer.
        canopy_unknown: Whether part of the frame has no canopy data.
        has_relief: Whether there is terrain to shade.
    """

    image: NDArray[np.uint8]
    canopy: str
    canopy_unknown: bool
    has_relief: bool


def sample(values: Floats, grid: Grid, frame: MapFrame, shape: tuple[int, int]) -> NDArray[np.float32]:
    """Values at the middles of the frame's pixels, linear between cells; NaN outside the grid and at no data."""
    rows, cols = shape
    b = frame.bounds
    x = b.west + (np.arange(cols) + 0.5) * b.width / cols
    y = b.north - (np.arange(rows) + 0.5) * b.height / rows
    col = (x - grid.west) / grid.cell_m - 0.5
    row = (grid.north - y) / grid.cell_m - 0.5
    at = np.meshgrid(np.clip(row, 0, grid.rows - 1), np.clip(col, 0, grid.cols - 1), indexing="ij")
    out = ndimage.map_coordinates(values.astype(np.float32), at, order=1, mode="nearest")
    outside_row = (row < -0.5) | (row > grid.rows - 0.5)
    outside_col = (col < -0.5) | (col > grid.cols - 0.5)
    out[outside_row, :] = np.nan
    out[:, outside_col] = np.nan
    return out


def smooth(values: Floats, cells: float) -> NDArray[np.float32]:
    """A Gaussian mean of the values that are there; NaN stays NaN."""
    known = np.isfinite(values)
    filled = ndimage.gaussian_filter(np.where(known, values, 0.0).astype(np.float32), cells)
    weight = ndimage.gaussian_filter(known.astype(np.float32), cells)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(known & (weight > 0), filled / weight, np.nan).astype(np.float32)


def shade(elevation_m: Floats, cell_m: float) -> NDArray[np.float32]:
    """Light from the north-west at 45 degrees on twice the ground's height, 0 dark to 1 bright; NaN at no data.

    Reference: B. K. P. Horn (1981), Hill shading and the reflectance map, Proc. IEEE 69(1), Lambertian case.
    """
    north, east = np.gradient(elevation_m.astype(np.float32) * 2.0, cell_m)
    north = -north
    light = (1.0 + east * np.sqrt(0.5) - north * np.sqrt(0.5)) / np.sqrt(1.0 + east**2 + north**2)
    return np.clip(light * np.sqrt(0.5), 0.0, 1.0)


def draw_ground(backdrop: Backdrop, frame: MapFrame) -> Ground:
    """The image for a frame, about 150 pixels to the inch, in few tints."""
    shape = (round(frame.height_mm / 25.4 * IMAGE_DPI), round(frame.width_mm / 25.4 * IMAGE_DPI))
    classes, canopy = _canopy_classes(backdrop, frame, shape)
    tints = np.array([*CANOPY_TINTS, NO_CANOPY_TINT], dtype=np.float32)
    levels = _shade_levels(backdrop, frame, shape)
    palette = np.clip(tints[:, None, :] * levels.palette[None, :, None], 0, 255).astype(np.uint8)
    image = palette[classes, levels.index]
    if canopy:
        _print_dots(image, classes)
    unknown = bool(canopy) and bool((classes == len(CANOPY_TINTS)).any())
    return Ground(image=image, canopy=canopy, canopy_unknown=unknown, has_relief=backdrop.elevation is not None)


@dataclass(frozen=True, kw_only=True)
class _Levels:
    index: NDArray[np.intp]
    palette: NDArray[np.float32]


def _shade_levels(backdrop: Backdrop, frame: MapFrame, shape: tuple[int, int]) -> _Levels:
    factors = np.linspace(0.83, 1.0, SHADE_LEVELS, dtype=np.float32)
    if backdrop.elevation is None:
        return _Levels(index=np.full(shape, SHADE_LEVELS - 1), palette=factors)
    cell = backdrop.grid.cell_m
    softened = smooth(backdrop.elevation, max(0.8, frame.metres_per_mm * 0.8 / cell))
    light = sample(shade(softened, cell), backdrop.grid, frame, shape)
    flat = np.sqrt(0.5)
    scaled = np.clip(0.72 + (light - flat) * 0.9, 0.0, 1.0)
    index = np.nan_to_num(scaled * (SHADE_LEVELS - 1), nan=SHADE_LEVELS - 1.0)
    return _Levels(index=np.rint(index).astype(np.intp), palette=factors)


def _canopy_classes(backdrop: Backdrop, frame: MapFrame, shape: tuple[int, int]) -> tuple[NDArray[np.intp], str]:
    top = None if backdrop.canopy_top is None else sample(backdrop.canopy_top, backdrop.grid, frame, shape)
    if top is not None and np.isfinite(top).mean() >= _LEAST_TOP_SHARE:
        values, steps, name, soft = top, HEIGHT_STEPS_M, "height", 1.2
    elif backdrop.cover is not None:
        values, steps, name = sample(backdrop.cover, backdrop.grid, frame, shape), COVER_STEPS_PERCENT, "cover"
        soft = max(1.2, _COVER_SOFT_M / frame.bounds.width * shape[1])
    else:
        return np.full(shape, len(CANOPY_TINTS), dtype=np.intp), ""
    values = smooth(values, soft)
    classes = np.digitize(np.nan_to_num(values, nan=0.0), steps)
    return np.where(np.isfinite(values), classes, len(CANOPY_TINTS)).astype(np.intp), name


def _print_dots(image: NDArray[np.uint8], classes: NDArray[np.intp]) -> None:
    """Dots over the denser canopy, thin diagonals where the canopy is unknown."""
    row, col = np.ogrid[: classes.shape[0], : classes.shape[1]]
    for step, spacing in enumerate(CANOPY_DOTS):
        if spacing:
            shifted = (col + (row // spacing % 2) * (spacing // 2)) % spacing
            image[(classes == step) & (row % spacing == 0) & (shifted == 0)] = (96, 112, 84)
    image[(classes == len(CANOPY_TINTS)) & ((row + col) % 14 == 0)] = (176, 176, 176)


@dataclass(frozen=True, kw_only=True)
class Contours:
    """Contour lines.

    Attributes:
        interval_m: Height between two lines, metres.
        lines: By height in metres: (N, 2) arrays east, north.
        index_every: Every how many-th line is heavy.
    """

    interval_m: float
    lines: dict[float, list[NDArray[np.float64]]]
    index_every: int = 5

    def is_index(self, level_m: float) -> bool:
        """Whether a line is heavy."""
        return round(level_m / self.interval_m) % self.index_every == 0


def contour_interval_m(relief_m: float, units: str) -> float:
    """The smallest of the usual intervals that draws no more than 16 lines over a relief.

    >>> contour_interval_m(30.0, "metric")
    2.5
    """
    steps = [s * 0.3048 for s in _INTERVALS_FT] if units == "us" else list(_INTERVALS_M)
    return next((s for s in steps if relief_m / s <= _MOST_LEVELS), steps[-1])


def trace_contours(backdrop: Backdrop, frame: MapFrame, units: str) -> Contours | None:
    """Contour lines over the frame, or None without terrain or without relief."""
    if backdrop.elevation is None:
        return None
    grid = backdrop.grid
    z = smooth(backdrop.elevation, max(0.8, frame.metres_per_mm * 0.6 / grid.cell_m))
    seen = z[_frame_window(grid, frame)]
    if seen.size == 0 or not np.isfinite(seen).any():
        return None
    low, high = float(np.nanmin(seen)), float(np.nanmax(seen))
    interval = contour_interval_m(high - low, units)
    x = grid.west + (np.arange(grid.cols) + 0.5) * grid.cell_m
    y = grid.north - (np.arange(grid.rows) + 0.5) * grid.cell_m
    tracer = contourpy.contour_generator(x, y, np.ma.masked_invalid(z))
    steps = range(int(np.ceil(low / interval)), int(np.floor(high / interval)) + 1)
    lines: dict[float, Any] = {k * interval: tracer.lines(k * interval) for k in steps}
    return Contours(interval_m=interval, lines=lines) if lines else None


def _frame_window(grid: Grid, frame: MapFrame) -> tuple[slice, slice]:
    top, left = grid.index(frame.bounds.west, frame.bounds.north)
    bottom, right = grid.index(frame.bounds.east, frame.bounds.south)
    return slice(max(0, top), max(0, bottom + 1)), slice(max(0, left), max(0, right + 1))
