"""Cover solved to proof: the integer programme of maximal covering, with HiGHS, and a bound that stands by itself."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, field

import highspy
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix, hstack, identity, vstack

from boscage.model.portfolio import PROVEN_GAP, Ending
from boscage.siting.cover import Reduced, merge_cells
from boscage.siting.cover_search import Found

SCALE = 1e6
"""Use of all cells as the solver sees it, so that its absolute tolerances mean the same on every ranch."""
LARGE = 60_000
"""Covered pairs of site and cell above which the bound comes first, by an interior point method, then a part."""
SUPPORT = (0.1, 0.02)
"""Least share of a site in the relaxed problem for it to enter the smaller problems solved first."""

Row = tuple[tuple[int, ...], tuple[float, ...], float]
"""Sites, their coefficients, and what their sum may not exceed."""


@dataclass(kw_only=True)
class Clock:
    """Seconds left of those allowed."""

    limit: float
    begun: float = field(default_factory=time.perf_counter)

    @property
    def left(self) -> float:
        """Seconds, never less than 0."""
        return max(0.0, self.limit - (time.perf_counter() - self.begun))


@dataclass(frozen=True, kw_only=True)
class Solved:
    """What one search gave.

    Attributes:
        best: The set found.
        bound: Use that no set allowed by the rows can exceed.
        ending: Why it stopped.
    """

    best: Found
    bound: float
    ending: Ending


def solve(
    problem: Reduced, nets: int, start: Found, clock: Clock, *, gap: float = 0.0, rows: Sequence[Row] = ()
) -> Solved:
    """The set of at most `nets` sites that covers most use, with a bound.

    Maximises sum(w_d y_d) with y_d at most the number of chosen sites that cover cell d, y between 0 and 1; sites are
    whole, cells follow by themselves.

    Args:
        start: A set that keeps all rows, to start from.
        gap: Relative gap at which to stop.
        rows: Further conditions on the sites.

    References: R. Church, C. ReVelle (1974), Papers of the Regional Science Association 32, 101-118.
    """
    if not problem.sites.size or not problem.weights.size:
        return Solved(best=start, bound=start.covered, ending="optimal")
    best, bound = start, float(problem.weights.sum())
    if problem.cover.nnz > LARGE:
        best, bound = _narrowed(problem, nets, start, clock, gap, rows)
    if _gap(best, bound) > max(gap, PROVEN_GAP) and clock.left > 0.0:
        found = _search(_Model(problem, nets, rows), best, clock, gap)
        best, bound = max(best, found.best, key=lambda f: f.covered), min(bound, found.bound)
    return Solved(best=best, bound=max(bound, best.covered), ending=_ending(best, bound, gap))


def _gap(best: Found, bound: float) -> float:
    return (bound - best.covered) / bound if bound > 0.0 else 0.0


def _ending(best: Found, bound: float, gap: float) -> Ending:
    if _gap(best, bound) <= PROVEN_GAP:
        return "optimal"
    return "gap reached" if _gap(best, bound) <= gap else "time limit"


def _narrowed(
    problem: Reduced, nets: int, start: Found, clock: Clock, gap: float, rows: Sequence[Row]
) -> tuple[Found, float]:
    """Bound of the relaxed problem, and the best set among the sites that the relaxed problem uses."""
    whole = _Model(problem, nets, rows)
    bound, share = whole.relaxed(clock.left)
    best = start
    if share is None:
        return best, bound
    for k, least in enumerate(SUPPORT):
        if _gap(best, bound) <= max(gap, PROVEN_GAP) or clock.left <= 0.0:
            break
        keep = np.unique(np.concatenate([np.flatnonzero(share > least), np.array(best.chosen, dtype=np.int64)]))
        part = Clock(limit=clock.left * (0.3 if k == 0 else 0.7))
        found = _search(_Model(problem, nets, rows, keep), best, part, 0.0, bound * (1.0 - gap)).best
        best = max(best, found, key=lambda f: f.covered)
    return best, bound


class _Quiet(highspy.Highs):
    """The solver without its line of greeting, which it prints before any option can be set."""

    def enableCallbacks(self) -> None:
        """Silence first: that is where the line is printed."""
        self.silent()
        super().enableCallbacks()


class _Model:
    """The programme over some of the sites: columns for sites, then for cells; rows for nets, groups, spacing, cells.

    Args:
        keep: (K,) sites that may be chosen, rising; None for all.
    """

    def __init__(
        self, problem: Reduced, nets: int, rows: Sequence[Row] = (), keep: NDArray[np.int64] | None = None
    ) -> None:
        self.problem = problem
        self.keep = np.arange(problem.sites.size) if keep is None else keep
        cover, weights = merge_cells(problem.cover[self.keep], problem.weights)
        self.unit = SCALE / max(float(problem.weights.sum()), 1e-300)
        sites, cells = cover.shape
        above, limits = _site_rows(problem, self.keep, nets, rows)
        blocks = [hstack([above, csr_matrix((above.shape[0], cells))]), hstack([-cover.T, identity(cells)])]
        self.rows = vstack(blocks).tocsr()
        self.upper = np.concatenate([limits, np.zeros(cells)])
        self.gain = np.concatenate([np.zeros(sites), weights * self.unit])
        self.sites = sites
        self.cover = cover

    def highs(self, *, whole: bool) -> highspy.Highs:
        """The programme in the solver, on one thread; sites whole or not."""
        made = highspy.HighsLp()
        count = self.gain.size
        made.num_col_, made.num_row_ = count, self.rows.shape[0]
        made.col_cost_ = -self.gain
        made.col_lower_, made.col_upper_ = np.zeros(count), np.ones(count)
        made.row_lower_, made.row_upper_ = np.full(self.upper.size, -highspy.kHighsInf), self.upper
        made.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        made.a_matrix_.start_, made.a_matrix_.index_ = self.rows.indptr, self.rows.indices
        made.a_matrix_.value_ = self.rows.data
        if whole:
            kinds = [highspy.HighsVarType.kInteger] * self.sites
            made.integrality_ = kinds + [highspy.HighsVarType.kContinuous] * (count - self.sites)
        solver = _Quiet()
        for name, value in (("threads", 1), ("random_seed", 0), ("mip_rel_gap", 0.0)):
            solver.setOptionValue(name, value)
        solver.passModel(made)
        return solver

    def relaxed(self, seconds: float) -> tuple[float, NDArray[np.float64] | None]:
        """Bound of the relaxed programme, and each site's share in its answer (None when time ran out)."""
        solver = self.highs(whole=False)
        for name, value in (("solver", "ipm"), ("run_crossover", "off"), ("time_limit", max(seconds, 0.01))):
            solver.setOptionValue(name, value)
        solver.run()
        answer = solver.getSolution()
        price = np.maximum(-np.array(answer.row_dual), 0.0) if answer.dual_valid else np.zeros(self.upper.size)
        bound = self.priced(price)
        if not answer.value_valid:
            return bound, None
        return bound, np.array(answer.col_value)[: self.sites]

    def priced(self, price: NDArray[np.float64]) -> float:
        """Bound that any prices of the rows, 0 or more, prove: no answer of the solver has to be trusted."""
        rest = self.gain - self.rows.T @ price
        bound = float(self.upper @ price + np.maximum(rest, 0.0).sum()) / self.unit
        return min(bound, float(self.problem.weights.sum()))

    def start(self, chosen: Sequence[int]) -> highspy.HighsSolution:
        """A set as the solver takes it."""
        held = np.isin(self.keep, np.array(chosen, dtype=np.int64)).astype(np.float64)
        made = highspy.HighsSolution()
        made.col_value = list(np.concatenate([held, np.minimum(self.cover.T @ held, 1.0)]))
        return made


