"""Layers as the rest of the program sees them: no paths, no drivers, one projected CRS in metres."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol

import numpy as np
from numpy.typing import NDArray

from boscage.model.options import option
from boscage.values import Bounds, Grid

if TYPE_CHECKING:
    import geopandas

    from boscage.model.groups import CameraData
    from boscage.model.soil import ProbeReading, SoilUnit

RASTER_LAYERS = ("canopy_cover", "canopy_height", "terrain")
VECTOR_LAYERS = (
    "parcels", "tracks", "gates", "fences", "dwellings", "water", "power_lines", "no_go", "soils", "sign",
    "searched",
)  # fmt: skip
READING_LAYERS = ("probes", "cameras")
LATER_LAYERS = ("stems", "log")
LAYER_TITLES: Mapping[str, str] = {
    "parcels": "parcels", "canopy_cover": "canopy cover", "canopy_height": "canopy height", "terrain": "terrain",
    "tracks": "roads and tracks", "gates": "gates", "fences": "fences", "dwellings": "dwellings", "water": "water",
    "power_lines": "power lines", "no_go": "no-go areas", "soils": "soils", "sign": "sign",
    "searched": "searched lines", "probes": "soil probes",
    "cameras": "cameras", "stems": "stem lists", "log": "log",
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class LayerSpec:
    """Where a layer comes from, as the plan states it: a path, or a table with these keys."""

    path: str = option(help="File or folder, relative to the plan file.")
    layer: str | None = option(None, help="Layer inside the file, where it holds several; several joined by a comma.")
    columns: Mapping[str, str] = option(
        factory=dict, help="Our column name = the file's column name, where the two differ."
    )
    unit: str | None = option(
        None, help="Unit of the numbers: m, ft, us-ft, dm or cm (heights); percent or fraction (cover)."
    )
    crs: str | None = option(None, help="CRS of the coordinates where the file does not state one, such as EPSG:4326.")
    date: dt.date | None = option(None, help="Day that the data describe, where the file does not say.")
    source: str | None = option(None, help="Who made it and how, printed on the sheets.")
    pivot: tuple[float, float] | None = option(
        None, help="Place of a tape-and-compass stem list's pivot as [lon, lat], WGS 84.", low=-180.0, high=180.0
    )
    declination: float | None = option(
        None,
        help="Declination of a stem list's bearings, degrees, east positive.",
        unit="degrees",
        low=-90.0,
        high=90.0,
    )


@dataclass(frozen=True, kw_only=True)
class LayerReport:
    """What `boscage check` says of one layer.

    Attributes:
        name: The plan's key.
        state: `usable`, `doubtful`, `wrong` or `missing`.
        read: What was read, one phrase.
        coverage: Share of the ranch that has data, 0..1, or None where it means nothing.
        date: Day that the data describe, or None.
        doubts: Sentences, each with what to do.
        error: The error's sentence when the state is `wrong`.
        source: Who made it, as the plan or the file says.
        crs: The file's CRS.
        digest: Hash of the content, or ''.
    """

    name: str
    state: str
    read: str
    coverage: float | None = None
    date: dt.date | None = None
    doubts: tuple[str, ...] = ()
    error: str = ""
    source: str = ""
    crs: str = ""
    digest: str = ""


@dataclass(frozen=True, kw_only=True)
class VectorLayer:
    """Features in the ranch's CRS.

    Attributes:
        name: The plan's key.
        frame: GeoDataFrame with the layer's columns under our names; geometry valid, not empty; index 0..n-1;
            column `row` holds the row in the file, counted from 1.
        report: What was read.
    """

    name: str
    frame: geopandas.GeoDataFrame
    report: LayerReport


class RasterSource(Protocol):
    """A raster that can be read piece by piece in the ranch's CRS."""

    @property
    def native_cell_m(self) -> float:
        """Size of the file's own cells in metres on the ground."""
        ...

    @property
    def report(self) -> LayerReport:
        """What is known of it."""
        ...

    def read(self, grid: Grid, *, smooth: bool = False) -> NDArray[np.float32]:
        """Values in the layer's SI unit (metres, per cent) on a grid; NaN where there are none.

        The nearest cell's value, or bilinear between cell centres with `smooth`.
        """
        ...


@dataclass(frozen=True, kw_only=True)
class LayerSet:
    """All the layers that a plan names and that could be read.

    Attributes:
        vectors: By plan key.
        rasters: By plan key.
        reports: One for every layer named or missing, in the order of the plan page.
        crs: The ranch's CRS; `crs_reason` says why this one.
        ranch: Bounds of the parcels, metres.
        soil_units: Map units of the soils by key; the soils' column `unit` names them.
        readings: Penetrometer readings.
        cameras: What cameras saw, or None without any; `camera_places` says where each stood, east and north.
        problems: Sentences on the layers together.
    """

    vectors: Mapping[str, VectorLayer]
    rasters: Mapping[str, RasterSource]
    reports: tuple[LayerReport, ...]
    crs: str
    ranch: Bounds
    soil_units: Mapping[str, SoilUnit] = field(default_factory=dict)
    readings: tuple[ProbeReading, ...] = ()
    cameras: CameraData | None = None
    camera_places: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    problems: tuple[str, ...] = field(default=())
    crs_reason: str = ""

    def missing(self) -> tuple[str, ...]:
        """Names of optional layers that the plan does not give or that hold nothing usable."""
        return tuple(r.name for r in self.reports if r.state == "missing")
