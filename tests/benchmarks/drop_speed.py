"""Speed of the search for gaps against shapely's largest inscribed circle on the same canopy, and of a whole brief.

    python tests/benchmarks/drop_speed.py

Prints rows for docs/performance.md: CPU seconds, median of three, in one run.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable

import numpy as np
import rasterio.features
import shapely
from rasterio.transform import from_origin

from boscage.airlift.gaps import GapSearch, widest_gaps
from boscage.values import Grid

SIDE, CELL, OPEN_M = 600, 1.0, 0.4572


def canopy(seed: int) -> np.ndarray:
    """Crowns of 2 to 5 m radius at random, two thirds of the ground under them."""
    draw = np.random.default_rng(seed)
    height = np.zeros((SIDE, SIDE), np.float32)
    rows, cols = np.mgrid[0:SIDE, 0:SIDE]
    for r, c, wide in zip(draw.uniform(0, SIDE, 8000), draw.uniform(0, SIDE, 8000), draw.uniform(2, 5, 8000),
                          strict=True):  # fmt: skip
        part = (slice(max(0, int(r) - 6), int(r) + 7), slice(max(0, int(c) - 6), int(c) + 7))
        height[part][np.hypot(rows[part] - r, cols[part] - c) < wide] = 15.0
    return height


def ours(height: np.ndarray, grid: Grid) -> float:
    middle = (grid.west + SIDE / 2, grid.north - SIDE / 2)
    return widest_gaps(height, grid, middle, GapSearch(open_height_m=OPEN_M))[0].diameter_m


def shapelys(height: np.ndarray, grid: Grid) -> float:
    """The open ground turned into polygons, and the largest circle of each."""
    mask = (height <= OPEN_M).astype(np.uint8)
    frame = from_origin(grid.west, grid.north, CELL, CELL)
    parts = [shapely.geometry.shape(g) for g, v in rasterio.features.shapes(mask, mask > 0, transform=frame) if v]
    return 2.0 * max(shapely.maximum_inscribed_circle(p, tolerance=0.005).length for p in parts)


def cpu(work: Callable[[], float]) -> tuple[float, float]:
    spent = []
    for _ in range(3):
        begun = time.process_time()
        found = work()
        spent.append(time.process_time() - begun)
    return statistics.median(spent), found


def main() -> None:
    grid = Grid("EPSG:32615", 500_000.0, 4_000_000.0 + SIDE, CELL, SIDE, SIDE)
    for seed in (1, 2, 3):
        height = canopy(seed)
        mine, wide = cpu(lambda height=height: ours(height, grid))
        theirs, other = cpu(lambda height=height: shapelys(height, grid))
        assert abs(wide - other) < 0.02, (wide, other)
        print(f"canopy {seed}: gap {wide:.3f} m, ours {mine:.3f} s, shapely {theirs:.3f} s, {theirs / mine:.1f} times")


if __name__ == "__main__":
    main()
