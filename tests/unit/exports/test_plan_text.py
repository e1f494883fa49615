"""Edits of a plan's text: what was asked for, nothing else; and files written whole or not at all."""

from __future__ import annotations

import datetime as dt
import errno
import json
import os
import stat
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boscage.errors import InputError, PlanError
from boscage.exports.plan_text import edit_text, write_plan_text
from boscage.model.choices import Choice
from boscage.model.plan import plan_from_table
from boscage.model.plan_edits import (
    AddChoice,
    Edit,
    PlanText,
    SetKey,
    TakeOut,
    TakeOutChoice,
    edit_of,
    edit_row,
    edited_table,
)
from boscage.readers.plan_edit import read_plan_text

SAMPLE = Path(__file__).parents[3] / "sample_data" / "plan.toml"
TEXT = SAMPLE.read_text(encoding="utf-8")
PIN = Choice(site="Old corral", at=(-92.7012345, 36.2), choice="add", reason='by the "tank"', date=dt.date(2026, 11, 3))
REJECT = Choice(at=(-92.6, 36.25), choice="reject", reason="dogs at night, ¿qué?")


def made(*edits: Edit, text: str = TEXT) -> str:
    return edit_text(text, edits, file="plan.toml")


def goal(text: str, *edits: Edit) -> dict[str, Any]:
    table = tomllib.loads(text)
    for edit in edits:
        table = edited_table(table, edit, file="plan.toml")
    return table


def held(table: object) -> object:
    """A table without empty ones in it, which say nothing."""
    if not isinstance(table, dict):
        return table
    inner = {name: held(value) for name, value in table.items()}
    return {name: value for name, value in inner.items() if value != {}}


def put_in(before: str, after: str) -> list[str]:
    """The lines that were put in, at one place; fails where any other line is another."""
    old, new = before.split("\n"), after.split("\n")
    more = len(new) - len(old)
    assert more > 0
    at = next((n for n, (a, b) in enumerate(zip(old, new, strict=False)) if a != b), len(old))
    found = [n for n in range(at + 1) if old[:n] == new[:n] and old[n:] == new[n + more :]]
    assert found, "a line that no edit touches is another"
    return new[found[0] : found[0] + more]


def test_a_value_is_changed_where_it_stands() -> None:
    after = made(SetKey(key=("sites", "spacing"), value="250m"))
    pairs = [(a, b) for a, b in zip(TEXT.split("\n"), after.split("\n"), strict=True) if a != b]
    assert pairs == [(
        'spacing = "300m"          # least distance between two ranked sites',
        'spacing = "250m"          # least distance between two ranked sites',
    )]  # fmt: skip


def test_a_new_key_stands_with_its_table_and_not_below_the_next_ones_words() -> None:
    after = made(SetKey(key=("sites", "prefix"), value="XX"))
    assert put_in(TEXT, after) == ['prefix  = "XX"']
    lines = after.split("\n")
    assert lines[lines.index('prefix  = "XX"') - 1].startswith("spacing")


def test_a_new_factor_gets_a_table_of_its_own() -> None:
    after = made(SetKey(key=("factors", "cover", "weight"), value=4.5))
    assert put_in(TEXT, after) == ["", "[factors.cover]", "weight = 4.5"]
    twice = made(SetKey(key=("factors", "cover", "value"), value=((0, 0.0), (60, 1.0))), text=after)
    assert put_in(after, twice) == ["value  = [[0, 0.0], [60, 1.0]]"]


def test_choices_are_put_at_the_end_and_taken_out_without_a_trace() -> None:
    one = made(AddChoice(choice=PIN))
    assert put_in(TEXT, one) == [
        "", "[[choices]]", 'site   = "Old corral"', "at     = [-92.7012345, 36.2]", 'choice = "add"',
        r'reason = "by the \"tank\""', "date   = 2026-11-03",
    ]  # fmt: skip
    two = made(AddChoice(choice=REJECT), text=one)
    assert plan_from_table(tomllib.loads(two), file="p", folder=".", today=PIN.date).choices == (PIN, REJECT)
    assert made(TakeOutChoice(row=2), text=two) == one
    assert made(TakeOutChoice(row=1), TakeOutChoice(row=1), text=two) == TEXT
    left = made(TakeOutChoice(row=1), text=two)
    assert plan_from_table(tomllib.loads(left), file="p", folder=".", today=PIN.date).choices == (REJECT,)


def test_a_table_goes_and_the_words_before_the_next_one_stay() -> None:
    after = made(TakeOut(key=("sites",)))
    gone = put_in(after, TEXT)
    assert [line.split(" ")[0] for line in gone] == ["", "[sites]", "count", "spacing"]
    assert "# Hard stops rule ground out whatever its score." in after


