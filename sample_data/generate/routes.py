"""Roads, ranch tracks and walking trails: least-cost lines over the ground, each joined to the last."""

from __future__ import annotations

from dataclasses import dataclass, field

import geopandas as gpd
import numpy as np
from scipy import ndimage
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra
from shapely.geometry import LineString, Point

from generate.frame import CELL_M, CRS, NORTH_M, WEST_M, Floats, Ints, burn
from generate.terrain import Terrain
from generate.water import Water

STEP_M = 20.0
# Target (column, row in 10 m cells), class, name, public, surface. The first line starts at ENTRY.
ENTRY = (0, 583)
WALKS = [
    ((372, 679), "road", "County Road 12", 1, "gravel"),
    ((345, 548), "road", "Headquarters lane", 0, "gravel"),
    ((255, 445), "track", "Ridge track", 0, "dirt"),
    ((120, 320), "track", "West Basin track", 0, "dirt"),
    ((265, 270), "track", "Long Hollow track", 0, "dirt"),
    ((270, 150), "track", "Prairie track", 0, "dirt"),
    ((150, 70), "track", "North fence track", 0, "dirt"),
    ((560, 445), "track", "South Hollow track", 0, "rock and dirt"),
    ((610, 345), "track", "Cedar Draws track", 0, "dirt"),
    ((660, 190), "track", "East Bench track", 0, "dirt"),
    ((505, 205), "track", "Upper Creek track", 0, "rock and dirt"),
    ((372, 372), "track", "Mill ford track", 0, "rock and dirt"),
    ((448, 135), "trail", "Creek trail", 0, "footpath"),
    ((595, 545), "trail", "Teasel trail", 0, "footpath"),
    ((420, 330), "trail", "Bluff trail", 0, "footpath"),
    ((455, 600), "trail", "Bell Branch trail", 0, "footpath"),
]
REACHES = [
    (0, 1),
    (1, 0),
    (1, 1),
    (1, -1),
    (1, 2),
    (2, 1),
    (1, -2),
    (2, -1),
    (1, 3),
    (3, 1),
    (1, -3),
    (3, -1),
]


@dataclass(kw_only=True)
class Network:
    """Lines drawn so far: the place of every step cell that a line has used."""

    shape: tuple[int, int]
    graph: coo_array
    place: dict[int, tuple[float, float]] = field(default_factory=dict)

    def centre(self, cell: int) -> tuple[float, float]:
        """East and north of a step cell's centre."""
        row, col = divmod(cell, self.shape[1])
        return WEST_M + (col + 0.5) * STEP_M, NORTH_M - (row + 0.5) * STEP_M


def _graph(terrain: Terrain, water: Water) -> tuple[coo_array, tuple[int, int]]:
    """Moves between 20 m cells and what they cost in metres of level going."""
    rows, cols = terrain.elevation_m.shape
    size = (rows // 2, cols // 2)
    height = terrain.elevation_m.reshape(size[0], 2, size[1], 2).mean(axis=(1, 3))
    side = terrain.slope.reshape(size[0], 2, size[1], 2).mean(axis=(1, 3))
    big = water.creeks[water.creeks["class"] == "perennial"].geometry
    ground = (
        1.0 + 1.5 * burn(list(water.creeks.geometry)) + 5.0 * burn(list(big)) + 40.0 * burn(list(water.ponds.geometry))
    )
    rough = ground.reshape(size[0], 2, size[1], 2).max(axis=(1, 3)) + (side / 0.22) ** 2
    number = np.arange(height.size).reshape(size)
    heads, tails, costs = [], [], []
    for down, right in REACHES:
        a = (slice(0, size[0] - down), slice(max(0, -right), size[1] - max(0, right)))
        b = (slice(down, size[0]), slice(max(0, right), size[1] + min(0, right)))
        length = STEP_M * np.hypot(down, right)
        grade = np.abs(height[b] - height[a]) / length
        cost = length * (0.5 * (rough[a] + rough[b]) + (grade / 0.075) ** 2)
        heads.append(number[a].ravel())
        tails.append(number[b].ravel())
        costs.append(cost.ravel())
    h, t, c = (np.concatenate(x) for x in (heads, tails, costs))
    graph = coo_array((np.r_[c, c], (np.r_[h, t], np.r_[t, h])), shape=(height.size, height.size))
    return graph, size


def _trace(network: Network, sources: Ints, target: int) -> list[int]:
    """Cells of the cheapest way from any source to the target."""
    _, before, _ = dijkstra(
        network.graph.tocsr(), indices=sources, return_predecessors=True, min_only=True, limit=np.inf
    )
    path = [target]
    while before[path[-1]] >= 0:
        path.append(int(before[path[-1]]))
    return path[::-1]


def _smooth(points: Floats) -> Floats:
    """Points relaxed toward their neighbours; the ends stay."""
    for _ in range(3):
        points[1:-1] = 0.25 * points[:-2] + 0.5 * points[1:-1] + 0.25 * points[2:]
    return np.round(points, 1)


def build(terrain: Terrain, water: Water) -> gpd.GeoDataFrame:
    """All ways, each starting on one drawn before."""
    graph, shape = _graph(terrain, water)
    network = Network(shape=shape, graph=graph)

    def cell(place: tuple[int, int]) -> int:
        return min(place[1] // 2, shape[0] - 1) * shape[1] + min(place[0] // 2, shape[1] - 1)

    rows = []
    for target, kind, name, public, surface in WALKS:
        sources = np.array(sorted(network.place) or [cell(ENTRY)])
        path = _trace(network, sources, cell(target))
        points = np.array([network.place.get(c, network.centre(c)) for c in path])
        points = _smooth(points)
        for c, point in zip(path, points, strict=True):
            network.place.setdefault(c, (float(point[0]), float(point[1])))
        line = LineString(points)
        rows.append({"name": name, "class": kind, "public": public, "surface": surface, "geometry": line})
    return gpd.GeoDataFrame(rows, crs=CRS)


def gates(tracks: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """The gate on the headquarters lane, just off the county road."""
    lane = tracks[tracks["name"] == "Headquarters lane"].geometry.iloc[0]
    point = Point(np.round(lane.interpolate(25.0).coords[0], 1))
    return gpd.GeoDataFrame(
        {
            "name": ["main gate"],
            "lock": ["combination from the manager"],
            "width_m": [4.3],
            "rule": ["leave as found"],
        },
        geometry=[point],
        crs=CRS,
    )


def closeness(ways: gpd.GeoDataFrame, land: list) -> Floats:
    """Chance, 0 to 1, that an operator stops at a cell: high near a way, none off the given land."""
    away = ndimage.distance_transform_edt(~burn(list(ways.geometry), all_touched=True)) * CELL_M
    return burn(land) * np.exp(-away / 250.0)
