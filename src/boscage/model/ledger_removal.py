"""Removal: passes, what an estimator gives, and whether a log supports any estimate at all."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass

from boscage.model.options import option


@dataclass(frozen=True, kw_only=True)
class RemovalOptions:
    """What must hold before an estimate of animals left is offered.

    More than three passes within three months, and a removal rate over 0.40, or 0.70 where there are fewer than 50
    animals: Davis et al. (2016), Ecol. Appl. 26:2339. The rate is taken here as the share removed in each pass, the
    stricter reading.
    """

    least_passes: int = option(4, help="Least passes.", low=3, high=50, grade="V")
    most_days: int = option(92, help="Most days from the first night to the last.", low=1, high=366, grade="V")
    least_rate: float = option(
        0.40, help="Least share of the animals removed in each pass.", low=0.0, high=1.0, grade="V"
    )
    few: int = option(50, help="Estimates under this number need the higher rate.", low=0, high=10_000, grade="V")
    few_rate: float = option(0.70, help="Least share removed in each pass then.", low=0.0, high=1.0, grade="V")
    even: float = option(
        0.10, help="Most that the effort of a pass may differ from the mean and still count as equal.", low=0.0,
        high=1.0, grade="C",
    )  # fmt: skip
    pass_days: int = option(7, help="Days in one pass.", unit="days", low=1, high=92, grade="C")
    closed: bool | None = option(
        None, help="Whether no animals came or left meanwhile; by default nobody has said, and then none is estimated."
    )
    level: float = option(0.95, help="Level of the intervals.", low=0.5, high=0.999)


@dataclass(frozen=True, kw_only=True)
class RemovalPass:
    """One pass.

    Attributes:
        first, last: First and last armed night in it.
        effort: Armed nights of all sets.
        catch: Animals removed.
    """

    first: dt.date
    last: dt.date
    effort: float
    catch: int


@dataclass(frozen=True, kw_only=True)
class Estimate:
    """What a removal estimator gives.

    Attributes:
        method: Its name.
        number: Animals before the first pass.
        error: Standard error of the number, NaN for none.
        rate: Share removed in each pass; catchability per unit of effort for Leslie and DeLury.
        rate_error: Standard error of the rate, NaN for none.
        low, high: Interval of the number, NaN for none; `high` is infinite where the catches set no upper end.
    """

    method: str
    number: float
    error: float = math.nan
    rate: float = math.nan
    rate_error: float = math.nan
    low: float = math.nan
    high: float = math.nan


@dataclass(frozen=True, kw_only=True)
class NoEstimate:
    """An estimator has no answer, and why."""

    method: str
    reason: str

    def __bool__(self) -> bool:
        return False


@dataclass(frozen=True, kw_only=True)
class FitTest:
    """One condition for an estimate.

    Attributes:
        name: `passes`, `time`, `closure`, `catch`, `falling`, `rate` or `interval`.
        passed: Whether it is met.
        text: One sentence with the figures.
    """

    name: str
    passed: bool
    text: str


@dataclass(frozen=True, kw_only=True)
class Removal:
    """Whether the log supports an estimate of animals left, and that estimate.

    Attributes:
        fit: Whether every test is met.
        tests: All that were made, in order.
        passes: That they were made on.
        estimate: Chosen by the effort: maximum likelihood where passes are even, Leslie else; None unless `fit`.
        beside: Carle and Strub's, beside maximum likelihood, or None.
        caveat: To be printed with any estimate.
    """

    fit: bool
    tests: tuple[FitTest, ...]
    passes: tuple[RemovalPass, ...]
    estimate: Estimate | None = None
    beside: Estimate | None = None
    caveat: str = ""

    @property
    def reasons(self) -> tuple[str, ...]:
        """Sentences of the tests that failed."""
        return tuple(t.text for t in self.tests if not t.passed)

    @property
    def taken(self) -> int:
        """Animals removed in all passes."""
        return sum(p.catch for p in self.passes)

    @property
    def left(self) -> tuple[float, float, float] | None:
        """Animals left after the last pass and its interval, none under nought; None unless `fit`."""
        if self.estimate is None:
            return None
        least, low, high = (
            max(0.0, n - self.taken) for n in (self.estimate.number, self.estimate.low, self.estimate.high)
        )
        return least, low, high
