"""Vector files: every driver there and back, layers inside files, and files that do not open."""

from __future__ import annotations

import shutil
import zipfile

import numpy as np
import pyogrio
import pytest

from boscage.errors import InputError, LayerError

DRIVERS = ["t.gpkg", "t.shp", "t.geojson", "t.fgb", "t.kml", "t.kmz", "t.gml", "t.tab"]


def needs(name: str) -> None:
    driver = {"kml": "LIBKML", "kmz": "LIBKML", "gml": "GML", "tab": "MapInfo File"}.get(name.split(".")[1])
    if driver and "w" not in pyogrio.list_drivers().get(driver, ""):
        pytest.skip(f"this GDAL has no {driver} driver to write with")


@pytest.mark.parametrize("name", DRIVERS)
def test_lines_come_back_from_every_format(folder, shapes, name: str) -> None:
    needs(name)
    crs = "EPSG:4326" if name.split(".")[1] in ("geojson", "kml", "kmz") else "EPSG:32615"
    drawn = [shapes.line((0, 0), (300, 400)), shapes.line((10, 10), (10, 110))]
    columns = {"class": ["track", "trail"], "public": [0, 0]}
    frame_file = folder.path / name
    kinds = {"kml": "LIBKML", "kmz": "LIBKML", "tab": "MapInfo File"}
    import geopandas as gpd

    frame = gpd.GeoDataFrame(columns, geometry=drawn, crs=shapes.crs).to_crs(crs)
    ending = name.split(".")[1]
    frame.to_file(frame_file, **({"driver": kinds[ending]} if ending in kinds else {}))
    folder.layers["tracks"] = f'"{name}"'
    layer = folder.read().vectors["tracks"]
    # 3-4-5 triangle: 500 m; and 100 m. KML keeps 15 digits, so the change to degrees and back costs under 1 mm.
    # FlatGeobuf sorts features by place when it is written, so the order is not compared.
    lengths = dict(zip(layer.frame["class"], layer.frame.length, strict=True))
    assert lengths == pytest.approx({"track": 500.0, "trail": 100.0}, abs=1e-3)
    assert layer.frame["row"].tolist() == [1, 2]
    assert layer.report.state == "usable", layer.report.doubts


def test_gpx_gives_tracks_as_lines_and_waypoints_as_sign(folder, shapes) -> None:
    import geopandas as gpd

    path = folder.path / "walk.gpx"
    path.write_text(
        '<?xml version="1.0"?><gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">'
        '<wpt lat="36.21" lon="-92.775"><time>2026-11-19T14:00:00Z</time><name>WP001</name><type>Rooting</type></wpt>'
        '<trk><name>in</name><trkseg><trkpt lat="36.21" lon="-92.775"/><trkpt lat="36.211" lon="-92.774"/>'
        "</trkseg></trk></gpx>"
    )
    folder.layers["sign"] = '"walk.gpx"'
    folder.layers["water"] = '"walk.gpx"'
    found = folder.read()
    sign = found.vectors["sign"].frame
    assert sign["kind"].tolist() == ["rooting"] and sign["age_days"].tolist() == [2.0]
    assert "column type taken as kind" in found.vectors["sign"].report.read
    line = found.vectors["water"].frame
    # independent: geodesic length on WGS 84 by pyproj, through geopandas reading the file itself
    from pyproj import Geod

    raw = gpd.read_file(path, layer="tracks").geometry.iloc[0]
    scale = 0.9996  # UTM's scale at its central meridian; 0.25 degrees away it differs by under 1e-5
    assert line.length.iloc[0] == pytest.approx(Geod(ellps="WGS84").geometry_length(raw) * scale, rel=2e-5)


def test_zipped_shapefile_opens(folder, shapes) -> None:
    folder.vector("t.shp", [shapes.line((0, 0), (300, 400))], **{"class": ["track"]})
    with zipfile.ZipFile(folder.path / "tracks.zip", "w") as pack:
        for part in folder.path.glob("t.*"):
            pack.write(part, part.name)
    folder.layers["tracks"] = '"tracks.zip"'
    assert folder.read().vectors["tracks"].frame.length.tolist() == pytest.approx([500.0])


