"""Form workbooks through the converter that servers use, and filled in by the engine that collecting apps use.

Sources: pyxform (the reference converter of XLSForm), run in this process, and the engine JavaRosa inside the ODK
validator that pyxform brings along, run where Java is installed.
"""

from __future__ import annotations

import datetime as dt
import re
import shutil
import subprocess
import xml.etree.ElementTree as ET
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from pyxform.validators import odk_validate
from pyxform.xls2xform import convert

from boscage.exports.forms import write_form
from boscage.model.form_questions import ACCURACY_M, FORMS, make_form
from boscage.model.forms import SITES, Repeat, site_choices

DATE = dt.date(2026, 11, 21)
ODD = ("DH-01", "DH 01", "dh_01", "7 Éclaté", "Зимник", "=SUM(A1)", 'a & b <c> "q"', "2026", "other")
LISTS = {"one": ("DH-01",), "odd": ODD, "200": tuple(f"Set {i}" for i in range(1, 201)), "none": ()}
FORM_AND_UNITS = [(name, units) for name in FORMS for units in ("us", "metric")]
XF, XH, JR = "{http://www.w3.org/2002/xforms}", "{http://www.w3.org/1999/xhtml}", "{http://openrosa.org/javarosa}"
JAR = Path(odk_validate.ODK_VALIDATE_PATH)
FILLS_IN = Path(__file__).parents[1] / "support" / "Answers.java"
needs_java = pytest.mark.skipif(shutil.which("java") is None or not JAR.exists(), reason="no Java")
needs_jdk = pytest.mark.skipif(shutil.which("javac") is None or not JAR.exists(), reason="no Java development kit")


@pytest.fixture
def converted(tmp_path: Path) -> Callable[..., str]:
    """The XForm of a form; any warning of the converter fails."""

    def make(name: str, units: str = "us", sites: Sequence[str] = ODD) -> str:
        path = tmp_path / "form.xlsx"
        write_form(path, make_form(name, units), sites, date=DATE, ranch="Dunnock Hollow Ranch")
        warnings: list[str] = []
        made = convert(path, warnings=warnings, validate=False)
        assert warnings == []
        return made.xform

    return make


def plain(expression: str) -> str:
    """An expression with every path cut to the name it ends in, and without blanks."""
    text = re.sub(r"\$\{(\w+)\}", r"\1", expression)
    text = re.sub(r"(?:\.\./|/)[\w./]*?(\w+)(?=[\s,)']|$)", r"\1", text)
    return re.sub(r"\s+", "", text)


@pytest.mark.parametrize("sites", LISTS)
@pytest.mark.parametrize(("name", "units"), FORM_AND_UNITS)
def test_every_form_converts_and_its_binds_carry_what_was_asked(
    converted: Callable[..., str], name: str, units: str, sites: str
) -> None:
    root = ET.fromstring(converted(name, units, LISTS[sites]))
    form = make_form(name, units)
    binds = {b.get("nodeset", "").rsplit("/", 1)[1]: b for b in root.iter(f"{XF}bind")}
    for q in form.questions:
        bind = binds[q.name]
        assert plain(bind.get("constraint", "")) == plain(q.constraint), q.name
        assert plain(bind.get("relevant", "")) == plain(q.relevant), q.name
        assert plain(bind.get("calculate", "")) == plain(q.calculation), q.name
        assert (bind.get("required") == "true()") == q.required, q.name
        assert bind.get(f"{JR}constraintMsg", "") == q.message, q.name
    repeats = {r.get("nodeset", "").rsplit("/", 1)[1] for r in root.iter(f"{XF}repeat")}
    assert repeats == {i.name for i in form.items if isinstance(i, Repeat)}


