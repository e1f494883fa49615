"""The log: rows as written, what is wrong with them, and the stretches of nights that each set stood in one state.

A night has the date of its evening: what happens before noon belongs to the evening before.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass, field

ANIMAL_CLASSES = ("boar", "sow", "yearling", "piglet")
"""Classes of animals in a log, in the order of `LogRow.counts`."""
STATES = ("prebait", "open", "armed")
EVENTS = (*STATES, "capture", "check", "nontarget", "pulled")
CHANGES = (*STATES, "pulled")
"""Events that begin or end a state."""
ATTENDED = ("check", "capture", "nontarget")
"""Events that say somebody looked at the set during the night."""
Counts = tuple[int, int, int, int]
NONE: Counts = (0, 0, 0, 0)
_NOON = dt.time(12)


def night_of(moment: dt.datetime) -> dt.date:
    """Evening date of the night that a moment belongs to.

    >>> night_of(dt.datetime(2026, 11, 12, 3, 10))
    datetime.date(2026, 11, 11)
    """
    return (moment - dt.timedelta(hours=12)).date()


def moment_of(night: dt.date, time: dt.time) -> dt.datetime:
    """The moment of a clock time in a night.

    >>> moment_of(dt.date(2026, 11, 11), dt.time(3, 10))
    datetime.datetime(2026, 11, 12, 3, 10)
    """
    day = night if time >= _NOON else night + dt.timedelta(days=1)
    return dt.datetime.combine(day, time)


@dataclass(frozen=True, kw_only=True, slots=True)
class LogRow:
    """One row of a log.

    Attributes:
        row: In the file, counted from 1.
        night: Evening date.
        event: One of `EVENTS`.
        counts: Animals by `ANIMAL_CLASSES`.
        group: Name of the group it was about, or ''.
        hours: Person-hours; NaN for not written down.
        time: Clock time, or None.
        person, task, note: As written, or ''.
        fate, injury, sex, animal: Of the animals in the row, as written, or ''.
        species: Of a non-target, or ''.
        bait_kg: Bait put out; NaN for not written down.
        known: Members of the group known on that night, or None.
        closed, approached, finished: Clock times of a capture: net down, first human approach, last animal dead.
        x_m, y_m: Place in the ranch's CRS; NaN for none.
    """

    row: int
    night: dt.date
    site: str
    event: str
    counts: Counts = NONE
    group: str = ""
    hours: float = math.nan
    time: dt.time | None = None
    person: str = ""
    task: str = ""
    note: str = ""
    fate: str = ""
    injury: str = ""
    sex: str = ""
    animal: str = ""
    species: str = ""
    bait_kg: float = math.nan
    known: int | None = None
    closed: dt.time | None = None
    approached: dt.time | None = None
    finished: dt.time | None = None
    x_m: float = math.nan
    y_m: float = math.nan

    @property
    def animals(self) -> int:
        """Animals of all classes."""
        return sum(self.counts)

    @property
    def has_place(self) -> bool:
        """Whether the row says where the set stands."""
        return not math.isnan(self.x_m)

    @property
    def earliest(self) -> dt.datetime:
        """The moment written, or noon of the evening date where none is."""
        return dt.datetime.combine(self.night, _NOON) if self.time is None else moment_of(self.night, self.time)

    @property
    def latest(self) -> dt.datetime:
        """The moment written, or noon after the night where none is."""
        return self.earliest + dt.timedelta(days=1) if self.time is None else self.earliest


@dataclass(frozen=True, kw_only=True)
class LogProblem:
    """Something wrong with a row.

    Attributes:
        row: In the file, counted from 1.
        text: What is wrong and what to do about it.
        counted: Whether the row still counts; False for a row set aside until it is mended.
        animals: Animals set aside with the row.
    """

    row: int
    text: str
    counted: bool = True
    animals: int = 0


@dataclass(frozen=True, kw_only=True)
class Log:
    """A log as read.

    Attributes:
        rows: That could be read, in file order.
        problems: Of rows, by row.
        columns: Ours that the file has.
        notes: Phrases about what was read.
    """

    rows: tuple[LogRow, ...]
    problems: tuple[LogProblem, ...] = ()
    columns: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Stay:
    """Nights running in which a set stood in one state.

    Attributes:
        first: Evening date of the first night.
        until: The day after the last night.
        rows: Rows that stated the state.
        is_lasting: Whether it lasts at the day the log is read for.
        x_m, y_m: Where the set stood; NaN for not known.
    """

    site: str
    state: str
    first: dt.date
    until: dt.date
    rows: tuple[int, ...]
    is_lasting: bool = False
    x_m: float = math.nan
    y_m: float = math.nan

    @property
    def nights(self) -> int:
        """How many."""
        return (self.until - self.first).days

    def holds(self, night: dt.date) -> bool:
        """Whether a night is one of them."""
        return self.first <= night < self.until


@dataclass(frozen=True, kw_only=True)
class Book:
    """A log whose rows have been held against one another.

    Attributes:
        day: The day it is read for; the night of that day is still to come and is not counted.
        rows: That count, by night, in file order within a night.
        stays: By site in order of first appearance, then by night; one without a night only where it
            lasts at the day.
        problems: By row.
        unplaced: Armed sites without a place.
        columns: Ours that the file has.
    """

    day: dt.date
    rows: tuple[LogRow, ...]
    stays: tuple[Stay, ...]
    problems: tuple[LogProblem, ...] = ()
    unplaced: tuple[str, ...] = ()
    columns: tuple[str, ...] = ()

    @property
    def sites(self) -> tuple[str, ...]:
        """Sets that the log names, in order of first appearance."""
        return tuple(dict.fromkeys(r.site for r in self.rows))

    def nights(self, state: str) -> int:
        """Nights of all sets together in a state."""
        return sum(s.nights for s in self.stays if s.state == state)

    def of(self, *events: str) -> tuple[LogRow, ...]:
        """Rows of some kinds of event."""
        return tuple(r for r in self.rows if r.event in events)


@dataclass(frozen=True, kw_only=True)
class GroupCount:
    """How many members a group was known to have.

    Attributes:
        group: Its name as in the log.
        count: Members, boars that come alone left out.
        members: Members by `ANIMAL_CLASSES`, where they were told apart.
        night: When it was counted, or None: then before every capture.
        source: Who or what says so.
    """

    group: str
    count: int
    members: Mapping[str, int] = field(default_factory=dict)
    night: dt.date | None = None
    source: str = ""
