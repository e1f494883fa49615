"""What is carried in, by what, in how many trips: options of `[pack]` and `[carriers.NAME]`, and the load plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

from boscage.errors import PlanError
from boscage.model.options import option
from boscage.values import Mass

Purpose = Literal["rig", "aid", "bait", "camera", "tool"]
PURPOSES: tuple[Purpose, ...] = ("aid", "rig", "tool", "camera", "bait")
"""What is taken first when not all of it can go; of each, the first site's before the next one's."""
SOAKS = ("net", "rope", "strap", "cord", "line")
"""Words in an item's name that make it take up water."""
LB = 0.45359237


@dataclass(frozen=True, kw_only=True)
class PackOptions:
    """`[pack]`: what goes in beside the gear of the ring; every mass is a planning mass until it is weighed."""

    wet: float = option(
        0.35, help="Water that net, rope, straps and cord take up, as a share of their dry mass.", low=0.0, high=2.0,
        grade="C",
    )  # fmt: skip
    weighed: Mapping[str, Mass] = option(
        factory=dict,
        help="Items put on a scale, as item = mass of one piece as it was weighed; where an item comes in several "
        "lengths, name it with its length in metres, such as 'strap 3.66m'.", low=0.0, high=1000.0,
    )  # fmt: skip
    weighed_wet: bool = option(False, help="Whether they were weighed wet, so that no water is added.")
    bait_bags: int = option(2, help="Bags of bait a site.", low=0, high=200, grade="C")
    bait_bag: Mass = option(Mass(50 * LB), help="Mass of a bag of bait.", low=0.5, high=100.0, grade="C")
    cameras: int = option(2, help="Cameras a site.", low=0, high=50, grade="C")
    camera: Mass = option(Mass(0.9), help="Mass of a camera with batteries and strap.", low=0.05, high=20.0, grade="C")
    people: int = option(2, help="People who go in, each with protective equipment and water.", low=0, high=30)
    ppe: Mass = option(
        Mass(2.0), help="Protective equipment a person: hard hat, eye protection, rubber gloves, vest.", low=0.0,
        high=50.0, grade="C",
    )  # fmt: skip
    water: Mass = option(Mass(3.8), help="Drinking water a person, one US gallon.", low=0.0, high=50.0, grade="R")
    first_aid: Mass = option(Mass(1.5), help="First aid kit; 0 leaves it out.", low=0.0, high=50.0, grade="C")
    tools: Mapping[str, Mass] = option(
        factory=lambda: MappingProxyType({"loppers": Mass(1.2), "hand saw": Mass(0.4), "net cutter": Mass(0.3)}),
        help="Further tools, as tool = mass of one piece; replaces the default list.", low=0.0, high=500.0, grade="C",
    )  # fmt: skip
    carriers: tuple[str, ...] = option(("atv",), help="Carriers that make each trip together, by name.")
    trips: int | None = option(
        None, help="Most trips; what does not go in them is listed as left behind.", low=1, high=500
    )


@dataclass(frozen=True, kw_only=True)
class CarrierOptions:
    """`[carriers.NAME]`: what one carrier takes. The placard of the machine comes before every default."""

    kind: str = option("atv", help="What it is.", choices=("atv", "back", "sled", "helicopter"))
    parts: Mapping[str, Mass] = option(
        factory=dict, help="Limit of each place for a load, as place = mass, such as front rack and rear rack.",
        low=0.1, high=20000.0,
    )  # fmt: skip
    gross: Mass | None = option(
        None, help="Most mass on it in all: rider, fuel, cargo, attachments and tongue.", low=1.0, high=50000.0
    )
    aboard: Mass = option(
        Mass(0.0), help="What is on it already and counts towards gross: rider, fuel, attachments, tongue.", low=0.0,
        high=20000.0,
    )  # fmt: skip
    body: Mass | None = option(
        None, help="Weight of the person who carries; a third of it is the most for a back.", low=30.0, high=250.0,
        grade="C",
    )  # fmt: skip
    count: int = option(1, help="How many of it make each trip.", low=1, high=30)

    def __post_init__(self) -> None:
        if self.gross is not None and self.gross.kg <= self.aboard.kg:
            raise PlanError(
                f"gross is {self.gross.kg:g} kg and aboard {self.aboard.kg:g} kg",
                expected="gross above what is aboard", mend="correct one of them from the machine's placard",
            )  # fmt: skip


