"""GPX: what stands where, in which order, and what is left out."""

from __future__ import annotations

import datetime as dt
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pytest
import shapely
import share_sets

from boscage.exports.gpx import NAMESPACE, SYMBOLS, write_gpx
from boscage.exports.markup import xml_text
from boscage.model.share import WAYPOINT_KINDS, Area, Route, ShareSet, Track, Waypoint

IN = {"g": NAMESPACE}


def read(folder: Path, share: ShareSet) -> ET.Element:
    write_gpx(folder / "a.gpx", share)
    return ET.parse(folder / "a.gpx").getroot()


def texts(root: ET.Element, path: str) -> list[str]:
    return [found.text or "" for found in root.findall(path, IN)]


def one(**parts: object) -> ShareSet:
    return ShareSet(title="Dunnock Hollow", date=share_sets.DAY, **parts)


def test_waypoints_then_routes_then_tracks(tmp_path: Path) -> None:
    share = share_sets.full()
    tags = [child.tag.rpartition("}")[2] for child in read(tmp_path, share)]
    lines = len(share.tracks) + len(share.areas) - 3
    assert tags == ["metadata"] + ["wpt"] * (len(share.waypoints) + 1) + ["rte"] * 2 + ["trk"] * lines


def test_the_time_is_noon_of_the_day_whatever_the_clock_says(tmp_path: Path) -> None:
    root = read(tmp_path, one())
    assert texts(root, "g:metadata/g:time") == ["2026-11-21T12:00:00Z"]
    moment = ShareSet(title="a", date=dt.datetime(2026, 11, 21, 23, 59))
    assert texts(read(tmp_path, moment), "g:metadata/g:time") == ["2026-11-21T12:00:00Z"]
    assert not root.findall(".//g:wpt/g:time", IN)


def test_a_point_says_its_id_twice_and_its_kind(tmp_path: Path) -> None:
    point = Waypoint(name="RB-03 Ñandú", lon=-92.5, lat=36.25, elevation_m=213.456, kind="drop", text="Two oaks")
    root = read(tmp_path, one(waypoints=(point,)))
    (wpt,) = root.findall("g:wpt", IN)
    assert wpt.attrib == {"lat": "36.25", "lon": "-92.5"}
    assert [(c.tag.rpartition("}")[2], c.text) for c in wpt] == [
        ("ele", "213.46"),
        ("name", "RB-03-Nand"),
        ("cmt", "RB-03 Ñandú"),
        ("desc", "RB-03 Ñandú. Kind: drop. Two oaks. 36 15.000 N 092 30.000 W."),
        ("sym", "Target"),
        ("type", "drop"),
    ]


def test_every_kind_has_a_symbol_of_its_own() -> None:
    assert set(SYMBOLS) == set(WAYPOINT_KINDS)
    assert len(set(SYMBOLS.values())) == len(SYMBOLS)


def test_an_unknown_elevation_is_left_out_and_never_zero(tmp_path: Path) -> None:
    line = np.array([[-92.7, 36.2, 0.0], [-92.6, 36.2, np.nan]])
    share = one(waypoints=(Waypoint(name="a", lon=1, lat=2),), tracks=(Track(name="b", lines=(line,)),))
    root = read(tmp_path, share)
    assert not root.findall("g:wpt/g:ele", IN)
    first, second = root.findall(".//g:trkpt", IN)
    assert texts(first, "g:ele") == ["0"] and not texts(second, "g:ele")


def test_stops_bear_the_names_of_their_waypoints_in_the_order_flown(tmp_path: Path) -> None:
    root = read(tmp_path, share_sets.full())
    names = dict(zip(texts(root, "g:wpt/g:cmt"), texts(root, "g:wpt/g:name"), strict=True))
    first = root.find("g:rte", IN)
    assert texts(first, "g:rtept/g:cmt") == ["DH-03 drop", "DH-01 set", "Fuel truck", "DH-03 drop"]
    assert texts(first, "g:rtept/g:name") == [
        names["DH-03 drop"],
        names["DH-01 set"],
        "Fuel-truck",
        names["DH-03 drop"],
    ]
    assert texts(first, "g:desc") == ["Flight-1: Flight 1. Stops: DH-03-drop, DH-01-set, Fuel-truck, DH-03-drop."]


def test_areas_are_closed_tracks_a_segment_a_ring(tmp_path: Path) -> None:
    area = Area(name="P-12 Ñandú", polygons=share_sets.two_parts_one_hole(), kind="no_go")
    root = read(tmp_path, one(areas=(area,)))
    (trk,) = root.findall("g:trk", IN)
    rings = [[p.attrib for p in seg] for seg in trk.findall("g:trkseg", IN)]
    assert [len(ring) for ring in rings] == [5, 5, 5, 5]
    assert all(ring[0] == ring[-1] for ring in rings)
    assert texts(trk, "g:name") == ["P-12-area-Nandu"]
    assert texts(trk, "g:type") == ["no_go"]
    assert texts(trk, "g:desc") == ["P-12 Ñandú. Kind: no_go, an area. Outlines: 2, holes in them: 2."]


