"""The ground from end to end: a soil survey folder and readings through scout, and posts and stakes through rig.

The survey is invented; its files have the names and the form that the publisher (NRCS, SSURGO) gives them.
"""

from __future__ import annotations

import json
import math
from calendar import month_name
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import rasterio
import shapely
import tiny_ranch as tiny
from pypdf import PdfReader
from pyproj import Transformer

from boscage.cli.main import main

TABLES = {
    "mapunit": ("musym|muname|mukey", ["DeA|Deep loam|1", "RoF|Rock outcrop complex|2"]),
    "comp": (
        "comppct_r|compname|compkind|mukey|cokey",
        ["90|Deep|Series|1|c1", "70|Rock outcrop|Miscellaneous area|2|c2", "20|Thin|Series|2|c3"],
    ),
    "chorizon": (
        "cokey|hzname|hzdept_r|hzdepb_r|sandtotal_r|claytotal_r|om_r|dbthirdbar_r|fraggt10_r|frag3to10_r|sieveno10_r",
        ["c1|A|0|30|40|20|2.0|1.35|0|0|100", "c1|B|30|180|35|25|1.0|1.40|0|0|95", "c3|A|0|20|40|20|2.0|1.4|0|9|50"],
    ),
    "crstrcts": ("reskind|reshard|resdept_r|cokey", ["Lithic bedrock|Indurated|20|c3"]),
    "cmonth": (
        "monthseq|month|flodfreqcl|cokey|comonthkey",
        [f"{n}|{month_name[n]}|None|c1|k{n}" for n in range(1, 13)],
    ),
    "csmoist": ("soimoistdept_r|soimoistdepb_r|soimoiststat|comonthkey", [f"0|180|Moist|k{n}" for n in range(1, 13)]),
}  # fmt: skip


def survey(folder: Path) -> None:
    """The tiny ranch's soils as a download: rock round the hard place, deep loam elsewhere."""
    (folder / "survey" / "spatial").mkdir(parents=True)
    (folder / "survey" / "tabular").mkdir()
    hard = shapely.Point(tiny.HARD).buffer(400)
    rest = shapely.box(-200, -200, tiny.SIZE + 200, tiny.SIZE + 200).difference(hard)
    moved = [shapely.transform(s, lambda c: c + tiny.ORIGIN) for s in (rest, hard)]
    frame = gpd.GeoDataFrame({"MUSYM": ["DeA", "RoF"], "MUKEY": ["1", "2"]}, geometry=moved, crs=tiny.UTM)
    frame.to_crs("EPSG:4326").to_file(folder / "survey" / "spatial" / "soilmu_a_xx001.shp")
    for name, (head, rows) in TABLES.items():
        (folder / "survey" / "tabular" / f"{name}.txt").write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")


def probes(folder: Path, rows: list[tuple[tuple[float, float], float]]) -> None:
    lines = ["lon,lat,date,depth_cm,cone_index_mpa,cone,moisture"]
    to = Transformer.from_crs(tiny.UTM, "EPSG:4326", always_xy=True)
    for place, mpa in rows:
        lon, lat = to.transform(*tiny.place(tiny.Variant(), *place))
        lines += [f"{lon:.7f},{lat:.7f},2026-11-01,{depth},{mpa},12.83,moist" for depth in (15, 30, 45)]
    (folder / "probes.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


def plan(folder: Path, soils: str, *more: str) -> Path:
    path = tiny.build(folder, tiny.Variant())
    text = path.read_text(encoding="utf-8").replace('soils = "soils.gpkg"\n', soils)
    path.write_text(text.replace("[sites]", "\n".join([*more, "[sites]"])), encoding="utf-8")
    return path


def scouted(path: Path, *words: str) -> dict:
    assert main(["scout", str(path), *words]) == 0
    return json.loads((path.parent / "out" / "scout.json").read_text(encoding="utf-8"))


def near(told: dict, goal: tuple[float, float]) -> dict:
    x, y = tiny.place(tiny.Variant(), *goal)
    return next(s for s in told["sites"] if math.hypot(s["x_m"] - x, s["y_m"] - y) < 250.0)


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict]:
    folder = tmp_path_factory.mktemp("survey")
    path = plan(folder, 'soils = "survey"\n')
    survey(folder)
    return path, scouted(path)


