"""How quick the window's questions are on a large ranch, and what memory they take.

    python tests/benchmarks/desk_speed.py FOLDER [SIDE_M]

A square ranch is made in FOLDER as for `scout_scale.py` (10 km a side: 100 million cells of canopy heights without
overviews of their own), with 40 creeks of 2,000 vertices, houses, fences, gates, power lines, soils and a no-go area
besides, and a scoring grid of 4 million cells. It is opened anew and again, each in a process of its own. Every answer
is checked: tiles are not blank, the ranking again equals that of `boscage scout`, a place has eight readings. Times are
CPU and wall; on a machine that does other work the wall times are upper bounds.
"""

from __future__ import annotations

import json
import resource
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import scout_scale
import shapely

from boscage.model.desk import TileRequest, ViewFrame, ViewRequest
from boscage.model.desk_answers import RigRequest, SiteEdits
from boscage.pipeline.desk_session import Session
from boscage.pipeline.scout import scout
from boscage.readers.plan_file import read_plan

GRID_CELLS = 2000
AGAIN = 5


def build(folder: Path, side: int) -> Path:
    """The ranch, made once."""
    plan = folder / str(side) / "plan.toml"
    if plan.exists():
        return plan
    plan = scout_scale.build(folder / str(side), side)
    rng = np.random.default_rng(7)
    west, south = scout_scale.WEST, scout_scale.SOUTH

    def line(count: int) -> shapely.LineString:
        """A line of some vertices that winds and does not cross itself, as creeks and fences do."""
        along = np.linspace(0.0, 1.0, count)
        swing = sum(rng.normal(0.0, 0.06 / k) * np.sin(2.0 * np.pi * (k * along + rng.random())) for k in (1, 3, 9, 27))
        places = np.column_stack([along, np.clip(rng.random() + swing, 0.0, 1.0)]) * side
        return shapely.LineString((places if rng.random() < 0.5 else places[:, ::-1]) + (west, south))

    def save(layer: str, shapes: list[Any], **columns: Any) -> None:
        gpd.GeoDataFrame(columns, geometry=shapes, crs=scout_scale.CRS).to_file(plan.parent / f"{layer}.gpkg")

    creeks = [line(2000) for _ in range(side // 250)]
    save("water", creeks, **{"class": ["creek"] * len(creeks), "name": [f"Creek {n}" for n in range(len(creeks))]})
    houses = [shapely.Point(west + u * side, south + v * side) for u, v in rng.random((20, 2))]
    save("dwellings", houses, name=[f"House {n}" for n in range(20)])
    save("fences", [line(60) for _ in range(30)])
    save("power_lines", [line(20) for _ in range(3)])
    gates = [shapely.Point(west + f * side, south + 0.02 * side) for f in (0.2, 0.8)]
    save("gates", gates, name=["Gate A", "Gate B"], kind=["entry", "entry"], state=["open", "locked"])
    save("no_go", [shapely.Point(west + 0.3 * side, south + 0.6 * side).buffer(side / 20)], reason=["calving"])
    cuts = np.linspace(0, side, 41)
    soils = [shapely.box(west + a, south + b, west + a + side / 40, south + b + side / 40) for a in cuts[:-1]
             for b in cuts[:-1]]  # fmt: skip
    save("soils", soils, resistance_mpa=rng.uniform(1.0, 8.0, len(soils)), depth_cm=rng.uniform(20, 150, len(soils)),
         rock_pct=rng.uniform(0, 60, len(soils)))  # fmt: skip
    names = ("water", "dwellings", "fences", "power_lines", "gates", "no_go", "soils")
    more = "".join(f'{name} = "{name}.gpkg"\n' for name in names)
    cell = (side + 1200) / GRID_CELLS
    with plan.open("a", encoding="utf-8") as file:
        file.write(f'{more}[sites]\ncell = "{cell:g}m"\n')
    return plan


def timed(work: Callable[[], Any], times: int = AGAIN) -> tuple[Any, dict[str, float]]:
    """What some work gives, and the median of its times, ms."""
    cpu, wall = [], []
    for _ in range(times):
        used, begun = time.process_time(), time.perf_counter()
        result = work()
        cpu.append(1e3 * (time.process_time() - used))
        wall.append(1e3 * (time.perf_counter() - begun))
    return result, {"cpu_ms": round(statistics.median(cpu), 1), "wall_ms": round(statistics.median(wall), 1)}


def tell(**row: Any) -> None:
    print(json.dumps(row), flush=True)


def peak_mib() -> int:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024


def tiles(session: Session) -> None:
    """Tiles of every zoom, none of them drawn before, round the middle of the ranch and elsewhere."""
    bounds, scheme = session.ranch.layers.ranch, session.scheme
    rng = np.random.default_rng(3)
    for zoom in range(scheme.zooms):
        side = scheme.bounds(zoom, 0, 0).width
        x, y = bounds.west - scheme.west, scheme.north - bounds.south
        found = [(x + u * bounds.width, y - v * bounds.height) for u, v in rng.random((12, 2))]
        spots = {(int(east // side), int(south // side)) for east, south in found}
        cpu, wall = [], []
        for col, row in sorted(spots):
            used, begun = time.process_time(), time.perf_counter()
            made = session.tile(TileRequest(zoom=zoom, col=col, row=row))
            cpu.append(1e3 * (time.process_time() - used))
            wall.append(1e3 * (time.perf_counter() - begun))
            assert len(set(made.data[::4])) > 1, "the tile is not blank"
        row = {"metres_per_px": scheme.metres_per_px(zoom), "tiles": len(spots), "peak_mib": peak_mib()}
        figures = {"cpu_ms": statistics.median(cpu), "wall_ms": statistics.median(wall), "worst_cpu_ms": max(cpu)}
        tell(what="tile", zoom=zoom, **row, **{k: round(v, 1) for k, v in figures.items()})


def questions(session: Session) -> None:
    """Ranking, steadiness, places, views, rings."""
    grid = session.ranch.scene.grid
    cells = grid.rows * grid.cols
    assert len(session.ranch.rated) == 8, "eight factors take part"
    weights = iter([{"cover": 1.0 + k, "access": 2.0 - 0.1 * k} for k in range(AGAIN)])
    answer, took = timed(lambda: session.rank(SiteEdits(weights=next(weights))))
    assert len(answer.sites) == session.ranch.plan.sites.count
    tell(what="rank again", cells=cells, factors=len(answer.weights), **took)
    answer, took = timed(lambda: session.steadiness(SiteEdits()))
    assert abs(sum(s.top_rank_share or 0.0 for s in answer.sites) - 1.0) < 1e-6
    tell(what="steadiness", cells=cells, **took)
    bounds = session.ranch.layers.ranch
    spots = iter(
        np.random.default_rng(5).random((100, 2)) * (bounds.width, bounds.height) + (bounds.west, bounds.south)
    )
    place, took = timed(lambda: session.place(*next(spots).tolist(), with_ways=False))
    assert len(place.readings) == 8
    tell(what="place, without ways", **took)
    place, took = timed(lambda: session.place(*next(spots).tolist()), times=1)
    assert place.way and place.seen
    tell(what="place, the first with ways", **took, peak_mib=peak_mib())
    place, took = timed(lambda: session.place(*next(spots).tolist()))
    tell(what="place, with ways", **took)
    for width, height in ((1280, 720), (2560, 1440)):
        frame = ViewFrame(x_m=(bounds.west + bounds.east) / 2, y_m=(bounds.south + bounds.north) / 2,
                          metres_per_px=4.0, width_px=width, height_px=height)  # fmt: skip
        view, took = timed(lambda frame=frame: session.view(ViewRequest(frame=frame)), times=3)
        assert view.width_px == width
        tell(what=f"names and sites over {width} x {height}", **took)
    site = answer.sites[0]
    first, took = timed(lambda: session.rig(RigRequest(site=site.site)), times=1)
    tell(what="ring, the first of a place", stems=len(first.stems), **took)
    _, took = timed(lambda: session.rig(RigRequest(site=site.site, removed=(first.stems[0].stem.stem,))))
    tell(what="ring, a tree taken out", **took)


def child(plan: Path, first: bool) -> None:
    used, begun = time.process_time(), time.perf_counter()
    session = Session.open(plan)
    tell(
        what="open anew" if first else "open again", cpu_s=round(time.process_time() - used, 1),
        wall_s=round(time.perf_counter() - begun, 1), peak_mib=peak_mib(),
    )  # fmt: skip
    if first:
        return
    tiles(session)
    questions(session)
    tell(what="after all of it", peak_mib=peak_mib())


def equals_scout(plan: Path) -> None:
    """The window's ranking is that of a run."""
    ours = Session.open(plan).rank()
    run = scout(read_plan(plan), out=plan.parent / "out", sheets=False)
    assert [(s.site, s.score, s.x_m, s.y_m) for s in ours.sites] == [
        (s.site, s.exact_score, s.place.x_m, s.place.y_m) for s in run.sites
    ]
    tell(what="the ranking equals that of scout", sites=len(run.sites))


def main() -> None:
    if sys.argv[1] == "--child":
        child(Path(sys.argv[2]), sys.argv[3] == "first")
        return
    root, side = Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 10_000
    plan = build(root, side)
    tell(side_m=side, million_canopy_cells=side**2 / 1e6)
    rows = []
    for turn in ("first", "again"):
        with subprocess.Popen(
            [sys.executable, __file__, "--child", str(plan), turn], stdout=subprocess.PIPE
        ) as process:
            assert process.stdout is not None
            for line in process.stdout:
                rows.append(json.loads(line))
                tell(**rows[-1])
        assert process.returncode == 0, "a check has failed"
    equals_scout(plan)
    print(table(rows))


def table(rows: list[dict[str, Any]]) -> str:
    """The figures as the table of docs/performance.md."""
    lines = ["| what | CPU ms | wall ms | peak MiB |", "| --- | --- | --- | --- |"]
    for row in rows:
        what = f"tile, {row['metres_per_px']:g} m to a pixel" if row["what"] == "tile" else row["what"]
        in_ms = {f"{k[:-2]}_ms": 1e3 * row[k] for k in ("cpu_s", "wall_s") if k in row}
        figures = {**row, **in_ms}
        cells = [f"{figures[k]:,.0f}" if k in figures else "" for k in ("cpu_ms", "wall_ms", "peak_mib")]
        lines.append(f"| {what} | {' | '.join(cells)} |")
    return "\n".join(lines)


if __name__ == "__main__":
    main()
