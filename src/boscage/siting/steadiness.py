"""How steady a ranking is: weights and value functions are shaken, and the ranks counted."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from boscage.errors import InputError
from boscage.model.weights import Steadiness, SteadinessOptions

_AT_ONCE = 2_000_000
_LOT = 1e-9


def ranking_steadiness(
    values: NDArray[np.floating], weights: Sequence[float], options: SteadinessOptions
) -> Steadiness:
    """Rank acceptability of sites.

    Weights are drawn from a Dirichlet distribution whose mean is the stated weights; its concentration is such that a
    weight of average size has the stated spread. Each factor's value function is bent: its values are raised to a power
    exp(z), z normal with standard deviation `bend`, the same power for all sites of a draw. A site's score is its
    weighted mean over the factors that have data there. Equal scores are ranked by lot.

    Args:
        values: (N, F) value of each factor at each site, 0..1, NaN for no data.
        weights: One a factor, 0 or more; a factor of weight 0 is left out.

    Returns:
        Shares with the same figures every run.

    Raises:
        InputError: The numbers do not match, a value is outside 0..1, no factor has weight, or a site has no data.

    References: R. Lahdelma, J. Hokkanen, P. Salminen (1998), EJOR 106, 137-143 (rank acceptability).
    """
    kept, stated = _checked(np.asarray(values, dtype=np.float64), np.asarray(weights, dtype=np.float64))
    count = len(kept)
    rng = np.random.default_rng(options.seed)
    ranks = np.zeros((count, count))
    beats = np.zeros((count, count))
    done, chunk = 0, max(1, min(options.draws, _AT_ONCE // (count * max(count, kept.shape[1]))))
    while done < options.draws:
        size = min(chunk, options.draws - done)
        place = _ranks(_drawn(kept, stated, options, rng, size), rng)
        for n in range(count):
            ranks[n] += np.bincount(place[:, n], minlength=count)
        beats += (place[:, :, None] < place[:, None, :]).sum(axis=0)
        done += size
    return _counted(_scores(kept, stated[None, :])[0], ranks / options.draws, beats / options.draws, options)


def steadiness_sentence(steady: Steadiness, site: int) -> str:
    """What the ranks of one site say to people.

    Args:
        site: Index in the order given to `ranking_steadiness`.
    """
    label, share = steady.labels[site], steady.top_rank_share[site]
    low, high = int(steady.low_rank[site]), int(steady.high_rank[site])
    kept = f"rank {low}" if low == high else f"ranks {low} to {high}"
    tie = " It could as well be swapped with the others of that rank." if label.endswith("=") else ""
    return f"Rank {label}: first in {100.0 * share:.0f} % of draws, {kept} in nine of ten.{tie}"


def _checked(
    values: NDArray[np.float64], weights: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Values of the factors that have weight, and their weights summing to 1."""
    if values.ndim != 2 or values.shape[1] != weights.size or not len(values):
        raise InputError(
            f"the values are {' by '.join(map(str, values.shape))} for {weights.size} weights",
            expected="one row a site and one column a factor",
        )
    if ((values < 0.0) | (values > 1.0)).any():
        raise InputError("a factor's value lies outside 0 to 1", expected="values from 0 to 1, or none")
    if not (np.isfinite(weights).all() and (weights >= 0.0).all() and weights.sum() > 0.0):
        raise InputError("the weights are negative, or all 0", expected="0 or more, and one over 0")
    has = weights > 0.0
    kept = values[:, has]
    empty = np.isnan(kept).all(axis=1)
    if empty.any():
        raise InputError("a site has no data in any factor that has weight", row=int(np.argmax(empty)) + 1)
    return kept, weights[has] / weights.sum()


def _drawn(
    values: NDArray[np.float64],
    weights: NDArray[np.float64],
    options: SteadinessOptions,
    rng: np.random.Generator,
    size: int,
) -> NDArray[np.float64]:
    """(size, N) scores of one lot of draws."""
    count = weights.size
    if count == 1:
        drawn = np.ones((size, 1))
    else:
        total = max((count - 1) / options.spread**2 - 1.0, 1e-6)
        drawn = rng.dirichlet(np.maximum(total * weights, 1e-9), size=size)
    powers = np.exp(options.bend * rng.standard_normal((size, count)))
    out = np.empty((size, len(values)))
    for n, row in enumerate(values):
        has = ~np.isnan(row)
        held = drawn[:, has]
        out[:, n] = (held * row[has] ** powers[:, has]).sum(axis=1) / np.maximum(held.sum(axis=1), 1e-300)
    return out


def _scores(values: NDArray[np.float64], weights: NDArray[np.float64]) -> NDArray[np.float64]:
    """(M, N) weighted means over the factors that have data, for (M, F) weights."""
    has = ~np.isnan(values)
    return (weights @ np.where(has, values, 0.0).T) / (weights @ has.T)


def _ranks(scores: NDArray[np.float64], rng: np.random.Generator) -> NDArray[np.int64]:
    """(M, N) ranks from 0; equal scores by lot."""
    order = np.argsort(-(scores + _LOT * rng.random(scores.shape)), axis=1, kind="stable")
    place = np.empty_like(order)
    np.put_along_axis(place, order, np.arange(scores.shape[1])[None, :], axis=1)
    return place


def _counted(
    scores: NDArray[np.float64], ranks: NDArray[np.float64], beats: NDArray[np.float64], options: SteadinessOptions
) -> Steadiness:
    order = np.argsort(-scores.round(12), kind="stable")
    below = np.cumsum(ranks, axis=1)
    return Steadiness(
        order=order, acceptability=ranks, top_rank_share=ranks[:, 0].copy(),
        first_share=below[:, min(options.first, len(ranks)) - 1].copy(), beats=beats,
        low_rank=1 + np.argmax(below >= 0.05 - 1e-12, axis=1), high_rank=1 + np.argmax(below >= 0.95 - 1e-12, axis=1),
        labels=_labels(order, beats, options.tied), error=1.96 * math.sqrt(0.25 / options.draws), options=options,
    )  # fmt: skip


def _labels(order: NDArray[np.int64], beats: NDArray[np.float64], tied: float) -> tuple[str, ...]:
    """Ranks, shared by neighbours of which none beats another often enough.

    A rank is shared from its first site down to the last that no site of that rank beats in the share `tied` of draws.
    """
    labels = [""] * len(order)
    begin = 0
    while begin < len(order):
        end = begin + 1
        while end < len(order) and (beats[order[begin:end], order[end]] < tied).all():
            end += 1
        for n in order[begin:end]:
            labels[n] = f"{begin + 1}=" if end - begin > 1 else f"{begin + 1}"
        begin = end
    return tuple(labels)
