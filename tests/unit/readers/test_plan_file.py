"""Plan files: what opens, and what each error says. The rules are those of TOML 1.0 (https://toml.io/en/v1.0.0)."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from boscage.errors import PlanError
from boscage.readers.plan_file import read_plan

GOOD = '[ranch]\nname = "Test Hollow"\n[layers]\nparcels = "p.gpkg"\ncanopy_cover = "c.tif"\n'


def write(folder: Path, text: str | bytes) -> Path:
    path = folder / "plan.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return path


def test_reads_sections_and_paths(tmp_path: Path) -> None:
    path = write(
        tmp_path, GOOD + 'terrain = { path = "t.tif", unit = "ft", date = 2025-02-18 }\n[net]\nperimeter = "60ft"'
    )
    plan = read_plan(path, today=dt.date(2026, 1, 2))
    assert plan.ranch.name == "Test Hollow"
    assert plan.net.perimeter.m == pytest.approx(18.288)  # 60 x 0.3048 m, exact by definition of the foot
    assert plan.layers["terrain"].unit == "ft" and plan.layers["terrain"].date == dt.date(2025, 2, 18)
    assert Path(plan.folder) == tmp_path and plan.file == str(path)
    assert plan.date == dt.date(2026, 1, 2)


def test_the_plans_own_date_wins(tmp_path: Path) -> None:
    path = write(tmp_path, GOOD.replace("[layers]", "date = 2026-11-21\n[layers]"))
    assert read_plan(path, today=dt.date(2020, 1, 1)).date == dt.date(2026, 11, 21)


@pytest.mark.parametrize("text", [b"\xef\xbb\xbf" + GOOD.encode(), GOOD.replace("\n", "\r\n").encode()])
def test_byte_order_mark_and_line_ends_do_not_matter(tmp_path: Path, text: bytes) -> None:
    assert read_plan(write(tmp_path, text)).ranch.name == "Test Hollow"


def test_missing_file_names_what_is_there(tmp_path: Path) -> None:
    write(tmp_path, GOOD)
    with pytest.raises(PlanError, match=r"plam\.toml: there is no such plan; the folder holds plan\.toml\.") as caught:
        read_plan(tmp_path / "plam.toml")
    assert caught.value.file == str(tmp_path / "plam.toml")


def test_a_folder_is_refused_and_its_plan_named(tmp_path: Path) -> None:
    write(tmp_path, GOOD)
    with pytest.raises(PlanError, match=r"this is a folder.*plan\.toml"):
        read_plan(tmp_path)


def test_other_encodings_are_refused(tmp_path: Path) -> None:
    with pytest.raises(PlanError, match=r"not UTF-8.*save it again as UTF-8"):
        read_plan(write(tmp_path, GOOD.replace("Hollow", "H\xf6llow").encode("latin-1")))


@pytest.mark.parametrize(
    ("text", "line", "hint"),
    [
        (GOOD + "[net]\nperimeter = 60ft\n", 7, "quotation marks"),
        (GOOD + '[net]\nperimeter = "60ft\n', 7, "missing quotation mark"),
        (GOOD + "[sites]\nx = [1, 2\n", 7, "missing bracket"),
        (GOOD + 'soils = "C:\\maps\\soil.gpkg"\n', 6, "forward slashes"),
        (GOOD + 'parcels = "q.gpkg"\n', 6, "stands twice"),
    ],
)
def test_broken_toml_says_line_and_what_to_look_for(tmp_path: Path, text: str, line: int, hint: str) -> None:
    with pytest.raises(PlanError) as caught:
        read_plan(write(tmp_path, text))
    message = str(caught.value)
    assert f"line {line}" in message or f"line {line + 1}" in message
    assert hint in message and "plan.toml" in message and "\n" not in message


def test_unknown_key_gets_the_nearest(tmp_path: Path) -> None:
    with pytest.raises(PlanError, match=r"field layers\.terain: there is no such key; did you mean terrain\?"):
        read_plan(write(tmp_path, GOOD + 'terain = "t.tif"\n'))
