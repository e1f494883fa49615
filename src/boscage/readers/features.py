"""What each vector layer must hold: the words, dates and numbers of its columns, checked row by row."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

import numpy as np

from boscage.model.evidence import AGE_FROM_DAYS, SIGN_KINDS
from boscage.model.rules import FLOOD_CLASSES
from boscage.readers.columns import (
    bad_cell,
    cell,
    listed,
    need_column,
    objects,
    read_day,
    read_month_day,
    read_numbers,
    read_word,
    read_yes,
)
from boscage.readers.fencing import fence_rules, gate_rules
from boscage.readers.protocol import Request

if TYPE_CHECKING:
    import geopandas

    Frame = geopandas.GeoDataFrame

ACCESS = ("granted", "refused", "unknown")
TRACK_CLASSES = ("road", "track", "trail")
TEXT_COLUMNS = ("name", "owner", "reason", "note", "observer", "surface", "texture", "mapunit", "class")
SOIL_NUMBERS: Mapping[str, tuple[float, float]] = {
    "sand_pct": (0.0, 100.0), "clay_pct": (0.0, 100.0), "organic_pct": (0.0, 100.0), "bulk_density": (0.05, 2.9),
    "rock_pct": (0.0, 100.0), "depth_cm": (0.0, 10000.0), "resistance_mpa": (0.0, 100.0), "water_cm": (0.0, 10000.0),
}  # fmt: skip


def apply_rules(frame: Frame, request: Request, day: dt.date) -> tuple[Frame, tuple[str, ...]]:
    """Check and normalise the columns of one layer.

    Args:
        frame: Cleaned features with our column names and `row`.
        day: The plan's date.

    Returns:
        The frame with normalised columns, and doubts.

    Raises:
        LayerError: A needed column is missing, or a cell holds what it cannot.
    """
    frame = frame.copy()
    for name in TEXT_COLUMNS:
        if name in frame.columns:
            frame[name] = objects(cell(v) for v in frame[name])
    rule = RULES.get(request.layer)
    doubts = rule(frame, request, day) if rule is not None else []
    return frame, tuple(doubts)


def _parcels(frame: Frame, request: Request, day: dt.date) -> list[str]:
    need_column(frame, "access", request, expected="granted, refused or unknown for every parcel")
    doubts, words, blank = [], [], []
    for row, value in zip(frame["row"], frame["access"], strict=True):
        word = read_word(value, ACCESS)
        if word is None:
            raise bad_cell(request, int(row), "access", value, "granted, refused or unknown")
        if word == "":
            blank.append(row)
        words.append(word or "unknown")
    if blank:
        doubts.append(
            f"parcels without an access word: {len(blank)} (rows {listed(blank)}); they count as unknown; "
            "ask the landowner."
        )
    frame["access"] = objects(words)
    if "owner" not in frame.columns:
        frame["owner"] = objects([""] * len(frame))
    if "parcel" not in frame.columns:
        frame["parcel"] = objects(f"P{i}" for i in range(1, len(frame) + 1))
        doubts.append("there is no column parcel; the parcels are called P1, P2, ... in file order; map it.")
        return doubts
    names = [cell(v) for v in frame["parcel"]]
    unnamed = [row for row, name in zip(frame["row"], names, strict=True) if not name]
    if unnamed:
        doubts.append(
            f"parcels without a name: {len(unnamed)} (rows {listed(unnamed)}); they are called by their row; name them."
        )
    frame["parcel"] = objects(n or f"P{row}" for row, n in zip(frame["row"], names, strict=True))
    return doubts


def _tracks(frame: Frame, request: Request, day: dt.date) -> list[str]:
    need_column(frame, "class", request, expected="road, track or trail for every line")
    classes = []
    for row, value in zip(frame["row"], frame["class"], strict=True):
        word = read_word(value, TRACK_CLASSES)
        if not word:
            raise bad_cell(request, int(row), "class", value, "road, track or trail")
        classes.append(word)
    frame["class"] = objects(classes)
    given = frame["public"] if "public" in frame.columns else [None] * len(frame)
    public, guessed = [], 0
    for row, value, word in zip(frame["row"], given, classes, strict=True):
        yes = read_yes(value)
        if isinstance(yes, str):
            raise bad_cell(request, int(row), "public", value, "yes or no (or 1 or 0), or an empty cell")
        guessed += yes is None and word == "road"
        public.append(word == "road" if yes is None else yes)
    frame["public"] = np.array(public, dtype=bool)
    if not guessed:
        return []
    return [f"roads that do not say whether they are public: {guessed}; they count as public; fill in the column."]


def _power_lines(frame: Frame, request: Request, day: dt.date) -> list[str]:
    points = int(frame.geometry.geom_type.isin(("Point", "MultiPoint")).sum())
    if not points:
        return []
    return [f"single points instead of lines: {points}; the wires between them are not known; draw the lines."]


def _no_go(frame: Frame, request: Request, day: dt.date) -> list[str]:
    ends: dict[str, list[str]] = {}
    for ours, column in (("from_date", "from"), ("until_date", "until")):
        given = frame[column] if column in frame.columns else [None] * len(frame)
        ends[ours] = [_season_day(v, request, int(row), column) for row, v in zip(frame["row"], given, strict=True)]
    for row, start, end in zip(frame["row"], ends["from_date"], ends["until_date"], strict=True):
        yearly = [len(text) == 5 for text in (start, end)]
        if any(yearly) and (not start or not end or yearly[0] != yearly[1]):
            raise request.error(
                f"from is {start or 'empty'} and until is {end or 'empty'}",
                expected="MM-DD in both, or a full date in either", mend="correct the row", row=int(row), field="from",
            )  # fmt: skip
        if start and end and not any(yearly) and end < start:
            raise request.error(
                f"until {end} lies before from {start}", mend="exchange or correct the dates", row=int(row),
                field="until",
            )  # fmt: skip
    for ours, values in ends.items():
        frame[ours] = objects(values)
    if "reason" not in frame.columns:
        frame["reason"] = objects([""] * len(frame))
    return []


def _season_day(value: object, request: Request, row: int, field: str) -> str:
    """A day as `YYYY-MM-DD`, or `MM-DD` for every year, or ''."""
    day = read_day(value)
    if day is None:
        return ""
    if isinstance(day, dt.date):
        return day.isoformat()
    yearly = read_month_day(day)
    if yearly is None:
        expected = "a date such as 2026-11-21, or 11-21 for every year, or an empty cell"
        raise bad_cell(request, row, field, value, expected)
    return yearly


def _soils(frame: Frame, request: Request, day: dt.date) -> list[str]:
    if "depth_in" in frame.columns:
        inches = read_numbers(frame, "depth_in", request, low=0.0, high=4000.0)
        if "depth_cm" not in frame.columns:
            frame["depth_cm"] = np.array(inches) * 2.54
    held = [name for name in SOIL_NUMBERS if name in frame.columns]
    for name in held:
        low, high = SOIL_NUMBERS[name]
        frame[name] = np.array(read_numbers(frame, name, request, low=low, high=high))
    doubts = []
    if "flood_class" in frame.columns:
        doubts += _flood(frame)
    elif not held and "texture" not in frame.columns:
        columns = ", ".join((*SOIL_NUMBERS, "texture", "flood_class"))
        doubts.append(f"none of the columns that say anything of the soil is there; map them ({columns}).")
    return doubts


def _flood(frame: Frame) -> list[str]:
    classes, odd = [], []
    for row, value in zip(frame["row"], frame["flood_class"], strict=True):
        word = read_word(value, FLOOD_CLASSES)
        if word is None:
            odd.append(f"{cell(value)!r} in row {row}")
        classes.append(word or None)
    frame["flood_class"] = objects(classes)
    if not odd:
        return []
    return [f"unknown flood classes count as no data ({listed(odd, most=3)}); use {', '.join(FLOOD_CLASSES)}."]


def _sign(frame: Frame, request: Request, day: dt.date) -> list[str]:
    need_column(frame, "kind", request, expected=", ".join(SIGN_KINDS))
    kinds = []
    for row, value in zip(frame["row"], frame["kind"], strict=True):
        word = read_word(value, SIGN_KINDS)
        if not word:
            raise bad_cell(request, int(row), "kind", value, f"one of {', '.join(SIGN_KINDS)}")
        kinds.append(word)
    frame["kind"] = objects(kinds)
    given = frame["date"] if "date" in frame.columns else [None] * len(frame)
    days = []
    for row, value in zip(frame["row"], given, strict=True):
        found = read_day(value)
        if isinstance(found, str):
            raise bad_cell(request, int(row), "date", value, "a date such as 2026-11-21, or 2026-11-21T17:05")
        days.append(found)
    frame["date"] = np.array(
        [np.datetime64("NaT", "s") if d is None else np.datetime64(d, "s") for d in days], "datetime64[s]"
    )
    frame["age_days"] = np.array([np.nan if d is None else float((day - d).days) for d in days])
    frame["future"] = np.array([d is not None and d > day for d in days], dtype=bool)
    doubts = []
    undated = frame["row"][[d is None for d in days]]
    if len(undated):
        doubts.append(f"points without a date: {len(undated)} (rows {listed(undated)}); their age is unknown.")
    late = frame["row"][frame["future"]]
    if len(late):
        doubts.append(f"points dated after {day.isoformat()}: {len(late)} (rows {listed(late)}); check the dates.")
    _look(frame, request)
    return doubts


def _look(frame: Frame, request: Request) -> None:
    """The age class that a sign was found in, and the days since rain then, where they are written down."""
    if "age_class" in frame.columns:
        words = []
        for row, value in zip(frame["row"], frame["age_class"], strict=True):
            word = cell(value).upper()
            if word not in ("", *AGE_FROM_DAYS):
                raise bad_cell(request, int(row), "age_class", value, "A, B, C or D, or an empty cell")
            words.append(word)
        frame["age_class"] = objects(words)
    if "rain_days" in frame.columns:
        frame["rain_days"] = np.array(read_numbers(frame, "rain_days", request, low=0.0, high=3650.0))


def _searched(frame: Frame, request: Request, day: dt.date) -> list[str]:
    given = frame["date"] if "date" in frame.columns else [None] * len(frame)
    ages = []
    for row, value in zip(frame["row"], given, strict=True):
        found = read_day(value)
        if isinstance(found, str):
            raise bad_cell(request, int(row), "date", value, "a date such as 2026-11-21")
        ages.append(np.nan if found is None else float((day - found).days))
    frame["since_days"] = np.array(ages)
    undated = frame["row"][np.isnan(frame["since_days"])]
    if len(undated):
        return [f"searched lines without a date: {len(undated)} (rows {listed(undated)}); they count as just searched."]
    return []


RULES: Mapping[str, Callable[[Frame, Request, dt.date], list[str]]] = {
    "parcels": _parcels, "tracks": _tracks, "gates": gate_rules, "fences": fence_rules, "power_lines": _power_lines,
    "no_go": _no_go, "soils": _soils, "sign": _sign, "searched": _searched,
}  # fmt: skip
