"""Stems, what a ring may be, and the ring or why there is none. Metres; points are (east, north)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Literal

from boscage.errors import InputError
from boscage.model.options import OptionInfo, option

Kind = Literal["tree", "sapling", "dead", "leaning"]
Support = Literal["trees", "hybrid", "posts"]
Point = tuple[float, float]

BUILT_COST = 0.03
"""Share of roundness that one built support costs in the score."""


@dataclass(frozen=True, kw_only=True)
class Stem:
    """One standing stem.

    Attributes:
        stem: Its id.
        x_m, y_m: East and north of its centre.
        dbh_m: Diameter at breast height, metres; 0 makes it a point.
        kind: Only a `tree` can hold a ring.
    """

    stem: str
    x_m: float
    y_m: float
    dbh_m: float
    kind: Kind = "tree"

    @property
    def radius_m(self) -> float:
        """Half the diameter."""
        return 0.5 * self.dbh_m


@dataclass(frozen=True, kw_only=True)
class RingOptions:
    """What a ring may be.

    Raises:
        InputError: A value is outside its range.
    """

    perimeter_m: float = option(help="Length of the top rope.", unit="m", low=1.0, high=200.0)
    gather: float = option(
        0.10, help="Net taken up as slack at the closure, as a share of its perimeter.", low=0.0, high=0.5, grade="C"
    )
    spacing_m: float | None = option(
        None, help="Longest span without a built support; a tenth of the perimeter if left out.", unit="m", low=0.1
    )
    reach_m: float = option(
        0.6, help="How far a corner may stand off the bark.", unit="m", low=0.0, high=5.0, grade="C"
    )
    contacts: int = option(5, help="Least number of trees that hold the ring.", low=3, high=40, grade="C")
    min_dbh_m: float = option(
        0.1016, help="Least diameter at breast height of a tree that holds the ring.", unit="m", low=0.0, grade="C"
    )
    posts: bool = option(False, help="Whether posts may stand in for missing trees.")

    def __post_init__(self) -> None:
        for item in fields(self):
            _check_range(item.name, getattr(self, item.name), item.metadata["option"])

    @property
    def least_m(self) -> float:
        """The shortest perimeter that the net can be gathered to."""
        return (1.0 - self.gather) * self.perimeter_m

    @property
    def longest_span_m(self) -> float:
        """The longest span that needs no built support."""
        return self.perimeter_m / 10.0 if self.spacing_m is None else self.spacing_m


def _check_range(name: str, value: float | None, info: OptionInfo) -> None:
    if value is None:
        return
    low = -math.inf if info.low is None else info.low
    high = math.inf if info.high is None else info.high
    if not (math.isfinite(value) and low <= value <= high):
        tail = f" {info.unit}" if info.unit else ""
        allowed = f"at least {low:g}{tail}" if info.high is None else f"{low:g} to {high:g}{tail}"
        raise InputError(f"{name} is {value:g}{tail}", expected=allowed, mend="change the option", field=name)


@dataclass(frozen=True, kw_only=True)
class Contact:
    """One corner of a ring.

    Attributes:
        x_m, y_m: The corner.
        stem: The tree that holds it; None for a post.
        standoff_m: From the bark to the corner; 0 for a post.
    """

    x_m: float
    y_m: float
    stem: Stem | None
    standoff_m: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Span:
    """The run between two neighbouring contacts, by their places in `Ring.contacts`.

    Attributes:
        length_m: Straight from corner to corner.
        supports: Where its built supports stand, from the first contact to the second.
        finished_m: Length of the finished run over the built supports.
    """

    first: int
    second: int
    length_m: float
    supports: tuple[Point, ...] = ()
    finished_m: float


@dataclass(frozen=True, kw_only=True)
class Tried:
    """What was looked at.

    Attributes:
        stems: Stems given.
        usable: Trees thick enough.
        chains: Chains of trees that the search went through.
        rings: Closed rings whose corners were worked out.
        placed: Sets of trees whose corners were moved off the bark, or that posts were added to.
    """

    stems: int = 0
    usable: int = 0
    chains: int = 0
    rings: int = 0
    placed: int = 0


@dataclass(frozen=True, kw_only=True)
class Ring:
    """A closed ring.

    Attributes:
        support: `trees`, `hybrid` (trees and posts) or `posts`.
        score: 100 * (roundness - 0.03 * (built supports + posts)).
        roundness: 4 pi area / perimeter**2 of the polygon of contacts.
        perimeter_m, area_m2: Of the polygon of contacts.
        finished_roundness, finished_m, finished_m2: Of the finished ring, built supports standing outside the chords.
        contacts: Counter-clockwise.
        spans: Span i runs from contact i to the next.
        best_at_bark: Score of the best ring with every corner at the bark; None where there is none.
        trees_only: For a ring with posts, what trees alone give; None for a ring of trees.
        with_posts: For a ring of trees, a ring with posts that scores higher, if one was asked for and found.
    """

    support: Support
    score: float
    roundness: float
    perimeter_m: float
    area_m2: float
    finished_roundness: float
    finished_m: float
    finished_m2: float
    contacts: tuple[Contact, ...]
    spans: tuple[Span, ...]
    options: RingOptions
    tried: Tried
    best_at_bark: float | None = None
    trees_only: Ring | NoRing | None = None
    with_posts: Ring | None = None

    @property
    def built_supports(self) -> int:
        """Built supports on the spans, and posts at the corners."""
        return sum(len(s.supports) for s in self.spans) + self.posts

    @property
    def posts(self) -> int:
        """Corners that are posts."""
        return sum(c.stem is None for c in self.contacts)

    @property
    def supports(self) -> tuple[Point, ...]:
        """Places of the built supports on the spans, counter-clockwise."""
        return tuple(p for s in self.spans for p in s.supports)

    @property
    def outline(self) -> tuple[Point, ...]:
        """The finished ring: contacts and built supports, counter-clockwise."""
        points: list[Point] = []
        for contact, span in zip(self.contacts, self.spans, strict=True):
            points += [(contact.x_m, contact.y_m), *span.supports]
        return tuple(points)


@dataclass(frozen=True, kw_only=True)
class NoRing:
    """There is no ring; false in a condition.

    Attributes:
        reason: Why, in one sentence.
        nearest_miss: What comes nearest, with figures, in one sentence.
    """

    reason: str
    nearest_miss: str
    options: RingOptions
    tried: Tried

    def __bool__(self) -> bool:
        return False


def check_stems(stems: Sequence[Stem]) -> None:
    """Raise InputError where a stem has no place, a negative diameter, or an id that another has.

    Rows are counted from 1 in the order given.
    """
    seen: dict[str, int] = {}
    for row, one in enumerate(stems, start=1):
        if not (math.isfinite(one.x_m) and math.isfinite(one.y_m)):
            raise InputError("the stem has no place", expected="two numbers in metres", row=row, field="x_m, y_m")
        if not (math.isfinite(one.dbh_m) and one.dbh_m >= 0.0):
            raise InputError(
                f"the diameter is {one.dbh_m:g} m", expected="0 or more", mend="correct the cell", row=row, field="dbh"
            )
        if one.stem in seen:
            raise InputError(
                f"the stem id {one.stem!r} is already in row {seen[one.stem]}",
                expected="a different id for every stem", mend="rename one of them", row=row, field="stem",
            )  # fmt: skip
        seen[one.stem] = row
