"""`boscage report` as a whole on land and logs whose right answer is known; empty and large logs, bad inputs."""

from __future__ import annotations

import csv
import json
import math
import re
import shutil
import time
from pathlib import Path
from typing import Any

import geopandas as gpd
import pyogrio
import pytest
import report_ranch as ranch
import shapely
from pypdf import PdfReader
from report_ranch import Row

from boscage.cli.main import main
from boscage.ledger.removal_likelihood import maximum_likelihood

ROOT = Path(__file__).parents[2]
R_HA = math.pi * 100.0
"""Hectares of a circle of 1000 m."""
PROMISED = (
    "sites", "armed_nights", "prebait_nights", "open_nights", "hours", "captures", "captures_per_armed_night",
    "captures_per_armed_night_low", "captures_per_armed_night_high", "hours_per_capture", "covered_ha", "radius_m",
    "parcels", "removal", "problems",
)  # fmt: skip
MIDDLE = (2000.0, 3000.0)
SEASON = [
    Row("2026-10-01", "A", "prebait", hours="2", at=MIDDLE, time="16:00"),
    Row("2026-10-11", "A", "open", hours="5", time="15:00"),
    Row("2026-10-14", "A", "armed", hours="1", group="creek of 6", time="18:00"),
    Row("2026-10-14", "A", "check", hours="1", time="06:30"),
    Row("2026-10-15", "A", "capture", (0, 2, 1, 2), "creek of 6", "4", time="02:10"),
    Row("2026-10-16", "A", "pulled", hours="3"),
]


def run(folder: Path, rows: Any, *words: str, **parts: str) -> Any:
    plan = ranch.build(folder, rows, **parts)
    assert main(["report", str(plan), *words]) == 0
    return ranch.told(folder / "out")


def text_of(pdf: Path) -> str:
    return re.sub(r"\s+", " ", " ".join(p.extract_text() for p in PdfReader(pdf).pages))


def front_of(pdf: Path) -> str:
    return re.sub(r"\s+", " ", PdfReader(pdf).pages[0].extract_text())


def test_a_season_by_hand(tmp_path: Path) -> None:
    """10 bait nights, 3 open, 2 armed; 5 animals; the Poisson interval of 5 is 1.6235 to 11.6683 (Garwood 1936)."""
    told = run(tmp_path, SEASON, "--exact")
    assert set(PROMISED) <= set(told)
    nights = [told[k] for k in ("sites", "armed_nights", "prebait_nights", "open_nights")]
    assert nights == [1, 2, 10, 3] and told["hours"] == 16.0
    assert told["captures"] == {"boar": 0, "sow": 2, "yearling": 1, "piglet": 2, "total": 5}
    assert told["captures_per_armed_night"] == 2.5 and told["hours_per_capture"] == 3.2
    assert told["captures_per_armed_night_low"] == pytest.approx(1.62349 / 2, abs=1e-4)
    assert told["captures_per_armed_night_high"] == pytest.approx(11.66833 / 2, abs=1e-4)
    assert told["radius_m"] == 1000.0 and told["covered_ha"] == pytest.approx(R_HA, rel=1e-4)
    west, east = told["parcels"]
    assert (west["parcel"], west["owner"], west["hectares"]) == ("West", ranch.WEST, 2400.0)
    assert west["covered_share"] == pytest.approx(R_HA / 2400.0, abs=1e-4) and east["covered_ha"] == 0.0
    assert west["hectare_nights"] == pytest.approx(2 * R_HA, rel=1e-3)
    assert [g["missing"] for g in told["groups"]] == [1] and told["minimum_alive"] == 1
    assert told["nights"][0]["days_from_bait"] == 14 and told["problems"] == []
    assert not told["removal"]["fit"] and told["removal"]["estimate"] is None and told["removal"]["reasons"]
    assert any("the 1 still out of creek of 6" in step["what"] for step in told["next"])


