"""How lines of sight are counted: who looks from where, and how vegetation hides."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from boscage.model.factor import FactorOptions
from boscage.model.options import ValuePoints, option
from boscage.values import Length

# Kinds of watchers with the option that says how many people a day pass there (or look out, for a dwelling).
WATCHER_KINDS: Mapping[str, str] = MappingProxyType({
    "public road": "public_road_a_day", "road": "road_a_day", "track": "track_a_day", "trail": "trail_a_day",
    "dwelling": "dwelling_a_day", "parcel line": "parcel_line_a_day",
})  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class ConcealmentOptions(FactorOptions):
    """`[factors.concealment]`."""

    weight: float = option(2.0, help="Weight in the score.", low=0.0, high=1000.0, grade="C")
    value: ValuePoints = option(
        ((0.0, 1.0), (0.1, 0.9), (1.0, 0.5), (10.0, 0.1), (50.0, 0.0)),
        help="Value by expected sightings a day, of the net's top and of the crew together.",
        grade="C",
    )
    within: Length = option(Length(600.0), help="How far people are counted from.", low=10.0, high=5000.0, grade="C")
    spacing: Length = option(Length(25.0), help="Distance between two sampled places.", low=1.0, high=500.0)
    look_every: Length = option(
        Length(50.0), help="A passer-by looks at the place once on each such stretch.", low=1.0, high=1000.0, grade="C"
    )
    public_road_a_day: float = option(40.0, help="People a day on a public road.", low=0, high=100000, grade="C")
    road_a_day: float = option(4.0, help="People a day on a ranch road.", low=0, high=100000, grade="C")
    track_a_day: float = option(1.0, help="People a day on a track.", low=0, high=100000, grade="C")
    trail_a_day: float = option(0.5, help="People a day on a trail.", low=0, high=100000, grade="C")
    dwelling_a_day: float = option(20.0, help="Looks a day out of a dwelling.", low=0, high=100000, grade="C")
    parcel_line_a_day: float = option(
        0.2, help="People a day along the far side of the line of the granted land.", low=0, high=100000, grade="C"
    )
    eye: Length = option(Length(1.6), help="Height of the eyes of who looks.", low=0.5, high=10.0, grade="C")
    person: Length = option(Length(1.8), help="Height of the crew at the set.", low=0.5, high=5.0, grade="C")
    activity_share: float = option(
        0.1, help="Share of the looks that fall while the crew is at the set.", low=0.0, high=1.0, grade="C"
    )
    hidden_at: Length = option(
        Length(60.96), help="Distance at which vegetation of full cover hides nine tenths (hiding cover).", low=5.0,
        high=1000.0, grade="V",
    )  # fmt: skip
    full_cover: float = option(
        100.0, help="Canopy cover that counts as full cover; less cover hides in proportion.", unit="per cent", low=1.0,
        high=100.0, grade="C",
    )  # fmt: skip
    unmapped_top: Length = option(
        Length(6.0), help="Canopy top taken where cover is mapped and height is not.", low=0.0, high=60.0, grade="C"
    )

    @property
    def extinction_per_m(self) -> float:
        """Extinction k of full cover: exp(-k * hidden_at) = 0.1.

        >>> round(ConcealmentOptions().extinction_per_m, 5)
        0.03777
        """
        return math.log(10.0) / self.hidden_at.m

    def a_day(self, kind: str) -> float:
        """People a day for a kind of watcher."""
        return float(getattr(self, WATCHER_KINDS[kind]))
