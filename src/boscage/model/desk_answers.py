"""What the window's workers answer on rankings, places, rings and whole jobs; like `model.desk`, small and sendable."""

from __future__ import annotations

import copyreg
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from boscage.model.choices import Choice, ChoiceOutcome
from boscage.model.results import FactorReading, Hazard
from boscage.model.rig import NoRing, Ring, Stem
from boscage.model.rig_plan import RigPlan

STEM_STATES = ("usable", "thin", "no tree", "bad", "added", "removed")


def frozen_mapping(held: Mapping[str, Any]) -> MappingProxyType[str, Any]:
    """A mapping that does not change."""
    return MappingProxyType(dict(held))


# Options hold frozen mappings, which cannot be sent as they are.
copyreg.pickle(MappingProxyType, lambda held: (frozen_mapping, (dict(held),)))


@dataclass(frozen=True, kw_only=True)
class SiteEdits:
    """What the operator changed in the window and has not necessarily saved.

    Attributes:
        weights: Weight of factors by name; one that is absent keeps the plan's, 0 leaves it out.
        choices: In place of the plan's `[[choices]]`; None keeps those.
    """

    weights: Mapping[str, float] = field(default_factory=dict)
    choices: tuple[Choice, ...] | None = None


@dataclass(frozen=True, kw_only=True)
class RankedSite:
    """A site as the ranking lists it.

    Attributes:
        bars: What each factor says; points add up to the score.
        label: Its rank, with '=' where the sites of that rank could as well be swapped; '' until steadiness is known.
        top_rank_share, first_share: Shares of draws in which it is first, and among the first few; None likewise.
        low_rank, high_rank: Ranks that it keeps between in nine draws of ten; None likewise.
        pinned, by_hand: Whether the operator pinned or added it.
    """

    site: str
    rank: int
    score: float
    x_m: float
    y_m: float
    lon: float
    lat: float
    ddm: str
    parcel: str
    owner: str
    bars: tuple[FactorReading, ...]
    data_share: float
    support: str
    support_note: str
    why: tuple[str, ...]
    flags: tuple[str, ...]
    label: str = ""
    top_rank_share: float | None = None
    first_share: float | None = None
    low_rank: int | None = None
    high_rank: int | None = None
    pinned: bool = False
    by_hand: bool = False


@dataclass(frozen=True, kw_only=True)
class RankAnswer:
    """A ranking.

    Attributes:
        ranking: Its number, counted up with every ranking of the session.
        sites: In rank order.
        rejected, ruled_out: Choices that are rejected, and those pinned or added that may not be ranked.
        weights: As used, by factor.
        reason: Why there is no site, and the nearest miss; '' otherwise.
        notes: Sentences on the whole ranking.
        moved: Names of sites whose place was not in the ranking before this one of the session.
        cpu_ms, wall_ms: What it took.
    """

    ranking: int
    sites: tuple[RankedSite, ...]
    weights: Mapping[str, float]
    rejected: tuple[ChoiceOutcome, ...] = ()
    ruled_out: tuple[ChoiceOutcome, ...] = ()
    reason: str = ""
    notes: tuple[str, ...] = ()
    moved: tuple[str, ...] = ()
    cpu_ms: float = 0.0
    wall_ms: float = 0.0


@dataclass(frozen=True, kw_only=True)
class StopHere:
    """A hard stop that rules out a place.

    Attributes:
        reason: How far it reaches and what to know, one sentence; '' for none.
        where: `here`, or `the middle of the cell` where the place itself is outside the stop and its cell is not.
        rule, citation, checked, grade: Of the rule behind it; '' where none was needed.
        stale: Whether the rule was checked more than a year before the plan's date.
    """

    name: str
    title: str
    reason: str
    where: str
    rule: str = ""
    citation: str = ""
    checked: str = ""
    grade: str = ""
    stale: bool = False


@dataclass(frozen=True, kw_only=True)
class PlaceAnswer:
    """Everything that is known of one place.

    Attributes:
        decimal, ddm, usng: The place in the forms that people read, WGS 84.
        access: `granted`, `refused`, `unknown`, or '' outside every parcel.
        stops: Hard stops that rule it out.
        not_applied: Sentences on stops for which there were no data; that is not the same as none.
        readings: What every factor says; empty off the scoring grid.
        score: Of 100, from the readings, whether it is ruled out or not; None where too little is known.
        score_note: Why there is no score, or ''.
        hazards: The nearest of each kind of thing to keep away from; empty where no land is granted.
        way, seen, ground: Sentences on the way in, on who sees it and on the ground; `way` and `seen` are empty where
            they were not asked for (`has_ways`).
        way_line: (east, north) of the way in, empty without one.
        nearest_site: Name of the nearest ranked site, or ''; nearest_m is how far.
    """

    x_m: float
    y_m: float
    decimal: str
    ddm: str
    usng: str
    parcel: str
    owner: str
    access: str
    stops: tuple[StopHere, ...]
    not_applied: tuple[str, ...]
    readings: tuple[FactorReading, ...]
    score: float | None
    score_note: str
    elevation_m: float | None
    hazards: tuple[Hazard, ...]
    ground: tuple[str, ...]
    support: str
    has_ways: bool = False
    way: tuple[str, ...] = ()
    seen: tuple[str, ...] = ()
    way_line: tuple[tuple[float, float], ...] = ()
    nearest_site: str = ""
    nearest_m: float | None = None
    wall_ms: float = 0.0


