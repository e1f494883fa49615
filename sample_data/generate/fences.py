"""Fences of the granted land with their water gaps, and the gates in them."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import shapely
from shapely.geometry import LineString, MultiLineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from generate.frame import CRS, rng

ROAD_M = 25.0  # the fence keeps this far off the middle of the county road; the main gate stands there
BESIDE_M = 50.0  # a creek this near the road is left on the road's side
INSET_M = 4.0  # the fence stands this far inside the parcel line
POSTS_M, SWAY_M = 160.0, 1.5  # between the corner posts of a straight run, and how far they stand off it
GAP_M, JOIN_M = 9.0, 45.0  # half a water gap; gaps nearer than this are one
LEAST_M = 250.0  # a cross fence is left out where it would only double another for less than this
BANK_M = 12.0  # a fence that ends at a creek ends this far short of it

# Cross fences: name, the parcels on its one side, those on its other side, note.
CROSS = [
    ("north cross fence", ("Prairie Basin",), ("West Basin", "Long Hollow"), "ends at the creek"),
    ("basin fence", ("West Basin",), ("Whetstone Ridge", "Long Hollow"), "cattle side is west"),
    ("bench fence", ("Upper Creek",), ("East Bench", "Cedar Draws"), "line between two owners; ends at the creek"),
    ("hollow fence", ("Cedar Draws",), ("South Hollow",), "line between two owners; ends at the creek"),
]
# Inner gates: name, the way and the fence that meet there, state, note.
INNER = [
    ("prairie gate", "Prairie track", "north cross fence", "closed", "leave as found"),
    ("basin gate", "West Basin track", "basin fence", "closed", "cattle with calves in season"),
    ("bench gate", "Upper Creek track", "bench fence", "open", "wired back"),
    ("draws gate", "Cedar Draws track", "hollow fence", "locked", "ask the manager"),
]
ENTRY = [
    ("main gate", "Headquarters lane", "locked", "ask the manager; leave as found"),
    ("ridge gate", "Ridge track", "closed", "leave as found"),
]


def build(owned: gpd.GeoDataFrame, ways: gpd.GeoDataFrame, creeks: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """The perimeter of the granted land this side of the county road, cross fences, and water gaps in all of them."""
    random = rng("fences")
    steady = creeks[creeks["class"] == "perennial"].geometry.union_all()
    fenced = _fenced_land(owned, ways, steady)
    rings = [LineString(r.coords) for r in (fenced.exterior, *fenced.interiors)]
    around = [_posted(ring, random) for ring in rings]
    inside = Polygon(around[0].coords, [ring.coords for ring in around[1:]])
    runs = [("perimeter fence", "perimeter", "", line) for line in around[:1]]
    runs += [("inholding fence", "perimeter", "round land without permission", line) for line in around[1:]]
    for name, one, other, note in CROSS:
        line = _posted(_line_between(owned, one, other), random, shift=-2.0 * SWAY_M)
        runs += [(name, "cross", note, part) for part in _parts(line.intersection(inside)) if part.length > LEAST_M]
    runs = [(name, kind, note, _off_bank(line, steady)) for name, kind, note, line in runs]
    rows = []
    for name, kind, note, line in runs:
        rows += _with_gaps(name, kind, note, line, steady)
    return gpd.GeoDataFrame(rows, crs=CRS)


def gates(ways: gpd.GeoDataFrame, fences: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Entry gates where ways leave the county road, inner gates where tracks pass cross fences."""
    lines = {str(row["name"]): row["geometry"] for _, row in ways.iterrows()}
    rows = []
    for name, way, state, note in ENTRY:
        start = Point(lines[way].coords[0])
        fence = fences[fences["name"] == "perimeter fence"].geometry.union_all()
        rows.append((name, "entry", state, note, _meeting(lines[way], fence, start)))
    for name, way, run, state, note in INNER:
        fence = fences[fences["name"] == run].geometry.union_all()
        rows.append((name, "inner", state, note, _meeting(lines[way], fence, Point(lines[way].coords[0]))))
    table = {key: [row[n] for row in rows] for n, key in enumerate(("name", "kind", "state", "note"))}
    return gpd.GeoDataFrame(table, geometry=[row[4] for row in rows], crs=CRS)


