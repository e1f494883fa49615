"""Which rings real woods hold: the exact search on published stem maps.

    python tests/benchmarks/real_woods.py FOLDER

FOLDER holds stem maps as CSV with the columns `x_m` and `y_m` and, where it is known, `dbh_cm`; files whose names begin
with an underscore are left out. Each wood is searched for the best ring of every stem: net of 60 ft, gather 0.10, at
least five contacts, corners at the bark, trees of 4 in and over. Where no diameter is known every stem counts, as a
point. The plot is the convex hull of all stems. Prints one JSON line a wood: how much of the plot lies within 20 m of
the middle of a ring, quartiles of the scores of the rings found (the best ring of each stem that is the lowest of
one), and CPU seconds on one thread after a run to warm up. Rings near the plot's edge may lack the trees outside it.

It is checked that the ring of the highest score meets the rules, worked out again from its corners' places where no
diameter is known, and that some wood holds a ring.
"""

from __future__ import annotations

import argparse
import csv
import json
import math
import time
from pathlib import Path

import numba
import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from boscage.model.rig import RingOptions
from boscage.rigging.search import RootRings, best_rings

PERIMETER_M, MIN_DBH_M, WALK_M = 18.288, 0.1016, 20.0


def read(path: Path) -> tuple[NDArray[np.float64], NDArray[np.float64] | None]:
    """Places (N, 2) in metres, and diameters (N,) in metres, or None where the map has none."""
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    places = np.array([(float(r["x_m"]), float(r["y_m"])) for r in rows])
    if "dbh_cm" not in rows[0]:
        return places, None
    return places, np.array([float(r["dbh_cm"]) for r in rows]) / 100.0


def middles(places: NDArray[np.float64], rings: RootRings) -> NDArray[np.float64]:
    """(M, 2) mean place of the trees of each ring."""
    found = np.flatnonzero(rings.contacts > 0)
    return np.array([places[rings.ring(int(i))].mean(axis=0) for i in found]).reshape(-1, 2)


def share_near(middle: NDArray[np.float64], plot: shapely.Geometry) -> float:
    """Share of the plot that lies within the walk of a middle, counted on a 1 m grid."""
    west, south, east, north = plot.bounds
    x, y = np.meshgrid(np.arange(west + 0.5, east, 1.0), np.arange(south + 0.5, north, 1.0))
    inside = shapely.contains_xy(plot, x, y)
    if not len(middle) or not inside.any():
        return 0.0
    away, _ = cKDTree(middle).query(np.column_stack([x[inside], y[inside]]))
    return float((away <= WALK_M).mean())


def check(places: NDArray[np.float64], rings: RootRings) -> None:
    """The best ring's perimeter, convexity and score, from its corners (all trees being points)."""
    ring = places[rings.ring(int(np.nanargmax(rings.score)))]
    side = np.roll(ring, -1, axis=0) - ring
    length = np.hypot(*side.T)
    after = np.roll(side, -1, axis=0)
    assert (side[:, 0] * after[:, 1] - side[:, 1] * after[:, 0] > 0.0).all()
    assert 0.9 * PERIMETER_M - 1e-9 <= length.sum() <= PERIMETER_M + 1e-9
    built = sum(max(0, math.ceil(v / (PERIMETER_M / 10.0) - 1e-9) - 1) for v in length)
    roundness = 4.0 * math.pi * shapely.Polygon(ring).area / length.sum() ** 2
    assert abs(100.0 * (roundness - 0.03 * built) - np.nanmax(rings.score)) < 1e-6


def measure(path: Path) -> dict[str, object]:
    """One wood."""
    places, dbh_m = read(path)
    plot = shapely.convex_hull(shapely.MultiPoint(places))
    usable = np.full(len(places), True) if dbh_m is None else dbh_m >= MIN_DBH_M
    radii = np.zeros(len(places)) if dbh_m is None else 0.5 * dbh_m
    options = RingOptions(perimeter_m=PERIMETER_M, reach_m=0.0)
    begin = time.process_time()
    rings = best_rings(places[usable], radii[usable], options)
    cpu_s = time.process_time() - begin
    scores = rings.score[np.isfinite(rings.score)]
    if dbh_m is None and scores.size:
        check(places, rings)
    quartiles = [round(float(v), 1) for v in np.percentile(scores, (25, 50, 75))] if scores.size else None
    return {
        "wood": path.stem, "stems": len(places), "usable": int(usable.sum()), "dbh_known": dbh_m is not None,
        "plot_ha": round(plot.area / 1e4, 3), "usable_per_ha": round(float(usable.sum()) / plot.area * 1e4),
        "rings": int(scores.size), "share_near": round(share_near(middles(places[usable], rings), plot), 3),
        "score_quartiles": quartiles, "best_score": round(float(scores.max()), 1) if scores.size else None,
        "cpu_s": round(cpu_s, 3),
    }  # fmt: skip


def main() -> None:
    """Measure each wood of the folder."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    paths = sorted(p for p in parser.parse_args().folder.glob("*.csv") if not p.name.startswith("_"))
    assert paths, "the folder holds no stem map"
    numba.set_num_threads(1)
    grid = np.stack(np.meshgrid(np.arange(0.0, 12.0, 3.0), np.arange(0.0, 12.0, 3.0)), axis=-1).reshape(-1, 2)
    best_rings(grid, np.zeros(len(grid)), RingOptions(perimeter_m=PERIMETER_M, reach_m=0.0))
    rows = []
    for path in paths:
        rows.append(measure(path))
        print(json.dumps(rows[-1]), flush=True)
    assert any(row["rings"] for row in rows), "no wood holds a ring"


if __name__ == "__main__":
    main()