@dataclass(frozen=True, kw_only=True)
class RigRequest:
    """A ring to be fitted at a place of the ranch.

    Attributes:
        site: Name of a ranked site; '' for the place `at`.
        at: East and north, or None for the site's.
        removed: Stems left out, by id.
        bad: Stems that stand there and hold nothing: dead, leaning, rotten.
        extra: Stems that the map or list lacks; one with the id of another replaces it.
        options: Of the ring, by the names of `RingOptions`, in place of the plan's.
        whole: Whether the whole rig is worked out (straps, stakes, gear, steadiness), which takes longer.
    """

    site: str = ""
    at: tuple[float, float] | None = None
    removed: tuple[str, ...] = ()
    bad: tuple[str, ...] = ()
    extra: tuple[Stem, ...] = ()
    options: Mapping[str, float | bool | None] = field(default_factory=dict)
    whole: bool = False


@dataclass(frozen=True, kw_only=True)
class RigListRequest:
    """A ring to be fitted to a tape-and-compass list as it is typed.

    Attributes:
        columns: Names of the columns, as the head of a stem list has them.
        rows: Cells as typed; blank rows are passed over.
        declination_deg: Of the bearings, or None where nobody stated it.
        removed, bad, options, whole: As in `RigRequest`.
    """

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    declination_deg: float | None = None
    name: str = "typed list"
    removed: tuple[str, ...] = ()
    bad: tuple[str, ...] = ()
    options: Mapping[str, float | bool | None] = field(default_factory=dict)
    whole: bool = False


@dataclass(frozen=True, kw_only=True)
class RowFault:
    """A row that is left out of a list.

    Attributes:
        row: Counted from 1 in the rows as typed; 0 for the list as a whole.
        field: Column, or ''.
        sentence: What is wrong and how to mend it.
    """

    row: int
    field: str
    sentence: str


@dataclass(frozen=True, kw_only=True)
class ShownStem:
    """A stem with what it counts for: one of `STEM_STATES`."""

    stem: Stem
    state: str


@dataclass(frozen=True, kw_only=True)
class RigAnswer:
    """The ring at a place or of a list.

    Attributes:
        ring: The exact best ring of the stems, or why there is none.
        plan: Everything that is needed to rig it; None where it was not asked for or there is no ring.
        stems: All stems with what they count for.
        faults: Rows left out of a typed list.
        source: Where the stems come from, in words.
        mapped: Whether they are seen from above: places and diameters are estimates.
        frame: `crs` or `pivot`: what the places are counted in.
        doubts: Sentences on what may be wrong.
        cpu_ms: What it took.
    """

    name: str
    ring: Ring | NoRing
    plan: RigPlan | None
    stems: tuple[ShownStem, ...]
    source: str
    mapped: bool
    frame: str
    faults: tuple[RowFault, ...] = ()
    doubts: tuple[str, ...] = ()
    cpu_ms: float = 0.0


@dataclass(frozen=True, kw_only=True)
class JobRequest:
    """A whole job.

    Attributes:
        plan: Path of the plan file.
        out: Folder to write in; '' for `out` beside the plan.
        sites: Names of sites, for jobs that take them.
        options: Of the job: `sheets` and `fresh` of scout, `masked` of share, `owner` and `exact` of report.
    """

    plan: str
    out: str = ""
    sites: tuple[str, ...] = ()
    options: Mapping[str, bool | str] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class JobDone:
    """A job that ran to its end.

    Attributes:
        folder: Where its files are.
        files: Those that it wrote or wrote again.
        fits: Whether anything fits: False where there is no site or no ring, which the sentences explain.
        sentences: What came of it.
    """

    verb: str
    folder: str
    files: tuple[str, ...]
    fits: bool
    sentences: tuple[str, ...] = ()
    wall_s: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Failure:
    """Why a request failed.

    Attributes:
        sentence: What is wrong and how to mend it, for people.
        file, layer, field, row: Where, as far as known.
        is_fault: Whether it is a fault of the program and not of what was given.
    """

    sentence: str
    file: str = ""
    layer: str = ""
    field: str = ""
    row: int | None = None
    is_fault: bool = False
