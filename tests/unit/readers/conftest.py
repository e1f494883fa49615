"""A small invented ranch written to a temporary folder, and the readers by themselves."""

from __future__ import annotations

import datetime as dt
import warnings
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pytest
import rasterio
import shapely
from rasterio.transform import from_origin

from boscage.model.layers import LayerSet
from boscage.model.plan import Plan
from boscage.readers.layers import inspect_layers, read_layers
from boscage.readers.plan_file import read_plan
from boscage.readers.raster import RasterReader
from boscage.readers.table import TableReader
from boscage.readers.vector import VectorReader

WEST, NORTH = 520_000.0, 4_008_000.0
CRS = "EPSG:32615"


@dataclass
class Folder:
    """Writes layers beside one another and a plan that names them."""

    path: Path
    layers: dict[str, str] = field(default_factory=dict)
    ranch: str = ""
    extra: str = ""

    west: float = WEST
    north: float = NORTH
    crs: str = CRS

    def vector(self, file: str, shapes: list[Any], crs: Any = CRS, **columns: Any) -> Path:
        """Write shapes of the ranch's own CRS in another CRS, or with none stated."""
        frame = gpd.GeoDataFrame(columns, geometry=shapes, crs=CRS)
        frame = frame.to_crs(crs) if crs is not None else frame.set_crs(None, allow_override=True)
        target = self.path / file
        with warnings.catch_warnings():
            warnings.simplefilter("ignore" if crs is None else "error", UserWarning)
            frame.to_file(target)
        return target

    def raster(
        self, file: str, values: np.ndarray, cell: float = 10.0, *, crs: str | None = CRS, west: float = WEST,
        north: float = NORTH, **facts: Any,
    ) -> Path:  # fmt: skip
        target = self.path / file
        target.parent.mkdir(exist_ok=True)
        transform = facts.pop("transform", from_origin(west, north, cell, cell))
        after = {k: facts.pop(k) for k in ("units", "scales", "offsets", "tags", "mask", "more") if k in facts}
        bands = 1 + len(after.get("more", []))
        profile = {
            "driver": "GTiff", "height": values.shape[0], "width": values.shape[1], "count": bands,
            "dtype": values.dtype.name, "crs": crs, "transform": transform, **facts,
        }  # fmt: skip
        with rasterio.Env(GDAL_TIFF_INTERNAL_MASK=True), rasterio.open(target, "w", **profile) as out:
            out.write(values, 1)
            for number, band in enumerate(after.get("more", []), start=2):
                out.write(band, number)
            if "units" in after:
                out.units = (after["units"],) * bands
            if "scales" in after:
                out.scales, out.offsets = (after["scales"],), (after["offsets"],)
            if "tags" in after:
                out.update_tags(**after["tags"])
            if "mask" in after:
                out.write_mask(after["mask"])
        return target

    def parcels(self, **changes: Any) -> None:
        """Two square parcels of 100 ha side by side, the western one granted."""
        shapes = [square(0, 0, 1000), square(1000, 0, 1000)]
        columns = {"parcel": ["P-1", "P-2"], "owner": ["North", "South"], "access": ["granted", "refused"]}
        file = changes.pop("file", "parcels.gpkg")
        self.vector(file, changes.pop("shapes", shapes), changes.pop("crs", CRS), **{**columns, **changes})
        self.layers["parcels"] = f'"{file}"'

    def plan_file(self) -> Path:
        lines = ['[ranch]\nname = "Test Hollow"\ndate = 2026-11-21', self.ranch, "[layers]"]
        lines += [f"{name} = {value}" for name, value in self.layers.items()]
        target = self.path / "plan.toml"
        target.write_text("\n".join([*lines, self.extra]) + "\n", encoding="utf-8")
        return target

    def plan(self) -> Plan:
        return read_plan(self.plan_file(), today=dt.date(2026, 12, 1))

    def read(self) -> LayerSet:
        return read_layers(self.plan(), READERS)

    def inspect(self) -> tuple[LayerSet | None, dict[str, Any]]:
        found, reports = inspect_layers(self.plan(), READERS)
        return found, {r.name: r for r in reports}


READERS = (RasterReader(), TableReader(), VectorReader())


def square(east: float, south: float, side: float) -> shapely.Polygon:
    """A square given by its north-west corner, metres east and south of the ranch's."""
    return shapely.box(WEST + east, NORTH - south - side, WEST + east + side, NORTH - south)


def line(*points: tuple[float, float]) -> shapely.LineString:
    """A line through places in metres east and south of the ranch's north-west corner."""
    return shapely.LineString([(WEST + e, NORTH - s) for e, s in points])


def point(east: float, south: float) -> shapely.Point:
    return shapely.Point(WEST + east, NORTH - south)


@pytest.fixture
def bare(tmp_path: Path) -> Folder:
    """An empty folder."""
    return Folder(tmp_path)


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    """A folder with the two parcels and 10 m canopy cover in per cent."""
    made = Folder(tmp_path)
    made.parcels()
    cover = np.arange(100 * 200, dtype=np.uint8).reshape(100, 200) % 101
    made.raster("cover.tif", cover.astype(np.uint8), nodata=255)
    made.layers["canopy_cover"] = '"cover.tif"'
    return made


class Shapes:
    """The makers above, for tests that cannot import this file."""

    square = staticmethod(square)
    line = staticmethod(line)
    point = staticmethod(point)
    readers = READERS
    west, north, crs = WEST, NORTH, CRS
    folder = Folder


@pytest.fixture(scope="session")
def shapes() -> type[Shapes]:
    return Shapes
