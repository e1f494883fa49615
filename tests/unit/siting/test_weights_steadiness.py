"""Weights and the steadiness of a ranking: what is refused, what is named, what is tied."""

from __future__ import annotations

import numpy as np
import pytest

from boscage.errors import InputError
from boscage.model.weights import SteadinessOptions
from boscage.siting.steadiness import ranking_steadiness, steadiness_sentence
from boscage.siting.weights import comparison_weights, ratio_weights

NAMES = ("cover", "use", "water", "access")
FINE = {("cover", "use"): 1 / 2, ("cover", "water"): 2.0, ("cover", "access"): 4.0, ("use", "water"): 4.0,
        ("use", "access"): 8.0, ("water", "access"): 2.0}  # fmt: skip


def test_ratios_are_scaled_to_one() -> None:
    found = ratio_weights({"cover": 3.0, "use": 1.0, "water": 0.0})
    assert dict(found.weights) == {"cover": 0.75, "use": 0.25, "water": 0.0} and found.basis == "ratios"


@pytest.mark.parametrize(("bad", "said"), [({"a": -1.0}, "weight is -1"), ({"a": float("nan")}, "weight is nan"),
                                           ({"a": 0.0}, "no factor has a weight"), ({}, "no factor")])  # fmt: skip
def test_ratios_refused(bad: dict[str, float], said: str) -> None:
    with pytest.raises(InputError, match=said):
        ratio_weights(bad)


def test_a_consistent_table_is_let_pass_and_either_way_round_is_the_same() -> None:
    found = comparison_weights(NAMES, FINE)
    assert found.ratio == pytest.approx(0.0, abs=1e-9) and found.worst is None
    assert list(found.weights.values()) == pytest.approx(np.array([4, 8, 2, 1]) / 15)
    turned = {(b, a): 1 / v for (a, b), v in FINE.items()}
    assert comparison_weights(NAMES, turned).weights == pytest.approx(found.weights)


@pytest.mark.parametrize("pair", list(FINE))
def test_the_comparison_that_hurts_most_is_the_one_put_wrong(pair: tuple[str, str]) -> None:
    wrong = dict(FINE)
    wrong[pair] = 1 / 9 if FINE[pair] >= 1 else 9.0
    found = comparison_weights(NAMES, wrong)
    assert found.ratio > 0.10
    assert (found.worst.first, found.worst.second, found.worst.stated) == (*pair, pytest.approx(wrong[pair]))
    assert found.worst.fitting == pytest.approx(FINE[pair])
    assert found.worst.ratio_without == pytest.approx(0.0, abs=1e-6)
    assert f"{pair[0]} against {pair[1]}" in found.notes[1] and "Saaty (1980)" in found.notes[0]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({("cover", "use"): 12.0}, "cover against use: the comparison is 12; expected 1/9 to 9"),
        ({("use", "cover"): 5.0}, "use against cover: the comparison is 5, and the other way round it gives 2"),
        ({("cover", "shade"): 2.0}, "cover against shade: there is no such comparison"),
        ({("cover", "cover"): 1.0}, "no such comparison"),
    ],
)
def test_comparisons_refused(change: dict[tuple[str, str], float], said: str) -> None:
    with pytest.raises(InputError, match=said):
        comparison_weights(NAMES, {**FINE, **change})


def test_a_missing_comparison_is_named() -> None:
    with pytest.raises(InputError, match="use against access: the comparison is missing"):
        comparison_weights(NAMES, {k: v for k, v in FINE.items() if k != ("use", "access")})
    with pytest.raises(InputError, match="16 factors are compared; expected 15 at the most for Saaty and Ozdemir"):
        many = [f"f{i}" for i in range(16)]
        pairs = {(a, b): 1.0 for i, a in enumerate(many) for b in many[i + 1 :]}
        comparison_weights(many, pairs, random_index="saaty_2003")
    with pytest.raises(InputError, match="the random index is saaty"):
        comparison_weights(NAMES, FINE, random_index="saaty")


OPTIONS = SteadinessOptions(draws=4000)


