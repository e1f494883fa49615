"""Files for phones against the published schemas and against outside readers.

Schemas: tests/data/schemas/SOURCES.md. Readers: GDAL 3 through pyogrio (GPX, LIBKML) and, of another build, through
fiona (GPX). Coordinates must come back within 1e-7 degrees, about a centimetre.
"""

from __future__ import annotations

import datetime as dt
import html
import re
import tempfile
import xml.etree.ElementTree as ET
import zipfile
from functools import lru_cache
from pathlib import Path

import fiona
import geopandas as gpd
import numpy as np
import pyogrio
import pytest
import shapely
import share_sets
import xmlschema
from hypothesis import given, settings
from hypothesis import strategies as st

from boscage.exports.gpx import write_gpx
from boscage.exports.kml import write_kml, write_kmz
from boscage.exports.markup import one_line
from boscage.model.share import AREA_KINDS, TRACK_KINDS, WAYPOINT_KINDS, Area, Route, ShareSet, Track, Waypoint

SCHEMAS = Path(__file__).parents[1] / "data" / "schemas"
RECORDED = Path(__file__).parents[1] / "data" / "gpx"
XAL = "http://docs.oasis-open.org/election/external/xAL.xsd"
NEAR = 1e-7
KML_NS = "{http://www.opengis.net/kml/2.2}"


@lru_cache(maxsize=2)
def schema(name: str) -> xmlschema.XMLSchema:
    """A schema of the folder, read without network: its one outside address is led to the file beside it."""
    beside = (SCHEMAS / "xAL.xsd").resolve().as_uri()
    return xmlschema.XMLSchema(
        str((SCHEMAS / name).resolve()), allow="local", uri_mapper=lambda uri: beside if uri == XAL else uri
    )


def faults(name: str, content: bytes) -> list[str]:
    return [f"{e.path}: {e.reason}" for e in schema(name).iter_errors(content)]


def gpx_bytes(share: ShareSet, folder: Path) -> bytes:
    write_gpx(folder / "a.gpx", share)
    return (folder / "a.gpx").read_bytes()


def kml_bytes(share: ShareSet, folder: Path) -> bytes:
    write_kml(folder / "a.kml", share)
    return (folder / "a.kml").read_bytes()


def doc_bytes(share: ShareSet, folder: Path) -> bytes:
    write_kmz(folder / "a.kmz", share)
    with zipfile.ZipFile(folder / "a.kmz") as archive:
        return archive.read("doc.kml")


# The schemas themselves: what they take and what they refuse.


def test_the_gpx_schema_takes_a_recorded_file() -> None:
    assert faults("gpx.xsd", (RECORDED / "track-with-empty-segment.gpx").read_bytes()) == []


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b' version="1.1"', b""),
        (b'lat="36', b'lat="96'),
        (b'lon="-92', b'lon="180'),
        (b"<type>site</type>", b"<type>site</type><name>again</name>"),
        (b"T12:00:00Z", b" noon"),
        (b"<ele>", b"<ele>high "),
        (b"<sym>", b"<symbol>x</symbol><sym>"),
    ],
)
def test_the_gpx_schema_refuses_what_is_wrong(tmp_path: Path, old: bytes, new: bytes) -> None:
    good = gpx_bytes(share_sets.full(), tmp_path)
    assert old in good and faults("gpx.xsd", good.replace(old, new, 1))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b"<open>1</open>", b"<open>yes</open>"),
        (b"<styleUrl>", b"<Point/><styleUrl>"),
        (b"clampToGround", b"onTheGround"),
        (b"ff7c582a", b"blue"),
        (b"<tessellate>1</tessellate>", b"<height>1</height>"),
        (b"<value>", b"<Value>x</Value><value>"),
        (b"<width>5</width>", b"<width>wide</width>"),
    ],
)
def test_the_kml_schema_refuses_what_is_wrong(tmp_path: Path, old: bytes, new: bytes) -> None:
    good = kml_bytes(share_sets.full(), tmp_path)
    assert old in good and faults("ogckml22.xsd", good.replace(old, new, 1))


@pytest.mark.parametrize("make", [share_sets.full, share_sets.long_names], ids=lambda f: f.__name__)
def test_what_is_written_is_valid(tmp_path: Path, make) -> None:
    share = make()
    assert faults("gpx.xsd", gpx_bytes(share, tmp_path)) == []
    assert faults("ogckml22.xsd", kml_bytes(share, tmp_path)) == []
    assert faults("ogckml22.xsd", doc_bytes(share, tmp_path)) == []


# Any text, any place.