BUILT_IN_CARRIERS: Mapping[str, CarrierOptions] = MappingProxyType({
    "atv": CarrierOptions(kind="atv", parts={"front rack": Mass(90 * LB), "rear rack": Mass(175 * LB)}),
    "back": CarrierOptions(kind="back", parts={"pack": Mass(45 * LB)}),
})  # fmt: skip
"""Grade C: placards are commonly near 80 to 100 lb in front and 150 to 200 lb behind; a pack is planned at 45 lb."""


@dataclass(frozen=True, kw_only=True)
class Part:
    """One place for a load on a carrier.

    Attributes:
        carrier: Index of the carrier among those that go together.
        name: For people, such as `atv front rack`.
        limit_kg: Most mass on it.
    """

    carrier: int
    name: str
    limit_kg: float


@dataclass(frozen=True, kw_only=True)
class Convoy:
    """The carriers that make each trip together.

    Attributes:
        parts: Every place for a load.
        cargo_kg: By carrier: most cargo in all, gross less what is aboard; infinite where gross is not stated.
        notes: What is not stated or is a default, in words.
    """

    parts: tuple[Part, ...]
    cargo_kg: tuple[float, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class PackItem:
    """One line of what is to be carried.

    Attributes:
        site: The site it is for, or '' for the whole job.
        count: Pieces.
        dry_kg: One piece as weighed or estimated; None where nobody knows.
        wet_share: Water reckoned on top, as a share of it.
        weighed: Whether it was on a scale; else it is an estimate.
        purpose: Why it goes.
        grade: Of the mass: '' where weighed.
    """

    site: str
    item: str
    count: int
    dry_kg: float | None
    wet_share: float = 0.0
    weighed: bool = False
    purpose: Purpose = "rig"
    length_m: float | None = None
    grade: str = ""
    note: str = ""

    @property
    def label(self) -> str:
        """The item with its length, as `[pack] weighed` tells one from another."""
        return self.item if self.length_m is None else f"{self.item} {self.length_m:.2f}m"

    @property
    def mass_kg(self) -> float | None:
        """One piece as carried, water included."""
        return None if self.dry_kg is None else self.dry_kg * (1.0 + self.wet_share)

    @property
    def total_kg(self) -> float | None:
        """All pieces as carried."""
        return None if self.mass_kg is None else self.count * self.mass_kg


@dataclass(frozen=True, kw_only=True)
class Portion:
    """So many pieces of one item."""

    item: PackItem
    count: int


@dataclass(frozen=True, kw_only=True)
class PartLoad:
    """What lies on one part in one trip.

    Attributes:
        part: Its name; `trip` counts from 1.
        mass_kg: To the gram, each piece rounded up.
    """

    part: str
    trip: int
    limit_kg: float
    mass_kg: float
    portions: tuple[Portion, ...]


@dataclass(frozen=True, kw_only=True)
class LeftBehind:
    """Pieces that do not go, and why, in words."""

    item: PackItem
    count: int
    reason: str


@dataclass(frozen=True, kw_only=True)
class PackPlan:
    """Items on carriers in the fewest trips.

    Attributes:
        lower_bound_trips: No plan takes fewer trips for what is carried (with a limit on trips: for all that could go).
        is_fewest: Whether `trips` equals it; with a limit on trips, whether it is proven what goes whole.
        over_limit: Items of which one piece exceeds every part or every carrier; never split.
        left_behind: Everything that does not go, those included.
        notes: What is not stated or a default.
    """

    sites: tuple[str, ...]
    items: tuple[PackItem, ...]
    loads: tuple[PartLoad, ...]
    trips: int
    lower_bound_trips: int
    is_fewest: bool
    over_limit: tuple[PackItem, ...] = ()
    left_behind: tuple[LeftBehind, ...] = ()
    notes: tuple[str, ...] = field(default=())

    @property
    def mass_kg(self) -> float:
        """Of all that is carried."""
        return sum(load.mass_kg for load in self.loads)

    @property
    def estimated_kg(self) -> float:
        """Of what is carried, the mass that nobody has weighed."""
        portions = [p for load in self.loads for p in load.portions]
        return sum(p.count * (p.item.mass_kg or 0.0) for p in portions if not p.item.weighed)
