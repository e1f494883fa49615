"""Dated sign points: fresh clusters in secluded draws, old ones along fields, and strays."""

from __future__ import annotations

from datetime import timedelta

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from generate.frame import CRS, GRID, PLAN_DATE, Floats, lonlat, rng
from generate.haunts import Haunts
from generate.land import Land
from generate.terrain import Terrain
from generate.water import Water

FRESH = {"upper creek": 22, "south hollow": 20, "cedar draws": 18, "refused edge": 12, "power line": 6}
STALE = {"basin edge": 20, "ridge field": 17, "bench corner": 17}
STRAYS = 18
FRESH_KINDS = ("rooting", "track", "trail", "wallow", "scat", "bed", "rub")
FRESH_SHARE = (0.30, 0.18, 0.14, 0.11, 0.11, 0.09, 0.07)
STALE_SHARE = (0.72, 0.04, 0.08, 0.03, 0.06, 0.02, 0.05)
NOTES = {
    "rooting": ("pit", "trench, 2 m", "area, 10 x 15 ft", "area, quarter acre", "under oaks, acorn hulls"),
    "track": ("many sizes", "three sizes", "one large, alone", "small tracks, striped-piglet size"),
    "trail": ("10 in wide, bears north", "fence under-pass", "crosses the creek", "down the draw"),
    "wallow": ("wet, tracks in it", "mud rub on near tree", "two pools"),
    "scat": ("acorn", "corn and acorn", "grass"),
    "bed": ("scrape under cedar", "leaf bed, four side by side", "north side of a log"),
    "rub": ("mud to 24 in", "mud to 31 in", "mud to 18 in, several trees"),
}
CLASSES = ((1, "class A"), (3, "class B"), (14, "class C"), (10_000, "class D"))


class Ground:
    """What the sign needs to know of a place."""

    def __init__(self, terrain: Terrain, water: Water, land: Land) -> None:
        self.water_m, self.cover_pct, self.slope = water.distance_m, land.cover_pct, terrain.slope

    def suits(self, kind: str, east_m: Floats, north_m: Floats) -> np.ndarray:
        """Whether each place can carry a kind of sign."""
        row, col = GRID.cells(east_m, north_m)
        water, cover, slope = self.water_m[row, col], self.cover_pct[row, col], self.slope[row, col]
        rules = {
            "wallow": (water <= 10) & (slope < 0.15),
            "bed": (cover >= 70) & (water > 30),
            "rub": (water <= 80) & (cover >= 40),
            "track": (water <= 60) | (cover < 20),
            "trail": cover >= 25,
            "scat": np.ones(len(row), dtype=bool),
            "rooting": slope < 0.14,
        }
        return rules[kind]


def _cluster(
    centre: tuple[float, float],
    count: int,
    share: tuple[float, ...],
    spread_m: float,
    ground: Ground,
    random: np.random.Generator,
) -> list[tuple[str, float, float]]:
    """Kinds and places round a centre; a kind with no fit place within the spread becomes rooting."""
    found = []
    for wanted in random.choice(FRESH_KINDS, size=count, p=share):
        east = centre[0] + random.normal(0, spread_m, 400)
        north = centre[1] + random.normal(0, spread_m, 400)
        fit = np.flatnonzero(ground.suits(str(wanted), east, north))
        kind, pick = (str(wanted), int(fit[0])) if len(fit) else ("rooting", 0)
        found.append((kind, float(east[pick]), float(north[pick])))
    return found


def _note(kind: str, age_days: int, random: np.random.Generator) -> str:
    """A short note with the age class of the trade (common practice, no source)."""
    letter = next(name for limit, name in CLASSES if age_days <= limit)
    return f"{letter}; {random.choice(NOTES[kind])}"


def build(haunts: Haunts, terrain: Terrain, water: Water, land: Land) -> pd.DataFrame:
    """150 rows: lon, lat, kind, date, note, observer; in order of date."""
    random = rng("sign")
    ground = Ground(terrain, water, land)
    rows: list[tuple[str, float, float, int]] = []
    for name, count in FRESH.items():
        places = _cluster(haunts.fresh[name], count, FRESH_SHARE, 85.0, ground, random)
        rows += [(*place, int(random.integers(0, 7))) for place in places]
    for name, count in STALE.items():
        places = _cluster(haunts.stale[name], count, STALE_SHARE, 110.0, ground, random)
        rows += [(*place, int(random.integers(60, 201))) for place in places]
    for _ in range(STRAYS):
        centre = (GRID.west_m + random.uniform(900, 6300), GRID.north_m - random.uniform(900, 5800))
        place = _cluster(centre, 1, FRESH_SHARE, 150.0, ground, random)[0]
        rows.append((*place, int(random.integers(8, 59))))
    lon, lat = lonlat(np.array([r[1] for r in rows]), np.array([r[2] for r in rows]))
    table = pd.DataFrame(
        {
            "lon": [f"{v:.6f}" for v in lon],
            "lat": [f"{v:.6f}" for v in lat],
            "kind": [r[0] for r in rows],
            "date": [(PLAN_DATE - timedelta(days=r[3])).isoformat() for r in rows],
            "note": [_note(r[0], r[3], random) for r in rows],
            "observer": [f"op {1 + int(random.uniform() < 0.35)}" for _ in rows],
        }
    )
    return table.sort_values(["date", "lon"], kind="stable", ignore_index=True)


def walks(haunts: Haunts, water: Water) -> gpd.GeoDataFrame:
    """Lines along which sign was looked for: the creek bottoms near each cluster, and a loop through it."""
    random = rng("walks")
    rows = []
    for name, (east, north) in (*haunts.fresh.items(), *haunts.stale.items()):
        near = shapely.Point(east, north).buffer(900.0)
        bottoms = shapely.union_all(water.creeks.geometry.to_numpy()).intersection(near)
        lines = sorted((g for g in getattr(bottoms, "geoms", [bottoms]) if g.length > 200.0), key=lambda g: -g.length)
        turn = np.linspace(0.0, 2.0 * np.pi, 25)
        loop = shapely.LineString(np.column_stack([east + 110.0 * np.cos(turn), north + 80.0 * np.sin(turn)]))
        day = (PLAN_DATE - timedelta(days=int(random.integers(1, 12)))).isoformat()
        observer = f"op {1 + int(random.uniform() < 0.35)}"
        for line in (loop, *lines[:3]):
            rows.append({"date": day, "observer": observer, "note": name, "geometry": line.simplify(2.0)})
    return gpd.GeoDataFrame(rows, geometry="geometry", crs=CRS)
