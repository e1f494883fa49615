"""Cover by greedy choice and by exchanges: good sets at any size, without proof."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from boscage.siting.cover import Reduced

Allowed = Callable[[Sequence[int]], bool]
Joining = Callable[[Sequence[int]], NDArray[np.bool_]]
"""(S,) which sites can be checked together with those given."""
HOLD = 8
"""A site that was taken out stays out for this many exchanges, and up to as many more by lot."""
TRIED = 15
"""Most exchanges asked about in one step where sets may be refused as a whole."""


@dataclass(frozen=True, kw_only=True)
class Asked:
    """Who is asked whether sets may be chosen.

    Attributes:
        allowed: Of one set.
        joining: Of one more site beside a set, for all sites at once.
        most_joined: Most sites of a set that `joining` is asked of.
    """

    allowed: Allowed
    joining: Joining
    most_joined: int


@dataclass(frozen=True, kw_only=True)
class Found:
    """A set of sites by index in the reduced problem, rising, and the use that it covers."""

    chosen: tuple[int, ...]
    covered: float


@dataclass(kw_only=True)
class _State:
    """A set while it is changed: its sites, how often each cell is covered, how many chosen sites forbid each site."""

    sites: list[int]
    count: NDArray[np.float64]
    barred: NDArray[np.float64]


def greedy(problem: Reduced, nets: int, allowed: Allowed | None = None) -> Found:
    """Take the site that adds most, again and again; of equal ones the first.

    Where rounds matter, a site is passed over if the set with it is refused. For a monotone submodular cover without
    further conditions it reaches at least 1 - (1 - 1/p)^p of the best.

    References: G. L. Nemhauser, L. A. Wolsey, M. L. Fisher (1978), Mathematical Programming 14, 265-294.
    """
    weighted = _weighted(problem)
    state = _state(problem, ())
    refused = np.zeros(problem.sites.size, dtype=bool)
    while len(state.sites) < nets:
        gain = weighted @ (state.count == 0)
        gain[(state.barred > 0) | refused] = -1.0
        gain[state.sites] = -1.0
        best = int(np.argmax(gain)) if gain.size else -1
        if best < 0 or gain[best] <= 0.0:
            break
        if allowed is not None and not allowed([*state.sites, best]):
            refused[best] = True
            continue
        _put(problem, state, best)
    return _found(problem, state.sites)


def improve(problem: Reduced, start: Found, nets: int, *, steps: int, ask: Asked | None = None, seed: int = 0) -> Found:
    """Exchange one site for another, the best exchange each time even when it loses, and keep the best set seen.

    A site taken out stays out for a while, so that the search leaves the set it started from. Nothing is proven.

    Args:
        start: Where to start; filled up to `nets` first.
        steps: Exchanges made.
        ask: Whether sets may be chosen as a whole, or None.
        seed: Of the lots that say how long a site stays out.

    References: M. B. Teitz, P. Bart (1968), Oper. Res. 16, 955-961 (exchange); F. Glover (1989), ORSA J. Comput. 1(3),
    190-206 (holding out).
    """
    if not start.chosen:
        return start
    rng = np.random.default_rng(seed)
    weighted = _weighted(problem)
    state = _state(problem, start.chosen)
    best, held = start, np.full(problem.sites.size, -1, dtype=np.int64)
    for step in range(steps):
        _fill(problem, weighted, state, nets, ask)
        covered = _value(problem, state)
        if covered > best.covered + 1e-9:
            best = _found(problem, state.sites)
        change = _best_exchange(problem, weighted, state, held < step, ask)
        if change is None:
            break
        out, into = change
        left = state.sites[out]
        _take(problem, state, out)
        _put(problem, state, into)
        held[left] = step + HOLD + int(rng.integers(0, HOLD))
    covered = _value(problem, state)
    return _found(problem, state.sites) if covered > best.covered + 1e-9 else best


def exchanges(problem: Reduced, chosen: Sequence[int]) -> NDArray[np.float64]:
    """(S, P) change of cover when chosen site p is exchanged for site s; -inf where the two may not be exchanged."""
    return _exchanges(problem, _weighted(problem), _state(problem, chosen))


def _best_exchange(
    problem: Reduced, weighted: csr_matrix, state: _State, free: NDArray[np.bool_], ask: Asked | None
) -> tuple[int, int] | None:
    """Place in the set and incoming site of the best exchange that may be made, or None."""
    change = _exchanges(problem, weighted, state)
    change[~free] = -np.inf
    whole = ask is not None and len(state.sites) - 1 <= ask.most_joined
    if ask is not None and whole:
        for k in range(len(state.sites)):
            change[~ask.joining([s for i, s in enumerate(state.sites) if i != k]), k] = -np.inf
    if ask is None or whole:
        into, out = np.unravel_index(int(np.argmax(change)), change.shape)
        return (int(out), int(into)) if change[into, out] > -np.inf else None
    order = np.argsort(-change, axis=None, kind="stable")[:TRIED]
    for flat in order:
        into, out = np.unravel_index(int(flat), change.shape)
        if change[into, out] == -np.inf:
            return None
        if ask.allowed([*(s for k, s in enumerate(state.sites) if k != out), int(into)]):
            return int(out), int(into)
    return None


def _exchanges(problem: Reduced, weighted: csr_matrix, state: _State) -> NDArray[np.float64]:
    rows = problem.cover[state.sites]
    once = np.flatnonzero(state.count == 1)
    loss = rows[:, once] @ problem.weights[once]
    change = (weighted[:, once] @ rows[:, once].T).toarray()
    change += (weighted @ (state.count == 0))[:, None] - loss[None, :]
    forbids = problem.forbids[:, state.sites].toarray()
    change[state.barred[:, None] - forbids > 0] = -np.inf
    change[state.sites] = -np.inf
    return change


def _fill(problem: Reduced, weighted: csr_matrix, state: _State, nets: int, ask: Asked | None) -> None:
    """Add sites while one adds something and may be added."""
    while len(state.sites) < nets:
        gain = weighted @ (state.count == 0)
        gain[state.barred > 0] = 0.0
        if ask is not None and len(state.sites) <= ask.most_joined:
            gain[~ask.joining(state.sites)] = 0.0
        for s in np.argsort(-gain, kind="stable")[:TRIED]:
            if gain[s] <= 0.0:
                return
            if ask is None or ask.allowed([*state.sites, int(s)]):
                _put(problem, state, int(s))
                break
        else:
            return


def _weighted(problem: Reduced) -> csr_matrix:
    """The cover with each cell's use in place of the ones."""
    made = problem.cover.copy()
    made.data = problem.weights[made.indices]
    return made


