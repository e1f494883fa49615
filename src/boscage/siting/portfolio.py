"""Which sites together: the set of sites that covers most use with the nets, crews and hours there are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from boscage.model.portfolio import (
    EXACT_ROUND,
    PROVEN_GAP,
    Alternative,
    CoverProblem,
    CurvePoint,
    Ending,
    NoPortfolio,
    Portfolio,
    PortfolioOptions,
)
from boscage.siting.cover import Reduced, reduce_problem
from boscage.siting.cover_branch import branch
from boscage.siting.cover_search import Allowed, Asked, Found, exchanges, greedy, improve
from boscage.siting.cover_solve import Clock, Row, Solved, solve
from boscage.siting.rounds import MOST_JOINED, Crews, closed_minutes

STEPS = 300
"""Exchanges made before the proof begins."""
ROUND_STEPS = 30
"""Exchanges made where every set has to be asked for its rounds."""
MOST_ALTERNATIVES = 20
BRANCH_SHARE = 0.6
"""Share of the time left that sets are tried in order for."""
MOST_CUTS = 30
"""Most conditions added for one set whose rounds cannot be done."""


def choose_portfolio(problem: CoverProblem, options: PortfolioOptions) -> Portfolio | NoPortfolio:
    """The sites that together cover most use: one a group, no two too near, all checked daily within the crews' hours.

    Found by greedy choice and exchanges, then proven by branch and bound. A set whose rounds cannot be done is cut off,
    with every smaller part of it that cannot be done, and the search goes on; rounds are shortest up to a dozen sites.

    Returns:
        The set with its bound; `ending` is `optimal` only where no allowed set covers more by over a millionth. A
        falsy `NoPortfolio` with the reason where no site can be chosen.
    """
    ready = _prepare(problem, options)
    if isinstance(ready, NoPortfolio):
        return ready
    clock = Clock(limit=options.time_limit)
    first = greedy(ready.small, options.nets, ready.allowed)
    start = _improved(ready, first, options.nets)
    solved = _proven(ready, options.nets, start, clock, options.gap)
    return _portfolio(problem, options, ready, first, solved)


def cover_curve(
    problem: CoverProblem, options: PortfolioOptions, most: int, *, exact: bool = True
) -> tuple[CurvePoint, ...] | NoPortfolio:
    """What each further net would add: the best set of 1, 2, ... `most` nets.

    Args:
        most: Nets up to which to look; one more than there are tells what the next would add.
        exact: Whether each set is proven (within an equal part of the time limit); otherwise by greedy choice and
            exchanges, with the cover of everything as the bound.
    """
    ready = _prepare(problem, options)
    if isinstance(ready, NoPortfolio):
        return ready
    points: list[CurvePoint] = []
    last = Found(chosen=(), covered=0.0)
    for nets in range(1, most + 1):
        start = _improved(ready, max(greedy(ready.small, nets, ready.allowed), last, key=lambda f: f.covered), nets)
        if exact:
            solved = _proven(ready, nets, start, Clock(limit=options.time_limit / most), options.gap)
        else:
            ceiling = float(ready.small.weights.sum())
            done = start.covered >= ceiling * (1.0 - PROVEN_GAP)
            solved = Solved(best=start, bound=ceiling, ending="optimal" if done else "time limit")
        share = solved.best.covered / problem.total
        added = share - (points[-1].share if points else 0.0)
        bound = max(solved.bound / problem.total, share)
        points.append(CurvePoint(nets=nets, share=share, added=added, bound=bound, ending=solved.ending))
        last = solved.best
    return tuple(points)


@dataclass(frozen=True, kw_only=True)
class _Ready:
    """A problem made small.

    Attributes:
        crews: Over the sites of the small problem, or None where rounds are not asked for.
        allowed: Whether the rounds of a set can be done, or None.
        rows: Conditions that every set with rounds keeps.
        left_out: Sites of the whole problem that no crew can check.
    """

    small: Reduced
    crews: Crews | None
    allowed: Allowed | None
    rows: tuple[Row, ...]
    left_out: tuple[int, ...]


def _prepare(problem: CoverProblem, options: PortfolioOptions) -> _Ready | NoPortfolio:
    if not problem.names:
        return NoPortfolio(reason="there is no site to choose from")
    if problem.total <= 0.0:
        return NoPortfolio(reason="no cell has any use, so no site covers more than another")
    keep = np.ones(len(problem.names), dtype=bool)
    crews = None
    if problem.minutes is not None:
        crews = _crews(closed_minutes(problem.minutes), options)
        keep = crews.within_reach()
        if not keep.any():
            best = np.min(crews.minutes[0, 1:] + crews.minutes[1:, 0]) + options.check_minutes
            nearest = f"the nearest takes {best:.0f} minutes" if np.isfinite(best) else "no way leads to any"
            return NoPortfolio(reason=f"no site can be checked within {options.hours:g} hours from the base; {nearest}")
    small = reduce_problem(problem, keep, drop_dominated=crews is None)
    if not small.sites.size:
        return NoPortfolio(reason="no site that can be checked has any used cell within the radius")
    left_out = tuple(int(s) for s in np.flatnonzero(~keep))
    if crews is None:
        return _Ready(small=small, crews=None, allowed=None, rows=(), left_out=left_out)
    pick = np.concatenate([[0], small.sites + 1])
    mine = replace(crews, minutes=crews.minutes[np.ix_(pick, pick)])
    return _Ready(small=small, crews=mine, allowed=_asked(mine), rows=_hours(mine), left_out=left_out)


def _crews(minutes: NDArray[np.float64], options: PortfolioOptions) -> Crews:
    return Crews(
        minutes=minutes, stay_minutes=options.check_minutes, count=options.crews, limit_minutes=60.0 * options.hours
    )


def _hours(crews: Crews) -> tuple[Row, ...]:
    """What every set with rounds keeps: the least that each site takes, summed over the set."""
    each = crews.least_each()
    return ((tuple(range(each.size)), tuple(float(m) for m in each), crews.count * crews.limit_minutes),)


def _asked(crews: Crews) -> Allowed:
    """Whether the rounds of a set can be done, each set worked out once."""
    known: dict[frozenset[int], bool] = {}

    def allowed(chosen: Sequence[int]) -> bool:
        key = frozenset(chosen)
        if key not in known:
            sites = sorted(key)
            over = crews.least_total(sites) > crews.count * crews.limit_minutes + 1e-9
            known[key] = not over and crews.rounds(sites) is not None
        return known[key]

    return allowed


def _improved(ready: _Ready, start: Found, nets: int) -> Found:
    steps = STEPS if ready.allowed is None else ROUND_STEPS
    return improve(ready.small, start, nets, steps=steps, ask=_ask(ready))


def _ask(ready: _Ready) -> Asked | None:
    """Who is asked whether the rounds of a set can be done."""
    crews, every = ready.crews, np.arange(ready.small.sites.size)
    if crews is None or ready.allowed is None:
        return None

    def joining(chosen: Sequence[int]) -> NDArray[np.bool_]:
        return crews.can_join(tuple(chosen), every)

    return Asked(allowed=ready.allowed, joining=joining, most_joined=MOST_JOINED - 1)


def _proven(ready: _Ready, nets: int, start: Found, clock: Clock, gap: float) -> Solved:
    """Solve; where the rounds of the answer cannot be done, try sets in order, else cut it off and solve again."""
    rows = list(ready.rows)
    best, bound, trusted, tried = start, float(ready.small.weights.sum()), True, False
    while True:
        solved = solve(ready.small, nets, best, clock, gap=gap, rows=rows)
        if trusted:
            bound = min(bound, solved.bound)
        if ready.crews is None or ready.allowed is None or ready.allowed(solved.best.chosen):
            best = max(best, solved.best, key=lambda f: f.covered)
            ending = solved.ending if trusted else "rounds not proven"
            return Solved(best=best, bound=max(bound, best.covered), ending=_honest(best, bound, gap, ending))
        if not tried:
            tried = True
            best, done = branch(ready.small, ready.crews, nets, best, Clock(limit=BRANCH_SHARE * clock.left))
            if done:
                bound = min(bound, best.covered * (1.0 + 0.5 * PROVEN_GAP))
                return Solved(best=best, bound=max(bound, best.covered), ending="optimal")
        parts = ready.crews.barred_parts(solved.best.chosen)
        if not parts:
            trusted, parts = False, [solved.best.chosen]
        rows += _cuts(ready.crews, parts, trusted=trusted)
        if clock.left <= 0.0:
            return Solved(best=best, bound=max(bound, best.covered), ending=_honest(best, bound, gap, "time limit"))


def _cuts(crews: Crews, parts: Sequence[tuple[int, ...]], *, trusted: bool) -> list[Row]:
    """Conditions that no set with rounds breaks; of parts that are not proven only themselves are cut off."""
    if not trusted:
        return [(p, (1.0,) * len(p), len(p) - 1.0) for p in parts]
    made = {}
    for part in parts[:MOST_CUTS]:
        wide = crews.widened(part)
        made[wide, len(part) - 1.0] = (wide, (1.0,) * len(wide), len(part) - 1.0)
    return list(made.values())


def _honest(best: Found, bound: float, gap: float, ending: Ending) -> Ending:
    """The ending that the gap between the set and its bound allows."""
    distance = (bound - best.covered) / bound if bound > 0.0 else 0.0
    if distance <= PROVEN_GAP:
        return "optimal"
    if distance <= gap:
        return "gap reached"
    return ending


def _portfolio(
    problem: CoverProblem, options: PortfolioOptions, ready: _Ready, first: Found, solved: Solved
) -> Portfolio:
    chosen = tuple(int(ready.small.sites[s]) for s in solved.best.chosen)
    covered = problem.covered(chosen)
    rounds = ()
    if ready.crews is not None:
        made = ready.crews.rounds(solved.best.chosen)
        assert made is not None, "the set chosen has no rounds"
        rounds = tuple(replace(r, sites=tuple(int(ready.small.sites[s]) for s in r.sites)) for r in made)
    return Portfolio(
        chosen=chosen, names=tuple(problem.names[s] for s in chosen), covered=covered, bound=max(solved.bound, covered),
        share=covered / problem.total, ending=solved.ending, rounds=rounds, greedy_share=first.covered / problem.total,
        left_out=ready.left_out, alternatives=_alternatives(problem, options, chosen), notes=_notes(ready, rounds),
    )  # fmt: skip


def _alternatives(problem: CoverProblem, options: PortfolioOptions, chosen: tuple[int, ...]) -> tuple[Alternative, ...]:
    """Sets by one exchange that lose at most the share `near` of the cover, the best first; dominated sites too."""
    crews = None if problem.minutes is None else _crews(closed_minutes(problem.minutes), options)
    keep = np.ones(len(problem.names), dtype=bool) if crews is None else crews.within_reach()
    whole = reduce_problem(problem, keep, drop_dominated=False)
    place = np.searchsorted(whole.sites, chosen)
    change = exchanges(whole, place)
    covered = problem.covered(chosen)
    out: list[Alternative] = []
    for flat in np.argsort(-change, axis=None, kind="stable"):
        into, gone = np.unravel_index(int(flat), change.shape)
        if change[into, gone] < -options.near * covered or len(out) == MOST_ALTERNATIVES:
            break
        taken, new = chosen[int(gone)], int(whole.sites[into])
        made = sorted({*chosen, new} - {taken})
        if crews is None or crews.rounds(made) is not None:
            out.append(Alternative(out=taken, into=new, share=(covered + float(change[into, gone])) / problem.total))
    return tuple(out)


def _notes(ready: _Ready, rounds: Sequence[object]) -> tuple[str, ...]:
    made = []
    if ready.crews is None:
        made.append("No travel minutes: whether the sets can be checked within a day is not known.")
    elif any(not r.is_shortest for r in rounds):
        made.append(f"A round of more than {EXACT_ROUND} sets is good, but not proven to be the shortest.")
    if ready.left_out:
        made.append(f"Left out, since no crew can check them within its hours: {len(ready.left_out)} sites.")
    return tuple(made)
