"""Every bad input gets one plain sentence that names the place, and exit status 2; nothing is written."""

from __future__ import annotations

import json
import shutil
import warnings
from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import rasterio
import shapely
import tiny_ranch as tiny
from rasterio.transform import from_origin
from shapely.affinity import translate

from boscage.cli.main import main
from boscage.plugins import FACTORS, list_plugins

Change = Callable[[Path], None]
CASES: dict[str, tuple[Change, tuple[str, ...]]] = {}


def case(*words: str) -> Callable[[Change], Change]:
    """Register a change to the tiny ranch and the words that the message must hold."""

    def register(change: Change) -> Change:
        CASES[change.__name__] = (change, words)
        return change

    return register


def plan(folder: Path, old: str, new: str) -> None:
    path = folder / "plan.toml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def table(folder: Path, name: str, /, **keys: str) -> None:
    """Give a layer's table in the plan more keys."""
    more = "".join(f", {key} = {value}" for key, value in keys.items())
    path = folder / "plan.toml"
    lines = path.read_text(encoding="utf-8").splitlines()
    lines = [
        f"{name} = {{ path = {line.split(' = ')[1]}{more} }}" if line.startswith(f'{name} = "') else line
        for line in lines
    ]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def vector(folder: Path, name: str, change: Callable[[gpd.GeoDataFrame], gpd.GeoDataFrame]) -> None:
    path = folder / f"{name}.gpkg"
    frame = change(gpd.read_file(path))
    path.unlink()
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", "'crs' was not provided")
        frame.to_file(path)


def raster(folder: Path, name: str, change: Callable[[np.ndarray], np.ndarray], **profile: object) -> None:
    path = folder / f"{name}.tif"
    with rasterio.open(path) as file:
        values, kept = file.read(1), file.profile
    path.unlink()
    with rasterio.open(path, "w", **{**kept, **profile}) as file:
        file.write(change(values), 1)


def sign_rows(folder: Path, *rows: str, head: str = "lon,lat,kind,date") -> None:
    (folder / "sign.csv").write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")


# --- the plan ---


@case("plan.toml", "there is no such plan")
def plan_is_missing(folder: Path) -> None:
    (folder / "plan.toml").unlink()


@case("plan.toml", "line")
def plan_is_not_toml(folder: Path) -> None:
    plan(folder, "[ranch]", "[ranch")


@case("plan.toml", "UTF-8")
def plan_is_not_text(folder: Path) -> None:
    (folder / "plan.toml").write_bytes(b"\xff\xfe[\x00r\x00")


@case("sites.spacing", "300", "no unit")
def bare_number_for_a_length(folder: Path) -> None:
    plan(folder, 'spacing = "200m"', "spacing = 300")


@case("layers.terain", "did you mean terrain")
def misspelt_layer(folder: Path) -> None:
    plan(folder, "terrain =", "terain =")


@case("factors.covr", "did you mean cover")
def misspelt_factor(folder: Path) -> None:
    plan(folder, "[sites]", "[factors.covr]\nweight = 2\n[sites]")


@case("factors.cover.value", "point 2", "rising")
def value_function_runs_backwards(folder: Path) -> None:
    plan(folder, "[sites]", "[factors.cover]\nvalue = [[60, 1.0], [0, 0.0]]\n[sites]")


@case("factors.use.value", "1.5")
def value_function_over_one(folder: Path) -> None:
    plan(folder, "[sites]", "[factors.use]\nvalue = [[0, 0.0], [60, 1.5]]\n[sites]")


@case("factors.cover.weight", "-1")
def negative_weight(folder: Path) -> None:
    plan(folder, "[sites]", "[factors.cover]\nweight = -1\n[sites]")


@case("factors", "weight 0")
def every_weight_is_zero(folder: Path) -> None:
    names = list_plugins(FACTORS)
    plan(folder, "[sites]", "".join(f"[factors.{n}]\nweight = 0\n" for n in names) + "[sites]")


@case("sites.cell", "million cells")
def grid_is_far_too_fine(folder: Path) -> None:
    plan(folder, "[sites]", '[ranch2]\n[sites]\ncell = "1m"')
    plan(folder, "[ranch2]\n", "")
    vector(folder, "parcels", lambda f: f.set_geometry(f.geometry.scale(3, 3, origin=(526500, 4006500))))


@case("ranch.crs", "EPSG:4326", "degrees", "EPSG:32615")
def ranch_crs_is_geographic(folder: Path) -> None:
    plan(folder, "[ranch]", '[ranch]\ncrs = "EPSG:4326"')


