"""Form workbooks: what they ask, the same bytes twice, names as they are, and no question after a person's name."""

from __future__ import annotations

import datetime as dt
import re
import time
import zipfile
from pathlib import Path

import pytest
from openpyxl import load_workbook

from boscage.errors import InputError
from boscage.exports.forms import LONG_LIST, write_form
from boscage.ledger.book import MOVED_M
from boscage.model.form_questions import ACCURACY_M, FORMS, WORST_ACCURACY_M, make_form
from boscage.model.forms import Form, Question, Repeat, site_codes
from boscage.model.ledger import ANIMAL_CLASSES, CHANGES
from boscage.readers.form_times import MOST_APART_HOURS

DATE = dt.date(2026, 11, 21)
ODD = ["DH-01", "DH 01", "dh_01", "7 Éclaté", "Зимник", "=SUM(A1)", 'a & b <c> "q"', "2026", "other", "  two  blanks"]
ASKED = {
    "visit": {"date", "site", "who", "place", "sign", "sign_age", "rain_days", "trees_sound", "stake_blows", "state",
              "hours", "photo", "note"},
    "check": {"site", "arrived", "found", "inside", "next_due", "staffed", "hours", "note"},
    "capture": {"site", "group", "known", "night", "closed", "approached", "finished", "observers", "class", "sex",
                "weighed", "marks", "injury", "fate", "samples", "nontarget", "species", "other_fate"},
}  # fmt: skip
FORM_AND_UNITS = [(name, units) for name in FORMS for units in ("us", "metric")]


def rows(path: Path, sheet: str) -> list[dict[str, str]]:
    head, *body = load_workbook(path)[sheet].iter_rows(values_only=True)
    return [{h: c or "" for h, c in zip(head, row, strict=True)} for row in body]


@pytest.mark.parametrize(("name", "units"), FORM_AND_UNITS)
def test_what_the_trade_needs_is_asked(name: str, units: str) -> None:
    form = make_form(name, units)
    names = {q.name for q in form.questions}
    assert ASKED[name] <= names
    mass = "lb" if units == "us" else "kg"
    more = {"visit": {f"bait_out_{mass}", f"bait_left_{mass}"}, "check": set(), "capture": {f"weight_{mass}"}}
    assert more[name] <= names
    assert any(q.type == "note" and q.name == "caution" for q in form.questions)


@pytest.mark.parametrize(("name", "units"), FORM_AND_UNITS)
def test_units_stand_in_the_labels(name: str, units: str) -> None:
    text = " ".join(f"{q.label} {q.hint}" for q in make_form(name, units).questions)
    text += " ".join(c.label for listed in make_form(name, units).lists.values() for c in listed)
    wrong = r"\d (kg|cm|mm)\b|, (kg|cm)\b" if units == "us" else r"\b(lb|inch|ft)\b|\d in\b"
    assert not re.search(wrong, text)
    right = {"us": r", (lb|in)\b", "metric": r", (kg|cm)\b"}[units]
    assert name == "check" or re.search(right, text)


@pytest.mark.parametrize("name", FORMS)
def test_nobody_is_asked_for_a_name(name: str) -> None:
    form = make_form(name)
    assert not [q.type for q in form.questions if q.type in ("username", "phonenumber", "deviceid", "email")]
    for question in form.questions:
        about = re.search(
            r"\b(your|person's|observer's|operator's) name\b|signature", f"{question.label}", re.IGNORECASE
        )
        assert about is None, question.label
    who = [q for q in form.questions if q.name in ("who", "observers")]
    assert all(q.type == "select_multiple" and q.choices == "roles" for q in who)


def test_the_words_are_those_of_the_log() -> None:
    capture, visit = make_form("capture"), make_form("visit")
    assert tuple(c.name for c in capture.lists["classes"]) == ANIMAL_CLASSES
    assert {c.name for c in visit.lists["left"]} == {*CHANGES, "none"}
    assert [c.name for c in visit.lists["ages"]] == ["A", "B", "C", "D"]


