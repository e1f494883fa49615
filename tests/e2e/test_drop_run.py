"""`boscage drop` as a whole on a ranch whose gaps are known by construction."""

from __future__ import annotations

import hashlib
import json
import re
import shutil
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import rasterio
import shapely
import tiny_ranch as tiny
from pypdf import PdfReader
from pyproj import Geod, Transformer
from rasterio.transform import from_origin

from boscage.cli.main import main

KEYS = {
    "site", "x_m", "y_m", "lon", "lat", "lat_ddm", "lon_ddm", "usng", "elevation_m", "gap_diameter_m",
    "tallest_near_m", "declination_deg", "density_altitude_m",
}  # fmt: skip
GAP = (70.0, 40.0)  # east and north of the set
RADIUS = 11.0
BASE = "[drop]\nbase = [-92.72, 36.18]\n"


@pytest.fixture(scope="module")
def ranked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("drop")
    plan = tiny.build(folder, tiny.Variant())
    assert main(["scout", str(plan), "--no-sheets"]) == 0
    wooded(folder, [GAP])
    return folder


@pytest.fixture
def ranch(ranked: Path, tmp_path: Path) -> Path:
    shutil.copytree(ranked, tmp_path / "ranch")
    return tmp_path / "ranch"


@pytest.fixture(scope="module")
def told(ranked: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[dict, Path]:
    """One run with a base and a speed that several tests look at."""
    folder = tmp_path_factory.mktemp("told") / "ranch"
    shutil.copytree(ranked, folder)
    return dropped(folder, BASE + "ground_speed_kt = 60.0\n"), folder


def site_at(ranch: Path, name: str = "T-01") -> tuple[float, float]:
    sites = json.loads((ranch / "out" / "scout.json").read_text(encoding="utf-8"))["sites"]
    row = next(s for s in sites if s["site"] == name)
    return row["x_m"], row["y_m"]


def wooded(ranch: Path, gaps: list[tuple[float, float]], radius: float = RADIUS, name: str = "T-01") -> None:
    """Canopy of 15 m in cells of 1 m round a site, 21 m in one tree, open in circles."""
    x, y = site_at(ranch, name)
    west, north = np.floor(x) - 400.0, np.floor(y) + 400.0
    east, south = west + np.arange(800) + 0.5, north - np.arange(800) - 0.5
    height = np.full((800, 800), 15.0, np.float32)
    for dx, dy in gaps:
        height[np.hypot(east[None, :] - x - dx, south[:, None] - y - dy) < radius] = 0.0
    height[np.hypot(east[None, :] - x - GAP[0] - 30.0, south[:, None] - y - GAP[1]) < 2.0] = 21.0
    profile = {"driver": "GTiff", "height": 800, "width": 800, "count": 1, "dtype": "float32", "crs": tiny.UTM,
               "transform": from_origin(west, north, 1.0, 1.0), "nodata": -9999.0}  # fmt: skip
    with rasterio.open(ranch / "canopy_height.tif", "w", **profile) as file:
        file.write(height, 1)


def dropped(ranch: Path, text: str = BASE, *sites: str, status: int = 0) -> dict:
    plan = ranch / "plan.toml"
    plan.write_text(plan.read_text(encoding="utf-8") + "\n" + text, encoding="utf-8")
    assert main(["drop", str(plan), *(sites or ("T-01",))]) == status
    return json.loads((ranch / "out" / "drop.json").read_text(encoding="utf-8"))


def test_the_load_comes_down_in_the_gap_and_not_on_the_set(told: tuple[dict, Path]) -> None:
    table, ranch = told
    (drop,) = table["drops"]
    assert set(drop) >= KEYS and table["datum"] == "WGS84"
    x, y = site_at(ranch)
    assert np.hypot(drop["x_m"] - x - GAP[0], drop["y_m"] - y - GAP[1]) < 1.0, "to a cell"
    assert 2 * RADIUS - 3.0 < drop["gap_diameter_m"] <= 2 * RADIUS
    assert drop["tallest_near_m"] == 21.0
    # 21 m and 50 ft are 118.9 ft: lines are made in 50 ft
    assert drop["suggested_line_m"] == pytest.approx(150 * 0.3048, abs=0.01)
    assert np.hypot(drop["set"]["x_m"] - x, drop["set"]["y_m"] - y) < 0.01


def test_coordinates_agree_in_every_form(told: tuple[dict, Path]) -> None:
    drop = told[0]["drops"][0]
    lon, lat = Transformer.from_crs(tiny.UTM, "EPSG:4326", always_xy=True).transform(drop["x_m"], drop["y_m"])
    assert (drop["lon"], drop["lat"]) == pytest.approx((lon, lat), abs=2e-7)
    degrees, minutes, _ = drop["lat_ddm"].split()
    assert int(degrees) + float(minutes) / 60 == pytest.approx(lat, abs=0.0006 / 60)
    degrees, minutes, half = drop["lon_ddm"].split()
    assert half == "W" and int(degrees) + float(minutes) / 60 == pytest.approx(-lon, abs=0.0006 / 60)
    assert drop["usng"].startswith("15S")
    # truncated to the metre, while x_m is rounded to the centimetre
    assert drop["x_m"] % 100000 - 1.006 <= int(drop["usng"][5:10]) <= drop["x_m"] % 100000


def test_legs_are_geodesics_there_and_back(told: tuple[dict, Path]) -> None:
    drop = told[0]["drops"][0]
    azimuth, _, away = Geod(ellps="WGS84").inv(-92.72, 36.18, drop["lon"], drop["lat"])
    there, back = told[0]["legs"]
    assert (there["from"], there["to"], back["from"], back["to"]) == ("base", "T-01", "T-01", "base")
    assert there["distance_m"] == pytest.approx(away, abs=0.2)
    assert there["true_bearing_deg"] == pytest.approx(azimuth % 360, abs=0.02)
    assert there["minutes"] == pytest.approx(away / 1852.0, abs=0.01), "a nautical mile a minute"
    turn = (there["true_bearing_deg"] - there["magnetic_bearing_deg"] + 180) % 360 - 180
    assert turn == pytest.approx(drop["declination_deg"], abs=0.03)


def test_what_nobody_states_stays_blank(ranch: Path) -> None:
    told = dropped(ranch, "[brief]\nhospital_place = [-92.5, 36.3]\n")
    assert told["base"] is None and told["legs"] == [] and told["flights"] == []
    assert told["drops"][0]["density_altitude_m"] is None and told["allowable_load_kg"] is None
    assert all(load["rigging_kg"] is None and load["total_kg"] is None for load in told["loads"])
    assert any("states no base" in n for n in told["notes"])
    assert [load["load"] for load in told["loads"]] == list(range(1, len(told["loads"]) + 1))
    text = " ".join(p.extract_text() for p in PdfReader(ranch / "out" / "drop_brief.pdf").pages)
    assert "36 18.000 N" in text and "092 30.000 W" in text, "the hospital, in the form that pilots read"
    assert told["not_searched"] and all(r["complete"] is False for r in told["hazard_layers"])


def test_density_altitude_stands_at_the_drop(ranch: Path) -> None:
    """The rule of 118.8 ft a degree over standard; methods lie up to 150 ft apart."""
    drop = dropped(ranch, BASE + "temperature_c = 35.0\naltimeter_hpa = 1013.25\n")["drops"][0]
    standard = 15.0 - 0.0065 * drop["elevation_m"]
    rule = drop["elevation_m"] + 118.8 * 0.3048 * (35.0 - standard)
    assert drop["density_altitude_m"] == pytest.approx(rule, abs=150 * 0.3048)


def test_loads_keep_under_the_limit_with_all_that_hangs_on_the_hook(ranch: Path) -> None:
    brief = '[brief]\nline_mass = "10kg"\nswivel_mass = "2kg"\nsling_mass = "3kg"\n'
    told = dropped(ranch, BASE + 'load_limit = "60kg"\n' + brief)
    assert len(told["loads"]) > 1
    for load in told["loads"]:
        assert load["total_kg"] == pytest.approx(load["mass_kg"] + 15.0) and load["total_kg"] <= 60.0


def test_an_item_over_the_limit_is_named_and_not_flown(ranch: Path) -> None:
    told = dropped(ranch, BASE + 'load_limit = "20kg"\n')
    over = [load for load in told["loads"] if load["flight"] is None]
    assert over and all(len(load["items"]) == 1 for load in over)
    flown = {n for f in told["flights"] for n in f["loads"]}
    assert flown.isdisjoint(load["load"] for load in over)


def test_a_wire_near_rules_the_gap_out(ranch: Path) -> None:
    x, y = site_at(ranch)
    line = shapely.LineString([(x + GAP[0] + 25, y - 400), (x + GAP[0] + 25, y + 400)])
    gpd.GeoDataFrame({"name": ["feeder"]}, geometry=[line], crs=tiny.UTM).to_file(ranch / "wires.gpkg")
    plan = ranch / "plan.toml"
    text = plan.read_text(encoding="utf-8")
    plan.write_text(text.replace("[layers]\n", '[layers]\npower_lines = "wires.gpkg"\n'), encoding="utf-8")
    told = dropped(ranch, BASE, status=3)
    assert told["drops"] == []
    (none,) = told["no_drop"]
    assert "wire" in none["reason"] and none["nearest_miss"]["gap_diameter_m"] > 10


def test_land_without_permission_and_ponds_take_no_load(ranch: Path) -> None:
    x, y = site_at(ranch)
    pond = shapely.Point(x + GAP[0], y + GAP[1]).buffer(40.0)
    gpd.GeoDataFrame({"name": ["pond"]}, geometry=[pond], crs=tiny.UTM).to_file(ranch / "water.gpkg")
    told = dropped(ranch, BASE, status=3)
    assert "may be used" in told["no_drop"][0]["reason"]


def test_no_canopy_heights_means_no_drop_point_and_status_3(
    ranch: Path, capsys: pytest.CaptureFixture[str]
) -> None:  # fmt: skip
    plan = ranch / "plan.toml"
    text = plan.read_text(encoding="utf-8")
    plan.write_text(re.sub(r"canopy_height = .*\n", "", text), encoding="utf-8")
    told = dropped(ranch, BASE, status=3)
    assert told["drops"] == [] and "no canopy heights" in told["no_drop"][0]["reason"]
    assert "no drop point" in capsys.readouterr().out
    assert len(PdfReader(ranch / "out" / "drop_brief.pdf").pages) >= 1


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[drop]\nbase = [36.18, -92.72]\n", "exchange the two numbers"),
        ("[drop]\nbase = [-9.272, 36.18]\n", "check the order, the sign"),
        ("[drop]\nwind_kt = 5.0\n", "wind_deg and wind_kt together"),
        ("[drop]\nground_speed_kt = 60.0\nair_speed_kt = 70.0\n", "leave one out"),
        ('[drop]\nload_limit = "600"\n', "unit"),
        ('[brief]\nline_mass = "-5lb"\n', "line_mass"),
    ],
)
def test_a_wrong_plan_gets_one_sentence_and_leaves_no_file(
    ranch: Path, text: str, words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = ranch / "plan.toml"
    plan.write_text(plan.read_text(encoding="utf-8") + "\n" + text, encoding="utf-8")
    assert main(["drop", str(plan), "T-01"]) == 2
    told = [line for line in capsys.readouterr().err.splitlines() if not line.endswith("...")]
    assert len(told) == 1 and words in told[0]
    assert not list((ranch / "out").glob("drop*"))


def test_a_date_past_the_magnetic_model_is_refused_unless_stated(
    ranch: Path, capsys: pytest.CaptureFixture[str]
) -> None:  # fmt: skip
    plan = ranch / "plan.toml"
    text = plan.read_text(encoding="utf-8").replace(f"date = {tiny.DATE}", "date = 2031-03-01")
    plan.write_text(text, encoding="utf-8")
    assert main(["drop", str(plan), "T-01"]) == 2
    assert "WMM2025" in capsys.readouterr().err
    told = dropped(ranch, "[drop]\ndeclination = -1.5\n")
    assert told["drops"][0]["declination_deg"] == -1.5 and told["magnetic_error_deg"] == 0.0


def test_the_brief_says_which_point_and_promises_nothing(told: tuple[dict, Path]) -> None:
    table, ranch = told
    text = " ".join(p.extract_text() for p in PdfReader(ranch / "out" / "drop_brief.pdf").pages)
    drop = table["drops"][0]
    assert drop["lat_ddm"] in text and drop["lon_ddm"] in text and "WGS 84" in text
    assert "NOT the set" in text and "NOT COMPLETE" in text.upper()
    assert not re.search(r"\b(safe|clear)\b", text, re.IGNORECASE)


def test_phones_get_drop_set_and_base_apart(told: tuple[dict, Path]) -> None:
    table, ranch = told
    points = gpd.read_file(ranch / "out" / "drop.gpx", layer="waypoints")
    by_kind = {row["type"]: row for _, row in points.iterrows()}
    assert {"base", "drop", "set"} <= set(by_kind)
    drop = table["drops"][0]
    assert (by_kind["drop"].geometry.x, by_kind["drop"].geometry.y) == pytest.approx((drop["lon"], drop["lat"]))
    assert len(gpd.read_file(ranch / "out" / "drop.gpx", layer="routes")) == 1


def test_the_same_plan_gives_the_same_bytes(ranch: Path) -> None:
    def digests() -> dict[str, str]:
        dropped(ranch, "")
        return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in (ranch / "out").glob("drop*")}

    first = digests()
    assert len(first) == 4 and digests() == first
