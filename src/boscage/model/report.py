"""The landowner's report: what was asked for, what was done night by night and set by set, what comes next."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from boscage.model.ledger import LogProblem
from boscage.model.ledger_clock import ClockReport
from boscage.model.ledger_effort import Captures, Effort, GroupsTaken, Rate, Rates
from boscage.model.ledger_land import Covered, DamageChange, NoComparison
from boscage.model.ledger_removal import Removal
from boscage.model.plan import Plan
from boscage.values import Bounds

Role = str
ROLES: tuple[Role, ...] = ("crew", "operator", "supervisor", "landowner")
MOST_LETTERS = 60


def counted(number: int, word: str) -> str:
    """A number with its word in the right form.

    >>> counted(1, "row"), counted(2, "row"), counted(0, "catch")
    ('1 row', '2 rows', '0 catches')
    """
    many = f"{word}es" if word.endswith(("ch", "s", "x")) else f"{word}s"
    return f"{number:,} {word if number == 1 else many}"


def listed(names: Sequence[str], most: int = 12) -> str:
    """Some names, very long ones cut, and how many more there are.

    >>> listed(["a", "b", "c"], 2), listed(["a"])
    ('a, b and 1 more', 'a')
    """
    more = f" and {len(names) - most:,} more" if len(names) > most else ""
    return ", ".join(n if len(n) <= MOST_LETTERS else f"{n[: MOST_LETTERS - 1]}…" for n in names[:most]) + more


def square_side(plan: Plan) -> float:
    """Side of the squares of a masked copy, metres: one for all that is shared, so that two copies do not narrow it."""
    return (plan.report.square or plan.share.square).m


@dataclass(frozen=True, kw_only=True)
class ReportAsk:
    """What `boscage report` is asked for.

    Attributes:
        owner: Only this owner's land, or None for all.
        exact: Whether exact places may be written.
        now: The moment that checks are counted at, in the ranch's own time; None for the plan's.
    """

    owner: str | None = None
    exact: bool = False
    now: dt.datetime | None = None


@dataclass(frozen=True, kw_only=True)
class SetLine:
    """One set of the log.

    Attributes:
        first, last: Evening dates of its first and last row.
        prebait, open, armed: Nights in each state.
        checks, events, animals: Rows that are checks, capture nights, animals caught.
        nontargets: Rows of other animals.
        hours: Person-hours written down at it; NaN for none.
        unchecked: Armed nights without a look in the log.
        state: Where it stands at the end: a state with its first night, `pulled`, or ''.
        places: How many places it stood at, a move of less than a few steps left out; 0 where none is known.
        parcel: In which it stood last, or ''; left out of a masked copy.
        x_m, y_m: Where it stood last; NaN where not known, and in a masked copy.
        square: The square in which it stood last, in a masked copy; None where not known.
    """

    site: str
    first: dt.date
    last: dt.date
    prebait: int
    open: int
    armed: int
    checks: int
    events: int
    animals: int
    nontargets: int
    hours: float
    unchecked: int
    state: str
    places: int
    parcel: str = ""
    x_m: float = float("nan")
    y_m: float = float("nan")
    square: Bounds | None = None


@dataclass(frozen=True, kw_only=True)
class NightLine:
    """One night, all sets together: sets in each state, checks, capture events and animals."""

    night: dt.date
    prebait: int = 0
    open: int = 0
    armed: int = 0
    checks: int = 0
    events: int = 0
    animals: int = 0


@dataclass(frozen=True, kw_only=True)
class UseShare:
    """How much of what sign shows of use lay within the covered land, for sign of some days.

    Attributes:
        begin, end: First and last day of the sign.
        signs: How many, on land with permission and off it.
        share: Of use on land with permission, 0..1; NaN from too few signs.
    """

    begin: dt.date
    end: dt.date
    signs: int
    share: float


@dataclass(frozen=True, kw_only=True)
class UseCovered:
    """The surface of use within the covered land, before the first armed night and after the last capture.

    Attributes:
        before, after: None where there are no such days or no sign layer.
        notes: Sentences.
    """

    before: UseShare | None = None
    after: UseShare | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class SignChange:
    """Fresh sign counted on the same transects before and after, per kilometre walked."""

    before: Rate
    after: Rate


@dataclass(frozen=True, kw_only=True)
class DamageFound:
    """Damage and sign on transects.

    Attributes:
        change: Of damage, or why there is none; None where no survey is given.
        sign: None where it was not counted on the same transects both times.
        days: First and last day of each survey, before and after, where every transect is dated.
        notes: Sentences.
    """

    change: DamageChange | NoComparison | None = None
    sign: SignChange | None = None
    days: tuple[tuple[dt.date, dt.date] | None, tuple[dt.date, dt.date] | None] = (None, None)
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class NextStep:
    """Something to be done.

    Attributes:
        what: One sentence.
        who: One of `ROLES`.
        by: Until when, or None.
        urgent: Whether it is late already.
    """

    what: str
    who: Role
    by: dt.date | None = None
    urgent: bool = False


@dataclass(frozen=True, kw_only=True)
class Quality:
    """What the figures rest on.

    Attributes:
        rows: Of the log.
        aside: Rows set aside until they are mended; `animals_aside` are those they seem to hold.
        listed: Rows with anything to be said of, those set aside among them.
        without_hours: Rows without hours.
        gaps, gaps_unknown: Intervals between looks at armed sets, and those whose times do not say how long they were.
        late: Intervals that were longer than the rule allows for certain.
        unchecked: Armed nights without a look.
        unplaced: Armed sets without a place.
        groups_unknown: Groups without a count.
    """

    rows: int
    aside: int
    animals_aside: int
    listed: int
    without_hours: int
    gaps: int
    gaps_unknown: int
    late: int
    unchecked: int
    unplaced: int
    groups_unknown: int


@dataclass(frozen=True, kw_only=True)
class ReportResult:
    """Everything that the report says; sheets and files draw it and compute nothing.

    Attributes:
        plan: What it was made from.
        crs: Of all places.
        zone: The time zone of clock times, in words.
        owner: The owner whose land alone it is of, or ''.
        masked: Whether places are blurred; then no exact place is held here.
        nights: Every night from the first row to the last, in order.
        sets: In order of first appearance.
        clock: Of checks, or None where the log has no armed set.
        pieces: Covered ground of each of `covered.parcels`, as it may be drawn.
        blur_m: Farthest that a drawn circle's middle lies from its set, 0 in an exact copy.
        camera_groups: Groups that cameras saw and that no group of the log is said to be: name, most seen at one time,
            last night.
        convergence_deg: Grid north from true north in the middle of the land, east positive; None for not worked out.
        problems: Rows of the log with what is wrong; `hidden` more belong to nobody in particular or to others.
        notes: Sentences on what was read.
    """

    plan: Plan
    crs: str
    zone: str
    owner: str
    masked: bool
    sets: tuple[SetLine, ...]
    nights: tuple[NightLine, ...]
    effort: Effort
    captures: Captures
    rates: Rates
    groups: GroupsTaken
    covered: Covered
    pieces: tuple[Any, ...]
    damage: DamageFound
    removal: Removal
    clock: ClockReport
    use: UseCovered
    steps: tuple[NextStep, ...]
    quality: Quality
    blur_m: float = 0.0
    convergence_deg: float | None = None
    camera_groups: tuple[tuple[str, int, dt.date], ...] = ()
    problems: tuple[LogProblem, ...] = ()
    hidden: int = 0
    notes: tuple[str, ...] = ()

    @property
    def begin(self) -> dt.date | None:
        """First night of the log, or None of an empty one."""
        return self.nights[0].night if self.nights else None

    @property
    def end(self) -> dt.date | None:
        """Last night with a row or a standing set, or None."""
        return self.nights[-1].night if self.nights else None


@dataclass(frozen=True, kw_only=True)
class SeasonLine:
    """One plan in a summary: a ranch in a season.

    Attributes:
        ranch, season, crew: As the plan says; crew '' where it does not.
        covered_ha, granted_ha: Covered land with permission, and all of it.
        radius_m: That covered land was counted with.
        missing: Least number known to be alive; `groups_known`, `groups_complete` as in the report.
    """

    ranch: str
    season: str
    crew: str
    begin: dt.date | None
    end: dt.date | None
    effort: Effort
    captures: Captures
    rates: Rates
    groups_known: int
    groups_complete: int
    missing: int
    covered_ha: float
    granted_ha: float
    radius_m: float
    quality: Quality


@dataclass(frozen=True, kw_only=True)
class SeasonTotal:
    """Several lines of a summary together, by the same definitions.

    Attributes:
        kind: `all`, `crew` or `land`.
        name: Of the crew or the ranch.
        lines: How many.
        covered_ha: Their covered land, ground that several seasons covered counted once; NaN where it cannot be added.
    """

    kind: str
    name: str
    lines: int
    sites: int
    armed_nights: int
    open_nights: int
    prebait_nights: int
    checks: int
    hours: float
    animals: int
    events: int
    by_class: tuple[int, ...]
    rates: Rates
    missing: int
    covered_ha: float
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class SeasonResult:
    """A summary of several seasons or ranches.

    Attributes:
        plan: The first plan, for paper, units and date of print.
        lines: In the order given.
        totals: All together, then by crew, then by land.
        notes: Sentences.
    """

    plan: Plan
    lines: tuple[SeasonLine, ...]
    totals: tuple[SeasonTotal, ...]
    notes: tuple[str, ...] = field(default=())

    def of(self, kind: str) -> Sequence[SeasonTotal]:
        """Totals of one kind."""
        return [t for t in self.totals if t.kind == kind]