@case("ranch.crs", "EPSG:3433", "EPSG:32615")
def ranch_crs_is_in_feet(folder: Path) -> None:
    plan(folder, "[ranch]", '[ranch]\ncrs = "EPSG:3433"')


@case("ranch.crs", "EPSG:3857", "1.24 times too long")
def ranch_crs_is_stretched(folder: Path) -> None:
    plan(folder, "[ranch]", '[ranch]\ncrs = "EPSG:3857"')


@case("ranch.crs", "EPSG:99999", "unknown")
def ranch_crs_does_not_exist(folder: Path) -> None:
    plan(folder, "[ranch]", '[ranch]\ncrs = "EPSG:99999"')


@case("rules.toml", "there is no such rules file")
def rules_file_is_missing(folder: Path) -> None:
    plan(folder, "[stops]", '[stops]\nrules = "rules.toml"')


@case("rules.toml", "checked", "the key is missing")
def rule_without_a_day(folder: Path) -> None:
    plan(folder, "[stops]", '[stops]\nrules = "rules.toml"')
    (folder / "rules.toml").write_text(
        '[[rule]]\nstop = "dwelling"\ndistance = "500ft"\ntext = "t"\ncitation = "c"\n', encoding="utf-8"
    )


# --- parcels ---


@case("parcels.gpkg", "layer parcels", "there is no such file")
def parcels_are_missing(folder: Path) -> None:
    (folder / "parcels.gpkg").unlink()


@case("parcels.gpkg", "layer parcels")
def parcels_are_no_gis_file(folder: Path) -> None:
    (folder / "parcels.gpkg").write_bytes(b"hello, this is no GeoPackage")


@case("parcels.gpkg", "field access", "columns")
def parcels_without_access(folder: Path) -> None:
    vector(folder, "parcels", lambda f: f.drop(columns="access"))


@case("parcels.gpkg", "row 2", "field access", "maybe", "granted")
def parcels_with_an_unknown_word(folder: Path) -> None:
    vector(folder, "parcels", lambda f: f.assign(access=["granted", "maybe"]))


@case("parcels.gpkg", "CRS", 'crs = "EPSG:')
def parcels_without_crs(folder: Path) -> None:
    vector(folder, "parcels", lambda f: f.set_crs(None, allow_override=True))


@case("parcels.gpkg", "layer parcels")
def parcels_are_empty(folder: Path) -> None:
    vector(folder, "parcels", lambda f: f.iloc[:0])


@case("parcels.gpkg", "layer parcels", "polygons")
def parcels_are_lines(folder: Path) -> None:
    vector(folder, "parcels", lambda f: f.set_geometry(f.geometry.boundary))


@case("parcels.geojson", "swapped")
def parcels_with_swapped_axes(folder: Path) -> None:
    frame = gpd.read_file(folder / "parcels.gpkg").to_crs("EPSG:4326")
    turned = frame.set_geometry(shapely.transform(frame.geometry.to_numpy(), lambda c: c[:, ::-1]), crs="EPSG:4326")
    turned.to_file(folder / "parcels.geojson")
    plan(folder, "parcels.gpkg", "parcels.geojson")


@case("parcels.gpkg", "degrees")
def parcels_in_degrees_that_claim_metres(folder: Path) -> None:
    vector(folder, "parcels", lambda f: f.to_crs("EPSG:4326").set_crs("EPSG:32615", allow_override=True))


@case("parcels.gpkg", "proprietor", "owner")
def columns_names_one_that_is_not_there(folder: Path) -> None:
    table(folder, "parcels", columns='{ owner = "proprietor" }')


@case("parcels.gpkg", "west_half", "east_half")
def several_layers_and_none_named(folder: Path) -> None:
    frame = gpd.read_file(folder / "parcels.gpkg")
    (folder / "parcels.gpkg").unlink()
    frame.to_file(folder / "parcels.gpkg", layer="west_half")
    frame.to_file(folder / "parcels.gpkg", layer="east_half")


@case("parcels.gpkg", "nowhere")
def layer_inside_the_file_does_not_exist(folder: Path) -> None:
    table(folder, "parcels", layer='"nowhere"')


# --- other vectors ---


@case("tracks.gpkg", "row 1", "field class", "highway", "road")
def tracks_with_an_unknown_class(folder: Path) -> None:
    vector(folder, "tracks", lambda f: f.assign(**{"class": ["highway", "track"]}))


@case("tracks.gpkg", "field class")
def tracks_without_class(folder: Path) -> None:
    vector(folder, "tracks", lambda f: f.drop(columns="class"))


@case("tracks.gpkg", "layer tracks", "lines")
def tracks_are_points(folder: Path) -> None:
    vector(folder, "tracks", lambda f: f.set_geometry(f.geometry.centroid))


