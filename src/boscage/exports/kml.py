"""KML 2.2 and KMZ: places, routes, lines and areas for map apps.

References:
    Open Geospatial Consortium (2008), OGC KML, OGC 07-147r2.
"""

from __future__ import annotations

import io
import xml.etree.ElementTree as ET
import zipfile
from collections.abc import Iterable, Mapping
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray

from boscage.exports.icons import icon
from boscage.exports.markup import child, degrees, described, document, full_name, heading, label_of, metres, put
from boscage.model.share import (
    AREA_KINDS,
    TRACK_KINDS,
    WAYPOINT_KINDS,
    Area,
    ShareSet,
    Track,
    Waypoint,
)
from boscage.values import format_ddm

NAMESPACE = "http://www.opengis.net/kml/2.2"
ICON_FOLDER = "icons"
_FIRST_DAY = (1980, 1, 1, 0, 0, 0)

# Colours are opacity, blue, green, red; widths are pixels. Kinds differ in width or fill as well as in colour.
_LINE_LOOKS: Mapping[str, tuple[str, float]] = {
    "vehicle": ("ff111111", 5), "atv": ("ff7c582a", 4), "foot": ("ff0055d4", 3), "track": ("ff4a4a4a", 2),
    "fence": ("ff111111", 1), "wire": ("ff0000d4", 6), "route": ("ffa03cc8", 4), "other": ("ff9c9c9c", 2),
}  # fmt: skip
_AREA_LOOKS: Mapping[str, tuple[str, float, str]] = {
    "parcel": ("ff3cc8f0", 3, "003cc8f0"), "no_go": ("ff0000d4", 4, "8c0000d4"),
    "ruled_out": ("ff4a4a4a", 1, "664a4a4a"), "covered": ("ff7c582a", 2, "407c582a"),
    "other": ("ff9c9c9c", 2, "269c9c9c"),
}  # fmt: skip


def write_kml(target: Path, share: ShareSet) -> None:
    """Write a share set as plain KML 2.2, the same bytes for the same set; it names no other file and no address.

    A folder a kind, in it the order of the set. Every stop of a route is a place too. What has nothing to draw is left
    out and named in the document's description.

    Raises:
        OSError: The file cannot be written.
    """
    put(target, _document(share, with_icons=False))


def write_kmz(target: Path, share: ShareSet) -> None:
    """Write a share set as KMZ: `doc.kml` first, then an icon for each kind of place in it.

    Raises:
        OSError: The file cannot be written.
    """
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as archive:
        _add(archive, "doc.kml", _document(share, with_icons=True), zipfile.ZIP_DEFLATED)
        for kind in _kinds_of(share.places, WAYPOINT_KINDS):
            _add(archive, f"{ICON_FOLDER}/{kind}.png", icon(kind), zipfile.ZIP_STORED)
    put(target, held.getvalue())


def _add(archive: zipfile.ZipFile, name: str, content: bytes, method: int) -> None:
    """One entry without the clock, the user or the system."""
    entry = zipfile.ZipInfo(name, date_time=_FIRST_DAY)
    entry.create_system, entry.external_attr, entry.compress_type = 3, 0o644 << 16, method
    archive.writestr(entry, content, compresslevel=9)


def _document(share: ShareSet, *, with_icons: bool) -> bytes:
    root = ET.Element("kml", {"xmlns": NAMESPACE})
    made = child(root, "Document")
    child(made, "name", full_name(share.title, "Share"))
    child(made, "open", "1")
    about = heading(share.title, share.date.isoformat()[:10], share.note, share.undrawn)
    child(made, "description", _not_markup(about))
    _styles(made, share, with_icons=with_icons)
    _place_folders(made, share)
    _route_folder(made, share)
    _line_folders(made, share)
    return document(root)


def _kinds_of(items: Iterable[Waypoint | Track | Area], kinds: Iterable[str]) -> list[str]:
    """The kinds that occur, in the order of the list."""
    found = {item.kind or "other" for item in items}
    return [kind for kind in kinds if kind in found]


def _styles(made: ET.Element, share: ShareSet, *, with_icons: bool) -> None:
    for kind in _kinds_of(share.places, WAYPOINT_KINDS):
        style = child(made, "Style", attributes={"id": f"place-{kind}"})
        if with_icons:
            look = child(style, "IconStyle")
            child(look, "scale", "0.8")
            child(child(look, "Icon"), "href", f"{ICON_FOLDER}/{kind}.png")
            child(look, "hotSpot", attributes={"x": "0.5", "y": "0.5", "xunits": "fraction", "yunits": "fraction"})
        child(child(style, "LabelStyle"), "scale", "0.9")
    tracks, areas = ([item for item, _ in items] for items in share.named_lines())
    for kind in [*(["route"] if share.named_routes() else []), *_kinds_of(tracks, TRACK_KINDS)]:
        style = child(made, "Style", attributes={"id": f"line-{kind}"})
        _line_style(style, *_LINE_LOOKS[kind])
    for kind in _kinds_of(areas, AREA_KINDS):
        colour, width, fill = _AREA_LOOKS[kind]
        style = child(made, "Style", attributes={"id": f"area-{kind}"})
        _line_style(style, colour, width)
        look = child(style, "PolyStyle")
        child(look, "color", fill)
        child(look, "fill", "0" if fill.startswith("00") else "1")


def _line_style(style: ET.Element, colour: str, width: float) -> None:
    look = child(style, "LineStyle")
    child(look, "color", colour)
    child(look, "width", f"{width:g}")


