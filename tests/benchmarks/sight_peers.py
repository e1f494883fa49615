"""Lines of sight: CPU time and agreement with brute force, beside GDAL's viewshed on the same surfaces.

    python tests/benchmarks/sight_peers.py [--side 1500] [--radius 600] [--observers 60] [--repeat 2]
    NUMBA_NUM_THREADS=2 python tests/benchmarks/sight_peers.py --many 1200 --side 2000

Prints one JSON line a case: millions of cells within the radius looked at in a CPU second (user and system time of
this process, one thread, the best of the repeats, the tools taking turns), and on a smaller window the share of cells
that agree with brute force and the Jaccard index of what is seen. All observers go into one call of ours, so that what
a call costs before the first look is spread over them. GDAL is called in process through the library that pyogrio or
rasterio brings along; its answer is one surface, seen or not, so that vegetation is an opaque part of the ground there.
Where no such library is found, a sentence says so and our own figures are printed alone. With --many, only so many
observers in one call of ours: two target heights, vegetation looked through, on NUMBA_NUM_THREADS cores.
"""

from __future__ import annotations

import argparse
import ctypes
import importlib.util
import json
import os
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

os.environ.setdefault("NUMBA_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).parents[1] / "support"))

import brute_sight as brute
import numpy as np
import rasterio
from rasterio.transform import from_origin

from boscage.kernels.sight_field import expected_sightings, see_from
from boscage.kernels.sight_line import SightScene

EYE_M, TARGET_M, CURVATURE = 1.7, 1.5, 6.0 / 7.0
FULL = np.log(10.0) / 60.96  # nine tenths hidden at 200 ft: Thomas et al. (1979)
WEST, NORTH = 500_000.0, 3_500_000.0


class Gdal:
    """The few functions of GDAL's C interface that a viewshed takes."""

    def __init__(self, path: str) -> None:
        self.lib = ctypes.CDLL(path)
        pointer, number, text, whole = ctypes.c_void_p, ctypes.c_double, ctypes.c_char_p, ctypes.c_int
        signatures = {
            "GDALAllRegister": (None, []),
            "GDALOpen": (pointer, [text, whole]),
            "GDALGetRasterBand": (pointer, [pointer, whole]),
            "GDALGetRasterXSize": (whole, [pointer]),
            "GDALGetRasterYSize": (whole, [pointer]),
            "GDALGetGeoTransform": (whole, [pointer, pointer]),
            "GDALClose": (None, [pointer]),
            "GDALVersionInfo": (text, [text]),
            "GDALRasterIO": (whole, [pointer, *[whole] * 5, pointer, *[whole] * 5]),
            "GDALViewshedGenerate": (
                pointer,
                [pointer, text, text, pointer, *[number] * 9, whole, number, pointer, pointer, whole, pointer],
            ),
        }
        for name, (result, arguments) in signatures.items():
            function = getattr(self.lib, name)
            function.restype, function.argtypes = result, arguments
        self.lib.GDALAllRegister()
        self.version = self.lib.GDALVersionInfo(b"RELEASE_NAME").decode()

    def open(self, path: str) -> Any:
        self.data = self.lib.GDALOpen(path.encode(), 0)
        assert self.data, f"GDAL cannot open {path}"
        return self.lib.GDALGetRasterBand(self.data, 1)

    def view(self, band: Any, row: int, col: int, radius: float, keep: np.ndarray | None = None) -> None:
        """One viewshed; written into `keep` (R, C) uint8 where given, elsewhere thrown away."""
        east, north = WEST + col + 0.5, NORTH - row - 0.5
        made = self.lib.GDALViewshedGenerate(
            band, b"MEM", b"", None, east, north, EYE_M, TARGET_M, 1.0, 0.0, 0.0, -1.0, CURVATURE, 2, radius, None,
            None, 1, None,
        )  # fmt: skip
        assert made, "GDAL gave no viewshed"
        if keep is not None:
            wide, tall = self.lib.GDALGetRasterXSize(made), self.lib.GDALGetRasterYSize(made)
            seen, place = np.zeros((tall, wide), np.uint8), (ctypes.c_double * 6)()
            self.lib.GDALGetGeoTransform(made, place)
            at = self.lib.GDALGetRasterBand(made, 1)
            self.lib.GDALRasterIO(at, 0, 0, 0, wide, tall, seen.ctypes.data, wide, tall, 1, 0, 0)
            r0, c0 = round(NORTH - place[3]), round(place[0] - WEST)
            keep[r0 : r0 + tall, c0 : c0 + wide] = seen
        self.lib.GDALClose(made)


def find_gdal() -> Gdal | None:
    for package in ("pyogrio", "rasterio"):
        spec = importlib.util.find_spec(package)
        if spec is None or spec.origin is None:
            continue
        folder = Path(spec.origin).parents[1] / f"{package}.libs"
        for path in sorted(folder.glob("libgdal*")):
            return Gdal(str(path))
    return None


def write(surface: np.ndarray, path: str) -> None:
    tall, wide = surface.shape
    with rasterio.open(
        path, "w", driver="GTiff", height=tall, width=wide, count=1, dtype="float32", crs="EPSG:32614",
        transform=from_origin(WEST, NORTH, 1.0, 1.0),
    ) as out:  # fmt: skip
        out.write(surface.astype(np.float32), 1)


def best_cpu_s(runs: dict[str, Callable[[], object]], repeat: int) -> dict[str, float]:
    """Least CPU seconds of each, taking turns after one round to warm up."""
    for run in runs.values():
        run()
    best = dict.fromkeys(runs, float("inf"))
    for _ in range(repeat):
        for name, run in runs.items():
            start = time.process_time()
            run()
            best[name] = min(best[name], time.process_time() - start)
    return best


def count_cells(n: int, places: np.ndarray, radius: int) -> int:
    rows, cols = np.mgrid[:n, :n]
    return sum(int(((rows - r) ** 2 + (cols - c) ** 2 <= radius**2).sum()) for r, c in places)


def clear_round(top: np.ndarray, places: np.ndarray, cells: int = 4) -> np.ndarray:
    """The canopy with a gap round each observer, so that an opaque one does not swallow him."""
    top = top.copy()
    for r, c in places:
        top[max(0, r - cells) : r + cells + 1, max(0, c - cells) : c + cells + 1] = 0.0
    return top


def jaccard(a: np.ndarray, b: np.ndarray) -> float:
    return float((a & b).sum() / max(1, (a | b).sum()))


def time_all(n: int, radius: int, count: int, repeat: int, gdal: Gdal | None, path: str) -> None:
    places = np.random.default_rng(5).integers(n // 4, n - n // 4, (count, 2))
    ground = brute.fractal(n, 1, relief_m=60.0).astype(np.float32)
    top = clear_round(brute.crowns(n, 1, trees=0.02), places).astype(np.float32)
    hides = np.where(top > 0.0, FULL, 0.0).astype(np.float32)
    eyes, ones = np.full(count, EYE_M), np.ones(count)
    cells = count_cells(n, places, radius) / 1e6
    for case, surface, heights in (
        ("bare", ground, [TARGET_M]),
        ("bare, two heights", ground, [TARGET_M, 1.8]),
        ("vegetation", ground + top, [TARGET_M]),
        ("vegetation, two heights", ground + top, [TARGET_M, 1.8]),
    ):
        veiled = np.zeros_like(hides) if case.startswith("bare") else hides
        scene = SightScene(ground, top, veiled, 1.0, CURVATURE)
        sums: list[np.ndarray] = []

        def ours(scene: SightScene = scene, heights: list[float] = heights, sums: list[np.ndarray] = sums) -> None:
            sums[:] = [expected_sightings(scene, places, eyes, ones, float(radius), np.array(heights))]

        runs: dict[str, Callable[[], object]] = {"ours": ours}
        if gdal is not None:
            write(surface, path)
            band = gdal.open(path)
            looks = [(r, c) for _ in heights for r, c in places]
            runs["GDAL"] = lambda band=band, looks=looks: [gdal.view(band, r, c, float(radius)) for r, c in looks]
        try:
            best = best_cpu_s(runs, repeat)
        finally:
            if gdal is not None:
                gdal.lib.GDALClose(gdal.data)
        assert sums[0].shape == (len(heights), n, n)
        assert sums[0].max() >= 1.0
        assert 0.0 < sums[0].mean() < count
        rates = {name: round(cells * len(heights) / seconds, 1) for name, seconds in best.items()}
        print(json.dumps({"case": case, "radius_cells": radius, "million_cells_a_cpu_second": rates}), flush=True)


def compare(n: int, radius: int, gdal: Gdal | None, path: str) -> None:
    """Agreement with brute force on an n x n window at 1 m, one observer in the middle."""
    place = (n // 2, n // 2)
    rows, cols = np.mgrid[:n, :n]
    within = (rows - place[0]) ** 2 + (cols - place[1]) ** 2 <= radius**2
    for seed in (1, 2, 3):
        ground = brute.fractal(n, seed, relief_m=40.0).astype(np.float32)
        top = clear_round(brute.crowns(n, seed, trees=0.02), np.array([place])).astype(np.float32)
        none = np.zeros_like(top)
        for case, surface in (("bare", ground), ("opaque canopy", (ground + top).astype(np.float32))):
            exact = brute.share_of_sight(
                surface.astype(float), none, none, 1.0, place, EYE_M, TARGET_M, radius, curvature=CURVATURE
            )
            want = exact[within] > 0.0
            answers = {
                "ours": see_from(SightScene(surface, none, none, 1.0, CURVATURE), place, EYE_M, float(radius),
                                 np.array([TARGET_M]))[0][within] > 0.0
            }  # fmt: skip
            if gdal is not None:
                write(surface, path)
                keep = np.zeros((n, n), np.uint8)
                gdal.view(gdal.open(path), *place, float(radius), keep)
                gdal.lib.GDALClose(gdal.data)
                answers["GDAL"] = keep[within] == 1
            row = {k: [round(float(np.mean(a == want)), 4), round(jaccard(a, want), 3)] for k, a in answers.items()}
            seen = round(float(want.mean()), 3)
            print(json.dumps({"case": case, "seed": seed, "seen": seen, "agree_and_jaccard": row}))


def time_many(n: int, radius: int, count: int) -> None:
    """One call with many observers, compiling included; asserts that a taller target is seen no less."""
    ground, top = brute.fractal(n, 1, relief_m=90.0), brute.crowns(n, 1, trees=0.02)
    arrays = (ground, top, np.where(top > 0.0, FULL, 0.0))
    scene = SightScene(*[np.ascontiguousarray(a, dtype=np.float32) for a in arrays], 1.0, CURVATURE)
    places = np.random.default_rng(7).integers(0, n, (count, 2))
    cpu, wall = time.process_time(), time.perf_counter()
    sums = expected_sightings(
        scene, places, np.full(count, EYE_M), np.ones(count), float(radius), np.array([TARGET_M, TARGET_M + 0.3])
    )
    cpu, wall = time.process_time() - cpu, time.perf_counter() - wall
    assert sums.shape == (2, n, n)
    assert (sums[1] >= sums[0] - 1e-6).all()
    assert sums[0].max() > 1.0
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(json.dumps({"observers": count, "cpu_s": round(cpu, 1), "wall_s": round(wall, 1), "peak_mib": round(peak)}))


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    ask.add_argument("--side", type=int, default=1500)
    ask.add_argument("--radius", type=int, default=600)
    ask.add_argument("--observers", type=int, default=60)
    ask.add_argument("--repeat", type=int, default=2)
    ask.add_argument("--many", type=int, default=0)
    asked = ask.parse_args()
    if asked.many:
        time_many(asked.side, asked.radius, asked.many)
        return
    gdal = find_gdal()
    print(f"GDAL {gdal.version}" if gdal else "No GDAL library was found beside pyogrio or rasterio: ours alone.")
    with tempfile.TemporaryDirectory() as folder:
        path = str(Path(folder) / "surface.tif")
        time_all(asked.side, asked.radius, asked.observers, asked.repeat, gdal, path)
        time_all(asked.side, asked.radius // 10, asked.observers * 5, asked.repeat, gdal, path)
        compare(401, 200, gdal, path)


if __name__ == "__main__":
    main()
