"""Results: frozen, and carrying what they were made from. Sheets and exports draw them and compute nothing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from boscage.model.choices import ChoiceOutcome
from boscage.model.exposure import Exposure
from boscage.model.findings import Evidence, Move, Standing, Together
from boscage.model.ground import GroundField
from boscage.model.journey import Journey, NoWay
from boscage.model.layers import LayerReport
from boscage.model.ledger_clock import ClockReport
from boscage.model.pack import PackPlan
from boscage.model.plan import Plan
from boscage.model.rules import Rule
from boscage.model.soil import GroundAnswer
from boscage.model.weights import SteadinessOptions, Weighting
from boscage.values import Grid


@dataclass(frozen=True, kw_only=True)
class Place:
    """One place in the forms that people read.

    Attributes:
        x_m, y_m: East and north in the ranch's CRS.
        lon, lat: WGS 84 decimal degrees.
        decimal: Such as `36.214567 N  092.704321 W`.
        ddm: Degrees decimal minutes, such as `36 12.874 N  092 42.259 W`.
        usng: United States National Grid to 1 m, such as `15S WA 12345 67890`.
        convergence_deg: Grid north from true north, east positive.
    """

    x_m: float
    y_m: float
    lon: float
    lat: float
    decimal: str
    ddm: str
    usng: str
    convergence_deg: float
    datum: str = "WGS 84"


@dataclass(frozen=True, kw_only=True)
class FactorReading:
    """What one factor says of one site.

    Attributes:
        value: 0..1, or None where there are no data.
        weight: The plan's weight.
        points: What it adds to the score, in points of 100; 0 where there are no data.
        sentence: A figure and a unit in words.
    """

    name: str
    title: str
    value: float | None
    weight: float
    points: float
    sentence: str


@dataclass(frozen=True, kw_only=True)
class Hazard:
    """The nearest thing of one kind.

    Attributes:
        kind: Stop or layer it belongs to.
        title: What people read.
        distance_m: From the site's middle; None where the layer is missing or empty.
        bearing_deg: From the site, true; None where the distance is.
        detail: Name or class of the thing, or why there is no distance.
        source: Source and date of the data, or a statement that they are missing.
    """

    kind: str
    title: str
    distance_m: float | None
    bearing_deg: float | None
    detail: str
    source: str


@dataclass(frozen=True, kw_only=True)
class Site:
    """A ranked place for a set.

    Attributes:
        journey: The way there and back with the gear, why there is none, or None where ways are not mapped.
        exposure: Who sees it, or None where nobody's places are mapped.
        ground: What the ground allows there, or None without soil map and readings.
        standing: How firm its rank is, or None where that was not asked for.
        seen_by: What cameras near it saw, sentences; empty without cameras near.
    """

    site: str
    rank: int
    score: int
    exact_score: float
    place: Place
    parcel: str
    owner: str
    readings: tuple[FactorReading, ...]
    data_share: float
    support: str
    support_note: str
    why: tuple[str, ...]
    hazards: tuple[Hazard, ...]
    elevation_m: float | None = None
    journey: Journey | NoWay | None = None
    exposure: Exposure | None = None
    ground: GroundAnswer | None = None
    standing: Standing | None = None
    seen_by: tuple[str, ...] = ()
    flags: tuple[str, ...] = ()

    @property
    def way_in(self) -> NDArray[np.float64] | None:
        """The whole way in, (N, 2) east and north, or None."""
        return self.journey.line if isinstance(self.journey, Journey) and self.journey.inward else None


@dataclass(frozen=True, kw_only=True)
class StopArea:
    """One hard stop with the ground it rules out.

    Attributes:
        name: Key of the stop.
        title: What people read.
        hectares: Ground ruled out on all parcels.
        geometry: Shapely (multi)polygon clipped to the parcels, in the ranch's CRS.
        rule: The rule applied, or None where none was needed.
        distance_m: Reach applied, or None.
        stale: Whether the rule was checked more than a year before the plan's date.
        note: Why it was not applied or what to know, or ''.
        applied: Whether there were data to apply it.
    """

    name: str
    title: str
    hectares: float
    geometry: Any
    rule: Rule | None
    distance_m: float | None
    stale: bool
    note: str = ""
    applied: bool = True


@dataclass(frozen=True, kw_only=True)
class ScoutResult:
    """The ranking of one ranch.

    Attributes:
        score: (rows, cols) float32 0..100; NaN where ruled out, without permission or without enough data.
        stopped: (rows, cols) bool, ruled out by any hard stop.
        sites: In rank order; may be empty, then `reason` says why and names the nearest miss.
        notes: Sentences on the whole run: defaults used, factors without data.
        ground: The soil of the ranch, or None without soil map and readings.
        evidence: What sign and cameras say, or None without either.
        moves: Places whose rank changed since the run before, the best first; None where there was no run before.
        weighting: Where the weights come from and how consistent they are.
        steadiness: What was drawn to see how firm the ranks are.
        together: Which sites together, or None where there is no use to cover.
        choices: What became of each of the plan's choices, in its order.
    """

    plan: Plan
    grid: Grid
    score: NDArray[np.float32]
    stopped: NDArray[np.bool_]
    sites: tuple[Site, ...]
    stops: tuple[StopArea, ...]
    reports: tuple[LayerReport, ...]
    ranch_ha: float
    granted_ha: float
    open_ha: float
    notes: tuple[str, ...] = ()
    reason: str = ""
    factor_weights: Mapping[str, float] = field(default_factory=dict)
    ground: GroundField | None = None
    evidence: Evidence | None = None
    moves: tuple[Move, ...] | None = None
    weighting: Weighting | None = None
    steadiness: SteadinessOptions | None = None
    together: Together | None = None
    choices: tuple[ChoiceOutcome, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.sites)

    @property
    def missing_layers(self) -> tuple[str, ...]:
        """Optional layers that the plan does not give or that hold nothing usable."""
        return tuple(r.name for r in self.reports if r.state == "missing")


@dataclass(frozen=True, kw_only=True)
class PackResult:
    """The load plan of some sites, with the plan that it was made from."""

    plan: Plan
    pack: PackPlan


@dataclass(frozen=True, kw_only=True)
class CheckResult:
    """What `boscage check` found.

    Attributes:
        crs: The ranch's CRS, or '' when the parcels could not be read.
        crs_reason: Why this CRS.
        owners: (owner, access, hectares) rows.
        clock: Of checks of armed sets, or None without a log that can be read; `zone` is its time zone in words.
    """

    plan: Plan
    crs: str
    crs_reason: str
    reports: tuple[LayerReport, ...]
    owners: tuple[tuple[str, str, float], ...] = ()
    ranch_ha: float = 0.0
    rules: tuple[Rule, ...] = ()
    notes: tuple[str, ...] = ()
    clock: ClockReport | None = None
    zone: str = "UTC"

    @property
    def errors(self) -> tuple[LayerReport, ...]:
        """Layers that are wrong."""
        return tuple(r for r in self.reports if r.state == "wrong")


@dataclass(frozen=True, kw_only=True)
class Backdrop:
    """What a map is drawn on: arrays and features for one stretch of ground, already read.

    Attributes:
        grid: Frame of the terrain and canopy arrays.
        elevation: (rows, cols) m, or None.
        cover: (rows, cols) canopy cover per cent, or None.
        canopy_top: (rows, cols) canopy height m, or None.
        vectors: GeoDataFrames by plan key, clipped roughly to the stretch.
        date: The plan's date (ages of sign are drawn from it).
    """

    grid: Grid
    date: dt.date
    elevation: NDArray[np.float32] | None = None
    cover: NDArray[np.float32] | None = None
    canopy_top: NDArray[np.float32] | None = None
    vectors: Mapping[str, Any] = field(default_factory=dict)
