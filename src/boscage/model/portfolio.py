"""Which sites together: what is asked, what was chosen, the round that checks it, where bait may stand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from boscage.errors import InputError
from boscage.model.options import option
from boscage.values import Length

Ending = Literal["optimal", "gap reached", "time limit", "rounds not proven"]
EXACT_ROUND = 12
"""Most sites for which the shortest round is exact."""
PROVEN_GAP = 1e-6
"""Relative gap under which a set counts as proven best."""


@dataclass(frozen=True, kw_only=True)
class PortfolioOptions:
    """How many nets, who checks them, and how long the search may take.

    A circle of 6.7 km2, radius about 1.5 km, is the area that a bait place draws on: McRae et al. (2020), Wildl. Soc.
    Bull. 44:362-371.
    """

    nets: int = option(3, help="Nets that can be up at once.", low=1, high=200, grade="C")
    crews: int = option(1, help="Crews that check nets, each on a round of its own.", low=1, high=20, grade="C")
    hours: float = option(
        6.0, help="Hours a day in which each crew must be round and back.", unit="hours", low=0.1, high=24.0, grade="C"
    )
    check_minutes: float = option(
        20.0, help="Minutes at each set on a check.", unit="minutes", low=0.0, high=480.0, grade="C"
    )
    radius: Length = option(
        Length(1500.0), help="Radius round a set that it draws animals from.", low=10.0, high=20000.0, grade="V"
    )
    spacing: Length = option(Length(300.0), help="Least distance between two sets.", low=0.0, high=20000.0, grade="C")
    time_limit: float = option(
        30.0, help="Seconds after which the search stops with what it has.", unit="seconds", low=0.1, high=86400.0
    )
    gap: float = option(0.0, help="Relative gap to the bound at which the search may stop.", low=0.0, high=1.0)
    near: float = option(0.01, help="Loss of cover within which a set is an alternative.", low=0.0, high=1.0, grade="C")


@dataclass(frozen=True, kw_only=True)
class CoverProblem:
    """Sites that cover weighted cells, and what forbids sites to go together.

    Attributes:
        names: One for each of S sites.
        weights: (D,) float64, 0 or more: use of each cell.
        starts, cells: Cells of site s are `cells[starts[s]:starts[s + 1]]`, each once; (S + 1,) and (N,) int64.
        groups: (S,) int64, the group of animals that a site is for, -1 for none; at most one site a group.
        apart: (K, 2) int64 pairs of sites too near to each other.
        minutes: (S + 1, S + 1) float64 from row to column by the quickest way, 0 being the base; inf for no way; None
            where rounds are not asked for.
    """

    names: tuple[str, ...]
    weights: NDArray[np.float64]
    starts: NDArray[np.int64]
    cells: NDArray[np.int64]
    groups: NDArray[np.int64]
    apart: NDArray[np.int64]
    minutes: NDArray[np.float64] | None = None

    def __post_init__(self) -> None:
        count = len(self.names)
        if self.starts.shape != (count + 1,) or self.groups.shape != (count,):
            raise InputError(f"there are {count} sites, but {self.groups.size} groups", expected="one of each a site")
        if not (np.isfinite(self.weights).all() and (self.weights >= 0.0).all()):
            raise InputError("a cell's use is negative or no number", expected="0 or more for every cell")
        if self.minutes is not None and self.minutes.shape != (count + 1, count + 1):
            rows, cols = self.minutes.shape
            raise InputError(
                f"the table of minutes is {rows} by {cols} for {count} sites",
                expected=f"{count + 1} by {count + 1}: the base first, then the sites in their order",
            )
        if self.minutes is not None and not (self.minutes >= 0.0).all():
            raise InputError("the table of minutes holds a negative time or none", expected="0 or more, inf for no way")

    @property
    def total(self) -> float:
        """Use of all cells."""
        return float(self.weights.sum())

    def covered(self, chosen: Sequence[int]) -> float:
        """Use of the cells that any of the chosen sites covers."""
        hit = np.zeros(self.weights.size, dtype=bool)
        for s in chosen:
            hit[self.cells[self.starts[s] : self.starts[s + 1]]] = True
        return float(self.weights[hit].sum())


@dataclass(frozen=True, kw_only=True)
class Round:
    """One crew's round.

    Attributes:
        sites: Indexes in the order of the visits; the base is before the first and after the last.
        minutes: Under way and at the sets.
        is_shortest: Whether no round of these sites is shorter; False where there are too many to try them all.
    """

    sites: tuple[int, ...]
    minutes: float
    is_shortest: bool


@dataclass(frozen=True, kw_only=True)
class Alternative:
    """A set that differs by one site and loses little.

    Attributes:
        out, into: Index of the chosen site that is left out and of the one that takes its place.
        share: Share of use that the set so made covers.
    """

    out: int
    into: int
    share: float


@dataclass(frozen=True, kw_only=True)
class CurvePoint:
    """The best set of so many nets.

    Attributes:
        nets: How many were allowed.
        share: Share of use covered, 0..1.
        added: What the last net added to the share; may be 0.
        bound: No set of so many covers more than this share.
        ending: Why the search stopped.
    """

    nets: int
    share: float
    added: float
    bound: float
    ending: Ending


@dataclass(frozen=True, kw_only=True)
class Portfolio:
    """The chosen sites.

    Attributes:
        chosen: Indexes of sites, rising.
        names: Their names.
        covered, bound: Use covered, and what no allowed set can exceed.
        share: `covered` of all use, 0..1.
        ending: Why the search stopped; only `optimal` means that no better set exists.
        rounds: Crews' rounds; empty where rounds were not asked for.
        greedy_share: What taking the best next site each time would have covered.
        left_out: Sites that no crew can check within its hours, or that no way leads to.
        alternatives: Sets that lose at most the stated share by one exchange, best first.
        notes: Sentences on what was assumed.
    """

    chosen: tuple[int, ...]
    names: tuple[str, ...]
    covered: float
    bound: float
    share: float
    ending: Ending
    rounds: tuple[Round, ...] = ()
    greedy_share: float = 0.0
    left_out: tuple[int, ...] = ()
    alternatives: tuple[Alternative, ...] = ()
    notes: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        return True

    @property
    def gap(self) -> float:
        """How far a better set could be, as a share of the bound."""
        return max(0.0, (self.bound - self.covered) / self.bound) if self.bound > 0.0 else 0.0


@dataclass(frozen=True, kw_only=True)
class NoPortfolio:
    """No set can be chosen, and why."""

    reason: str

    def __bool__(self) -> bool:
        return False


@dataclass(frozen=True, kw_only=True)
class BaitOptions:
    """Spacing of bait places.

    Bait within 1 km of sows (1.25 km of boars) is visited daily with probability 0.5; space it 1 to 2 km: Snow and
    VerCauteren (2019), Crop Prot. 124:104835. Area of influence 6.7 km2; 80 % of places first visited within 8.9 days:
    McRae et al. (2020), Wildl. Soc. Bull. 44:362-371.
    """

    least: Length = option(Length(1000.0), help="Least distance to the next place.", low=0.0, high=2e4, grade="V")
    most: Length = option(Length(2000.0), help="Greatest distance to the next place.", low=0.0, high=5e4, grade="V")
    reach: Length = option(Length(1000.0), help="Distance over which bait draws sows.", low=0.0, high=2e4, grade="V")
    wait_days: float = option(
        8.9, help="Days within which 80 % of places are first visited.", unit="days", low=0.0, high=365.0, grade="V"
    )


@dataclass(frozen=True, kw_only=True)
class BaitPlace:
    """One bait place and its nearest neighbour.

    Attributes:
        nearest: Index of the nearest other place, or None for a single one.
        nearest_m: Distance to it; NaN for a single place.
        state: `spaced`, `too near` (two places feed the same animals), `too far` or `alone`.
        outside_share: Share of its reach that lies off the land with permission, or NaN where the land is not given.
        own_ha: Land with permission within reach that is nearer to it than to any other place; NaN likewise.
    """

    nearest: int | None
    nearest_m: float
    state: Literal["spaced", "too near", "too far", "alone"]
    outside_share: float
    own_ha: float


@dataclass(frozen=True, kw_only=True)
class BaitSpacing:
    """All bait places against the published spacing.

    Attributes:
        places: In the order given.
        reached_ha, unreached_ha: Land with permission within and beyond reach of any place; NaN where not given.
        gaps: (G, 3) float64: east, north and hectares of the stretches beyond reach, widest first.
        expected: Places that the land takes at the published spacing: at `most`, and at `least`.
        notes: Sentences for people.
    """

    places: tuple[BaitPlace, ...]
    reached_ha: float
    unreached_ha: float
    gaps: NDArray[np.float64]
    expected: tuple[int, int]
    notes: tuple[str, ...]