def _search(model: _Model, start: Found, clock: Clock, gap: float, stop_at: float = np.inf) -> Solved:
    """Branch and bound over the programme.

    Args:
        stop_at: A cover at which the search may stop, since none can be greater.
    """
    solver = model.highs(whole=True)
    solver.setOptionValue("time_limit", max(clock.left, 0.01))
    solver.setOptionValue("mip_rel_gap", float(gap))
    if np.isfinite(stop_at):
        solver.setOptionValue("objective_target", -stop_at * model.unit * (1.0 - 1e-9))
    solver.setSolution(model.start(start.chosen))
    solver.run()
    info, answer = solver.getInfo(), solver.getSolution()
    best = start
    if answer.value_valid:
        share = np.array(answer.col_value)[: model.sites]
        best = max(start, _as_found(model.problem, model.keep[share > 0.5]), key=lambda f: f.covered)
    bound = -info.mip_dual_bound / model.unit
    bound = bound if np.isfinite(bound) else float(model.problem.weights.sum())
    return Solved(best=best, bound=max(bound, best.covered), ending=_ending(best, bound, gap))


def _as_found(problem: Reduced, chosen: NDArray[np.int64]) -> Found:
    hit = np.asarray(problem.cover[chosen].sum(axis=0)).ravel() > 0
    return Found(chosen=tuple(int(s) for s in chosen), covered=float(problem.weights[hit].sum()))


def _site_rows(
    problem: Reduced, keep: NDArray[np.int64], nets: int, rows: Sequence[Row]
) -> tuple[csr_matrix, NDArray[np.float64]]:
    """Rows over the sites alone: nets, one a group, spacing by cliques, and those given."""
    place = {int(s): i for i, s in enumerate(keep)}
    made: list[Row] = [(tuple(range(keep.size)), (1.0,) * keep.size, float(nets))]
    groups = problem.groups[keep]
    for group in np.unique(groups[groups >= 0]):
        members = tuple(int(i) for i in np.flatnonzero(groups == group))
        made.append((members, (1.0,) * len(members), 1.0))
    for clique in _cliques(problem):
        members = tuple(place[s] for s in clique if s in place)
        if len(members) > 1:
            made.append((members, (1.0,) * len(members), 1.0))
    for sites, factors, limit in rows:
        kept = [(place[s], f) for s, f in zip(sites, factors, strict=True) if s in place]
        made.append((tuple(s for s, _ in kept), tuple(f for _, f in kept), limit))
    starts = np.concatenate([[0], np.cumsum([len(r[0]) for r in made])])
    index = np.concatenate([np.array(r[0], dtype=np.int64) for r in made])
    value = np.concatenate([np.array(r[1], dtype=np.float64) for r in made])
    return csr_matrix((value, index, starts), shape=(len(made), keep.size)), np.array([r[2] for r in made])


def _cliques(problem: Reduced) -> list[tuple[int, ...]]:
    """Sets of sites of which any two are too near, that hold every such pair between them."""
    near: list[set[int]] = [set() for _ in range(problem.sites.size)]
    pairs = sorted({(min(a, b), max(a, b)) for a, b in problem.apart.tolist() if a != b})
    for s, t in pairs:
        near[s].add(t)
        near[t].add(s)
    done: set[tuple[int, int]] = set()
    out = []
    for s, t in pairs:
        if (s, t) in done:
            continue
        clique = [s, t]
        common = near[s] & near[t]
        for u in sorted(common):
            if u in common:
                clique.append(u)
                common &= near[u]
        clique.sort()
        done.update((a, b) for i, a in enumerate(clique) for b in clique[i + 1 :])
        out.append(tuple(clique))
    return out
