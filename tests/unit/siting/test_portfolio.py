"""Sites together: what is refused, what is said, what a limit may not hide."""

from __future__ import annotations

import numpy as np
import pytest

from boscage.errors import InputError
from boscage.model.portfolio import CoverProblem, NoPortfolio, Portfolio, PortfolioOptions
from boscage.siting.cover import make_problem, reduce_problem, surface_cells
from boscage.siting.cover_branch import branch
from boscage.siting.cover_search import Found
from boscage.siting.cover_solve import Clock, solve
from boscage.siting.portfolio import choose_portfolio, cover_curve
from boscage.siting.portfolio_words import curve_sentences, portfolio_sentences, proof_sentence
from boscage.siting.rounds import Crews, closed_minutes
from boscage.values import Grid

ROW = np.column_stack([np.arange(5) * 1000.0, np.zeros(5)])


def hard(seed: int = 2) -> CoverProblem:
    rng = np.random.default_rng(seed)
    return make_problem(rng.random((300, 2)), rng.random((6000, 2)), rng.random(6000), radius_m=0.09)


def test_a_time_limit_never_reads_as_proven() -> None:
    found = choose_portfolio(hard(), PortfolioOptions(nets=25, time_limit=0.001))
    assert isinstance(found, Portfolio)
    assert found.ending == "time limit" and found.gap > 1e-6 and found.bound > found.covered
    said = " ".join(portfolio_sentences(found, hard()))
    assert "Not proven best: stopped at the time limit (gap" in said and "Proven: no" not in said


def test_a_stated_gap_ends_the_search_and_is_said() -> None:
    found = choose_portfolio(hard(), PortfolioOptions(nets=25, gap=0.2))
    assert found.ending in ("gap reached", "optimal") and found.gap <= 0.2
    loose = Found(chosen=found.chosen, covered=found.covered)
    small = reduce_problem(hard(), np.ones(300, dtype=bool), drop_dominated=False)
    assert solve(small, 25, loose, Clock(limit=0.0)).ending == "time limit"


def test_the_same_set_every_time() -> None:
    options = PortfolioOptions(nets=6)
    first, second = (choose_portfolio(hard(7), options) for _ in range(2))
    assert first == second


def test_a_cell_at_the_radius_is_covered_and_one_beyond_is_not() -> None:
    cells = np.array([[100.0, 0.0], [100.1, 0.0]])
    problem = make_problem(np.zeros((1, 2)), cells, np.array([2.0, 5.0]), radius_m=100.0)
    assert problem.covered([0]) == 2.0


def test_sites_at_the_spacing_may_go_together_and_nearer_ones_may_not() -> None:
    cells = ROW + [[0.0, 10.0]]
    for spacing, most in ((1000.0, 5), (1000.1, 3)):
        problem = make_problem(ROW, cells, np.ones(5), radius_m=50.0, spacing_m=spacing)
        found = choose_portfolio(problem, PortfolioOptions(nets=5))
        assert (len(found.chosen), found.ending) == (most, "optimal")


def test_one_rig_a_group() -> None:
    problem = make_problem(
        ROW, ROW, np.array([5.0, 4.0, 3.0, 2.0, 1.0]), radius_m=50.0, groups=["a", "a", None, "b", "b"]
    )
    found = choose_portfolio(problem, PortfolioOptions(nets=5))
    assert found.chosen == (0, 2, 3)
    assert {(a.out, a.into) for a in found.alternatives} <= {(0, 1), (3, 4)}


def test_alternatives_lose_no_more_than_stated() -> None:
    weights = np.array([100.0, 99.5, 50.0, 98.0, 1.0])
    found = choose_portfolio(make_problem(ROW, ROW, weights, radius_m=50.0), PortfolioOptions(nets=1, near=0.01))
    assert [(a.out, a.into) for a in found.alternatives] == [(0, 1)]
    assert found.alternatives[0].share == pytest.approx(99.5 / weights.sum())
    wide = choose_portfolio(make_problem(ROW, ROW, weights, radius_m=50.0), PortfolioOptions(nets=1, near=0.02))
    assert [a.into for a in wide.alternatives] == [1, 3]


def test_a_site_too_far_to_check_is_left_out_and_said() -> None:
    minutes = np.abs(np.subtract.outer(np.arange(6), np.arange(6))) * 30.0
    problem = make_problem(ROW, ROW, np.arange(1.0, 6.0), radius_m=50.0, minutes=minutes)
    found = choose_portfolio(problem, PortfolioOptions(nets=2, hours=4.0, check_minutes=10.0))
    assert found.left_out == (3, 4) and found.chosen == (1, 2)
    assert [r.sites for r in found.rounds] in ([(1, 2)], [(2, 1)])
    assert found.rounds[0].minutes == pytest.approx(200.0)
    assert any("2 sites" in n for n in found.notes)


