"""All the layers of a plan: parcels first, since they make the ranch, then the others held against it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from boscage.errors import InputError
from boscage.model.groups import CameraData
from boscage.model.layers import (
    LATER_LAYERS,
    RASTER_LAYERS,
    READING_LAYERS,
    LayerReport,
    LayerSet,
    RasterSource,
    VectorLayer,
)
from boscage.model.plan import LAYER_NAMES, Plan
from boscage.model.soil import ProbeReading, SoilUnit
from boscage.readers.camera_layer import make_cameras
from boscage.readers.digest import digest_of
from boscage.readers.parcels import Ranch
from boscage.readers.protocol import RawRaster, RawVector, Reader, Request, check_exists, choose_reader
from boscage.readers.raster_layer import make_raster
from boscage.readers.soils import make_readings, make_soils
from boscage.readers.stem_list import read_stem_list
from boscage.readers.vector_layer import make_parcels, make_vector

CANOPY = ("canopy_cover", "canopy_height")


def read_layers(plan: Plan, readers: Sequence[Reader]) -> LayerSet:
    """Read every layer that the plan names.

    Args:
        plan: The plan.
        readers: The readers to choose from.

    Raises:
        InputError: The first layer that is wrong, parcels first, then in the order of the plan page.
    """
    collected = _Collection(plan, readers, strict=True)
    made = collected.layer_set()
    assert made is not None, "a strict reading raises before this"
    return made


def inspect_layers(plan: Plan, readers: Sequence[Reader]) -> tuple[LayerSet | None, tuple[LayerReport, ...]]:
    """Read every layer that the plan names and go on after an error, which lands in the layer's report.

    Returns:
        The layers that could be read (None when the parcels could not be), and a report for every layer.
    """
    collected = _Collection(plan, readers, strict=False)
    return collected.layer_set(), collected.listed()


class _Collection:
    """Layers read so far, with a report for each."""

    def __init__(self, plan: Plan, readers: Sequence[Reader], *, strict: bool) -> None:
        self.plan, self.readers, self.strict = plan, readers, strict
        self.ranch: Ranch | None = None
        self.vectors: dict[str, VectorLayer] = {}
        self.rasters: dict[str, RasterSource] = {}
        self.soil_units: Mapping[str, SoilUnit] = {}
        self.probe_readings: tuple[ProbeReading, ...] = ()
        self.cameras: CameraData | None = None
        self.camera_places: Mapping[str, tuple[float, float]] = {}
        self.reports: dict[str, LayerReport] = {}
        for name in LAYER_NAMES:
            self._take(name)
        self._need_canopy()

    def listed(self) -> tuple[LayerReport, ...]:
        """Reports in the order of the plan page."""
        return tuple(self.reports[name] for name in LAYER_NAMES)

    def layer_set(self) -> LayerSet | None:
        """The layers, or None without parcels."""
        if self.ranch is None:
            return None
        return LayerSet(
            vectors=self.vectors, rasters=self.rasters, reports=self.listed(), crs=self.ranch.crs,
            crs_reason=self.ranch.crs_reason, ranch=self.ranch.bounds, soil_units=self.soil_units,
            readings=self.probe_readings, cameras=self.cameras, camera_places=self.camera_places,
        )  # fmt: skip

    def _take(self, name: str) -> None:
        spec = self.plan.layers.get(name)
        if spec is None:
            self.reports[name] = LayerReport(name=name, state="missing", read="not given")
            return
        request = Request(layer=name, path=Path(self.plan.folder) / Path(spec.path).expanduser(), spec=spec)
        try:
            self.reports[name] = self._read(request)
        except InputError as error:
            if self.strict:
                raise
            self._blame(name, error, request)

    def _blame(self, name: str, error: InputError, request: Request) -> None:
        self.reports[name] = LayerReport(
            name=name, state="wrong", read="could not be used", error=str(error), source=request.spec.source or ""
        )

    def _read(self, request: Request) -> LayerReport:
        name = request.layer
        if name == "stems":
            return _stem_report(request)
        if name in LATER_LAYERS:
            return _found(request)
        if name in READING_LAYERS:
            return self._readings(request)
        if name == "soils" and self.ranch is not None:
            soils, units = make_soils(request, self.readers, self.ranch, self.plan.ground)
            if soils.report.state != "missing":
                self.vectors[name], self.soil_units = soils, units
            return soils.report
        raw = choose_reader(self.readers, request).read(request)
        if name == "parcels":
            self.vectors[name], self.ranch = make_parcels(raw, self.plan, request)
            return self.vectors[name].report
        return _unplaced(request) if self.ranch is None else self._make(raw, request, self.ranch)

    def _readings(self, request: Request) -> LayerReport:
        """Probes and cameras, which are no features of a map."""
        check_exists(request)
        if self.ranch is None:
            return _unplaced(request)
        if request.layer == "probes":
            report, self.probe_readings = make_readings(request, self.readers, self.ranch)
            return report
        found = make_cameras(request, self.ranch)
        self.cameras, self.camera_places = found.data, found.places
        return found.report

    def _make(self, raw: RawVector | RawRaster, request: Request, ranch: Ranch) -> LayerReport:
        name = request.layer
        made = (make_raster if name in RASTER_LAYERS else make_vector)(raw, ranch, request)  # type: ignore[arg-type]
        if made.report.state != "missing":
            kept: dict = self.rasters if name in RASTER_LAYERS else self.vectors
            kept[name] = made
        return made.report

    def _need_canopy(self) -> None:
        """Without any canopy on the ranch there is nothing to rank."""
        named = [n for n in CANOPY if n in self.plan.layers]
        if self.ranch is None or any(self.reports[n].state != "missing" for n in named):
            return
        for name in named:
            spec = self.plan.layers[name]
            request = Request(layer=name, path=Path(self.plan.folder) / spec.path, spec=spec)
            doubt = self.reports[name].doubts[0].rstrip(".").split(";")[0]
            error = request.error(doubt, expected="canopy data on the ranch", mend="check the file and its CRS")
            if self.strict:
                raise error
            self.reports[name] = replace(self.reports[name], state="wrong", error=str(error))


def _unplaced(request: Request) -> LayerReport:
    """The report of a layer that cannot be held against any ranch."""
    return LayerReport(
        name=request.layer, state="doubtful", read="the file opens",
        doubts=("nothing more was checked, since the parcels could not be read.",),
        source=request.spec.source or "", digest=digest_of(request.path),
    )  # fmt: skip


def _found(request: Request) -> LayerReport:
    """The report of a layer that other commands read: it is there, and no more is known."""
    check_exists(request)
    return LayerReport(
        name=request.layer, state="usable", read="found; not read and not used by scout", date=request.spec.date,
        source=request.spec.source or "", digest=digest_of(request.path),
    )  # fmt: skip


def _stem_report(request: Request) -> LayerReport:
    """The report of a stem list, which `boscage rig` uses.

    Raises:
        InputError: The list is wrong.
    """
    spec = request.spec
    listed = read_stem_list(request.path, name=spec.path, declination_deg=spec.declination or 0.0)
    ways = {"pivot": "by tape and compass", "crs": f"in {listed.crs}", "grid": "in a grid of their own"}
    doubts = list(listed.doubts)
    if listed.frame == "pivot" and spec.pivot is None:
        doubts.append("nobody says where the pivot stands; state pivot = [lon, lat] so that sites can use the list.")
    if listed.frame == "grid":
        doubts.append("nobody says where the grid lies; boscage rig --stems can use the list, sites cannot.")
    return LayerReport(
        name=request.layer, state="doubtful" if doubts else "usable",
        read=f"{len(listed.stems)} stems {ways[listed.frame]}",
        date=spec.date, doubts=tuple(doubts), source=spec.source or "", digest=digest_of(request.path),
    )  # fmt: skip
