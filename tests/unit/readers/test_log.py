"""The log: every row is right or listed with its number and what to do; nothing falls away in silence."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path

import geopandas as gpd
import pytest
import shapely
from pyproj import Transformer

from boscage.errors import CrsError, LayerError
from boscage.model.layers import LayerSpec
from boscage.model.ledger import EVENTS, Log
from boscage.readers.log import read_log
from boscage.readers.protocol import Request
from boscage.values import Bounds

SAMPLE = Path(__file__).parents[3] / "sample_data" / "log.csv"
CRS, DAY = "EPSG:32615", dt.date(2026, 11, 21)
HEAD = "date,site,event,boar,sow,yearling,piglet,group,hours,note"


def read(path: Path, day: dt.date = DAY, ranch: Bounds | None = None, **spec: object) -> Log:
    made = LayerSpec(path=path.name, **spec)  # type: ignore[arg-type]
    return read_log(Request(layer="log", path=path, spec=made), crs=CRS, day=day, ranch=ranch)


def rows(folder: Path, *lines: str, head: str = HEAD, **facts: object) -> Log:
    path = folder / "log.csv"
    path.write_text("\n".join([head, *lines]) + "\n", encoding="utf-8")
    return read(path, **facts)  # type: ignore[arg-type]


def test_the_sample_log_breaks_nothing() -> None:
    found = read(SAMPLE)
    assert (len(found.rows), found.problems) == (78, ())
    assert {r.event for r in found.rows} == set(EVENTS)
    first = found.rows[11]
    assert (first.row, first.night, first.site, first.event) == (12, dt.date(2026, 9, 19), "LH-1", "capture")
    assert (first.counts, first.animals, first.group, first.hours) == ((0, 2, 0, 5), 7, "LH group of 7", 7.0)
    assert sum(r.has_place for r in found.rows) == 4


def test_places_are_brought_into_the_ranchs_crs() -> None:
    row = read(SAMPLE).rows[0]
    east, north = Transformer.from_crs(4326, CRS, always_xy=True).transform(-92.712836, 36.202840)
    assert (row.x_m, row.y_m) == pytest.approx((east, north), abs=1e-6)


@pytest.mark.parametrize(
    ("line", "said", "animals"),
    [
        ("20.9.2026,A,check,,,,,,,", "the date is '20.9.2026'; expected the evening date as year-month-day", 0),
        (",A,check,,,,,,,", "the date is empty; write the evening date", 0),
        ("2026-02-30,A,check,,,,,,,", "the date is '2026-02-30'", 0),
        ("2026-11-22,A,check,,,,,,,", "2026-11-22 is after 2026-11-21, the day of the plan", 0),
        ("1026-11-02,A,check,,,,,,,", "before 1990; correct the year", 0),
        ("2026-09-20,A,trapped,,,,,,,", "the event is 'trapped'; expected one of prebait, open, armed", 0),
        ("2026-09-20,A,,,,,,,,", "the event is empty", 0),
        ("2026-09-20,,check,,,,,,,", "the site is empty; write the name of the set", 0),
        ("2026-09-20,A,capture,,x,,3,,,", "sow is 'x'; expected a whole number from 0", 3),
        ("2026-09-20,A,capture,,1.5,,,,,", "sow is '1.5'", 0),
        ("2026-09-20,A,capture,-1,,,,,,", "boar is '-1'", 0),
        ("2026-09-20,A,capture,,,,,,2,none", "a capture without an animal; write how many", 0),
        ("2026-09-20,A,capture,501,,,,,,", "boar is '501'; expected a whole number from 0 to 500", 501),
    ],
)
def test_rows_that_cannot_be_counted_are_set_aside_and_listed(
    tmp_path: Path, line: str, said: str, animals: int
) -> None:
    found = rows(tmp_path, "2026-09-01,A,prebait,,,,,,,", line)
    assert [r.row for r in found.rows] == [1]
    (problem,) = found.problems
    assert (problem.row, problem.counted, problem.animals) == (2, False, animals)
    assert said in problem.text and problem.text.endswith("the row is not counted until it is mended.")


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("2026-09-20,A,check,,,,,,soon,", "hours is 'soon'; expected a number from 0 to 500"),
        ("2026-09-20,A,check,,,,,,-2,", "hours is '-2'"),
        ("2026-09-20,A,check,,,2,1,,1,", "3 animals are counted in a row that is no capture"),
        ("2026-09-20,a,check,,,,,,1,", "the site is written a, and A before; taken as the same set"),
    ],
)
def test_smaller_faults_are_listed_and_the_row_counts(tmp_path: Path, line: str, said: str) -> None:
    found = rows(tmp_path, "2026-09-01,A,prebait,,,,,,,", line)
    assert [r.row for r in found.rows] == [1, 2] and found.rows[1].site == "A"
    assert found.rows[1].counts == (0, 0, 0, 0)
    (problem,) = found.problems
    assert problem.row == 2 and problem.counted and said in problem.text


def test_bounds_are_within(tmp_path: Path) -> None:
    found = rows(
        tmp_path, "2026-11-21,A,check,,,,,,0,", "1990-01-01,A,check,,,,,,500,", "2026-11-21,A,capture,500,,,,,,"
    )
    assert found.problems == () and [r.hours for r in found.rows[:2]] == [0.0, 500.0]
    assert found.notes == ("3 rows", "no places in the log")


def test_the_same_row_twice_counts_once(tmp_path: Path) -> None:
    line = "2026-09-20,A,capture,,1,,,,2,"
    found = rows(tmp_path, line, line, "2026-09-20,A,check,,,,,,2,", "2026-09-20,A,check,,,,,,2,")
    assert [r.row for r in found.rows] == [1, 3]
    assert [(p.row, p.counted, p.animals) for p in found.problems] == [(2, False, 1), (4, False, 0)]
    assert "says the same as row 1 in every cell" in found.problems[0].text
    assert "its own name in a column animal" in found.problems[0].text
    assert "column animal" not in found.problems[1].text


def test_a_column_that_is_not_ours_tells_rows_apart_and_is_named(tmp_path: Path) -> None:
    found = rows(
        tmp_path, "2026-09-20,A,capture,sow,ear tag 4,p1", "2026-09-20,A,capture,sow,ear tag 4,p2",
        head="date,site,event,class,note,photo",
    )  # fmt: skip
    assert len(found.rows) == 2 and found.problems == ()
    assert "columns not used: photo" in found.notes


def test_one_row_an_animal(tmp_path: Path) -> None:
    found = rows(
        tmp_path, "2026-09-20,A,capture,Sow,,7,left ear", "2026-09-20,A,capture,piglets,3,8,",
        "2026-09-20,A,capture,shoat,,9,", "2026-09-20,A,capture,gilt,2,10,",
        head="date,site,event,class,count,animal,injury",
    )  # fmt: skip
    assert [r.counts for r in found.rows] == [(0, 1, 0, 0), (0, 0, 0, 3), (0, 0, 1, 0)]
    assert (found.rows[0].animal, found.rows[0].injury) == ("7", "left ear")
    (problem,) = found.problems
    assert (problem.row, problem.animals) == (4, 2)
    assert "the class is 'gilt'; expected one of boar, sow, yearling, piglet" in problem.text


def test_an_animal_in_a_class_and_in_its_column_is_counted_twice_and_refused(tmp_path: Path) -> None:
    found = rows(tmp_path, "2026-09-20,A,capture,sow,1,1", head="date,site,event,class,count,sow")
    assert found.rows == () and "counts sow twice" in found.problems[0].text


@pytest.mark.parametrize(
    ("text", "night", "time"),
    [
        ("2026-11-12T03:10", (2026, 11, 11), dt.time(3, 10)),
        ("2026-11-12 12:00", (2026, 11, 12), dt.time(12)),
        ("2026-11-12 23:59:00", (2026, 11, 12), dt.time(23, 59)),
        ("2026-11-12 00:00:00", (2026, 11, 12), None),
        ("2026-11-12", (2026, 11, 12), None),
    ],
)
def test_a_night_has_the_date_of_its_evening(
    tmp_path: Path, text: str, night: tuple[int, int, int], time: dt.time | None
) -> None:
    """A capture at 03:10 on the 12th belongs to the night of the 11th. Midnight alone is how files write a bare day."""
    row = rows(tmp_path, f"{text},A,check", head="date,site,event").rows[0]
    assert (row.night, row.time) == (dt.date(*night), time)


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("22:40", (11, 22, 40)), ("03:10", (12, 3, 10)), ("12:00", (11, 12, 0)), ("11.59", (12, 11, 59)),
        ("6:05 am", (12, 6, 5)), ("10:40 PM", (11, 22, 40)), ("12:30 a.m.", (12, 0, 30)),
        ("1:00 pm", (11, 13, 0)),
    ],
)  # fmt: skip
def test_a_clock_time_beside_the_evening_date(tmp_path: Path, text: str, moment: tuple[int, int, int]) -> None:
    row = rows(tmp_path, f"2026-11-11,A,check,{text}", head="date,site,event,time").rows[0]
    assert row.earliest == row.latest == dt.datetime(2026, 11, *moment)


def test_a_row_without_a_time_may_be_anywhere_in_its_night(tmp_path: Path) -> None:
    row = rows(tmp_path, "2026-11-11,A,check", head="date,site,event").rows[0]
    assert (row.earliest, row.latest) == (dt.datetime(2026, 11, 11, 12), dt.datetime(2026, 11, 12, 12))


@pytest.mark.parametrize("text", ["25:00", "9:75", "dawn", "13:00 pm", "0:10 am"])
def test_a_time_that_is_none_is_listed(tmp_path: Path, text: str) -> None:
    found = rows(tmp_path, f"2026-11-11,A,check,{text}", head="date,site,event,time")
    assert found.rows[0].time is None
    assert f"time is '{text}'; expected a clock time such as 22:40" in found.problems[0].text


def test_the_columns_beyond_those_promised(tmp_path: Path) -> None:
    found = rows(
        tmp_path, "2026-11-11,A,capture,2,op 1,dispatch,killed,none,50,12,22:40,22:55,23:20",
        head="date,site,event,sow,person,task,fate,injury,bait_lb,known,closed,approached,finished",
    )  # fmt: skip
    row = found.rows[0]
    assert (row.person, row.task, row.fate, row.injury, row.known) == ("op 1", "dispatch", "killed", "none", 12)
    assert row.bait_kg == pytest.approx(22.6796, abs=1e-4)
    assert (row.closed, row.approached, row.finished) == (dt.time(22, 40), dt.time(22, 55), dt.time(23, 20))
    assert found.problems == ()


def test_what_is_not_written_is_no_number(tmp_path: Path) -> None:
    row = rows(tmp_path, "2026-11-11,A,check", head="date,site,event").rows[0]
    assert math.isnan(row.hours) and math.isnan(row.bait_kg) and row.known is None and not row.has_place


def test_other_names_for_columns(tmp_path: Path) -> None:
    found = rows(tmp_path, "2026-11-11,A,check,2", head="Evening Date,Trap,THEIRS,hrs", columns={"event": "THEIRS"})
    assert (found.rows[0].event, found.rows[0].hours) == ("check", 2.0)
    assert "column Trap taken as site" in found.notes


@pytest.mark.parametrize(
    ("head", "spec", "said"),
    [
        ("date,site,boar", {}, "field event: there is no column event"),
        ("date,event", {}, "field site: there is no column site"),
        ("date,site,event", {"columns": {"event": "nope"}}, "from a column nope that the file does not have"),
        ("date,site,event", {"columns": {"weight": "date"}}, "maps weight, which is no column of this layer"),
    ],
)
def test_a_file_that_is_no_log(tmp_path: Path, head: str, spec: dict[str, object], said: str) -> None:
    with pytest.raises(LayerError, match=said):
        rows(tmp_path, head=head, **spec)


def test_no_file_and_an_empty_file(tmp_path: Path) -> None:
    with pytest.raises(LayerError, match=r"log\.csv, layer log: there is no such file"):
        read(tmp_path / "log.csv")
    (tmp_path / "log.csv").write_text("")
    with pytest.raises(LayerError, match="the file is empty"):
        read(tmp_path / "log.csv")


def test_an_empty_log_holds_nothing_and_is_right(tmp_path: Path) -> None:
    found = rows(tmp_path)
    assert (found.rows, found.problems, found.notes[0]) == ((), (), "0 rows")


def test_places_in_x_and_y(tmp_path: Path) -> None:
    head = "date,site,event,x,y"
    found = rows(tmp_path, "2026-09-01,A,armed,525000,4000000", head=head)
    assert (found.rows[0].x_m, found.rows[0].y_m) == (525000.0, 4000000.0)
    assert "x and y taken in the ranch's CRS" in found.notes
    other = rows(tmp_path, "2026-09-01,A,armed,525000,4000000,26915", head=f"{head},crs")
    assert other.rows[0].x_m == pytest.approx(525000.0, abs=2.0) and "x and y taken" not in " ".join(other.notes)
    with pytest.raises(CrsError, match="the CRS EPSG:1 is unknown"):
        rows(tmp_path, "2026-09-01,A,armed,525000,4000000", head=head, crs="EPSG:1")
    with pytest.raises(CrsError, match="several systems: 26915, 32615"):
        rows(tmp_path, "2026-09-01,A,armed,1,2,26915", "2026-09-02,A,armed,1,2,32615", head=f"{head},crs")


@pytest.mark.parametrize(
    ("place", "said"),
    [
        ("-92.7,", "lon is '-92.7' and lat is ''; expected two decimal numbers"),
        ("west,36.2", "lon is 'west'"),
        ("36.2,-92.7", "more than 20 km from the ranch"),
        ("-92.7,95.0", "more than 20 km from the ranch"),
        ("-91.7,36.2", "more than 20 km from the ranch"),
        ("-92.7,36.9", "more than 20 km from the ranch"),
    ],
)
def test_a_place_that_is_none_is_listed_and_the_row_counts(tmp_path: Path, place: str, said: str) -> None:
    ranch = Bounds(524_000.0, 4_003_000.0, 529_000.0, 4_008_000.0)
    found = rows(tmp_path, f"2026-09-01,A,armed,{place}", head="date,site,event,lon,lat", ranch=ranch)
    assert len(found.rows) == 1 and not found.rows[0].has_place
    assert said in found.problems[0].text and found.problems[0].counted


def test_a_place_near_the_ranch_is_used(tmp_path: Path) -> None:
    ranch = Bounds(524_000.0, 4_003_000.0, 529_000.0, 4_008_000.0)
    found = rows(tmp_path, "2026-09-01,A,armed,-92.6,36.2", head="date,site,event,lon,lat", ranch=ranch)
    assert found.rows[0].has_place and found.problems == ()


def test_a_geopackage_with_points(tmp_path: Path) -> None:
    frame = gpd.GeoDataFrame(
        {"date": [dt.date(2026, 9, 1), dt.date(2026, 9, 2)], "site": ["A", "A"], "event": ["armed", "capture"],
         "sow": [None, 2]}, geometry=[shapely.Point(-92.7, 36.2), None], crs=4326,
    )  # fmt: skip
    frame.to_file(tmp_path / "log.gpkg", layer="log")
    found = read(tmp_path / "log.gpkg")
    assert [r.counts for r in found.rows] == [(0, 0, 0, 0), (0, 2, 0, 0)] and found.problems == ()
    east, north = Transformer.from_crs(4326, CRS, always_xy=True).transform(-92.7, 36.2)
    assert (found.rows[0].x_m, found.rows[0].y_m) == pytest.approx((east, north), abs=1e-6)
    assert not found.rows[1].has_place and found.rows[0].night == dt.date(2026, 9, 1)


def test_a_geopackage_whose_places_are_no_points(tmp_path: Path) -> None:
    shapes = [shapely.Point(0, 0), shapely.box(0, 0, 1, 1)]
    facts = {"date": ["2026-09-01"] * 2, "site": ["A"] * 2, "event": ["armed", "check"]}
    gpd.GeoDataFrame(facts, geometry=shapes, crs=4326).to_file(tmp_path / "log.gpkg")
    with pytest.raises(LayerError, match="row 2: the place of a row is no single point; expected points"):
        read(tmp_path / "log.gpkg")


def test_a_geopackage_without_geometry_and_one_with_two_tables(tmp_path: Path) -> None:
    import pandas as pd
    import pyogrio

    table = pd.DataFrame({"date": ["2026-09-01"], "site": ["A"], "event": ["armed"], "hours": [1.5]})
    path = tmp_path / "log.gpkg"
    pyogrio.write_dataframe(table, path, layer="nights")
    assert read(path).rows[0].hours == 1.5
    pyogrio.write_dataframe(table, path, layer="other", append=True)
    with pytest.raises(
        LayerError, match=r'the file holds 2 layers; state which one: layer = "\.\.\." out of nights, other'
    ):
        read(path)
    assert read(path, layer="other").notes[1] == "layer other"
    with pytest.raises(LayerError, match="there is no layer third in the file"):
        read(path, layer="third")


def test_a_broken_geopackage_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "log.gpkg").write_bytes(b"no database")
    with pytest.raises(LayerError, match="the file cannot be opened"):
        read(tmp_path / "log.gpkg")


def test_semicolons_and_a_mark_of_byte_order(tmp_path: Path) -> None:
    (tmp_path / "log.csv").write_bytes("\ufeffdate;site;event\n2026-09-01;A;armed\n".encode())
    assert read(tmp_path / "log.csv").rows[0].event == "armed"
