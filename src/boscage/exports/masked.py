"""A copy for sharing: squares in place of places, land without names, and nothing of gates, houses or people."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import geopandas as gpd
import numpy as np
import shapely

from boscage.exports.ranch_share import WGS84, RanchPieces
from boscage.model.masked import LEFT_OUT, MaskedRanch, MaskedSquare
from boscage.model.share import Area, ShareSet, Waypoint


def mask_ranch(pieces: RanchPieces) -> MaskedRanch:
    """Squares of the plan's side that hold the sites, and the outline of the land with permission."""
    side, snap = pieces.plan.share.square.m, pieces.plan.share.snap.m
    rows = [s for s in pieces.scout.get("sites", []) if s["site"] in pieces.sites]
    held: dict[tuple[int, int], list[Any]] = {}
    for row in rows:
        held.setdefault((math.floor(row["x_m"] / side), math.floor(row["y_m"] / side)), []).append(row)
    order = sorted(held, key=lambda cell: (-cell[1], cell[0]))
    squares = tuple(_square(n, cell, held[cell], side) for n, cell in enumerate(order, start=1))
    parcels = pieces.vectors["parcels"]
    granted = shapely.union_all(parcels.geometry[parcels["access"] == "granted"].to_numpy())
    return MaskedRanch(
        plan=pieces.plan, crs=pieces.crs, squares=squares, land=snapped(granted, snap), side_m=side, snap_m=snap,
    )  # fmt: skip


def _square(number: int, cell: tuple[int, int], rows: Sequence[Any], side_m: float) -> MaskedSquare:
    return MaskedSquare(
        number=number, x_m=cell[0] * side_m, y_m=cell[1] * side_m, side_m=side_m,
        sites=tuple(r["site"] for r in rows), ranks=tuple(r["rank"] for r in rows),
        supports=tuple(r["support"] for r in rows),
    )  # fmt: skip


def snapped(shape: Any, step_m: float) -> Any:
    """A shape with gaps and pieces narrower than a step closed and every corner on a multiple of the step."""
    wide = shape.buffer(step_m / 2.0, join_style="mitre").buffer(-step_m / 2.0, join_style="mitre")
    return shapely.set_precision(shapely.simplify(wide, step_m / 2.0), step_m)


def masked_layers(masked: MaskedRanch) -> dict[str, gpd.GeoDataFrame]:
    """Layers `squares` and `land` of the masked GeoPackage."""
    squares, crs = masked.squares, masked.crs
    table = {
        "square": [s.number for s in squares], "sites": [", ".join(s.sites) for s in squares],
        "count": [len(s.sites) for s in squares], "best_rank": [min(s.ranks) for s in squares],
        "supports": [", ".join(sorted(set(s.supports))) for s in squares],
    }  # fmt: skip
    land = shapely.MultiPolygon([g for g in shapely.get_parts(masked.land) if g.geom_type == "Polygon"])
    return {
        "squares": gpd.GeoDataFrame(table, geometry=[s.shape for s in squares], crs=crs),
        "land": gpd.GeoDataFrame({"land": ["with permission, outline moved"]}, geometry=[land], crs=crs),
    }


def masked_set(masked: MaskedRanch) -> ShareSet:
    """The same for phones: middles of squares as places, squares and land as areas."""
    plan, side = masked.plan, masked.side_m
    frames = {name: frame.to_crs(WGS84) for name, frame in masked_layers(masked).items()}
    middles = gpd.GeoSeries([s.shape.centroid for s in masked.squares], crs=masked.crs).to_crs(WGS84)
    words = f"somewhere in a square of {side / 1000.0:g} km; its middle is no place of a set"
    points = tuple(
        Waypoint(
            name=f"Square {s.number}", lon=round(p.x, 4), lat=round(p.y, 4), kind="other",
            text=f"{', '.join(s.sites)} {words}",
        )
        for s, p in zip(masked.squares, middles, strict=True)
    )  # fmt: skip
    areas = [
        Area(name=f"Square {s.number}", polygons=_coarse(shape), text=f"{', '.join(s.sites)} {words}")
        for s, shape in zip(masked.squares, frames["squares"].geometry, strict=True)
    ]
    areas.append(Area(name="Land with permission", polygons=_coarse(frames["land"].geometry.iloc[0]), kind="parcel"))
    return ShareSet(
        title=f"{plan.ranch.name}, masked copy", date=plan.date, waypoints=points, areas=tuple(areas),
        note=" ".join([LEFT_OUT, plan.ranch.note or ""]).strip(),
    )  # fmt: skip


def _coarse(shape: Any) -> Any:
    """Corners to four digits of a degree, about 11 m."""
    return shapely.transform(shape, lambda xy: np.round(xy, 4))
