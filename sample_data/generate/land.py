"""What covers the ground: timber, pasture, glade; and canopy cover outside the measured blocks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from generate import noise
from generate.frame import GRID, Bools, Floats, burn, rng
from generate.terrain import Terrain
from generate.water import Water

NODATA = 255
GRAIN_PCT = 19.0
CLOUD = (0.245, 0.62, 11)  # place of the nodata hole as shares of rows and columns, radius in cells


@dataclass(frozen=True, kw_only=True)
class Land:
    """Masks and cover in percent, each (rows, cols)."""

    open_ground: Bools
    glade: Bools
    cover_pct: Floats


def _drop_small(mask: Bools, cells: int) -> Bools:
    """The mask without patches smaller than `cells`."""
    label, _ = ndimage.label(mask)
    size = np.bincount(label.ravel())
    return mask & (size[label] >= cells)


def _open_ground(terrain: Terrain, water: Water, random: np.random.Generator) -> Bools:
    """Pasture: flat bottoms and flat ridge tops, less a strip of trees along the creeks."""
    gentle = ndimage.gaussian_filter(terrain.slope, 4)
    patchy = noise.fractal(GRID.shape, [45, 18, 6], random)
    bottom = np.clip(1 - terrain.above_creek_m / 12, 0, 1)
    top = np.clip(terrain.ridge / 25, 0, 1)
    score = 1.6 - gentle / 0.045 + 0.55 * patchy + 0.5 * bottom + 0.45 * top
    strip = 20 + 14 * noise.fractal(GRID.shape, [12, 4], random)
    score[water.distance_m < strip] = -9
    mask = ndimage.median_filter(score > 0.25, 7)
    return ~_drop_small(~_drop_small(mask, 250), 120)


def _glade(terrain: Terrain, random: np.random.Generator) -> Bools:
    """Thin stony openings on steep, sunny shoulders."""
    fall_north = ndimage.gaussian_filter(np.gradient(terrain.elevation_m, axis=0), 3)
    sunny = -fall_north / 10.0  # positive where the ground falls to the south
    score = sunny * 6 + terrain.ridge / 60 + 0.35 * noise.fractal(GRID.shape, [20, 8], random)
    return _drop_small(ndimage.median_filter((score > 1.25) & (terrain.ridge > 4), 5), 60)


def build(terrain: Terrain, water: Water) -> Land:
    """Cover of the whole ranch in percent, with irregular edges and single trees in the open."""
    random = rng("land")
    open_ground = _open_ground(terrain, water, random)
    glade = _glade(terrain, random) & ~open_ground
    texture = noise.fractal(GRID.shape, [14, 4, 1.5], random)
    timber = 74 + 10 * texture
    timber -= 34 * (noise.fractal(GRID.shape, [9, 4], random) > 1.9)  # blowdowns and old cuts
    timber[glade] = 24 + 12 * texture[glade]
    ragged = ndimage.gaussian_filter(open_ground.astype(float), 1.6) + 0.16 * texture
    share = np.clip((0.72 - ragged) / 0.44, 0, 1)
    lone = np.where(noise.fractal(GRID.shape, [2.0], random) > 2.15, 45.0, 1.5)
    cover = share * timber + (1 - share) * lone
    cover[burn(list(water.ponds.geometry))] = 0
    return Land(open_ground=open_ground, glade=glade, cover_pct=np.clip(cover, 0, 98))


def cloud() -> Bools:
    """The ragged hole where a cloud hid the ground."""
    row, col, radius = CLOUD
    rows, cols = np.ogrid[: GRID.rows, : GRID.cols]
    away = np.hypot(rows - row * GRID.rows, (cols - col * GRID.cols) * 0.7)
    return away < radius + 2.5 * noise.fractal(GRID.shape, [4], rng("cloud"))


def grain(cover_pct: Floats) -> Floats:
    """Cell-to-cell roughness of cover in percent, as single crowns and gaps make it; none in open ground."""
    fine = noise.fractal(GRID.shape, [0.6], rng("grain"))
    return GRAIN_PCT * fine * np.clip(cover_pct / 60, 0, 1) * (cover_pct > 2)
