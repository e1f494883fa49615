"""The ranch for phones and other programs: its layers and what was made of them, as one set of places and lines."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import geopandas as gpd
import shapely

from boscage.model.plan import Plan
from boscage.model.share import Area, Route, ShareSet, Track, Waypoint

WGS84 = "EPSG:4326"
THIN_M = 2.0
"""How far a thinned way may lie beside the true one: receivers keep few points."""
_WAY_KINDS = {"vehicle": "vehicle", "atv": "atv", "foot": "foot"}


@dataclass(frozen=True, kw_only=True, eq=False)
class RanchPieces:
    """What is known of a ranch, frames in one projected CRS.

    Attributes:
        vectors: The plan's layers by key.
        made: Layers that runs left: `sites`, `stops`, `ways`, `together`, `rings`, ...
        cameras: Places of cameras by name, (N) points.
        scout, drop: `scout.json` and `drop.json`; empty where they are not there.
        sites: Names of the sites to pass on.
    """

    plan: Plan
    crs: str
    vectors: Mapping[str, gpd.GeoDataFrame]
    made: Mapping[str, gpd.GeoDataFrame]
    cameras: gpd.GeoDataFrame
    scout: Mapping[str, Any]
    drop: Mapping[str, Any]
    sites: Sequence[str] = field(default=())

    def of_sites(self, name: str, column: str = "site") -> gpd.GeoDataFrame | None:
        """Rows of a made layer that belong to the sites passed on; None where there is no such layer."""
        frame = self.made.get(name)
        return None if frame is None else frame[frame[column].isin(self.sites)].reset_index(drop=True)


def package_layers(pieces: RanchPieces) -> dict[str, gpd.GeoDataFrame]:
    """Every layer with its attributes, in the order in which a GeoPackage lists them."""
    layers: dict[str, gpd.GeoDataFrame] = {}
    for name in ("sites", "ways", "together"):
        found = pieces.of_sites(name)
        if found is not None:
            layers[name] = found
    for name in ("rings", "contacts", "supports", "stakes", "ties", "stems"):
        found = pieces.of_sites(name, "name")
        if found is not None:
            layers[name] = found
    drops = _drop_frame(pieces)
    layers |= {"drop_points": drops} if len(drops) else {}
    layers |= {"stops": pieces.made["stops"]} if "stops" in pieces.made else {}
    layers |= {"cameras": pieces.cameras} if len(pieces.cameras) else {}
    for name, frame in pieces.vectors.items():
        layers[f"layer_{name}"] = frame
    return layers


def _drop_frame(pieces: RanchPieces) -> gpd.GeoDataFrame:
    rows = [d for d in pieces.drop.get("drops", []) if d.get("site") in pieces.sites]
    keys = ("site", "lat_ddm", "lon_ddm", "usng", "elevation_m", "gap_diameter_m", "tallest_near_m", "suggested_line_m")
    table = {k: [row.get(k) for row in rows] for k in keys}
    points = [shapely.Point(row["x_m"], row["y_m"]) for row in rows]
    return gpd.GeoDataFrame(table, geometry=points, crs=pieces.crs)


def ranch_set(pieces: RanchPieces, *, areas: bool) -> ShareSet:
    """Places, rounds, ways in and, where asked for, fences, wires and land.

    Args:
        areas: Whether land and the ranch's own lines go along; a receiver shows them, but has little room.
    """
    points = _site_points(pieces)
    lines, land = _ways(pieces), []
    if areas:
        lines += _own_lines(pieces)
        land = _land(pieces)
    return ShareSet(
        title=pieces.plan.ranch.name, date=pieces.plan.date,
        waypoints=(*points, *_drops(pieces), *_others(pieces)), routes=tuple(_rounds(pieces, points)),
        tracks=tuple(lines), areas=tuple(land), note=pieces.plan.ranch.note or "",
    )  # fmt: skip


def _rows(pieces: RanchPieces) -> list[Mapping[str, Any]]:
    return [s for s in pieces.scout.get("sites", []) if s["site"] in pieces.sites]


def _site_points(pieces: RanchPieces) -> list[Waypoint]:
    return [
        Waypoint(
            name=s["site"], lon=s["lon"], lat=s["lat"], elevation_m=s.get("elevation_m"), kind="site",
            text=f"Rank {s['rank']}, score {s['score']} of 100, {s['support']}. "
            + " ".join([*s.get("flags", []), *s["why"]]),
        )
        for s in _rows(pieces)
    ]  # fmt: skip


def _drops(pieces: RanchPieces) -> list[Waypoint]:
    return [
        Waypoint(
            name=f"{d['site']} DROP", lon=d["lon"], lat=d["lat"], elevation_m=d.get("elevation_m"), kind="drop",
            text="Open gap, not the set.",
        )
        for d in pieces.drop.get("drops", [])
        if d["site"] in pieces.sites
    ]  # fmt: skip


def _others(pieces: RanchPieces) -> list[Waypoint]:
    """Base, gates and cameras; sign stays in the GeoPackage, a receiver has no room for it."""
    found: list[Waypoint] = []
    base = pieces.plan.drop.base
    if base is not None:
        found.append(Waypoint(name=pieces.plan.drop.base_name, lon=base[0], lat=base[1], kind="base"))
    gates = pieces.vectors.get("gates")
    if gates is not None:
        for row, point in _points(gates):
            words = [str(row[c]) for c in ("kind", "state", "note") if isinstance(row.get(c), str)]
            found.append(_at(_named(row, "gate"), point, "gate", ", ".join(words)))
    for row, point in _points(pieces.cameras):
        found.append(_at(_named(row, "camera"), point, "camera", ""))
    return found


def _points(frame: gpd.GeoDataFrame) -> Iterable[tuple[Mapping[str, Any], shapely.Point]]:
    turned = frame.to_crs(WGS84) if len(frame) else frame
    for (_, row), shape in zip(frame.iterrows(), turned.geometry, strict=True):
        yield row, shapely.get_parts(shape)[0] if shape.geom_type != "Point" else shape


def _at(name: str, point: shapely.Point, kind: str, text: str) -> Waypoint:
    return Waypoint(name=name, lon=point.x, lat=point.y, kind=kind, text=text)


def _named(row: Mapping[str, Any], otherwise: str) -> str:
    name = row.get("name")
    return name if isinstance(name, str) and name.strip() else otherwise


def _rounds(pieces: RanchPieces, points: Sequence[Waypoint]) -> list[Route]:
    at = {p.name: p for p in points}
    rounds = (pieces.scout.get("together") or {}).get("rounds") or []
    return [
        Route(
            name=f"Round {r['crew']}", points=tuple(at[s] for s in r["sites"] if s in at),
            text=f"Crew {r['crew']}: {', '.join(r['sites'])}",
        )
        for r in rounds
        if any(s in at for s in r["sites"])
    ]  # fmt: skip


def _ways(pieces: RanchPieces) -> list[Track]:
    """The legs of every way in."""
    ways = pieces.of_sites("ways")
    if ways is None or ways.empty:
        return []
    inward = ways[ways["direction"] == "in"]
    turned = inward.set_geometry(shapely.simplify(inward.geometry.to_numpy(), THIN_M), crs=inward.crs).to_crs(WGS84)
    return [
        Track(
            name=f"{row['site']} {n} {row['kind']}", lines=(shapely.get_coordinates(row.geometry),),
            kind=_WAY_KINDS.get(row["kind"], "other"),
            text=f"{row['site']} way in, leg {row['leg']}: {row['minutes']:.0f} min",
        )
        for n, (_, row) in zip(turned["leg"], turned.iterrows(), strict=True)
    ]  # fmt: skip


def _own_lines(pieces: RanchPieces) -> list[Track]:
    found = []
    for name, kind in (("tracks", "track"), ("fences", "fence"), ("power_lines", "wire")):
        frame = pieces.vectors.get(name)
        if frame is None or frame.empty:
            continue
        turned = frame.to_crs(WGS84)
        for (_, row), shape in zip(frame.iterrows(), turned.geometry, strict=True):
            parts = [shapely.get_coordinates(g) for g in shapely.get_parts(shape) if g.geom_type == "LineString"]
            if parts:
                found.append(Track(name=_named(row, kind), lines=tuple(parts), kind=kind))
    return found


def _land(pieces: RanchPieces) -> list[Area]:
    found = []
    for layer, kind, column in (("parcels", "parcel", "parcel"), ("no_go", "no_go", "reason")):
        frame = pieces.vectors.get(layer)
        if frame is None or frame.empty:
            continue
        turned = frame.to_crs(WGS84)
        for (_, row), shape in zip(frame.iterrows(), turned.geometry, strict=True):
            polygons = [g for g in shapely.get_parts(shape) if g.geom_type == "Polygon"]
            words = f"access {row['access']}" if layer == "parcels" else _dates(row)
            found.append(
                Area(name=str(row.get(column) or kind), polygons=shapely.MultiPolygon(polygons), kind=kind, text=words)
            )
    return found


def _dates(row: Mapping[str, Any]) -> str:
    ends = [f"{word} {row[c]}" for word, c in (("from", "from_date"), ("until", "until_date")) if row.get(c)]
    return " ".join(str(e) for e in ends)