ODD = {
    "tables out of order": '[factors.cover]\nweight=1\n# t\n[net]\nmass="1kg"\n[factors.use]\nweight=2',
    "dotted keys": '[factors]\ncover.weight = 3 # w\n',
    "dotted at the root": 'factors.cover.weight = 3\n[ranch]\nname="a"\n',
    "inline tables": "factors = { cover = { weight = 3 } } # w\n",
    "an inline list of choices": "choices = [{ at = [1, 2], choice = 'pin' }]\n",
    "several lines to a value": '[factors.cover]\nvalue = [ # points\n  [0, 0.0],\n  [1, 1.0], # last\n]\nweight = 1\n',
    "an empty table": "[factors.cover] # nothing yet\n# below\n\n[net]\n",
    "nothing": "",
}  # fmt: skip
EDITS: dict[str, Edit] = {
    "set": SetKey(key=("factors", "cover", "weight"), value=5),
    "set new": SetKey(key=("factors", "cover", "around"), value="50m"),
    "set new table": SetKey(key=("factors", "water", "weight"), value=2.5),
    "take out": TakeOut(key=("factors", "cover", "weight")),
    "take out table": TakeOut(key=("factors", "cover")),
    "add choice": AddChoice(choice=PIN),
    "take out choice": TakeOutChoice(row=1),
}


@pytest.mark.parametrize("edit", EDITS.values(), ids=EDITS)
@pytest.mark.parametrize("text", ODD.values(), ids=ODD)
def test_plans_written_in_unusual_ways_come_out_right_or_are_refused(text: str, edit: Edit) -> None:
    try:
        after = made(edit, text=text)
    except PlanError as error:
        assert str(error).startswith("plan.toml, field ")
        return
    assert held(tomllib.loads(after)) == held(goal(text, edit))
    comments = [line.partition("#")[2] for line in text.split("\n") if "#" in line]
    if not isinstance(edit, TakeOut):
        assert all(comment in after for comment in comments)


def test_most_of_the_unusual_ways_are_edited_and_not_refused() -> None:
    refused = []
    for name, text in ODD.items():
        for what, edit in EDITS.items():
            try:
                made(edit, text=text)
            except PlanError as error:
                if "with the rest kept" in str(error):
                    refused.append((name, what))
    assert refused == [("inline tables", "set new table")]


VALUES = {
    ("sites", "count"): st.integers(1, 200), ("sites", "prefix"): st.text(min_size=1, max_size=12),
    ("sites", "least_data"): st.floats(0.0, 1.0), ("ranch", "date"): st.dates(dt.date(2000, 1, 1), dt.date(2099, 1, 1)),
    ("ranch", "note"): st.text(min_size=1, max_size=40), ("factors", "cover", "weight"): st.floats(0.1, 9.0),
    ("factors", "use", "weight"): st.integers(1, 9), ("net", "mass"): st.sampled_from(["50lb", "20kg"]),
    ("drop", "base"): st.tuples(st.floats(-180.0, 180.0), st.floats(-90.0, 90.0)),
    ("stops", "flood"): st.lists(st.sampled_from(["occasional", "frequent"]), max_size=2),
    ("layers", "terrain", "unit"): st.sampled_from(["m", "ft"]),
    ("layers", "log"): st.just({"path": "other.csv", "columns": {"site": "Trap no"}}),
}  # fmt: skip
SET = st.one_of([st.builds(SetKey, key=st.just(key), value=values) for key, values in VALUES.items()])
ADD = st.builds(AddChoice, choice=st.sampled_from([PIN, REJECT]))
STEPS = st.lists(st.one_of(SET, ADD, st.builds(TakeOut, key=st.sampled_from(list(VALUES)))), max_size=6)


def applies(text: str, edit: Edit) -> bool:
    try:
        goal(text, edit)
    except PlanError:
        return False
    return True


@settings(derandomize=True, max_examples=50, deadline=None)
@given(steps=STEPS, ends=st.tuples(st.integers(0, 2**32 - 1), st.sampled_from([0.0, 0.3, 0.7, 1.0])))
def test_any_edits_of_the_sample_plan_touch_nothing_else(steps: list[Edit], ends: tuple[int, float]) -> None:
    """Each step: a reader gets what was asked for, and every line kept stands as it was, with its own line end."""
    parts = TEXT.split("\n")
    crlf = np.random.default_rng(ends[0]).random(len(parts) - 1) < ends[1]
    text = "".join(line + ("\r\n" if c else "\n") for line, c in zip(parts[:-1], crlf, strict=True)) + parts[-1]
    for edit in steps:
        if not applies(text, edit):
            continue
        after = made(edit, text=text)
        assert held(tomllib.loads(after)) == held(goal(text, edit))
        old, new = text.split("\n"), after.split("\n")
        if len(old) == len(new):
            changed = [(a, b) for a, b in zip(old, new, strict=True) if a != b]
            assert len(changed) <= 1
            assert all(a.partition("  #")[2] == b.partition("  #")[2] for a, b in changed if '"#' not in b)
        elif len(old) < len(new):
            put_in(text, after)
        else:
            put_in(after, text)
        text = after


