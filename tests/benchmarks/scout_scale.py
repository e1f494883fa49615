"""CPU time and peak memory of `boscage scout` as the canopy raster grows.

    python tests/benchmarks/scout_scale.py FOLDER [SIDE_M ...]

For each side a square ranch is made in FOLDER with a 1 m canopy height raster (tiled deflate), 10 m terrain, tracks,
sign and soils. Each run is a process of its own; it is checked that sites were found and that every surface cell with
canopy has a value.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import time
from itertools import pairwise
from pathlib import Path

import geopandas as gpd
import numpy as np
import rasterio
import shapely
from rasterio.transform import from_origin
from rasterio.windows import Window
from scipy.ndimage import gaussian_filter, zoom

CRS = "EPSG:32614"
WEST, SOUTH = 500_000.0, 3_500_000.0
BLOCK = 1000


def build(folder: Path, side: int) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    _canopy(folder / "canopy_height.tif", side)
    _terrain(folder / "terrain.tif", side)
    cuts = np.linspace(0, side, 4)
    squares = [shapely.box(WEST + a, SOUTH + b, WEST + c, SOUTH + d) for a, c in pairwise(cuts)
               for b, d in pairwise(cuts)]  # fmt: skip
    access = ["granted"] * 7 + ["refused", "unknown"]
    frame = gpd.GeoDataFrame({"parcel": range(9), "access": access}, geometry=squares, crs=CRS)
    frame.to_file(folder / "parcels.gpkg")
    lines = [shapely.LineString([(WEST, SOUTH + f * side), (WEST + side, SOUTH + f * side)]) for f in (0.02, 0.5)]
    gpd.GeoDataFrame({"class": ["road", "track"]}, geometry=lines, crs=CRS).to_file(folder / "tracks.gpkg")
    rng = np.random.default_rng(1)
    points = shapely.points(WEST + rng.random(300) * side, SOUTH + rng.random(300) * side)
    days = [f"2026-11-{d:02d}" for d in rng.integers(1, 21, 300)]
    sign = {"kind": rng.choice(["rooting", "wallow", "track"], 300), "date": days}
    gpd.GeoDataFrame(sign, geometry=points, crs=CRS).to_file(folder / "sign.gpkg")
    (folder / "plan.toml").write_text(
        '[ranch]\nname = "Scale"\ndate = 2026-11-21\n[layers]\nparcels = "parcels.gpkg"\n'
        'canopy_height = "canopy_height.tif"\nterrain = "terrain.tif"\ntracks = "tracks.gpkg"\nsign = "sign.gpkg"\n',
        encoding="utf-8",
    )
    return folder / "plan.toml"


def _profile(size: int, cell: float) -> dict:
    return {"driver": "GTiff", "height": size, "width": size, "count": 1, "dtype": "float32", "crs": CRS,
            "transform": from_origin(WEST, SOUTH + size * cell, cell, cell), "nodata": -9999.0, "tiled": True,
            "blockxsize": 256, "blockysize": 256, "compress": "deflate", "predictor": 3, "zlevel": 1}  # fmt: skip


def _canopy(path: Path, side: int) -> None:
    with rasterio.open(path, "w", **_profile(side, 1.0)) as file:
        for row in range(0, side, BLOCK):
            for col in range(0, side, BLOCK):
                rng = np.random.default_rng(row * 7919 + col)
                wood = zoom(gaussian_filter(rng.standard_normal((50, 50)), 3), 20, order=1)
                crowns = gaussian_filter(rng.standard_normal((BLOCK, BLOCK)).astype(np.float32), 2)
                values = np.where(wood > 0, np.clip(12 + crowns * 60, 0, 30), 0).astype(np.float32)
                file.write(np.round(values, 1), 1, window=Window(col, row, BLOCK, BLOCK))


def _terrain(path: Path, side: int) -> None:
    n = side // 10
    hills = gaussian_filter(np.random.default_rng(2).standard_normal((n, n)), 30)
    with rasterio.open(path, "w", **_profile(n, 10.0)) as file:
        file.write((300 + 25 * hills / hills.std()).astype(np.float32), 1)


def measure(plan: Path) -> dict:
    """Run scout in a process of its own; CPU seconds and peak memory of that process."""
    begun = time.perf_counter()
    child = subprocess.Popen([sys.executable, "-m", "boscage", "scout", str(plan), "--fresh"],
                             stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)  # fmt: skip
    _, status, usage = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    told = json.loads((plan.parent / "out" / "scout.json").read_text(encoding="utf-8"))
    assert child.returncode == 0
    assert told["sites"]
    assert all(site["factors"]["cover"] is not None for site in told["sites"])
    return {"cpu_s": round(usage.ru_utime + usage.ru_stime, 1), "wall_s": round(time.perf_counter() - begun, 1),
            "peak_mib": usage.ru_maxrss // 1024, "sites": len(told["sites"])}  # fmt: skip


def main() -> None:
    root = Path(sys.argv[1])
    for side in [int(word) for word in sys.argv[2:]] or [2000, 5000, 10_000]:
        plan = build(root / str(side), side)
        row = {"side_m": side, "hectares": side**2 / 1e4, "million_cells": side**2 / 1e6, **measure(plan)}
        print(json.dumps(row), flush=True)
    print(json.dumps({"this_process_peak_mib": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024}))


if __name__ == "__main__":
    main()
