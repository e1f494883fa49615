"""Creeks from the drainage and ponds dammed in draws."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
from scipy import ndimage
from shapely.geometry import LineString, MultiPolygon, Polygon, box
from shapely.ops import unary_union

from generate import flow
from generate.frame import CELL_M, CRS, GRID, Bools, Floats, Ints, burn
from generate.terrain import Terrain

HEAD_HA = 18.0  # a creek starts where this much ground drains together
PERENNIAL_HA = 420.0
# In order of the ground drained.
NAMES = (
    "Sorrel Creek",
    "Dunnock Creek",
    "Teasel Creek",
    "Whetstone Creek",
    "Long Hollow Branch",
    "Stillhouse Branch",
    "Cedar Branch",
    "Bell Branch",
)
DAM_M = 3.2


@dataclass(frozen=True, kw_only=True)
class Water:
    """Creek lines, pond polygons, and the straight distance to either on the ranch grid."""

    creeks: gpd.GeoDataFrame
    ponds: gpd.GeoDataFrame
    hollow: LineString  # Dunnock Creek from its head, and on down to the grid's edge
    distance_m: Floats


def _paths(terrain: Terrain) -> list[Ints]:
    """Creeks from mouth to head, largest first; each stops where it meets a larger one."""
    area = terrain.area_ha.ravel()
    receiver = terrain.drainage.receiver
    creek = np.flatnonzero(area >= HEAD_HA)
    above: dict[int, list[int]] = {}
    for cell in creek:
        if receiver[cell] != cell:
            above.setdefault(int(receiver[cell]), []).append(int(cell))
    paths, mouths = [], [(int(c), int(c)) for c in creek if receiver[c] == c]
    while mouths:
        meets, cell = mouths.pop()
        path = [meets] if meets != cell else []
        while True:
            path.append(cell)
            feeders = sorted(above.get(cell, []), key=lambda c: -area[c])
            if not feeders:
                break
            mouths.extend((cell, other) for other in feeders[1:])
            cell = feeders[0]
        paths.append(np.array(path))
    paths = [p for p in paths if len(p) >= 12]
    return sorted(paths, key=lambda p: -area[p[min(1, len(p) - 1)]])


def _line(cells: Ints) -> LineString:
    """A path of cells as a line from head to mouth, lightly smoothed."""
    east, north = GRID.centres()
    points = np.column_stack([east.ravel()[cells], north.ravel()[cells]])[::-1]
    middle = 0.25 * points[:-2] + 0.5 * points[1:-1] + 0.25 * points[2:]
    return LineString(np.round(np.vstack([points[:1], middle, points[-1:]]), 1))


def creeks(terrain: Terrain) -> tuple[gpd.GeoDataFrame, LineString]:
    """Creek lines that run downhill, with name (may be empty) and class; and the line of the hollow."""
    area = terrain.area_ha.ravel()
    paths = _paths(terrain)
    rows = []
    for number, path in enumerate(paths):
        name = NAMES[number] if number < len(NAMES) else ""
        steady = path[area[path] >= PERENNIAL_HA]
        for kind, part in (("perennial", steady), ("intermittent", path[max(len(steady) - 1, 0) :])):
            if len(part) >= 3:
                rows.append({"name": name, "class": kind, "geometry": _line(part)})
    largest, hollow = paths[0], paths[NAMES.index("Dunnock Creek")]
    below = largest[: int(np.flatnonzero(largest == hollow[0])[0])]
    return gpd.GeoDataFrame(rows, crs=CRS), _line(np.concatenate([below, hollow]))


def _pond(terrain: Terrain, dam: int) -> Polygon | None:
    """Ground that would lie under water behind a dam `DAM_M` high at one cell."""
    elevation = terrain.elevation_m
    fixed = np.zeros(elevation.size, dtype=bool)
    fixed[dam] = True
    basin = flow.carry_up(terrain.drainage, fixed.astype(float), fixed).reshape(elevation.shape) > 0
    under = basin & (elevation <= elevation.ravel()[dam] + DAM_M)
    label, _ = ndimage.label(under)
    row, col = divmod(dam, elevation.shape[1])
    cells = np.argwhere(label == label[row, col])
    if not 18 <= len(cells) <= 110:
        return None
    squares = [
        box(
            GRID.west_m + c * CELL_M,
            GRID.north_m - (r + 1) * CELL_M,
            GRID.west_m + (c + 1) * CELL_M,
            GRID.north_m - r * CELL_M,
        )
        for r, c in cells
    ]
    shape = unary_union(squares).buffer(9).buffer(-14).buffer(6)
    if isinstance(shape, MultiPolygon):
        shape = max(shape.geoms, key=lambda g: g.area)
    return Polygon(shape.exterior).simplify(1.0)


def ponds(terrain: Terrain, count: int = 6, apart_m: float = 900.0) -> gpd.GeoDataFrame:
    """Ponds in gentle draws, well apart."""
    area, inner = terrain.area_ha, np.zeros(GRID.shape, dtype=bool)
    inner[60:-60, 60:-60] = True
    gentle = ndimage.uniform_filter(terrain.slope, 7)
    fit = inner & (area > 7) & (area < 40)
    order = np.argsort(np.where(fit, gentle, np.inf).ravel(), kind="stable")[: int(fit.sum())]
    found: list[Polygon] = []
    for dam in order:
        row, col = divmod(int(dam), GRID.cols)
        east, north = GRID.west_m + col * CELL_M, GRID.north_m - row * CELL_M
        near = any(np.hypot(p.centroid.x - east, p.centroid.y - north) < apart_m for p in found)
        shape = None if near else _pond(terrain, int(dam))
        if shape is not None:
            found.append(shape)
        if len(found) == count:
            break
    names = [f"pond {n + 1}" for n in range(len(found))]
    return gpd.GeoDataFrame(
        {"name": names, "area_ha": [round(p.area / 1e4, 2) for p in found]}, geometry=found, crs=CRS
    )


def build(terrain: Terrain) -> Water:
    """All water of the ranch."""
    lines, hollow = creeks(terrain)
    pools = ponds(terrain)
    wet: Bools = burn([*lines.geometry, *pools.geometry], all_touched=True)
    return Water(creeks=lines, ponds=pools, hollow=hollow, distance_m=ndimage.distance_transform_edt(~wet) * CELL_M)