def test_several_layers_must_be_named_except_for_water(folder, shapes) -> None:
    path = folder.path / "many.gpkg"
    import geopandas as gpd

    gpd.GeoDataFrame({"class": ["track"]}, geometry=[shapes.line((0, 0), (9, 0))], crs=shapes.crs).to_file(
        path, layer="lines"
    )
    gpd.GeoDataFrame({"name": ["pond"]}, geometry=[shapes.square(10, 10, 5)], crs="EPSG:26915").to_file(
        path, layer="ponds"
    )
    folder.layers["water"] = '"many.gpkg"'
    water = folder.read().vectors["water"]
    assert len(water.frame) == 2 and "all layers of the file: lines, ponds" in water.report.read
    folder.layers["tracks"] = '"many.gpkg"'
    with pytest.raises(LayerError, match=r"many\.gpkg, layer tracks.*2 layers.*lines, ponds"):
        folder.read()
    folder.layers["tracks"] = '{ path = "many.gpkg", layer = "lines" }'
    assert len(folder.read().vectors["tracks"].frame) == 1
    folder.layers["tracks"] = '{ path = "many.gpkg", layer = "line" }'
    with pytest.raises(LayerError, match="there is no layer line in the file; name one of its layers: lines, ponds"):
        folder.read()
    folder.layers["tracks"] = '{ path = "many.gpkg", layer = "lines" }'
    folder.layers["water"] = '{ path = "many.gpkg", layer = "ponds, lines" }'
    assert folder.read().vectors["water"].frame.geometry.geom_type.tolist() == ["Polygon", "LineString"]


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("t.gpkg", b"this is no database", "cannot be opened"),
        ("t.geojson", b'{"type": "FeatureCollection", "features": [', "cannot be opened"),
        ("t.geojson", b"", "cannot be opened"),
        ("t.shp", b"\x00\x00\x27\x0a", r"bring its \.shx and \.dbf along"),
        ("t.docx", b"x", r"no reader opens this file with the ending \.docx as vector data"),
    ],
)
def test_broken_files_are_said_in_one_line(folder, name: str, content: bytes, said: str) -> None:
    (folder.path / name).write_bytes(content)
    folder.layers["tracks"] = f'"{name}"'
    with pytest.raises(LayerError, match=said) as caught:
        folder.read()
    assert "\n" not in str(caught.value) and str(caught.value).startswith(f"{name}, layer tracks: ")
    assert str(folder.path) not in str(caught.value)


def test_missing_file_names_the_nearest(folder) -> None:
    folder.layers["tracks"] = '"parcel.gpkg"'
    with pytest.raises(LayerError, match=r"there is no such file; the nearest name there is parcels\.gpkg\."):
        folder.read()


def test_null_and_empty_geometries_are_dropped_and_counted(folder, shapes) -> None:
    import shapely

    drawn = [shapes.line((0, 0), (9, 0)), None, shapely.LineString()]
    folder.vector("t.gpkg", drawn, **{"class": ["track"] * 3})
    folder.layers["tracks"] = '"t.gpkg"'
    layer = folder.read().vectors["tracks"]
    assert len(layer.frame) == 1 and layer.report.state == "doubtful"
    assert "rows without a place: 2 of 3 (rows 2, 3)" in layer.report.doubts[0]


def test_bow_ties_are_repaired_and_counted(folder, shapes) -> None:
    import shapely

    tie = shapely.Polygon([(shapes.west + x, shapes.north - y) for x, y in ((0, 0), (100, 100), (100, 0), (0, 100))])
    folder.vector("n.gpkg", [tie], reason=["r"])
    folder.layers["no_go"] = '"n.gpkg"'
    layer = folder.read().vectors["no_go"]
    # two triangles of base 100 m and height 50 m
    assert layer.frame.area.sum() == pytest.approx(2 * 0.5 * 100.0 * 50.0)
    assert layer.frame.geometry.is_valid.all() and "cross themselves: 1 (rows 1)" in layer.report.doubts[0]


