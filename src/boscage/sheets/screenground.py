"""The ground of the map on a screen: shaded relief under classes of score or canopy, and contour lines.

A picture of a piece meets that of the piece beside it: nothing depends on where a piece ends, as long as the fields
reach `MARGIN_CELLS` cells beyond it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import contourpy
import numpy as np
import shapely
from numpy.typing import NDArray

from boscage.sheets.frame import MapFrame
from boscage.sheets.relief import Contours, shade, smooth
from boscage.sheets.screencolours import ScreenColours
from boscage.sheets.shapes import clip, draw_line, line_path
from boscage.sheets.style import CANOPY_DOTS, COVER_STEPS_PERCENT, HEIGHT_STEPS_M, LAYER_ORDER, LINES
from boscage.values import Grid

MARGIN_CELLS = 8
_SOFT_PX, _SOFT_COVER_M, _RELIEF_PX, _LEAST_CELLS = 1.2, 5.0, 1.2, 0.8
_LEVELS = 16
_GAP_EVERY = 14
_HATCH_EVERY, _HATCH_WIDE = 21.333, 0.8
STOPPED_SHARE = 0.4
"""Share of what lies under a pixel that must be ruled out for it to be hatched."""
Floats32 = NDArray[np.float32]


@dataclass(frozen=True, kw_only=True)
class Field:
    """Values on a grid; NaN for no data."""

    grid: Grid
    values: Floats32


@dataclass(frozen=True, kw_only=True)
class ScreenGround:
    """What the ground of a picture is painted from; None for what is not shown or not there.

    Attributes:
        score: Of 100.
        stopped: Share of a cell that is ruled out, where that is painted and not drawn as areas.
        canopy: Per cent, or metres where `is_height`.
        elevation: Metres.
        is_shaded: Whether the relief is shaded, or the elevation there for contours alone.
        contour_m: Height between contours, or None without them.
        origin: East and north that patterns are counted from.
    """

    score: Field | None = None
    stopped: Field | None = None
    canopy: Field | None = None
    is_height: bool = False
    elevation: Field | None = None
    is_shaded: bool = True
    contour_m: float | None = None
    origin: tuple[float, float] = (0.0, 0.0)


def paint_ground(
    ground: ScreenGround, frame: MapFrame, shape: tuple[int, int], colours: ScreenColours, scale: float = 1.0
) -> NDArray[np.uint8]:
    """The image of a frame; (rows, cols, 3), row 0 in the north.

    Args:
        ground: What it is painted from.
        frame: The ground that it shows.
        shape: Rows and columns.
        colours: The palette.
        scale: Device pixels per pixel, for the width of hatches.
    """
    metres_per_px = frame.bounds.width / shape[1]
    classes = _canopy_classes(ground, frame, shape, metres_per_px)
    tints = [*(colours.canopy if ground.score is None else colours.canopy_grey), *colours.score]
    shown = classes
    if ground.score is not None:
        score = _nearest(ground.score, frame, shape)
        ranked = np.searchsorted(np.array(colours.score_steps, np.float32), score, side="right")
        shown = np.where(np.isnan(score), classes, ranked + len(colours.canopy))
    light = _light_levels(ground, frame, shape, metres_per_px)
    factors = np.linspace(*colours.shade, _LEVELS, dtype=np.float32)
    palette = (np.array(tints, np.float32)[:, None, :] * factors[None, :, None]).astype(np.uint8)
    image = palette[shown, light]
    phase = _phase(ground, frame, metres_per_px)
    if ground.canopy is not None:
        _print_patterns(image, classes, phase, colours)
    if ground.stopped is not None:
        with np.errstate(invalid="ignore"):
            _hatch(image, _nearest(ground.stopped, frame, shape) >= STOPPED_SHARE, phase, colours, scale)
    return image


def _phase(ground: ScreenGround, frame: MapFrame, metres_per_px: float) -> tuple[int, int]:
    """Row and column of the first pixel, counted from the origin."""
    west, north = ground.origin
    return round((north - frame.bounds.north) / metres_per_px), round((frame.bounds.west - west) / metres_per_px)


def _canopy_classes(
    ground: ScreenGround, frame: MapFrame, shape: tuple[int, int], metres_per_px: float
) -> NDArray[np.intp]:
    unknown = len(CANOPY_DOTS)
    if ground.canopy is None:
        return np.full(shape, unknown, dtype=np.intp)
    cell = ground.canopy.grid.cell_m
    soft = _SOFT_PX * metres_per_px / cell
    if not ground.is_height:
        soft = max(soft, _SOFT_COVER_M / cell)
    values = _between(Field(grid=ground.canopy.grid, values=_softened(ground.canopy.values, soft)), frame, shape)
    steps = HEIGHT_STEPS_M if ground.is_height else COVER_STEPS_PERCENT
    classes = np.searchsorted(np.array(steps, np.float32), values, side="right")
    return np.where(np.isnan(values), unknown, classes)


def _softened(values: Floats32, cells: float) -> Floats32:
    """A Gaussian mean, where it changes anything."""
    cells = min(cells, MARGIN_CELLS / 4.0)
    return smooth(values, cells) if cells > 0.3 else values


def _light_levels(
    ground: ScreenGround, frame: MapFrame, shape: tuple[int, int], metres_per_px: float
) -> NDArray[np.intp]:
    if ground.elevation is None or not ground.is_shaded or min(ground.elevation.values.shape) < 2:
        return np.full(shape, _LEVELS - 1, dtype=np.intp)
    grid = ground.elevation.grid
    softened = _softened(ground.elevation.values, max(_LEAST_CELLS, _RELIEF_PX * metres_per_px / grid.cell_m))
    light = _between(Field(grid=grid, values=shade(softened, grid.cell_m)), frame, shape)
    scaled = np.clip(0.72 + (light - math.sqrt(0.5)) * 0.9, 0.0, 1.0) * (_LEVELS - 1)
    return np.rint(np.nan_to_num(scaled, nan=_LEVELS - 1.0)).astype(np.intp)


def _pixel_cells(field: Field, frame: MapFrame, shape: tuple[int, int]) -> tuple[NDArray, NDArray]:
    """Row and column, as real numbers from the middle of the first cell, of the middles of the frame's pixels."""
    b, grid = frame.bounds, field.grid
    x = b.west + (np.arange(shape[1]) + 0.5) * b.width / shape[1]
    y = b.north - (np.arange(shape[0]) + 0.5) * b.height / shape[0]
    return (grid.north - y) / grid.cell_m - 0.5, (x - grid.west) / grid.cell_m - 0.5


