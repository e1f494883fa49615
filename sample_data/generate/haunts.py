"""Where the invented animals live: secluded draws in timber near water, and field edges they once used."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
from scipy import ndimage

from generate import places
from generate.frame import CELL_M, GRID, Bools, Floats, burn
from generate.land import Land
from generate.terrain import Terrain
from generate.trees import BLOCKS, Block
from generate.water import Water


@dataclass(frozen=True, kw_only=True)
class Haunts:
    """Cluster centres, each (east_m, north_m), and the seclusion score behind them (rows, cols), 0 to 1."""

    fresh: dict[str, tuple[float, float]]
    stale: dict[str, tuple[float, float]]
    score: Floats


def seclusion(terrain: Terrain, water: Water, land: Land, ways: gpd.GeoDataFrame, houses: gpd.GeoDataFrame) -> Floats:
    """How well a cell hides a group by day: product of five shares 0 to 1 (common practice, no source)."""
    cover = ndimage.gaussian_filter(land.cover_pct, 4)
    vehicle = list(ways[ways["class"] != "trail"].geometry)
    public = list(ways[ways["public"] == 1].geometry) + list(houses.geometry)

    def ramp(value: Floats, zero: float, one: float) -> Floats:
        return np.clip((value - zero) / (one - zero), 0, 1)

    return (
        ramp(cover, 45, 72)
        * ramp(water.distance_m, 350, 120)
        * (0.3 + 0.7 * ramp(_away(vehicle), 80, 350))
        * ramp(_away(public), 300, 1000)
        * ramp(ndimage.gaussian_filter(terrain.slope, 2), 0.20, 0.08)
    )


def _away(shapes: list) -> Floats:
    """Distance in metres from the nearest of some shapes."""
    return ndimage.distance_transform_edt(~burn(shapes, all_touched=True)) * CELL_M


def _best(score: Floats, mask: Bools) -> tuple[float, float]:
    """Centre of the best cell inside a mask; the first in reading order when there are several."""
    row, col = divmod(int(np.argmax(np.where(mask, score, -np.inf))), GRID.cols)
    east, north = GRID.centres()
    return float(east[row, col]), float(north[row, col])


def block_mask(block: Block, inset: int) -> Bools:
    """The cells of a measured block, less a rim."""
    mask = np.zeros(GRID.shape, dtype=bool)
    mask[block.row + inset : block.row + block.rows - inset, block.col + inset : block.col + block.cols - inset] = True
    return mask


def build(
    terrain: Terrain,
    water: Water,
    land: Land,
    parcels: gpd.GeoDataFrame,
    ways: gpd.GeoDataFrame,
    houses: gpd.GeoDataFrame,
) -> Haunts:
    """Fresh places in both blocks, in Cedar Draws, on the refused edge and by the power line; three stale."""
    score = ndimage.gaussian_filter(seclusion(terrain, water, land, ways, houses), 4)
    of = dict(zip(parcels["parcel"], parcels.geometry, strict=True))
    granted = parcels[parcels["access"] == "granted"].geometry
    line = places.power_lines().geometry.iloc[0]
    rim = burn([of["Bell Glade"].buffer(60)]) & ~burn([of["Bell Glade"].buffer(-150)])
    east, north = GRID.centres()
    in_blocks = block_mask(BLOCKS[0], -30) | block_mask(BLOCKS[1], -30)
    fresh = {
        "upper creek": _best(score, block_mask(BLOCKS[0], 25) & burn([of["Upper Creek"].buffer(-60)])),
        "south hollow": _best(score, block_mask(BLOCKS[1], 25)),
        "cedar draws": _best(score, burn([of["Cedar Draws"].buffer(-120)]) & ~in_blocks & ~rim),
        "refused edge": _best(score, rim & burn([of["Bell Glade"]])),
        "power line": _best(score, burn([line.buffer(140)]) & burn(list(granted.buffer(-40)))),
    }
    edge = land.open_ground & ndimage.binary_dilation(~land.open_ground, iterations=3)
    stale = {
        "basin edge": _best(
            water.distance_m, edge & burn([of["Prairie Basin"].buffer(-200)]) & (east < GRID.west_m + 2400)
        ),
        "ridge field": _best(terrain.ridge, edge & burn([of["Whetstone Ridge"].buffer(-200)])),
        "bench corner": _best(
            -np.hypot(east - GRID.west_m - 6650, north - GRID.north_m + 2600), edge & burn([of["East Bench"]])
        ),
    }
    return Haunts(fresh=fresh, stale=stale, score=score)
