"""Damage and sign on transects, walked before and after: one row a transect and survey."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from boscage.errors import LayerError
from boscage.model.layers import LayerSpec
from boscage.model.ledger_land import Transect
from boscage.readers.columns import bad_cell, plain, read_day, read_word
from boscage.readers.protocol import Request, check_exists
from boscage.readers.table import read_rows

LAYER = "report.transects"
SURVEYS = ("before", "after")
FOOT = 0.3048
COLUMNS: Mapping[str, tuple[str, ...]] = {
    "transect": ("line", "name", "id"), "survey": ("when", "round"), "date": ("day",), "observer": ("who", "by"),
    "parcel": (), "sign": ("fresh_sign", "signs"), "surveyed_m": ("length_m",), "damaged_m": (),
    "surveyed_ft": ("length_ft",), "damaged_ft": (), "surveyed_m2": ("area_m2",), "damaged_m2": (),
}  # fmt: skip
PAIRS = (("m", "m", 1.0), ("ft", "m", FOOT), ("m2", "m2", 1.0))
"""Ending of a pair of columns, unit that it is kept in, and how much of that one of it is."""


@dataclass(frozen=True, kw_only=True)
class TransectRow:
    """One transect as walked once.

    Attributes:
        survey: `before` or `after`.
        parcel: In which it lies, or ''.
        sign: Fresh sign counted along it, or None where nobody counted.
    """

    survey: str
    walked: Transect
    parcel: str = ""
    sign: int | None = None


def read_transects(path: Path, shown: str) -> tuple[TransectRow, ...]:
    """Read a table of surveys.

    Columns `transect`, `survey` (before or after) and one pair of `surveyed_m, damaged_m`, `surveyed_ft, damaged_ft`
    (line intercept) or `surveyed_m2, damaged_m2` (area); `date`, `observer`, `parcel`, `sign` where they are known.

    Args:
        path: The file, CSV.
        shown: Its path as the user wrote it.

    Raises:
        LayerError: The file is missing or broken, a column is missing, or a cell cannot be used.
    """
    request = Request(layer=LAYER, path=path, spec=LayerSpec(path=shown))
    check_exists(request)
    header, rows, _, _ = read_rows(request)
    columns = _columns(header)
    pair = next((p for p in PAIRS if all(f"{n}_{p[0]}" in columns for n in ("surveyed", "damaged"))), None)
    for name, expected in (("transect", "the name of the line"), ("survey", "before or after")):
        if name not in columns:
            raise request.error(f"there is no column {name}", expected=expected, field=name)
    if pair is None:
        raise request.error(
            "what was surveyed and damaged is not in the table",
            expected="columns surveyed_m and damaged_m, surveyed_ft and damaged_ft, or surveyed_m2 and damaged_m2",
        )
    return tuple(_row(number, cells, columns, pair, request) for number, cells in rows)


def _columns(header: Sequence[str]) -> dict[str, int]:
    found: dict[str, int] = {}
    for name, synonyms in COLUMNS.items():
        for wanted in (name, *synonyms):
            match = next((i for i, c in enumerate(header) if plain(c) == plain(wanted)), None)
            if name not in found and match is not None and match not in found.values():
                found[name] = match
    return found


def _row(
    number: int, cells: Sequence[str], columns: Mapping[str, int], pair: tuple[str, str, float], request: Request
) -> TransectRow:  # fmt: skip
    def text(name: str) -> str:
        return cells[columns[name]].strip() if name in columns else ""

    if not text("transect"):
        raise bad_cell(request, number, "transect", "", "the name of the line")
    survey = read_word(text("survey"), SURVEYS)
    if not survey:
        raise bad_cell(request, number, "survey", text("survey"), "before or after")
    ending, unit, size = pair
    surveyed, damaged = (
        _number(text(f"{n}_{ending}"), f"{n}_{ending}", number, request) * size for n in ("surveyed", "damaged")
    )
    if not 0.0 <= damaged <= surveyed or surveyed == 0.0:
        raise request.error(
            f"{text(f'damaged_{ending}')} of {text(f'surveyed_{ending}')} {ending} are damaged",
            expected="more than 0 surveyed, and no more than that damaged", row=number, field=f"damaged_{ending}",
        )  # fmt: skip
    sign = _count(text("sign"), number, request)
    walked = Transect(
        transect=text("transect"), surveyed=surveyed, damaged=damaged, unit=unit,
        date=_day(text("date"), number, request), observer=text("observer"),
    )  # fmt: skip
    return TransectRow(survey=survey, walked=walked, parcel=text("parcel"), sign=sign)


def _number(text: str, field: str, row: int, request: Request) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise bad_cell(request, row, field, text, "a number")
    return value


def _count(text: str, row: int, request: Request) -> int | None:
    if not text:
        return None
    if not text.isdecimal():
        raise bad_cell(request, row, "sign", text, "a whole number, or an empty cell where nobody counted")
    return int(text)


def _day(text: str, row: int, request: Request) -> dt.date | None:
    found = read_day(text) if text else None
    if text and not isinstance(found, dt.date):
        raise _bad_day(request, row, text)
    return found if isinstance(found, dt.date) else None


def _bad_day(request: Request, row: int, text: str) -> LayerError:
    return bad_cell(request, row, "date", text, "a day such as 2026-11-14, or an empty cell")
