"""Small scenes for tests: a square of granted land on a grid, with the surfaces and layers that a test gives."""

from __future__ import annotations

import datetime as dt
import tomllib
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import shapely

from boscage.exports.store import Store
from boscage.model.fields import burn
from boscage.model.layers import LayerReport, LayerSet, VectorLayer
from boscage.model.plan import plan_from_table
from boscage.model.scene import Scene, Surface
from boscage.model.soil import ProbeReading
from boscage.pipeline.ground import ground_of, with_ground
from boscage.pipeline.progress import silent
from boscage.readers.soil_columns import units_of_columns
from boscage.siting.land import make_land
from boscage.values import Bounds, Grid

CRS = "EPSG:32615"
X, Y = 500_000.0, 4_000_000.0
DAY = dt.date(2026, 11, 21)
PLAN = '[ranch]\nname = "Square"\n[layers]\nparcels = "p.gpkg"\ncanopy_cover = "c.tif"\n'


def layer(name: str, shapes: list[shapely.Geometry], /, **columns: object) -> VectorLayer:
    """A layer of shapes given in local metres (east, north of the square's south-west corner)."""
    moved = [shapely.transform(shape, lambda c: c + (X, Y)) for shape in shapes]
    frame = gpd.GeoDataFrame(columns, geometry=moved, crs=CRS)
    return VectorLayer(name=name, frame=frame, report=LayerReport(name=name, state="usable", read=""))


def square(u0: float, v0: float, u1: float, v1: float) -> shapely.Polygon:
    return shapely.box(u0, v0, u1, v1)


def scene(
    side: float = 2000.0, cell: float = 10.0, text: str = "", surfaces: dict[str, np.ndarray] | None = None,
    **layers: VectorLayer,
) -> Scene:  # fmt: skip
    """A square ranch, all granted unless `parcels` says otherwise; row 0 of every surface is the north edge."""
    layers.setdefault("parcels", layer("parcels", [square(0, 0, side, side)], parcel=["1"], access=["granted"]))
    n = round(side / cell)
    grid = Grid(CRS, X, Y + side, cell, n, n)
    land = make_land(layers["parcels"].frame)
    made = {name: Surface(values=v.astype(np.float32), note="made") for name, v in (surfaces or {}).items()}
    plan = plan_from_table(tomllib.loads(PLAN + text), file="p", folder=".", today=DAY)
    return Scene(
        plan=plan, grid=grid, date=DAY, surfaces=made, vectors=layers, granted=burn(land.granted, grid),
        ranch=burn(land.ranch, grid), digests={},
    )  # fmt: skip


def at(made: Scene, u: float, v: float) -> tuple[int, int]:
    """Row and column of a local place."""
    return made.grid.index(X + u, Y + v)


def with_soils(made: Scene, soils: VectorLayer | None, tmp: Path, readings: tuple[ProbeReading, ...] = ()) -> Scene:
    """The scene with its ground, from plain soil polygons and readings."""
    units, vectors = {}, dict(made.vectors)
    if soils is not None:
        frame, units = units_of_columns(soils.frame.assign(row=range(1, len(soils.frame) + 1)))
        vectors["soils"] = replace(soils, frame=frame)
    bounds = Bounds(X, Y, X + made.grid.cols * made.grid.cell_m, made.grid.north)
    layers = LayerSet(
        vectors=vectors, rasters={}, reports=(), crs=CRS, ranch=bounds, soil_units=units, readings=readings
    )
    return with_ground(made, layers, ground_of(layers, made.plan), Store(tmp, fresh=True), silent)