def test_half_a_circle_on_each_side_of_a_line_and_none_on_refused_land(tmp_path: Path) -> None:
    """On the line between two owners half a circle each; 500 m from refused land a segment is cut off (closed form)."""
    rows = [
        Row("2026-10-01", "A", "armed", at=(4000, 2000)), Row("2026-10-03", "A", "pulled"),
        Row("2026-10-01", "B", "armed", at=(7500, 4500)), Row("2026-10-02", "B", "pulled"),
    ]  # fmt: skip
    told = run(tmp_path, rows, "--exact")
    segment = (1000.0**2 * math.acos(0.5) - 500.0 * math.sqrt(1000.0**2 - 500.0**2)) / 1e4
    shares = {p["parcel"]: p["covered_ha"] for p in told["parcels"]}
    assert shares == {"West": pytest.approx(R_HA / 2, rel=1e-3), "East": pytest.approx(1.5 * R_HA - segment, rel=1e-3)}
    assert told["covered_ha"] == pytest.approx(2 * R_HA - segment, rel=1e-3)
    assert "Corner" not in shares and told["hectare_nights"] == pytest.approx(3 * R_HA - segment, rel=1e-3)


def test_two_circles_that_overlap_count_once(tmp_path: Path) -> None:
    """Union of two circles 1000 m apart: twice the circle less the lens 2 r^2 acos(d / 2r) - d/2 sqrt(4 r^2 - d^2)."""
    rows = [Row("2026-10-01", "A", "armed", at=(2000, 3000)), Row("2026-10-02", "A", "pulled"),
            Row("2026-10-05", "B", "armed", at=(2000, 4000)), Row("2026-10-06", "B", "pulled")]  # fmt: skip
    lens = (2 * 1e6 * math.acos(0.5) - 500.0 * math.sqrt(4e6 - 1e6)) / 1e4
    assert run(tmp_path, rows, "--exact")["covered_ha"] == pytest.approx(2 * R_HA - lens, rel=1e-3)


def test_what_was_only_open_covers_nothing(tmp_path: Path) -> None:
    told = run(tmp_path, [Row("2026-11-01", "A", "open", at=MIDDLE)])
    assert (told["open_nights"], told["armed_nights"], told["covered_ha"]) == (20, 0, 0.0)
    assert told["captures_per_armed_night"] is None


def test_places_come_from_the_last_ranking(tmp_path: Path) -> None:
    ranch.build(tmp_path, [Row("2026-11-19", "T-01", "armed"), Row("2026-11-19", "T-99", "armed")])
    out = tmp_path / "out"
    out.mkdir()
    frame = gpd.GeoDataFrame({"site": ["t-01"]}, geometry=[shapely.Point(*ranch.place(*MIDDLE))], crs=ranch.CRS)
    frame.to_crs(4326).to_file(out / "sites.gpkg", layer="sites", driver="GPKG")
    assert main(["report", str(tmp_path / "plan.toml"), "--exact"]) == 0
    told = ranch.told(out)
    assert told["covered_ha"] == pytest.approx(R_HA, rel=1e-3)
    notes = " ".join(told["notes"])
    assert "from the last ranking" in notes and "T-99; their land is missing" in notes
    assert any("Write the place of 1 armed set" in s["what"] for s in told["next"])


def test_the_files_say_the_same(tmp_path: Path) -> None:
    told = run(tmp_path, SEASON, "--exact")
    out = tmp_path / "out"
    with (out / "coverage.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [(r["parcel"], float(r["covered_ha"])) for r in rows] == [
        (p["parcel"], p["covered_ha"]) for p in told["parcels"]
    ]
    assert {n for n, _ in pyogrio.list_layers(out / "report.gpkg")} == {"covered", "sets"}
    covered = gpd.read_file(out / "report.gpkg", layer="covered")
    assert covered.geometry.area.sum() / 1e4 == pytest.approx(told["covered_ha"], rel=1e-4)
    sets = gpd.read_file(out / "report.gpkg", layer="sets")
    assert [(p.x, p.y) for p in sets.geometry] == [ranch.place(*MIDDLE)]
    text = text_of(out / "coverage_report.pdf")
    for words in ("EXACT COPY", "5 animals in 1 catch: 2 sows, 1 yearling, 2 piglets", "creek of 6", "314 ha",
                  "7 % of the 4,800 ha with permission", "522000, 4003000", "still out"):  # fmt: skip
        assert words in text, words
    assert not (out / "check_sheet.pdf").exists(), "no set is armed"