def test_a_survey_folder_answers_for_every_site(run: tuple[Path, dict]) -> None:
    path, told = run
    deep, hard = near(told, tiny.A)["ground"], near(told, tiny.HARD)["ground"]
    assert (deep["unit"]["symbol"], hard["unit"]["symbol"]) == ("DeA", "RoF")
    assert (deep["posts"]["answer"], hard["posts"]["answer"]) == ("yes", "no")
    assert deep["named_share"] == pytest.approx(0.9) and deep["posts"]["shares"]["unknown"] == pytest.approx(0.1)
    assert (deep["apron"]["stake"], hard["apron"]["stake"]) == ("stake", "weight")
    assert (deep["burial"]["answer"], hard["burial"]["answer"]) == ("yes", "no")
    assert deep["pickets"]["holdfast"] == "1" and hard["pickets"]["holdfast"] is None
    assert deep["pickets"]["holds_n"] >= 2.0 * deep["pickets"]["pull_n"]
    assert near(told, tiny.HARD)["factors"]["ground"] < 0.2 < 0.9 < near(told, tiny.A)["factors"]["ground"]
    assert [u["symbol"] for u in told["ground"]["units"]] == ["DeA", "RoF"]
    text = json.dumps(told).lower()
    assert '"assumption": "assumed, not published' in text and "safe" not in text
    with rasterio.open(path.parent / "out" / "ground.tif") as file:
        values = [next(file.sample([tiny.place(tiny.Variant(), *p)]))[0] for p in (tiny.A, tiny.HARD)]
        assert file.tags()["UNIT"].startswith("MPa")
    assert values[0] == pytest.approx(deep["resistance_mpa"], abs=1e-3)
    assert values[1] == pytest.approx(hard["resistance_mpa"], abs=1e-3)


def test_the_sheets_have_the_ground(run: tuple[Path, dict]) -> None:
    pages = [p.extract_text() for p in PdfReader(run[0].parent / "out" / "field_sheets.pdf").pages]
    sheet = next(p for p in pages if p.startswith("The ground"))
    assert "Deep loam" in " ".join(pages) and "own assumption" in " ".join(pages)
    assert "extremely high" in sheet or "Soil Survey Manual" in sheet
    assert not any(word in " ".join(pages).lower().split() for word in ("safe", "safely"))


def test_readings_move_the_answer_where_they_were_taken(run: tuple[Path, dict], tmp_path: Path) -> None:
    before = near(run[1], tiny.A)["ground"]
    path = plan(tmp_path, 'soils = "survey"\nprobes = "probes.csv"\n')
    survey(tmp_path)
    u, v = tiny.A
    probes(tmp_path, [((u + du, v + dv), 9.5) for du in (-60, 0, 60) for dv in (-60, 0, 60)])
    told = scouted(path, "--no-sheets")
    after = near(told, tiny.A)["ground"]
    assert before["resistance_mpa"] < 3.0 < 8.0 < after["resistance_mpa"]
    assert after["basis"] == "map and readings" and before["basis"] == "map"
    assert after["posts"]["answer"] in ("no", "doubtful") and after["apron"]["stake"] != "stake"
    assert near(told, tiny.HARD)["ground"]["posts"]["answer"] == "no"
    assert told["ground"]["readings"] == 27 and told["ground"]["places"] == 9
    assert "left out in turn" in told["ground"]["left_out"] and told["ground"]["rule"]
    report = json.loads(_checked(path).read_text(encoding="utf-8"))
    assert next(r for r in report["layers"] if r["layer"] == "probes")["state"] == "usable"


def _checked(path: Path) -> Path:
    assert main(["check", str(path)]) == 0
    return path.parent / "out" / "check.json"


def test_readings_without_any_map_never_say_yes(tmp_path: Path) -> None:
    path = plan(tmp_path, 'probes = "probes.csv"\n')
    probes(tmp_path, [(tiny.A, 0.9), ((2200.0, 600.0), 0.9)])
    told = scouted(path, "--no-sheets")
    assert "soils" in told["missing_layers"] and "probes" not in told["missing_layers"]
    answers = {s["ground"]["posts"]["answer"] for s in told["sites"]}
    assert answers <= {"doubtful", "unknown"} and "unknown" in answers
    assert all(s["ground"]["burial"]["answer"] == "unknown" for s in told["sites"])
    assert told["ground"]["units"] == []