ANY_TEXT = st.text(st.characters(exclude_categories=()), max_size=30)
LON, LAT, HEIGHT = st.floats(-180, 180), st.floats(-90, 90), st.none() | st.floats(-1e4, 1e5)


@st.composite
def waypoints(draw: st.DrawFn) -> Waypoint:
    return Waypoint(
        name=draw(ANY_TEXT), lon=draw(LON), lat=draw(LAT), elevation_m=draw(HEIGHT),
        kind=draw(st.sampled_from(["", *WAYPOINT_KINDS])), text=draw(ANY_TEXT),
    )  # fmt: skip


@st.composite
def tracks(draw: st.DrawFn) -> Track:
    lines = st.lists(st.lists(st.tuples(LON, LAT, HEIGHT.map(lambda h: np.nan if h is None else h)), max_size=4))
    arrays = tuple(np.array(line, dtype=float).reshape(-1, 3) for line in draw(lines))
    return Track(name=draw(ANY_TEXT), lines=arrays, kind=draw(st.sampled_from(["", *TRACK_KINDS])), text=draw(ANY_TEXT))


@st.composite
def areas(draw: st.DrawFn) -> Area:
    lon, lat, half = draw(st.floats(-179, 179)), draw(st.floats(-89, 89)), draw(st.floats(1e-4, 0.9))
    holes = [share_sets.ring(lon, lat, half / 2)] if draw(st.booleans()) else []
    shape = draw(st.sampled_from([shapely.Polygon(share_sets.ring(lon, lat, half), holes), shapely.Polygon()]))
    return Area(name=draw(ANY_TEXT), polygons=shape, kind=draw(st.sampled_from(["", *AREA_KINDS])), text=draw(ANY_TEXT))


@st.composite
def shares(draw: st.DrawFn) -> ShareSet:
    points = tuple(draw(st.lists(waypoints(), max_size=5)))
    stops = st.lists(st.sampled_from(points) if points else waypoints(), max_size=4) | st.lists(waypoints(), max_size=3)
    routes = st.builds(Route, name=ANY_TEXT, points=stops.map(tuple), text=ANY_TEXT)
    return ShareSet(
        title=draw(ANY_TEXT), note=draw(ANY_TEXT), date=draw(st.dates(dt.date(1000, 1, 1))), waypoints=points,
        routes=tuple(draw(st.lists(routes, max_size=2))), tracks=tuple(draw(st.lists(tracks(), max_size=2))),
        areas=tuple(draw(st.lists(areas(), max_size=2))),
    )  # fmt: skip


@settings(max_examples=150, deadline=None, derandomize=True)
@given(shares())
def test_any_set_is_written_valid(share: ShareSet) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        gpx, kml, doc = gpx_bytes(share, folder), kml_bytes(share, folder), doc_bytes(share, folder)
    assert faults("gpx.xsd", gpx) == []
    for content in (kml, doc):
        assert faults("ogckml22.xsd", content) == []
        assert broken_rules(ET.fromstring(content)) == []
    names = [one_line(w.name) for w in share.places]
    found = [c.text for c in ET.fromstring(gpx).findall("g:wpt/g:cmt", {"g": "http://www.topografix.com/GPX/1/1"})]
    assert [a for a, b in zip(names, found, strict=True) if a and a != b] == []


def broken_rules(root: ET.Element) -> list[str]:
    """What OGC KML asks beyond its schema (OGC 07-147r2, from memory): tuples, closed rings, lines, ids, references."""
    number = r"-?\d+(?:\.\d+)?"
    one_tuple = re.compile(rf"{number},{number}(?:,{number})?")
    wrong = []
    least = {"Point": 1, "LineString": 2, "LinearRing": 4}
    for tag, count in least.items():
        for shape in root.iter(KML_NS + tag):
            tuples = (shape.findtext(KML_NS + "coordinates") or "").split()
            wrong += [t for t in tuples if not one_tuple.fullmatch(t)]
            wrong += [f"{tag} of {len(tuples)}"] * (len(tuples) < count or (tag == "Point" and len(tuples) > 1))
            wrong += ["open ring"] * (tag == "LinearRing" and tuples[0] != tuples[-1])
            wrong += [t for t in tuples if abs(float(t.split(",")[0])) > 180 or abs(float(t.split(",")[1])) > 90]
    ids = [style.get("id") for style in root.iter(KML_NS + "Style")]
    wrong += [url.text for url in root.iter(KML_NS + "styleUrl") if url.text.removeprefix("#") not in ids]
    return wrong + ["ids twice"] * (len(ids) != len(set(ids)))