def test_the_same_plan_gives_the_same_bytes(tmp_path: Path) -> None:
    plan = ranch.build(tmp_path, [*SEASON, Row("2026-11-19", "B", "armed", at=(5000, 2000))])
    held = []
    for name in ("one", "two"):
        assert main(["report", str(plan), "--out", str(tmp_path / name)]) == 0
        held.append({p.name: p.read_bytes() for p in (tmp_path / name).iterdir() if p.is_file()})
    assert set(held[0]) == {"report.json", "coverage.csv", "report.gpkg", "coverage_report.pdf", "check_sheet.pdf"}
    assert held[0] == held[1]


def test_every_row_is_counted_or_listed(tmp_path: Path) -> None:
    rows = "\n".join([
        ranch.HEAD, "2026-10-01,A,armed,,,,,,,,,,,", "2026-10-02,A,capture,,2,,,,,,,,,",
        "2026-10-02,A,trapped,,,,,,,,,,,",
        "2026-12-24,A,check,,,,,,,,,,,", "2026-10-02,A,capture,,2,,,,,,,,,", "2026-10-02,B,capture,,3,,,,,,,,,",
        "2026-10-01,C,check,,,,,,,,,,,", "2026-10-03,A,pulled,,,,,,,,,,,",
    ])  # fmt: skip
    told = run(tmp_path, rows + "\n")
    said = {p["row"]: p for p in told["problems"]}
    assert set(said) == {3, 4, 5, 6, 7} and not any(p["counted"] for p in said.values())
    for row, words in ((3, "expected one of prebait"), (4, "after 2026-11-21"), (5, "the same as row 2"),
                       (6, "not armed"), (7, "no row has set up")):  # fmt: skip
        assert words in said[row]["text"], row
    assert told["captures"]["total"] == 2 and told["set_aside"] == 5
    assert (told["quality"]["rows"], told["quality"]["aside"]) == (8, 5)
    text = text_of(tmp_path / "out" / "coverage_report.pdf")
    assert "8 rows: 3 counted, 5 set aside with 5 animals" in text and "SET ASIDE" in text


def test_an_empty_log(tmp_path: Path) -> None:
    told = run(tmp_path, ranch.HEAD + "\n")
    assert (told["sites"], told["armed_nights"], told["captures"]["total"], told["covered_ha"]) == (0, 0, 0, 0.0)
    assert told["hours"] is None and told["captures_per_armed_night"] is None and told["hours_per_capture"] is None
    front = front_of(tmp_path / "out" / "coverage_report.pdf")
    for words in ("The log holds no row", "not the same as nothing done", "so who is left is not known",
                  "Write the first row of the log", "no survey of damage is given"):  # fmt: skip
        assert words.lower() in front.lower(), words


def test_a_log_of_one_night(tmp_path: Path) -> None:
    """No event in one night: the interval is 0 to -ln(0.025) = 3.689."""
    told = run(tmp_path, [Row("2026-11-20", "A", "armed", at=MIDDLE)])
    assert (told["armed_nights"], told["captures_per_armed_night"]) == (1, 0.0)
    assert told["captures_per_armed_night_high"] == pytest.approx(3.6889, abs=1e-4)
    front = front_of(tmp_path / "out" / "coverage_report.pdf")
    assert "the night of 2026-11-20" in front and "rules out only rates over 3.7 animals a night" in front
    assert (tmp_path / "out" / "check_sheet.pdf").exists()


def test_nights_without_a_catch(tmp_path: Path) -> None:
    told = run(tmp_path, [Row("2026-10-12", "A", "armed", group="oak of 9", at=MIDDLE)])
    assert told["armed_nights"] == 40 and told["captures"]["total"] == 0 and told["minimum_alive"] == 9
    front = front_of(tmp_path / "out" / "coverage_report.pdf")
    assert "Nothing on 40 armed nights" in front and "none taken" in front and "OVERDUE" not in front
    assert "NOW: Look at A" in front and told["clock"]["due"][0]["state"] == "overdue"