def test_ground_that_goes_away_takes_its_file_along(run: tuple[Path, dict], tmp_path: Path) -> None:
    path = plan(tmp_path, 'soils = "survey"\n')
    survey(tmp_path)
    scouted(path, "--no-sheets")
    assert (tmp_path / "out" / "ground.tif").is_file()
    path.write_text(path.read_text(encoding="utf-8").replace('soils = "survey"\n', ""), encoding="utf-8")
    told = scouted(path, "--no-sheets")
    assert told["ground"] is None and all(s["ground"] is None for s in told["sites"])
    assert not (tmp_path / "out" / "ground.tif").exists()


@pytest.fixture
def five_in_a_row(run: tuple[Path, dict], tmp_path: Path) -> tuple[Path, dict]:
    """The run with a stem list of five trees in a row at each of two places, which hold no ring by themselves."""
    path = plan(tmp_path, 'soils = "survey"\nstems = "stems.csv"\n')
    survey(tmp_path)
    (tmp_path / "stems.csv").write_text("stem,lon,lat,dbh_cm\n1,-92.7,36.2,25\n", encoding="utf-8")
    told = scouted(path, "--no-sheets")
    rows = ["stem,lon,lat,dbh_cm"]
    to = Transformer.from_crs(tiny.UTM, "EPSG:4326", always_xy=True)
    for goal in (tiny.A, tiny.HARD):
        site = near(told, goal)
        for n in range(5):
            lon, lat = to.transform(site["x_m"] + 1.5 * n - 3.0, site["y_m"])
            rows.append(f"{site['site']}-{n},{lon:.8f},{lat:.8f},25")
    (tmp_path / "stems.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path, told


def test_posts_stand_in_only_where_the_soil_takes_them(five_in_a_row: tuple[Path, dict]) -> None:
    path, told = five_in_a_row
    deep, hard = near(told, tiny.A)["site"], near(told, tiny.HARD)["site"]
    assert main(["rig", str(path), deep, hard]) == 0
    rigs = {r["name"]: r for r in json.loads((path.parent / "out" / "rig.json").read_text(encoding="utf-8"))["sites"]}
    assert rigs[deep]["feasible"] and rigs[deep]["support"] in ("hybrid", "posts")
    assert not rigs[hard]["feasible"]
    assert rigs[deep]["ground"]["posts"]["answer"] == "yes"
    assert rigs[deep]["trees_only"] == {"feasible": False, "nearest_miss": rigs[deep]["trees_only"]["nearest_miss"]}
    gear = {g["item"] for g in rigs[deep]["gear"]}
    assert {"post", "post driver", "stake"} <= gear


@pytest.mark.parametrize(("stated", "feasible"), [("false", False), ("true", True)])
def test_what_the_plan_states_of_posts_holds_against_the_soil(
    five_in_a_row: tuple[Path, dict], stated: str, feasible: bool
) -> None:
    path, told = five_in_a_row
    text = path.read_text(encoding="utf-8")
    path.write_text(f"{text}\n[rigging]\nposts = {stated}\n", encoding="utf-8")
    site = near(told, tiny.A if not feasible else tiny.HARD)["site"]
    assert main(["rig", str(path), site]) == (0 if feasible else 3)
    told = json.loads((path.parent / "out" / "rig.json").read_text(encoding="utf-8"))
    assert told["feasible"] is feasible
    if feasible:
        assert "bag for stones or soil" in {g["item"] for g in told["gear"]}


def test_swapped_and_far_readings(run: tuple[Path, dict], tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    path = plan(tmp_path, 'probes = "probes.csv"\n')
    probes(tmp_path, [(tiny.A, 1.0)])
    text = (tmp_path / "probes.csv").read_text(encoding="utf-8")
    (tmp_path / "probes.csv").write_text(text.replace("lon,lat", "lat,lon"), encoding="utf-8")
    assert main(["scout", str(path), "--no-sheets"]) == 2
    said = capfd.readouterr().err
    assert "probes.csv" in said and "layer probes" in said and "Traceback" not in said
    probes(tmp_path, [((80_000.0, 80_000.0), 1.0)])
    told = scouted(path, "--no-sheets")
    assert "probes" in told["missing_layers"] and told["ground"] is None
    assert np.all([s["ground"] is None for s in told["sites"]])
