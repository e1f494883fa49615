"""What files are taken for by their content: the sample ranch, open data, and files that are none of the layers."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import geopandas as gpd
import numpy as np
import pyogrio
import pytest
import rasterio
import shapely
from affine import Affine

from boscage.model.recognised import GUESS, LAYER_ADDS, LIKELY, SURE, UNKNOWN, Recognised
from boscage.plugins import load_readers
from boscage.readers.recognise import recognise

SAMPLE = Path(__file__).parents[3] / "sample_data"
OPEN = Path(__file__).parents[2] / "data"
WEST, NORTH, CRS = 520_000.0, 4_008_000.0, "EPSG:32615"
SAMPLE_LAYERS = {
    "parcels.gpkg": ("parcels",), "canopy_cover.tif": ("canopy_cover",), "canopy_height": ("canopy_height",),
    "terrain.tif": ("terrain",), "soils.gpkg": ("soils",), "probes.csv": ("probes",),
    "tracks.gpkg": ("tracks", "gates"), "gates.gpkg": ("gates",), "fences.gpkg": ("fences",),
    "water.gpkg": ("water",), "dwellings.gpkg": ("dwellings",), "power_lines.gpkg": ("power_lines",),
    "no_go.gpkg": ("no_go",), "sign.csv": ("sign",), "searched.gpkg": ("searched",), "cameras": ("cameras",),
    "stems_creek.csv": ("stems",), "stems_bench.csv": ("stems",), "log.csv": ("log",), "stems_places.csv": (None,),
}  # fmt: skip


def found(path: Path) -> tuple[Recognised, ...]:
    return recognise(path, load_readers())


def one(path: Path) -> Recognised:
    (answer,) = found(path)
    return answer


@pytest.mark.parametrize(("name", "layers"), SAMPLE_LAYERS.items(), ids=SAMPLE_LAYERS)
def test_every_file_of_the_sample_ranch_is_recognised(name: str, layers: tuple[str | None, ...]) -> None:
    answers = found(SAMPLE / name)
    assert tuple(a.layer for a in answers) == layers
    for answer in answers:
        assert answer.confidence == (SURE if answer else UNKNOWN)
        assert answer.adds == (LAYER_ADDS[answer.layer] if answer.layer else "")
        assert answer.why.endswith(".")


@pytest.mark.parametrize("name", [n for n, layers in SAMPLE_LAYERS.items() if layers[0] and not (SAMPLE / n).is_dir()])
def test_the_name_is_not_needed(name: str, tmp_path: Path) -> None:
    """The same content under a name, and in layers, that say nothing."""
    source = SAMPLE / name
    targets = []
    if source.suffix == ".gpkg":
        for n, (inner, _) in enumerate(pyogrio.list_layers(source)):
            targets.append(tmp_path / f"x{n}.geojson")
            pyogrio.read_dataframe(source, layer=inner).to_file(targets[-1])
    else:
        targets.append(tmp_path / f"x{source.suffix}")
        shutil.copy(source, targets[0])
    answers = [one(t) for t in targets]
    assert {a.layer for a in answers} == set(SAMPLE_LAYERS[name])
    assert all(a.confidence in (SURE, LIKELY) for a in answers)


def test_the_whole_sample_folder_gives_every_layer() -> None:
    answers = found(SAMPLE)
    assert {a.layer for a in answers} - {None} == set(LAYER_ADDS)
    unknown = sorted(Path(a.path).name for a in answers if not a)
    assert unknown == ["stems_places.csv", "transects.csv"]


def test_boxes_are_degrees_of_the_place() -> None:
    """All layers lie on the ranch, whose middle is near 92.7 W, 36.2 N."""
    for answer in found(SAMPLE):
        if answer.box is not None:
            west, south, east, north = answer.box
            assert -92.75 < west <= east < -92.65
            assert 36.16 < south <= north < 36.24


OPEN_LAYERS = {
    "osm/test_driving.fgb": ("tracks", SURE), "meuse/area_river.fgb": ("water", SURE),
    "parcels/bubenec_plots.fgb": ("parcels", GUESS), "gorillas/elevation.tif": ("terrain", SURE),
    "gorillas/slopeangle.tif": (None, UNKNOWN), "canopy_rasters/348_4600_2017_fcc5m.tif": ("canopy_cover", SURE),
    "canopy_rasters/348_4602_2017_fcc5m.tif": ("canopy_cover", SURE),
    "canopy_rasters/348_4600_2017_alt95.tif": ("canopy_height", LIKELY),
    "lidar/autzen_trim.laz": ("canopy_height", SURE), "stem_maps/longleaf.csv": ("stems", SURE),
    "stem_maps/spruces.csv": ("stems", SURE), "stem_maps/waka.csv": ("stems", SURE),
    "soils_meuse/points.csv": (None, UNKNOWN), "soils_jura/points.csv": (None, UNKNOWN),
    "soils_cone/land_log.csv": (None, UNKNOWN), "soils_dutch/horizons.csv": (None, UNKNOWN),
    "puechabon/relocs.csv": (None, UNKNOWN), "removal/lobster.csv": (None, UNKNOWN),
    "removal/worked.csv": (None, UNKNOWN), "geodesics/inverse.csv": (None, UNKNOWN),
    "sf_stores/distances.csv": (None, UNKNOWN), "wmm2025/test_values.csv": (None, UNKNOWN),
    "bin_packing/instances.csv": (None, UNKNOWN), "bin_packing/README.txt": (None, UNKNOWN),
}  # fmt: skip


@pytest.mark.parametrize(("name", "right"), OPEN_LAYERS.items(), ids=OPEN_LAYERS)
def test_open_data_are_what_their_readmes_say(name: str, right: tuple[str | None, str]) -> None:
    """The README beside each file names its source and content; those that are no layer must not be taken for one."""
    answer = one(OPEN / name)
    assert (answer.layer, answer.confidence) == right
    assert answer.why.startswith("Not recognised: ") == (right[0] is None)


def test_roads_of_openstreetmap_need_their_words_translated() -> None:
    answer = one(OPEN / "osm" / "test_driving.fgb")
    assert "column highway" in answer.why
    assert "write road, track or trail for each line" in answer.doubts[0]


def test_recorded_tracks_and_waypoints_of_gpx() -> None:
    marked, walked = found(OPEN / "gpx" / "cerknicko-jezero.gpx")
    assert (marked.layer, marked.confidence, marked.inner) == ("sign", GUESS, "waypoints")
    assert marked.read == "7 points"
    assert "write one of rooting, wallow" in marked.doubts[0]
    assert (walked.layer, walked.inner) == ("searched", "tracks")
    assert "on which day" in walked.doubts[0]
    assert one(OPEN / "gpx" / "Mojstrovka.gpx").layer == "searched"


def test_waypoints_that_name_sign_are_sign(tmp_path: Path) -> None:
    points = "".join(
        f'<wpt lat="36.2{n}" lon="-92.7"><time>2026-11-{n + 10}T08:00:00Z</time><name>{w}</name></wpt>'
        for n, w in enumerate(["rooting", "Wallow", "rub", "bed"])
    )
    path = tmp_path / "garmin.gpx"
    path.write_text(
        f'<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">{points}</gpx>', encoding="utf-8"
    )
    answer = one(path)
    assert (answer.layer, answer.confidence) == ("sign", SURE)
    assert answer.columns == {"kind": "name"}


def raster(path: Path, values: np.ndarray, *, crs: str | None = CRS, nodata: float | None = None, cell: float = 10.0,
           unit: str | None = None, bands: int = 1) -> Path:  # fmt: skip
    profile = {"driver": "GTiff", "height": values.shape[0], "width": values.shape[1], "count": bands,
               "dtype": values.dtype, "crs": crs, "nodata": nodata,
               "transform": Affine(cell, 0, WEST, 0, -cell, NORTH)}  # fmt: skip
    with rasterio.open(path, "w", **profile) as file:
        for band in range(1, bands + 1):
            file.write(values, band)
        if unit:
            file.units = (unit,)
    return path


def spanish(name: str) -> np.ndarray:
    with rasterio.open(OPEN / "canopy_rasters" / f"348_4600_2017_{name}.tif") as file:
        return file.read(1, masked=True).astype(np.float64).filled(np.nan)


UNITS = {
    "metres": (lambda z: z.astype(np.float32), None, None),
    "feet": (lambda z: (z / 0.3048 * 1.2).astype(np.float32), None, "ft"),
    "decimetres": (lambda z: np.nan_to_num(np.round(z * 10)).astype(np.uint16), None, "dm"),
    "centimetres": (lambda z: np.nan_to_num(np.round(z * 100)).astype(np.uint16), None, "cm"),
    "feet that the file states": (lambda z: (z / 0.3048).astype(np.float32), "US survey foot", None),
    "metres that the file states": (lambda z: (z * 2.5).astype(np.float32), "metre", None),
}


@pytest.mark.parametrize(("change", "stated", "unit"), UNITS.values(), ids=UNITS)
def test_the_unit_of_canopy_heights_is_guessed_with_its_reason(
    change: object, stated: str | None, unit: str | None, tmp_path: Path
) -> None:
    """Heights near Valladolid, tallest 26.8 m, written in other units; 1.2 and 2.5 times as tall where feet and metres
    could be mistaken.
    """
    answer = one(raster(tmp_path / "x.tif", change(spanish("alt95")), unit=stated))  # type: ignore[operator]
    assert (answer.layer, answer.unit) == ("canopy_height", unit)
    assert answer.unit_why.startswith("The file states" if stated else ("The tallest is", "Whole numbers up to"))


def test_cover_as_shares_of_one(tmp_path: Path) -> None:
    answer = one(raster(tmp_path / "x.tif", (spanish("fcc5m") / 100.0).astype(np.float32)))
    assert (answer.layer, answer.unit, answer.confidence) == ("canopy_cover", "fraction", LIKELY)
    assert answer.unit_why == "The greatest number is 1: shares of 1, not per cent."


def test_elevations_in_feet_are_told_by_their_slopes(tmp_path: Path) -> None:
    """Ground at Kagwene has a median slope of 0.43 at 30.7 m cells; in feet, over the same cells, it would be 1.4."""
    with rasterio.open(OPEN / "gorillas" / "elevation.tif") as file:
        z = file.read(1)
    answer = one(raster(tmp_path / "x.tif", (z / 0.3048).astype(np.float32), cell=30.709549771388993))
    assert (answer.layer, answer.unit) == ("terrain", "ft")
    assert "taken as feet" in answer.unit_why
    assert any("check it" in doubt for doubt in answer.doubts)


def test_heights_and_cover_that_cannot_be_told_apart_show_both(tmp_path: Path) -> None:
    answer = one(raster(tmp_path / "x.tif", np.nan_to_num(np.minimum(spanish("fcc5m"), 55.0)).astype(np.uint8)))
    assert {answer.layer, *(a.layer for a in answer.alternatives)} == {"canopy_height", "canopy_cover"}
    assert answer.confidence != SURE


def none_of_them(path: Path, *words: str) -> None:
    for answer in found(path):
        assert answer.layer is None
        assert answer.confidence == UNKNOWN
        assert answer.adds == ""
        assert answer.why.startswith("Not recognised: ")
        assert answer.why.count(".") >= 1
        for word in words:
            assert word in answer.why


def test_rasters_that_are_none_of_the_layers(tmp_path: Path) -> None:
    rng = np.random.default_rng(7)
    none_of_them(raster(tmp_path / "a.tif", rng.integers(0, 255, (80, 90)).astype(np.uint8), bands=3), "picture")
    none_of_them(raster(tmp_path / "b.tif", rng.integers(1, 9, (80, 90)).astype(np.uint8)), "map of classes")
    none_of_them(raster(tmp_path / "c.tif", np.full((80, 90), -9.0, np.float32), nodata=-9.0), "holds no data")
    none_of_them(raster(tmp_path / "d.tif", rng.normal(0, 1e6, (80, 90)).astype(np.float32)), "neither cover")
    none_of_them(raster(tmp_path / "e.tif", (rng.random((80, 90)) * 360).astype(np.float32)), "neither cover")


def test_a_raster_without_a_crs_is_known_and_says_what_it_lacks(tmp_path: Path) -> None:
    with rasterio.open(SAMPLE / "terrain.tif") as file:
        answer = one(raster(tmp_path / "x.tif", file.read(1), crs=None))
    assert (answer.layer, answer.box) == ("terrain", None)
    assert "states no CRS" in answer.doubts[0]


def layer(path: Path, shapes: list[shapely.Geometry], crs: str | None = CRS, **columns: object) -> Path:
    moved = [shapely.transform(s, lambda c: c + (WEST, NORTH - 3000.0)) for s in shapes]
    gpd.GeoDataFrame(columns, geometry=moved, crs=crs).to_file(path)
    return path


def boxes(count: int) -> list[shapely.Geometry]:
    return [shapely.box(500.0 * n, 0, 500.0 * (n + 1), 900) for n in range(count)]


def lines(count: int) -> list[shapely.Geometry]:
    return [shapely.LineString([(0, 40.0 * n), (900, 40.0 * n + 5)]) for n in range(count)]


def points(count: int) -> list[shapely.Geometry]:
    return [shapely.Point(90.0 * n, 70.0 * n) for n in range(count)]


def test_columns_that_the_plan_must_state_are_guessed(tmp_path: Path) -> None:
    path = layer(
        tmp_path / "x.gpkg", boxes(3), OWN1=["A", "B", "C"], PERMIT=["granted", "Refused", None], PID=[1, 2, 3]
    )
    answer = one(path)
    assert (answer.layer, answer.confidence) == ("parcels", SURE)
    assert answer.columns == {"access": "PERMIT", "owner": "OWN1", "parcel": "PID"}
    ways = one(layer(tmp_path / "y.gpkg", lines(3), what=["road", "Track", "trail"]))
    assert (ways.layer, ways.columns) == ("tracks", {"class": "what"})


def test_parcels_without_permission_say_that_nothing_can_be_ranked(tmp_path: Path) -> None:
    bare = one(layer(tmp_path / "x.gpkg", boxes(3), owner=["A", "B", "C"], acres=[10, 20, 30]))
    assert (bare.layer, bare.confidence) == ("parcels", LIKELY)
    assert "nothing can be ranked" in bare.doubts[0]
    asked = one(layer(tmp_path / "y.gpkg", boxes(3), owner=["A", "B", "C"], permission=["yes", "no", "yes"]))
    assert asked.doubts[0].startswith("The column permission holds no, yes: write granted, refused or unknown")


OTHERS = {
    "county parcels": (boxes(4), {"PIN": ["1", "2", "3", "4"], "OWNER_NAME": ["A", "B", "C", "D"]}, "parcels"),
    "soil survey cut out": (boxes(2), {"MUSYM": ["A", "B"], "MUKEY": ["1", "2"], "texcl": ["loam"] * 2}, "soils"),
    "closures": (boxes(2), {"reason": ["calving", "graves"], "from": ["03-01", None], "until": ["06-01", None]},
                 "no_go"),
    "lakes": (boxes(2), {"GNIS_NAME": ["Long Lake", "Mill Pond"], "FType": [390, 390]}, "water"),
    "house outlines": (boxes(2), {"building": ["house", "barn"]}, "dwellings"),
    "forest roads": (lines(4), {"SURFACE": ["gravel"] * 4, "ROAD_TYPE": ["Forest Road", "Trail", "Trail", "Road"]},
                     "tracks"),
    "rivers of OpenStreetMap": (lines(3), {"waterway": ["stream", "stream", "river"]}, "water"),
    "lines of a utility": (lines(2), {"VOLTAGE": [69, 138], "OWNER": ["U", "U"]}, "power_lines"),
    "towers": (points(3), {"power": ["tower", "tower", "pole"]}, "power_lines"),
    "fences": (lines(3), {"fence_type": ["barbed", "woven", "electric"]}, "fences"),
    "walks": (lines(3), {"date": ["2026-11-01", "2026-11-02", "2026-11-02"], "observer": ["op 1"] * 3}, "searched"),
    "gates": (points(3), {"kind": ["entry", "inner", "inner"], "state": ["locked", "open", "closed"]}, "gates"),
    "sign": (points(4), {"type": ["rooting", "Rub", "track", "scat"], "time": ["2026-11-01"] * 4}, "sign"),
    "cone readings": (points(3), {"ci_kpa": [900, 1200, 1500], "depth_cm": [15, 30, 45]}, "probes"),
    "blows": (points(3), {"blows": [4, 7, 9], "depth_in": [6, 12, 18]}, "probes"),
    "log with places": (points(3), {"date": ["2026-11-01"] * 3, "site": ["A", "A", "B"],
                                    "event": ["prebait", "armed", "capture"]}, "log"),
}  # fmt: skip


@pytest.mark.parametrize(("shapes", "columns", "right"), OTHERS.values(), ids=OTHERS)
def test_layers_of_other_offices_under_a_name_that_says_nothing(
    shapes: list[shapely.Geometry], columns: dict[str, list], right: str, tmp_path: Path
) -> None:
    answer = one(layer(tmp_path / "x.gpkg", shapes, **columns))
    assert answer.layer == right
    assert answer.confidence in (SURE, LIKELY)


def test_features_that_nothing_speaks_for(tmp_path: Path) -> None:
    none_of_them(layer(tmp_path / "a.gpkg", points(3), OBJECTID=[1, 2, 3]), "the columns are OBJECTID")
    none_of_them(layer(tmp_path / "b.gpkg", lines(3), value=[0.1, 0.2, 0.3]), "3 lines")
    none_of_them(layer(tmp_path / "c.gpkg", [shapely.box(0, 0, 9, 9)], n=[1]), "1 polygon")


def test_a_table_without_places_inside_a_geopackage_can_be_the_log(tmp_path: Path) -> None:
    frame = gpd.pd.DataFrame({"date": ["2026-11-01"], "set": ["A"], "action": ["armed"]})
    pyogrio.write_dataframe(frame, tmp_path / "x.gpkg", layer="rows")
    assert one(tmp_path / "x.gpkg").layer == "log"
    frame = gpd.pd.DataFrame({"price": [1.0]})
    pyogrio.write_dataframe(frame, tmp_path / "y.gpkg", layer="rows")
    none_of_them(tmp_path / "y.gpkg", "has no places")


def test_forms_that_were_filled_in_are_the_log(tmp_path: Path) -> None:
    path = tmp_path / "x.csv"
    path.write_text(
        "start,end,site,site_other,arrived,found,inside,next_due,staffed,hours,note,KEY\n"
        "2026-11-01T08:00,2026-11-01T08:05,DH_01,,2026-11-01T08:00:00,armed,no,,,0.5,,uuid:1\n", encoding="utf-8"
    )  # fmt: skip
    answer = one(path)
    assert (answer.layer, answer.read) == ("log", "filled-in forms")


def test_soil_surveys_by_their_files(tmp_path: Path) -> None:
    folder = tmp_path / "CO001"
    (folder / "spatial").mkdir(parents=True)
    (folder / "tabular").mkdir()
    layer(folder / "spatial" / "soilmu_a_co001.shp", boxes(2), MUSYM=["A", "B"], MUKEY=["1", "2"])
    assert (one(folder).layer, one(folder).confidence) == ("soils", SURE)
    path = layer(tmp_path / "x.gpkg", boxes(2), mukey=["1", "2"])
    (tmp_path / "x.gpkg").unlink()
    frame = gpd.GeoDataFrame({"mukey": ["1", "2"]}, geometry=boxes(2), crs=CRS)
    pyogrio.write_dataframe(frame, path, layer="mupolygon")
    pyogrio.write_dataframe(gpd.pd.DataFrame({"mukey": ["1"], "cokey": ["1"]}), path, layer="component", append=True)
    assert (one(path).layer, one(path).confidence) == ("soils", SURE)


def test_folders_of_camera_packages(tmp_path: Path) -> None:
    for name in ("north", "south"):
        shutil.copytree(SAMPLE / "cameras", tmp_path / "all" / name)
    assert (one(tmp_path / "all").layer, one(tmp_path / "all").read) == ("cameras", "2 camera packages")
    assert "one table of a camera package" in one(SAMPLE / "cameras" / "observations.csv").why
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "datapackage.json").write_text(json.dumps({"profile": "tabular-data-package"}))
    none_of_them(tmp_path / "other", "other data than a Camtrap DP package")
    (tmp_path / "other" / "datapackage.json").write_text("{")
    none_of_them(tmp_path / "other", "cannot be read")


def test_a_shapefile_is_one_thing_however_many_files_it_is(tmp_path: Path) -> None:
    layer(tmp_path / "roads.shp", lines(3), highway=["track", "track", "road"])
    answers = found(tmp_path)
    assert [(a.layer, Path(a.path).name) for a in answers] == [("tracks", "roads.shp")]


EMPTY = {
    "zero bytes": ("x.csv", b"", "the file is empty"), "a header alone": ("x.csv", b"lon,lat,kind\n", "no rows"),
    "no text": ("x.csv", b"\x00\x01\x02", "no text"), "zero bytes of a GeoPackage": ("x.gpkg", b"", "cannot be opened"),
    "a broken GeoPackage": ("x.gpkg", b"SQLite format 3\0rubbish", "cannot be opened"),
    "a broken raster": ("x.tif", b"II*\0rubbish", "cannot be opened"),
    "an unknown ending": ("x.docx", b"PK", "no reader opens this file"), "no ending": ("x", b"a", "no reader opens"),
    "nobody's columns": ("x.csv", b"a,b\n1,2\n", "no places and is no stem list and no log (the columns are a, b)"),
    "places alone": ("x.csv", b"lon,lat\n-92.7,36.2\n", "nothing speaks for any of the layers"),
}  # fmt: skip


@pytest.mark.parametrize(("name", "data", "said"), EMPTY.values(), ids=EMPTY)
def test_empty_broken_and_unknown_files_are_one_sentence(name: str, data: bytes, said: str, tmp_path: Path) -> None:
    (tmp_path / name).write_bytes(data)
    none_of_them(tmp_path / name, said)


def test_nothing_there_and_nothing_inside(tmp_path: Path) -> None:
    none_of_them(tmp_path / "gone.gpkg", "there is no such file")
    none_of_them(tmp_path, "no file that a reader opens")
    gpd.GeoDataFrame({"class": []}, geometry=[], crs=CRS).to_file(tmp_path / "empty.gpkg")
    none_of_them(tmp_path / "empty.gpkg", "holds no features")


def test_exchanged_axes_are_doubted_as_far_as_the_numbers_show_it(tmp_path: Path) -> None:
    text = (SAMPLE / "sign.csv").read_text(encoding="utf-8").replace("lon,lat,", "lat,lon,", 1)
    (tmp_path / "x.csv").write_text(text, encoding="utf-8")
    answer = one(tmp_path / "x.csv")
    assert (answer.layer, answer.box) == ("sign", None)
    assert answer.doubts == ("The latitude -92.7317 does not exist; are lon and lat exchanged?",)
    frame = gpd.GeoDataFrame({"building": ["house"]}, geometry=[shapely.Point(36.2, -92.7)], crs="EPSG:4326")
    frame.to_file(tmp_path / "y.gpkg")
    assert "axes look swapped" in one(tmp_path / "y.gpkg").doubts[0]


def test_a_stem_list_with_a_fault_is_still_one(tmp_path: Path) -> None:
    (tmp_path / "x.csv").write_text("stem,dbh,x_m,y_m\n1,30,1,2\n", encoding="utf-8")
    answer = one(tmp_path / "x.csv")
    assert (answer.layer, answer.confidence) == ("stems", LIKELY)
    assert "does not say its unit" in answer.doubts[0]
