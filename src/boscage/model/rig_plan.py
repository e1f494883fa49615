"""A ring made ready to rig: what holds it between trees, how the net lies, what it pulls, what it takes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from boscage.model.options import option
from boscage.model.rig import NoRing, Point, Ring, Stem
from boscage.model.soil import GroundAnswer, StakeAnswer
from boscage.values import Length, Mass

SupportKind = Literal["sapling", "post", "high_rope", "guy_line"]
SUPPORT_TITLES: Mapping[str, str] = {
    "sapling": "guyed sapling", "post": "driven post", "high_rope": "high rope from a tree outside",
    "guy_line": "guy line",
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class RiggingOptions:
    """`[rigging]`: how a ring is tied, staked and judged; every default is common practice without a source."""

    posts: bool | None = option(
        None, help="Whether the ground takes posts, which then stand in for missing trees; by default as the soil says."
    )
    contacts: int = option(5, help="Least number of trees that hold the ring.", low=3, high=40, grade="C")
    min_dbh: Length = option(
        Length(0.1016), help="Least diameter at breast height of a tree that holds the ring.", low=0.0, high=2.0,
        grade="C",
    )  # fmt: skip
    reach: Length = option(Length(0.6), help="How far a corner may stand off the bark.", low=0.0, high=5.0, grade="C")
    spacing: Length | None = option(
        None, help="Longest span without a built support; by default a tenth of the net's perimeter.", low=0.1,
        high=50.0, grade="C",
    )  # fmt: skip
    sapling_reach: Length = option(
        Length(0.6), help="How far from its place a sapling still serves as a built support.", low=0.0, high=3.0,
        grade="C",
    )  # fmt: skip
    guy_reach: Length = option(
        Length(8.0), help="Longest run of a guy or a high rope to a tree outside.", low=1.0, high=40.0, grade="C"
    )
    guy_deg: float = option(
        45.0, help="Angle of a guy from the ground, where a stake can be put anywhere.", unit="degrees", low=15.0,
        high=75.0, grade="C",
    )  # fmt: skip
    stake_spacing: Length = option(
        Length(1.8288), help="Longest run of apron between two stakes; there are never fewer than five.", low=0.3,
        high=10.0, grade="C",
    )  # fmt: skip
    turns: float = option(2.0, help="Turns of a strap round the trunk.", low=1.0, high=6.0, grade="C")
    friction: float = option(0.2, help="Friction of strap on bark.", low=0.05, high=1.0, grade="C")
    rope_up: Length = option(
        Length(3.0), help="How far up its tree a high rope is made fast; never less than 1 m above the top rope.",
        low=1.0, high=8.0, grade="C",
    )  # fmt: skip
    line_tail: Length = option(
        Length(1.0), help="Rope beyond the straight run of a guy or a high rope, to make both ends fast.", low=0.0,
        high=5.0, grade="C",
    )  # fmt: skip
    strap_tail: Length = option(
        Length(0.3048), help="Strap beyond the turns, to tie off.", low=0.0, high=3.0, grade="C"
    )
    strap_stock: tuple[Length, ...] = option(
        tuple(Length(ft * 0.3048) for ft in (6, 8, 10, 12, 15, 20, 25, 30)),
        help="Lengths that straps come in.", low=0.3, high=50.0, grade="C",
    )  # fmt: skip
    spares: float = option(0.1, help="Spare straps and stakes, as a share; at least one of each.", low=0.0, high=1.0,
                           grade="C")  # fmt: skip
    pretension_n: float = option(
        220.0, help="Tension that the top rope is set to, about 50 lbf.", unit="N", low=1.0, high=5000.0, grade="C"
    )
    push_n: float = option(
        450.0, help="Push of an animal on the top rope at mid-span, about 100 lbf.", unit="N", low=0.0, high=10000.0,
        grade="C",
    )  # fmt: skip
    stiffness_n: float = option(
        20000.0, help="Rope stiffness EA; 0 lets the rope give way at a constant tension.", unit="N", low=0.0, high=1e7,
        grade="C",
    )  # fmt: skip
    least_height: Length = option(
        Length(1.3716), help="Height below which the top rope must not sag under the net's own weight.", low=0.3,
        high=4.0, grade="C",
    )  # fmt: skip
    bearing_error_deg: float = option(
        1.0, help="Standard error of a compass bearing.", unit="degrees", low=0.0, high=20.0, grade="C"
    )
    distance_error: float = option(0.01, help="Standard error of a taped distance, as a share.", low=0.0, high=0.5,
                                   grade="C")  # fmt: skip
    mapped_error: Length = option(
        Length(0.5), help="Standard error of a tree's place from canopy height or lidar.", low=0.0, high=5.0, grade="C"
    )
    draws: int = option(500, help="Perturbed stem lists for the steadiness of the answer.", low=0, high=100000)


@dataclass(frozen=True, kw_only=True)
class NetProfile:
    """The net as rigging needs it.

    Attributes:
        height_m: Top rope above ground.
        netting_m: Length of netting from the top rope down the wall and along the apron to its edge.
        mass_kg: Dry mass of the whole net.
    """

    height_m: float
    netting_m: float
    mass_kg: float


@dataclass(frozen=True, kw_only=True)
class RigFrame:
    """What the places of the stems are counted in, and where they come from.

    Attributes:
        taped: Whether they were measured with tape and compass from the pivot; else they are places on a map.
        pivot: Where the tape was held; None lets the ring choose.
        declination_deg: East positive; `declination_stated` says whether anybody stated it.
        convergence_deg: Angle of grid north east of true north.
        crs: Of the places; None for a grid of the stem list's own.
        stems_source: File or layer, for people.
        date: The plan's date.
    """

    taped: bool = False
    pivot: Point | None = None
    declination_deg: float = 0.0
    declination_stated: bool = False
    convergence_deg: float = 0.0
    crs: str | None = None
    stems_source: str = ""
    date: dt.date | None = None


@dataclass(frozen=True, kw_only=True)
class Tie:
    """Where a guy or a high rope runs to.

    Attributes:
        stem: The tree it runs to, or None for a stake.
        x_m, y_m: Bark of that tree, or the stake.
        length_m: Length of the line from the top rope (or from the sapling or post at that height).
        angle_deg: Angle of the line from the horizontal, 0..90.
        bearing_deg: Magnetic bearing from the support to the tie.
        off_line_deg: Angle between the line, seen from above, and the outward direction that the rope's pull asks for.
        made_fast_m: Height at which it is made fast to the tree; 0 at its foot or at a stake.
        tension_n: In the line at the stated pretension; None if not worked out.
        uplift_n: Upward pull on the stake or the foot of the tree; for a high rope the upward pull on the top rope.
        pickets: What holds that tension in this ground, where the line runs to the ground and the soil is known of.
    """

    stem: str | None
    x_m: float
    y_m: float
    length_m: float
    angle_deg: float
    bearing_deg: float
    off_line_deg: float
    made_fast_m: float = 0.0
    tension_n: float | None = None
    uplift_n: float | None = None
    pickets: StakeAnswer | None = None


@dataclass(frozen=True, kw_only=True)
class BuiltSupport:
    """What is put up on a span, or a post that stands in for a contact, in the order of the ring.

    Attributes:
        label: a, b, c, ... counter-clockwise from contact 1.
        x_m, y_m: Its place on the finished ring.
        stem: The sapling, or the tree that the line runs to; None for a post and for a line to a stake.
        tie: The line that holds it back; None for a post.
        pull_n: 2 T sin(turning / 2) at the stated pretension.
        bearing_deg, distance_m: From the pivot to its place, magnetic.
    """

    label: str
    x_m: float
    y_m: float
    kind: SupportKind
    stem: str | None
    tie: Tie | None
    pull_n: float
    bearing_deg: float
    distance_m: float


@dataclass(frozen=True, kw_only=True)
class RiggedContact:
    """A contact as the sheet and `rig.json` name it.

    Attributes:
        number: 1, 2, ... counter-clockwise, in walking order.
        stem: The tree; None for a post that stands in for one.
        bearing_deg, distance_m: From the pivot to the trunk's centre, magnetic.
        check_from, check_m: A second distance, from another contact's trunk, so that a blunder shows.
        turning_deg: Angle by which the rope turns at the corner.
        pull_n: 2 T sin(turning / 2) at the stated pretension.
        check_from is the number of that contact, which is never one that the pivot stands at.
        strap_m: Each of the two straps; strap_stock_m is the next stock length up, or None where none is long enough.
        without_score: Score of the best ring if this tree turns out to be bad; None where there is none.
        without_stems: Its trees.
        without_built: Its built supports.
    """

    number: int
    x_m: float
    y_m: float
    stem: Stem | None
    bearing_deg: float
    distance_m: float
    check_from: int
    check_m: float
    turning_deg: float
    pull_n: float
    strap_m: float
    strap_stock_m: float | None
    standoff_m: float
    without_score: float | None = None
    without_stems: tuple[str, ...] = ()
    without_built: int = 0


@dataclass(frozen=True, kw_only=True)
class Stake:
    """A ground stake of the apron, set inward along the ring's own normal."""

    x_m: float
    y_m: float
    offset_m: float
    bearing_deg: float
    distance_m: float


