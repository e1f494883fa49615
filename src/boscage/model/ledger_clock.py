"""The clock of checks: the rule, what is due, what came late, nights without a check."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

from boscage.model.options import option
from boscage.model.rules import GRADES, STALE_DAYS

METHODS = ("operator-fired", "self-acting")
DueState = Literal["upcoming", "perhaps overdue", "overdue"]


@dataclass(frozen=True, kw_only=True)
class CheckOptions:
    """The rule that says how often an armed set must be looked at.

    State rules and permits differ, and an attended net may fall under another rule than a trap: the default is a
    default, to be replaced by the rule that holds at the place.
    """

    hours: float = option(
        24.0, help="Most hours from one look at an armed set to the next.", unit="hours", low=0.5, high=168.0, grade="C"
    )
    attended: bool = option(False, help="Whether somebody must be there the whole time that the set is armed.")
    method: str | None = option(
        None, help="What the supervisor classed the set as; by default nobody has said.", choices=METHODS
    )
    classed_by: str | None = option(None, help="Who classed it.")
    place: str = option("anywhere", help="Where the rule holds.")
    text: str = option("A look at every armed set at least once in 24 hours.", help="The rule in words.")
    citation: str = option(
        "common practice, no source; look up the rule of the state and of the permit", help="Who says so."
    )
    checked: dt.date = option(dt.date(2026, 11, 25), help="Day that the citation was last checked.")
    grade: str = option("C", help="How far to trust it.", choices=tuple(GRADES))

    def is_stale(self, day: dt.date) -> bool:
        """Whether the citation was last checked more than a year before the day."""
        return (day - self.checked).days > STALE_DAYS

    @property
    def words(self) -> str:
        """The rule in words that say the hours in force, also where only the hours were changed."""
        if self.text == CheckOptions.text and self.hours != CheckOptions.hours:
            return f"A look at every armed set at least once in {self.hours:g} hours."
        return self.text


@dataclass(frozen=True, kw_only=True)
class DueCheck:
    """When an armed set must be looked at next.

    Attributes:
        last_row: The row of the last look, or of arming.
        last_night: Its evening date.
        due: Latest moment that keeps the rule whatever time of its night the last look was.
        due_latest: The same if that look was as late in its night as it can have been; equal to `due` where the row
            has a time.
        state: `overdue` after `due_latest`, `perhaps overdue` between the two, else `upcoming`.
    """

    site: str
    last_row: int
    last_night: dt.date
    due: dt.datetime
    due_latest: dt.datetime
    state: DueState

    @property
    def time_is_known(self) -> bool:
        """Whether the last look has a clock time."""
        return self.due == self.due_latest


@dataclass(frozen=True, kw_only=True)
class Gap:
    """Time between two looks at an armed set.

    Attributes:
        from_row, to_row: Rows of the two.
        least_hours, most_hours: As far as the times written down allow.
        kept: Whether the rule was kept; None where the times do not say.
    """

    site: str
    from_row: int
    to_row: int
    least_hours: float
    most_hours: float
    kept: bool | None


@dataclass(frozen=True, kw_only=True)
class ClockReport:
    """How the checks stand.

    Attributes:
        now: The moment that is asked about, in the ranch's own time.
        due: One a set still armed, the most pressing first.
        gaps: Every two neighbouring looks at an armed set; in a report those alone that were too long for certain.
        intervals, intervals_unknown: How many there are, and how many whose times do not say whether the rule was kept.
        unchecked: Site and night of each armed night without a check, capture or non-target in the log.
        armed_nights: Nights that were asked of.
        notes: Sentences on the rule and on what is not written down.
    """

    now: dt.datetime
    due: tuple[DueCheck, ...]
    gaps: tuple[Gap, ...]
    unchecked: tuple[tuple[str, dt.date], ...]
    armed_nights: int
    intervals: int = 0
    intervals_unknown: int = 0
    notes: tuple[str, ...] = ()