def test_the_rules_beyond_the_schema_can_be_broken(tmp_path: Path) -> None:
    good = kml_bytes(share_sets.full(), tmp_path).decode()
    assert broken_rules(ET.fromstring(good)) == []
    for pattern, new in (
        (r"(<LinearRing>\s*<coordinates>)\S+", r"\1-92.1,36.1"),
        (r"<coordinates>(-92\.\d+),(36\.\d+)", r"<coordinates>\1,1\2"),
        (r'<Style id="place-site">', '<Style id="place-other">'),
        (r"<coordinates>(\S+)", r"<coordinates>1e-5,\1"),
    ):
        bad, count = re.subn(pattern, new, good, count=1)
        assert count == 1 and broken_rules(ET.fromstring(bad)), pattern


# GPX through GDAL.


def gpx_layer(folder: Path, share: ShareSet, layer: str) -> gpd.GeoDataFrame:
    write_gpx(folder / "a.gpx", share)
    return gpd.read_file(folder / "a.gpx", layer=layer, engine="pyogrio")


def near(shape: shapely.Geometry, other: shapely.Geometry) -> bool:
    a, b = shapely.get_coordinates(shape), shapely.get_coordinates(other)
    return a.shape == b.shape and bool((np.abs(a - b) < NEAR).all())


def test_waypoints_come_back_through_gdal(tmp_path: Path) -> None:
    share = share_sets.full()
    found = gpx_layer(tmp_path, share, "waypoints")
    assert found.crs == "EPSG:4326"
    assert list(found.cmt) == [w.name for w in share.places]
    assert list(found["type"]) == [w.kind or "other" for w in share.places]
    assert all(near(g, shapely.Point(w.lon, w.lat)) for g, w in zip(found.geometry, share.places, strict=True))
    for height, w in zip(found.ele, share.places, strict=True):
        assert np.isnan(height) if w.elevation_m is None else abs(height - w.elevation_m) < 0.006
    for name, desc in zip(found.name, found.desc, strict=True):
        assert re.fullmatch(r"[A-Za-z0-9-]{1,10}", name)
        assert desc.startswith(re.match(r"DH-\d\d|.*", name).group())
    assert found.name.str.upper().is_unique


def test_twelve_long_names_come_back_in_order_and_unlike(tmp_path: Path) -> None:
    found = gpx_layer(tmp_path, share_sets.long_names(), "waypoints")
    assert tuple(found.cmt) == share_sets.LONG_NAMES
    assert found.name.str[:10].str.upper().nunique() == 12


def test_routes_come_back_through_gdal_in_the_order_of_their_stops(tmp_path: Path) -> None:
    share = share_sets.full()
    routes = [r for r in share.routes if r.drawn]
    found = gpx_layer(tmp_path, share, "routes")
    assert list(found.cmt) == [r.name for r in routes]
    for shape, route in zip(found.geometry, routes, strict=True):
        assert near(shape, shapely.LineString([(p.lon, p.lat) for p in route.points]))
    stops = gpx_layer(tmp_path, share, "route_points")
    assert list(stops.cmt) == [p.name for r in routes for p in r.points]
    assert list(stops.route_fid) == [n for n, r in enumerate(routes) for _ in r.points]


def test_tracks_and_areas_come_back_through_gdal(tmp_path: Path) -> None:
    share = share_sets.full()
    tracks, areas = [t for t in share.tracks if t.drawn], [a for a in share.areas if a.parts]
    found = gpx_layer(tmp_path, share, "tracks")
    assert list(found.cmt) == [item.name for item in (*tracks, *areas)]
    sent = [shapely.MultiLineString([line[:, :2] for line in t.drawn]) for t in tracks]
    sent += [shapely.MultiLineString([r.coords for p in a.parts for r in (p.exterior, *p.interiors)]) for a in areas]
    for shape, lines in zip(found.geometry, sent, strict=True):
        assert len(shapely.get_parts(shape)) == len(lines.geoms)
        assert near(shape, lines)
    points = gpx_layer(tmp_path, share, "track_points")
    (row,) = [n for n, t in enumerate(tracks) if t.name == "DH-02 in with heights"]
    assert np.array_equal(points.ele[points.track_fid == row], [201.5, np.nan, 203.0], equal_nan=True)


