"""Travel time over a whole ranch: CPU time and memory, beside general-purpose tools, in one run.

    python tests/benchmarks/travel_peers.py FOLDER [--peer-python PYTHON] [--skip TOOL ...] [--repeat 3]
    python tests/benchmarks/travel_peers.py FOLDER --growth 2000 5000 10000 [--repeat 3]

FOLDER holds a ranch on a square grid of 1 m cells: `dem` (metres), `friction` (seconds a metre, NaN is a barrier) and
`roads` (seeds where over 0), each as .npy and as .tif. With --growth, invented ranches of these sides are made in
subfolders of FOLDER instead, and only the project's own passes are timed.

Every run has a process of its own; the tools take turns, --repeat times. CPU seconds are user and system time of the
pass alone, children included, the median and the extremes; r.walk's include its start and its reading and writing of
maps. Memory is the growth of the process from before its inputs are made to its peak, inputs included; for r.walk it is
the whole peak. Each line says how many cells were reached and their mean time. The script fails where isotropic times
differ, or where a tool does not reach just the cells that hang together with a seed: over sides for ours, which does
not slip between two barriers that touch at a corner, over sides and corners for the others, which do.

GRASS (`grass` on the path) is needed for `r.walk`; xarray-spatial, in the Python given by --peer-python, for
`xrspatial`.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np
from scipy import ndimage

OURS = ("level 8", "level 16", "slope 8", "slope 16")
PEER_OF = {"level 8": "xrspatial", "level 16": "xrspatial", "slope 8": "r.walk", "slope 16": "r.walk"}
BLOCK = 500  # rows


def cpu_s() -> float:
    spent = resource.getrusage(resource.RUSAGE_SELF)
    return spent.ru_utime + spent.ru_stime


def status_bytes(field: str) -> int:
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith(field):
            return int(line.split()[1]) * 1024
    raise RuntimeError(f"no {field} in the process status")


def reached(times: np.ndarray) -> dict[str, Any]:
    """How many cells have a time, and the mean of those, by blocks of rows."""
    count, total = 0, 0.0
    for row in range(0, len(times), BLOCK):
        some = times[row : row + BLOCK]
        some = some[np.isfinite(some)]
        count, total = count + some.size, total + float(some.sum(dtype=np.float64))
    return {"reached": count, "mean_s": total / max(count, 1)}


def connected(folder: Path, rank: int) -> int:
    """Cells that hang together with a seed over passable cells: rank 1 over sides, 2 over corners too."""
    passable = np.isfinite(np.load(folder / "friction.npy"))
    number, count = ndimage.label(passable, ndimage.generate_binary_structure(2, rank))
    joined = np.zeros(count + 1, bool)
    joined[number[np.load(folder / "roads.npy") > 0]] = True
    joined[0] = False
    return int(np.count_nonzero(joined[number]))


# --- one tool in a process of its own -----------------------------------------------------------------------------


def run_ours(folder: Path, tool: str) -> dict[str, Any]:
    from boscage.kernels.travel import OFFSETS_8, OFFSETS_16, TOBLER_OUTWARD, Ground, Walk, travel_time

    walk = TOBLER_OUTWARD if tool.startswith("slope") else Walk(1.0, 0.0, 0.0, False)
    offsets = OFFSETS_8 if tool.endswith(" 8") else OFFSETS_16
    warm = np.zeros((9, 9))
    flat = Ground(np.zeros((9, 9), np.float32), np.ones((9, 9), np.float32), 1.0)
    travel_time(flat, walk, offsets, warm, warm, np.zeros((9, 9), np.int8))
    Path("/proc/self/clear_refs").write_text("5")  # forget the peak of the compiler
    before = status_bytes("VmRSS")
    ground = Ground(np.load(folder / "dem.npy"), np.load(folder / "friction.npy"), 1.0)
    shape = ground.pace.shape
    time_s, moves = np.full(shape, np.inf), np.empty(shape, np.int8)
    for row in range(0, shape[0], BLOCK):
        seeds = np.load(folder / "roads.npy", mmap_mode="r")[row : row + BLOCK] > 0
        time_s[row : row + BLOCK][seeds] = 0.0
    start = cpu_s()
    travel_time(ground, walk, offsets, time_s, time_s, moves)
    spent = cpu_s() - start
    grown = status_bytes("VmHWM") - before
    return {"cpu_s": spent, "bytes_a_cell": grown / time_s.size, **reached(time_s)}


def run_xrspatial(folder: Path) -> dict[str, Any]:
    import xarray
    from xrspatial.cost_distance import cost_distance

    def layers(cells: int | None) -> tuple[Any, Any]:
        seeds = (np.load(folder / "roads.npy", mmap_mode="r")[:cells, :cells] > 0).astype(np.float32)
        friction = np.load(folder / "friction.npy")[:cells, :cells].copy()
        rows, cols = seeds.shape
        along = {"y": np.arange(rows, 0.0, -1.0), "x": np.arange(0.0, cols)}
        return tuple(xarray.DataArray(a, coords=along, dims=("y", "x")) for a in (seeds, friction))

    cost_distance(*layers(50))
    before = status_bytes("VmRSS")
    inputs = layers(None)
    start = cpu_s()
    times = cost_distance(*inputs).data
    spent = cpu_s() - start
    return {"cpu_s": spent, "bytes_a_cell": (status_bytes("VmHWM") - before) / times.size, **reached(times)}


# --- GRASS --------------------------------------------------------------------------------------------------------


class Grass:
    """A throw-away GRASS location with the ranch's maps."""

    def __init__(self, folder: Path, base: Path) -> None:
        home = subprocess.check_output(["grass", "--config", "path"], text=True).strip()
        subprocess.run(["grass", "--text", "-c", str(folder / "dem.tif"), str(base / "ranch"), "-e"], check=True,
                       capture_output=True)  # fmt: skip
        (base / "rc").write_text(f"GISDBASE: {base}\nLOCATION_NAME: ranch\nMAPSET: PERMANENT\nGUI: text\n")
        self.env = dict(os.environ, GISBASE=home, LD_LIBRARY_PATH=f"{home}/lib", GISRC=str(base / "rc"))
        self.env["PATH"] = f"{home}/bin:{home}/scripts:{os.environ['PATH']}"
        for name in ("dem", "friction", "roads"):
            self.call("r.in.gdal", f"input={folder / name}.tif", f"output={name}", "-o")
        self.call("g.region", "raster=dem")
        self.call("r.mapcalc", "expression=seeds = if(roads > 0, 1, null())")

    def call(self, *command: str) -> str:
        done = subprocess.run(command, env=self.env, check=True, capture_output=True, text=True)
        return done.stdout

    def walk(self) -> dict[str, Any]:
        command = [
            "r.walk",
            "elevation=dem",
            "friction=friction",
            "output=o",
            "start_raster=seeds",
            "memory=8000",
            "--o",
        ]
        with subprocess.Popen(command, env=self.env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as process:
            _, status, used = os.wait4(process.pid, 0)
            process.returncode = os.waitstatus_to_exitcode(status)
        assert process.returncode == 0, "r.walk failed"
        told = dict(line.split("=") for line in self.call("r.univar", "-g", "map=o").split())
        peak = used.ru_maxrss * 1024 / (int(told["n"]) + int(told["null_cells"]))
        return {"cpu_s": used.ru_utime + used.ru_stime, "bytes_a_cell": peak, "reached": int(told["n"]),
                "mean_s": float(told["mean"])}  # fmt: skip


# --- invented ranches of any size ---------------------------------------------------------------------------------


def noise(row: int, rows: int, cols: int, wave_m: int, seed: int) -> np.ndarray:
    """Smooth noise of one wavelength for a block of rows, -1 to 1: random corners, joined by smooth curves."""

    def corners(line: int) -> np.ndarray:
        return np.random.default_rng((seed, wave_m, line)).uniform(-1.0, 1.0, cols // wave_m + 2).astype(np.float32)

    def ease(t: np.ndarray) -> np.ndarray:
        return (t * t * (3.0 - 2.0 * t)).astype(np.float32)

    y, x = np.arange(row, row + rows) / wave_m, np.arange(cols) / wave_m
    first = int(y[0])
    grid = np.array([corners(line) for line in range(first, int(y[-1]) + 2)])
    col, part = x.astype(int), ease(x % 1.0)
    across = grid[:, col] * (1.0 - part) + grid[:, col + 1] * part
    line, part = y.astype(int) - first, ease(y % 1.0)[:, None]
    return across[line] * (1.0 - part) + across[line + 1] * part


def fractal(row: int, rows: int, cols: int, rough: float, seed: int) -> np.ndarray:
    waves = (1024, 512, 256, 128, 64, 32, 16, 8)
    return sum(noise(row, rows, cols, w, seed) * np.float32((w / 1024.0) ** rough) for w in waves)


def build(folder: Path, side: int) -> None:
    """Hills, three classes of cover, ponds and winding roads about every kilometre; the same in kind at any size.

    The folder gets its name when all is written.
    """
    unfinished = folder.with_name(folder.name + ".part")
    unfinished.mkdir(parents=True, exist_ok=True)
    kinds = {"dem": np.float32, "friction": np.float32, "roads": np.uint8}
    files = {
        name: np.lib.format.open_memmap(unfinished / f"{name}.npy", mode="w+", dtype=kind, shape=(side, side))
        for name, kind in kinds.items()
    }
    for row in range(0, side, BLOCK):
        rows = min(BLOCK, side - row)
        cover = fractal(row, rows, side, 0.5, 1)
        pace = np.select([cover < -1.3, cover < 0.0, cover < 0.7], [np.nan, 0.8, 1.4], 2.8).astype(np.float32)
        pace *= np.random.default_rng((3, row)).uniform(0.85, 1.15, pace.shape).astype(np.float32)
        bend = fractal(row, rows, side, 1.5, 2)
        down, right = np.arange(row, row + rows)[:, None], np.arange(side)[None, :]
        roads = ((right + 150.0 * bend) % 1000.0 < 3.0) | ((down + 150.0 * bend) % 1300.0 < 3.0)
        pace[roads] = 0.25
        block = slice(row, row + rows)
        files["dem"][block] = 300.0 + 40.0 * fractal(row, rows, side, 1.1, 0)
        files["friction"][block], files["roads"][block] = pace, roads
    for file in files.values():
        file.flush()
    unfinished.rename(folder)


# --- the run ------------------------------------------------------------------------------------------------------


def child(python: str, folder: Path, tool: str) -> dict[str, Any]:
    out = subprocess.check_output([python, __file__, str(folder), "--one", tool], text=True)
    return json.loads(out.strip().splitlines()[-1])


def say(tool: str, cells: int, runs: list[dict[str, Any]]) -> float:
    """Print a line for a tool; returns the median of its CPU seconds."""
    spent = [one["cpu_s"] for one in runs]
    middle = statistics.median(spent)
    line = {"tool": tool, "mcells": cells / 1e6, "cpu_s": round(middle, 3), "from": round(min(spent), 3),
            "to": round(max(spent), 3), "mcells_per_s": round(cells / 1e6 / middle, 2),
            "bytes_a_cell": round(max(one["bytes_a_cell"] for one in runs), 1), "reached": runs[0]["reached"],
            "mean_s": round(runs[0]["mean_s"], 4)}  # fmt: skip
    print(json.dumps(line), flush=True)
    return middle


def beside_peers(options: argparse.Namespace) -> None:
    peers = [tool for tool in ("xrspatial", "r.walk") if tool not in options.skip]
    cells = np.load(options.folder / "dem.npy", mmap_mode="r").size
    runs: dict[str, list[dict[str, Any]]] = {tool: [] for tool in (*OURS, *peers)}
    with tempfile.TemporaryDirectory() as base:
        grass = Grass(options.folder, Path(base)) if "r.walk" in peers else None
        for _ in range(options.repeat):
            for tool, found in runs.items():
                python = options.peer_python if tool == "xrspatial" else sys.executable
                found.append(grass.walk() if tool == "r.walk" else child(python, options.folder, tool))
    middle = {tool: say(tool, cells, found) for tool, found in runs.items()}
    by_sides, by_corners = connected(options.folder, 1), connected(options.folder, 2)
    for tool, found in runs.items():
        want = by_sides if tool in OURS else by_corners
        assert {one["reached"] for one in found} == {want}, f"{tool} did not reach the {want} cells joined to a seed"
    if "xrspatial" in peers:
        means = [runs[tool][0]["mean_s"] for tool in ("level 8", "xrspatial")]
        assert abs(means[0] / means[1] - 1.0) < 1e-4, f"isotropic times differ: {means}"
    for tool in OURS:
        if PEER_OF[tool] in peers:
            ratio = middle[PEER_OF[tool]] / middle[tool]
            print(json.dumps({"ratio": f"{tool} to {PEER_OF[tool]}", "times": round(ratio, 2)}), flush=True)


def growth(options: argparse.Namespace) -> None:
    for side in options.growth:
        folder = options.folder / f"side_{side}"
        start = time.process_time()
        if not folder.exists():
            build(folder, side)
        print(json.dumps({"built": side, "cpu_s": round(time.process_time() - start, 1)}), flush=True)
        for tool in OURS:
            runs = [child(sys.executable, folder, tool) for _ in range(options.repeat)]
            assert runs[0]["reached"] > 0.8 * side * side, "little was reached"
            say(tool, side * side, runs)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--peer-python", default=sys.executable)
    parser.add_argument("--skip", nargs="*", default=[])
    parser.add_argument("--repeat", type=int, default=3)
    parser.add_argument("--growth", type=int, nargs="+")
    parser.add_argument("--one", help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.one:
        done = run_xrspatial(options.folder) if options.one == "xrspatial" else run_ours(options.folder, options.one)
        print(json.dumps(done))
    elif options.growth:
        growth(options)
    else:
        beside_peers(options)


if __name__ == "__main__":
    main()
