"""Sites together against published optima, brute force and closed forms."""

from __future__ import annotations

import csv
import itertools
import math
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import linprog
from scipy.sparse.csgraph import minimum_spanning_tree

from boscage.model.portfolio import CoverProblem, PortfolioOptions
from boscage.siting.cover import make_problem, reduce_problem
from boscage.siting.cover_search import greedy
from boscage.siting.cover_solve import _Model
from boscage.siting.portfolio import choose_portfolio, cover_curve
from boscage.siting.rounds import Crews, RoundTable, closed_minutes

STORES = Path(__file__).parents[1] / "data" / "sf_stores" / "distances.csv"
OPTIMA = (448255, 671938, 791499, 875247, 927402, 941462, 950428, 955113)
GREEDY = (448255, 671938, 788863, 872611)


def stores(radius_m: float = 5000.0) -> CoverProblem:
    with STORES.open() as file:
        rows = list(csv.DictReader(file))
    names = [n for n in rows[0] if n.startswith("Store_")]
    away = np.array([[float(r[n]) for n in names] for r in rows])
    lists = [np.flatnonzero(away[:, s] <= radius_m) for s in range(len(names))]
    return CoverProblem(
        names=tuple(names), weights=np.array([float(r["pop2000"]) for r in rows]),
        starts=np.concatenate([[0], np.cumsum([len(c) for c in lists])]), cells=np.concatenate(lists),
        groups=np.full(len(names), -1), apart=np.zeros((0, 2), dtype=np.int64),
    )  # fmt: skip


@pytest.mark.parametrize(("nets", "best"), list(enumerate(OPTIMA, start=1)))
def test_san_francisco_stores(nets: int, best: int) -> None:
    """205 tracts, 16 stores, 5,000 m: p = 4 published in spopt 0.7.0 (875,247); every p by brute force there."""
    found = choose_portfolio(stores(), PortfolioOptions(nets=nets))
    assert (found.covered, found.ending) == (best, "optimal")
    assert found.gap <= 1e-6
    if nets == 4:
        assert set(found.names) == {"Store_11", "Store_12", "Store_15", "Store_2"}
        assert found.share == pytest.approx(875247 / 955113)


def test_san_francisco_curve_and_greedy() -> None:
    points = cover_curve(stores(), PortfolioOptions(nets=4), 9)
    assert [round(955113 * p.share) for p in points] == [*OPTIMA, 955113]
    assert [round(955113 * p.added) for p in points][:3] == [448255, 223683, 119561]
    assert points[-1].added == 0.0 and all(p.ending == "optimal" for p in points)
    small = reduce_problem(stores(), np.ones(16, dtype=bool), drop_dominated=True)
    assert [greedy(small, p).covered for p in (1, 2, 3, 4)] == list(GREEDY)


def test_where_greedy_fails() -> None:
    """A = {a1, a2}, B = {b1, b2}, D = {a1, b1, d}, weights 1 but d 0.01; with two sites 4.00 against 3.01."""
    problem = CoverProblem(
        names=("A", "B", "D"), weights=np.array([1, 1, 1, 1, 0.01]), starts=np.array([0, 2, 4, 7]),
        cells=np.array([0, 1, 2, 3, 0, 2, 4]), groups=np.full(3, -1), apart=np.zeros((0, 2), dtype=np.int64),
    )  # fmt: skip
    found = choose_portfolio(problem, PortfolioOptions(nets=2))
    assert (found.names, found.covered) == (("A", "B"), 4.0)
    assert found.greedy_share * problem.total == pytest.approx(3.01)


@pytest.mark.parametrize("nets", [2, 3, 4, 5, 10])
def test_greedy_reaches_its_guarantee(nets: int) -> None:
    """1 - (1 - 1/p)^p of the best: Nemhauser, Wolsey and Fisher (1978)."""
    rng = np.random.default_rng(nets)
    problem = make_problem(rng.random((40, 2)), rng.random((300, 2)), rng.random(300), radius_m=0.12)
    found = choose_portfolio(problem, PortfolioOptions(nets=nets))
    assert found.ending == "optimal"
    assert found.greedy_share >= (1 - (1 - 1 / nets) ** nets) * found.share - 1e-12


def best_by_hand(problem: CoverProblem, nets: int, allowed) -> float:
    every = range(len(problem.names))
    sets = itertools.chain.from_iterable(itertools.combinations(every, k) for k in range(1, nets + 1))
    return max((problem.covered(s) for s in sets if allowed(s)), default=0.0)