def test_another_build_of_gdal_reads_the_same(tmp_path: Path) -> None:
    share = share_sets.full()
    write_gpx(tmp_path / "a.gpx", share)
    with fiona.open(tmp_path / "a.gpx", layer="waypoints") as rows:
        found = [(r["properties"]["cmt"], r["geometry"]["coordinates"][:2]) for r in rows]
    assert [name for name, _ in found] == [w.name for w in share.places]
    sent = [(w.lon, w.lat) for w in share.places]
    assert np.abs(np.array([place for _, place in found]) - sent).max() < NEAR
    with fiona.open(tmp_path / "a.gpx", layer="tracks") as rows:
        assert [r["properties"]["cmt"] for r in rows][:-6] == [t.name for t in share.tracks if t.drawn]


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.lists(waypoints(), min_size=1, max_size=5))
def test_any_name_comes_back_through_gdal(points: list[Waypoint]) -> None:
    share = ShareSet(title="any", date=share_sets.DAY, waypoints=tuple(points))
    with tempfile.TemporaryDirectory() as name:
        found = gpx_layer(Path(name), share, "waypoints")
    for back, short, shape, w in zip(found.cmt, found.name, found.geometry, points, strict=True):
        assert back == (one_line(w.name) or short)
        assert (abs(shape.x - w.lon) < NEAR or abs(shape.x - w.lon + 360) < NEAR) and abs(shape.y - w.lat) < NEAR


# KML and KMZ through GDAL's LIBKML.

needs_libkml = pytest.mark.skipif(
    "LIBKML" not in pyogrio.list_drivers(), reason="this build of GDAL has no LIBKML driver; KMZ cannot be read back"
)


@pytest.fixture(params=["kml", "kmz"])
def written(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[ShareSet, Path]:
    share = share_sets.full()
    target = tmp_path / f"a.{request.param}"
    (write_kml if request.param == "kml" else write_kmz)(target, share)
    return share, target


def kml_layer(path: Path, layer: str) -> gpd.GeoDataFrame:
    return gpd.read_file(path, layer=layer, engine="pyogrio")


@needs_libkml
def test_places_come_back_through_libkml(written: tuple[ShareSet, Path]) -> None:
    share, path = written
    for kind, title in WAYPOINT_KINDS.items():
        sent = [p for p in share.places if (p.kind or "other") == kind]
        found = kml_layer(path, title)
        assert list(found.Name) == [p.name for p in sent]
        assert list(found.kind) == [kind] * len(sent)
        for shape, said, p in zip(found.geometry, found.description, sent, strict=True):
            assert near(shape, shapely.Point(p.lon, p.lat))
            assert p.elevation_m is None or abs(shape.z - p.elevation_m) < 0.006
            assert p.name in html.unescape(said)


@needs_libkml
def test_lines_come_back_through_libkml(written: tuple[ShareSet, Path]) -> None:
    share, path = written
    for kind, title in TRACK_KINDS.items():
        sent = [t for t in share.tracks if t.kind == kind and t.drawn]
        found = kml_layer(path, title)
        assert list(found.Name) == [t.name for t in sent]
        for shape, track in zip(found.geometry, sent, strict=True):
            assert near(shape, shapely.MultiLineString([line[:, :2] for line in track.drawn]))
    routes = [r for r in share.routes if r.drawn]
    found = kml_layer(path, "Routes")
    assert list(found.Name) == [r.name for r in routes]
    for shape, route in zip(found.geometry, routes, strict=True):
        assert near(shape, shapely.MultiPoint([(p.lon, p.lat) for p in route.points]))


@needs_libkml
def test_areas_come_back_through_libkml_with_holes_and_parts(written: tuple[ShareSet, Path]) -> None:
    share, path = written
    for kind, title in AREA_KINDS.items():
        sent = [a for a in share.areas if a.kind == kind and a.parts]
        found = kml_layer(path, title)
        assert list(found.Name) == [a.name for a in sent]
        for shape, area in zip(found.geometry, sent, strict=True):
            parts = [shapely.force_2d(part) for part in shapely.get_parts(shape)]
            assert [len(p.interiors) for p in parts] == [len(p.interiors) for p in area.parts]
            made, wanted = shapely.MultiPolygon(parts), shapely.MultiPolygon(list(area.parts))
            assert made.normalize().equals_exact(wanted.normalize(), NEAR)


@needs_libkml
def test_folders_come_back_in_order_and_none_is_empty(written: tuple[ShareSet, Path]) -> None:
    _, path = written
    layers = [name for name, _ in pyogrio.list_layers(path)]
    titles = [*WAYPOINT_KINDS.values(), "Routes", *TRACK_KINDS.values(), *AREA_KINDS.values()]
    assert layers == titles
    assert all(len(kml_layer(path, layer)) for layer in layers)
