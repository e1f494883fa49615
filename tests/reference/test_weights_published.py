"""Comparison tables against published weights and ratios; steadiness against its closed form."""

from __future__ import annotations

import itertools
import math
from fractions import Fraction

import numpy as np
import pytest

from boscage.model.weights import RANDOM_INDEX, SteadinessOptions
from boscage.siting.steadiness import ranking_steadiness
from boscage.siting.weights import comparison_weights

DRINKS = "9 5 2 1 1 1/2  1/3 1/9 1/9 1/9 1/9  1/3 1/4 1/3 1/9  1/2 1 1/3  2 1/2  1/3"
HOUSE = "5 3 7 6 6 1/3 1/4  1/3 5 3 3 1/5 1/7  6 3 4 6 1/5  1/3 1/4 1/7 1/8  1/2 1/5 1/6  1/5 1/6  1/2"
SCHOOL = "4 3 1 3 4  7 3 1/5 1  1/5 1/5 1/6  1 1/3  3"


def upper(text: str, size: int) -> dict[tuple[str, str], float]:
    pairs = itertools.combinations([f"f{i}" for i in range(size)], 2)
    return dict(zip(pairs, (float(Fraction(v)) for v in text.split()), strict=True))


def names(size: int) -> list[str]:
    return [f"f{i}" for i in range(size)]


@pytest.mark.parametrize(
    ("text", "size", "weights", "largest", "ratio", "index"),
    [
        (DRINKS, 7, (0.177, 0.019, 0.042, 0.116, 0.190, 0.129, 0.327), 7.17663, 0.022, "saaty_1980"),
        (HOUSE, 8, (0.173, 0.054, 0.188, 0.018, 0.031, 0.036, 0.167, 0.333), 9.669, 0.169, "saaty_1980"),
        (SCHOOL, 6, (0.3208, 0.1395, 0.0348, 0.1285, 0.2374, 0.1391), 7.4199, 0.229, "saaty_1980"),
        ("3 5 3", 3, (0.63699, 0.25828, 0.10473), 3.03851, 0.03320, "saaty_1980"),
        ("2 4 2", 3, (4 / 7, 2 / 7, 1 / 7), 3.0, 0.0, "donegan_1991"),
    ],
    ids=["drinks", "house", "school", "three", "consistent"],
)
def test_published_tables(
    text: str, size: int, weights: tuple[float, ...], largest: float, ratio: float, index: str
) -> None:
    """Saaty (2008) drinks; Saaty (1990) house; school in Wang and Chin (2011); a 3 x 3 by numpy; a closed form."""
    found = comparison_weights(names(size), upper(text, size), random_index=index)
    assert list(found.weights.values()) == pytest.approx(weights, abs=5.1e-4)
    assert found.largest == pytest.approx(largest, abs=6e-4)
    assert found.ratio == pytest.approx(ratio, abs=1e-3)
    assert sum(found.weights.values()) == pytest.approx(1.0)
    assert (found.worst is None) == (ratio <= 0.10)
    assert any(RANDOM_INDEX[index].title in n for n in found.notes)


def test_what_the_other_comparisons_suggest_agrees_with_its_own_table() -> None:
    """Harker (1987): with the suggested value put in, the table's weights stand in just that ratio."""
    found = comparison_weights(names(6), upper(SCHOOL, 6))
    put = {**upper(SCHOOL, 6), (found.worst.first, found.worst.second): found.worst.fitting}
    again = comparison_weights(names(6), put)
    assert again.weights[found.worst.first] / again.weights[found.worst.second] == pytest.approx(found.worst.fitting)
    assert again.ratio == pytest.approx(found.worst.ratio_without) and again.ratio < found.ratio - 0.02


def test_random_indexes_as_published() -> None:
    """Saaty (1980) from memory; Saaty and Ozdemir (2003) and Donegan and Dodd (1991) as in PyPI ahpy 2.1."""
    assert [RANDOM_INDEX["saaty_1980"].by_size[n] for n in (3, 5, 7, 10)] == [0.58, 1.12, 1.32, 1.49]
    assert [RANDOM_INDEX["saaty_2003"].by_size[n] for n in (3, 7, 8, 15)] == [0.52, 1.35, 1.40, 1.59]
    assert [RANDOM_INDEX["donegan_1991"].by_size[n] for n in (3, 6, 10)] == [0.4914, 1.1797, 1.4055]
    twice = [comparison_weights(names(8), upper(HOUSE, 8), random_index=k).ratio for k in RANDOM_INDEX]
    assert twice == pytest.approx([0.2384 / 1.41, 0.2384 / 1.40, 0.2384 / 1.3171], abs=2e-4)


def test_the_closed_form_of_rank_acceptability() -> None:
    """A (1, 0), B (0, 1), C (0.6, 0.6), weights even on the simplex of two: first in 0.4, 0.4, 0.2; C second in 0.8.

    Even weights are a Dirichlet distribution with both parameters 1: a spread of sqrt(1/3) round one half each.
    """
    values = np.array([[1.0, 0.0], [0.0, 1.0], [0.6, 0.6]])
    options = SteadinessOptions(spread=math.sqrt(1 / 3), bend=0.0, draws=10_000)
    found = ranking_steadiness(values, [1.0, 1.0], options)
    assert found.top_rank_share == pytest.approx([0.4, 0.4, 0.2], abs=0.015)
    assert found.acceptability[2] == pytest.approx([0.2, 0.8, 0.0], abs=0.015)
    assert found.acceptability[2, 2] == 0.0
    assert found.error == pytest.approx(0.0098, abs=1e-4)


def test_the_spread_is_that_of_the_weights() -> None:
    """One site shows weight 1 alone, another weight 2 alone: the first leads as often as a beta variable passes 1/2.

    Two factors stated 0.6 to 0.4, spread 0.3: parameters 0.6 and 0.4 times 1 / 0.3^2 - 1.
    """
    from scipy.stats import beta

    total = 1 / 0.3**2 - 1
    found = ranking_steadiness(np.eye(2), [0.6, 0.4], SteadinessOptions(spread=0.3, bend=0.0, draws=40_000))
    assert found.top_rank_share[0] == pytest.approx(beta.sf(0.5, 0.6 * total, 0.4 * total), abs=0.008)