def _nearest(field: Field, frame: MapFrame, shape: tuple[int, int]) -> Floats32:
    """Values of the cells under the middles of the pixels; NaN off the grid."""
    rows, cols = (np.floor(v + 0.5 + 1e-6).astype(np.int64) for v in _pixel_cells(field, frame, shape))
    high, wide = field.values.shape
    if 0 in (high, wide):
        return np.full(shape, np.nan, np.float32)
    out = field.values[np.clip(rows, 0, high - 1)[:, None], np.clip(cols, 0, wide - 1)[None, :]].astype(np.float32)
    out[(rows < 0) | (rows >= high)] = np.nan
    out[:, (cols < 0) | (cols >= wide)] = np.nan
    return out


def _between(field: Field, frame: MapFrame, shape: tuple[int, int]) -> Floats32:
    """Values at the middles of the pixels, linear between cells; NaN off the grid and beside no data."""
    high, wide = field.values.shape
    if 0 in (high, wide):
        return np.full(shape, np.nan, np.float32)
    rows, cols = _pixel_cells(field, frame, shape)
    r, c = np.clip(rows, 0, high - 1), np.clip(cols, 0, wide - 1)
    r0, c0 = np.minimum(r.astype(np.int64), max(high - 2, 0)), np.minimum(c.astype(np.int64), max(wide - 2, 0))
    s, t = (r - r0).astype(np.float32)[:, None], (c - c0).astype(np.float32)
    r1, c1 = np.minimum(r0 + 1, high - 1), np.minimum(c0 + 1, wide - 1)
    lines = field.values[r0] * (np.float32(1.0) - s) + field.values[r1] * s
    out = lines[:, c0] * (np.float32(1.0) - t) + lines[:, c1] * t
    out[(rows < -0.5) | (rows > high - 0.5)] = np.nan
    out[:, (cols < -0.5) | (cols > wide - 0.5)] = np.nan
    return out.astype(np.float32, copy=False)


def _print_patterns(
    image: NDArray[np.uint8], classes: NDArray[np.intp], phase: tuple[int, int], colours: ScreenColours
) -> None:
    """Dots over the denser canopy, thin diagonals where the canopy is unknown; counted from the map's origin."""
    row = phase[0] + np.arange(classes.shape[0])[:, None]
    col = phase[1] + np.arange(classes.shape[1])[None, :]
    for step, spacing in enumerate(CANOPY_DOTS):
        if spacing:
            shifted = (col + (row // spacing % 2) * (spacing // 2)) % spacing
            image[(classes == step) & (row % spacing == 0) & (shifted == 0)] = colours.dots
    image[(classes == len(CANOPY_DOTS)) & ((row + col) % _GAP_EVERY == 0)] = colours.gaps


def _hatch(
    image: NDArray[np.uint8], mask: NDArray[np.bool_], phase: tuple[int, int], colours: ScreenColours, scale: float
) -> None:
    """Slanting lines over a mask, as the sheets hatch what is ruled out; counted from the map's origin."""
    every, wide = max(2, round(_HATCH_EVERY * scale)), max(1, round(_HATCH_WIDE * scale))
    row, col = phase[0] + np.arange(mask.shape[0])[:, None], phase[1] + np.arange(mask.shape[1])[None, :]
    image[mask & ((row + col) % every < wide)] = colours.hatch


def trace_lines(ground: ScreenGround, frame: MapFrame) -> Contours | None:
    """Contour lines in and round a frame at the ground's own interval, or None without any."""
    field, step = ground.elevation, ground.contour_m
    if field is None or step is None or min(field.values.shape) < 2 or not np.isfinite(field.values).any():
        return None
    grid = field.grid
    metres_per_px = frame.metres_per_mm / 5.0
    z = _softened(field.values, max(_LEAST_CELLS, metres_per_px / grid.cell_m))
    low, high = float(np.nanmin(z)), float(np.nanmax(z))
    x = grid.west + (np.arange(grid.cols) + 0.5) * grid.cell_m
    y = grid.north - (np.arange(grid.rows) + 0.5) * grid.cell_m
    tracer = contourpy.contour_generator(x, y, np.ma.masked_invalid(z))
    steps = range(math.ceil(low / step), math.floor(high / step) + 1)
    lines: dict[float, list[NDArray[np.float64]]] = {k * step: list(tracer.lines(k * step)) for k in steps}
    return Contours(interval_m=step, lines=lines) if lines else None


def draw_lines(axes: object, contours: Contours, frame: MapFrame) -> None:
    """Draw contour lines, every fifth one heavy."""
    for heavy, look in ((False, LINES["contour"]), (True, LINES["contour_index"])):
        parts = [a for h, held in contours.lines.items() if contours.is_index(h) == heavy for a in held if len(a) > 1]
        path = line_path(clip([shapely.LineString(a) for a in parts], frame))
        draw_line(axes, path, look, LAYER_ORDER["contour"])  # type: ignore[arg-type]
