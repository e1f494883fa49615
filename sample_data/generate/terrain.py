"""Elevation of the ranch: a worn plateau cut by creeks, 10 m cells.

Fractal noise on a tilted plateau, then stream-power erosion at four cell sizes from coarse to fine,
then flat floors along the larger creeks. The ground drains without hollows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from generate import flow, noise
from generate.frame import CELL_M, COLS, GRID, ROWS, Bools, Floats, rng

MARGIN = 100  # cells simulated round the grid and then cut off
RELIEF_M = 120.0
LOWEST_M = 204.0
AREA_EXPONENT = 0.42
WARPS = {
    4: ((16.0, 3.5),),
    2: ((22.0, 7.0), (9.0, 3.0)),
    1: ((9.0, 2.2),),
}  # smoothing and shift, in cells of the pass
PASSES = ((8, 90), (4, 45), (2, 24), (1, 12))  # cell size in cells of 10 m, erosion steps


@dataclass(frozen=True, kw_only=True)
class Terrain:
    """Elevation and what follows from it, each (rows, cols) on the ranch grid."""

    elevation_m: Floats
    slope: Floats  # rise over run
    area_ha: Floats  # contributing area, counted from beyond the grid
    above_creek_m: Floats  # height above the creek that the cell drains to
    ridge: Floats  # elevation less the mean within 400 m, metres
    drainage: flow.Drainage


def _outlets(shape: tuple[int, int]) -> Bools:
    """Where water leaves: the south, the east and the north-west."""
    rows, cols = shape
    mask = np.zeros(shape, dtype=bool)
    mask[-1, int(cols * 0.57)] = True
    mask[int(rows * 0.20), -1] = True
    mask[int(rows * 0.43), 0] = True
    return mask


def _simulate() -> Floats:
    """Elevation (any unit) on the wide grid."""
    shape = (ROWS + 2 * MARGIN, COLS + 2 * MARGIN)
    random = rng("terrain")
    height = np.zeros((shape[0] // 8, shape[1] // 8))
    for factor, steps in PASSES:
        size = (shape[0] // factor, shape[1] // factor)
        rough = noise.fractal(size, [40 / factor + 1, 16 / factor + 1, 2], random)
        height = noise.resample(height, size) + rough * (6.0 if factor == 8 else 0.5 * factor**0.5)
        if factor in WARPS:
            height = noise.warp(height, WARPS[factor], random)
        height = _wear_down(height, factor, steps, random)
    return height


def _wear_down(height: Floats, factor: int, steps: int, random: np.random.Generator) -> Floats:
    """Lift and erode the ground `steps` times at a cell size of `factor` cells of 10 m."""
    size = height.shape
    outlets = _outlets(size)
    height[outlets] = 0.0
    height = flow.fill(height, outlets, 1e-3)
    hard = np.exp(0.35 * noise.fractal(size, [90 / factor + 1, 30 / factor + 1], random)).ravel()
    for _ in range(steps):
        height = height + np.where(outlets, 0.0, 0.55 * factor / 8)
        tree = flow.drain(height, outlets)
        area = flow.gather(tree, np.ones(height.size)) * factor**2
        height = flow.erode(height, tree, 0.01375 * area**AREA_EXPONENT / hard)
        creep = np.clip(1.0 - area.reshape(size) / 60.0, 0.0, 1.0) * 0.25
        height += creep * (ndimage.uniform_filter(height, 3, mode="nearest") - height)
    return flow.fill(height, outlets, 1e-3)


def _shape_valleys(height_m: Floats, outlets: Bools) -> Floats:
    """Give larger creeks a floor: lower the foot of the slopes so that they meet the creek gently."""
    tree = flow.drain(height_m, outlets)
    area = flow.gather(tree, np.ones(height_m.size))
    creek = area > 250
    flat = height_m.ravel()
    base = flow.carry_up(tree, np.where(creek, flat, flat), creek)
    floor = flow.carry_up(tree, np.clip(0.9 * np.log2(area / 250 + 1), 0.0, 7.0), creek)
    width = ndimage.gaussian_filter(floor.reshape(height_m.shape), 6).ravel() + 1e-6
    rise = np.maximum(flat - base, 0.0)
    return (base + rise - width * (1.0 - np.exp(-rise / width))).reshape(height_m.shape)


def build() -> Terrain:
    """The elevation model, rounded to 0.1 m, and its derived surfaces."""
    height = _simulate()
    outlets = _outlets(height.shape)
    inner = (slice(MARGIN, -MARGIN), slice(MARGIN, -MARGIN))
    low, high = np.percentile(height[inner], [0.0, 99.7])
    height = (height - low) * (RELIEF_M / (high - low))
    soft = RELIEF_M * 0.86
    height = np.where(height > soft, soft + (height - soft) * 0.62, height)
    height = flow.fill(_shape_valleys(height, outlets), outlets, 2e-3)
    wide = flow.drain(height, outlets)
    area = flow.gather(wide, np.full(height.size, CELL_M**2 / 1e4)).reshape(height.shape)
    elevation = np.round(height[inner] - height[inner].min() + LOWEST_M, 1)
    return derive(height[inner], elevation, area[inner])


def derive(smooth_m: Floats, elevation_m: Floats, area_ha: Floats) -> Terrain:
    """Slope (Horn 1981), height above the creek and ridge position."""
    slope = horn_slope(elevation_m)
    tree = flow.drain(smooth_m, flow.edge(smooth_m.shape))
    creek = (area_ha > 6.0).ravel() | flow.edge(smooth_m.shape).ravel()
    flat = smooth_m.ravel()
    above = flat - flow.carry_up(tree, flat, creek)
    ridge = elevation_m - ndimage.uniform_filter(elevation_m, 81, mode="nearest")
    return Terrain(
        elevation_m=elevation_m,
        slope=slope,
        area_ha=area_ha,
        above_creek_m=np.maximum(above.reshape(GRID.shape), 0.0),
        ridge=ridge,
        drainage=tree,
    )


def horn_slope(elevation_m: Floats) -> Floats:
    """Slope as rise over run by Horn's third-order finite difference (1981)."""
    east = ndimage.sobel(elevation_m, axis=1, mode="nearest") / (8.0 * CELL_M)
    north = ndimage.sobel(elevation_m, axis=0, mode="nearest") / (8.0 * CELL_M)
    return np.hypot(east, north)
