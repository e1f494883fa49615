"""Columns under our names, and cells turned into words, numbers, days and yes or no, with the row in every error."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from boscage.errors import LayerError
from boscage.readers.protocol import Request

# Our columns of each layer, each with the names that are also understood. Names are compared without case, spaces,
# hyphens and underscores.
COLUMNS: Mapping[str, Mapping[str, tuple[str, ...]]] = {
    "parcels": {"parcel": ("parcel_id", "parcel_no", "pin", "apn"), "owner": ("owner_name", "landowner"), "access": ()},
    "tracks": {"class": (), "name": (), "public": (), "surface": ()},
    "gates": {"name": ("gate_name",), "kind": ("gate_kind",), "state": ("gate_state",), "note": ("notes", "desc")},
    "fences": {"name": ("fence_name",), "kind": ("fence_kind",), "note": ("notes", "desc")},
    "dwellings": {"name": ()},
    "water": {"name": (), "class": ()},
    "power_lines": {"name": (), "voltage_kv": (), "source": ()},
    "no_go": {"reason": (), "from": (), "until": ("to",)},
    "soils": {
        "mapunit": ("musym", "map_unit"), "name": ("muname",), "texture": (), "sand_pct": (), "clay_pct": (),
        "organic_pct": (), "bulk_density": (), "rock_pct": (), "depth_cm": (), "depth_in": (), "flood_class": (),
        "resistance_mpa": (), "water_cm": ("water_table_cm",),
    },
    "sign": {
        "kind": ("sign_kind", "sign", "type"), "date": ("time", "date_time", "timestamp"), "note": ("notes", "desc"),
        "observer": (), "age_class": ("age", "state"), "rain_days": ("days_since_rain",),
    },
    "searched": {"date": ("time", "date_time", "timestamp"), "observer": ()},
}  # fmt: skip

_PLACE = ("lon", "lat", "x", "y", "crs")
_DAY = re.compile(r"^(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ]\d{1,2}:\d{2}(?::\d{2}(?:\.\d+)?)?\s*(?:Z|[+-]\d{2}:?\d{2})?)?$")
_MONTH_DAY = re.compile(r"^(?:--)?(\d{1,2})-(\d{1,2})$")
_YES = {"1", "1.0", "true", "t", "yes", "y"}
_NO = {"0", "0.0", "false", "f", "no", "n"}


def plain(name: object) -> str:
    """A column's name without case, spaces, hyphens and underscores."""
    return re.sub(r"[\s_\-]+", "", str(name)).lower()


def cell(value: object) -> str:
    """A cell as trimmed text; '' for nothing in any of its forms.

    >>> cell(None), cell(float("nan")), cell("  Road "), cell(3.0), cell(np.float64(2.6))
    ('', '', 'Road', '3', '2.6')
    """
    if value is None or value is pd.NaT or value is pd.NA:
        return ""
    if isinstance(value, float):
        if math.isnan(value):
            return ""
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(float(value))
    return str(value).strip()


def objects(values: Iterable[Any]) -> np.ndarray:
    """A column of Python objects, whatever they are."""
    out = list(values)
    made = np.empty(len(out), dtype=object)
    made[:] = out
    return made


def rename_columns(frame: pd.DataFrame, request: Request) -> tuple[pd.DataFrame, tuple[str, ...]]:
    """Put the layer's columns under our names.

    A column is taken as the plan's `columns` says, else by its exact name, else by its name without case and spaces,
    else by a synonym that holds anything at all.

    Returns:
        The frame, and a phrase for every column that was taken under another name without the plan saying so.

    Raises:
        LayerError: The plan maps one of our names to a column that the file does not have, or maps a name that is none
            of ours.
    """
    ours = COLUMNS.get(request.layer, {})
    own = [str(c) for c in frame.columns if c not in ("geometry", "row")]
    mapping = stated_columns(request, ours, own, skip=_PLACE)
    notes = []
    for name, synonyms in ours.items():
        if name in mapping:
            continue
        found = _find(name, synonyms, [c for c in own if c not in mapping.values()], frame)
        if found is not None:
            mapping[name] = found
            if plain(found) != plain(name):
                notes.append(f"column {found} taken as {name}")
    clashing = [n for n, theirs in mapping.items() if n in frame.columns and n != theirs and n not in mapping.values()]
    renamed = frame.drop(columns=clashing).rename(columns={theirs: name for name, theirs in mapping.items()})
    return renamed, tuple(notes)