def more_layer(folder: Path, name: str, shapes: list, /, **columns: list) -> None:
    """A layer that the tiny ranch does not have, in the plan too."""
    gpd.GeoDataFrame(columns, geometry=shapes, crs=tiny.UTM).to_file(folder / f"{name}.gpkg")
    plan(folder, 'sign = "sign.csv"', f'sign = "sign.csv"\n{name} = "{name}.gpkg"')


INSIDE = [shapely.Point(526_000, 4_006_000), shapely.Point(526_500, 4_006_000)]


@case("gates.gpkg", "layer gates", "row 2", "field kind", "main", "entry or inner")
def gates_of_an_unknown_kind(folder: Path) -> None:
    more_layer(folder, "gates", INSIDE, kind=["entry", "main"])


@case("gates.gpkg", "layer gates", "row 1", "field state", "locked ####", "open, closed or locked")
def gates_with_a_code_for_a_state(folder: Path) -> None:
    more_layer(folder, "gates", INSIDE, state=["locked 7719", "open"])


@case("gates.gpkg", "layer gates", "row 1", "line", "points")
def gates_are_lines(folder: Path) -> None:
    more_layer(folder, "gates", [shapely.LineString(INSIDE)], kind=["entry"])


@case("gates.gpkg", "layer gates", "columns.note", "gate codes are never read")
def gates_whose_code_is_asked_for(folder: Path) -> None:
    more_layer(folder, "gates", INSIDE, code=["7719", "17"])
    table(folder, "gates", columns='{ note = "code" }')


@case("gates.gpkg", "layer gates", "there is no such file")
def gates_are_missing(folder: Path) -> None:
    more_layer(folder, "gates", INSIDE, kind=["entry", "inner"])
    (folder / "gates.gpkg").unlink()


@case("fences.gpkg", "layer fences", "row 1", "polygon", "lines")
def fences_are_polygons(folder: Path) -> None:
    more_layer(folder, "fences", [INSIDE[0].buffer(90)], name=["pasture"])


@case("fences.gpkg", "layer fences", "degrees")
def fences_in_degrees_that_claim_metres(folder: Path) -> None:
    more_layer(folder, "fences", [shapely.LineString([(-92.70, 36.20), (-92.69, 36.20)])], name=["north"])


@case("dwellings.xyz", "layer dwellings")
def a_format_that_nobody_reads(folder: Path) -> None:
    (folder / "dwellings.xyz").write_text("1 2 3\n", encoding="utf-8")
    plan(folder, "dwellings.gpkg", "dwellings.xyz")


@case("no_go.gpkg", "row 1", "field from", "soon")
def no_go_with_a_bad_date(folder: Path) -> None:
    frame = gpd.read_file(folder / "parcels.gpkg").iloc[:1]
    frame.assign(**{"reason": "cattle", "from": "soon", "until": "2026-12-01"}).to_file(folder / "no_go.gpkg")
    plan(folder, "[sites]", "[layers2]\n[sites]")
    plan(folder, "[layers2]\n", "")
    plan(folder, 'sign = "sign.csv"', 'sign = "sign.csv"\nno_go = "no_go.gpkg"')


@case("no_go.gpkg", "row 1", "until")
def no_go_that_ends_before_it_begins(folder: Path) -> None:
    frame = gpd.read_file(folder / "parcels.gpkg").iloc[:1]
    frame.assign(**{"reason": "cattle", "from": "2026-12-02", "until": "2026-12-01"}).to_file(folder / "no_go.gpkg")
    plan(folder, 'sign = "sign.csv"', 'sign = "sign.csv"\nno_go = "no_go.gpkg"')


@case("soils.gpkg", "row 2", "depth_cm", "deep")
def soils_with_words_for_numbers(folder: Path) -> None:
    vector(folder, "soils", lambda f: f.assign(depth_cm=["12", "deep"]))


def survey_folder(folder: Path, tables: dict[str, str], columns: str = "MUKEY") -> None:
    """A soil survey as a folder in the place of the soil polygons."""
    (folder / "survey" / "spatial").mkdir(parents=True)
    (folder / "survey" / "tabular").mkdir()
    square = shapely.box(525_000, 4_005_000, 528_000, 4_008_000)
    frame = gpd.GeoDataFrame({columns: ["1"]}, geometry=[square], crs=tiny.UTM)
    frame.to_file(folder / "survey" / "spatial" / "soilmu_a_xx001.shp")
    for name, text in tables.items():
        (folder / "survey" / "tabular" / f"{name}.txt").write_text(text, encoding="utf-8")
    plan(folder, 'soils = "soils.gpkg"', 'soils = "survey"')


