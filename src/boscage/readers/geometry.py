"""Geometries made fit for use: right kind, not empty, valid, flat; and where they lie against the ranch."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from boscage.readers.columns import listed
from boscage.readers.crs import swapped
from boscage.readers.protocol import Request
from boscage.values import Bounds

if TYPE_CHECKING:
    import geopandas
    from pyproj import CRS

POINT, LINE, POLYGON = {0, 4}, {1, 2, 5}, {3, 6}
ALLOWED: Mapping[str, tuple[set[int], str]] = {
    "parcels": (POLYGON, "polygons"),
    "tracks": (LINE, "lines"),
    "gates": (POINT, "points"),
    "fences": (LINE, "lines"),
    "dwellings": (POINT | POLYGON, "points or polygons"),
    "water": (LINE | POLYGON, "lines or polygons"),
    "power_lines": (LINE | POINT, "lines"),
    "no_go": (POLYGON, "polygons"),
    "soils": (POLYGON, "polygons"),
    "sign": (POINT, "points"),
    "searched": (LINE, "lines"),
}
NAMES = ("point", "line", "ring", "polygon", "multipoint", "multiline", "multipolygon", "collection")
FAR_M = 5000.0


def clean_geometries(frame: geopandas.GeoDataFrame, request: Request) -> tuple[geopandas.GeoDataFrame, tuple[str, ...]]:
    """Drop empty geometries and heights, repair invalid polygons, and make single points of multipoints.

    Returns:
        The frame with index 0..n-1, and a doubt for each thing that was done, with the rows.

    Raises:
        LayerError: A geometry is of a kind that the layer cannot hold.
    """
    doubts = []
    values = frame.geometry.to_numpy()
    empty = shapely.is_missing(values) | shapely.is_empty(values)
    if empty.any():
        rows = listed(frame["row"][empty])
        doubts.append(f"rows without a place: {empty.sum()} of {len(frame)} (rows {rows}); they are left out; fill in.")
        frame = frame[~empty]
        values = values[~empty]
    values = np.array([_single(g) for g in shapely.force_2d(values)], dtype=object)
    allowed, words = ALLOWED[request.layer]
    kinds = shapely.get_type_id(values)
    wrong = ~np.isin(kinds, list(allowed))
    if wrong.any():
        first = int(np.flatnonzero(wrong)[0])
        raise request.error(
            f"the layer holds {wrong.sum()} of the kind {NAMES[kinds[first]]}", expected=words,
            mend="name the right file or layer", row=int(frame["row"].iloc[first]),
        )  # fmt: skip
    bad = ~shapely.is_valid(values) & np.isin(kinds, list(POLYGON))
    if bad.any():
        rows = listed(frame["row"][bad])
        values[bad] = [_polygons(g) for g in shapely.make_valid(values[bad])]
        doubts.append(f"polygons that cross themselves: {bad.sum()} (rows {rows}); repaired; look at their shapes.")
    kept = ~shapely.is_empty(values)
    frame = frame[kept].reset_index(drop=True)
    frame = frame.set_geometry(list(values[kept]), crs=frame.crs)
    if allowed == POINT:
        frame = frame.explode(ignore_index=True)
    return frame, tuple(doubts)


def _single(geometry: shapely.Geometry) -> shapely.Geometry:
    """A collection with one member, or members of one kind, as that kind."""
    if shapely.get_type_id(geometry) != 7:
        return geometry
    parts = shapely.get_parts(geometry)
    kinds = set(shapely.get_type_id(parts).tolist())
    if kinds == {0}:
        return shapely.multipoints(parts)
    if kinds == {1}:
        return shapely.multilinestrings(parts)
    return shapely.multipolygons(parts) if kinds == {3} else geometry


def _polygons(geometry: shapely.Geometry) -> shapely.Geometry:
    """The polygon parts of a repaired geometry."""
    parts = shapely.get_parts(shapely.get_parts(geometry))
    kept = parts[shapely.get_type_id(parts) == 3]
    return shapely.multipolygons(kept) if len(kept) != 1 else kept[0]


def check_finite(frame: geopandas.GeoDataFrame, request: Request, crs: str) -> None:
    """Refuse places that the change of CRS has thrown to infinity.

    Raises:
        LayerError: A coordinate is infinite.
    """
    bounds = shapely.bounds(frame.geometry.to_numpy())
    bad = ~np.isfinite(bounds).all(axis=1)
    if bad.any():
        row = int(frame["row"][bad].iloc[0])
        raise request.error(
            f"the place cannot be expressed in the ranch's CRS {crs}", mend="check the coordinates and the CRS", row=row
        )


def far_away(frame: geopandas.GeoDataFrame, ranch: Bounds) -> NDArray[np.bool_]:
    """Which features lie more than 5 km from the ranch's rectangle."""
    box = ranch.padded(FAR_M)
    b = shapely.bounds(frame.geometry.to_numpy()).reshape(-1, 4)
    return (b[:, 0] > box.east) | (b[:, 2] < box.west) | (b[:, 1] > box.north) | (b[:, 3] < box.south)


def check_swapped(
    raw: geopandas.GeoDataFrame, far: NDArray[np.bool_], ranch: Bounds, crs: str, request: Request
) -> None:
    """Refuse far-away features that would lie at the ranch if x and y were exchanged.

    Args:
        raw: The cleaned features in the file's CRS.
        far: Which of them lie far away as they stand.

    Raises:
        CrsError: Exchanging the axes brings one of them to the ranch.
    """
    if not far.any():
        return
    turned = shapely.transform(raw.geometry.to_numpy()[far], lambda c: c[:, ::-1])
    near = ~far_boxes(shapely.bounds(turned), ranch, raw.crs, crs)
    if near.any():
        row = int(raw["row"].to_numpy()[far][near][0])
        raise swapped(request, f"row {row} lies far away, and at the ranch once x and y are exchanged")


def far_boxes(boxes: NDArray[np.float64], ranch: Bounds, source: CRS, crs: str) -> NDArray[np.bool_]:
    """Which boxes (N, 4: least x, least y, greatest x, greatest y in the source CRS) lie more than 5 km away.

    Judged by each box's middle, which is enough to tell a place on the ranch from one on another continent.
    """
    from pyproj import Transformer

    boxes = boxes.reshape(-1, 4)
    middle_x, middle_y = (boxes[:, 0] + boxes[:, 2]) / 2.0, (boxes[:, 1] + boxes[:, 3]) / 2.0
    x, y = Transformer.from_crs(source, crs, always_xy=True).transform(middle_x, middle_y)
    box = ranch.padded(FAR_M)
    inside = (x >= box.west) & (x <= box.east) & (y >= box.south) & (y <= box.north)
    return ~inside
