"""Transects: the three ways of measuring, other names of columns, and cells that cannot be used."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from boscage.errors import LayerError
from boscage.readers.transects import TransectRow, read_transects


def read(folder: Path, text: str) -> tuple[TransectRow, ...]:
    path = folder / "walk.csv"
    path.write_text(text, encoding="utf-8")
    return read_transects(path, "walk.csv")


def test_feet_become_metres_and_unknown_cells_stay_unknown(tmp_path: Path) -> None:
    first, second = read(
        tmp_path,
        "Transect,when,day,observer,surveyed_ft,damaged_ft,fresh sign,parcel\n"
        "P-1,Before,2025-11-12,op 1,1000,250,4,West\nP-1,after,,,1000,0,,\n",
    )
    assert (first.walked.transect, first.survey, first.walked.unit) == ("P-1", "before", "m")
    assert (first.walked.surveyed, first.walked.damaged) == (pytest.approx(304.8), pytest.approx(76.2))
    assert (first.walked.date, first.walked.observer, first.sign, first.parcel) == (
        dt.date(2025, 11, 12), "op 1", 4, "West"
    )  # fmt: skip
    assert (second.walked.date, second.sign, second.parcel, second.walked.damaged) == (None, None, "", 0.0)


@pytest.mark.parametrize(("pair", "unit"), [("m", "m"), ("m2", "m2")])
def test_metres_and_areas(tmp_path: Path, pair: str, unit: str) -> None:
    (row,) = read(tmp_path, f"transect,survey,surveyed_{pair},damaged_{pair}\na,after,200,50\n")
    assert (row.walked.surveyed, row.walked.damaged, row.walked.unit) == (200.0, 50.0, unit)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("transect,survey\na,before\n", ("surveyed_m and damaged_m",)),
        ("survey,surveyed_m,damaged_m\nbefore,1,1\n", ("no column transect",)),
        ("transect,surveyed_m,damaged_m\na,1,1\n", ("no column survey", "before or after")),
        ("transect,survey,surveyed_m,damaged_m\na,before,10,11\n", ("row 1", "11 of 10 m are damaged")),
        ("transect,survey,surveyed_m,damaged_m\na,before,10,-1\n", ("row 1", "no more than that damaged")),
        ("transect,survey,surveyed_m,damaged_m,sign\na,before,10,1,few\n", ("row 1", "field sign", "whole number")),
        ("transect,survey,surveyed_m,damaged_m,date\na,before,10,1,12.11.2026\n", ("field date", "2026-11-14")),
        ("", ("empty",)),
    ],
)
def test_what_cannot_be_used_is_refused(tmp_path: Path, text: str, words: tuple[str, ...]) -> None:
    with pytest.raises(LayerError) as caught:
        read(tmp_path, text)
    assert all(w in str(caught.value) for w in ("walk.csv", *words))


def test_a_missing_file_names_the_nearest(tmp_path: Path) -> None:
    (tmp_path / "walks.csv").write_text("x", encoding="utf-8")
    with pytest.raises(LayerError, match=r"nearest name there is walks\.csv"):
        read_transects(tmp_path / "walk.csv", "walk.csv")