def _folder(made: ET.Element, title: str) -> ET.Element:
    folder = child(made, "Folder")
    child(folder, "name", title)
    return folder


def _place_folders(made: ET.Element, share: ShareSet) -> None:
    places, names = share.places, share.place_names()
    for kind in _kinds_of(places, WAYPOINT_KINDS):
        folder = _folder(made, WAYPOINT_KINDS[kind])
        for place in places:
            if (place.kind or "other") == kind:
                _place(folder, place, kind, names[place.key])


def _place(folder: ET.Element, place: Waypoint, kind: str, short: str) -> None:
    where = _ddm(place.lon, place.lat)
    facts = {"kind": kind, "coordinates": where}
    if place.elevation_m is not None:
        facts["elevation_m"] = metres(place.elevation_m)
    mark = _placemark(folder, place.name, short, [f"Kind: {kind}", place.text, where], facts, f"place-{kind}")
    height = np.nan if place.elevation_m is None else place.elevation_m
    child(child(mark, "Point"), "coordinates", _tuples(np.array([[place.lon, place.lat, height]])))


def _placemark(
    folder: ET.Element, name: str, short: str, sentences: Iterable[str], facts: Mapping[str, str], style: str
) -> ET.Element:
    """Everything of a placemark but its geometry, in the order of the schema."""
    mark = child(folder, "Placemark")
    child(mark, "name", full_name(name, short))
    child(mark, "description", _not_markup(described(name, short, sentences)))
    child(mark, "styleUrl", f"#{style}")
    held = child(mark, "ExtendedData")
    for key, value in {"id": label_of(name, short), "short_name": short, **facts}.items():
        child(child(held, "Data", attributes={"name": key}), "value", value)
    return mark


def _not_markup(text: str) -> str:
    """Map apps show descriptions as HTML: a name such as `<b>` is text and stays text."""
    return text.replace("<", "&lt;")


def _route_folder(made: ET.Element, share: ShareSet) -> None:
    routes = share.named_routes()
    if not routes:
        return
    folder, names = _folder(made, "Routes"), share.place_names()
    for route, short in routes:
        stops = ", ".join(names[p.key] for p in route.points)
        facts = {"kind": "route", "stops": stops}
        mark = _placemark(folder, route.name, short, [route.text, f"Stops: {stops}"], facts, "line-route")
        _line(mark, np.array([[p.lon, p.lat] for p in route.points]))


def _line_folders(made: ET.Element, share: ShareSet) -> None:
    """Tracks, then areas."""
    tracks, areas = share.named_lines()
    for kind in _kinds_of((t for t, _ in tracks), TRACK_KINDS):
        folder = _folder(made, TRACK_KINDS[kind])
        for track, short in tracks:
            if (track.kind or "other") == kind:
                _track(folder, track, kind, short)
    for kind in _kinds_of((a for a, _ in areas), AREA_KINDS):
        folder = _folder(made, AREA_KINDS[kind])
        for area, short in areas:
            if (area.kind or "other") == kind:
                _area(folder, area, kind, short)


def _track(folder: ET.Element, track: Track, kind: str, short: str) -> None:
    first, last = track.drawn[0][0], track.drawn[-1][-1]
    facts = {"kind": kind, "from": _ddm(first[0], first[1]), "to": _ddm(last[0], last[1])}
    mark = _placemark(folder, track.name, short, [f"Kind: {kind}", track.text], facts, f"line-{kind}")
    holder = child(mark, "MultiGeometry") if len(track.drawn) > 1 else mark
    for line in track.drawn:
        _line(holder, line)


def _line(holder: ET.Element, line: NDArray[np.float64]) -> None:
    made = child(holder, "LineString")
    _clamped(made)
    child(made, "coordinates", _tuples(line))


def _clamped(made: ET.Element) -> None:
    """On the ground and following it."""
    child(made, "tessellate", "1")
    child(made, "altitudeMode", "clampToGround")


def _area(folder: ET.Element, area: Area, kind: str, short: str) -> None:
    inside = area.parts[0].representative_point()
    facts = {"kind": kind, "coordinates": _ddm(inside.x, inside.y)}
    mark = _placemark(folder, area.name, short, [f"Kind: {kind}", area.text], facts, f"area-{kind}")
    holder = child(mark, "MultiGeometry") if len(area.parts) > 1 else mark
    for part in area.parts:
        _polygon(holder, part)


def _polygon(holder: ET.Element, part: shapely.Polygon) -> None:
    made = child(holder, "Polygon")
    _clamped(made)
    for tag, ring in (("outerBoundaryIs", part.exterior), *(("innerBoundaryIs", hole) for hole in part.interiors)):
        corners = np.asarray(ring.coords)[:, :2]
        child(child(child(made, tag), "LinearRing"), "coordinates", _tuples(corners))


def _tuples(places: NDArray[np.float64]) -> str:
    """`lon,lat` or, where every elevation is known, `lon,lat,metres`."""
    known = places.shape[1] > 2 and not np.isnan(places[:, 2]).any()
    rows = [f"{degrees(lon)},{degrees(lat)}" for lon, lat in places[:, :2].tolist()]
    if known:
        rows = [f"{row},{metres(height)}" for row, height in zip(rows, places[:, 2].tolist(), strict=True)]
    return " ".join(rows)


def _ddm(lon: float, lat: float) -> str:
    return "  ".join(format_ddm(lat, lon))
