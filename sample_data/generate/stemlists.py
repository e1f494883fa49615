"""Two tape-and-compass stem lists, measured in the truth trees round a pivot stake."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from pyproj import Proj
from scipy.spatial import cKDTree
from shapely.geometry import MultiPoint

from generate.frame import CRS, GRID, Bools, Floats, lonlat, rng
from generate.trees import FT_M, IN_CM

DECLINATION_DEG = -0.6
MIN_DBH_CM = 10.2  # 4 in
REACH_M = 15.2  # 50 ft of tape
NET_M = 18.288  # 60 ft
LEAST_TREES = 5


@dataclass(frozen=True, kw_only=True)
class StemList:
    """One list, its pivot (east, north in metres) and where that is in longitude and latitude."""

    name: str
    east_m: float
    north_m: float
    table: pd.DataFrame

    @property
    def lonlat(self) -> tuple[float, float]:
        """Longitude and latitude of the pivot, degrees."""
        lon, lat = lonlat(self.east_m, self.north_m)
        return float(lon), float(lat)


def _roundness(ring: Floats) -> float:
    """Isoperimetric quotient of the hull, less 0.03 a built support; 0 when a 60 ft net cannot fit."""
    hull = MultiPoint(ring).convex_hull
    corners = len(hull.exterior.coords) - 1 if hull.geom_type == "Polygon" else 0
    if corners < LEAST_TREES or not 0.92 * NET_M <= hull.length <= 0.99 * NET_M:
        return 0.0
    spans = np.hypot(*np.diff(np.asarray(hull.exterior.coords), axis=0).T)
    supports = np.ceil(spans / (NET_M / 10)).sum() - corners
    return float(4 * np.pi * hull.area / hull.length**2 - 0.03 * supports)


def pivot(
    trees: pd.DataFrame, centre: tuple[float, float], fit: Bools, random: np.random.Generator
) -> tuple[float, float]:
    """A bare spot near a centre with sound trees all round it, as far off as a 60 ft ring asks."""
    points = trees[["x_m", "y_m"]].to_numpy()
    usable = (trees["dbh_cm"] >= MIN_DBH_CM).to_numpy()
    tree = cKDTree(points)
    best, choice = 0.0, centre
    for east, north in np.round(random.normal(centre, 160.0, size=(24000, 2)), 1):
        row, col = GRID.cells(east, north)
        near = np.array(tree.query_ball_point((east, north), 4.2), dtype=int)
        if not fit[row, col] or len(near) < LEAST_TREES:
            continue
        distance = np.hypot(*(points[near] - (east, north)).T)
        count = len(tree.query_ball_point((east, north), REACH_M))
        if distance.min() < 1.2 or not 26 <= count <= 39:
            continue
        score = _roundness(points[near[usable[near] & (distance > 2.2)]])
        if score > best:
            best, choice = score, (float(east), float(north))
    if best < 0.5:
        raise ValueError(f"no pivot near {centre}: best score {best:.2f}")
    return choice


def measure(name: str, trees: pd.DataFrame, at: tuple[float, float]) -> StemList:
    """The list as a crew writes it: about 1 degree and 1 percent of error, magnetic, feet and inches."""
    random = rng(f"stems {name}")
    east = trees["x_m"].to_numpy() - at[0]
    north = trees["y_m"].to_numpy() - at[1]
    distance = np.hypot(east, north)
    pick = np.flatnonzero(distance <= REACH_M)
    lon, lat = lonlat(*at)
    convergence = Proj(CRS).get_factors(float(lon), float(lat)).meridian_convergence
    true = np.degrees(np.arctan2(east[pick], north[pick])) + convergence
    magnetic = (true - DECLINATION_DEG + random.normal(0, 1.0, len(pick))) % 360
    length = distance[pick] * (1 + random.normal(0, 0.01, len(pick)))
    dbh = trees["dbh_cm"].to_numpy()[pick]
    kind = np.where(dbh < MIN_DBH_CM, "sapling", "tree").astype(object)
    outer = np.flatnonzero((distance[pick] > 5.0) & (dbh > 15))
    kind[random.choice(outer, size=2, replace=False)] = ["dead", "leaning"]
    order = np.argsort(magnetic, kind="stable")
    table = pd.DataFrame(
        {
            "stem": np.arange(1, len(pick) + 1),
            "dbh_in": np.round(dbh[order] / IN_CM, 1),
            "kind": kind[order],
            "bearing_deg": np.round(magnetic[order] * 2) / 2 % 360,
            "distance_ft": np.round(length[order] / FT_M, 1),
        }
    )
    return StemList(name=name, east_m=at[0], north_m=at[1], table=table)


def places(lists: list[StemList]) -> pd.DataFrame:
    """Where each list's pivot stake stands."""
    return pd.DataFrame(
        {
            "list": [f"stems_{s.name}.csv" for s in lists],
            "lon": [f"{s.lonlat[0]:.7f}" for s in lists],
            "lat": [f"{s.lonlat[1]:.7f}" for s in lists],
            "declination_deg": DECLINATION_DEG,
            "note": ["pivot stake, 12 paces off the creek", "pivot stake on the bench, flagged"],
        }
    )
