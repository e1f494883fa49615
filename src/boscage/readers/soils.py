"""The two layers that tell of the ground: soils, from a survey or from plain polygons, and penetrometer readings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from boscage.model.layers import LayerReport, VectorLayer
from boscage.model.soil import ProbeReading, SoilUnit
from boscage.readers.digest import digest_of
from boscage.readers.probes import make_probes
from boscage.readers.protocol import Reader, Request, check_exists, choose_reader
from boscage.readers.soil_columns import units_of_columns
from boscage.readers.ssurgo import holds_survey, read_survey
from boscage.readers.vector_layer import make_vector

if TYPE_CHECKING:
    import geopandas

    from boscage.model.soil import SoilOptions
    from boscage.readers.parcels import Ranch
    from boscage.values import Grid


def make_soils(
    request: Request, readers: Sequence[Reader], ranch: Ranch, options: SoilOptions
) -> tuple[VectorLayer, Mapping[str, SoilUnit]]:
    """The soil polygons, each with a column `unit`, and the map units that it names.

    Raises:
        InputError: The layer cannot be used; the message says why.
    """
    check_exists(request)
    if holds_survey(request.path):
        survey = read_survey(request, options, summary=False)
        layer = make_vector(survey.raw, ranch, request)
        kept = set(layer.frame["unit"]) if len(layer.frame) else set()
        return layer, {key: unit for key, unit in survey.units.items() if key in kept}
    layer = make_vector(choose_reader(readers, request).read(request), ranch, request)
    if layer.frame.empty:
        return layer, {}
    frame, units = units_of_columns(layer.frame, layer.report.source)
    return replace(layer, frame=frame), units


def make_readings(
    request: Request, readers: Sequence[Reader], ranch: Ranch
) -> tuple[LayerReport, tuple[ProbeReading, ...]]:
    """What is to be said of the penetrometer readings, and the readings; its state is `missing` without any here.

    Raises:
        InputError: The layer cannot be used; the message says why.
    """
    raw = choose_reader(readers, request).read(request)
    made = make_probes(raw, ranch.crs, request, ranch.date, ranch.bounds)
    days = [r.date for r in made.readings if r.date is not None and r.date <= ranch.date]
    state = "missing" if not made.readings else "doubtful" if made.doubts else "usable"
    doubts = made.doubts
    if state == "missing":
        doubts = (*doubts, "no reading lies at the ranch; check the CRS, or name the right file.")
    report = LayerReport(
        name=request.layer, state=state, read="; ".join(made.notes), date=request.spec.date or max(days, default=None),
        doubts=doubts, source=request.spec.source or "", digest=digest_of(request.path),
    )  # fmt: skip
    return report, made.readings


def unit_cells(frame: geopandas.GeoDataFrame, grid: Grid) -> NDArray[np.int32]:
    """(rows, cols) row of the polygon that holds each cell's centre, -1 where none does; of two the later."""
    from affine import Affine
    from rasterio.features import rasterize

    shapes = [(shape, k) for k, shape in enumerate(frame.geometry) if shape is not None and not shape.is_empty]
    if not shapes:
        return np.full(grid.shape, -1, dtype=np.int32)
    place = Affine(grid.cell_m, 0.0, grid.west, 0.0, -grid.cell_m, grid.north)
    return rasterize(shapes, out_shape=grid.shape, transform=place, fill=-1, dtype="int32")


def units_at(frame: geopandas.GeoDataFrame | None, points: NDArray[np.float64]) -> tuple[str, ...]:
    """Map unit that each of (M, 2) places lies in, '' where no polygon reaches; the later of two that overlap."""
    if frame is None or frame.empty or not len(points):
        return ("",) * len(points)
    tree = shapely.STRtree(frame.geometry.to_numpy())
    which, polygon = tree.query(shapely.points(points), predicate="intersects")
    found = np.full(len(points), -1)
    np.maximum.at(found, which, polygon)
    keys = frame["unit"].tolist()
    return tuple("" if k < 0 else str(keys[k]) for k in found)