def test_heights_are_dropped(folder) -> None:
    import shapely

    z = shapely.LineString([(520000, 4008000, 5), (520010, 4008000, 9)])
    folder.vector("t.gpkg", [z], **{"class": ["track"]})
    folder.layers["tracks"] = '"t.gpkg"'
    assert not folder.read().vectors["tracks"].frame.geometry.has_z.any()


def test_wrong_kind_of_geometry_is_said(folder, shapes) -> None:
    folder.vector("t.gpkg", [shapes.point(1, 1)], **{"class": ["track"]})
    folder.layers["tracks"] = '"t.gpkg"'
    with pytest.raises(LayerError, match=r"row 1: the layer holds 1 of the kind point; expected lines"):
        folder.read()


def test_an_empty_layer_is_missing_and_never_good_news(folder, shapes) -> None:
    import geopandas as gpd

    gpd.GeoDataFrame({"name": []}, geometry=[], crs=shapes.crs).to_file(folder.path / "d.gpkg")
    folder.layers["dwellings"] = '"d.gpkg"'
    found = folder.read()
    report = next(r for r in found.reports if r.name == "dwellings")
    assert report.state == "missing" and "no evidence that there are none" in report.doubts[0]
    assert "dwellings" not in found.vectors and "dwellings" in found.missing()


def test_mixed_case_endings_and_accents_open(folder, shapes) -> None:
    folder.vector("t.gpkg", [shapes.line((0, 0), (9, 0))], **{"class": ["track"], "name": ["Höhle"]})
    shutil.move(folder.path / "t.gpkg", folder.path / "Spuren ü.GPKG")
    folder.layers["tracks"] = '"Spuren ü.GPKG"'
    assert folder.read().vectors["tracks"].frame["name"].tolist() == ["Höhle"]


def test_features_far_outside_are_counted(folder, shapes) -> None:
    drawn = [shapes.line((0, 0), (9, 0)), shapes.line((-90_000, 0), (-90_000, 9))]
    folder.vector("t.gpkg", drawn, **{"class": ["track"] * 2, "public": np.array([False, False])})
    folder.layers["tracks"] = '"t.gpkg"'
    assert "1 of them more than 5 km from the ranch" in folder.read().vectors["tracks"].report.read


def test_two_readers_that_claim_a_file_are_both_named(folder, shapes) -> None:
    from boscage.readers.layers import read_layers
    from boscage.readers.vector import VectorReader

    class Other(VectorReader):
        name = "other"

    with pytest.raises(InputError, match="the readers vector and other both claim this file"):
        read_layers(folder.plan(), [*shapes.readers, Other()])


def test_an_outside_reader_is_used_like_a_built_in_one(folder, shapes) -> None:
    """A reader for an invented text format: one `east;south` a line."""
    import geopandas as gpd

    from boscage.readers.layers import read_layers
    from boscage.readers.protocol import RawVector

    class PegReader:
        name = "pegs"
        kinds = ("vector",)

        def claims(self, path) -> bool:
            return path.suffix == ".pegs"

        def read(self, request) -> RawVector:
            places = [map(float, text.split(";")) for text in request.path.read_text().split()]
            made = gpd.GeoDataFrame({"row": range(1, len(places) + 1)}, geometry=[shapes.point(*p) for p in places])
            return RawVector(frame=made.set_crs(shapes.crs), notes=("pegs",))

    (folder.path / "d.pegs").write_text("10;20\n30;40\n")
    folder.layers["dwellings"] = '"d.pegs"'
    layer = read_layers(folder.plan(), [*shapes.readers, PegReader()]).vectors["dwellings"]
    assert layer.frame.geometry.x.tolist() == [shapes.west + 10, shapes.west + 30]
    assert layer.report.read == "2 points; pegs"
