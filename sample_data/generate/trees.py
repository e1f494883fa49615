"""Every stem in the two measured blocks, and the canopy height that they make.

Stems stand in clusters (Neyman and Scott 1958, Gaussian spread: Thomas 1949) on a thinner even
background, never nearer than 1 m to one another, with gaps left by windthrow. Crown width from
diameter follows Bechtold (2003), Southern Journal of Applied Forestry 27:269-278: post oak (also used
here for white oak and black hickory), loblolly pine (used for shortleaf) and eastern redcedar.
Heights follow 1.37 + a (1 - exp(-b dbh)) with invented a and b.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.spatial import cKDTree

from generate.frame import CELL_M, GRID, NORTH_M, WEST_M, Floats, Grid, rng
from generate.land import Land
from generate.terrain import Terrain

NODATA_DM = 65535
EDGE_M = 8.0  # stems this far outside a block still reach into it
APART_M = 1.15
TALL_M = 2.0  # canopy at or above this height counts as cover
CLUSTERS_PER_HA = 45.0
CLUSTER_SPREAD_M = 5.0
CLUSTERED = 0.55  # share of stems that belong to clusters
FT_M, IN_CM = 0.3048, 2.54


@dataclass(frozen=True, kw_only=True)
class Species:
    """Crown width in ft = `base_ft` + `per_in` x dbh in inches; height in m from dbh in cm."""

    name: str
    base_ft: float
    per_in: float
    height_a: float
    height_b: float
    cone: bool
    depth: float  # crown depth as a share of height


SPECIES = (
    Species(name="post oak", base_ft=4.12, per_in=1.70, height_a=18.5, height_b=0.046, cone=False, depth=0.42),
    Species(name="white oak", base_ft=4.12, per_in=1.70, height_a=25.0, height_b=0.042, cone=False, depth=0.42),
    Species(name="black hickory", base_ft=4.12, per_in=1.70, height_a=21.0, height_b=0.048, cone=False, depth=0.40),
    Species(name="shortleaf pine", base_ft=2.56, per_in=1.38, height_a=26.0, height_b=0.045, cone=True, depth=0.45),
    Species(
        name="eastern redcedar",
        base_ft=4.59,
        per_in=1.34,
        height_a=11.0,
        height_b=0.060,
        cone=True,
        depth=0.85,
    ),
)


@dataclass(frozen=True, kw_only=True)
class Block:
    """A measured block in cells of the ranch grid."""

    name: str
    col: int
    row: int
    cols: int
    rows: int

    @property
    def grid(self) -> Grid:
        """The 1 m grid of the block."""
        return Grid(
            west_m=WEST_M + self.col * CELL_M,
            north_m=NORTH_M - self.row * CELL_M,
            cell_m=1.0,
            rows=int(self.rows * CELL_M),
            cols=int(self.cols * CELL_M),
        )


BLOCKS = (
    Block(name="upper_creek", col=330, row=190, cols=150, rows=155),
    Block(name="south_hollow", col=440, row=490, cols=140, rows=150),
)


def _candidates(grid: Grid, density: Floats, random: np.random.Generator) -> Floats:
    """Stem places (n, 2) at `density` stems per hectare (ranch grid), clustered."""
    low = np.array([grid.west_m - EDGE_M, grid.north_m - grid.rows - EDGE_M])
    span = np.array([grid.cols + 2 * EDGE_M, grid.rows + 2 * EDGE_M])
    hectares = span.prod() / 1e4
    top = 1000.0
    even = low + random.uniform(size=(random.poisson((1 - CLUSTERED) * top * hectares), 2)) * span
    parents = low + random.uniform(size=(random.poisson(CLUSTERS_PER_HA * hectares), 2)) * span
    brood = random.poisson(random.gamma(2.0, CLUSTERED * top / CLUSTERS_PER_HA / 2.0, size=len(parents)))
    spread = random.normal(0, CLUSTER_SPREAD_M, size=(brood.sum(), 2))
    points = np.vstack([even, np.repeat(parents, brood, axis=0) + spread])
    inside = ((points >= low) & (points < low + span)).all(axis=1)
    points = points[inside]
    row, col = GRID.cells(points[:, 0], points[:, 1])
    return points[random.uniform(size=len(points)) < density[row, col] / top]


def _windthrow(points: Floats, random: np.random.Generator) -> Floats:
    """The places outside round gaps, about one and a half gaps a hectare, 4 to 13 m in radius."""
    low, high = points.min(axis=0), points.max(axis=0)
    count = random.poisson(1.5 * (high - low).prod() / 1e4)
    centres = random.uniform(low, high, size=(count, 2))
    radius = 4 + 9 * random.beta(1.2, 3.0, size=count)
    away, nearest = cKDTree(centres).query(points, k=4)
    return points[(away > radius[nearest]).all(axis=1)]


def _keep_apart(points: Floats, dbh_cm: Floats) -> Floats:
    """Mask of stems to keep: of two too close, the thinner goes. Stems ask for 1.15 m, big pairs for more."""
    order = np.argsort(-dbh_cm, kind="stable")
    pairs = cKDTree(points).query_pairs(APART_M + 0.9, output_type="ndarray")
    gap = np.hypot(*(points[pairs[:, 0]] - points[pairs[:, 1]]).T)
    need = APART_M + 0.010 * np.minimum(dbh_cm[pairs[:, 0]], dbh_cm[pairs[:, 1]])
    pairs = pairs[gap < need]
    rank = np.empty(len(points), dtype=int)
    rank[order] = np.arange(len(points))
    first = np.where(rank[pairs[:, 0]] < rank[pairs[:, 1]], pairs[:, 0], pairs[:, 1])
    last = pairs.sum(axis=1) - first
    keep = np.ones(len(points), dtype=bool)
    for n in np.argsort(rank[first], kind="stable"):
        if keep[first[n]]:
            keep[last[n]] = False
    return keep


def _diameters(count: int, random: np.random.Generator) -> Floats:
    """Diameters in cm: saplings, poles and large trees of an uneven-aged stand."""
    part = random.uniform(size=count)
    sapling = random.uniform(4, 10, size=count)
    pole = 10 + 16 * random.beta(1.3, 1.6, size=count)
    large = 22 + 38 * random.beta(1.4, 3.0, size=count)
    return np.round(np.select([part < 0.20, part < 0.55], [sapling, pole], large), 1)


def _species(row: np.ndarray, col: np.ndarray, terrain: Terrain, land: Land, random: np.random.Generator) -> np.ndarray:
    """Index into SPECIES by position: white oak low, post oak and pine high, redcedar on glades."""
    wet = np.clip(1 - terrain.above_creek_m[row, col] / 18, 0, 1)
    high = np.clip(terrain.ridge[row, col] / 25, 0, 1)
    bare = np.maximum(land.glade[row, col], 0.6 * land.open_ground[row, col])
    weight = np.column_stack(
        [0.8 + 1.4 * high, 1.0 + 2.2 * wet, 0.8 + 0 * wet, 0.5 + 1.0 * high * (1 - wet), 0.35 + 3.0 * bare]
    )
    share = np.cumsum(weight / weight.sum(axis=1, keepdims=True), axis=1)
    return (random.uniform(size=(len(row), 1)) > share).sum(axis=1)


def stems(block: Block, terrain: Terrain, land: Land) -> pd.DataFrame:
    """All stems of a block: x_m, y_m, height_m, crown_radius_m, dbh_cm, species."""
    random = rng(f"trees {block.name}")
    wanted = np.clip(land.cover_pct, 0, 95) / 100
    density = np.clip(-np.log(1 - wanted) / 26.0 * 1e4 * 1.12, 0, 680)
    points = _windthrow(_candidates(block.grid, density, random), random)
    dbh = _diameters(len(points), random)
    keep = _keep_apart(points, dbh)
    points, dbh = points[keep], dbh[keep]
    row, col = GRID.cells(points[:, 0], points[:, 1])
    kind = _species(row, col, terrain, land, random)

    def take(key: str) -> Floats:
        return np.array([getattr(s, key) for s in SPECIES], dtype=float)[kind]

    height = 1.37 + take("height_a") * (1 - np.exp(-take("height_b") * dbh))
    height *= np.clip(1 + 0.07 * random.standard_normal(len(dbh)), 0.8, 1.2)
    width = (take("base_ft") + take("per_in") * dbh / IN_CM) * FT_M
    width *= np.clip(1 + 0.10 * random.standard_normal(len(dbh)), 0.7, 1.3)
    table = pd.DataFrame(
        {
            "x_m": np.round(points[:, 0], 1),
            "y_m": np.round(points[:, 1], 1),
            "height_m": np.round(height, 1),
            "crown_radius_m": np.round(width / 2, 1),
            "dbh_cm": dbh,
            "species": np.array([s.name for s in SPECIES])[kind],
        }
    )
    return table.sort_values(["y_m", "x_m"], ascending=[False, True], kind="stable", ignore_index=True)


def canopy(block: Block, table: pd.DataFrame) -> Floats:
    """Canopy height in metres on the block's 1 m grid: the highest crown over each cell centre, 0 in gaps."""
    grid = block.grid
    shape = {s.name: (s.cone, s.depth) for s in SPECIES}
    cone = table["species"].map(lambda s: shape[s][0]).to_numpy()
    depth = table["species"].map(lambda s: shape[s][1]).to_numpy() * table["height_m"].to_numpy()
    height, radius = table["height_m"].to_numpy(), table["crown_radius_m"].to_numpy()
    east, north = table["x_m"].to_numpy() - grid.west_m, grid.north_m - table["y_m"].to_numpy()
    col0, row0 = np.floor(east).astype(int), np.floor(north).astype(int)
    out = np.zeros(grid.shape)
    widest = int(np.ceil(radius.max()))
    for down in range(-widest, widest + 1):
        for right in range(-widest, widest + 1):
            row, col = row0 + down, col0 + right
            share = np.hypot(col + 0.5 - east, row + 0.5 - north) / radius
            hit = np.flatnonzero((share <= 1) & (row >= 0) & (row < grid.rows) & (col >= 0) & (col < grid.cols))
            drop = np.where(cone[hit], share[hit], share[hit] ** 2) * depth[hit]
            np.maximum.at(out, (row[hit], col[hit]), height[hit] - drop)
    return out


def measured(block: Block, canopy_m: Floats) -> np.ndarray:
    """Canopy height as flown: whole decimetres (uint16) with 0.1 m of noise where there is canopy."""
    noise = rng(f"canopy {block.name}").normal(0, 0.1, size=canopy_m.shape)
    seen = np.where(canopy_m > 0, np.maximum(canopy_m + noise, 0), 0)
    return np.round(seen * 10).astype(np.uint16)


def cover_pct(canopy_dm: np.ndarray) -> Floats:
    """Share in percent of 1 m cells at or above 2 m, on 10 m cells."""
    rows, cols = canopy_dm.shape
    tall = (canopy_dm >= TALL_M * 10).reshape(rows // 10, 10, cols // 10, 10)
    return tall.mean(axis=(1, 3)) * 100
