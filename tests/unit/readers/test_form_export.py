"""Filled-in forms become the rows that a log of the same events has; what is wrong is listed with its table and row."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import form_exports as server
import pytest
from pyproj import Transformer

from boscage.errors import LayerError
from boscage.ledger.book import make_book
from boscage.ledger.clock import check_clock
from boscage.ledger.effort import find_rates, sum_captures, sum_effort
from boscage.ledger.groups import counts_in_log, settle_groups
from boscage.model.form_questions import make_form
from boscage.model.forms import FormLog, site_codes
from boscage.model.layers import LayerSpec
from boscage.model.ledger import Log, LogRow
from boscage.model.ledger_clock import CheckOptions
from boscage.readers.log import read_log
from boscage.readers.protocol import Request

CRS, DAY = "EPSG:32615", dt.date(2026, 11, 21)
SITES = ["DH-01", "Öde Wiese 2", "7 Oaks", "Зимник"]
CODES = dict(zip(SITES, site_codes(SITES), strict=True))

# The same events once more, written by hand as a log.
BY_HAND = """\
date,site,event,class,count,group,known,hours,time,person,fate,injury,sex,animal,species,bait_lb,closed,approached,finished,lon,lat
2026-11-01,DH-01,prebait,,,,,3.5,,"operator, crew",,,,,,50,,,,-92.7128361,36.2028401
2026-11-02,Öde Wiese 2,prebait,,,,,2,,operator,,,,,,30,,,,-92.6842207,36.1864969
2026-11-06,DH-01,open,,,,,6.5,,"operator, crew",,,,,,,,,,,
2026-11-08,DH-01,check,,,,,1,06:30,,,,,,,,,,,,
2026-11-10,DH-01,open,,,,,,,operator,,,,,,,,,,,
2026-11-10,DH-01,armed,,,,,1.5,,operator,,,,,,,,,,,
2026-11-11,DH-01,check,,,,,1,00:05,,,,,,,,,,,,
2026-11-11,DH-01,capture,sow,1,creek group,12,7,,"operator, supervisor",killed,none,female,A-1,,,23:10,00:20,01:15,,
2026-11-11,DH-01,capture,sow,1,creek group,12,0,,"operator, supervisor",killed,minor,female,A-2,,,23:10,00:20,01:15,,
2026-11-11,DH-01,capture,piglet,5,creek group,12,0,,"operator, supervisor",killed,none,,,,,23:10,00:20,01:15,,
2026-11-11,DH-01,capture,yearling,1,creek group,12,0,,"operator, supervisor",escaped,,,,,,23:10,00:20,01:15,,
2026-11-11,DH-01,nontarget,,,creek group,12,0,,"operator, supervisor",released,,,,raccoon,,23:10,00:20,01:15,,
2026-11-12,DH-01,pulled,,,,,4,,"operator, crew",,,,,,,,,,,
2026-11-13,Öde Wiese 2,armed,,,,,2,,operator,,,,,,,,,,,
2026-11-14,Öde Wiese 2,capture,boar,1,,,3,,operator,killed,,male,,,,,,,,
2026-11-15,Old Ford,prebait,,,,,1,,other,,,,,,,,,,-92.7,36.19
"""


def at(text: str) -> str:
    """A moment as the app writes it in winter in the middle of the continent."""
    return f"{text}:00.000-06:00"


def sent(key: int, site: str, begun: str, **answers: Any) -> dict[str, Any]:
    known = site in CODES
    return {
        "KEY": f"uuid:00000000-0000-4000-8000-{key:012d}", "start": at(begun), "end": at(begun),
        "site": CODES[site] if known else "other", "site_other": "" if known else site, "site_name": site, **answers,
    }  # fmt: skip


VISITS = [
    sent(1, "DH-01", "2026-11-01T15:00", date="2026-11-01", who="operator crew", sign="rooting", sign_age="B",
         place="36.2028401 -92.7128361 214.2 4.6", rain_days="3", trees_sound="yes", stake_blows="14",
         stake_depth_in="24", state="prebait", bait_out_lb="50", hours="3.5", photo="1730500.jpg"),
    sent(2, "Öde Wiese 2", "2026-11-02T15:00", date="2026-11-02", who="operator", sign="none", state="prebait",
         place="36.1864969 -92.6842207 0 9.8", bait_out_lb="30", bait_left_lb="5", hours="2",
         note="größere Rotte; 3 m"),
    sent(3, "DH-01", "2026-11-06T10:00", date="2026-11-06", who="operator crew", state="open", hours="6.5"),
    sent(4, "DH-01", "2026-11-10T14:00", date="2026-11-10", who="operator", state="open"),
    sent(5, "DH-01", "2026-11-10T16:30", date="2026-11-10", who="operator", state="armed", hours="1.5"),
    sent(6, "DH-01", "2026-11-12T09:00", date="2026-11-12", who="operator crew", state="pulled", hours="4"),
    sent(7, "Öde Wiese 2", "2026-11-13T16:00", date="2026-11-13", who="operator", state="armed", hours="2"),
    sent(8, "Old Ford", "2026-11-15T11:00", date="2026-11-15", who="other", state="prebait", hours="1",
         place="36.19 -92.7 0 0"),
]  # fmt: skip
CHECKS = [
    sent(11, "DH-01", "2026-11-09T06:31", arrived=at("2026-11-09T06:30"), found="open", inside="no", hours="1"),
    sent(12, "DH-01", "2026-11-12T00:06", arrived=at("2026-11-12T00:05"), found="down", inside="yes", hours="1",
         next_due=at("2026-11-12T12:00"), staffed="yes"),
]  # fmt: skip
CAPTURES = [
    sent(21, "DH-01", "2026-11-12T02:00", night="2026-11-11", group="creek group", known="12",
         closed=at("2026-11-11T23:10"), approached=at("2026-11-12T00:20"), finished=at("2026-11-12T01:15"),
         observers="operator supervisor", hours="7", nontarget="yes", note="whole group but four",
         animals=[
             {"class": "sow", "count": "1", "sex": "female", "injury": "none", "fate": "killed", "samples": "A-1",
              "weight_lb": "141", "weighed": "scale", "marks": "notch, left ear"},
             {"class": "sow", "count": "1", "sex": "female", "injury": "minor", "fate": "killed", "samples": "A-2"},
             {"class": "piglet", "count": "5", "injury": "none", "fate": "killed"},
             {"class": "yearling", "count": "1", "injury": "unseen", "fate": "escaped"},
         ], nontargets=[{"species": "raccoon", "other_fate": "released"}]),
    sent(22, "Öde Wiese 2", "2026-11-15T08:00", night="2026-11-14", observers="operator", hours="3", nontarget="no",
         animals=[{"class": "boar", "count": "1", "sex": "male", "injury": "unseen", "fate": "killed"}]),
]  # fmt: skip
FORMS: Mapping[str, list[dict[str, Any]]] = {"visit": VISITS, "check": CHECKS, "capture": CAPTURES}


def read(path: Path, day: dt.date = DAY, **facts: Any) -> Log:
    return read_log(Request(layer="log", path=path, spec=LayerSpec(path=path.name)), crs=CRS, day=day, **facts)


def central(path: Path, forms: Mapping[str, Any] = FORMS, *, zipped: bool = True, **facts: Any) -> Path:
    tables = {n: server.csv_bytes(t) for n, t in server.central_tables(forms, **facts).items()}
    return server.write_zip(path / "central.zip", tables) if zipped else server.write_folder(path / "central", tables)


def central_folder(path: Path) -> Path:
    folder = central(path, zipped=False)
    (folder / "media").mkdir()
    (folder / "media" / "1730500.jpg").write_bytes(b"a photograph")
    (folder / "media" / "sites.csv").write_bytes(b"an,attachment\n1,2\n")
    return folder


def three_zips(path: Path) -> Path:
    for form, submissions in FORMS.items():
        tables = server.central_tables({form: submissions}, groups=True)
        (path / "all").mkdir(exist_ok=True)
        server.write_zip(path / "all" / f"{form}.zip", {n: server.csv_bytes(t, mark=True) for n, t in tables.items()})
    return path / "all"


def kobo_zip(path: Path, *, groups: bool) -> Path:
    tables = server.kobo_tables(FORMS, groups=groups)
    named = {f"{n.replace('/', '_')}.csv": t for n, t in tables.items()}
    made = {n: server.csv_bytes(t, delimiter=";", mark=True, quote=1) for n, t in named.items()}
    return server.write_zip(path / "kobo.zip", made)


def kobo_books(path: Path, labels: Mapping[str, str] | None = None) -> Path:
    (path / "kobo").mkdir()
    for form, submissions in FORMS.items():
        tables = server.kobo_tables({form: submissions}, groups=labels is None, labels=labels)
        server.write_book(path / "kobo" / f"{form}.xlsx", tables)
    return path / "kobo"


def kobo_labels(path: Path) -> Path:
    """Headers and answers by their labels; two of them stand in several forms and mean the same."""
    labels, words = {}, {}
    for name in ("visit", "check", "capture"):
        form = make_form(name)
        for q in form.questions:
            labels[q.name] = q.label or q.name
            if q.type == "select_one" and q.choices != "sites":
                words[q.name] = {c.name: c.label for c in form.lists[q.choices]}
    told = {
        form: [
            {
                **{k: words.get(k, {}).get(v, v) if isinstance(v, str) else v for k, v in s.items()},
                "animals": [{k: words.get(k, {}).get(v, v) for k, v in a.items()} for a in s.get("animals", [])],
                "nontargets": [{k: words.get(k, {}).get(v, v) for k, v in a.items()} for a in s.get("nontargets", [])],
            }
            for s in submissions
        ]
        for form, submissions in FORMS.items()
    }
    (path / "labels").mkdir()
    for form, submissions in told.items():
        server.write_book(path / "labels" / f"{form}.xlsx", server.kobo_tables({form: submissions}, labels=labels))
    return path / "labels"


LAYOUTS: Mapping[str, Callable[[Path], Path]] = {
    "hyphens, zip": central, "hyphens, groups, zip": lambda p: central(p, groups=True),
    "hyphens, folder with photographs": central_folder, "hyphens, a folder of zips, byte order marks": three_zips,
    "slashes, semicolons, zip": lambda p: kobo_zip(p, groups=False),
    "slashes, groups, semicolons, zip": lambda p: kobo_zip(p, groups=True), "slashes, workbooks": kobo_books,
    "labels, workbooks": kobo_labels,
}  # fmt: skip


@pytest.fixture
def by_hand(tmp_path: Path) -> Log:
    path = tmp_path / "by_hand.csv"
    path.write_text(BY_HAND, encoding="utf-8")
    return read(path)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_forms_give_the_log_that_a_hand_writes(tmp_path: Path, by_hand: Log, layout: str) -> None:
    found = read(LAYOUTS[layout](tmp_path), sites=SITES)
    assert isinstance(found, FormLog) and not isinstance(by_hand, FormLog)
    assert (found.problems, by_hand.problems) == ((), ())
    assert [bare(r) for r in found.rows] == [bare(r) for r in by_hand.rows]
    ours, theirs = make_book(found, DAY), make_book(by_hand, DAY)
    assert sum_effort(ours) == sum_effort(theirs)
    assert sum_effort(ours).hours == 32.5 and sum_effort(ours).bait_kg == pytest.approx(80 * 0.45359237)
    assert sum_captures(ours) == sum_captures(theirs)
    assert sum_captures(ours).by_class == {"boar": 1, "sow": 2, "yearling": 1, "piglet": 5, "total": 9}
    first = sum_captures(ours).nights[0]
    assert (first.minutes_to_approach, first.minutes_to_finish, first.days_from_bait) == (70.0, 125.0, 10.0)
    assert str(find_rates(sum_effort(ours), sum_captures(ours))) == str(
        find_rates(sum_effort(theirs), sum_captures(theirs))
    )
    groups = [settle_groups(b, counts_in_log(b)).groups for b in (ours, theirs)]
    assert [(g.group, g.known, g.missing) for g in groups[0]] == [(g.group, g.known, g.missing) for g in groups[1]]
    now = dt.datetime(2026, 11, 21, 9)
    clocks = [check_clock(b, CheckOptions(), now) for b in (ours, theirs)]
    assert clocks[0].unchecked == clocks[1].unchecked
    assert [(g.least_hours, g.most_hours) for g in clocks[0].gaps] == [
        (g.least_hours, g.most_hours) for g in clocks[1].gaps
    ]


def bare(row: LogRow) -> str:
    """A row as text without its number and its note, so that nothing is nothing wherever it stands."""
    return str(replace(row, row=0, note=""))


@pytest.mark.parametrize("layout", LAYOUTS)
def test_coordinates_survive_to_the_last_figure(tmp_path: Path, layout: str) -> None:
    """Seven decimals of a degree are a centimetre."""
    found = read(LAYOUTS[layout](tmp_path), sites=SITES)
    back = Transformer.from_crs(CRS, 4326, always_xy=True)
    places = [back.transform(r.x_m, r.y_m) for r in found.rows if r.has_place]
    assert len(places) == 3
    for (lon, lat), (want_lon, want_lat) in zip(
        places, [(-92.7128361, 36.2028401), (-92.6842207, 36.1864969), (-92.7, 36.19)], strict=True
    ):
        assert abs(lon - want_lon) < 1e-7 and abs(lat - want_lat) < 1e-7


def test_two_states_of_one_day_keep_the_order_in_which_they_were_entered(tmp_path: Path) -> None:
    """That server puts the newest first; the last state of a day is the one that holds."""
    found = read(central(tmp_path))
    states = [r.event for r in found.rows if r.night == dt.date(2026, 11, 10)]
    assert states == ["open", "armed"]
    assert make_book(found, DAY).nights("armed") == 2 + 8


def test_two_phones_in_two_zones_keep_the_order_of_the_moments(tmp_path: Path) -> None:
    """17:00 at -05:00 is before 16:30 at -06:00."""
    visits = [{**VISITS[3], "start": "2026-11-10T17:00:00.000-05:00"}, VISITS[4]]
    assert [r.event for r in read(central(tmp_path, {"visit": visits})).rows] == ["open", "armed"]


def test_submissions_without_a_start_are_ordered_by_when_they_were_sent(tmp_path: Path) -> None:
    """One server writes that moment with a zone, the other without."""
    visits = [{**v, "start": ""} for v in VISITS[3:5]]
    tables = server.central_tables({"visit": visits[1:]})
    tables["boscage_visit.csv"][1][0] = "2026-11-10T23:00:00.000Z"
    folder = server.write_folder(tmp_path / "a", {n: server.csv_bytes(t) for n, t in tables.items()})
    book = server.kobo_tables({"visit": visits[:1]})
    book["visit"][1][book["visit"][0].index("_submission_time")] = "2026-11-10T22:00:00"
    server.write_book(folder / "visit.xlsx", book)
    assert [r.event for r in read(folder).rows] == ["open", "armed"]
    book["visit"][1][book["visit"][0].index("_submission_time")] = "2026-11-10T23:30:00"
    server.write_book(folder / "visit.xlsx", book)
    assert [r.event for r in read(folder).rows] == ["armed", "open"]


def test_what_the_log_has_no_column_for_goes_into_the_note(tmp_path: Path) -> None:
    notes = {(r.night.day, r.event, r.animal): r.note for r in read(central(tmp_path)).rows}
    assert notes[1, "prebait", ""] == (
        "sign: rooting B; 3 days since rain; trees sound; test stake: 14 blows to 24 in; photo 1730500.jpg"
    )
    assert notes[2, "prebait", ""] == "bait left: 5 lb; größere Rotte; 3 m"
    assert notes[11, "check", ""] == ("found down; animals in the set; next check due 2026-11-12 12:00, taken on")
    assert notes[11, "capture", "A-1"] == "141 lb (scale); notch, left ear; whole group but four"
    assert notes[11, "capture", "A-2"] == ""


def test_rows_know_where_they_come_from(tmp_path: Path) -> None:
    found = read(central(tmp_path))
    assert isinstance(found, FormLog)
    assert [found.origins[r.row] for r in found.rows][:2] == ["boscage_visit.csv, row 8", "boscage_visit.csv, row 7"]
    sow = next(r for r in found.rows if r.animal == "A-1")
    assert found.origins[sow.row] == "boscage_capture-animals.csv, row 2"
    assert not any("not read" in n for n in read(central_folder(tmp_path)).notes)
    assert found.notes[0] == "16 rows" and "boscage_visit.csv (visit): 8 rows" in found.notes


@pytest.mark.parametrize(
    ("arrived", "night", "time"),
    [
        ("2026-11-12T03:10:00.000-06:00", 11, dt.time(3, 10)),
        ("2026-11-12T11:59:59.999-06:00", 11, dt.time(11, 59)),
        ("2026-11-12T12:00:00.000-06:00", 12, dt.time(12)),
        ("2026-11-12T00:00:00.000-06:00", 11, dt.time(0)),
        ("2026-11-12T23:59:00.000-06:00", 12, dt.time(23, 59)),
        ("2026-11-12T03:10:00", 11, dt.time(3, 10)),
        ("2026-11-12 03:10", 11, dt.time(3, 10)),
        ("2026-11-12T03:10:00-06", 11, dt.time(3, 10)),
        ("2026-11-12T03:10:00.000-0600", 11, dt.time(3, 10)),
    ],
)
def test_a_night_ends_at_noon(tmp_path: Path, arrived: str, night: int, time: dt.time) -> None:
    """Midnight is a time like any other here: a form writes no bare days that way."""
    visit = sent(1, "DH-01", "2026-11-01T10:00", date="2026-11-01", state="armed")
    check = sent(2, "DH-01", "2026-11-12T13:00", arrived=arrived, found="armed", inside="no")
    found = read(central(tmp_path, {"visit": [visit], "check": [check]}))
    assert found.problems == ()
    assert (found.rows[1].night, found.rows[1].time) == (dt.date(2026, 11, night), time)


def captured(tmp_path: Path, **facts: Any) -> tuple[list[str], list[LogRow]]:
    """What a capture with other answers gives: problems, and the rows that are captures."""
    one = sent(21, "DH-01", "2026-11-12T14:00", **{
        "night": "2026-11-11", "nontarget": "no", "hours": "2",
        "animals": [{"class": "sow", "count": "1", "injury": "none", "fate": "killed"}], **facts,
    })  # fmt: skip
    found = read(central(tmp_path, {"visit": [VISITS[0]], "capture": [one]}), sites=SITES)
    return [p.text for p in found.problems], [r for r in found.rows if r.event != "prebait"]


def test_a_capture_at_ten_past_three_on_the_12th_is_of_the_night_of_the_11th(tmp_path: Path) -> None:
    said, rows = captured(tmp_path, night="2026-11-12", closed=at("2026-11-12T03:10"))
    assert [r.night for r in rows] == [dt.date(2026, 11, 11)] and rows[0].closed == dt.time(3, 10)
    assert said == [
        "boscage_capture.csv, row 1: the night is 2026-11-12, and the net came down on 2026-11-12 at 03:10, in the "
        "night of 2026-11-11, since a night runs from noon of its date to the next noon; taken as 2026-11-11; correct "
        "one of the two."
    ]


@pytest.mark.parametrize(
    ("closed", "is_listed"), [("2026-11-11T12:00", False), ("2026-11-12T11:59", False), ("2026-11-12T12:00", True),
                              ("2026-11-11T11:59", True)],
)  # fmt: skip
def test_the_limit_of_a_capture_night_is_noon(tmp_path: Path, closed: str, is_listed: bool) -> None:
    said, rows = captured(tmp_path, closed=at(closed))
    assert bool(said) == is_listed
    assert (rows[0].night == dt.date(2026, 11, 11)) != is_listed


def test_a_capture_without_a_night_has_that_of_the_time_the_net_came_down(tmp_path: Path) -> None:
    said, rows = captured(tmp_path, night="", closed=at("2026-11-12T03:10"))
    assert said == [] and rows[0].night == dt.date(2026, 11, 11)


@pytest.mark.parametrize(
    ("times", "said", "kept"),
    [
        ({"closed": "2026-11-11T22:40", "approached": "2026-11-11T22:30"},
         "approached is 2026-11-11 22:30 and closed is 2026-11-11 22:40; expected it later", (22, None, None)),
        ({"closed": "2026-11-11T22:40", "approached": "2026-11-12T22:40"}, "and within a day", (22, None, None)),
        ({"closed": "2026-11-11T22:40", "approached": "2026-11-11T22:30", "finished": "2026-11-11T23:30"},
         "approached is taken as not written down", (22, None, 23)),
        ({"closed": "2026-11-11T22:40", "approached": "2026-11-12T23:00", "finished": "2026-11-11T23:30"},
         "approached is 2026-11-12 23:00", (22, None, 23)),
        ({"approached": "2026-11-12T01:00", "finished": "2026-11-12T00:30"}, "finished is 2026-11-12 00:30",
         (None, 1, None)),
    ],
)  # fmt: skip
def test_times_out_of_order_are_listed_and_not_used(
    tmp_path: Path, times: dict[str, str], said: str, kept: tuple[int | None, ...]
) -> None:
    found, rows = captured(tmp_path, **{n: at(t) for n, t in times.items()})
    assert len(found) == 1 and said in found[0]
    hours = [None if t is None else t.hour for t in (rows[0].closed, rows[0].approached, rows[0].finished)]
    assert tuple(hours) == kept


def test_a_time_that_is_none_is_listed_and_not_used(tmp_path: Path) -> None:
    found, rows = captured(tmp_path, approached="about midnight")
    assert rows[0].approached is None
    assert "approached is 'about midnight'; expected a date and a time such as 2026-11-11T22:40" in found[0]


def test_hours_of_a_capture_count_once(tmp_path: Path) -> None:
    """They go to the first animal that will count, so that an animal set aside does not take them along."""
    animals = [
        {"class": "hog", "count": "1", "injury": "none", "fate": "killed"},
        {"class": "sow", "count": "2", "injury": "none", "fate": "killed"},
        {"class": "boar", "count": "1", "injury": "none", "fate": "killed"},
    ]
    said, rows = captured(tmp_path, animals=animals)
    assert [(r.counts, r.hours) for r in rows] == [((0, 2, 0, 0), 2.0), ((1, 0, 0, 0), 0.0)]
    assert said == [
        "boscage_capture-animals.csv, row 1: the class is 'hog'; expected one of boar, sow, yearling, piglet; the row "
        "is not counted until it is mended."
    ]


def test_counts_by_class_in_the_capture_itself(tmp_path: Path) -> None:
    table = server.central_tables({"visit": [VISITS[0]], "capture": [{**CAPTURES[1], "animals": []}]})
    head, *body = table["boscage_capture.csv"]
    counted = {**table, "boscage_capture.csv": [[*head, "sow", "piglet"], [*body[0], "2", "5"]]}
    del counted["boscage_capture-animals.csv"], counted["boscage_capture-nontargets.csv"]
    found = read(server.write_zip(tmp_path / "a.zip", {n: server.csv_bytes(t) for n, t in counted.items()}))
    assert [(r.counts, r.hours) for r in found.rows if r.event == "capture"] == [((0, 2, 0, 5), 3.0)]
    assert found.problems == ()


def test_animals_by_class_and_one_by_one_are_not_counted_twice(tmp_path: Path) -> None:
    table = server.central_tables({"visit": [VISITS[0]], "capture": [CAPTURES[1]]})
    head, *body = table["boscage_capture.csv"]
    table["boscage_capture.csv"] = [[*head, "boar"], [*body[0], "1"]]
    found = read(server.write_zip(tmp_path / "a.zip", {n: server.csv_bytes(t) for n, t in table.items()}))
    assert sum(r.animals for r in found.rows) == 1
    assert "counted by class and one by one; those by class are not used" in found.problems[0].text


@pytest.mark.parametrize(
    ("form", "change", "said", "animals"),
    [
        ("visit", {"date": "2026-12-01"}, "the date 2026-12-01 is after 2026-11-21, the day of the plan", 0),
        ("visit", {"date": "11/01/2026"}, "the date is '11/01/2026'; expected the evening date", 0),
        ("visit", {"state": "aremd"}, "the state is 'aremd'; expected one of prebait, open, armed, pulled, none", 0),
        ("visit", {"state": ""}, "the state is ''", 0),
        ("visit", {"site": "DH_09", "site_name": ""}, "the site is 'DH_09', which is none of the sites of the plan", 0),
        ("visit", {"site": "other", "site_name": ""}, "the place is on no list and has no name", 0),
        ("visit", {"site": "", "site_name": ""}, "the submission holds no site", 0),
        ("visit", {"site": "", "site_name": "", "Status": "not decrypted"}, "holds no site (not decrypted)", 0),
        ("visit", {"ReviewState": "rejected"}, "refused on the server (ReviewState is rejected)", 0),
        ("visit", {"state": "none"}, "3.5 hours, 50 lb of bait at a place without a set", 0),
        ("check", {"arrived": ""}, "arrived is ''; expected a date and a time such as 2026-11-12T06:30", 0),
        ("check", {"arrived": at("2026-11-22T12:30")}, "the date 2026-11-22 is after 2026-11-21", 0),
        ("check", {"arrived": "2026-11-09T12:30:00.000Z"}, "it is written at +00:00, 6 hours off the time of the", 0),
        ("capture", {"night": "yesterday", "closed": ""}, "the night is 'yesterday'; expected its evening date", 8),
        ("capture", {"night": "2026-11-30", "closed": "", "approached": "", "finished": ""},
         "the date 2026-11-30 is after 2026-11-21", 8),
        ("capture", {"site": "nowhere", "site_name": ""}, "the site is 'nowhere', which is none of the sites", 8),
        ("capture", {"ReviewState": "rejected"}, "8 animals and 1 of other species go with it", 8),
        ("capture", {"animals": [], "nontarget": "no", "nontargets": []}, "the capture holds no animal", 0),
    ],
)  # fmt: skip
def test_what_cannot_be_counted_is_set_aside_and_listed(
    tmp_path: Path, form: str, change: dict[str, Any], said: str, animals: int
) -> None:
    forms = {**FORMS, form: [{**FORMS[form][0], **change}, *FORMS[form][1:]]}
    found = read(central(tmp_path, forms), sites=SITES)
    aside = [p for p in found.problems if not p.counted]
    assert aside and any(said in p.text for p in aside)
    assert all(p.text.startswith("boscage_") and p.text.endswith("not counted until it is mended.") for p in aside)
    assert sum(p.animals for p in aside) == animals
    assert not {p.row for p in aside} & {r.row for r in found.rows}


@pytest.mark.parametrize(
    ("form", "change", "said"),
    [
        ("visit", {"site_name": "DH-09"}, "the site is DH-09, which is none of the sites of the plan"),
        ("visit", {"hours": "long"}, "hours is 'long'; expected a number from 0 to 500"),
        ("visit", {"place": "west of the creek"}, "lon is 'of' and lat is 'west'; expected two decimal numbers"),
        ("check", {"inside": "yes"}, "there is no capture at DH-01 on the night of 2026-11-08; fill in the capture"),
        ("capture", {"nontargets": []}, "another species was in the set, and no table says which"),
        ("capture", {"closed": "2026-11-12T05:10:00.000Z"}, "closed is '2026-11-12T05:10:00.000Z'; it is written at"),
    ],
)
def test_smaller_faults_are_listed_and_the_row_counts(
    tmp_path: Path, form: str, change: dict[str, Any], said: str
) -> None:
    forms = {**FORMS, form: [{**FORMS[form][0], **change}, *FORMS[form][1:]]}
    found = read(kobo_one(tmp_path, forms) if "place" in change else central(tmp_path, forms), sites=SITES)
    assert all(p.counted for p in found.problems) and any(said in p.text for p in found.problems)
    assert len(found.rows) >= 15


def kobo_one(tmp_path: Path, forms: Mapping[str, Any]) -> Path:
    return server.write_book(tmp_path / "one.xlsx", server.kobo_tables(forms))


def test_a_visit_without_a_set_is_told_and_is_no_row(tmp_path: Path) -> None:
    scouting = sent(9, "7 Oaks", "2026-11-03T10:00", date="2026-11-03", who="operator", sign="wallow", state="none")
    found = read(central(tmp_path, {**FORMS, "visit": [*VISITS, scouting]}), sites=SITES)
    assert found.problems == () and "7 Oaks" not in {r.site for r in found.rows}
    assert "visits to places without a set, which are no rows of a log: boscage_visit.csv, row 7" in found.notes


def test_another_species_alone(tmp_path: Path) -> None:
    deer = [{"species": "white-tailed deer", "other_fate": "hurt"}]
    said, rows = captured(tmp_path, animals=[], nontarget="yes", nontargets=deer)
    assert said == []
    assert [(r.event, r.species, r.fate, r.hours) for r in rows] == [("nontarget", "white-tailed deer", "hurt", 2.0)]


def test_a_submission_twice_in_one_table(tmp_path: Path) -> None:
    found = read(central(tmp_path, {**FORMS, "check": [CHECKS[0], CHECKS[0], CHECKS[1]]}))
    (problem,) = found.problems
    assert (problem.counted, problem.animals) == (False, 0)
    assert "boscage_check.csv, row 3: the same submission as boscage_check.csv, row 2; take the older" in problem.text


def test_two_exports_of_one_server_count_once(tmp_path: Path) -> None:
    """An older export beside a newer one: every submission of the older is listed, with its animals."""
    folder = tmp_path / "all"
    folder.mkdir()
    tables = {n: server.csv_bytes(t) for n, t in server.central_tables({"capture": CAPTURES}).items()}
    server.write_zip(folder / "monday.zip", tables)
    edited = [{**CAPTURES[0], "note": "put right"}, CAPTURES[1]]
    tables = {n: server.csv_bytes(t) for n, t in server.central_tables({"capture": edited}).items()}
    server.write_zip(folder / "tuesday.zip", tables)
    found = read(folder)
    assert sum(r.animals for r in found.rows) == 9
    assert sorted((p.counted, p.animals) for p in found.problems) == [(False, 1), (False, 8)]
    text = " ".join(p.text for p in found.problems)
    assert "the same submission as monday.zip, boscage_capture.csv, row 2, with other answers" in text
    assert "8 animals and 1 of other species go with it" in text


def test_a_submission_from_both_servers_counts_once(tmp_path: Path) -> None:
    folder = tmp_path / "all"
    folder.mkdir()
    central(folder)
    server.write_book(folder / "capture.xlsx", server.kobo_tables({"capture": CAPTURES}))
    assert sum(r.animals for r in read(folder).rows) == 9


def test_an_animal_twice_and_one_that_hangs_on_nothing(tmp_path: Path) -> None:
    tables = server.central_tables(FORMS)
    animals = tables["boscage_capture-animals.csv"]
    lost = [*animals[4][:-2], "uuid:nobody", "uuid:nobody/animals[1]"]
    alone = [*animals[4][:-2], "", ""]
    tables["boscage_capture-animals.csv"] = [*animals, animals[4], lost, alone]
    found = read(server.write_zip(tmp_path / "a.zip", {n: server.csv_bytes(t) for n, t in tables.items()}))
    assert sum(r.animals for r in found.rows) == 9
    assert [(p.counted, p.animals) for p in found.problems] == [(False, 5)] * 3
    said = [p.text for p in found.problems]
    assert "boscage_capture-animals.csv, row 6: the same animal as boscage_capture-animals.csv, row 4 (KEY" in said[0]
    assert "row 7: PARENT_KEY is uuid:nobody, and there is no such capture; export all tables together" in said[1]
    assert "row 8: none of PARENT_KEY" in said[2]


def test_a_table_that_is_missing(tmp_path: Path) -> None:
    tables = {n: server.csv_bytes(t) for n, t in server.central_tables(FORMS).items()}
    alone = server.write_folder(tmp_path / "a", {"boscage_capture.csv": tables["boscage_capture.csv"]})
    with pytest.raises(LayerError) as caught:
        read(alone / "boscage_capture.csv")
    assert str(caught.value) == (
        "boscage_capture.csv, layer log: boscage_capture.csv holds captures, and no table of their animals is beside "
        "it; expected the table of the repeat animals too; name the folder, the zip or the workbook with all."
    )
    name = "boscage_capture-animals.csv"
    with pytest.raises(LayerError, match=f"{name} holds the animals of captures, and no table of captures is beside"):
        read(server.write_folder(tmp_path / "b", {name: tables[name]}))


def test_a_single_table_without_repeats_is_enough(tmp_path: Path) -> None:
    tables = {n: server.csv_bytes(t) for n, t in server.central_tables(FORMS).items()}
    folder = server.write_folder(tmp_path / "a", tables)
    assert len(read(folder / "boscage_visit.csv").rows) == 8


def test_a_file_named_zip_or_workbook_that_is_none(tmp_path: Path) -> None:
    for name, said in (("a.zip", "the file is no zip"), ("a.xlsx", "the file is no workbook that can be opened")):
        (tmp_path / name).write_bytes(b"PK or not")
        with pytest.raises(LayerError, match=f"^{name}, layer log: {said}; "):
            read(tmp_path / name)
    inner = server.write_folder(tmp_path / "b", {"c.zip": b"no zip", "d.csv": b"a,b\n1,2\n"})
    with pytest.raises(LayerError, match=r"^b, c\.zip, layer log: the file is no zip"):
        read(inner)


def test_a_zip_that_is_damaged_inside(tmp_path: Path) -> None:
    path = central(tmp_path)
    data = path.read_bytes()
    path.write_bytes(data.replace(b"SubmissionDate", b"SubmissionDusk", 1))
    with pytest.raises(
        LayerError, match=r"^central\.zip, boscage_\w+\.csv, layer log: the table cannot be unpacked; unp"
    ):
        read(path)


@pytest.mark.parametrize("single", [True, False])
def test_columns_separated_by_another_mark(tmp_path: Path, single: bool) -> None:
    table = server.csv_bytes(server.central_tables({"check": CHECKS})["boscage_check.csv"], delimiter="|")
    folder = server.write_folder(tmp_path / "a", {"check.csv": table})
    with pytest.raises(LayerError, match=r"check\.csv, layer log: the first line is a single column; expected columns"):
        read(folder / "check.csv" if single else folder)


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_columns_separated_by_a_common_mark(tmp_path: Path, delimiter: str) -> None:
    table = server.csv_bytes(server.central_tables({"check": CHECKS})["boscage_check.csv"], delimiter=delimiter)
    path = server.write_folder(tmp_path, {"check.csv": table}) / "check.csv"
    assert [r.event for r in read(path).rows] == ["check", "check"]


def test_a_table_whose_rows_cannot_be_told_apart(tmp_path: Path) -> None:
    head, *body = server.central_tables({"check": CHECKS})["boscage_check.csv"]
    keys = [i for i, c in enumerate(head) if c in ("KEY", "meta-instanceID")]
    table = [[c for i, c in enumerate(row) if i not in keys] for row in (head, *body)]
    with pytest.raises(
        LayerError, match=r"the rows of this table \(check\) cannot be told apart; expected a column KEY"
    ):
        read(server.write_folder(tmp_path / "a", {"check.csv": server.csv_bytes(table)}))


def test_two_tables_of_animals_without_keys_in_one_place(tmp_path: Path) -> None:
    tables = server.kobo_tables({"capture": CAPTURES})
    made = {n.replace("/", "_"): server.csv_bytes(t, delimiter=";") for n, t in tables.items()}
    both = {f"{n}{again}.csv": d for n, d in made.items() for again in ("", " (1)")}
    with pytest.raises(LayerError, match="lie in one place, and their rows cannot be told apart"):
        read(server.write_folder(tmp_path / "a", both))
    apart = {f"{again}/{n}.csv": d for n, d in made.items() for again in ("old", "new")}
    found = read(server.write_folder(tmp_path / "b", apart))
    assert sum(r.animals for r in found.rows) == 9 and sum(p.animals for p in found.problems) == 9


def test_an_animal_that_several_captures_could_be_the_parent_of(tmp_path: Path) -> None:
    tables = server.kobo_tables({"capture": CAPTURES})
    others = server.kobo_tables({"capture": [{**c, "KEY": f"{c['KEY']}0"} for c in CAPTURES]})
    animals = [row[:-2] for row in tables["capture/animals"]]
    made = {"a.csv": tables["capture"], "b.csv": others["capture"], "c.csv": animals}
    found = read(server.write_folder(tmp_path / "a", {n: server.csv_bytes(t, delimiter=";") for n, t in made.items()}))
    said = [p for p in found.problems if "which several captures are; keep each export in a folder" in p.text]
    assert [p.animals for p in said] == [1, 1, 5, 1, 1] and not any(r.animals for r in found.rows)


def test_a_strange_site_is_asked_about_once(tmp_path: Path) -> None:
    visits = [{**v, "site_name": "DH-09"} for v in VISITS[2:5]]
    found = read(central(tmp_path, {"visit": visits}), sites=SITES)
    assert len(found.problems) == 1 and {r.site for r in found.rows} == {"DH-09"}


def test_a_folder_without_forms_and_one_with_a_log(tmp_path: Path) -> None:
    folder = server.write_folder(tmp_path / "a", {"trees.csv": b"stem,dbh_in\n1,12\n"})
    with pytest.raises(LayerError, match=r"^a, layer log: there is no table of the forms \(there are trees\.csv\)"):
        read(folder)
    central(folder, zipped=False)
    assert "tables of no form, not read: trees.csv" in read(folder).notes
    (folder / "log.csv").write_text("date,site,event\n2026-11-01,A,armed\n")
    with pytest.raises(
        LayerError, match=r"a, log\.csv, layer log: this is a log, and none of the forms; keep it apart"
    ):
        read(folder)


def test_a_log_is_still_a_log(tmp_path: Path) -> None:
    """Even with a column of keys and one named night."""
    path = tmp_path / "log.csv"
    path.write_text("_id,night,site,event\n1,2026-11-01,A,armed\n")
    found = read(path)
    assert not isinstance(found, FormLog) and found.rows[0].event == "armed"


def test_a_row_with_more_cells_than_columns(tmp_path: Path) -> None:
    table = server.csv_bytes(server.central_tables({"check": CHECKS})["boscage_check.csv"])
    folder = server.write_folder(tmp_path / "a", {"check.csv": table.replace(b"\r\n", b",more\r\n").replace(
        b",more\r\n", b"\r\n", 1)})  # fmt: skip
    with pytest.raises(LayerError, match=r"a, check\.csv, layer log, row 1: the row has \d+ cells and the first line"):
        read(folder)


def test_sites_by_their_codes(tmp_path: Path) -> None:
    """Without the column that gives the name, the plan's sites tell it; without these the code stands, and is told."""
    visits = [{**v, "site_name": ""} for v in VISITS[:2]]
    path = central(tmp_path, {"visit": visits})
    assert [r.site for r in read(path, sites=SITES).rows] == SITES[:2]
    bare_codes = read(path)
    assert [r.site for r in bare_codes.rows] == ["DH_01", "Ode_Wiese_2"] and bare_codes.problems == ()
    assert "sites by the codes of the form, since nothing gives their names: DH_01, Ode_Wiese_2" in bare_codes.notes


def test_times_become_those_of_the_plans_zone(tmp_path: Path) -> None:
    """12:10 UTC in November is 06:10 in Chicago, so it is of the evening before."""
    visit = sent(1, "DH-01", "2026-11-01T10:00", date="2026-11-01", state="armed")
    check = sent(2, "DH-01", "2026-11-12T13:00", arrived="2026-11-12T12:10:00.000Z", found="armed", inside="no")
    found = read(central(tmp_path, {"visit": [visit], "check": [check]}), zone="America/Chicago")
    assert found.problems == ()
    assert (found.rows[1].night, found.rows[1].time) == (dt.date(2026, 11, 11), dt.time(6, 10))


def test_kilograms_stay_kilograms(tmp_path: Path) -> None:
    head, *body = server.central_tables({"visit": VISITS})["boscage_visit.csv"]
    metric = [[c.replace("bait_out_lb", "bait_out_kg") for c in head], *body]
    found = read(server.write_folder(tmp_path / "a", {"visit.csv": server.csv_bytes(metric)}) / "visit.csv")
    assert found.rows[0].bait_kg == 50.0 and math.isnan(found.rows[2].bait_kg)