def _fenced_land(owned: gpd.GeoDataFrame, ways: gpd.GeoDataFrame, creek: BaseGeometry) -> Polygon:
    """The larger part of the granted land that the county road and the creek beside it leave, inside its lines."""
    granted = owned[owned["access"] == "granted"].geometry.union_all()
    road = ways[ways["class"] == "road"].geometry.iloc[0]
    beside = creek.intersection(road.buffer(BESIDE_M)).buffer(BANK_M)
    strip = road.buffer(ROAD_M, quad_segs=2).union(beside).buffer(BESIDE_M).buffer(-BESIDE_M)
    left = granted.buffer(-INSET_M, join_style="mitre").difference(strip)
    return max(getattr(left, "geoms", [left]), key=lambda part: part.area).simplify(2.0)


def _line_between(owned: gpd.GeoDataFrame, one: tuple[str, ...], other: tuple[str, ...]) -> LineString:
    """The line that two groups of parcels share, from west to east or from south to north."""
    sides = [owned[owned["parcel"].isin(names)].geometry.union_all().boundary for names in (one, other)]
    shared = shapely.line_merge(shapely.intersection(sides[0].segmentize(50.0), sides[1].buffer(0.5)))
    line = max(_parts(shared), key=lambda part: part.length).simplify(3.0)
    return line if line.coords[0] < line.coords[-1] else LineString(line.coords[::-1])


def _posted(line: LineString, random: np.random.Generator, *, shift: float = 0.0) -> LineString:
    """A run of fence as it is built: straight from post to post, each a little off the line."""
    points = np.asarray(line.segmentize(POSTS_M).coords)
    points = points + shift + random.normal(0.0, SWAY_M, points.shape).clip(-2 * SWAY_M, 2 * SWAY_M)
    if line.is_ring:
        points[-1] = points[0]
    return LineString(np.round(points, 1))


def _parts(shape: BaseGeometry) -> list[LineString]:
    """Lines of a shape."""
    return [part for part in shapely.get_parts(shape) if part.geom_type == "LineString"]


def _off_bank(line: LineString, creek: BaseGeometry) -> LineString:
    """A line without its last metres where it ends in a creek."""
    for end in (0, -1):
        if not line.is_ring and Point(line.coords[end]).distance(creek) < BANK_M:
            away = line.difference(Point(line.coords[end]).buffer(2 * BANK_M))
            line = max(_parts(away), key=lambda part: part.length)
    return line


def _with_gaps(name: str, kind: str, note: str, line: LineString, creek: BaseGeometry) -> list[dict]:
    """Rows of one run of fence: what stands, and a water gap at each crossing of a creek that always runs."""
    met = line.intersection(creek)
    if met.is_empty:
        return [{"name": name, "kind": kind, "note": note, "geometry": line}]
    wet = met.buffer(GAP_M + JOIN_M / 2).buffer(-JOIN_M / 2)
    standing, gaps = line.difference(wet), line.intersection(wet)
    standing = shapely.line_merge(standing) if isinstance(standing, MultiLineString) else standing
    gaps = shapely.line_merge(gaps) if isinstance(gaps, MultiLineString) else gaps
    rows = [{"name": name, "kind": kind, "note": note, "geometry": part} for part in _parts(standing)]
    wash = "hangs over the creek; look at it after high water"
    return rows + [{"name": name, "kind": "water gap", "note": wash, "geometry": part} for part in _parts(gaps)]


def _meeting(way: LineString, fence: BaseGeometry, start: Point) -> Point:
    """Where a way first meets a fence, counted from a place."""
    met = shapely.get_parts(way.intersection(fence))
    if len(met) == 0:
        raise ValueError("a way that should have a gate does not meet its fence; mend the lists of gates")
    here = min((part.representative_point() for part in met), key=start.distance)
    return Point(np.round(here.coords[0], 1))
