"""Houses, the power line, and ground where nobody sets."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
from rasterio import features
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, shape
from shapely.ops import unary_union

from generate import noise
from generate.frame import CELL_M, CRS, GRID, NORTH_M, WEST_M, rng
from generate.land import Land
from generate.terrain import Terrain

POWER = [(430, 0), (530, 130), (719, 215)]
STAND = (655, 300, 330.0)  # column, row, radius in metres
HOMESTEAD = (212, 400)


def _at(col: float, row: float) -> tuple[float, float]:
    return WEST_M + col * CELL_M, NORTH_M - row * CELL_M


def dwellings(tracks: gpd.GeoDataFrame, terrain: Terrain) -> gpd.GeoDataFrame:
    """Five houses: the ranch house at the end of its lane and four along the county road."""
    lane = tracks[tracks["name"] == "Headquarters lane"].geometry.iloc[0]
    road = tracks[tracks["name"] == "County Road 12"].geometry.iloc[0]
    points = [Point(round(lane.coords[-1][0]) + 18, round(lane.coords[-1][1]) + 12)]
    for share, side in ((0.12, 1), (0.31, -1), (0.47, 1), (0.9, -1)):
        points.append(_beside(road, share, side, terrain))
    return gpd.GeoDataFrame(
        {
            "name": [f"house {n + 1}" for n in range(5)],
            "note": ["ranch house"] + ["neighbour"] * 4,
        },
        geometry=points,
        crs=CRS,
    )


def _beside(road: LineString, share: float, side: int, terrain: Terrain) -> Point:
    """The flattest of some places 40 to 90 m off the road."""
    choices = []
    for along in np.linspace(share - 0.02, share + 0.02, 9):
        here, next_ = (road.interpolate(s, normalized=True) for s in (along, along + 0.005))
        ahead = np.array([next_.x - here.x, next_.y - here.y])
        ahead /= np.hypot(*ahead)
        for off in (40, 60, 90):
            east, north = here.x - side * off * ahead[1], here.y + side * off * ahead[0]
            row, col = GRID.cells(east, north)
            choices.append((float(terrain.slope[row, col]), round(east), round(north)))
    _, east, north = min(choices)
    return Point(east, north)


def power_lines() -> gpd.GeoDataFrame:
    """One line across the north-east corner."""
    return gpd.GeoDataFrame(
        {
            "name": ["line 1"],
            "voltage_kv": [69.0],
            "source": ["walked by the operator, 2026-08-02, not complete"],
        },
        geometry=[LineString([_at(c, r) for c, r in POWER])],
        crs=CRS,
    )


def _ragged_circle(col: float, row: float, radius_m: float, stream: str) -> Polygon:
    """A hand-drawn round patch."""
    wobble = 1 + 0.12 * noise.fractal((1, 48), [6], rng(stream))[0]
    turn = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    east, north = _at(col, row)
    ring = np.column_stack([east + radius_m * wobble * np.cos(turn), north + radius_m * wobble * np.sin(turn)])
    return Polygon(np.round(ring, 0))


def _pasture(land: Land, parcels: gpd.GeoDataFrame) -> Polygon:
    """The open ground of the West Basin parcel, as fenced."""
    parcel = parcels[parcels["parcel"] == "West Basin"].geometry.iloc[0]
    mask = land.open_ground.astype(np.uint8)
    parts = [shape(s) for s, v in features.shapes(mask, mask=land.open_ground, transform=GRID.transform) if v]
    field = unary_union(parts).intersection(parcel.buffer(-8)).buffer(60).buffer(-75)
    if isinstance(field, MultiPolygon):
        field = max(field.geoms, key=lambda g: g.area)
    return Polygon(field.exterior).simplify(15.0)


def no_go(land: Land, parcels: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Ground to stay off, each with a reason and ISO dates; blank dates mean always."""
    east, north = _at(*HOMESTEAD)
    yard = Polygon([(east, north), (east + 85, north + 8), (east + 80, north - 58), (east - 5, north - 64)])
    return gpd.GeoDataFrame(
        {
            "reason": ["cattle with calves", "hunting lease stand", "old homestead and cemetery"],
            "from": ["2026-10-01", "2026-11-07", ""],
            "until": ["2026-12-15", "2026-12-06", ""],
        },
        geometry=[_pasture(land, parcels), _ragged_circle(*STAND, "stand"), yard],
        crs=CRS,
    )
