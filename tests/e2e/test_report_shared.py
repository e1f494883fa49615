"""What leaves the house: a masked copy gives no place away, whoever searches its bytes; summaries of several plans."""

from __future__ import annotations

import csv
import json
import math
import re
import sqlite3
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pytest
import report_ranch as ranch
import shapely
from pypdf import PdfReader
from report_ranch import Row
from scipy.stats import chi2

from boscage.cli.main import main

A, B = (1234.5678, 2345.6789), (5678.9123, 4321.9876)
SECRETS = ("Wilhelmina Fothergill", "op seven", "4711", "8822", "Thistle House", "555-0173", "Fothergill")
ROWS = [
    Row("2026-10-01", "A", "armed", hours="1", note="gate code 4711 at Thistle House", person="Wilhelmina Fothergill",
        group="creek of 6", at=A, time="18:00"),
    Row("2026-10-02", "A", "capture", (0, 2, 0, 3), "creek of 6", note="call 555-0173", person="op seven"),
    Row("2026-10-04", "A", "pulled"),
    Row("2026-11-15", "Wilhelmina Fothergill", "armed", at=B, time="18:00", person="Wilhelmina Fothergill"),
    Row("2026-11-16", "Wilhelmina Fothergill", "check", time="06:30"),
    Row("2026-11-17", "A", "keypad 8822", note="the event is a gate code"),
]  # fmt: skip


@pytest.fixture(scope="module")
def masked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("masked")
    plan = _build(folder)
    assert main(["report", str(plan)]) == 0
    return folder / "out"


def _build(folder: Path) -> Path:
    """A ranch with houses, gates and a camera folder left out; broken coordinates stand in one row of the log."""
    text = "\n".join([ranch.HEAD, *(r.text() for r in ROWS)]) + "\n"
    broken = ranch.place(*A)
    text += f"2026-10-03,A,check,,,,,,,,,,{broken[0]:.4f},4002345.6x\n"
    houses = gpd.GeoDataFrame(
        {"name": ["Thistle House"]}, geometry=[shapely.Point(ranch.place(700, 700))], crs=ranch.CRS
    )
    plan = ranch.build(folder, text, layers='dwellings = "houses.gpkg"\ngates = "gates.gpkg"')
    houses.to_file(folder / "houses.gpkg", driver="GPKG")
    gates = {"name": ["Fothergill gate"], "kind": ["entry"], "state": ["locked"], "note": ["4711"]}
    gpd.GeoDataFrame(gates, geometry=[shapely.Point(ranch.place(10, 10))], crs=ranch.CRS).to_file(
        folder / "gates.gpkg", driver="GPKG"
    )
    return plan


def _everything(out: Path) -> str:
    """Texts of all files: as they are, unpacked, and as a reader shows them."""
    parts = []
    for path in sorted(p for p in out.iterdir() if p.is_file()):
        parts.append(ranch.bytes_of(path).decode("latin-1"))
        if path.suffix == ".pdf":
            parts += [page.extract_text() for page in PdfReader(path).pages]
            parts.append(str(PdfReader(path).metadata))
    return "\n".join(parts)


def test_a_masked_copy_spells_no_place_and_names_nobody(masked: Path) -> None:
    text = _everything(masked)
    assert {p.name for p in masked.iterdir() if p.is_file()} == {
        "report.json", "coverage.csv", "report.gpkg", "coverage_report.pdf", "check_sheet.pdf",
    }  # fmt: skip
    for at in (A, B, (700, 700)):
        for spelling in ranch.spellings(*ranch.place(*at)):
            assert not re.search(rf"(?<![\d.]){re.escape(spelling)}(?!\d)", text), spelling
    for secret in SECRETS:
        assert not re.search(rf"(?<!\d){secret}(?!\d)", text), secret


def test_a_masked_copy_holds_no_place_in_binary(masked: Path) -> None:
    raw = b"".join(ranch.bytes_of(p) for p in masked.iterdir() if p.is_file())
    for at in (A, B):
        for value in ranch.place(*at):
            assert not any(form in raw for form in ranch.packed(value))
    for x, y in ranch.vertices(masked / "report.gpkg"):
        assert all(math.hypot(x - px, y - py) > 50.0 for px, py in (ranch.place(*A), ranch.place(*B)))
    names = [r[0] for r in sqlite3.connect(masked / "report.gpkg").execute("select table_name from gpkg_contents")]
    assert sorted(names) == ["covered", "squares"]


def test_a_search_that_cannot_fail_is_none(tmp_path: Path) -> None:
    """The same search finds the places in an exact copy; people, codes and houses stand in no copy."""
    plan = _build(tmp_path)
    assert main(["report", str(plan), "--exact"]) == 0
    text = _everything(tmp_path / "out")
    assert "521235" in text and "4002346" in text and "keypad ####" in text
    assert "Thistle House" not in text and "555-0173" not in text and "op seven" not in text
    raw = b"".join(ranch.bytes_of(p) for p in (tmp_path / "out").iterdir() if p.is_file())
    assert any(form in raw for form in ranch.packed(ranch.place(*A)[0]))