@pytest.mark.parametrize("sites", LISTS)
@pytest.mark.parametrize("name", FORMS)
def test_the_lists_come_through_word_for_word(converted: Callable[..., str], name: str, sites: str) -> None:
    root = ET.fromstring(converted(name, "us", LISTS[sites]))
    wanted = {**make_form(name).lists, SITES: site_choices(LISTS[sites])}
    for instance in root.iter(f"{XF}instance"):
        listed = wanted.pop(instance.get("id", ""), None)
        if listed is not None:
            found = [(i.findtext(f"{XF}name"), i.findtext(f"{XF}label")) for i in instance.iter(f"{XF}item")]
            assert found == [(c.name, c.label) for c in listed]
    assert not wanted


def test_settings_and_parameters(converted: Callable[..., str]) -> None:
    root = ET.fromstring(converted("visit"))
    assert root.findtext(f"{XH}head/{XH}title") == "Site visit, Dunnock Hollow Ranch"
    main = root.find(f"{XH}head/{XF}model/{XF}instance/*")
    assert main is not None
    assert (main.get("id"), main.get("version")) == ("boscage_visit", "2026112100")
    place = next(i for i in root.iter(f"{XF}input") if i.get("ref", "").endswith("/place"))
    assert float(place.get("accuracyThreshold", "0")) == ACCURACY_M
    photo = next(b for b in root.iter(f"{XF}bind") if b.get("nodeset", "").endswith("/photo"))
    assert [v for k, v in photo.attrib.items() if k.endswith("max-pixels")] == ["1600"]


def test_a_broken_expression_would_be_noticed(tmp_path: Path) -> None:
    """The check above rests on `plain`, which must not make unlike things alike."""
    assert plain("${a} = 'x'") == plain(" /data/a = 'x'") == plain(" ../a = 'x'") != plain("${b} = 'x'")
    assert plain(". <= 5") != plain(". <= 6")


@needs_java
@pytest.mark.parametrize(("name", "units"), FORM_AND_UNITS)
def test_the_validator_lets_every_form_pass(
    converted: Callable[..., str], tmp_path: Path, name: str, units: str
) -> None:
    (tmp_path / "form.xml").write_text(converted(name, units), encoding="utf-8")
    assert odk_validate.check_xform(str(tmp_path / "form.xml")) == []


@needs_java
def test_the_validator_would_notice(converted: Callable[..., str], tmp_path: Path) -> None:
    broken = converted("check").replace("decimal-date-time(now())", "decimal-date-time(now()")
    (tmp_path / "form.xml").write_text(broken, encoding="utf-8")
    with pytest.raises(odk_validate.ODKValidateError):
        odk_validate.check_xform(str(tmp_path / "form.xml"))


