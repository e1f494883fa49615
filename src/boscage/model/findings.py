"""What a run finds beside the ranking: how firm it is, what moved, what cameras and sign say, which sites together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from boscage.model.evidence import Bandwidth, Effort, Isopleth
from boscage.model.groups import CameraUse, Group
from boscage.model.portfolio import BaitSpacing, CurvePoint, NoPortfolio, Portfolio, PortfolioOptions


@dataclass(frozen=True, kw_only=True)
class Standing:
    """How firm one site's rank is when weights and value functions are shaken.

    Attributes:
        label: Its rank, with '=' behind it where the sites of that rank could as well be swapped.
        top_rank_share, first_share: Share of draws in which it is first, and among the first few, 0..1.
        low_rank, high_rank: Ranks that it keeps between in nine draws of ten.
    """

    label: str
    top_rank_share: float
    first_share: float
    low_rank: int
    high_rank: int


@dataclass(frozen=True, kw_only=True)
class Move:
    """A place whose rank changed since the run before.

    Attributes:
        site: Its name now, or '' where it is ranked no more.
        rank: Now, or None.
        was_site, was_rank: In the run before; '' and None for a new place.
        points: Change of its score, or NaN where it has only one.
        why: One sentence: which factors changed by how many points.
    """

    site: str
    rank: int | None
    was_site: str
    was_rank: int | None
    points: float
    why: str


@dataclass(frozen=True, kw_only=True)
class CameraFound:
    """One camera and what it saw.

    Attributes:
        name: Of its place.
        x_m, y_m: Where, in the ranch's CRS.
        use: Visits, nights, hours.
        last_days: Days from the last night with a visit to the plan's date, or NaN for none.
        bait: Whether bait was used, or None where nobody wrote it down.
        end_is_assumed: Whether the camera is taken as still out.
    """

    name: str
    x_m: float
    y_m: float
    use: CameraUse
    last_days: float
    bait: bool | None = None
    end_is_assumed: bool = False


@dataclass(frozen=True, kw_only=True)
class Evidence:
    """What sign and cameras say of the ranch.

    Attributes:
        density: (rows, cols) float32 on the result's grid: weighted fresh signs per square kilometre, visits of
            cameras counted in; NaN where neither sign nor cameras are given.
        bandwidth: Of its kernel, or None likewise.
        isopleths: 50 and 95 per cent of use; empty without any.
        classes: Signs by age class A to D.
        effort: Where somebody looked, or None where no searched line is given: ground without sign is unknown then.
        cameras: In file order.
        groups: Animals that are told apart, with the nights they were seen.
        bait: Bait places against the published spacing, or None without any; `bait_names` are theirs.
        version: Of the camera standard that the tables were checked against, '' without cameras.
        bad_rows: Rows of camera tables left out, each with the reason.
        people: Rows of people and vehicles left out of everything.
        notes: Sentences on what was assumed.
    """

    density: NDArray[np.float32]
    bandwidth: Bandwidth | None = None
    isopleths: tuple[Isopleth, ...] = ()
    classes: Mapping[str, int]
    effort: Effort | None = None
    cameras: tuple[CameraFound, ...] = ()
    groups: tuple[Group, ...] = ()
    bait: BaitSpacing | None = None
    bait_names: tuple[str, ...] = ()
    version: str = ""
    bad_rows: tuple[str, ...] = ()
    people: int = 0
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class ChosenSet:
    """One site of the set chosen together.

    Attributes:
        site, rank: As ranked.
        x_m, y_m: Its middle.
        circle: Shapely area within the radius, clipped to land with permission.
        alone_share: Share of use that it covers by itself, 0..1.
        crew: Number of the crew that checks it, from 1; 0 where rounds are not worked out.
    """

    site: str
    rank: int
    x_m: float
    y_m: float
    circle: Any
    alone_share: float
    crew: int = 0


@dataclass(frozen=True, kw_only=True)
class Together:
    """Which sites together, for the nets, crews and hours there are.

    Attributes:
        chosen: The best set found, or why there is none; its `ending` says whether it is proven.
        sets: Its sites, by rank; empty without one.
        curve: The best sets of 1, 2, ... nets, one more than there are.
        names: Ranked sites in the order that indexes of `chosen` count.
        options: What was asked.
        covered_ha: Land with permission inside any circle.
        base: East and north of where rounds begin, or None where rounds are not worked out.
        sentences: All of it in words, the proof among them.
    """

    chosen: Portfolio | NoPortfolio
    sets: tuple[ChosenSet, ...]
    curve: tuple[CurvePoint, ...]
    names: tuple[str, ...]
    options: PortfolioOptions
    covered_ha: float
    base: tuple[float, float] | None = None
    sentences: tuple[str, ...] = ()