def test_empty_things_are_named_and_not_drawn(tmp_path: Path) -> None:
    root = read(tmp_path, share_sets.full())
    said = texts(root, "g:metadata/g:desc")[0]
    assert said.endswith(
        "Nothing to draw for: Flight 2, one stop; Flight 3, none; DH-03 in, never found; DH-04 in, one point; "
        "Ruled out, nowhere."
    )
    drawn = texts(root, "g:rte/g:cmt") + texts(root, "g:trk/g:cmt")
    assert not set(drawn) & set(share_sets.full().undrawn)
    assert texts(root, "g:trk/g:number") == [str(n + 1) for n in range(len(root.findall("g:trk", IN)))]


def test_the_stop_of_a_route_that_is_not_drawn_is_a_waypoint(tmp_path: Path) -> None:
    stop = Waypoint(name="Fuel truck", lon=-92.9, lat=36.4)
    root = read(tmp_path, one(routes=(Route(name="Flight 1", points=(stop,)),)))
    assert texts(root, "g:wpt/g:cmt") == ["Fuel truck"] and not root.findall("g:rte", IN)


def test_an_empty_set_is_a_file_without_bounds(tmp_path: Path) -> None:
    root = read(tmp_path, ShareSet(title="", date=share_sets.DAY))
    assert [c.tag.rpartition("}")[2] for c in root] == ["metadata"]
    assert not root.findall(".//g:bounds", IN)


def test_the_bounds_hold_every_place(tmp_path: Path) -> None:
    box = shapely.box(-92.7, 36.2, -92.6, 36.3)
    stop = Waypoint(name="far", lon=-91.0, lat=35.0)
    share = one(routes=(Route(name="r", points=(stop,)),), areas=(Area(name="a", polygons=box),))
    (bounds,) = read(tmp_path, share).findall("g:metadata/g:bounds", IN)
    assert bounds.attrib == {"minlat": "35", "minlon": "-92.7", "maxlat": "36.3", "maxlon": "-91"}


def test_180_degrees_east_is_written_as_west(tmp_path: Path) -> None:
    points = (Waypoint(name="a", lon=180.0, lat=0), Waypoint(name="b", lon=179.999999999, lat=0))
    root = read(tmp_path, one(waypoints=points))
    assert [w.get("lon") for w in root.findall("g:wpt", IN)] == ["-180", "-180"]


def test_small_numbers_have_no_exponent(tmp_path: Path) -> None:
    root = read(tmp_path, one(waypoints=(Waypoint(name="a", lon=-1e-7, lat=1e-12, elevation_m=1e-9),)))
    (wpt,) = root.findall("g:wpt", IN)
    assert wpt.attrib == {"lat": "0", "lon": "-0.0000001"}
    assert wpt.find("g:ele", IN).text == "0"


def test_characters_that_xml_does_not_hold_are_taken_out(tmp_path: Path) -> None:
    bad = "DH-01\x00\x08 a\ud800b\ufffe\x1f c\r\nd\x85e"
    root = read(tmp_path, one(waypoints=(Waypoint(name=bad, lon=0, lat=0, text=bad),)))
    assert texts(root, "g:wpt/g:cmt") == ["DH-01 ab c d e"]
    assert xml_text("\t\n\U0010ffff\ue000") == "\t\n\U0010ffff\ue000"


def test_nothing_but_plain_gpx(tmp_path: Path) -> None:
    write_gpx(tmp_path / "a.gpx", share_sets.full())
    text = (tmp_path / "a.gpx").read_text(encoding="utf-8")
    assert text.startswith('<?xml version="1.0" encoding="UTF-8"?>\n<gpx xmlns="http://www.topografix.com/GPX/1/1"')
    assert "extensions" not in text and text.count("http") == 1


def test_the_same_set_gives_the_same_bytes(tmp_path: Path) -> None:
    write_gpx(tmp_path / "a.gpx", share_sets.full())
    write_gpx(tmp_path / "b.gpx", share_sets.full())
    assert (tmp_path / "a.gpx").read_bytes() == (tmp_path / "b.gpx").read_bytes()


def test_no_half_file_is_left(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "a.gpx"
    target.write_text("old")

    def full(self: Path, content: bytes) -> int:
        with self.open("wb") as file:
            file.write(content[:100])
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(OSError, match="No space"):
        write_gpx(target, share_sets.full())
    assert [p.name for p in tmp_path.iterdir()] == ["a.gpx"] and target.read_text() == "old"
