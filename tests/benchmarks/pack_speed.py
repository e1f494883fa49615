"""Seconds of packing, drop points, sorties and a terrain horizon, each checked to have computed.

Run: python tests/benchmarks/pack_speed.py [REPEATS]
"""

from __future__ import annotations

import csv
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from boscage.airlift.drop_points import DropGround, find_drop
from boscage.airlift.horizon import terrain_horizon
from boscage.airlift.landing import find_landings
from boscage.airlift.sorties import SortieRules, plan_sorties
from boscage.model.drop import HELICOPTERS, Load
from boscage.model.drop_plan import GapOptions
from boscage.model.pack import PackItem, PackOptions
from boscage.packing.load import make_convoy, plan_loads
from boscage.packing.trips import Kinds, fewest_trips
from boscage.values import Grid, Printer

INSTANCES = Path(__file__).parents[1] / "data" / "bin_packing" / "instances.csv"


def published(name: str) -> int:
    with INSTANCES.open() as file:
        (row,) = [r for r in csv.DictReader(file) if r["instance"] == name]
    masses, counts = np.unique(np.array([int(s) for s in row["sizes"].split()]), return_counts=True)
    limit = np.array([int(row["capacity"])])
    made = fewest_trips(
        Kinds(masses=masses, counts=counts, limits=limit, carrier=np.zeros(1, dtype=np.int64), cargo=limit)
    )
    assert made.is_fewest and made.bound <= int(row["best_known"])
    return made.bound


def twelve_sites() -> int:
    """Twelve sites with 20 lines of gear each, on an all-terrain vehicle and two backs."""
    rng = np.random.default_rng(5)
    items = [
        PackItem(site=f"S{s}", item=f"i{n}", count=int(rng.integers(1, 12)), dry_kg=float(rng.uniform(0.1, 9.0)))
        for s in range(12) for n in range(20)
    ]  # fmt: skip
    made = plan_loads(items, make_convoy(("atv", "back"), {}), PackOptions())
    assert made.trips >= made.lower_bound_trips > 10
    print(f"  twelve sites: {made.trips} trips, bound {made.lower_bound_trips}")
    return made.trips


def wood(side: int) -> DropGround:
    rng = np.random.default_rng(1)
    grid = Grid("EPSG:32615", 500_000.0, 4_000_000.0, 1.0, side, side)
    canopy = np.zeros((side, side), dtype=np.float32)
    rows, cols = np.mgrid[-4:5, -4:5]
    crown = np.hypot(rows, cols) <= 4
    for r, c in rng.integers(5, side - 5, (side * side // 90, 2)):
        canopy[r - 4 : r + 5, c - 4 : c + 5][crown] = 18.0
    return DropGround(grid=grid, canopy_m=canopy, terrain_m=np.full((side, side), 100.0, np.float32))


def drop(ground: DropGround) -> float:
    x, y = ground.grid.west + ground.grid.cols / 2, ground.grid.north - ground.grid.rows / 2
    made = find_drop("S", (x, y), ground, GapOptions(), Printer())
    gap = made.gap if made else made.nearest_miss
    assert gap is not None and gap.diameter_m > 3.0
    return gap.diameter_m


def landing(ground: DropGround) -> int:
    x, y = ground.grid.west + ground.grid.cols / 2, ground.grid.north - ground.grid.rows / 2
    ground.canopy_m[ground.grid.rows // 2 - 20 : ground.grid.rows // 2 + 20, ground.grid.cols // 2 - 20 :][:, :40] = 0.0
    made = find_landings((x, y), ground, HELICOPTERS["3"], reach_m=100.0, count=1)
    assert len(made) == 1 and len(made[0].approaches) == 24
    return len(made)


def twelve_drops() -> float:
    rng = np.random.default_rng(2)
    at = rng.uniform(-5, 5, (13, 2))
    cost = np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1))
    loads = [Load(site=str(n), mass_kg=float(m)) for n, m in enumerate(rng.uniform(60, 150, 12))]
    made = plan_sorties(loads, [str(n) for n in range(12)], cost, SortieRules(limit_kg=300.0))
    assert made.is_least and made.cost > 0
    return made.cost


def horizon(ground: DropGround) -> float:
    x, y = ground.grid.west + ground.grid.cols / 2, ground.grid.north - ground.grid.rows / 2
    made = terrain_horizon(ground.terrain_m, ground.grid, (x, y), reach_m=ground.grid.rows / 2 - 5.0)
    assert made.known.all()
    return float(made.angle_deg.max())


def main() -> None:
    repeats = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    small, large = wood(1000), wood(3000)
    work: dict[str, Callable[[], object]] = {
        **{f"bin packing {n}": (lambda n=n: published(n)) for n in ("u120_00", "u120_08", "u120_19", "t60_00")},
        "twelve sites packed": twelve_sites,
        "drop point, 1000 x 1000 cells": lambda: drop(small),
        "drop point, 3000 x 3000 cells": lambda: drop(large),
        "landing and 24 approaches, 3000 x 3000": lambda: landing(large),
        "twelve loads into sorties": twelve_drops,
        "terrain horizon, 720 bearings to 1,500 cells": lambda: horizon(large),
    }
    for name, call in work.items():
        taken = []
        for _ in range(repeats):
            begun = time.process_time()
            call()
            taken.append(time.process_time() - begun)
        print(f"{name}: {statistics.median(taken):.2f} CPU s")


if __name__ == "__main__":
    main()
