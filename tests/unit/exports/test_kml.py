"""KML and KMZ: folders, order, styles, icons, and that nothing points outside."""

from __future__ import annotations

import html
import warnings
import xml.etree.ElementTree as ET
import zipfile
from itertools import combinations
from pathlib import Path

import numpy as np
import rasterio
import shapely
import share_sets
from rasterio.errors import NotGeoreferencedWarning

from boscage.exports.icons import PIXELS, icon, icon_shapes
from boscage.exports.kml import NAMESPACE, write_kml, write_kmz
from boscage.model.share import WAYPOINT_KINDS, Area, Route, ShareSet, Track, Waypoint

IN = {"k": NAMESPACE}


def read(folder: Path, share: ShareSet) -> ET.Element:
    write_kml(folder / "a.kml", share)
    return ET.parse(folder / "a.kml").getroot()


def one(**parts: object) -> ShareSet:
    return ShareSet(title="Dunnock Hollow", date=share_sets.DAY, **parts)


def texts(root: ET.Element, path: str) -> list[str]:
    return [found.text or "" for found in root.findall(path, IN)]


def folder_of(root: ET.Element, title: str) -> ET.Element:
    (found,) = [f for f in root.findall(".//k:Folder", IN) if f.find("k:name", IN).text == title]
    return found


def data_of(mark: ET.Element) -> dict[str, str]:
    return {d.get("name"): d.find("k:value", IN).text for d in mark.findall("k:ExtendedData/k:Data", IN)}


def pixels(kind: str) -> np.ndarray:
    """(64, 64, 4) as an outside reader sees them."""
    with warnings.catch_warnings(), rasterio.MemoryFile(icon(kind)) as memory:
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        with memory.open() as file:
            return np.moveaxis(file.read(), 0, 2).astype(float)


def test_a_folder_a_kind_in_a_fixed_order(tmp_path: Path) -> None:
    assert texts(read(tmp_path, share_sets.full()), "k:Document/k:Folder/k:name") == [
        "Sets", "Sites", "Drop points", "Landing places", "Base", "Gates", "Cameras", "Sign", "Hazards", "Rescue",
        "Other places", "Routes", "By vehicle", "By ATV", "On foot", "Tracks", "Fences", "Wires", "Other lines",
        "Parcels", "No-go areas", "Ruled out", "Covered", "Other areas",
    ]  # fmt: skip


def test_a_place_says_everything(tmp_path: Path) -> None:
    point = Waypoint(name="RB-03 Ñandú", lon=-92.5, lat=36.25, elevation_m=213.456, kind="drop", text="Two oaks")
    (mark,) = read(tmp_path, one(waypoints=(point,))).findall(".//k:Placemark", IN)
    assert [c.tag.rpartition("}")[2] for c in mark] == ["name", "description", "styleUrl", "ExtendedData", "Point"]
    assert texts(mark, "k:name") == ["RB-03 Ñandú"]
    assert texts(mark, "k:description") == ["RB-03 Ñandú. Kind: drop. Two oaks. 36 15.000 N 092 30.000 W."]
    assert texts(mark, "k:Point/k:coordinates") == ["-92.5,36.25,213.46"]
    assert data_of(mark) == {
        "id": "RB-03", "short_name": "RB-03-Nand", "kind": "drop", "coordinates": "36 15.000 N  092 30.000 W",
        "elevation_m": "213.46",
    }  # fmt: skip


def test_the_order_of_the_set_is_kept_within_a_folder(tmp_path: Path) -> None:
    root = read(tmp_path, share_sets.long_names())
    assert tuple(texts(folder_of(root, "Sites"), "k:Placemark/k:name")) == share_sets.LONG_NAMES


def test_stops_that_are_no_waypoints_are_places_too_and_once(tmp_path: Path) -> None:
    root = read(tmp_path, share_sets.full())
    assert texts(root, ".//k:Placemark/k:name").count("Fuel truck") == 1
    (flight,) = [m for m in folder_of(root, "Routes") if m.findtext("k:name", "", IN) == "Flight 1"]
    assert data_of(flight)["stops"] == "DH-03-drop, DH-01-set, Fuel-truck, DH-03-drop"
    assert len(flight.findtext("k:LineString/k:coordinates", "", IN).split()) == 4


def test_what_has_nothing_to_draw_is_named_only(tmp_path: Path) -> None:
    share = share_sets.full()
    root = read(tmp_path, share)
    assert not set(texts(root, ".//k:Placemark/k:name")) & set(share.undrawn)
    assert texts(root, "k:Document/k:description")[0].endswith(f"Nothing to draw for: {'; '.join(share.undrawn)}.")


def test_names_are_text_and_not_markup(tmp_path: Path) -> None:
    name = "<b>A & B</b>"
    (mark,) = read(tmp_path, one(waypoints=(Waypoint(name=name, lon=0, lat=0),))).findall(".//k:Placemark", IN)
    said = mark.findtext("k:description", "", IN)
    assert mark.findtext("k:name", "", IN) == name
    assert "<" not in said and name in html.unescape(said)


