"""Weights of factors: where they come from, how consistent they are, and how steady the ranking is that they give."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from boscage.model.options import option


@dataclass(frozen=True, kw_only=True)
class RandomIndex:
    """Mean consistency index of random comparison tables, which the consistency ratio is measured against.

    Attributes:
        title: Author and year, printed with every ratio.
        by_size: Index by number of factors.
        grade: Where it comes from: V read, R recalled.
    """

    title: str
    by_size: Mapping[int, float]
    grade: str


def _sizes(first: int, *values: float) -> Mapping[int, float]:
    return MappingProxyType({first + i: v for i, v in enumerate(values)})


RANDOM_INDEX: Mapping[str, RandomIndex] = MappingProxyType({
    "saaty_1980": RandomIndex(
        title="Saaty (1980)", grade="R", by_size=_sizes(1, 0.0, 0.0, 0.58, 0.90, 1.12, 1.24, 1.32, 1.41, 1.45, 1.49),
    ),
    "saaty_2003": RandomIndex(
        title="Saaty and Ozdemir (2003)", grade="V",
        by_size=_sizes(1, 0.0, 0.0, 0.52, 0.89, 1.11, 1.25, 1.35, 1.40, 1.45, 1.49, 1.52, 1.54, 1.56, 1.58, 1.59),
    ),
    "donegan_1991": RandomIndex(
        title="Donegan and Dodd (1991)", grade="V",
        by_size=_sizes(1, 0.0, 0.0, 0.4914, 0.8286, 1.0591, 1.1797, 1.2519, 1.3171, 1.3733, 1.4055),
    ),
})  # fmt: skip
"""Two tables go by the name of Saaty; each ratio says which one it was measured with."""
CONSISTENT = 0.10
"""Greatest consistency ratio that is let pass without a word: Saaty (1980)."""


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """One comparison of a table.

    Attributes:
        first, second: Names of the factors.
        stated: How many times as much the first counts as the second, as stated.
        fitting: What the other comparisons suggest.
        ratio_without: Consistency ratio of the table with `fitting` in its place.
    """

    first: str
    second: str
    stated: float
    fitting: float
    ratio_without: float


@dataclass(frozen=True, kw_only=True)
class Weighting:
    """Weights that sum to 1.

    Attributes:
        weights: By factor, in the order given.
        basis: `ratios` stated directly, or a `comparison table`.
        largest: Largest eigenvalue of the table; NaN for ratios.
        index, ratio: Consistency index and ratio; 0 for ratios and for up to two factors.
        random_index: Title of the random index used; '' for ratios.
        worst: The comparison that hurts most where the ratio is above 0.10, else None.
        notes: Sentences for people.
    """

    weights: Mapping[str, float]
    basis: str
    largest: float = float("nan")
    index: float = 0.0
    ratio: float = 0.0
    random_index: str = ""
    worst: Comparison | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class WeightsOptions:
    """`[weights]`: weights from comparisons of every two factors, in place of those of the factors' own tables."""

    comparisons: Mapping[str, float] = option(
        factory=dict, help='"first/second" = how many times as much the first factor counts as the second; every two '
        "that take part, once. Empty: the factors' own weights hold.", low=1.0 / 9.0, high=9.0,
    )  # fmt: skip
    random_index: str = option(
        "saaty_1980", help="Random index that the consistency ratio is measured with.", choices=tuple(RANDOM_INDEX)
    )


@dataclass(frozen=True, kw_only=True)
class SteadinessOptions:
    """How far weights and value functions are shaken. Spreads are common practice, no source."""

    draws: int = option(10_000, help="Times that weights and value functions are drawn.", low=100, high=1_000_000)
    spread: float = option(
        0.3, help="Standard deviation of a weight of average size, as a share of it.", low=0.01, high=2.0, grade="C"
    )
    bend: float = option(
        0.2, help="Standard deviation of the logarithm of the power that each value function is bent by.", low=0.0,
        high=2.0, grade="C",
    )  # fmt: skip
    first: int = option(3, help="Ranks that count as the first ones.", low=1, high=1000)
    tied: float = option(
        0.75, help="Share of draws in which a site must beat another so as not to be tied with it.", low=0.5, high=1.0,
        grade="C",
    )  # fmt: skip
    seed: int = option(20, help="Seed of the draws.", low=0)


@dataclass(frozen=True, kw_only=True)
class Steadiness:
    """How a ranking holds when weights and value functions are shaken. N sites in the order given.

    Attributes:
        order: (N,) int64, sites by stated score, best first; of equal ones the first.
        acceptability: (N, N) share of draws in which site n takes rank r (column r - 1); rows and columns sum to 1.
        top_rank_share: (N,) share of draws in which it is first.
        first_share: (N,) share of draws in which it is among the first `first`.
        beats: (N, N) share of draws in which the site of the row is above that of the column; 0 on the diagonal.
        low_rank, high_rank: (N,) int64, ranks that it keeps between in nine draws of ten.
        labels: One a site: its rank, with '=' behind it where the sites of that rank could as well be swapped.
        error: Half width of the 95 % interval of a share near a half, from the number of draws.
        options: What was drawn.
    """

    order: NDArray[np.int64]
    acceptability: NDArray[np.float64]
    top_rank_share: NDArray[np.float64]
    first_share: NDArray[np.float64]
    beats: NDArray[np.float64]
    low_rank: NDArray[np.int64]
    high_rank: NDArray[np.int64]
    labels: tuple[str, ...]
    error: float
    options: SteadinessOptions