def test_circles_stand_round_the_middles_of_squares(masked: Path) -> None:
    """A circle fitted to the edge of the covered ground has its middle in that of a square, and not at the set."""
    told = ranch.told(masked)
    squares = {s["site"]: s["square"] for s in told["sets"]}
    assert told["square_m"] == 1000.0 and all("x_m" not in s for s in told["sets"])
    for name, at in (("A", A), ("[name]", B)):
        west, south, east, north = squares[name]
        x, y = ranch.place(*at)
        assert west <= x < east and south <= y < north and east - west == north - south == 1000.0
        assert west % 1000.0 == 0.0 == south % 1000.0
    covered = gpd.read_file(masked / "report.gpkg", layer="covered").geometry.union_all()
    for part, at in zip(sorted(shapely.get_parts(covered), key=lambda g: g.bounds), (A, B), strict=True):
        points = shapely.get_coordinates(part)
        left = np.column_stack([2.0 * points, np.ones(len(points))])
        x, y, _ = np.linalg.lstsq(left, (points**2).sum(axis=1), rcond=None)[0]
        assert (x % 1000.0, y % 1000.0) == (pytest.approx(500.0, abs=0.5), pytest.approx(500.0, abs=0.5))
        assert math.dist((x, y), ranch.place(*at)) > 100.0
    assert set(gpd.read_file(masked / "report.gpkg", layer="covered")["drawn_off_m"]) == {round(math.sqrt(0.5) * 1000)}


def test_moving_a_set_within_its_square_changes_no_geometry_and_no_map(tmp_path: Path) -> None:
    """Two ranches that differ only in where inside the square the set stood draw the same."""
    held = []
    for name, at in (("one", (2100.0, 3100.0)), ("two", (2900.0, 3850.0))):
        plan = ranch.build(tmp_path / name, [Row("2026-10-01", "A", "armed", at=at), Row("2026-10-05", "A", "pulled")])
        assert main(["report", str(plan)]) == 0
        out = tmp_path / name / "out"
        page = PdfReader(out / "coverage_report.pdf").pages[1]
        held.append((sorted(ranch.vertices(out / "report.gpkg")), page.get_contents().get_data()))
    assert held[0] == held[1]


def test_a_square_with_little_land_is_made_larger(tmp_path: Path) -> None:
    """300 m from the south edge only a strip of the 1 km square would be left; the square that is told has half."""
    ranch.build(tmp_path, [Row("2026-10-01", "A", "armed", at=(2500.0, 300.0))])
    plan = tmp_path / "plan.toml"
    land = gpd.GeoDataFrame(
        {"parcel": ["Strip"], "owner": ["X"], "access": ["granted"]},
        geometry=[shapely.box(*ranch.place(0, 200), *ranch.place(8000, 400))], crs=ranch.CRS,
    )  # fmt: skip
    land.to_file(tmp_path / "parcels.gpkg", layer="parcels", driver="GPKG")
    assert main(["report", str(plan)]) == 0
    west, south, east, north = ranch.told(tmp_path / "out")["sets"][0]["square"]
    inside = land.geometry.iloc[0].intersection(shapely.box(west, south, east, north)).area
    assert east - west > 1000.0 and inside >= 0.5e6


def test_land_is_rounded_and_never_more_than_there_is(masked: Path) -> None:
    told = ranch.told(masked)
    for held in (told, *told["parcels"]):
        value = held["covered_ha"]
        assert value == pytest.approx(float(f"{value:.3g}"))
    assert told["covered_ha"] == pytest.approx(2 * math.pi * 100.0, rel=0.006)


def _plans(folder: Path) -> tuple[Path, Path, Path]:
    """Two seasons of one ranch by two crews, and another ranch without hours or crew."""
    first = [Row("2025-10-01", "A", "armed", hours="4", at=(2000, 3000), time="18:00"),
             Row("2025-10-02", "A", "capture", (0, 2, 0, 2), "oak of 7", "6"),
             Row("2025-10-11", "A", "pulled")]  # fmt: skip
    second = [Row("2026-10-01", "A", "armed", hours="5", at=(2000, 3000)),
              Row("2026-10-03", "A", "capture", (1, 0, 2, 0), "elm of 5", "5"),
              Row("2026-10-06", "A", "pulled")]  # fmt: skip
    third = [Row("2026-10-01", "Z", "armed", at=(6000, 3000)), Row("2026-10-21", "Z", "pulled"),
             Row("2026-10-09", "Z", "capture", (0, 0, 0, 1)),
             Row("2026-10-09", "Q", "capture", (0, 3, 0, 0))]  # fmt: skip
    plans = (
        ranch.build(folder / "one", first, plan='crew = "north"'),
        ranch.build(folder / "two", second, plan='crew = "south"\nseason = "autumn"'),
        ranch.build(folder / "three", third),
    )
    plans[2].write_text(plans[2].read_text(encoding="utf-8").replace("Test Ranch", "Other Ranch"), encoding="utf-8")
    return plans


