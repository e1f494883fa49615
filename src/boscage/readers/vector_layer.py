"""From features as a file holds them to a `VectorLayer` in the ranch's CRS, with what is to be said of it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np
import shapely

from boscage.model.layers import LayerReport, VectorLayer
from boscage.readers.columns import cell, rename_columns
from boscage.readers.crs import check_numbers, crs_name, crs_text, doubt_shift, settle_crs
from boscage.readers.digest import digest_of
from boscage.readers.features import apply_rules
from boscage.readers.fencing import count_gates
from boscage.readers.geometry import check_finite, check_swapped, clean_geometries, far_away
from boscage.readers.parcels import Ranch, count_access, doubt_parcels, place_parcels
from boscage.readers.protocol import RawVector, Request

if TYPE_CHECKING:
    import datetime as dt

    import geopandas

    from boscage.model.plan import Plan


def make_parcels(raw: RawVector, plan: Plan, request: Request) -> tuple[VectorLayer, Ranch]:
    """The parcel layer, and the ranch that it makes.

    Raises:
        InputError: The parcels cannot be used; the message says why.
    """
    renamed, notes = rename_columns(raw.frame, request)
    raw = RawVector(frame=renamed, notes=raw.notes, doubts=raw.doubts)
    placed, ranch, own, doubts = place_parcels(raw, plan, request)
    frame, more = apply_rules(placed, request, plan.date)
    doubts = (*raw.doubts, *doubts, *more, *doubt_parcels(frame, ranch))
    said = (_count(frame), count_access(frame), *raw.notes, *notes)
    report = _report(frame, request, said, doubts, crs=crs_name(crs_text(own)))
    return VectorLayer(name=request.layer, frame=frame, report=report), ranch


def make_vector(raw: RawVector, ranch: Ranch, request: Request) -> VectorLayer:
    """Any other vector layer; its report's state is `missing` when it holds nothing at the ranch.

    Raises:
        InputError: The layer cannot be used; the message says why.
    """
    renamed, notes = rename_columns(raw.frame, request)
    cleaned, doubts = clean_geometries(renamed, request)
    doubts = [*raw.doubts, *doubts]
    if cleaned.empty:
        doubts.append("the layer holds no features: that is no evidence that there are none.")
        report = _report(cleaned, request, ("no features", *raw.notes), doubts, state="missing")
        return VectorLayer(name=request.layer, frame=cleaned.set_crs(ranch.crs, allow_override=True), report=report)
    own = settle_crs(cleaned.crs, request)
    cleaned = cleaned.set_crs(own, allow_override=True)
    check_numbers(tuple(cleaned.total_bounds), own, request)
    frame = cleaned.to_crs(ranch.crs)
    if not np.isfinite(frame.total_bounds).all():
        check_swapped(cleaned, ~_finite(frame), ranch.bounds, ranch.crs, request)
    check_finite(frame, request, ranch.crs)
    far = far_away(frame, ranch.bounds)
    check_swapped(cleaned, far, ranch.bounds, ranch.crs, request)
    frame, more = apply_rules(frame, request, ranch.date)
    doubts += [*more, *doubt_shift(own, ranch.crs, ranch.box)]
    said = [_count(frame), *raw.notes, *notes]
    if request.layer == "gates":
        said.insert(1, count_gates(frame))
    state = None
    if far.all():
        state = "missing"
        doubts.append("the layer does not overlap the ranch; check its CRS, or name the right file.")
    elif far.any():
        said.insert(1, f"{far.sum()} of them more than 5 km from the ranch")
    report = _report(
        frame,
        request,
        said,
        doubts,
        state=state,
        crs=crs_name(crs_text(own)),
        coverage=_coverage(frame, ranch, request),
    )
    return VectorLayer(name=request.layer, frame=frame, report=report)


def _finite(frame: geopandas.GeoDataFrame) -> np.ndarray:
    return np.isfinite(shapely.bounds(frame.geometry.to_numpy())).all(axis=1)


def _count(frame: geopandas.GeoDataFrame) -> str:
    """How many features of which kind."""
    kinds = frame.geometry.geom_type.str.removeprefix("Multi").str.lower().replace("linestring", "line")
    counts = kinds.value_counts()
    return " and ".join(f"{n} {kind}{'' if n == 1 else 's'}" for kind, n in sorted(counts.items()))


def _coverage(frame: geopandas.GeoDataFrame, ranch: Ranch, request: Request) -> float | None:
    """Share of the parcels' area under the soil polygons; None for layers where a share means nothing."""
    if request.layer != "soils":
        return None
    shapes = frame.geometry.to_numpy()
    near = shapes[shapely.STRtree(shapes).query(ranch.ground, predicate="intersects")]
    shared = shapely.union_all(shapely.intersection(near, ranch.ground))
    return min(1.0, float(shared.area) / ranch.area_m2)


def _report(
    frame: geopandas.GeoDataFrame,
    request: Request,
    said: Iterable[str],
    doubts: Iterable[str],
    **facts: object,
) -> LayerReport:
    doubts = tuple(doubts)
    state = facts.pop("state", None) or ("doubtful" if doubts else "usable")
    return LayerReport(
        name=request.layer,
        state=str(state),
        read="; ".join(s for s in said if s),
        date=request.spec.date or _newest(frame),
        doubts=doubts,
        source=request.spec.source or _source(frame),
        digest=digest_of(request.path),
        **facts,  # type: ignore[arg-type]
    )


def _newest(frame: geopandas.GeoDataFrame) -> dt.date | None:
    """Newest day of the rows that are not dated in the future."""
    if "age_days" not in frame.columns:
        return None
    days = frame["date"][~frame["future"]].dropna()
    return days.max().date() if len(days) else None


def _source(frame: geopandas.GeoDataFrame) -> str:
    """What the file's own column `source` says, when it says few things."""
    if "source" not in frame.columns:
        return ""
    words = sorted({cell(v) for v in frame["source"]} - {""})
    return "; ".join(words) if len(words) <= 3 else ""