def test_why_nothing_can_be_chosen() -> None:
    cells, weights = ROW, np.ones(5)
    far = np.full((6, 6), np.inf)
    cases = [
        (make_problem(np.zeros((0, 2)), cells, weights, radius_m=50.0), "no site to choose"),
        (make_problem(ROW, cells, np.zeros(5), radius_m=50.0), "no cell has any use"),
        (make_problem(ROW, cells + 500.0, weights, radius_m=50.0), "no site that can be checked has any used cell"),
        (make_problem(ROW, cells, weights, radius_m=50.0, minutes=far), "no way leads to any"),
        (make_problem(ROW, cells, weights, radius_m=50.0, minutes=np.full((6, 6), 300.0)), "the nearest takes 620"),
    ]  # fmt: skip
    for problem, reason in cases:
        found = choose_portfolio(problem, PortfolioOptions())
        assert isinstance(found, NoPortfolio) and not found and reason in found.reason
        assert not cover_curve(problem, PortfolioOptions(), 2)


def test_without_minutes_it_is_said_that_checks_are_not_known() -> None:
    found = choose_portfolio(make_problem(ROW, ROW, np.ones(5), radius_m=50.0), PortfolioOptions(nets=1))
    assert any("not known" in n for n in found.notes) and found.rounds == ()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"names": ["a"]}, "1 names for 5 sites"),
        ({"groups": ["a"] * 4}, "4 groups for 5 sites"),
        ({"weights": np.ones(4)}, "4 weights for 5 cells"),
        ({"weights": -np.ones(5)}, "negative"),
        ({"minutes": np.ones((5, 5))}, "5 by 5 for 5 sites; expected 6 by 6"),
        ({"minutes": np.full((6, 6), np.nan)}, "negative time or none"),
    ],
)  # fmt: skip
def test_input_that_does_not_fit(change: dict, said: str) -> None:
    given = {"places": ROW, "cells": ROW, "weights": np.ones(5), "radius_m": 50.0} | change
    with pytest.raises(InputError, match=said):
        make_problem(**given)


def test_cells_of_a_surface() -> None:
    grid = Grid("EPSG:32615", 1000.0, 2000.0, 10.0, 2, 2)
    middles, values = surface_cells(np.array([[np.nan, 0.5], [0.0, 2.0]]), grid)
    assert middles.tolist() == [[1015.0, 1995.0], [1015.0, 1985.0]] and values.tolist() == [0.5, 2.0]


def test_merging_and_dropping_leave_what_matters() -> None:
    """Site 1 covers part of site 0; cells 0 and 1 are covered by the same sites."""
    problem = CoverProblem(
        names=("a", "b", "c"), weights=np.array([1.0, 2.0, 4.0, 8.0, 16.0]), starts=np.array([0, 3, 5, 6]),
        cells=np.array([0, 1, 2, 0, 1, 3]), groups=np.full(3, -1), apart=np.zeros((0, 2), dtype=np.int64),
    )  # fmt: skip
    whole = reduce_problem(problem, np.ones(3, dtype=bool), drop_dominated=False)
    assert sorted(whole.weights) == [3.0, 4.0, 8.0]
    small = reduce_problem(problem, np.ones(3, dtype=bool), drop_dominated=True)
    assert small.sites.tolist() == [0, 2] and sorted(small.weights) == [7.0, 8.0]


def test_a_dominated_site_stays_where_the_other_is_barred_from_more() -> None:
    """Site 0 covers all that site 1 does, but may not go with site 2."""
    problem = CoverProblem(
        names=("a", "b", "c"), weights=np.array([1.0, 1.0, 5.0]), starts=np.array([0, 2, 3, 4]),
        cells=np.array([0, 1, 0, 2]), groups=np.full(3, -1), apart=np.array([[0, 2]]),
    )  # fmt: skip
    found = choose_portfolio(problem, PortfolioOptions(nets=2))
    assert (found.chosen, found.covered, found.ending) == ((1, 2), 6.0, "optimal")


def test_a_detour_is_never_quicker_after_closing() -> None:
    made = closed_minutes(np.array([[0.0, 100.0, 5.0], [7.0, 0.0, 1.0], [9.0, 4.0, 0.0]]))
    assert made.tolist() == [[0.0, 9.0, 5.0], [7.0, 0.0, 1.0], [9.0, 4.0, 0.0]]


