"""A soil survey area of 10,000 polygons and 60,000 horizons, read and laid on 4 million cells.

    python tests/benchmarks/soil_survey.py [--folder] [--readings N]

The survey is made up: squares of 200 m, 5,000 map units of three soils with four horizons each, written once as a
GeoPackage, or with --folder as the folder of a download. Timed is what a run does with it: reading, the columns of
every polygon, strength of every horizon, the grid of resistance and posts. The time of making it is not counted. It is
checked that every cell has a figure and that ten cells, worked out apart from the polygons, have theirs.
"""

from __future__ import annotations

import argparse
import datetime as dt
import resource
import tempfile
import time
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import shapely

from boscage.exports.store import Store
from boscage.model.layers import LayerSet, LayerSpec
from boscage.model.plan import plan_from_table
from boscage.model.scene import Scene
from boscage.model.soil import ProbeReading
from boscage.pipeline.ground import ground_of, with_ground
from boscage.pipeline.progress import silent
from boscage.readers.parcels import Ranch
from boscage.readers.protocol import Request
from boscage.readers.soils import make_soils
from boscage.soil.components import profiles, unit_strength
from boscage.values import Bounds, Grid

CRS, WEST, SOUTH = "EPSG:32615", 500_000.0, 4_000_000.0
SIDE, SQUARE, UNITS = 100, 200.0, 5000
DAY = dt.date(2026, 11, 21)


def tables(random: np.random.Generator) -> dict[str, pd.DataFrame]:
    """The tables of a made-up survey."""
    keys = np.arange(UNITS)
    soils = 3 * UNITS
    cokey = np.arange(soils)
    horizons = 4 * soils
    top = np.tile([0, 20, 50, 100], soils)
    sand = random.integers(5, 60, horizons)
    clay = random.integers(5, 40, horizons)
    return {
        "mapunit": pd.DataFrame({"mukey": keys, "musym": [f"U{k}" for k in keys], "muname": "made up"}),
        "component": pd.DataFrame(
            {"cokey": cokey, "mukey": cokey // 3, "compname": "soil", "comppct_r": np.tile([60, 25, 10], UNITS)}
        ),
        "chorizon": pd.DataFrame(
            {"chkey": np.arange(horizons), "cokey": np.arange(horizons) // 4, "hzname": "A", "hzdept_r": top,
             "hzdepb_r": np.tile([20, 50, 100, 180], soils), "sandtotal_r": sand, "claytotal_r": clay,
             "om_r": np.round(random.uniform(0.5, 4, horizons), 2),
             "dbthirdbar_r": np.round(random.uniform(1.2, 1.6, horizons), 2),
             "sieveno10_r": random.integers(60, 100, horizons)}
        ),
        "corestrictions": pd.DataFrame(
            {"cokey": cokey[::5], "reskind": "Lithic bedrock", "reshard": "Indurated",
             "resdept_r": random.integers(100, 180, len(cokey[::5]))}
        ),
    }  # fmt: skip


def polygons() -> gpd.GeoDataFrame:
    """A hundred by a hundred squares."""
    col, row = np.meshgrid(np.arange(SIDE), np.arange(SIDE))
    x, y = WEST + SQUARE * col.ravel(), SOUTH + SQUARE * row.ravel()
    shapes = shapely.box(x, y, x + SQUARE, y + SQUARE)
    number = np.arange(SIDE * SIDE)
    return gpd.GeoDataFrame({"mukey": number % UNITS, "musym": number % UNITS}, geometry=shapes, crs=CRS)


def write(folder: Path, *, as_folder: bool) -> Path:
    """The survey as a GeoPackage, or as the folder of a download."""
    made, frame = tables(np.random.default_rng(3)), polygons()
    if not as_folder:
        path = folder / "survey.gpkg"
        frame.to_file(path, layer="mupolygon")
        for name, table in made.items():
            pyogrio.write_dataframe(table, path, layer=name, append=True)
        return path
    path = folder / "survey"
    (path / "spatial").mkdir(parents=True)
    (path / "tabular").mkdir()
    frame.to_crs("EPSG:4326").to_file(path / "spatial" / "soilmu_a_xx001.shp")
    for name, table in made.items():
        table.to_csv(path / "tabular" / f"{name}.csv", index=False)
    return path


def run(path: Path, readings: int, folder: Path) -> Scene:
    """What a run does with the survey."""
    extent = SIDE * SQUARE
    bounds = Bounds(WEST, SOUTH, WEST + extent, SOUTH + extent)
    ranch = Ranch(crs=CRS, crs_reason="", bounds=bounds, ground=shapely.box(*_box(bounds)), date=DAY)
    table = {"ranch": {"name": "Made up"}, "layers": {"parcels": "p.gpkg", "canopy_cover": "c.tif"}}
    plan = plan_from_table(table, file="p", folder=".", today=DAY)
    request = Request(layer="soils", path=path, spec=LayerSpec(path=path.name))
    soils, units = make_soils(request, (), ranch, plan.ground)
    layers = LayerSet(
        vectors={"soils": soils}, rasters={}, reports=(), crs=CRS, ranch=bounds, soil_units=units,
        readings=_readings(readings),
    )  # fmt: skip
    cells = round(extent / 10.0)
    everywhere = np.ones((cells, cells), dtype=bool)
    scene = Scene(
        plan=plan, grid=Grid(CRS, WEST, SOUTH + extent, 10.0, cells, cells), date=DAY, surfaces={}, vectors={},
        granted=everywhere, ranch=everywhere, digests={},
    )  # fmt: skip
    made = with_ground(scene, layers, ground_of(layers, plan), Store(folder, fresh=True), silent)
    _check(made, layers)
    return made


def _box(b: Bounds) -> tuple[float, float, float, float]:
    return b.west, b.south, b.east, b.north


def _readings(count: int) -> tuple[ProbeReading, ...]:
    random = np.random.default_rng(4)
    places = random.uniform(0.0, SIDE * SQUARE, (count, 2))
    return tuple(
        ProbeReading(
            x_m=WEST + x, y_m=SOUTH + y, top_cm=15.0, bottom_cm=15.0, moisture="moist",
            resistance_mpa=float(random.lognormal(0.5, 0.5)),
        )
        for x, y in places
    )  # fmt: skip


def _check(made: Scene, layers: LayerSet) -> None:
    """Every cell has a figure; without readings ten of them are what their square's unit alone comes to."""
    assert made.ground is not None and np.isfinite(made.ground.resistance_mpa).all()
    if layers.readings:
        return
    per, rows = round(SQUARE / 10.0), made.grid.rows
    for square in range(0, SIDE * SIDE, 997):
        unit = layers.soil_units[str(square % UNITS)]
        wanted = np.exp(unit_strength(profiles(unit, made.plan.ground), 0.0, 60.96, "moist").ln_mpa)
        north, east = square // SIDE * per + per // 2, square % SIDE * per + per // 2
        assert abs(made.ground.resistance_mpa[rows - 1 - north, east] / wanted - 1.0) < 1e-5


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--folder", action="store_true")
    parser.add_argument("--readings", type=int, default=0)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        survey = write(Path(name), as_folder=asked.folder)
        start, began = time.process_time(), time.perf_counter()
        scene = run(survey, asked.readings, Path(name) / "out")
        spent, wall = time.process_time() - start, time.perf_counter() - began
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    print(f"{scene.grid.rows * scene.grid.cols / 1e6:.1f} million cells, {asked.readings} readings: "
          f"{spent:.1f} s CPU, {wall:.1f} s wall, {peak:.0f} MiB at most")  # fmt: skip