@dataclass(frozen=True, kw_only=True)
class ApronBand:
    """How far inside the top rope the stakes may stand.

    Attributes:
        near_m: Nearer, and the netting drops at a right angle and bunches.
        best_m: Recommended: half of the apron lies flat.
        far_m: Farther is impossible: here the netting is pulled tight in a straight line.
        room_m: Radius of the largest circle inside the finished ring; offsets are kept below it.
        profile: How the netting lies with the stake at the recommended offset, or where the room ends: metres inward
            of the top rope and above ground, from the top rope to the edge of the netting.
    """

    near_m: float
    best_m: float
    far_m: float
    room_m: float
    profile: tuple[Point, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Loads:
    """Planning figures, never a rating. Forces in newtons, lengths in metres.

    Attributes:
        longest_span_m: Longest run between two neighbouring supports of the finished ring.
        dip_m, push_tension_n: Of the top rope under the push at the middle of that run; None where a rope that gives
            way at its pretension cannot hold the push at all.
        own_sag_m: There, under the whole net's own weight.
        widest_span_m: Widest run at which that sag leaves the top rope at the least height.
        capstan_ratio: Pull that friction alone holds for each newton held at the strap's tail.
        largest_pull_n: On any contact or built support.
    """

    pretension_n: float
    push_n: float
    longest_span_m: float
    dip_m: float | None
    push_tension_n: float | None
    own_sag_m: float
    widest_span_m: float
    capstan_ratio: float
    largest_pull_n: float


@dataclass(frozen=True, kw_only=True)
class GearItem:
    """One line of the gear list; mass of one piece."""

    item: str
    count: int
    length_m: float | None = None
    mass_kg: float | None = None
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class Steadiness:
    """How firm the answer is against errors of place.

    Attributes:
        holds_share: Share of the draws in which the same trees still hold a ring within the rules.
        draws: Number of draws.
        weakest: Stem whose error is behind most of the failures, or None.
        error: What was assumed, in words.
    """

    holds_share: float
    draws: int
    weakest: str | None
    error: str


@dataclass(frozen=True, kw_only=True)
class RigPlan:
    """Everything that is needed to rig one ring.

    Attributes:
        name: Site or stem list.
        ring: Its first contact is contact 1; contacts and spans are in the order of `contacts`.
        pivot: Place of the pivot; `pivot_stem` is its tree, None for a stake or a mark.
        inside: Stems inside the finished ring, which stay; `near_wall` are those within arm's reach of the wall.
        closure: Place on the ring where the ends of the net meet, and words for it.
        nearby: All stems to draw.
        declination_deg: East positive; `declination_stated` says whether anybody stated it.
        estimated: Whether diameters are estimates from above, not measured.
        soil: What the ground allows here, or None where nobody asked or nothing is known.
    """

    name: str
    date: dt.date | None
    ring: Ring
    net: NetProfile
    options: RiggingOptions
    pivot: Point
    pivot_stem: str | None
    declination_deg: float
    declination_stated: bool
    contacts: tuple[RiggedContact, ...]
    supports: tuple[BuiltSupport, ...]
    stakes: tuple[Stake, ...]
    apron: ApronBand
    loads: Loads
    gear: tuple[GearItem, ...]
    steadiness: Steadiness | None
    inside: tuple[Stem, ...]
    near_wall: tuple[Stem, ...]
    closure: Point
    closure_text: str
    nearby: tuple[Stem, ...]
    notes: tuple[str, ...] = ()
    crs: str | None = None
    stems_source: str = ""
    estimated: bool = False
    soil: GroundAnswer | None = None

    @property
    def mass_kg(self) -> float:
        """Mass of all gear whose mass is known."""
        return sum(g.count * g.mass_kg for g in self.gear if g.mass_kg is not None)


@dataclass(frozen=True, kw_only=True)
class RigResult:
    """What `boscage rig` answers for one place."""

    name: str
    plan: RigPlan | None
    none: NoRing | None = None
    units: str = "us"
    paper: str = "letter"
    note: str | None = None
    ranch: str | None = None
    extra: Mapping[str, str] = field(default_factory=dict)

    def __bool__(self) -> bool:
        return self.plan is not None


__all__ = [
    "SUPPORT_TITLES", "ApronBand", "BuiltSupport", "GearItem", "Loads", "Mass", "NetProfile", "RigFrame", "RigPlan",
    "RigResult", "RiggedContact", "RiggingOptions", "Stake", "Steadiness", "SupportKind", "Tie",
]  # fmt: skip
