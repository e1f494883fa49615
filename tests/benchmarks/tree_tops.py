"""Finding trees in canopy heights: CPU time and agreement with known stems, beside general-purpose tools.

    python tests/benchmarks/tree_tops.py FOLDER [--side M] [--windows 1 2 3] [--repeat 3] [--skip TOOL ...]

FOLDER holds `chm.tif` (canopy heights, metres, 1 m cells, north up) and `stems.npz` (x and y in metres from the
north-west corner, y downward; h). Where it is empty, a clustered wood of SIDE metres is grown in it. Prints one JSON
line a tool. CPU seconds are user and system time of this process, median of the repeats, after one run to warm up, on
one thread. Ours reads the file; the others work on an array in memory (`plain read` says what reading costs).

scikit-image is needed for `skimage`: pip install scikit-image.
"""

from __future__ import annotations

import argparse
import json
import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numba
import numpy as np
import rasterio
from rasterio.transform import from_origin

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))
import itertools

import woods

from boscage.model.layers import LayerReport, LayerSpec
from boscage.model.trees import TreeOptions
from boscage.readers.protocol import Request
from boscage.readers.raster import RasterReader
from boscage.readers.raster_layer import RasterLayer
from boscage.readers.tree_map import canopy_frame, find_trees

LEAST_M = 5.0
CLASSES_M = (5.0, 10.0, 15.0, 20.0, 60.0)


def build(folder: Path, side: int) -> None:
    """Grow a wood of 400 trees a hectare and write it as a tiled deflate GeoTIFF."""
    folder.mkdir(parents=True, exist_ok=True)
    wood = woods.grow(7, 400.0, side_m=float(side))
    profile = {
        "driver": "GTiff", "width": side, "height": side, "count": 1, "dtype": "float32", "crs": "EPSG:32614",
        "transform": from_origin(500_000.0, 3_500_000.0 + side, 1.0, 1.0), "tiled": True, "blockxsize": 256,
        "blockysize": 256, "compress": "deflate", "predictor": 3,
    }  # fmt: skip
    with rasterio.open(folder / "chm.tif", "w", **profile) as file:
        file.write(np.round(wood.canopy, 2), 1)
    np.savez_compressed(folder / "stems.npz", x=wood.points[:, 0], y=wood.points[:, 1], h=wood.height_m)


def layer_of(path: Path) -> RasterLayer:
    request = Request(layer="canopy_height", path=path, spec=LayerSpec(path=path.name))
    raw = RasterReader().read(request)
    report = LayerReport(name="canopy_height", state="usable", read="")
    return RasterLayer(raw=raw, factor=1.0, native_cell_m=raw.cell_m(raw.crs), report=report)


def plain_read(path: Path) -> np.ndarray:
    with rasterio.open(path) as file:
        return file.read(1)


def timed(run: Callable[[], Any], repeat: int) -> tuple[Any, float]:
    """The answer, and the median of its CPU seconds."""
    spent, answer = [], None
    for _ in range(repeat):
        answer = None
        start = time.process_time()
        answer = run()
        spent.append(time.process_time() - start)
    return answer, statistics.median(spent)


def by_class(found: np.ndarray, true: np.ndarray, height: np.ndarray) -> dict[str, list[float]]:
    """Recall and median error in metres of the true stems by classes of height."""
    pairs = woods.match(found, true)
    hit = np.flatnonzero(pairs >= 0)
    apart = np.full(len(true), np.nan)
    apart[pairs[hit]] = np.hypot(*(found[hit] - true[pairs[hit]]).T)
    out = {}
    for low, high in itertools.pairwise(CLASSES_M):
        some = apart[(height >= low) & (height < high)]
        if len(some):
            error = float(np.nanmedian(some)) if np.isfinite(some).any() else float("nan")
            out[f"{low:.0f}-{high:.0f} m"] = [round(float(np.isfinite(some).mean()), 3), round(error, 3)]
    return out


class Run:
    """One file and its stems."""

    def __init__(self, folder: Path, repeat: int) -> None:
        self.path, self.repeat = folder / "chm.tif", repeat
        stems = np.load(folder / "stems.npz")
        tall = stems["h"] >= LEAST_M
        self.true, self.height = np.column_stack([stems["x"], stems["y"]])[tall], stems["h"][tall]
        self.canopy = plain_read(self.path)

    def say(self, tool: str, cpu_s: float, found: np.ndarray | None = None, **more: Any) -> None:
        rate = self.canopy.size / 1e6 / cpu_s
        line = {"tool": tool, "cpu_s": round(cpu_s, 3), "mcells_per_s": round(rate, 2), **more}
        if found is not None:
            line |= woods.score(found, self.true)
            line["recall_and_error_by_height"] = by_class(found, self.true, self.height)
        print(json.dumps(line), flush=True)

    def ours(self, window: str) -> None:
        layer = layer_of(self.path)
        grid = canopy_frame(layer, layer.raw.crs)
        find_trees(layer, grid.window(0, 0, 300, 300), TreeOptions(window=window))
        made, cpu_s = timed(lambda: find_trees(layer, grid, TreeOptions(window=window)), self.repeat)
        assert made.canopy_ha > 0.99 * self.canopy.size / 1e4 and len(made) > 0
        places = np.column_stack([made.x_m - grid.west, grid.north - made.y_m])
        self.say(f"boscage {window}, reading included", cpu_s, places)

    def others(self, windows: list[int], skip: list[str]) -> None:
        if "skimage" not in skip:
            from skimage.feature import peak_local_max

            for reach in windows:
                cells, cpu_s = timed(lambda r=reach: peak_local_max(
                    self.canopy, min_distance=r, threshold_abs=LEAST_M, exclude_border=False), 1)  # fmt: skip
                self.say("skimage peak_local_max", cpu_s, woods.places(cells, 1.0), min_distance=reach)
        for reach in windows:
            cells, cpu_s = timed(lambda r=reach: woods.fixed_window(self.canopy, r, LEAST_M), 1)
            self.say("scipy maximum_filter", cpu_s, woods.places(cells, 1.0), size=2 * reach + 1)
        cells, cpu_s = timed(lambda: woods.by_height_class(self.canopy, 1.0, LEAST_M), 1)
        self.say("scipy maximum_filter by height class", cpu_s, woods.places(cells, 1.0))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--side", type=int, default=1000)
    parser.add_argument("--windows", type=int, nargs="+", default=[1, 2, 3])
    parser.add_argument("--repeat", type=int, default=3)
    parser.add_argument("--skip", nargs="*", default=[])
    options = parser.parse_args()
    numba.set_num_threads(1)
    if not (options.folder / "chm.tif").exists():
        build(options.folder, options.side)
    run = Run(options.folder, options.repeat)
    _, cpu_s = timed(lambda: plain_read(run.path), options.repeat)
    run.say("plain read", cpu_s)
    for window in ("auto", "close", "combined"):
        run.ours(window)
    run.others(options.windows, options.skip)


if __name__ == "__main__":
    main()
