"""Soil map from the lie of the land, and cone-penetrometer readings that agree with it.

Values are plausible for their position, invented, and within the classes of the USDA Soil Survey Manual.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from rasterio import features
from scipy import ndimage
from shapely.geometry import shape

from generate import flow, noise
from generate.frame import CRS, EAST_M, GRID, NORTH_M, PLAN_DATE, SOUTH_M, WEST_M, Floats, Ints, lonlat, rng
from generate.land import Land
from generate.terrain import Terrain


@dataclass(frozen=True, kw_only=True)
class Unit:
    """One map unit. Shares in percent of the fine earth by mass (rock by volume); depth to restriction, and to wet soil
    in the wettest month."""

    mapunit: str
    name: str
    texture: str
    sand_pct: float
    clay_pct: float
    organic_pct: float
    bulk_density: float
    rock_pct: float
    depth_cm: float
    flood_class: str
    resistance_mpa: float
    water_cm: float


def _unit(mapunit: str, name: str, texture: str, flood: str, *numbers: float) -> Unit:
    keys = (
        "sand_pct", "clay_pct", "organic_pct", "bulk_density", "rock_pct", "depth_cm", "resistance_mpa", "water_cm",
    )  # fmt: skip
    return Unit(
        mapunit=mapunit,
        name=name,
        texture=texture,
        flood_class=flood,
        **dict(zip(keys, numbers, strict=True)),
    )


UNITS = (
    _unit("DuA", "Dunnock loam, creek bottom", "loam", "frequent", 42, 16, 2.6, 1.35, 4, 200, 0.9, 45),
    _unit("SoA", "Sorrel silt loam, low terrace", "silt loam", "occasional", 20, 18, 2.2, 1.38, 6, 180, 1.1, 90),
    _unit("TeC", "Teasel silt loam, footslope", "silt loam", "rare", 18, 22, 1.8, 1.42, 12, 130, 1.4, 190),
    _unit("WhB", "Whetstone silt loam, upland flat", "silt loam", "none", 16, 24, 1.6, 1.45, 8, 95, 1.7, 200),
    _unit(
        "LoE",
        "Long Hollow gravelly silt loam, sideslope",
        "silt loam",
        "none",
        28,
        20,
        1.5,
        1.45,
        32,
        75,
        2.2,
        200,
    ),
    _unit("CeF", "Cedar very gravelly loam, steep sideslope", "loam", "none", 38, 20, 1.3, 1.48, 48, 55, 2.8, 200),
    _unit("RiC", "Ridge stony silt loam, shallow", "silt loam", "none", 24, 22, 1.4, 1.50, 42, 38, 3.2, 200),
    _unit("GlF", "Glade and rock outcrop", "silty clay loam", "none", 15, 34, 2.0, 1.40, 70, 15, 4.6, 200),
)


def classify(terrain: Terrain, land: Land) -> Ints:
    """Index into UNITS for every cell, patches under about a hectare merged."""
    near = flow.carry_up(
        terrain.drainage,
        terrain.area_ha.ravel(),
        (terrain.area_ha > 6).ravel() | flow.edge(GRID.shape).ravel(),
    ).reshape(GRID.shape)
    jitter = noise.fractal(GRID.shape, [8, 3], rng("soils"))
    rise = terrain.above_creek_m + 0.6 * jitter
    slope = ndimage.gaussian_filter(terrain.slope, 2.5) + 0.008 * jitter
    kind = np.full(GRID.shape, 4)
    kind[slope > 0.165] = 5
    kind[slope < 0.05] = 3
    kind[(terrain.ridge + 2 * jitter > 11) & (slope < 0.14)] = 6
    kind[(rise < 14) & (slope < 0.115) & (near > 40)] = 2
    kind[(rise < 4.5) & (slope < 0.085) & (near > 90)] = 1
    kind[(rise < 1.6) & (slope < 0.085) & (near > 150)] = 0
    kind[land.glade] = 7
    return _merge_small(_majority(kind), 90)


def _majority(kind: Ints) -> Ints:
    """The commonest class in a soft window round each cell."""
    votes = [ndimage.gaussian_filter((kind == n).astype(float), 2.0) for n in range(len(UNITS))]
    votes[0] *= 1.5  # bottoms are narrow
    return np.argmax(votes, axis=0)


def _merge_small(kind: Ints, cells: int) -> Ints:
    """Patches under a number of cells take the class of the nearest larger patch."""
    small = np.zeros(kind.shape, dtype=bool)
    for n in range(len(UNITS)):
        label, _ = ndimage.label(kind == n)
        size = np.bincount(label.ravel())
        small |= (label > 0) & (size[label] < cells)
    where = ndimage.distance_transform_edt(small, return_distances=False, return_indices=True)
    return kind[tuple(where)]


def polygons(kind: Ints) -> gpd.GeoDataFrame:
    """The map as polygons that fill the grid without gap or overlap, edges eased by 12 m."""
    parts = [(shape(s), int(v)) for s, v in features.shapes(kind.astype(np.uint8), transform=GRID.transform)]
    parts.sort(key=lambda p: (p[1], *p[0].bounds))
    eased = shapely.coverage_simplify([p[0] for p in parts], 14.0, simplify_boundary=False)
    table = pd.DataFrame([vars(UNITS[v]) for _, v in parts])
    return gpd.GeoDataFrame(table, geometry=list(eased), crs=CRS)


def probes(kind: Ints, fit: Floats, count: int = 60) -> pd.DataFrame:
    """Readings at 15 and 30 cm on granted land (`fit` > 0), near ways first, with spatial correlation.

    The cone of 12.83 mm (0.2 square inch) is the small one of ASAE S313.3.
    """
    random = rng("probes")
    places = count // 2
    east = random.uniform(WEST_M, EAST_M, 6000)
    north = random.uniform(SOUTH_M, NORTH_M, 6000)
    row, col = GRID.cells(east, north)
    keep = np.flatnonzero(random.uniform(size=6000) < fit[row, col])[:places]
    east, north, row, col = east[keep], north[keep], row[keep], col[keep]
    field = noise.fractal(GRID.shape, [35, 12], random)
    base = np.array([u.resistance_mpa for u in UNITS])[kind[row, col]]
    lon, lat = lonlat(east, north)
    rows = []
    for n in range(places):
        day = PLAN_DATE - timedelta(days=int(random.integers(12, 40)))
        for depth in (15, 30):
            unit = UNITS[kind[row[n], col[n]]]
            factor = np.exp(0.22 * field[row[n], col[n]] + 0.12 * random.standard_normal())
            reading = base[n] * 1000 * factor * (0.85 if depth == 15 else 1.1)
            stopped = depth >= unit.depth_cm or reading > 5000
            rows.append(
                {
                    "lon": f"{lon[n]:.6f}",
                    "lat": f"{lat[n]:.6f}",
                    "date": day.isoformat(),
                    "depth_cm": depth,
                    "cone_index_kpa": int(min(5000, round(reading, -1))),
                    "cone": "12.83 mm",
                    "note": "stopped on rock" if stopped else "",
                }
            )
    return pd.DataFrame(rows)


def build(terrain: Terrain, land: Land) -> tuple[Ints, gpd.GeoDataFrame]:
    """Class of every cell and the polygons."""
    kind = classify(terrain, land)
    return kind, polygons(kind)