@pytest.mark.parametrize("seed", range(6))
def test_groups_spacing_and_rounds_against_every_set(seed: int) -> None:
    """12 sites, three groups, spacing, one or two crews: equal to the best of all sets tried one by one."""
    rng = np.random.default_rng(seed)
    places, cells = rng.random((12, 2)) * 4000, rng.random((400, 2)) * 4000
    at = np.concatenate([[[2000.0, 0.0]], places])
    minutes = np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1)) / 60.0 * rng.uniform(1.0, 1.6, (13, 13))
    groups = [None if g == 3 else "abc"[g] for g in rng.integers(0, 4, 12)]
    crews, hours = (1, 2.6) if seed % 2 else (2, 1.5)
    options = PortfolioOptions(nets=4, crews=crews, hours=hours, check_minutes=15.0)
    problem = make_problem(
        places, cells, rng.random(400), radius_m=700.0, spacing_m=500.0, groups=groups, minutes=minutes
    )
    closed = closed_minutes(minutes)

    def minutes_of(part: tuple[int, ...]) -> float:
        if not part:
            return 0.0
        tours = (sum(closed[a, b] for a, b in itertools.pairwise((0, *t, 0))) for t in itertools.permutations(part))
        return min(tours) + 15.0 * len(part)

    def allowed(sites: tuple[int, ...]) -> bool:
        named = [groups[s] for s in sites if groups[s] is not None]
        near = any(math.dist(places[a], places[b]) < 500.0 for a, b in itertools.combinations(sites, 2))
        if len(set(named)) < len(named) or near:
            return False
        stops = [s + 1 for s in sites]
        if crews == 1:
            return minutes_of(tuple(stops)) <= 60.0 * hours
        parts = itertools.chain.from_iterable(itertools.combinations(stops, k) for k in range(len(stops) + 1))
        limit = 60.0 * hours
        return any(minutes_of(p) <= limit and minutes_of(tuple(set(stops) - set(p))) <= limit for p in parts)

    found = choose_portfolio(problem, options)
    assert found.ending == "optimal"
    assert found.covered == pytest.approx(best_by_hand(problem, 4, allowed))
    assert allowed(found.chosen)
    assert sorted(s for r in found.rounds for s in r.sites) == list(found.chosen)
    assert all(r.minutes == pytest.approx(minutes_of(tuple(s + 1 for s in r.sites))) for r in found.rounds)
    free = choose_portfolio(make_problem(places, cells, problem.weights, radius_m=700.0), options)
    assert free.covered > found.covered, "the conditions must bind, or nothing is tested"


def test_the_shortest_round_is_that_of_all_orders() -> None:
    """Held-Karp on seven sites with ways that differ there and back, against 5,040 orders."""
    rng = np.random.default_rng(3)
    minutes = closed_minutes(rng.uniform(5.0, 60.0, (8, 8)))
    table = RoundTable(minutes=minutes, stay=np.full(7, 10.0))
    tours = [sum(minutes[a, b] for a, b in itertools.pairwise((0, *t, 0))) for t in itertools.permutations(range(1, 8))]
    assert table.closed[-1] == pytest.approx(min(tours) + 70.0)
    order = [n + 1 for n in table.order(127)]
    assert sum(minutes[a, b] for a, b in itertools.pairwise((0, *order, 0))) == pytest.approx(min(tours))


def test_a_round_on_a_circle_follows_it() -> None:
    """Twelve sites and the base evenly on a circle: the shortest round is the polygon, 2 n R sin(pi / n)."""
    angle = np.random.default_rng(1).permutation(13) * 2 * np.pi / 13
    at = np.column_stack([np.cos(angle), np.sin(angle)]) * 100.0
    minutes = np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1))
    crews = Crews(minutes=closed_minutes(minutes), stay_minutes=0.0, count=1, limit_minutes=1e6)
    (found,) = crews.rounds(range(12))
    assert found.is_shortest
    assert found.minutes == pytest.approx(2 * 13 * 100 * math.sin(math.pi / 13))


def test_bounds_and_long_rounds_bracket_the_shortest() -> None:
    """Sixteen sites: the round found is between its bounds and at most twice the spanning tree."""
    rng = np.random.default_rng(9)
    at = rng.random((17, 2)) * 60
    minutes = np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1))
    crews = Crews(minutes=closed_minutes(minutes), stay_minutes=5.0, count=1, limit_minutes=1e6)
    (found,) = crews.rounds(range(16))
    tree = minimum_spanning_tree(minutes).sum()
    assert not found.is_shortest and sorted(found.sites) == list(range(16))
    assert crews.least_total(range(16)) <= found.minutes + 1e-9
    assert tree <= found.minutes - 80.0 <= 2 * tree
    assert crews.least_each().sum() <= found.minutes + 1e-9


def test_the_relaxed_bound_is_that_of_scipy() -> None:
    """scipy.optimize.linprog on the same relaxed programme, San Francisco, p = 4."""
    small = reduce_problem(stores(), np.ones(16, dtype=bool), drop_dominated=True)
    model = _Model(small, 4)
    theirs = linprog(-model.gain, A_ub=model.rows, b_ub=model.upper, bounds=(0.0, 1.0))
    bound, _ = model.relaxed(30.0)
    assert bound == pytest.approx(-theirs.fun / model.unit, rel=1e-5)
    assert bound >= 875247
