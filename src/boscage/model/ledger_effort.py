"""Effort and captures: nights, hours, animals, rates with intervals, groups and who of them is missing."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

GroupState = Literal["complete", "missing", "unsettled", "not known"]


@dataclass(frozen=True, kw_only=True)
class Rate:
    """Events over exposure, with the exact Poisson interval.

    Attributes:
        events: How many.
        exposure: In the unit that the rate is per.
        value, low, high: NaN where there was no exposure.
        level: Share of such intervals that hold the true rate, at the least.
    """

    events: int
    exposure: float
    value: float
    low: float
    high: float
    level: float = 0.95


@dataclass(frozen=True, kw_only=True)
class Effort:
    """What was put in.

    Attributes:
        sites: Sets that the log names.
        armed_nights, open_nights, prebait_nights: Nights of all sets together, each state apart.
        camera_nights: As given from elsewhere; NaN for not given.
        checks: Rows that are checks.
        hours: Person-hours written down; NaN where no row has any.
        rows_without_hours: Rows that state none.
        hours_by_task: By task, or by event where no task is written.
        bait_kg: Bait put out; NaN where no row has any.
        rows_with_bait: Rows that state it.
    """

    sites: int
    armed_nights: int
    open_nights: int
    prebait_nights: int
    camera_nights: float
    checks: int
    hours: float
    rows_without_hours: int
    hours_by_task: Mapping[str, float]
    bait_kg: float
    rows_with_bait: int


@dataclass(frozen=True, kw_only=True)
class CaptureNight:
    """All captures of one set in one night.

    Attributes:
        groups: Names in its rows.
        counts: Animals by `ANIMAL_CLASSES`.
        minutes_to_approach, minutes_to_finish: From the net down to the first human approach, and to the last animal
            dead, the longest of its rows; NaN for not written down.
        days_from_bait: From the first bait of that stretch at the set, or NaN where no bait is logged.
    """

    site: str
    night: dt.date
    groups: tuple[str, ...]
    counts: tuple[int, ...]
    minutes_to_approach: float = math.nan
    minutes_to_finish: float = math.nan
    days_from_bait: float = math.nan

    @property
    def animals(self) -> int:
        """Animals of all classes."""
        return sum(self.counts)


@dataclass(frozen=True, kw_only=True)
class Captures:
    """What was caught.

    Attributes:
        by_class: Animals of each class, and `total`.
        nights: Captures by set and night.
        nontargets: Non-target rows by species, '' where it is not written.
        injuries: Animals in rows that name an injury, by class; None where no row of the log says anything of injuries.
        fates: Animals by what became of them, '' where it is not written.
        set_aside: Animals in rows that are set aside until they are mended.
    """

    by_class: Mapping[str, int]
    nights: tuple[CaptureNight, ...]
    nontargets: Mapping[str, int]
    injuries: Mapping[str, int] | None
    fates: Mapping[str, int]
    set_aside: int

    @property
    def total(self) -> int:
        """Animals of all classes."""
        return self.by_class["total"]


@dataclass(frozen=True, kw_only=True)
class Rates:
    """Rates of a log.

    Attributes:
        per_armed_night: Animals a night; the interval takes animals as independent, so it is too narrow for groups.
        events_per_armed_night: Capture nights a night, which groups do not blow up.
        hours_per_capture: NaN without hours or captures.
        notes: Sentences.
    """

    per_armed_night: Rate
    events_per_armed_night: Rate
    hours_per_capture: float
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class GroupTaken:
    """One group: how many were known, taken, and are missing.

    Attributes:
        known: Members at the most that any count and the captures before it add up to; None for not known.
        taken: Members taken, boars apart unless the count names boars among the members.
        boars_apart: Boars taken with it that count for no member.
        missing: Members known and not taken; None for not known.
        missing_by_class: The same by class where the count tells them apart; else empty.
        state: `complete` where nobody is missing; `unsettled` where the number is taken but the classes disagree, or
            more were taken than known.
        night: Of the count that holds, or None.
        source: Of that count.
        note: A sentence, or ''.
    """

    group: str
    known: int | None
    taken: int
    boars_apart: int
    missing: int | None
    missing_by_class: Mapping[str, int] = field(default_factory=dict)
    state: GroupState = "not known"
    night: dt.date | None = None
    source: str = ""
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class GroupsTaken:
    """All groups.

    Attributes:
        groups: In order of first appearance.
        complete: How many are complete.
        known: How many have a count.
        minimum_alive: Members of groups with a count that are known and not taken: a least number, never an estimate.
        as_of: Night of the newest count or capture that it rests on, or None.
        taken_apart: Animals taken that belong to no group with a count.
        notes: Sentences.
    """

    groups: tuple[GroupTaken, ...]
    complete: int
    known: int
    minimum_alive: int
    as_of: dt.date | None
    taken_apart: int
    notes: tuple[str, ...] = ()