def stated_columns(
    request: Request, ours: Iterable[str], own: Sequence[str], *, skip: Sequence[str] = ()
) -> dict[str, str]:  # fmt: skip
    """Our names to the file's columns, as the plan's `columns` states them.

    Args:
        skip: Names that are dealt with elsewhere.

    Raises:
        LayerError: The plan maps a name that is none of ours, or to a column that the file does not have.
    """
    listed = ", ".join(own) or "none"
    mapping = {}
    for name, theirs in request.spec.columns.items():
        if name in skip:
            continue
        if name not in ours:
            raise request.error(
                f"the plan maps {name}, which is no column of this layer", field=f"columns.{name}",
                expected=f"one of {', '.join(ours)}",
            )  # fmt: skip
        if theirs not in own:
            raise request.error(
                f"the plan takes {name} from a column {theirs} that the file does not have",
                mend=f"name one of its columns: {listed}", field=f"columns.{name}",
            )  # fmt: skip
        mapping[name] = theirs
    return mapping


def _find(name: str, synonyms: Sequence[str], own: Sequence[str], frame: pd.DataFrame) -> str | None:
    if name in own:
        return name
    for wanted in (name, *synonyms):
        for column in own:
            if plain(column) == plain(wanted) and (wanted == name or any(cell(v) for v in frame[column])):
                return column
    return None


def need_column(frame: pd.DataFrame, name: str, request: Request, *, expected: str) -> None:
    """Refuse a layer without a column that it cannot do without.

    Raises:
        LayerError: The column is not there; the message lists the file's columns and how to map one.
    """
    if name in frame.columns:
        return
    own = [str(c) for c in frame.columns if c not in ("geometry", "row")]
    raise request.error(
        f"there is no column {name} (the columns are {', '.join(own) or 'none'})",
        expected=expected,
        mend=f'if it goes by another name, map it: columns = {{ {name} = "THEIR_NAME" }}',
        field=name,
    )


def bad_cell(request: Request, row: int, field: str, value: object, expected: str) -> LayerError:
    """The error for one wrong cell."""
    shown = cell(value)
    return request.error(
        f"the value is {shown!r}" if shown else "the cell is empty", expected=expected, mend="correct the cell",
        row=row, field=field,
    )  # fmt: skip


def read_word(value: object, words: Sequence[str]) -> str | None:
    """A word of a list whatever its case, spaces or hyphens; '' for an empty cell, None for any other word."""
    text = cell(value)
    if not text:
        return ""
    return {plain(w): w for w in words}.get(plain(text))


def read_yes(value: object) -> bool | str | None:
    """True, False, None for an empty cell, and the text itself when it is neither."""
    text = cell(value)
    if not text:
        return None
    if text.lower() in _YES or text.lower() in _NO:
        return text.lower() in _YES
    return text


def read_numbers(
    frame: pd.DataFrame, field: str, request: Request, *, low: float = -math.inf, high: float = math.inf
) -> list[float]:
    """A column as numbers, NaN where the cell is empty.

    Raises:
        LayerError: A cell is no number, or outside the range.
    """
    allowed = "a number" if math.isinf(high) else f"a number from {low:g} to {high:g}"
    allowed = f"a number of at least {low:g}" if math.isinf(high) and not math.isinf(low) else allowed
    out = []
    for row, value in zip(frame["row"], frame[field], strict=True):
        text = cell(value)
        try:
            number = float(text) if text else math.nan
        except ValueError:
            number = math.inf
        if math.isinf(number) or number < low or number > high:
            raise bad_cell(request, row, field, value, f"{allowed}, or an empty cell")
        out.append(number)
    return out


def read_day(value: object) -> dt.date | str | None:
    """A day from an ISO date with or without a time of day; None for an empty cell, the text itself when it is none.

    The day is the one written, in the writer's own time zone.

    >>> read_day("2026-11-20T17:05"), read_day("11/20/2026")
    (datetime.date(2026, 11, 20), '11/20/2026')
    """
    if isinstance(value, dt.datetime) and value is not pd.NaT:
        return value.date()
    if isinstance(value, dt.date) and value is not pd.NaT:
        return value
    text = cell(value)
    if not text:
        return None
    match = _DAY.match(text)
    if match is None:
        return text
    try:
        return dt.date(*(int(part) for part in match.groups()))
    except ValueError:
        return text


def read_month_day(text: str) -> str | None:
    """`MM-DD` with two digits each, or None when it is no day of any year.

    >>> read_month_day("3-1"), read_month_day("02-30")
    ('03-01', None)
    """
    match = _MONTH_DAY.match(text)
    if match is None:
        return None
    try:
        day = dt.date(2024, int(match.group(1)), int(match.group(2)))
    except ValueError:
        return None
    return day.strftime("%m-%d")


def listed(items: Iterable[Any], *, most: int = 5) -> str:
    """Items joined by commas, the rest counted.

    >>> listed([1, 2, 3], most=2)
    '1, 2 and 1 more'
    """
    every = [str(i) for i in items]
    if len(every) <= most:
        return ", ".join(every)
    return f"{', '.join(every[:most])} and {len(every) - most} more"