def test_the_night_convention_is_said_where_the_night_is_asked() -> None:
    night = next(q for q in make_form("capture").questions if q.name == "night")
    assert "date of its evening" in night.hint and "03:10 on the 12th belongs to the night of the 11th" in night.hint
    assert night.required and night.constraint == ". <= today()"


def test_cautions_give_way_to_the_law() -> None:
    for name in FORMS:
        caution = next(q for q in make_form(name).questions if q.name == "caution").label
        assert "law of the place" in caution
    capture = " ".join(q.label for q in make_form("capture").questions if q.type == "note")
    for words in ("gloves", "eye protection", "One approach only", "no shot through the mesh", "animal-health office"):
        assert words in capture
    every = " ".join(f"{q.label} {q.hint}" for n in FORMS for q in make_form(n).questions)
    assert not re.search(r"\b(safe|clear)\b", every, re.IGNORECASE)


def test_a_label_means_one_question() -> None:
    """A server may export labels in place of names."""
    seen: dict[str, str] = {}
    for name in FORMS:
        for q in make_form(name).questions:
            if q.type != "note" and q.label:
                assert seen.setdefault(q.label, q.name) == q.name
    for name in FORMS:
        for listed in make_form(name).lists.values():
            assert len({c.label for c in listed}) == len(listed) == len({c.name for c in listed})


def test_a_form_with_a_question_after_nothing_is_refused() -> None:
    ask = Question(type="text", name="a", label="A")
    facts = {"name": "x", "title": "X", "lists": {}}
    for wrong in (
        (ask, ask), (Question(type="text", name="b", relevant="${c} = 1"),),
        (Question(type="select_one", name="b", choices="none"),), (Question(type="text", name="B"),),
        (ask, Repeat(name="a", label="A", questions=())),
    ):  # fmt: skip
        with pytest.raises(AssertionError):
            Form(items=wrong, **facts)  # type: ignore[arg-type]


def test_codes_of_sites_are_plain_and_all_different() -> None:
    codes = site_codes(ODD)
    assert codes[:5] == ("DH_01", "DH_01_2", "dh_01_3", "s_7_Eclate", "site")
    assert len({c.lower() for c in codes}) == len(ODD) and "other" not in codes
    assert all(re.fullmatch(r"[A-Za-z][A-Za-z0-9_]*", c) for c in codes)
    assert site_codes(ODD[:4]) == codes[:4], "a site added at the end changes no other"


def test_labels_of_sites_are_as_they_were_given(tmp_path: Path) -> None:
    write_form(tmp_path / "f.xlsx", make_form("check"), ODD, date=DATE)
    listed = [r["label"] for r in rows(tmp_path / "f.xlsx", "choices") if r["list_name"] == "sites"]
    assert listed == [*ODD, "A place that is not on this list"]
    sheet = load_workbook(tmp_path / "f.xlsx")["choices"]
    assert {c.data_type for row in sheet.iter_rows(max_row=12) for c in row if c.value is not None} == {"s"}


@pytest.mark.parametrize(
    ("sites", "said"),
    [
        (["A", " "], "site 2 has no name"),
        (["A", "B", "a"], "site 3 is named 'a', as is one before it"),
        (["${night}"], "site 1 is named '${night}', which a form cannot show"),
        (["A\nB"], "which a form cannot show; expected names that are all different"),
    ],
)
def test_sites_that_a_form_cannot_show(tmp_path: Path, sites: list[str], said: str) -> None:
    with pytest.raises(InputError) as caught:
        write_form(tmp_path / "f.xlsx", make_form("check"), sites, date=DATE)
    assert said in str(caught.value) and not (tmp_path / "f.xlsx").exists()