def _state(problem: Reduced, chosen: Sequence[int]) -> _State:
    count, sites = problem.cover.shape[1], problem.sites.size
    state = _State(sites=[], count=np.zeros(count), barred=np.zeros(sites))
    for s in chosen:
        _put(problem, state, int(s))
    return state


def _row(matrix: csr_matrix, s: int) -> NDArray[np.int32]:
    return matrix.indices[matrix.indptr[s] : matrix.indptr[s + 1]]


def _put(problem: Reduced, state: _State, s: int) -> None:
    state.sites.append(s)
    state.count[_row(problem.cover, s)] += 1.0
    state.barred[_row(problem.forbids, s)] += 1.0


def _take(problem: Reduced, state: _State, k: int) -> None:
    s = state.sites.pop(k)
    state.count[_row(problem.cover, s)] -= 1.0
    state.barred[_row(problem.forbids, s)] -= 1.0


def _value(problem: Reduced, state: _State) -> float:
    return float(problem.weights[state.count > 0].sum())


def _found(problem: Reduced, sites: Sequence[int]) -> Found:
    chosen = tuple(sorted(int(s) for s in sites))
    hit = np.zeros(problem.weights.size, dtype=bool)
    for s in chosen:
        hit[_row(problem.cover, s)] = True
    return Found(chosen=chosen, covered=float(problem.weights[hit].sum()))