def test_the_same_shares_every_run_and_rows_and_columns_sum_to_one() -> None:
    values = np.random.default_rng(1).random((12, 5))
    first, second = (ranking_steadiness(values, [3, 1, 2, 1, 1], OPTIONS) for _ in range(2))
    assert np.array_equal(first.acceptability, second.acceptability)
    assert first.acceptability.sum(axis=0) == pytest.approx(np.ones(12))
    assert first.acceptability.sum(axis=1) == pytest.approx(np.ones(12))
    assert first.beats + first.beats.T + np.eye(12) == pytest.approx(np.ones((12, 12)))
    other = ranking_steadiness(values, [3, 1, 2, 1, 1], SteadinessOptions(draws=4000, seed=21))
    assert not np.array_equal(first.acceptability, other.acceptability)
    assert abs(first.top_rank_share - other.top_rank_share).max() < 4 * first.error


def test_a_site_better_in_everything_is_always_first() -> None:
    found = ranking_steadiness(np.array([[0.4, 0.5], [0.5, 0.6], [0.1, 0.2]]), [1, 1], OPTIONS)
    assert found.top_rank_share.tolist() == [0.0, 1.0, 0.0]
    assert found.order.tolist() == [1, 0, 2] and found.labels == ("2", "1", "3")
    assert (found.low_rank.tolist(), found.high_rank.tolist()) == ([2, 1, 3], [2, 1, 3])
    assert steadiness_sentence(found, 1) == "Rank 1: first in 100 % of draws, rank 1 in nine of ten."


def test_sites_that_could_be_swapped_are_tied() -> None:
    values = np.array([[0.9, 0.3], [0.3, 0.89], [0.1, 0.1]])
    found = ranking_steadiness(values, [1, 1], OPTIONS)
    assert found.labels == ("1=", "1=", "3")
    assert "could as well be swapped" in steadiness_sentence(found, 0)
    equal = ranking_steadiness(np.full((4, 3), 0.5), [1, 1, 1], OPTIONS)
    assert equal.labels == ("1=",) * 4
    assert equal.top_rank_share == pytest.approx(np.full(4, 0.25), abs=0.03)


def test_missing_data_are_left_out_of_the_mean_and_weightless_factors_too() -> None:
    nan = np.nan
    values = np.array([[0.6, nan], [nan, 0.5]])
    assert ranking_steadiness(values, [1, 1], SteadinessOptions(draws=500, bend=0.0)).top_rank_share[0] == 1.0
    odd = np.array([[0.9, 0.0], [0.1, 1.0]])
    assert ranking_steadiness(odd, [1, 0], OPTIONS).top_rank_share.tolist() == [1.0, 0.0]


def test_bending_alone_can_change_ranks_and_no_shaking_changes_none() -> None:
    values = np.array([[0.5, 0.5], [0.72, 0.27]])
    still = SteadinessOptions(draws=500, spread=0.01, bend=0.0)
    assert ranking_steadiness(values, [1, 1], still).top_rank_share[0] > 0.8
    bent = ranking_steadiness(values, [1, 1], SteadinessOptions(draws=4000, spread=0.01, bend=1.0))
    assert 0.2 < bent.top_rank_share[0] < 0.8


def test_the_ranks_kept_in_nine_draws_of_ten() -> None:
    values = np.random.default_rng(4).random((6, 3))
    found = ranking_steadiness(values, [1, 1, 1], SteadinessOptions(draws=2000, spread=0.8))
    assert (found.high_rank > found.low_rank).any()
    for n in range(6):
        inside = found.acceptability[n, found.low_rank[n] - 1 : found.high_rank[n]].sum()
        assert inside >= 0.90 - 1e-9
        assert found.acceptability[n, : found.low_rank[n] - 1].sum() < 0.05
        assert found.acceptability[n, found.high_rank[n] :].sum() <= 0.05 + 1e-9


def test_first_share_counts_the_first_ranks() -> None:
    values = np.random.default_rng(4).random((6, 3))
    found = ranking_steadiness(values, [1, 1, 1], SteadinessOptions(draws=2000, first=2))
    assert found.first_share == pytest.approx(found.acceptability[:, :2].sum(axis=1))
    assert found.first_share.sum() == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("values", "weights", "said"),
    [
        ([[0.5, 1.2]], [1, 1], "outside 0 to 1"),
        ([[0.5, 0.2]], [1], "1 by 2 for 1 weights"),
        ([[0.5, 0.2]], [0, 0], "all 0"),
        ([[0.5, 0.2], [np.nan, 0.3]], [1, 0], "row 2: a site has no data"),
    ],
)
def test_values_refused(values: list[list[float]], weights: list[float], said: str) -> None:
    with pytest.raises(InputError, match=said):
        ranking_steadiness(np.array(values), weights, OPTIONS)
