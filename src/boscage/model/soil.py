"""The ground in figures: horizons, soils, map units, probe readings, and what may be asked of them.

Depths run downward from the surface in centimetres. Percentages: sand and clay of the fine earth by mass, organic
matter by mass, rock fragments of the whole soil by volume, a soil's share of its map unit by area. NaN is 'not known'.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

from boscage.errors import InputError
from boscage.model.options import option
from boscage.model.rules import FLOOD_CLASSES
from boscage.values import Length

Moisture = Literal["dry", "moist", "wet"]
Verdict = Literal["yes", "doubtful", "no", "unknown"]
Hardness = Literal["stops", "slows", "passes"]
ApronKind = Literal["stake", "long stake", "steel pin", "weight"]
MOISTURES: tuple[Moisture, ...] = ("dry", "moist", "wet")
VERDICTS: tuple[Verdict, ...] = ("yes", "doubtful", "no", "unknown")
ORGANIC_FROM_PCT = 34.5
"""Organic matter from which a horizon is organic soil material: 20 % organic carbon (Soil Taxonomy) times 1.724."""


@dataclass(frozen=True, kw_only=True)
class Horizon:
    """One layer of a soil.

    Attributes:
        top_cm, bottom_cm: Depths, bottom below top.
        sand_pct, clay_pct, organic_pct: Of the fine earth.
        bulk_density: Dry, megagrams a cubic metre; at one third bar where the source tells.
        rock_pct: Rock fragments by volume.
        water: Volume fraction of water by moisture, where the source gives it.
        resistance_mpa: Penetration resistance when moist, where the source itself gives it.
        organic: Whether it is organic soil material.
        estimated: What was filled in from something else, in words.
    """

    top_cm: float
    bottom_cm: float
    sand_pct: float = math.nan
    clay_pct: float = math.nan
    organic_pct: float = math.nan
    bulk_density: float = math.nan
    rock_pct: float = math.nan
    water: Mapping[Moisture, float] = field(default_factory=lambda: MappingProxyType({}))
    resistance_mpa: float = math.nan
    organic: bool = False
    estimated: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not 0.0 <= self.top_cm < self.bottom_cm:
            raise InputError(
                f"a horizon runs from {self.top_cm:g} to {self.bottom_cm:g} cm", expected="a bottom below its top"
            )


@dataclass(frozen=True, kw_only=True)
class Restriction:
    """A layer that hinders roots or tools.

    Attributes:
        top_cm: Depth to it.
        kind: In the source's words, such as `Lithic bedrock`.
        hardness: `stops` a post, `slows` it (nobody can tell), or `passes` it (it hinders roots only).
    """

    top_cm: float
    kind: str
    hardness: Hardness = "stops"


@dataclass(frozen=True, kw_only=True)
class Component:
    """One soil of a map unit.

    Attributes:
        percent: Share of the unit, 0..100.
        horizons: From the surface down, none overlapping; empty where nothing is known of the soil.
        flood_class: The year's worst of `FLOOD_CLASSES`, or None where not stated.
        wet_top_cm: Depth to wet soil in each month, January first; inf where none is recorded; empty if not stated.
        ground: False for what is no soil, such as water.
    """

    name: str
    percent: float
    horizons: tuple[Horizon, ...] = ()
    restrictions: tuple[Restriction, ...] = ()
    flood_class: str | None = None
    wet_top_cm: tuple[float, ...] = ()
    ground: bool = True

    def __post_init__(self) -> None:
        if self.flood_class is not None and self.flood_class not in FLOOD_CLASSES:
            raise InputError(f"the flood class is {self.flood_class!r}", expected=", ".join(FLOOD_CLASSES))
        if len(self.wet_top_cm) not in (0, 12):
            raise InputError(f"depth to wet soil has {len(self.wet_top_cm)} months", expected="12, or none")


@dataclass(frozen=True, kw_only=True)
class SoilUnit:
    """One map unit: a mix of soils, of which the map does not say which lies where.

    Attributes:
        key: What the polygons name it by.
        symbol, name: For people.
        components: Their percentages sum to at most 100.
        source: Who says so.
    """

    key: str
    symbol: str
    name: str
    components: tuple[Component, ...]
    source: str = ""

    def __post_init__(self) -> None:
        total = sum(c.percent for c in self.components)
        if not (math.isfinite(total) and total <= 100.0 + 1e-6 and all(c.percent >= 0.0 for c in self.components)):
            raise InputError(f"the soils of map unit {self.symbol} sum to {total:g} %", expected="0 to 100 %")

    @property
    def unnamed_pct(self) -> float:
        """Share of the ground of which the map names no soil."""
        return max(0.0, 100.0 - sum(c.percent for c in self.components))


@dataclass(frozen=True, kw_only=True)
class ProbeReading:
    """One reading of a penetrometer.

    Attributes:
        x_m, y_m: Its place.
        top_cm, bottom_cm: The depths that it stands for; equal for a reading at one depth.
        resistance_mpa: Force over the cone's base; for a dynamic one work over base and distance.
        date: Day, or None.
        cone_mm: Diameter of the cone's base, NaN if not stated.
        moisture: State of the ground that day, or None if not stated.
        stopped: Whether the probe would go no deeper: its resistance there is a least value.
        row: Row in the file.
    """

    x_m: float
    y_m: float
    top_cm: float
    bottom_cm: float
    resistance_mpa: float
    date: dt.date | None = None
    cone_mm: float = math.nan
    moisture: Moisture | None = None
    stopped: bool = False
    row: int = 0

    def __post_init__(self) -> None:
        if not (math.isfinite(self.resistance_mpa) and self.resistance_mpa > 0.0):
            raise InputError(f"the resistance is {self.resistance_mpa:g} MPa", expected="over 0", row=self.row or None)
        if not 0.0 <= self.top_cm <= self.bottom_cm:
            raise InputError(
                f"the reading runs from {self.top_cm:g} to {self.bottom_cm:g} cm", expected="depths from the top down",
                row=self.row or None,
            )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Holdfast:
    """A group of pickets and the pull that it is published to hold.

    Attributes:
        name: Pickets in each row, the row nearest the pull first.
        pickets: How many.
        holds_n: Pull in newtons in undisturbed loam.
        grade: As in the methods page.
    """

    name: str
    pickets: int
    holds_n: float
    grade: str


_LBF_N = 4.4482216152605
HOLDFASTS: tuple[Holdfast, ...] = (
    Holdfast(name="1", pickets=1, holds_n=700 * _LBF_N, grade="V"),
    Holdfast(name="1-1", pickets=2, holds_n=1400 * _LBF_N, grade="R"),
    Holdfast(name="1-1-1", pickets=3, holds_n=1800 * _LBF_N, grade="V"),
    Holdfast(name="2-1", pickets=3, holds_n=2000 * _LBF_N, grade="R"),
    Holdfast(name="3-2-1", pickets=6, holds_n=4000 * _LBF_N, grade="V"),
)
"""Wooden pickets at least 3 in thick and 5 ft long, driven 3 to 4 ft, leaning 15 degrees back from the pull, in
undisturbed loam: NAVEDTRA 14251 (Steelworker) and FM 5-125 table 4-1; 1-1 and 2-1 recalled from FM 5-125."""


@dataclass(frozen=True, kw_only=True)
class ApronStake:
    """A kind of ground stake for the apron; every figure common practice, no source.

    Attributes:
        title: What the gear list calls it.
        length_m, mass_kg: Of one; NaN length where it has none.
    """

    title: str
    length_m: float
    mass_kg: float


APRON_STAKES: Mapping[ApronKind, ApronStake] = MappingProxyType({
    "stake": ApronStake(title="stake", length_m=0.4572, mass_kg=0.5),
    "long stake": ApronStake(title="long stake", length_m=0.9144, mass_kg=1.4),
    "steel pin": ApronStake(title="steel pin", length_m=0.4572, mass_kg=0.7),
    "weight": ApronStake(title="bag for stones or soil", length_m=math.nan, mass_kg=0.2),
})  # fmt: skip
"""Firm ground takes a stake; mud a long one; hard or stony ground a driven steel pin; rock a weight laid on it."""


@dataclass(frozen=True, kw_only=True)
class SoilOptions:
    """`[ground]`: what counts as ground that takes posts, stakes and a spade.

    No driving force of a post by penetration resistance is published. The limits in MPa are the project's own
    assumption, laid on the classes of the Soil Survey Manual.
    """

    moisture: Moisture = option(
        "moist", help="State of the ground that posts and stakes are judged for.", choices=MOISTURES, grade="C"
    )
    post_depth: Length = option(
        Length(0.6096), help="Depth of a post in deep soil (line posts, NRCS Kentucky 382).", low=0.1, high=2.0,
        grade="V",
    )  # fmt: skip
    least_post_depth: Length = option(
        Length(0.4572), help="Depth of a post in rocky soil, below which it does not serve (the same).", low=0.1,
        high=2.0, grade="V",
    )  # fmt: skip
    post_easy_mpa: float = option(
        4.0, help="Penetration resistance up to which a post can be driven by hand.", unit="MPa", low=0.1, high=20.0,
        grade="C",
    )  # fmt: skip
    post_stop_mpa: float = option(
        8.0, help="Penetration resistance from which it cannot; between the two it is doubtful.", unit="MPa", low=0.1,
        high=50.0, grade="C",
    )  # fmt: skip
    soft_mpa: float = option(
        0.3, help="Penetration resistance below which a post or stake stands in mud.", unit="MPa", low=0.0, high=5.0,
        grade="C",
    )  # fmt: skip
    rock_slow_pct: float = option(
        35.0, help="Rock fragments from which driving is doubtful (very gravelly).", unit="per cent", low=1.0,
        high=100.0, grade="C",
    )  # fmt: skip
    rock_stop_pct: float = option(
        60.0, help="Rock fragments that stop a post (extremely gravelly).", unit="per cent", low=1.0, high=100.0,
        grade="C",
    )  # fmt: skip
    yes_share: float = option(
        0.8, help="Share of the ground that must allow a thing for 'yes'; unnamed ground does not count as allowing.",
        low=0.5, high=1.0, grade="C",
    )  # fmt: skip
    no_share: float = option(
        0.5, help="Share of the ground that must forbid it for 'no'.", low=0.2, high=1.0, grade="C"
    )
    unknown_share: float = option(
        0.4, help="Share of unknown ground above which the answer is 'unknown'.", low=0.0, high=1.0, grade="C"
    )
    stake_depth: Length = option(
        Length(0.4572), help="Depth that an apron stake is driven to.", low=0.1, high=1.5, grade="C"
    )
    picket_depth: Length = option(
        Length(0.9144), help="Depth that the published pickets are driven to.", low=0.3, high=2.0, grade="V"
    )
    holdfast_margin: float = option(
        2.0, help="Published holding strength over the pull that is laid on it.", low=1.0, high=10.0, grade="C"
    )
    saturated_factor: float = option(
        0.5, help="What a stake holds in saturated ground, as a share of dry.", low=0.05, high=1.0, grade="V"
    )
    stony_clay_factor: float = option(
        0.9, help="What a holdfast holds in clay mixed with gravel.", low=0.05, high=1.0, grade="R"
    )
    bury_depth: Length = option(
        Length(1.2), help="Depth of a burial pit: two feet of cover and what lies under it.", low=0.3, high=4.0,
        grade="C",
    )  # fmt: skip
    water_gap: Length = option(
        Length(0.6), help="Dry ground wanted between the bottom of a pit and wet soil.", low=0.0, high=5.0, grade="C"
    )
    dig_stop_mpa: float = option(
        8.0, help="Penetration resistance that stops a spade or pick.", unit="MPa", low=0.5, high=50.0, grade="C"
    )
    no_burial: tuple[str, ...] = option(
        ("occasional", "frequent", "very frequent"), help="Flood classes that forbid burial.", choices=FLOOD_CLASSES,
        grade="C",
    )  # fmt: skip
    flood_share: float = option(
        0.15, help="Share of a map unit from which the flood class of a soil in it counts.", low=0.0, high=1.0,
        grade="C",
    )  # fmt: skip
    strength_error: float = option(
        0.5, help="Standard error of an estimated resistance, natural logarithm.", low=0.05, high=3.0, grade="C"
    )
    density_error: float = option(
        0.1, help="Standard error of a bulk density that is itself estimated, as a share.", low=0.0, high=0.5, grade="C"
    )
    reading_error: float = option(
        0.2, help="Least standard error of a reading for the ground a few feet off, natural logarithm.", low=0.01,
        high=2.0, grade="C",
    )  # fmt: skip
    fewest_readings: int = option(
        8, help="Places with readings from which kriging is used; with fewer the simple rule.", low=4, high=1000,
        grade="C",
    )  # fmt: skip
    reach: Length = option(
        Length(200.0), help="Simple rule: distance at which a reading weighs as much as the map.", low=1.0,
        high=10000.0, grade="C",
    )  # fmt: skip
    stop_reach: Length = option(
        Length(10.0), help="How far round a probe that was stopped its depth limits a post.", low=0.0, high=200.0,
        grade="C",
    )  # fmt: skip

    def __post_init__(self) -> None:
        for less, more in (
            ("least_post_depth", "post_depth"), ("post_easy_mpa", "post_stop_mpa"), ("rock_slow_pct", "rock_stop_pct"),
            ("soft_mpa", "post_easy_mpa"),
        ):  # fmt: skip
            if getattr(self, less) > getattr(self, more):
                raise InputError(f"{less} is over {more}", mend="exchange the two", field=less)


@dataclass(frozen=True, kw_only=True)
class Shares:
    """Shares of the ground, 0..1, summing to 1: where a thing can be done, may be, cannot be, nobody knows."""

    yes: float
    doubtful: float
    no: float
    unknown: float


@dataclass(frozen=True, kw_only=True)
class PostAnswer:
    """Whether posts can be driven.

    Attributes:
        verdict: `yes` and `no` hold at one standard error harder and softer too.
        shares: Of the ground, at the estimate itself.
        depth_cm: Depth that a post reaches on `yes_share` of the ground; NaN where too much of it is unknown.
        most_cm: Depth below which it gets nowhere on that share; NaN likewise.
        why: One sentence.
    """

    verdict: Verdict
    shares: Shares
    depth_cm: float
    most_cm: float
    why: str


@dataclass(frozen=True, kw_only=True)
class StakeAnswer:
    """What holds a pull.

    Attributes:
        pull_n: The pull asked for.
        holdfast: The published group, or None where none is published for such ground or pull.
        count: How many of them, 0 with none.
        pickets: Pickets altogether.
        factor: What the ground leaves of the published strength.
        holds_n: Strength of all of them in this ground, without the margin.
        why: One sentence.
    """

    pull_n: float
    holdfast: Holdfast | None
    count: int
    pickets: int
    factor: float
    holds_n: float
    why: str


@dataclass(frozen=True, kw_only=True)
class ApronStakes:
    """Which ground stakes hold the apron in such ground.

    Attributes:
        kind: Key of `APRON_STAKES`.
        times: How many for each that firm ground takes, 1 or more.
        why: One sentence.
        also: Kinds to bring beside it, as many of each, where nobody knows which will hold.
    """

    kind: ApronKind
    times: float
    why: str
    also: tuple[ApronKind, ...] = ()


@dataclass(frozen=True, kw_only=True)
class BurialAnswer:
    """Whether a pit can be dug and used, as far as the soil goes; wells, streams and the law are not in it."""

    verdict: Verdict
    shares: Shares
    why: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class GroundAnswer:
    """What the ground at one place allows.

    Attributes:
        unit: The map unit, or None where no map reaches.
        moisture: The state of the ground that it is answered for.
        resistance_mpa: Estimate from the surface to the depth of a post, or NaN; `error_ln` is its standard error as
            a natural logarithm.
        shift_ln: What readings have added to the map's natural logarithm.
        basis: `map`, `map and readings`, `readings` or `nothing`.
        named_share: Share of the ground of which anything is known, 0..1.
        stopped_cm: Depth at which a probe close by was stopped, or NaN.
        hard_cm: Depth to a hard layer, or to the end of the description, on most of the ground; NaN for unknown.
        rock_pct: Rock fragments by volume that most of the ground keeps under; NaN for unknown.
        flood_class: Of the map unit, or None where not stated.
        stakes: What holds `pull_n`, or None where no pull was asked for.
        apron: Which ground stakes hold the apron.
        bring: What to carry there for this ground, sentences.
        assumption: The rule that maps MPa to posts, to be printed with the answer.
        notes: What was filled in or clamped.
    """

    unit: SoilUnit | None
    moisture: Moisture
    resistance_mpa: float
    error_ln: float
    shift_ln: float
    basis: str
    named_share: float
    stopped_cm: float
    posts: PostAnswer
    stakes: StakeAnswer | None
    apron: ApronStakes
    burial: BurialAnswer
    assumption: str
    hard_cm: float = math.nan
    rock_pct: float = math.nan
    flood_class: str | None = None
    bring: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