@pytest.mark.parametrize("sets", [1, 40])
def test_twenty_thousand_rows(tmp_path: Path, sets: int) -> None:
    """Under 5 s of CPU for all files, and no more pages than anybody turns."""
    from datetime import date, timedelta

    lines = [ranch.HEAD]
    for n in range(4000):
        begin = date(2020, 1, 1) + timedelta(days=6 * (n // sets) if sets > 1 else 6 * (n % 400))
        at = ranch.place(200 + 37 * (n % sets) % 7600, 200 + 91 * (n % sets) % 5600)
        for day, rest in ((0, "prebait,,,,,"), (2, "armed,,,,,"), (2, "check,,,,,"), (3, f"capture,,2,,,G{n} of 3"),
                          (5, "pulled,,,,,")):  # fmt: skip
            when = begin + timedelta(days=day)
            lines.append(f"{when},S{n % sets},{rest},{1 + n / 10000},,,,{at[0]},{at[1]}")
    plan = ranch.build(tmp_path, "\n".join(lines) + "\n")
    assert main(["report", str(ranch.build(tmp_path / "warm", SEASON))]) == 0
    begun = time.process_time()
    assert main(["report", str(plan)]) == 0
    seconds = time.process_time() - begun
    told = ranch.told(tmp_path / "out")
    assert told["quality"]["rows"] == 20_000 and told["captures"]["total"] + told["set_aside"] == 8_000
    assert told["armed_nights"] > 0 and told["covered_ha"] > R_HA / 4
    assert len(PdfReader(tmp_path / "out" / "coverage_report.pdf").pages) <= 8
    assert seconds < 5.0


def test_the_clock(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Armed 18 November 18:00, looked at 19 November 06:30: due 24 hours on, by whatever moment is asked for."""
    rows = [Row("2026-11-18", "A", "armed", time="18:00", at=MIDDLE), Row("2026-11-18", "A", "check", time="06:30")]
    zone = 'zone = "America/Chicago"'
    plan = ranch.build(tmp_path, rows, ranch=zone, plan='[checks]\nhours = 24\nmethod = "self-acting"\n')
    for now, state in (("2026-11-20 06:30", "upcoming"), ("2026-11-20 06:31", "overdue")):
        assert main(["report", str(plan), "--now", now]) == 0
        clock = ranch.told(tmp_path / "out")["clock"]
        assert clock["due"] == [{"site": "A", "due": "2026-11-20T06:30", "due_latest": "2026-11-20T06:30",
                                 "state": state, "last_row": 2, "last_night": "2026-11-18"}]  # fmt: skip
        assert clock["zone"] == "America/Chicago" and clock["rule"]["method"] == "self-acting"
        shown = capsys.readouterr().out
        assert "look before 2026-11-20 06:30" in shown and (state if state == "upcoming" else "OVERDUE") in shown
    sheet = text_of(tmp_path / "out" / "check_sheet.pdf")
    for words in ("1 OVERDUE", "2026-11-20 06:30", "America/Chicago", "classed as self-acting", "common practice",
                  "without a check, catch or other animal in the log: A 2026-11-19, A 2026-11-20"):  # fmt: skip
        assert words in sheet, words


def test_check_shows_the_clock_and_what_is_wrong_with_the_log(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:  # fmt: skip
    rows = [Row("2026-11-18", "A", "armed", time="18:00", at=MIDDLE), Row("2026-11-18", "B", "capture", (1, 0, 0, 0))]
    plan = ranch.build(tmp_path, rows)
    (tmp_path / "none.tif").write_bytes(b"")
    main(["check", str(plan), "--now", "2026-11-20 08:00"])
    shown = capsys.readouterr().out
    assert "OVERDUE          A            look before 2026-11-19 18:00" in shown and "? row 2: a capture at B" in shown
    told = json.loads((tmp_path / "out" / "check.json").read_text(encoding="utf-8"))
    assert told["clock"]["due"][0]["state"] == "overdue" and told["clock"]["now"] == "2026-11-20T08:00"
    log = next(r for r in told["layers"] if r["layer"] == "log")
    assert log["state"] == "doubtful" and "2 rows" in log["read"] and "1 armed set" not in log["read"]


def test_only_one_owners_land(tmp_path: Path) -> None:
    """A set 300 m inside the other owner's land covers some of this one's, and is no set of this copy."""
    far = [Row("2026-10-20", "B", "armed", at=(4300, 3000), group="ridge of 4", time="18:00"),
           Row("2026-10-21", "B", "capture", (0, 0, 4, 0), "ridge of 4"), Row("2026-10-22", "B", "pulled")]  # fmt: skip
    told = run(tmp_path, [*SEASON, *far], "--owner", "juniper LAND", "--exact")
    assert told["owner"] == ranch.WEST and [s["site"] for s in told["sets"]] == ["A"]
    assert [p["parcel"] for p in told["parcels"]] == ["West"] and told["captures"]["total"] == 5
    segment = (1e6 * math.acos(0.3) - 300.0 * math.sqrt(1e6 - 300.0**2)) / 1e4
    assert told["covered_ha"] == pytest.approx(R_HA + segment, rel=1e-3)
    assert [g["group"] for g in told["groups"]] == ["creek of 6"]
    assert "no closed piece of ground" in told["removal"]["reasons"][0]
    text = text_of(tmp_path / "out" / "coverage_report.pdf")
    assert "ridge of 4" not in text and ranch.EAST not in text and f"land of {ranch.WEST}" in text
    drawn = gpd.read_file(tmp_path / "out" / "report.gpkg", layer="covered").geometry.union_all()
    x, y = ranch.place(4300, 3000)
    arc = [c for c in shapely.get_coordinates(drawn) if abs(math.hypot(c[0] - x, c[1] - y) - 1000.0) < 1.0]
    assert len(arc) < 3, "the other owner's set is not to be found from the edge of its circle"


def test_damage_on_the_same_transects(tmp_path: Path) -> None:
    """60 of 400 m before and 20 of 400 m after; fresh sign 8 and 2 on 0.4 km."""
    table = "transect,survey,date,observer,surveyed_m,damaged_m,sign\n"
    for survey, day, damaged, signs in (("before", "2025-11-10", (20, 10, 30), (3, 2, 3)),
                                        ("after", "2026-11-12", (8, 2, 10), (1, 0, 1))):  # fmt: skip
        for name, long, part, sign in zip("abc", (100, 100, 200), damaged, signs, strict=True):
            table += f"{name},{survey},{day},op 1,{long},{part},{sign}\n"
    (tmp_path / "walk.csv").write_text(table, encoding="utf-8")
    told = run(tmp_path, SEASON, plan='transects = "walk.csv"')
    damage = told["damage"]
    assert damage["compared"] and damage["transects"] == 3 and damage["unit"] == "m"
    assert (damage["before"]["value"], damage["after"]["value"]) == (0.15, 0.05)
    assert damage["change"]["value"] == -0.1 and damage["change"]["low"] < -0.1 < damage["change"]["high"] < 0
    assert (damage["sign_per_km"]["before"]["value"], damage["sign_per_km"]["after"]["value"]) == (20.0, 5.0)
    assert "15 %" in front_of(tmp_path / "out" / "coverage_report.pdf")
    (tmp_path / "walk.csv").write_text(table.replace("c,after", "d,after"), encoding="utf-8")
    assert main(["report", str(tmp_path / "plan.toml")]) == 0
    told = ranch.told(tmp_path / "out")
    assert not told["damage"]["compared"] and "not the same transects: c, d" in told["damage"]["reason"]
    assert "not compared" in front_of(tmp_path / "out" / "coverage_report.pdf")


def test_animals_left_are_estimated_where_every_test_is_met(tmp_path: Path) -> None:
    """Four weeks of even effort, stated to be closed, that took 60, 28, 12 and 6."""
    catches = (60, 28, 12, 6)
    rows = [Row("2026-10-01", "A", "armed", at=MIDDLE)]
    rows += [Row(f"2026-10-{2 + 7 * k:02d}", "A", "capture", (0, n, 0, 0)) for k, n in enumerate(catches)]
    rows.append(Row("2026-10-29", "A", "pulled"))
    told = run(tmp_path, rows, plan="[removal]\nclosed = true\n")["removal"]
    want = maximum_likelihood(catches)
    assert told["fit"] and told["reasons"] == [] and told["estimate"] == pytest.approx(want.number, abs=0.05)
    assert (told["low"], told["high"]) == (pytest.approx(want.low, abs=0.05), pytest.approx(want.high, abs=0.05))
    assert told["left"] == pytest.approx(want.number - 106, abs=0.05)
    assert "Estimated left of all" in front_of(tmp_path / "out" / "coverage_report.pdf")
    told = run(tmp_path, rows)["removal"]
    assert not told["fit"] and told["estimate"] is None and "nobody has said" in " ".join(told["reasons"])


def test_use_within_the_covered_land(tmp_path: Path) -> None:
    """All sign of before lies in the circle, half of that of after; hills of 200 m hardly reach past the edge."""
    lines = ["kind,date,x,y,crs"]
    for k in range(6):
        x, y = ranch.place(2000 + 40 * k, 3000)
        lines.append(f"rooting,2026-09-{10 + k},{x},{y},{ranch.CRS}")
        far = ranch.place(6500 + 40 * k, 3000)
        near = far if k % 2 else (x, y)
        lines.append(f"rooting,2026-11-15,{near[0]},{near[1]},{ranch.CRS}")
    (tmp_path / "sign.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    told = run(tmp_path, SEASON, layers='sign = "sign.csv"')["use_covered"]
    assert told["before"]["signs"] == 6 == told["after"]["signs"]
    assert told["before"]["share"] > 0.98 and told["after"]["share"] == pytest.approx(0.5, abs=0.02)
    assert (told["before"]["end"], told["after"]["begin"]) == ("2026-10-14", "2026-10-16")


def test_too_little_sign_is_no_share_and_none_is_not_known(tmp_path: Path) -> None:
    assert "No sign is mapped" in run(tmp_path, SEASON)["use_covered"]["notes"][0]
    x, y = ranch.place(*MIDDLE)
    (tmp_path / "sign.csv").write_text(f"kind,date,x,y,crs\nbed,2026-11-15,{x},{y},{ranch.CRS}\n", encoding="utf-8")
    told = run(tmp_path, SEASON, layers='sign = "sign.csv"')["use_covered"]
    assert told["before"] is None and told["after"] == {
        "begin": "2026-10-16", "end": "2026-11-21", "signs": 1, "share": None
    }  # fmt: skip


@pytest.mark.parametrize(
    ("words", "change", "said"),
    [
        ((), {"rows": "site,event\nA,armed\n"}, ("log.csv", "no column date")),
        ((), {"rows": ""}, ("log.csv", "empty")),
        (("--owner", "Nobody"), {}, ("owner", "'Nobody'", ranch.WEST)),
        (("--now", "noon"), {}, ("--now", "2026-11-21 08:30")),
        ((), {"plan": 'transects = "gone.csv"'}, ("gone.csv", "no such file")),
        ((), {"plan": "radius = 12"}, ("plan.toml",)),
        ((), {"plan": "[checks]\nhours = 0.1"}, ("plan.toml", "checks.hours", "0.5 to 168")),
        ((), {"plan": '[checks]\nmethod = "trap"'}, ("checks.method", "self-acting")),
        ((), {"plan": '[removal]\nclosed = "yes"'}, ("removal.closed", "true or false")),
        ((), {"ranch": 'zone = "Mars/Base"'}, ("ranch.zone", "America/Chicago")),
    ],
)  # fmt: skip
def test_bad_inputs(
    tmp_path: Path, words: tuple[str, ...], change: dict[str, str], said: tuple[str, ...],
    capfd: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    rows = change.pop("rows", SEASON)
    plan = ranch.build(tmp_path, rows, **change)
    assert main(["report", str(plan), *words]) == 2
    err = capfd.readouterr().err
    assert all(w in err for w in said) and "Traceback" not in err and err.strip().count("\n") <= 4
    assert not (tmp_path / "out" / "report.json").exists()


def test_a_plan_without_a_log(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    plan = ranch.build(tmp_path, SEASON)
    plan.write_text(plan.read_text(encoding="utf-8").replace('log = "log.csv"\n', ""), encoding="utf-8")
    assert main(["report", str(plan)]) == 2
    assert 'the plan names no log; expected a table of what happened at the sets; add log = "log.csv"' in (
        capfd.readouterr().err
    )


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("a,before,100,120", "no more than that damaged"), ("a,during,100,10", "before or after"),
        (",before,100,10", "the name of the line"), ("a,before,x,10", "a number"), ("a,before,0,0", "more than 0"),
    ],
)  # fmt: skip
def test_bad_transects(tmp_path: Path, line: str, said: str, capfd: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "walk.csv").write_text(f"transect,survey,surveyed_m,damaged_m\n{line}\n", encoding="utf-8")
    plan = ranch.build(tmp_path, SEASON, plan='transects = "walk.csv"')
    assert main(["report", str(plan)]) == 2
    err = capfd.readouterr().err
    assert "walk.csv" in err and "row 1" in err and said in err


def test_the_sample_ranch(tmp_path: Path) -> None:
    """Counted by hand from the story of the season; radius, damage and cameras as the sample's plan states them."""
    shutil.copytree(
        ROOT / "sample_data", tmp_path / "r", ignore=shutil.ignore_patterns("generate", "__pycache__", "out")
    )
    assert main(["report", str(tmp_path / "r" / "plan.toml")]) == 0
    told = ranch.told(tmp_path / "r" / "out")
    assert [told[k] for k in ("sites", "armed_nights", "prebait_nights", "open_nights")] == [4, 12, 80, 33]
    assert told["captures"]["total"] == 19 and told["minimum_alive"] == 23 and told["groups_complete"] == 2
    assert told["camera_nights"] == 90.0 and told["hours_by_task"].keys() >= {"bait", "rig", "check", "catch"}
    before = sum((96, 41, 187, 122, 0, 143, 88, 35)) / sum((820, 760, 1040, 990, 640, 880, 720, 930))
    assert told["damage"]["before"]["value"] == pytest.approx(before, abs=1e-4)
    assert told["use_covered"]["before"]["signs"] >= 5 and told["use_covered"]["after"]["signs"] >= 5
    groups = {g["group"]: g for g in told["groups"]}
    assert groups["UC group of 9"]["missing_by_class"] == {"sow": 3, "piglet": 6} and not told["cameras_beside"]
    text = text_of(tmp_path / "r" / "out" / "coverage_report.pdf")
    assert re.search(r"\b(safe|clear)\b", text, re.IGNORECASE) is None and "MASKED COPY" in text


def test_cameras_that_nobody_links_to_a_group_stand_beside_it(tmp_path: Path) -> None:
    """Nobody is counted twice: the same animals under two names are told, not added."""
    shutil.copytree(
        ROOT / "sample_data", tmp_path / "r", ignore=shutil.ignore_patterns("generate", "__pycache__", "out")
    )
    plan = tmp_path / "r" / "plan.toml"
    text = re.sub(r"^cameras +=( \{ \"upper).*$", "", plan.read_text(encoding="utf-8"), flags=re.MULTILINE)
    plan.write_text(text, encoding="utf-8")
    assert main(["report", str(plan)]) == 0
    told = ranch.told(tmp_path / "r" / "out")
    assert {g["group"] for g in told["cameras_beside"]} == {"upper creek 1", "cedar draws 1"}
    assert told["minimum_alive"] == 23 and len(told["groups"]) == 4
    assert any("which group of the log cameras saw" in s["what"] for s in told["next"])
