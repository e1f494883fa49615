"""Single sight lines, exact: every crossing with the grid is looked at."""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.flags import jit

Floats32 = NDArray[np.float32]
Floats = NDArray[np.float64]

EARTH_M = 6_371_000.0


class SightScene(NamedTuple):
    """Ground and vegetation.

    ground_m: float32 (R, C), metres; NaN is not known and blocks nothing. top_m: float32 (R, C), canopy top above the
    ground of the cell's centre, taken level within a cell. extinction_per_m: float32 (R, C). Where top or extinction is
    NaN, nothing is known of the vegetation and it hides nothing. cell_m: side of a cell. curvature: share of the
    earth's curvature that counts, 1 - 1/7 with the usual refraction, 0 for a flat earth.
    """

    ground_m: Floats32
    top_m: Floats32
    extinction_per_m: Floats32
    cell_m: float
    curvature: float


@jit
def _ground_at(ground: Floats32, row: float, col: float) -> float:
    """Bilinear ground; -inf where a cell that counts is not known or off the grid."""
    r0, c0 = math.floor(row), math.floor(col)
    fr, fc = row - r0, col - c0
    total = 0.0
    for i in range(2):
        for j in range(2):
            share = (fr if i else 1.0 - fr) * (fc if j else 1.0 - fc)
            if share <= 1e-9:
                continue
            r, c = int(r0) + i, int(c0) + j
            if r < 0 or c < 0 or r >= ground.shape[0] or c >= ground.shape[1] or math.isnan(ground[r, c]):
                return -math.inf
            total += share * np.float64(ground[r, c])
    return total


@jit
def _is_blocked(scene: SightScene, ends: tuple[float, float, float, float], heights: tuple[float, float]) -> bool:
    """Whether the ground rises above the line at a crossing with a row or a column of cell centres."""
    row, col, row1, col1 = ends
    eye, target = heights
    span = math.hypot(row1 - row, col1 - col) * scene.cell_m
    bend = scene.curvature / (2.0 * EARTH_M)
    for family in range(2):
        a, b = (row, row1) if family == 0 else (col, col1)
        step = 1.0 if b > a else -1.0
        at = math.floor(a) + 1.0 if step > 0 else math.ceil(a) - 1.0
        while (at < b) if step > 0 else (at > b):
            u = (at - a) / (b - a)
            r, c = row + (row1 - row) * u, col + (col1 - col) * u
            far = span * u
            line = eye + (target - bend * span * span - eye) * u
            ground = _ground_at(scene.ground_m, at if family == 0 else r, c if family == 0 else at)
            if ground - bend * far * far > line:
                return True
            at += step
    return False


@jit
def _depth_through(scene: SightScene, ends: tuple[float, float, float, float], heights: tuple[float, float]) -> float:
    """Optical depth of the vegetation that the line passes under the top of, cell by cell."""
    row, col, row1, col1 = ends
    eye, target = heights
    dr, dc = row1 - row, col1 - col
    span = math.hypot(dr, dc) * scene.cell_m
    bend = scene.curvature / (2.0 * EARTH_M)
    target -= bend * span * span
    r, c = math.floor(row + 0.5), math.floor(col + 0.5)
    next_r = ((r + (0.5 if dr > 0 else -0.5)) - row) / dr if dr != 0.0 else math.inf
    next_c = ((c + (0.5 if dc > 0 else -0.5)) - col) / dc if dc != 0.0 else math.inf
    each_r, each_c = 1.0 / abs(dr) if dr != 0.0 else math.inf, 1.0 / abs(dc) if dc != 0.0 else math.inf
    u, depth = 0.0, 0.0
    rows, cols = scene.ground_m.shape
    while u < 1.0:
        leave = min(next_r, next_c, 1.0)
        if 0 <= r < rows and 0 <= c < cols:
            top, k = np.float64(scene.top_m[r, c]), np.float64(scene.extinction_per_m[r, c])
            ground = np.float64(scene.ground_m[r, c])
            if k > 0.0 and top > 0.0 and not math.isnan(ground):
                far = span * 0.5 * (u + leave)
                over = ground + top - bend * far * far
                low, high = eye + (target - eye) * u - over, eye + (target - eye) * leave - over
                share = 1.0 if low < 0.0 and high < 0.0 else 0.0
                if (low < 0.0) != (high < 0.0):
                    share = min(low, high) / (min(low, high) - max(low, high))
                depth += k * share * span * (leave - u)
        if next_r <= next_c:
            r += 1 if dr > 0 else -1
            next_r += each_r
        else:
            c += 1 if dc > 0 else -1
            next_c += each_c
        u = leave
    return depth


@jit
def sight_between(
    scene: SightScene,
    rows: Floats,
    cols: Floats,
    eyes_m: Floats,
    place: tuple[float, float],
    heights_m: Floats,
    out: Floats,
) -> None:
    """Share of sight left from each of N people to targets at one place.

    rows, cols: float64 (N,), where they stand, counted in cells from the centre of the first. eyes_m: (N,), above the
    ground there. place: row and column of the target. heights_m: (K,), of the targets above the ground.
    out: float64 (K, N), 0..1; NaN where the ground under the place or the person is not known. With N = 0 nothing is
    written.

    The ground blocks the line where it rises above it at a crossing with a row or column of cell centres, bilinear
    between them. Else the share is exp(-integral of extinction over the stretches where the line runs under the canopy
    top of the cell it is in).
    """
    base = _ground_at(scene.ground_m, place[0], place[1])
    for n in range(rows.shape[0]):
        under = _ground_at(scene.ground_m, rows[n], cols[n])
        ends = (rows[n], cols[n], place[0], place[1])
        for h in range(heights_m.shape[0]):
            if math.isinf(base) or math.isinf(under):
                out[h, n] = math.nan
                continue
            heights = (under + eyes_m[n], base + heights_m[h])
            if _is_blocked(scene, ends, heights):
                out[h, n] = 0.0
            else:
                out[h, n] = math.exp(-_depth_through(scene, ends, heights))
