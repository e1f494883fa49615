"""Sign and its age, ground that was searched, and the surface of use that they give."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from boscage.model.options import option
from boscage.values import Grid, Length

AgeClass = Literal["A", "B", "C", "D"]
BandwidthRule = Literal["reference", "cross-validation", "fixed"]
SIGN_KINDS = ("rooting", "wallow", "rub", "trail", "track", "scat", "bed")
AGE_FROM_DAYS: Mapping[AgeClass, float] = MappingProxyType({"A": 0.0, "B": 1.0, "C": 4.0, "D": 15.0})
"""Whole days from which a sign is of a class: under a day, 1 to 3, 4 to 14, over 14. Common practice, no source."""
AGE_MIDDLE_DAYS: Mapping[AgeClass, float] = MappingProxyType({"A": 0.5, "B": 2.0, "C": 9.0, "D": 30.0})
"""Age taken for a sign found in such a state: the middle of its class, and 30 days for the open one."""
WASHED_KINDS = ("track", "scat")
"""Kinds that do not outlast rain of 0.1 in in a crisp or soft state."""
NOT_LOOKED, NOTHING, SIGN = 0, 1, 2
"""Codes of a cell: never searched; searched, nothing found; sign within reach."""


@dataclass(frozen=True, kw_only=True)
class SignOptions:
    """How sign is weighed."""

    half_life_days: float = option(
        7.0, help="Days in which a sign loses half of its weight.", unit="days", low=0.1, high=1000.0, grade="C"
    )
    undated_days: float = option(
        60.0, help="Age given to a sign without a date.", unit="days", low=0.0, high=10000.0, grade="C"
    )
    kinds: Mapping[str, float] = option(
        factory=lambda: {
            "bed": 1.4, "wallow": 1.2, "scat": 1.0, "rub": 1.0, "trail": 1.0, "track": 1.0, "rooting": 0.7,
        },
        help="Weight of one fresh sign of each kind; beds and wallows over damage.", low=0.0, high=100.0,
        choices=SIGN_KINDS, grade="C",
    )  # fmt: skip
    rule: str = option(
        "reference", help="How the bandwidth is found.", choices=("reference", "cross-validation", "fixed")
    )
    bandwidth: Length = option(Length(200.0), help="Bandwidth where it is fixed.", low=1.0, high=5000.0, grade="C")
    least_bandwidth: Length = option(
        Length(20.0), help="Least bandwidth that a rule may give.", low=1.0, high=5000.0, grade="C"
    )
    sight: Length = option(
        Length(5.0), help="How far to each side of a walked line sign is seen.", low=0.5, high=200.0, grade="C"
    )
    search_days: float = option(
        14.0, help="Days after which a search no longer counts as having looked.", unit="days", low=0.5, high=1000.0,
        grade="C",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Sign:
    """One sign.

    Attributes:
        kind: One of `SIGN_KINDS`.
        days: From the day it was recorded to the day that ages are counted from; NaN for undated, negative for a date
            still to come.
        state: Age class it was found in, by its look, or None.
        days_since_rain: From the last rain of 0.1 in or more to the day it was recorded; NaN for not written down.
        row: Row in its file.
    """

    x_m: float
    y_m: float
    kind: str
    days: float
    state: AgeClass | None = None
    days_since_rain: float = math.nan
    row: int = 0


@dataclass(frozen=True, kw_only=True)
class VisitPoint:
    """One visit that a camera saw.

    Attributes:
        days: From the evening of its night to the day that ages are counted from.
        size: Largest number of animals at one time.
        deployment: The camera's.
    """

    x_m: float
    y_m: float
    days: float
    size: int
    deployment: str


@dataclass(frozen=True, kw_only=True)
class AgedSigns:
    """Sign with an age class forced on each. N signs in the order given.

    Attributes:
        x_m, y_m: (N,) places.
        age_days: (N,) age taken; NaN where the date is still to come.
        classes: One a sign; '' where the date is still to come.
        weights: (N,) by kind and age; 0 where the date is still to come.
        notes: Sentences on what was assumed and what is doubtful, with rows.
    """

    x_m: NDArray[np.float64]
    y_m: NDArray[np.float64]
    age_days: NDArray[np.float64]
    classes: tuple[AgeClass | Literal[""], ...]
    weights: NDArray[np.float64]
    notes: tuple[str, ...] = ()

    def counts(self) -> Mapping[str, int]:
        """How many there are of each class."""
        return {c: self.classes.count(c) for c in AGE_FROM_DAYS}  # type: ignore[arg-type]


@dataclass(frozen=True, kw_only=True)
class Searched:
    """A line along which somebody looked for sign.

    Attributes:
        line: (N, 2) east and north, metres.
        days: Since then; NaN for not written down.
    """

    line: NDArray[np.float64]
    days: float = math.nan


@dataclass(frozen=True, kw_only=True)
class Effort:
    """Where somebody looked.

    Attributes:
        looked: (rows, cols) int8: `NOT_LOOKED`, `NOTHING` or `SIGN`.
        days: (rows, cols) float32 since the last search, NaN for never or not written down.
        walked_m: Length of the lines on the grid.
        looked_ha: Ground looked at.
        notes: Sentences.
    """

    looked: NDArray[np.int8]
    days: NDArray[np.float32]
    walked_m: float
    looked_ha: float
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Bandwidth:
    """A bandwidth and where it came from.

    Attributes:
        metres: Standard deviation of the kernel along each axis.
        rule: The rule that gave it; not the one asked for where that has no answer.
        note: Why another rule was used, or ''.
    """

    metres: float
    rule: BandwidthRule
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class Isopleth:
    """The least ground that holds a share of use.

    Attributes:
        share: Of all use, 0..1.
        level: Use per square metre from which a cell belongs to it.
        hectares: Its area; a part of the last cells counts, so that the share is met exactly.
    """

    share: float
    level: float
    hectares: float


@dataclass(frozen=True, kw_only=True)
class Hull:
    """A minimum convex polygon.

    Attributes:
        corners: (N, 2) counter-clockwise.
        hectares: Its area.
        kept: (M,) bool, points that it was drawn round.
    """

    corners: NDArray[np.float64]
    hectares: float
    kept: NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class UseSurface:
    """Use over the grid.

    Attributes:
        grid: Its frame.
        density: (rows, cols) float32: weight of sign per square metre; sums, times a cell's area, to the total weight
            on the grid.
        bandwidth: Of the kernel.
        isopleths: 50 and 95 per cent of use, in that order; empty without any weight.
        off_grid: Share of use that lies beyond the grid, 0..1.
        effort: Where somebody looked, or None where no searched line is given: then a cell without sign is unknown.
        notes: Sentences.
    """

    grid: Grid
    density: NDArray[np.float32]
    bandwidth: Bandwidth
    isopleths: tuple[Isopleth, ...]
    off_grid: float
    effort: Effort | None = None
    notes: tuple[str, ...] = ()
