"""The helicopter's brief: what `[brief]` states for it, and the whole answer of `boscage drop`."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boscage.model.drop import (
    AirDensity,
    Daylight,
    DropPoint,
    LandingPlace,
    Leg,
    Misread,
    NoDrop,
    TerrainLight,
)
from boscage.model.journey import NoWay
from boscage.model.layers import LayerReport
from boscage.model.pack import PackItem
from boscage.model.plan import Plan
from boscage.model.results import Hazard, Place
from boscage.values import Grid


@dataclass(frozen=True, kw_only=True)
class Base:
    """Where the helicopter starts.

    Attributes:
        elevation_m: Of the ground, or None.
        declination_deg: Magnetic from true north there, east positive.
        air: There, or None where temperature, altimeter setting or elevation is not stated.
    """

    name: str
    place: Place
    elevation_m: float | None
    declination_deg: float
    air: AirDensity | None


@dataclass(frozen=True, kw_only=True, eq=False)
class CarryOver:
    """The walk from the drop point to the set with what came down.

    Attributes:
        line: (N, 2) east and north in the direction of travel.
        minutes: One loaded walk there.
        trips: Loaded walks that the whole crew makes.
        share_kg: Load on one back on each of them.
        all_min: Until everything is there, with the empty walks back.
        climb_m: Sum of the rises, or NaN without terrain.
    """

    line: NDArray[np.float64]
    distance_m: float
    minutes: float
    trips: int
    share_kg: float
    all_min: float
    climb_m: float


@dataclass(frozen=True, kw_only=True)
class Landing:
    """A place to land near a drop point, in every form of coordinates; a screen and no more.

    Attributes:
        away_m, bearing_deg: From the drop point, true bearing.
    """

    found: LandingPlace
    place: Place
    away_m: float
    bearing_deg: float


@dataclass(frozen=True, kw_only=True, eq=False)
class DropSite:
    """One site that is served by a drop.

    Attributes:
        point: The gap, with wires, floor and trees near.
        place: Of the drop point; `set_place` of the set, which stands under trees.
        set_bearing_deg: From the drop point to the set, true.
        declination_deg: Magnetic from true north, east positive.
        air: At the drop point, or None where something is not stated.
        light: When the sun comes over the terrain there.
        carry: The walk to the set, why there is none, or None where it was not worked out.
        hazards: The nearest thing of each kind, from the drop point.
        flags: What must not be overlooked, sentences.
    """

    site: str
    parcel: str
    owner: str
    point: DropPoint
    place: Place
    set_place: Place
    set_bearing_deg: float
    declination_deg: float
    air: AirDensity | None
    light: TerrainLight
    misreads: tuple[Misread, ...]
    carry: CarryOver | NoWay | None
    landings: tuple[Landing, ...]
    hazards: tuple[Hazard, ...]
    flags: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class SlungItem:
    """So many pieces of one item in a load."""

    item: PackItem
    count: int


@dataclass(frozen=True, kw_only=True)
class SlungLoad:
    """What hangs on the hook for one drop.

    Attributes:
        number: From 1, in the order in which loads are flown.
        flight: Flight that takes it, from 1; `order` its place among the loads set down on that flight, from 1.
            Both 0 for a load over the limit, which is not flown.
        items_kg: Mass of the items; `estimated_kg` is the part of it that nobody weighed.
        rigging_kg: Line, swivel and sling net together, or None where nobody stated them.
    """

    number: int
    site: str
    flight: int
    order: int
    items: tuple[SlungItem, ...]
    items_kg: float
    estimated_kg: float
    rigging_kg: float | None

    @property
    def total_kg(self) -> float | None:
        """Items and rigging, or None where the rigging's mass is not known."""
        return None if self.rigging_kg is None else self.items_kg + self.rigging_kg


@dataclass(frozen=True, kw_only=True)
class FlightRound:
    """One flight from the base and back.

    Attributes:
        loads: Numbers of its loads, in the order in which they are set down.
        minutes: In the air between places, or None where no speed is stated; setting down is not in it.
    """

    number: int
    loads: tuple[int, ...]
    legs: tuple[Leg, ...]
    mass_kg: float
    minutes: float | None


@dataclass(frozen=True, kw_only=True, eq=False)
class DropResult:
    """Everything that the brief prints.

    Attributes:
        grid: Frame of the plan's scene; its CRS is that of all places.
        base: Or None where the plan states none; then there are no flights and legs.
        drops: In the order of the sites asked for.
        none: Sites without a gap that serves, and why.
        loads: In the order flown; those over the limit last.
        is_least: Whether it is proven that no other division and order of the loads takes less.
        by_foot: What the crew brings itself, not slung: tools, aid, water.
        daylight: At the base, else at the first drop; None without either.
        magnetic_error_deg: One standard error of the declination by the model's own error model; 0 where it is stated.
        reports: Of the layers that hold hazards: what was searched, from whom and when.
        not_searched: What nobody looked for, in words; never empty.
        hospital, evacuation, road_end: The places that `[brief]` states, or None where it states none.
    """

    plan: Plan
    grid: Grid
    base: Base | None
    drops: tuple[DropSite, ...]
    none: tuple[NoDrop, ...]
    loads: tuple[SlungLoad, ...]
    rounds: tuple[FlightRound, ...]
    is_least: bool
    by_foot: tuple[PackItem, ...]
    daylight: Daylight | None
    magnetic_error_deg: float
    reports: tuple[LayerReport, ...]
    not_searched: tuple[str, ...]
    notes: tuple[str, ...] = ()
    hospital: Place | None = None
    evacuation: Place | None = None
    road_end: Place | None = None

    def __bool__(self) -> bool:
        return bool(self.drops)

    @property
    def over_limit(self) -> tuple[SlungLoad, ...]:
        """Loads heavier than the pilot's limit, which are not flown; with a base, whatever no flight takes."""
        if self.base is not None:
            return tuple(load for load in self.loads if load.flight == 0)
        limit = self.plan.drop.load_limit
        return tuple(x for x in self.loads if limit is not None and x.items_kg + (x.rigging_kg or 0.0) > limit.kg)

    def drop_of(self, site: str) -> DropSite:
        """The drop of a site."""
        return next(d for d in self.drops if d.site == site)