UNITS = "mukey|musym|muname\n1|A|loam\n"
SOILS = "cokey|mukey|compname|comppct_r\nc1|1|loam|100\n"


@case("survey", "layer soils", "chorizon", "tabular")
def a_survey_without_its_horizons(folder: Path) -> None:
    survey_folder(folder, {"mapunit": UNITS, "comp": SOILS})


@case("survey", "layer soils", "mukey")
def survey_polygons_that_nothing_ties_to_the_tables(folder: Path) -> None:
    horizons = "cokey|hzdept_r|hzdepb_r\nc1|0|30\n"
    survey_folder(folder, {"mapunit": UNITS, "comp": SOILS, "chorizon": horizons}, columns="AREA")


@case("survey", "layer soils", "row 1", "deep")
def a_survey_with_words_for_depths(folder: Path) -> None:
    horizons = "cokey|hzdept_r|hzdepb_r\nc1|0|deep\n"
    survey_folder(folder, {"mapunit": UNITS, "comp": SOILS, "chorizon": horizons})


def readings(folder: Path, text: str) -> None:
    (folder / "probes.csv").write_text(text, encoding="utf-8")
    plan(folder, 'sign = "sign.csv"', 'sign = "sign.csv"\nprobes = "probes.csv"')


@case("probes.csv", "layer probes", "cone_index", "cone_index_mpa")
def readings_without_a_unit(folder: Path) -> None:
    readings(folder, "lon,lat,depth_cm,cone_index\n-92.70,36.20,15,900\n")


@case("probes.csv", "layer probes", "row 2", "cone_index_kpa", "hard")
def readings_with_words_for_numbers(folder: Path) -> None:
    readings(folder, "lon,lat,depth_cm,cone_index_kpa\n-92.70,36.20,15,900\n-92.70,36.20,30,hard\n")


@case("probes.csv", "layer probes", "depth_cm")
def readings_without_depth(folder: Path) -> None:
    readings(folder, "lon,lat,cone_index_kpa\n-92.70,36.20,900\n")


@case("plan.toml", "ground", "post_easy_mpa is over post_stop_mpa", "exchange")
def plan_whose_limits_of_the_ground_are_exchanged(folder: Path) -> None:
    plan(folder, "[sites]", "[ground]\npost_easy_mpa = 9.0\n[sites]")


# --- sign ---


@case("sign.csv", "row 2", "field kind", "hoofprint", "rooting")
def sign_of_an_unknown_kind(folder: Path) -> None:
    sign_rows(folder, "-92.70,36.20,track,2026-11-20", "-92.70,36.20,hoofprint,2026-11-20")


@case("sign.csv", "row 1", "field date", "11/20/2026", "2026-11-21")
def sign_with_a_date_in_another_form(folder: Path) -> None:
    sign_rows(folder, "-92.70,36.20,track,11/20/2026")


@case("sign.csv", "row 1", "field lon", "west of the barn")
def sign_with_words_for_coordinates(folder: Path) -> None:
    sign_rows(folder, "west of the barn,36.20,track,2026-11-20")


@case("sign.csv", "swapped")
def sign_with_swapped_axes(folder: Path) -> None:
    sign_rows(folder, "36.20,-92.70,track,2026-11-20", "36.201,-92.701,track,2026-11-20")


@case("sign.csv", "lon")
def sign_without_a_place(folder: Path) -> None:
    sign_rows(folder, "track,2026-11-20", head="kind,date")


@case("sign.csv", "crs")
def sign_with_xy_and_no_crs(folder: Path) -> None:
    sign_rows(folder, "527000,4007000,track,2026-11-20", head="x,y,kind,date")


@case("sign.csv", "field kind")
def sign_without_kind(folder: Path) -> None:
    sign_rows(folder, "-92.7,36.2,2026-11-20", head="lon,lat,date")


# --- rasters ---


@case("canopy_cover.tif", "layer canopy_cover", "there is no such file")
def cover_is_missing(folder: Path) -> None:
    (folder / "canopy_cover.tif").unlink()


