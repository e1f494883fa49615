"""The parcels: they give the ranch its CRS, its extent and its permission."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from boscage.errors import CrsError
from boscage.readers.columns import listed
from boscage.readers.crs import WGS84, check_numbers, choose_crs, doubt_shift, settle_crs, swapped
from boscage.readers.features import ACCESS
from boscage.readers.geometry import check_finite, clean_geometries
from boscage.readers.protocol import RawVector, Request
from boscage.values import Bounds

if TYPE_CHECKING:
    import geopandas
    from pyproj import CRS

    from boscage.model.plan import Plan

LEAST_HA, MOST_HA = 1.0, 200_000.0
SLIVER_M2 = 10.0


@dataclass(frozen=True, kw_only=True)
class Ranch:
    """What the other layers are held against.

    Attributes:
        crs: Working CRS.
        crs_reason: Why this one.
        bounds: Rectangle of the parcels, metres.
        ground: Union of all parcels, shapely.
        date: The plan's date.
    """

    crs: str
    crs_reason: str
    bounds: Bounds
    ground: shapely.Geometry
    date: dt.date

    @property
    def area_m2(self) -> float:
        """Area of all parcels together."""
        return float(self.ground.area)

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Least x, least y, greatest x, greatest y, metres."""
        return self.bounds.west, self.bounds.south, self.bounds.east, self.bounds.north


def place_parcels(
    raw: RawVector, plan: Plan, request: Request
) -> tuple[geopandas.GeoDataFrame, Ranch, CRS, tuple[str, ...]]:
    """Clean the parcels, choose the working CRS and bring them into it.

    Returns:
        The frame, the ranch, the file's CRS and doubts.

    Raises:
        LayerError: There is no parcel, or a geometry is no polygon.
        CrsError: The file's CRS is missing or contradicts the numbers, or the plan's CRS does not fit.
    """
    frame, doubts = clean_geometries(raw.frame, request)
    own = settle_crs(frame.crs, request)
    if frame.empty:
        raise request.error("the layer holds no parcel", expected="at least one polygon")
    check_numbers(tuple(frame.total_bounds), own, request)
    frame = frame.set_crs(own, allow_override=True)
    degrees = frame.to_crs(WGS84).total_bounds
    if not np.isfinite(degrees).all():
        raise CrsError(
            "the parcels cannot be expressed in longitude and latitude", mend="check the file's CRS",
            file=request.spec.path, layer=request.layer,
        )  # fmt: skip
    lon, lat = float(degrees[0] + degrees[2]) / 2.0, float(degrees[1] + degrees[3]) / 2.0
    if lat < -60.0:
        raise swapped(request, f"the parcels come to lie at latitude {lat:.2f}")
    crs, reason = choose_crs(plan.ranch.crs, lon, lat, file=plan.file)
    frame = frame.to_crs(crs)
    check_finite(frame, request, crs)
    ground = shapely.union_all(frame.geometry.to_numpy())
    ranch = Ranch(crs=crs, crs_reason=reason, bounds=Bounds(*map(float, ground.bounds)), ground=ground, date=plan.date)
    return frame, ranch, own, (*doubts, *doubt_shift(own, crs, ground.bounds))


def doubt_parcels(frame: geopandas.GeoDataFrame, ranch: Ranch) -> tuple[str, ...]:
    """Doubts on the size of the ranch and on parcels that lie over one another with different access."""
    doubts = []
    hectares = ranch.area_m2 / 10_000.0
    if hectares < LEAST_HA:
        doubts.append(f"all parcels together have only {hectares:.2f} ha; check the file's CRS and units.")
    if hectares > MOST_HA:
        doubts.append(f"all parcels together have {hectares:,.0f} ha; check the file's CRS and units.")
    shapes = frame.geometry.to_numpy()
    first, second = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    access = frame["access"].to_numpy()
    pairs = (first < second) & (access[first] != access[second])
    first, second = first[pairs], second[pairs]
    shared = shapely.area(shapely.intersection(shapes[first], shapes[second]))
    names = frame["parcel"].to_numpy()
    found = [
        f"{names[a]} ({access[a]}) and {names[b]} ({access[b]}) by {m2 / 10_000.0:.2f} ha"
        for a, b, m2 in zip(first, second, shared, strict=True)
        if m2 > SLIVER_M2
    ]
    if found:
        doubts.append(f"parcels with different access overlap: {listed(found, most=3)}; the stricter word holds there.")
    return tuple(doubts)


def count_access(frame: geopandas.GeoDataFrame) -> str:
    """How many parcels have each access word."""
    counts = frame["access"].value_counts()
    return ", ".join(f"{counts[word]} {word}" for word in ACCESS if word in counts)
