"""Weights from stated ratios or from a table of pairwise comparisons."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from boscage.errors import InputError
from boscage.model.weights import CONSISTENT, RANDOM_INDEX, Comparison, Weighting

_LEAST, _MOST = 1.0 / 9.0 - 1e-9, 9.0 + 1e-9


def ratio_weights(ratios: Mapping[str, float]) -> Weighting:
    """Weights in the stated ratios.

    Raises:
        InputError: There is none, one is negative or no number, or all are 0.
    """
    for name, value in ratios.items():
        if not (math.isfinite(value) and value >= 0.0):
            raise InputError(f"the weight is {value:g}", expected="a number, 0 or more", field=name)
    total = sum(ratios.values())
    if total <= 0.0:
        raise InputError("no factor has a weight over 0", expected="at least one", mend="give a factor some weight")
    return Weighting(weights={n: v / total for n, v in ratios.items()}, basis="ratios")


def comparison_weights(
    names: Sequence[str], comparisons: Mapping[tuple[str, str], float], *, random_index: str = "saaty_1980"
) -> Weighting:
    """Weights from comparisons of every two factors: the principal eigenvector of the reciprocal table.

    Args:
        names: Factors, each once.
        comparisons: (first, second): how many times as much the first counts, 1/9 to 9; each two once, either way.
        random_index: Key of `RANDOM_INDEX`, which the consistency ratio is measured with.

    Returns:
        Weights with the consistency ratio; above 0.10 with the comparison whose change to what the others suggest
        lowers the ratio most.

    Raises:
        InputError: A comparison is missing, stated twice and differently, of an unknown factor, outside 1/9 to 9, or
            there are more factors than the random index knows.

    References: T. L. Saaty (1980), The Analytic Hierarchy Process; (2008) RACSAM 102(2), 251-318.
    """
    if random_index not in RANDOM_INDEX:
        known = ", ".join(RANDOM_INDEX)
        raise InputError(f"the random index is {random_index}", expected=f"one of {known}", field="random_index")
    table = _table(names, comparisons)
    chosen = RANDOM_INDEX[random_index]
    if len(names) not in chosen.by_size:
        raise InputError(
            f"{len(names)} factors are compared", expected=f"{max(chosen.by_size)} at the most for {chosen.title}",
            mend="compare groups of factors, or take another random index",
        )  # fmt: skip
    scale = chosen.by_size[len(names)]
    weights, largest = _principal(table)
    index, ratio = _consistency(largest, len(names), scale)
    worst = _worst(names, table, weights, scale) if ratio > CONSISTENT else None
    return Weighting(
        weights=dict(zip(names, weights.tolist(), strict=True)), basis="comparison table", largest=largest, index=index,
        ratio=ratio, random_index=chosen.title, worst=worst, notes=_notes(ratio, chosen.title, worst),
    )  # fmt: skip


def _table(names: Sequence[str], comparisons: Mapping[tuple[str, str], float]) -> NDArray[np.float64]:
    """The whole reciprocal table."""
    if not names or len(set(names)) < len(names):
        raise InputError("the factors compared are none, or one stands twice", expected="each factor once")
    place = {n: i for i, n in enumerate(names)}
    table = np.full((len(names), len(names)), np.nan)
    np.fill_diagonal(table, 1.0)
    for (first, second), value in comparisons.items():
        where = f"{first} against {second}"
        if first not in place or second not in place or first == second:
            raise InputError("there is no such comparison", expected=f"two of {', '.join(names)}", field=where)
        if not (math.isfinite(value) and _LEAST <= value <= _MOST):
            raise InputError(f"the comparison is {value:g}", expected="1/9 to 9", field=where)
        i, j = place[first], place[second]
        if not math.isnan(table[i, j]) and not math.isclose(table[i, j], value, rel_tol=1e-9):
            raise InputError(
                f"the comparison is {value:g}, and the other way round it gives {table[i, j]:g}",
                expected="each two compared once", mend="take one of the two out", field=where,
            )  # fmt: skip
        table[i, j], table[j, i] = value, 1.0 / value
    for i, j in zip(*np.nonzero(np.isnan(table)), strict=True):
        where = f"{names[i]} against {names[j]}"
        raise InputError("the comparison is missing", expected="every two compared", mend="state it", field=where)
    return table


def _principal(table: NDArray[np.float64]) -> tuple[NDArray[np.float64], float]:
    """Eigenvector of the largest eigenvalue, summing to 1, and that eigenvalue."""
    values, vectors = np.linalg.eig(table)
    k = int(np.argmax(values.real))
    vector = np.abs(vectors[:, k].real)
    return vector / vector.sum(), float(values[k].real)


def _consistency(largest: float, count: int, scale: float) -> tuple[float, float]:
    """Consistency index and ratio; both 0 for up to two factors."""
    if count <= 2:
        return 0.0, 0.0
    index = max(0.0, (largest - count) / (count - 1))
    return index, index / scale


def _worst(
    names: Sequence[str], table: NDArray[np.float64], weights: NDArray[np.float64], scale: float
) -> Comparison | None:
    """The comparison whose replacement by what all others suggest lowers the ratio most.

    What they suggest is the ratio of the weights that the table gives with that comparison taken as unknown.

    References: P. T. Harker (1987), Mathematical Modelling 9(11), 837-848, for tables with a comparison left out.
    """
    best: Comparison | None = None
    for i in range(len(names)):
        for j in range(i + 1, len(names)):
            left = table.copy()
            left[i, j] = left[j, i] = 0.0
            left[i, i] = left[j, j] = 2.0
            rest, _ = _principal(left)
            fitting = float(rest[i] / rest[j])
            trial = table.copy()
            trial[i, j], trial[j, i] = fitting, 1.0 / fitting
            _, ratio = _consistency(_principal(trial)[1], len(names), scale)
            if best is None or ratio < best.ratio_without - 1e-12:
                best = Comparison(
                    first=names[i], second=names[j], stated=float(table[i, j]), fitting=fitting, ratio_without=ratio
                )
    return best


def _notes(ratio: float, title: str, worst: Comparison | None) -> tuple[str, ...]:
    said = f"Consistency ratio {ratio:.3f}, random index of {title}."
    if worst is None:
        return (said,)
    pair = f"{worst.first} against {worst.second}"
    return (
        said,
        f"Above {CONSISTENT:.2f}: the comparisons contradict one another. The one that hurts most is {pair}, stated as "
        f"{_times(worst.stated)}; the others suggest {_times(worst.fitting)}, which gives {worst.ratio_without:.3f}.",
    )


def _times(value: float) -> str:
    """A ratio as people say it: 3, or 1/3."""
    return f"{value:.3g}" if value >= 1.0 else f"1/{1.0 / value:.3g}"