def test_a_summary_of_seasons_and_ranches(tmp_path: Path) -> None:
    plans = _plans(tmp_path)
    assert main(["report", *map(str, plans), "--out", str(tmp_path / "sum")]) == 0
    told: Any = json.loads((tmp_path / "sum" / "season.json").read_text(encoding="utf-8"))
    assert [(line["ranch"], line["season"], line["crew"]) for line in told["lines"]] == [
        ("Test Ranch", "2025", "north"), ("Test Ranch", "autumn", "south"), ("Other Ranch", "2026", None),
    ]  # fmt: skip
    totals = {(t["kind"], t["name"]): t for t in told["totals"]}
    assert set(totals) == {("all", "all"), ("crew", "north"), ("crew", "south"), ("crew", "crew not stated"),
                           ("land", "Test Ranch"), ("land", "Other Ranch")}  # fmt: skip
    whole, land = totals["all", "all"], totals["land", "Test Ranch"]
    assert (whole["armed_nights"], whole["captures"]["total"], whole["hours"]) == (10 + 5 + 20, 4 + 3 + 1, 20.0)
    rate = whole["captures_per_armed_night"]
    assert (rate["value"], rate["low"], rate["high"]) == (
        pytest.approx(8 / 35, abs=1e-4), pytest.approx(chi2.ppf(0.025, 16) / 70, abs=1e-4),
        pytest.approx(chi2.ppf(0.975, 18) / 70, abs=1e-4),
    )  # fmt: skip
    assert whole["hours_per_capture"] == pytest.approx(20.0 / 7, abs=1e-3), "the ranch without hours is left out of it"
    assert land["captures"]["total"] == 7 and land["covered_ha"] == pytest.approx(math.pi * 100, rel=1e-3)
    assert land["minimum_alive"] == 3, "of the last season: 2 of 5 taken, the boar apart"
    assert totals["land", "Other Ranch"]["hours"] is None
    quality = told["lines"][2]["quality"]
    assert (quality["rows"], quality["aside"], quality["animals_aside"], quality["without_hours"]) == (4, 1, 3, 3)
    assert any("No crew is stated for Other Ranch" in n for n in told["notes"])
    with (tmp_path / "sum" / "season.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [r["kind"] for r in rows] == ["line"] * 3 + ["all"] + ["crew"] * 3 + ["land"] * 2
    assert [r["total"] for r in rows[:4]] == ["4", "3", "1", "8"] and rows[2]["hours"] == ""
    text = re.sub(r"\s+", " ", PdfReader(tmp_path / "sum" / "season_summary.pdf").pages[0].extract_text())
    for words in ("8 animals in 3 catches on 35 armed nights", "By crew", "By land", "What the data are worth",
                  "3 of 4 rows counted; 3 animals in rows set aside", "Net ready to come down"):  # fmt: skip
        assert words in text, words
    assert not (tmp_path / "one" / "out").exists(), "a summary writes nothing beside the plans"


def test_a_summary_says_where_seasons_are_not_alike(tmp_path: Path) -> None:
    one, two, _ = _plans(tmp_path)
    two.write_text(two.read_text(encoding="utf-8").replace('"1000m"', '"1500m"') + "[checks]\nhours = 12\n")
    log = tmp_path / "two" / "log.csv"
    log.write_text(log.read_text(encoding="utf-8").replace("2026-10", "2025-10"), encoding="utf-8")
    assert main(["report", str(one), str(two), "--out", str(tmp_path / "sum")]) == 0
    notes = " ".join(json.loads((tmp_path / "sum" / "season.json").read_text(encoding="utf-8"))["notes"])
    assert "different radii (1000 m and 1500 m)" in notes and "different rules (12 h and 24 h)" in notes
    assert "share nights" in notes


def test_nothing_is_counted_twice(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    one, two, _ = _plans(tmp_path)
    assert main(["report", str(one), str(one)]) == 2
    assert "the plan is named twice" in capfd.readouterr().err
    two.write_text(two.read_text(encoding="utf-8").replace('"log.csv"', '"../one/log.csv"'), encoding="utf-8")
    assert main(["report", str(one), str(two)]) == 2
    assert "read the same log" in capfd.readouterr().err
    assert main(["report", str(one), str(two), "--owner", "X", "--exact"]) == 2
    assert "--owner and --exact goes with one plan" in capfd.readouterr().err


def test_a_summary_of_an_empty_season(tmp_path: Path) -> None:
    one, _, _ = _plans(tmp_path)
    empty = ranch.build(tmp_path / "none", ranch.HEAD + "\n")
    assert main(["report", str(one), str(empty), "--out", str(tmp_path / "sum")]) == 0
    text = PdfReader(tmp_path / "sum" / "season_summary.pdf").pages[0].extract_text()
    assert "the log holds no row; nothing is known of this season" in re.sub(r"\s+", " ", text)