def test_settings(tmp_path: Path) -> None:
    write_form(tmp_path / "f.xlsx", make_form("visit"), ["A"], date=DATE, ranch="Dunnock  Hollow Ranch", revision=7)
    (settings,) = rows(tmp_path / "f.xlsx", "settings")
    assert settings["form_title"] == "Site visit, Dunnock Hollow Ranch"
    assert (settings["form_id"], settings["version"]) == ("boscage_visit", "2026112107")
    assert load_workbook(tmp_path / "f.xlsx").sheetnames == ["survey", "choices", "settings"]
    for revision in (-1, 100):
        with pytest.raises(InputError, match=f"the revision is {revision}; expected 0 to 99"):
            write_form(tmp_path / "g.xlsx", make_form("visit"), ["A"], date=DATE, revision=revision)


def test_a_long_list_of_sites_is_shown_as_a_field(tmp_path: Path) -> None:
    for count, shown in ((LONG_LIST, ""), (LONG_LIST + 1, "minimal")):
        write_form(tmp_path / "f.xlsx", make_form("check"), [f"S{i}" for i in range(count)], date=DATE)
        by_name = {r["name"]: r["appearance"] for r in rows(tmp_path / "f.xlsx", "survey")}
        assert (by_name["site"], by_name["found"], by_name["note"]) == (shown, "", "multiline")


@pytest.mark.parametrize("name", FORMS)
def test_the_same_form_is_the_same_bytes(tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    write_form(tmp_path / "a.xlsx", make_form(name), ODD, date=DATE)
    first, real = (tmp_path / "a.xlsx").read_bytes(), time.time
    monkeypatch.setattr(time, "time", lambda: real() + 90_000.0)
    time.sleep(1.1)
    write_form(tmp_path / "b.xlsx", make_form(name), ODD, date=DATE)
    assert (tmp_path / "b.xlsx").read_bytes() == first
    write_form(tmp_path / "c.xlsx", make_form(name), ODD, date=DATE + dt.timedelta(days=1))
    assert (tmp_path / "c.xlsx").read_bytes() != first
    with zipfile.ZipFile(tmp_path / "a.xlsx") as pack:
        assert {i.date_time for i in pack.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        core = pack.read("docProps/core.xml").decode()
    assert core.count("2026-11-21T00:00:00Z") == 2 and len(re.findall(r"\d{4}-\d\d-\d\dT", core)) == 2


PAGE = Path(__file__).parents[3] / "docs" / "forms.md"


def test_the_page_says_what_is_asked_and_the_limits_that_hold() -> None:
    page = PAGE.read_text(encoding="utf-8")
    for name, units in FORM_AND_UNITS:
        form = make_form(name, units)
        asked = [q.name for q in form.questions if q.type != "note" or q.name == "note"]
        asked += [i.name for i in form.items if isinstance(i, Repeat)]
        assert [n for n in asked if f"`{n}`" not in page] == []
    for words in (
        f"taken by itself at {ACCURACY_M} m, refused when worse than {WORST_ACCURACY_M} m", f"{MOVED_M:.0f} m apart",
        f"more than {MOST_APART_HOURS} hours from the sun's", "03:10 on the 12th\nbelongs to the night of the 11th",
    ):  # fmt: skip
        assert words in page, words


def test_the_example_of_the_page_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    code = re.search(r"```python\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
    assert code is not None
    plan = '[ranch]\nname = "Dunnock Hollow Ranch"\nunits = "metric"\ndate = 2026-11-21\n'
    (tmp_path / "plan.toml").write_text(f'{plan}[layers]\nparcels = "p.gpkg"\ncanopy_cover = "c.tif"\n')
    monkeypatch.chdir(tmp_path)
    exec(compile(code.group(1), "forms.md", "exec"), {})
    assert sorted(p.name for p in tmp_path.glob("*.xlsx")) == ["capture.xlsx", "check.xlsx", "visit.xlsx"]
    assert "weight_kg" in {r["name"] for r in rows(tmp_path / "capture.xlsx", "survey")}