def test_parts_that_no_crew_can_do_are_least_and_widen_to_their_like() -> None:
    """Sites 0 and 1 near the base, 2 to 4 far off and near each other; 0 and any of the far ones take too long."""
    at = np.array([[0, 0], [0, 10], [0, 12], [100, 0], [101, 0], [102, 0]], dtype=float)
    minutes = closed_minutes(np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1)))
    crews = Crews(minutes=minutes, stay_minutes=0.0, count=1, limit_minutes=206.0)
    assert crews.barred_parts([0, 2, 3]) == [(0, 2), (0, 3)]
    assert crews.barred_parts([2, 3, 4]) == []
    assert crews.widened((0, 2)) == (0, 2), "1 goes with 0, and 3 and 4 go with 2"
    short = Crews(minutes=minutes, stay_minutes=0.0, count=1, limit_minutes=204.5)
    assert short.widened((0, 2, 3)) == (0, 1, 2, 3)


def test_two_crews_share_what_one_cannot_do() -> None:
    at = np.array([[0, 0], [-50, 0], [50, 0]], dtype=float)
    minutes = np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1))
    one = Crews(minutes=minutes, stay_minutes=10.0, count=1, limit_minutes=120.0)
    two = Crews(minutes=minutes, stay_minutes=10.0, count=2, limit_minutes=120.0)
    assert one.rounds([0, 1]) is None and one.cannot([0, 1])
    assert sorted(r.sites for r in two.rounds([0, 1])) == [(0,), (1,)]
    assert [r.minutes for r in two.rounds([0, 1])] == [110.0, 110.0]


def test_words_say_what_is_proven_and_what_the_next_net_adds() -> None:
    problem = make_problem(ROW, ROW, np.array([5.0, 4.0, 3.0, 2.0, 1.0]), radius_m=50.0)
    found = choose_portfolio(problem, PortfolioOptions(nets=2))
    said = portfolio_sentences(found, problem)
    assert said[0] == "2 sets cover 60.0 % of the use: 1, 2." and "(gap 0.00 %)" in said[1]
    assert proof_sentence(found).startswith("Proven")
    points = cover_curve(problem, PortfolioOptions(nets=2), 3)
    assert curve_sentences(points) == (
        "1 net: 33.3 %, +33.3 points.", "2 nets: 60.0 %, +26.7 points.", "3 nets: 80.0 %, +20.0 points.",
    )  # fmt: skip
    rough = cover_curve(problem, PortfolioOptions(nets=2), 2, exact=False)
    assert [p.share for p in rough] == [p.share for p in points[:2]] and rough[0].ending == "time limit"
    assert "not proven" in curve_sentences(rough)[0]


def test_a_dominated_site_that_lies_on_the_way_is_kept_where_rounds_count() -> None:
    """Site 0 covers one cell more than site 1, but only site 1 leaves time for site 2."""
    problem = CoverProblem(
        names=("far", "near", "other"), weights=np.array([1.0, 0.1, 5.0]), starts=np.array([0, 2, 3, 4]),
        cells=np.array([0, 1, 0, 2]), groups=np.full(3, -1), apart=np.zeros((0, 2), dtype=np.int64),
        minutes=np.array([[0, 50, 10, 10], [50, 0, 50, 50], [10, 50, 0, 5], [10, 50, 5, 0]], dtype=float),
    )  # fmt: skip
    found = choose_portfolio(problem, PortfolioOptions(nets=2, hours=1.75, check_minutes=1.0))
    assert (found.names, found.ending) == (("near", "other"), "optimal")


def test_many_sites_are_refused_only_on_proof() -> None:
    minutes = np.full((15, 15), 10.0)
    np.fill_diagonal(minutes, 0.0)
    for limit, refused in ((149.0, True), (150.0, False)):
        crews = Crews(minutes=minutes, stay_minutes=0.0, count=1, limit_minutes=limit)
        assert crews.cannot(range(14)) is refused
        assert (crews.rounds(range(14)) is None) is refused


@pytest.mark.parametrize("gap", [0.0, 0.3])
def test_large_problems_take_another_way_to_the_same_answer(monkeypatch: pytest.MonkeyPatch, gap: float) -> None:
    straight = choose_portfolio(hard(5), PortfolioOptions(nets=4))
    monkeypatch.setattr("boscage.siting.cover_solve.LARGE", 0)
    found = choose_portfolio(hard(5), PortfolioOptions(nets=4, gap=gap))
    assert found.gap <= max(gap, 1e-6) and found.bound >= straight.covered - 1e-9
    if gap == 0.0:
        assert found.ending == "optimal" and found.covered == pytest.approx(straight.covered)


def test_a_search_in_order_that_is_cut_short_proves_nothing() -> None:
    minutes = closed_minutes(np.random.default_rng(1).uniform(5.0, 60.0, (301, 301)))
    small = reduce_problem(hard(), np.ones(300, dtype=bool), drop_dominated=False)
    crews = Crews(minutes=minutes, stay_minutes=5.0, count=1, limit_minutes=120.0)
    start = Found(chosen=(), covered=0.0)
    assert branch(small, crews, 5, start, Clock(limit=0.0)) == (start, False)
    assert branch(small, crews, 9, start, Clock(limit=10.0)) == (start, False), "too many nets to try"
