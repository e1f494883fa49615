"""The way to a place with the gear and back: how the plan states it, and what comes of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from boscage.model.options import option
from boscage.values import Mass

VEHICLE, ATV, FOOT = "vehicle", "atv", "foot"
GATE_M = 30.0  # a gate this near a way stands on it
NOT_KNOWN = "No road or track that may be used is mapped: the way in is not known."
LEG_WORDS: Mapping[str, str] = MappingProxyType({VEHICLE: "by vehicle", ATV: "by ATV", FOOT: "on foot"})
CHANGE_WORDS: Mapping[str, str] = MappingProxyType({VEHICLE: "to vehicle", ATV: "to ATV", FOOT: "on foot"})


@dataclass(frozen=True, kw_only=True)
class TravelOptions:
    """`[travel]`: how the crew and the gear get to a place."""

    road_kmh: float = option(40.0, help="Speed of the vehicle on roads.", unit="km/h", low=5, high=130, grade="C")
    track_kmh: float = option(15.0, help="Speed of the vehicle on tracks.", unit="km/h", low=2, high=80, grade="C")
    gate_min: float = option(2.0, help="Time to pass a gate.", unit="min", low=0, high=60, grade="C")
    ford_min: float = option(
        1.0, help="Time lost where a road or track crosses mapped water.", unit="min", low=0, high=60, grade="C"
    )
    atv: bool = option(True, help="Whether there is an ATV.")
    atv_min: float = option(
        10.0, help="Time to unload the ATV and load the gear on it.", unit="min", low=0, high=120, grade="C"
    )
    atv_track_kmh: float = option(
        15.0, help="Speed of the ATV on level tracks.", unit="km/h", low=1, high=60, grade="C"
    )
    atv_open_kmh: float = option(
        8.0, help="Speed of the ATV on level open ground.", unit="km/h", low=1, high=60, grade="C"
    )
    atv_timber_kmh: float = option(
        4.0, help="Speed of the ATV under full canopy, level; in between by cover.", unit="km/h", low=0.5, high=60,
        grade="C",
    )  # fmt: skip
    atv_slows: float = option(
        2.0, help="The ATV's speed falls as exp(-this times the slope).", low=0.0, high=20.0, grade="C"
    )
    atv_up_deg: float = option(
        15.0, help="Steepest slope the ATV goes up. Makers list something less than 25 degrees for an adult ATV.",
        unit="degrees", low=0, high=25, grade="C",
    )  # fmt: skip
    atv_down_deg: float = option(
        20.0, help="Steepest slope the ATV goes down.", unit="degrees", low=0, high=25, grade="C"
    )
    atv_across_deg: float = option(
        10.0, help="Steepest side slope for the ATV; many makers warn against riding across slopes at all.",
        unit="degrees", low=0, high=25, grade="C",
    )  # fmt: skip
    atv_cover_pct: float = option(
        95.0, help="Canopy cover over which the ATV stays out.", unit="per cent", low=0, high=100, grade="C"
    )
    atv_stems_ha: float = option(
        700.0, help="Mapped trees a hectare over which the ATV stays out.", low=1, high=100000, grade="C"
    )
    pack_min: float = option(
        5.0,
        help="Time to take the gear off the ATV or vehicle and shoulder it.",
        unit="min",
        low=0,
        high=120,
        grade="C",
    )
    open_share: float = option(
        0.6,
        help="Share of Tobler's path speed that is kept off the path on open ground.",
        low=0.05,
        high=1.0,
        grade="V",
    )
    timber_share: float = option(
        0.5, help="The same under full canopy; in between by cover.", low=0.05, high=1.0, grade="V"
    )
    load_slows: float = option(
        0.2, help="Share of walking speed lost at the full load a person carries; less load, less loss.", low=0.0,
        high=0.9, grade="C",
    )  # fmt: skip
    creek_min: float = option(2.0, help="Time to cross a mapped creek on foot.", unit="min", low=0, high=60, grade="C")
    fence_min: float = option(1.0, help="Time to cross a fence on foot.", unit="min", low=0, high=60, grade="C")
    people: int = option(2, help="People who carry.", low=1, high=20)
    carry_limit: Mass = option(Mass(27.215542), help="Most load on one back.", low=5.0, high=60.0, grade="C")
    body: Mass = option(Mass(80.0), help="Mass of a person, for the energy.", low=30.0, high=200.0, grade="C")
    own_gear: Mass = option(
        Mass(5.0), help="What each person carries besides the set's gear: water, radio, first aid.", low=0.0, high=40.0,
        grade="C",
    )  # fmt: skip

    def __post_init__(self) -> None:
        if self.atv_timber_kmh > self.atv_open_kmh or self.atv_open_kmh > self.atv_track_kmh:
            raise ValueError(
                "the ATV's speeds must not rise from track to open ground to timber: atv_track_kmh, atv_open_kmh, "
                "atv_timber_kmh"
            )


@dataclass(frozen=True, kw_only=True)
class Load:
    """What is to be carried to a place: mass in kilograms, and whose figure it is."""

    mass_kg: float
    note: str


@dataclass(frozen=True, kw_only=True, eq=False)
class Leg:
    """One leg of a journey.

    Attributes:
        kind: `vehicle`, `atv` or `foot`.
        line: (N, 2) east and north in the direction of travel, metres.
        elevation_m: (N,) ground under the line; NaN where there are no data.
        minutes: Moving, without the change-over before it.
        change_min: Change-over before it.
        distance_m: Over the map.
        climb_m, descent_m: Sums of the rises and falls along the line, both 0 or more; NaN without terrain.
    """

    kind: str
    line: NDArray[np.float64]
    elevation_m: NDArray[np.float64]
    minutes: float
    change_min: float
    distance_m: float
    climb_m: float
    descent_m: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Journey:
    """The least-time way to a place with a load, and the least-time way back to where the vehicles stand.

    Attributes:
        start: Where it begins, in words.
        inward, outward: Legs in order of travel.
        load_kg: The load of the set; load_note says whose figure it is.
        trips: Loaded carries until all of it is there.
        share_kg: Load of the set on one back on each of them.
        carry_min: On foot until the whole load is there, with the empty walks back.
        kcal: Energy of one person for that; 0 without a carry.
        crossings: What is crossed or passed on the way in, in words: gates, fords, creeks, fences.
    """

    start: str
    inward: tuple[Leg, ...]
    outward: tuple[Leg, ...]
    load_kg: float
    load_note: str
    trips: int
    share_kg: float
    carry_min: float
    kcal: float
    crossings: tuple[str, ...] = ()

    @property
    def minutes_in(self) -> float:
        """From the start to the place once, with the first load."""
        return sum(leg.minutes + leg.change_min for leg in self.inward)

    @property
    def minutes_out(self) -> float:
        """From the place back to the start once, with a load."""
        return sum(leg.minutes + leg.change_min for leg in self.outward)

    @property
    def carry(self) -> Leg | None:
        """The last leg in, if it is on foot."""
        return self.inward[-1] if self.inward and self.inward[-1].kind == FOOT else None

    @property
    def line(self) -> NDArray[np.float64]:
        """The whole way in, (N, 2)."""
        return np.concatenate([leg.line for leg in self.inward])


@dataclass(frozen=True, kw_only=True)
class NoWay:
    """A place that cannot be reached, and what bars the nearest way. Falsy.

    Attributes:
        reason: One sentence.
        barriers: Words for each kind of barrier on the nearest way.
    """

    reason: str
    barriers: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        return False
