"""GPX 1.1: waypoints, routes and tracks for receivers and phones.

References:
    TopoGrafix (2004), GPX 1.1 schema documentation, https://www.topografix.com/GPX/1/1/.
"""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray

from boscage.exports.markup import child, degrees, described, document, full_name, heading, metres, one_line, put
from boscage.model.share import Area, Route, ShareSet, Track, Waypoint
from boscage.values import format_ddm

NAMESPACE = "http://www.topografix.com/GPX/1/1"
SYMBOLS: Mapping[str, str] = {
    "site": "Flag", "set": "Pin", "drop": "Target", "base": "Heliport", "landing": "Helipad", "gate": "Gate",
    "camera": "Camera", "sign": "Animal Tracks", "hazard": "Danger", "rescue": "First Aid", "other": "Waypoint",
}  # fmt: skip


def write_gpx(target: Path, share: ShareSet) -> None:
    """Write a share set as GPX 1.1 without extensions, the same bytes for the same set.

    `name` is the short name that receivers keep, `cmt` the whole name, `desc` begins with the id and holds the whole
    name, kind, text and place in degrees decimal minutes; `type` repeats the kind in the program's own word. Every stop
    of a route is a waypoint too. Areas are closed tracks, a segment a ring. What has nothing to draw is left out and
    named in the file's description. The time is noon UTC of the set's date.

    Raises:
        OSError: The file cannot be written.
    """
    root = ET.Element("gpx", {"xmlns": NAMESPACE, "version": "1.1", "creator": "Boscage"})
    _metadata(root, share)
    names = share.place_names()
    for waypoint in share.places:
        _point(root, "wpt", waypoint, names[waypoint.key])
    for number, (route, name) in enumerate(share.named_routes(), start=1):
        _route(root, route, name, number, names)
    tracks, areas = share.named_lines()
    for number, (track, name) in enumerate(tracks, start=1):
        _track(root, track, name, number)
    for number, (area, name) in enumerate(areas, start=len(tracks) + 1):
        _area(root, area, name, number)
    put(target, document(root))


def _metadata(root: ET.Element, share: ShareSet) -> None:
    day = share.date.isoformat()[:10]
    made = child(root, "metadata")
    child(made, "name", one_line(share.title))
    child(made, "desc", heading(share.title, day, share.note, share.undrawn))
    child(made, "time", f"{day}T12:00:00Z")
    places = np.concatenate([np.empty((0, 2)), *_all_places(share)])
    if len(places):
        (west, south), (east, north) = places.min(axis=0), places.max(axis=0)
        frame = {"minlat": south, "minlon": west, "maxlat": north, "maxlon": east}
        child(made, "bounds", attributes={key: degrees(angle) for key, angle in frame.items()})


def _all_places(share: ShareSet) -> Iterator[NDArray[np.float64]]:
    yield from (np.array([[_west_of_180(p.lon), p.lat]]) for p in share.places)
    lines = [line[:, :2] for track in share.tracks for line in track.drawn]
    lines += [shapely.get_coordinates(area.polygons) for area in share.areas]
    for line in lines:
        yield np.column_stack([[_west_of_180(lon) for lon in line[:, 0]], line[:, 1]])


def _west_of_180(lon: float) -> float:
    """The schema ends below 180 degrees east, which is the same meridian as 180 west."""
    return -180.0 if degrees(lon) == "180" else lon


def _place(lon: float, lat: float) -> dict[str, str]:
    return {"lat": degrees(lat), "lon": degrees(_west_of_180(lon))}


def _point(parent: ET.Element, tag: str, waypoint: Waypoint, short: str) -> None:
    """A waypoint or a stop of a route; the elements stand in the order of the schema."""
    kind = waypoint.kind or "other"
    made = child(parent, tag, attributes=_place(waypoint.lon, waypoint.lat))
    if waypoint.elevation_m is not None:
        child(made, "ele", metres(waypoint.elevation_m))
    place = "  ".join(format_ddm(waypoint.lat, waypoint.lon))
    _names(made, waypoint.name, short, [f"Kind: {kind}", waypoint.text, place])
    child(made, "sym", SYMBOLS[kind])
    child(made, "type", kind)


def _names(made: ET.Element, name: str, short: str, facts: Iterable[str]) -> None:
    child(made, "name", short)
    child(made, "cmt", full_name(name, short))
    child(made, "desc", described(name, short, facts))


def _route(
    root: ET.Element, route: Route, short: str, number: int, names: Mapping[tuple[str, float, float], str]
) -> None:
    made = child(root, "rte")
    _names(made, route.name, short, [route.text, f"Stops: {', '.join(names[p.key] for p in route.points)}"])
    child(made, "number", str(number))
    child(made, "type", "route")
    for point in route.points:
        _point(made, "rtept", point, names[point.key])


def _track(root: ET.Element, track: Track, short: str, number: int) -> None:
    kind = track.kind or "other"
    _segments(_line_head(root, track.name, short, number, (f"Kind: {kind}", track.text)), kind, track.drawn)


def _area(root: ET.Element, area: Area, short: str, number: int) -> None:
    kind = area.kind or "other"
    rings = [np.asarray(ring.coords) for part in area.parts for ring in (part.exterior, *part.interiors)]
    holes = sum(len(part.interiors) for part in area.parts)
    facts = (f"Kind: {kind}, an area", area.text, f"Outlines: {len(area.parts)}, holes in them: {holes}")
    _segments(_line_head(root, area.name, short, number, facts), kind, [ring[:, :2] for ring in rings])


def _line_head(root: ET.Element, name: str, short: str, number: int, facts: tuple[str, ...]) -> ET.Element:
    made = child(root, "trk")
    _names(made, name, short, facts)
    child(made, "number", str(number))
    return made


def _segments(made: ET.Element, kind: str, lines: Iterable[NDArray[np.float64]]) -> None:
    """The kind, then a segment a line."""
    child(made, "type", kind)
    for line in lines:
        segment = child(made, "trkseg")
        for lon, lat, *height in line.tolist():
            point = child(segment, "trkpt", attributes=_place(lon, lat))
            if height and not math.isnan(height[0]):
                child(point, "ele", metres(height[0]))