def fill_in(folder: Path, xform: str, *lines: str) -> list[str]:
    """What the engine says to answers, in a zone of its own."""
    (folder / "form.xml").write_text(xform, encoding="utf-8")
    command = ["java", "-Djava.awt.headless=true", "-Duser.timezone=America/Chicago", "-cp", str(JAR), str(FILLS_IN)]
    done = subprocess.run(
        [*command, str(folder / "form.xml")], input="\n".join(lines), capture_output=True, text=True, check=False,
        encoding="utf-8", timeout=120,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


def at(text: str) -> str:
    return f"{text}:00.000-06:00"


@needs_jdk
def test_a_capture_filled_in(converted: Callable[..., str], tmp_path: Path) -> None:
    asked = [
        ("site DH_01", "site ok"), ("? site_name", "site_name = DH-01"),
        ("night 2999-01-01", "night refused"), ("night 2025-11-11", "night ok"),
        (f"closed {at('2025-11-11T11:59')}", "closed refused"), (f"closed {at('2025-11-11T12:00')}", "closed ok"),
        (f"closed {at('2025-11-12T03:10')}", "closed ok"), (f"closed {at('2025-11-12T11:59')}", "closed ok"),
        (f"closed {at('2025-11-12T12:00')}", "closed refused"), (f"closed {at('2025-11-11T22:40')}", "closed ok"),
        (f"approached {at('2025-11-11T22:39')}", "approached refused"),
        (f"approached {at('2025-11-12T22:40')}", "approached refused"),
        (f"approached {at('2025-11-12T00:15')}", "approached ok"),
        (f"finished {at('2025-11-12T00:14')}", "finished refused"),
        (f"finished {at('2025-11-12T01:30')}", "finished ok"),
        ("known -1", "known refused"), ("known 501", "known refused"), ("known 0", "known ok"),
        ("hours -0.5", "hours refused"), ("hours 7.25", "hours ok"),
        ("class ", "class required"), ("class sow", "class ok"), ("count 0", "count refused"), ("count 2", "count ok"),
        ("weight_lb 140", "weight_lb not asked"), ("count 1", "count ok"), ("weight_lb -3", "weight_lb refused"),
        ("weight_lb 140", "weight_lb ok"), ("weighed ", "weighed required"), ("weighed scale", "weighed ok"),
        ("nontarget no", "nontarget ok"), ("species deer", "species not asked"), ("nontarget yes", "nontarget ok"),
        ("species deer", "species ok"), ("site other", "site ok"), ("site_other ", "site_other required"),
        ("site_other Új hely", "site_other ok"), ("? site_name", "site_name = Új hely"),
    ]  # fmt: skip
    assert fill_in(tmp_path, converted("capture"), *[a for a, _ in asked]) == [said for _, said in asked]


@needs_jdk
def test_a_capture_without_the_time_that_the_net_came_down(converted: Callable[..., str], tmp_path: Path) -> None:
    asked = [
        ("night 2025-11-11", "night ok"), (f"approached {at('2025-11-12T00:15')}", "approached ok"),
        (f"finished {at('2025-11-12T00:14')}", "finished refused"), ("finished ", "finished ok"),
    ]  # fmt: skip
    assert fill_in(tmp_path, converted("capture"), *[a for a, _ in asked]) == [said for _, said in asked]


@needs_jdk
def test_a_visit_filled_in(converted: Callable[..., str], tmp_path: Path) -> None:
    asked = [
        ("date 2999-01-01", "date refused"), ("date 2025-11-11", "date ok"), ("site s_7_Eclate", "site ok"),
        ("? site_name", "site_name = 7 Éclaté"), ("who ", "who required"), ("who crew operator", "who ok"),
        ("place 36.2028401 -92.7128361 214.2 30.1", "place refused"),
        ("place 36.2028401 -92.7128361 214.2 4.6", "place ok"),
        ("sign none", "sign ok"), ("sign_age A", "sign_age not asked"), ("sign rooting", "sign ok"),
        ("sign_age ", "sign_age required"), ("sign_age B", "sign_age ok"), ("rain_days -1", "rain_days refused"),
        ("rain_days 3", "rain_days ok"), ("trees_sound ", "trees_sound ok"),
        ("stake_depth_in 24", "stake_depth_in not asked"), ("stake_blows 14", "stake_blows ok"),
        ("stake_depth_in 24", "stake_depth_in ok"), ("state ", "state required"), ("state armed", "state ok"),
        ("bait_out_lb -1", "bait_out_lb refused"), ("bait_out_lb 0", "bait_out_lb ok"), ("note ", "note ok"),
    ]  # fmt: skip
    assert fill_in(tmp_path, converted("visit"), *[a for a, _ in asked]) == [said for _, said in asked]


@needs_jdk
def test_a_check_filled_in(converted: Callable[..., str], tmp_path: Path) -> None:
    asked = [
        (f"arrived {at('2999-11-12T06:30')}", "arrived refused"), (f"arrived {at('2025-11-12T06:30')}", "arrived ok"),
        ("found armed", "found ok"), ("inside ", "inside required"), ("inside no", "inside ok"),
        ("staffed yes", "staffed not asked"), (f"next_due {at('2025-11-12T06:30')}", "next_due refused"),
        (f"next_due {at('2025-11-12T18:00')}", "next_due ok"), ("staffed ", "staffed required"),
        ("staffed yes", "staffed ok"),
    ]  # fmt: skip
    assert fill_in(tmp_path, converted("check"), *[a for a, _ in asked]) == [said for _, said in asked]