@settings(derandomize=True, max_examples=60, deadline=None)
@given(steps=STEPS)
def test_edits_come_back_from_json(steps: list[Edit]) -> None:
    packed = [json.loads(json.dumps(edit_row(edit))) for edit in steps]
    for row, edit in zip(packed, steps, strict=True):
        assert edit_row(edit_of(row)) == edit_row(edit)
        if applies(TEXT, edit):
            assert goal(TEXT, edit_of(row)) == goal(TEXT, edit)


@pytest.mark.parametrize("row", [{}, {"edit": "burn"}, {"edit": "set", "key": 3}, {"edit": "add choice", "choice": {}}])
def test_what_is_no_edit_is_refused(row: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match="no edit of a plan"):
        edit_of(row)


def test_a_bad_edit_changes_nothing_and_says_so() -> None:
    for edit, said in (
        (TakeOut(key=("sites", "cont")), "plan.toml, field sites.cont: the plan has no such key to take out."),
        (SetKey(key=("sites", "count", "x"), value=1), "plan.toml, field sites.count: the value is 3; expected a"),
        (TakeOutChoice(row=1), "plan.toml, field choices: there is no choice 1; expected a plan with choices."),
    ):  # fmt: skip
        with pytest.raises(PlanError) as caught:
            made(SetKey(key=("sites", "count"), value=3), edit)
        assert str(caught.value).startswith(said)
    with pytest.raises(PlanError, match="not valid TOML"):
        made(text="[ranch")


@pytest.mark.parametrize("head", [b"", b"\xef\xbb\xbf"], ids=["plain", "bom"])
@pytest.mark.parametrize("end", [b"\n", b"\r\n"], ids=["lf", "crlf"])
def test_byte_order_mark_and_line_ends_stay(tmp_path: Path, head: bytes, end: bytes) -> None:
    path = tmp_path / "plan.toml"
    path.write_bytes(head + SAMPLE.read_bytes().replace(b"\n", end))
    known = read_plan_text(path)
    text = edit_text(known.text, [SetKey(key=("sites", "prefix"), value="Ä")], file=known.file)
    write_plan_text(PlanText(file=known.file, text=text, bom=known.bom, on_disk=known.on_disk))
    data = path.read_bytes()
    assert data.startswith(head + b"#")
    assert data.count(b"\n") == data.count(end) == SAMPLE.read_bytes().count(b"\n") + 1
    assert 'prefix  = "Ä"'.encode() + end in data


def test_written_whole_with_its_permissions_and_through_a_link(tmp_path: Path) -> None:
    real, link = tmp_path / "real.toml", tmp_path / "plan.toml"
    real.write_text(TEXT, encoding="utf-8")
    real.chmod(0o640)
    link.symlink_to(real)
    known = read_plan_text(link)
    again = write_plan_text(PlanText(file=known.file, text=TEXT + "# more\n", on_disk=known.on_disk))
    assert link.is_symlink()
    assert real.read_text(encoding="utf-8") == TEXT + "# more\n"
    assert stat.S_IMODE(real.stat().st_mode) == 0o640
    assert read_plan_text(link) == again
    assert sorted(p.name for p in tmp_path.iterdir()) == ["plan.toml", "real.toml"]


def test_a_plan_that_somebody_else_changed_is_not_written_over(tmp_path: Path) -> None:
    path = tmp_path / "plan.toml"
    path.write_text(TEXT, encoding="utf-8")
    known = read_plan_text(path)
    path.write_text(TEXT + "# theirs\n", encoding="utf-8")
    with pytest.raises(InputError, match="changed by another program since it was opened"):
        write_plan_text(known)
    with pytest.raises(InputError, match="there is a file of this name already"):
        write_plan_text(PlanText(file=str(path), text=TEXT))
    assert path.read_text(encoding="utf-8") == TEXT + "# theirs\n"


def test_a_full_disk_leaves_the_file_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "plan.toml"
    path.write_text(TEXT, encoding="utf-8")
    known = read_plan_text(path)

    def full(number: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(InputError, match="the plan cannot be written: No space left on device; free some space"):
        write_plan_text(PlanText(file=known.file, text="x", on_disk=known.on_disk))
    assert path.read_text(encoding="utf-8") == TEXT
    assert [p.name for p in tmp_path.iterdir()] == ["plan.toml"]
