"""Rows of a log from their cells: each one right, or listed with what is wrong and what to do."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from boscage.model.ledger import ANIMAL_CLASSES, EVENTS, NONE, Counts, LogProblem, LogRow, night_of
from boscage.readers.columns import plain, read_day, read_word
from boscage.readers.log_columns import Cells

LB_KG = 0.45359237
MOST_ANIMALS, MOST_HOURS, MOST_BAIT_KG = 500, 500.0, 5000.0
ASIDE = "the row is not counted until it is mended."
_CLOCK = re.compile(r"^(\d{1,2})[:.h](\d{2})(?::\d{2}(?:\.\d+)?)?\s*([ap]\.?m\.?)?$", re.IGNORECASE)
_STAMP = re.compile(r"^\d{4}-\d{1,2}-\d{1,2}[T ](\d{1,2}:\d{2})")
_CLASS_WORDS = {plain(w): i for i, c in enumerate(ANIMAL_CLASSES) for w in (c, f"{c}s")}
_CLASS_WORDS |= {"shoat": 2, "shoats": 2}
_CLOCKS = ("closed", "approached", "finished")
_TEXTS = ("group", "person", "task", "note", "fate", "injury", "sex", "animal", "species")


@dataclass(kw_only=True)
class Rows:
    """Rows made so far.

    Attributes:
        rows: That could be read.
        problems: Of all rows.
        stamped: Rows whose date carried a time of day.
    """

    rows: list[LogRow] = field(default_factory=list)
    problems: list[LogProblem] = field(default_factory=list)
    stamped: list[int] = field(default_factory=list)


class _Wrong(Exception):
    """A row that cannot be read; the text says what is wrong and what to do."""


def make_rows(table: Cells, places: Mapping[int, tuple[float, float]], day: dt.date) -> Rows:
    """Rows of a log, those with an error set aside.

    Args:
        table: Its cells.
        places: East and north of rows that have a place, by row.
        day: The day that the log is read for; a later night has not been.

    A row is set aside when its date, event, site or a count cannot be read, when its date is still to come, when a
    capture names no animal or an unknown class, and when every cell is the same as in a row before it.
    """
    made, seen = Rows(), {}
    sites: dict[str, str] = {}
    columns = {**table.others, **table.cells}
    names = list(columns)
    for number, values in zip(table.rows, zip(*columns.values(), strict=True), strict=True):
        cells = dict(zip(names, values, strict=True))
        first = seen.setdefault(values, number)
        try:
            if first != number:
                raise _Wrong(_twice(cells, first))
            row = _row(number, cells, places, day, made)
        except _Wrong as error:
            text = f"{str(error).rstrip('.')}; {ASIDE}"
            made.problems.append(LogProblem(row=number, text=text, counted=False, animals=_guess(cells)))
            continue
        made.rows.append(_same_site(row, sites, made))
    made.problems.sort(key=lambda p: p.row)
    return made


def _twice(cells: Mapping[str, str], first: int) -> str:
    again = "; if it is another animal, give each its own name in a column animal" if _event(cells) == "capture" else ""
    return f"the row says the same as row {first} in every cell; take one of them out{again}"


def _event(cells: Mapping[str, str]) -> str:
    return read_word(cells["event"], EVENTS) or ""


def _guess(cells: Mapping[str, str]) -> int:
    """Animals that a row set aside seems to hold; 0 for other events and for what is no number."""
    if _event(cells) != "capture":
        return 0
    held = sum(int(cells[c]) for c in ANIMAL_CLASSES if cells.get(c, "").isdigit())
    if held == 0 and cells.get("class"):
        return int(cells["count"]) if cells.get("count", "").isdigit() else 1
    return held


def _row(
    number: int, cells: Mapping[str, str], places: Mapping[int, tuple[float, float]], day: dt.date, made: Rows
) -> LogRow:
    night, stamp = _night(cells["date"], day)
    event = read_word(cells["event"], EVENTS)
    if not event:
        said = f"the event is {cells['event']!r}" if cells["event"] else "the event is empty"
        raise _Wrong(f"{said}; expected one of {', '.join(EVENTS)}")
    site = " ".join(cells["site"].split())
    if not site:
        raise _Wrong("the site is empty; write the name of the set")
    facts: dict[str, Any] = {n: cells[n] for n in _TEXTS if cells.get(n)}
    facts["counts"] = _counts(event, cells, number, made)
    facts["time"] = _clock("time", cells, number, made) or stamp
    facts |= {n: _clock(n, cells, number, made) for n in _CLOCKS if cells.get(n)}
    facts["hours"] = _number("hours", cells, MOST_HOURS, number, made)
    facts["bait_kg"] = _bait(cells, number, made)
    facts["known"] = _known(cells, number, made)
    if number in places:
        facts["x_m"], facts["y_m"] = places[number]
    if stamp is not None:
        made.stamped.append(number)
    return LogRow(row=number, night=night, site=site, event=event, **facts)


def _night(text: str, day: dt.date) -> tuple[dt.date, dt.time | None]:
    """The evening date; a date with a time of day is a moment, which before noon belongs to the evening before."""
    if not text:
        raise _Wrong("the date is empty; write the evening date of the night, such as 2026-11-20")
    found = read_day(text)
    if not isinstance(found, dt.date):
        raise _Wrong(f"the date is {text!r}; expected the evening date as year-month-day, such as 2026-11-20")
    stamp = _STAMP.match(text)
    time = _read_clock(stamp.group(1)) if stamp else None
    time = None if time == dt.time(0) else time
    night = found if time is None else night_of(dt.datetime.combine(found, time))
    if night > day:
        raise _Wrong(f"the date {night} is after {day}, the day of the plan; correct the date, or the plan's")
    if night.year < 1990:
        raise _Wrong(f"the date {night} is before 1990; correct the year")
    return night, time


def _counts(event: str, cells: Mapping[str, str], number: int, made: Rows) -> Counts:
    """Animals by class, from the four columns and from a class with its count."""
    counts = [_count(c, cells) for c in ANIMAL_CLASSES]
    name = cells.get("class", "")
    if name and event == "capture":
        where = _CLASS_WORDS.get(plain(name))
        if where is None:
            raise _Wrong(f"the class is {name!r}; expected one of {', '.join(ANIMAL_CLASSES)}")
        held = _count("count", cells) or (0 if counts[where] else 1)
        if counts[where] and held:
            raise _Wrong(f"the row counts {ANIMAL_CLASSES[where]} twice, by class and in its column; keep one of them")
        counts[where] += held
    total = sum(counts)
    if event == "capture" and total == 0:
        raise _Wrong(f"a capture without an animal; write how many in {', '.join(ANIMAL_CLASSES)}, or make it a check")
    if event != "capture" and total:
        text = f"{total} animals are counted in a row that is no capture; they are not counted; make it a capture if so"
        made.problems.append(LogProblem(row=number, text=f"{text}.", animals=total))
        return NONE
    return tuple(counts)  # type: ignore[return-value]


def _count(name: str, cells: Mapping[str, str]) -> int:
    text = cells.get(name, "")
    if not text:
        return 0
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not (0 <= value <= MOST_ANIMALS and value == int(value)):
        raise _Wrong(f"{name} is {text!r}; expected a whole number from 0 to {MOST_ANIMALS}")
    return int(value)


def _number(name: str, cells: Mapping[str, str], most: float, number: int, made: Rows) -> float:
    """A number, NaN for an empty cell; a cell that is none is listed and taken as not written down."""
    text = cells.get(name, "")
    if not text:
        return math.nan
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not 0.0 <= value <= most:
        said = f"{name} is {text!r}; expected a number from 0 to {most:g}; taken as not written down; correct it."
        made.problems.append(LogProblem(row=number, text=said))
        return math.nan
    return value


def _bait(cells: Mapping[str, str], number: int, made: Rows) -> float:
    kg = _number("bait_kg", cells, MOST_BAIT_KG, number, made)
    lb = _number("bait_lb", cells, MOST_BAIT_KG / LB_KG, number, made)
    return lb * LB_KG if math.isnan(kg) else kg


def _known(cells: Mapping[str, str], number: int, made: Rows) -> int | None:
    value = _number("known", cells, MOST_ANIMALS, number, made)
    return None if math.isnan(value) else round(value)


def _clock(name: str, cells: Mapping[str, str], number: int, made: Rows) -> dt.time | None:
    """A clock time, None for an empty cell; a cell that is none is listed and taken as not written down."""
    text = cells.get(name, "")
    found = _read_clock(text)
    if text and found is None:
        said = f"{name} is {text!r}; expected a clock time such as 22:40; taken as not written down; correct it."
        made.problems.append(LogProblem(row=number, text=said))
    return found


def _read_clock(text: str) -> dt.time | None:
    match = _CLOCK.match(text)
    if match is None:
        return None
    hour, minute, half = int(match.group(1)), int(match.group(2)), (match.group(3) or "").lower()[:1]
    if half and not 1 <= hour <= 12:
        return None
    hour = hour % 12 + (12 if half == "p" else 0) if half else hour
    return dt.time(hour, minute) if hour <= 23 and minute <= 59 else None


def _same_site(row: LogRow, sites: dict[str, str], made: Rows) -> LogRow:
    """The row under the site's first writing; another writing of the same name is listed."""
    first = sites.setdefault(row.site.casefold(), row.site)
    if first == row.site:
        return row
    text = f"the site is written {row.site}, and {first} before; taken as the same set; write one of them throughout."
    made.problems.append(LogProblem(row=row.row, text=text))
    return replace(row, site=first)