def test_holes_and_parts_are_kept_and_rings_closed_and_turned_the_standard_way(tmp_path: Path) -> None:
    """Outer boundaries counter-clockwise: OGC 07-147r2, outerBoundaryIs (from memory)."""
    shape = share_sets.two_parts_one_hole()
    clockwise = shapely.orient_polygons(shape, exterior_cw=True)
    root = read(tmp_path, one(areas=(Area(name="a", polygons=clockwise, kind="covered"),)))
    polygons = root.findall(".//k:Placemark/k:MultiGeometry/k:Polygon", IN)
    made = []
    for polygon in polygons:
        rings = [
            np.array([[float(v) for v in t.split(",")] for t in text.split()])
            for where in ("outerBoundaryIs", "innerBoundaryIs")
            for text in texts(polygon, f"k:{where}/k:LinearRing/k:coordinates")
        ]
        assert all((ring[0] == ring[-1]).all() for ring in rings)
        assert [shapely.LinearRing(ring).is_ccw for ring in rings] == [True] + [False] * (len(rings) - 1)
        made.append(shapely.Polygon(rings[0], rings[1:]))
    assert shapely.MultiPolygon(made).normalize().equals_exact(shape.normalize(), 1e-8)


def test_lines_and_areas_lie_on_the_ground(tmp_path: Path) -> None:
    root = read(tmp_path, share_sets.full())
    for shape in [*root.iter(f"{{{NAMESPACE}}}LineString"), *root.iter(f"{{{NAMESPACE}}}Polygon")]:
        assert shape.findtext("k:altitudeMode", "", IN) == "clampToGround"
        assert shape.findtext("k:tessellate", "", IN) == "1"


def test_elevations_of_a_line_are_written_where_all_are_known(tmp_path: Path) -> None:
    known = np.array([[0.5, 1.0, 2.0], [1.5, 1.0, 0.0]])
    partly = np.array([[0.5, 1.0, 2.0], [1.5, 1.0, np.nan]])
    root = read(tmp_path, one(tracks=(Track(name="a", lines=(known, partly), kind="foot"),)))
    assert texts(root, ".//k:LineString/k:coordinates") == ["0.5,1,2 1.5,1,0", "0.5,1 1.5,1"]


def test_plain_kml_points_nowhere(tmp_path: Path) -> None:
    write_kml(tmp_path / "a.kml", share_sets.full())
    text = (tmp_path / "a.kml").read_text(encoding="utf-8")
    assert "href" not in text and "IconStyle" not in text
    assert text.count("http") == 1


def test_every_style_is_there_once_and_used(tmp_path: Path) -> None:
    root = read(tmp_path, share_sets.full())
    made = [style.get("id") for style in root.findall("k:Document/k:Style", IN)]
    assert len(made) == len(set(made))
    assert {url.removeprefix("#") for url in texts(root, ".//k:styleUrl")} == set(made)


def test_an_empty_set_is_a_document(tmp_path: Path) -> None:
    root = read(tmp_path, ShareSet(title="", date=share_sets.DAY))
    assert texts(root, "k:Document/k:name") == ["Share"]
    assert not root.findall(".//k:Folder", IN)


def test_a_kmz_begins_with_its_document_and_holds_every_icon_that_it_names(tmp_path: Path) -> None:
    write_kmz(tmp_path / "a.kmz", share_sets.full())
    with zipfile.ZipFile(tmp_path / "a.kmz") as archive:
        names = archive.namelist()
        assert archive.testzip() is None
        root = ET.fromstring(archive.read("doc.kml"))
        assert {info.date_time for info in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
    assert names[0] == "doc.kml"
    assert sorted(texts(root, ".//k:href")) == sorted(names[1:]) == sorted(f"icons/{k}.png" for k in WAYPOINT_KINDS)


def test_a_kmz_holds_only_icons_of_what_is_in_it(tmp_path: Path) -> None:
    write_kmz(tmp_path / "a.kmz", share_sets.long_names())
    with zipfile.ZipFile(tmp_path / "a.kmz") as archive:
        assert archive.namelist() == ["doc.kml", "icons/site.png"]


def test_the_same_set_gives_the_same_bytes(tmp_path: Path) -> None:
    for write, ending in ((write_kml, "kml"), (write_kmz, "kmz")):
        for name in "ab":
            write(tmp_path / f"{name}.{ending}", share_sets.full())
        assert (tmp_path / f"a.{ending}").read_bytes() == (tmp_path / f"b.{ending}").read_bytes()
    assert len(list(tmp_path.iterdir())) == 4


def test_icons_are_black_and_white_and_fit(tmp_path: Path) -> None:
    assert set(icon_shapes()) == set(WAYPOINT_KINDS)
    for kind in icon_shapes():
        found = pixels(kind)
        assert found.shape == (PIXELS, PIXELS, 4)
        assert (found[..., 0] == found[..., 1]).all() and (found[..., 1] == found[..., 2]).all()
        assert found[[0, -1], :, 3].max() < 255 and found[:, [0, -1], 3].max() < 255
        seen = found[..., 3] == 255
        assert (found[..., 0][seen] == 0).mean() > 0.2 and (found[..., 0][seen] == 255).mean() > 0.1


def test_icons_differ_in_black_and_white_at_the_size_of_a_phone() -> None:
    """At 16 by 16 dots on grey ground every two differ clearly in one dot of ten or more."""
    seen = {}
    for kind in icon_shapes():
        found = pixels(kind)
        share = found[..., 3] / 255
        ground = found[..., 0] * share + 128 * (1 - share)
        seen[kind] = ground.reshape(16, 4, 16, 4).mean(axis=(1, 3))
    for a, b in combinations(seen, 2):
        assert (np.abs(seen[a] - seen[b]) > 64).mean() > 0.1, f"{a} and {b}"


def test_routes_have_their_own_look(tmp_path: Path) -> None:
    points = tuple(Waypoint(name=n, lon=i, lat=0) for i, n in enumerate("ab"))
    root = read(tmp_path, one(routes=(Route(name="r", points=points),)))
    assert "line-route" in [s.get("id") for s in root.findall("k:Document/k:Style", IN)]