@case("canopy_cover.tif", "layer canopy_cover")
def cover_is_cut_short(folder: Path) -> None:
    data = (folder / "canopy_cover.tif").read_bytes()
    (folder / "canopy_cover.tif").write_bytes(data[: len(data) // 3])


@case("canopy_cover.tif", "CRS", 'crs = "EPSG:')
def cover_without_crs(folder: Path) -> None:
    raster(folder, "canopy_cover", lambda v: v, crs=None)


@case("canopy_cover.tif", "300 %", "at most 100 %")
def cover_over_a_hundred_per_cent(folder: Path) -> None:
    raster(folder, "canopy_cover", lambda v: v * 3)


@case("canopy_height.tif", "unit", "furlong")
def height_in_an_unknown_unit(folder: Path) -> None:
    plan(folder, 'unit = "m"', 'unit = "furlong"')


@case("terrain.tif", "layer terrain")
def terrain_above_the_highest_mountain(folder: Path) -> None:
    raster(folder, "terrain", lambda v: v + 20000)


@case("canopy_height", "layer canopy_height")
def an_empty_folder_of_tiles(folder: Path) -> None:
    (folder / "canopy_height").mkdir()
    plan(folder, 'path = "canopy_height.tif"', 'path = "canopy_height"')


@case("tiles", "CRS")
def tiles_in_two_systems(folder: Path) -> None:
    (folder / "tiles").mkdir()
    for name, crs in (("a", "EPSG:32615"), ("b", "EPSG:32616")):
        profile = {"driver": "GTiff", "height": 9, "width": 9, "count": 1, "dtype": "float32", "crs": crs,
                   "transform": from_origin(525_000, 4_008_000, 10, 10)}  # fmt: skip
        with rasterio.open(folder / "tiles" / f"{name}.tif", "w", **profile) as file:
            file.write(np.ones((9, 9), np.float32), 1)
    plan(folder, 'path = "canopy_height.tif"', 'path = "tiles"')


@pytest.fixture(scope="module")
def ranch(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("ranch") / "tiny"
    tiny.build(folder, tiny.Variant())
    return folder


def test_there_are_enough_cases() -> None:
    assert len(CASES) >= 40


@pytest.mark.parametrize("name", CASES)
def test_one_plain_sentence_and_status_two(
    name: str, ranch: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    change, words = CASES[name]
    folder = tmp_path / "ranch"
    shutil.copytree(ranch, folder)
    change(folder)
    status = main(["scout", str(folder / "plan.toml")])
    said = capfd.readouterr().err
    lines = [line for line in said.splitlines() if line.startswith("boscage:")]
    assert status == 2, said
    assert len(lines) == 1, said
    for word in words:
        assert word in lines[0], f"{word!r} not in: {lines[0]}"
    assert "Traceback" not in said
    assert len(lines[0]) < 600, lines[0]
    out = folder / "out"
    left = [p for p in out.rglob("*") if p.is_file() and ".boscage/layers" not in p.as_posix()] if out.exists() else []
    assert left == []


@pytest.mark.parametrize("name", [n for n in CASES if not n.startswith(("plan_", "rule", "grid_", "ranch_"))])
def test_check_says_the_same_and_goes_on(
    name: str, ranch: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    """`boscage check` reports every layer, the wrong one among them, and gives status 2 as well."""
    change, _ = CASES[name]
    folder = tmp_path / "ranch"
    shutil.copytree(ranch, folder)
    change(folder)
    status = main(["check", str(folder / "plan.toml")])
    assert status == 2, capfd.readouterr().err
    path = folder / "out" / "check.json"
    if path.exists():
        states = {layer["layer"]: layer["state"] for layer in json.loads(path.read_text(encoding="utf-8"))["layers"]}
        assert "wrong" in states.values()


@pytest.mark.parametrize("words", [["scout"], ["scuot", "x"], ["scout", "plan.toml", "--fast"], ["check"]])
def test_a_wrong_command_line(words: list[str], capfd: pytest.CaptureFixture[str]) -> None:
    assert main(words) == 2
    assert capfd.readouterr().err.startswith("boscage: ")


def test_an_output_folder_that_is_a_file(ranch: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "taken").write_text("x", encoding="utf-8")
    assert main(["scout", str(ranch / "plan.toml"), "--out", str(tmp_path / "taken"), "--no-sheets"]) == 2
    assert "taken" in capfd.readouterr().err


def test_a_layer_far_away_is_said_and_not_used(ranch: Path, tmp_path: Path) -> None:
    folder = tmp_path / "ranch"
    shutil.copytree(ranch, folder)
    vector(folder, "dwellings", lambda f: f.set_geometry([translate(g, 300_000, 0) for g in f.geometry], crs=f.crs))
    assert main(["scout", str(folder / "plan.toml"), "--no-sheets"]) == 0
    told = json.loads((folder / "out" / "scout.json").read_text(encoding="utf-8"))
    assert "dwellings" in told["missing_layers"]
    assert "dwelling" not in told["stops"]
    assert "not the same as none" in told["stops_not_applied"]["dwelling"]
