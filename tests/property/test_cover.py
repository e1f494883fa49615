"""What must hold of sites together whatever the ranch."""

from __future__ import annotations

import itertools

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from boscage.model.portfolio import PortfolioOptions
from boscage.siting.cover import make_problem, reduce_problem
from boscage.siting.cover_branch import branch
from boscage.siting.cover_search import Found, exchanges, improve
from boscage.siting.cover_solve import Clock, _Model, solve
from boscage.siting.portfolio import choose_portfolio
from boscage.siting.rounds import Crews, closed_minutes

FEW = settings(derandomize=True, deadline=None, max_examples=25)


def land(seed: int, sites: int = 9, cells: int = 60) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    return rng.random((sites, 2)), rng.random((cells, 2)), rng.integers(0, 5, cells).astype(float)


@FEW
@given(st.integers(0, 10**6), st.integers(1, 5), st.sampled_from([0.0, 0.2, 0.4]))
def test_equal_to_the_best_of_all_sets(seed: int, nets: int, spacing: float) -> None:
    places, cells, weights = land(seed)
    problem = make_problem(places, cells, weights, radius_m=0.25, spacing_m=spacing)
    found = choose_portfolio(problem, PortfolioOptions(nets=nets))
    apart = {tuple(p) for p in problem.apart.tolist()}
    every = itertools.chain.from_iterable(itertools.combinations(range(9), k) for k in range(nets + 1))
    best = max(problem.covered(s) for s in every if not apart & set(itertools.combinations(s, 2)))
    assert found.ending == "optimal" and abs(found.covered - best) < 1e-9 and found.bound >= best - 1e-9


@FEW
@given(st.integers(0, 10**6), st.integers(0, 6), st.floats(-1e5, 1e5))
def test_place_and_order_do_not_matter(seed: int, turn: int, move: float) -> None:
    places, cells, weights = land(seed)
    order, mix = np.roll(np.arange(9), turn), np.random.default_rng(seed + 1).permutation(60)
    options = PortfolioOptions(nets=3)
    first = choose_portfolio(make_problem(places * 1e3, cells * 1e3, weights, radius_m=250.1), options)
    second = choose_portfolio(
        make_problem(places[order] * 1e3 + move, cells[mix] * 1e3 + move, weights[mix], radius_m=250.1), options
    )
    assert abs(first.covered - second.covered) < 1e-9


@FEW
@given(st.integers(0, 10**6), st.integers(0, 10**6))
def test_any_prices_prove_a_bound(seed: int, other: int) -> None:
    """Whatever the rows' prices, no set covers more than the bound that they give."""
    problem = make_problem(*land(seed), radius_m=0.25, spacing_m=0.2)
    small = reduce_problem(problem, np.ones(9, dtype=bool), drop_dominated=True)
    model = _Model(small, 3)
    price = np.random.default_rng(other).exponential(1e5, model.upper.size)
    best = solve(small, 3, Found(chosen=(), covered=0.0), Clock(limit=30.0)).best.covered
    assert model.priced(price) >= best - 1e-9
    bound, _ = model.relaxed(10.0)
    assert bound >= best - 1e-9


@FEW
@given(st.integers(0, 10**6))
def test_an_exchange_changes_cover_by_what_is_said(seed: int) -> None:
    problem = make_problem(*land(seed), radius_m=0.3)
    whole = reduce_problem(problem, np.ones(9, dtype=bool), drop_dominated=False)
    chosen = [0, 1, 2] if whole.sites.size > 3 else [0]
    before = problem.covered(whole.sites[chosen])
    change = exchanges(whole, chosen)
    for into, out in zip(*np.nonzero(np.isfinite(change)), strict=True):
        after = problem.covered(whole.sites[[into if k == out else s for k, s in enumerate(chosen)]])
        assert abs(after - before - change[into, out]) < 1e-9


@FEW
@given(st.integers(0, 10**6), st.integers(1, 4))
def test_exchanges_never_end_worse_than_they_began(seed: int, nets: int) -> None:
    problem = make_problem(*land(seed, sites=15), radius_m=0.2)
    small = reduce_problem(problem, np.ones(15, dtype=bool), drop_dominated=True)
    start = Found(chosen=(0,), covered=problem.covered([small.sites[0]]))
    found = improve(small, start, nets, steps=20)
    assert found.covered >= start.covered and len(found.chosen) <= nets
    assert abs(problem.covered(small.sites[list(found.chosen)]) - found.covered) < 1e-9


@FEW
@given(st.integers(0, 10**6), st.integers(1, 3), st.floats(60.0, 200.0), st.integers(0, 4))
def test_who_can_join_is_who_has_rounds(seed: int, crews: int, limit: float, size: int) -> None:
    minutes = closed_minutes(np.random.default_rng(seed).uniform(5.0, 60.0, (8, 8)))
    made = Crews(minutes=minutes, stay_minutes=10.0, count=crews, limit_minutes=limit)
    chosen = tuple(range(size))
    if made.rounds(chosen) is None:
        return
    rest = np.arange(size, 7)
    assert made.can_join(chosen, rest).tolist() == [made.rounds([*chosen, int(s)]) is not None for s in rest]


@FEW
@given(st.integers(0, 10**6), st.integers(1, 2), st.floats(0.8, 2.5), st.integers(1, 4))
def test_trying_sets_in_order_finds_the_best_that_can_be_done(seed: int, crews: int, hours: float, nets: int) -> None:
    places, cells, weights = land(seed)
    minutes = closed_minutes(np.random.default_rng(seed).uniform(5.0, 60.0, (10, 10)))
    problem = make_problem(places, cells, weights, radius_m=0.25, spacing_m=0.2)
    small = reduce_problem(problem, np.ones(9, dtype=bool), drop_dominated=False)
    made = Crews(minutes=minutes, stay_minutes=10.0, count=crews, limit_minutes=60.0 * hours)
    pick = np.concatenate([[0], small.sites + 1])
    mine = Crews(minutes=minutes[np.ix_(pick, pick)], stay_minutes=10.0, count=crews, limit_minutes=60.0 * hours)
    found, done = branch(small, mine, nets, Found(chosen=(), covered=0.0), Clock(limit=60.0))
    apart = {tuple(p) for p in problem.apart.tolist()}
    every = itertools.chain.from_iterable(itertools.combinations(range(9), k) for k in range(nets + 1))
    free = (s for s in every if not apart & set(itertools.combinations(s, 2)))
    best = max(problem.covered(s) for s in free if made.rounds(s) is not None)
    assert done and abs(found.covered - best) < 1e-9
    assert mine.rounds(found.chosen) is not None


@FEW
@given(st.integers(0, 10**6), st.integers(1, 3), st.floats(60.0, 240.0))
def test_more_sites_are_never_quicker_and_bounds_hold(seed: int, crews: int, limit: float) -> None:
    rng = np.random.default_rng(seed)
    minutes = closed_minutes(rng.uniform(5.0, 60.0, (7, 7)))
    made = Crews(minutes=minutes, stay_minutes=10.0, count=crews, limit_minutes=limit)
    total = made.table(range(6)).split(crews, limit)
    for mask in range(64):
        sites = [n for n in range(6) if mask >> n & 1]
        for n in sites:
            assert total[mask] >= total[mask & ~(1 << n)] - 1e-9
        if sites and np.isfinite(total[mask]):
            assert total[mask] >= made.least_total(sites) - 1e-9
            assert total[mask] >= made.least_each()[sites].sum() - 1e-9
            assert abs(sum(r.minutes for r in made.rounds(sites)) - total[mask]) < 1e-9
