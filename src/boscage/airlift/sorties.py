"""Which loads fly together and in which order they are set down: least cost, proven up to a dozen loads."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from boscage.model.drop import Load, Sortie, SortiePlan
from boscage.model.tours import parts_of, tour_ends, tour_order

EXACT = 12
"""Loads up to which the answer is proven."""
Floats = NDArray[np.float64]
_SLACK = 1e-9


@dataclass(frozen=True, kw_only=True)
class SortieRules:
    """What one flight may carry.

    Attributes:
        limit_kg: Most mass on the hook, as the pilot states it; None lets each load fly by itself.
        most_loads: Most loads a flight; None for as many as the limit lets.
        fixed: Cost of each flight besides the way, in the unit of the table.
        over_drops: Whether a way may lead over other drops where that is cheaper than the table's own.
    """

    limit_kg: float | None = None
    most_loads: int | None = None
    fixed: float = 0.0
    over_drops: bool = True

    def allows(self, masses: Sequence[float]) -> bool:
        """Whether these loads may fly together."""
        if len(masses) > 1 and self.limit_kg is None:
            return False
        if self.most_loads is not None and len(masses) > self.most_loads:
            return False
        return self.limit_kg is None or sum(masses) <= self.limit_kg + _SLACK


def plan_sorties(loads: Sequence[Load], places: Sequence[str], cost: Floats, rules: SortieRules) -> SortiePlan:
    """Flights from the base and back that set every load down at its place at least cost.

    Args:
        places: Names of the drops; `Load.site` is one of them.
        cost: (D + 1, D + 1) cost of each way, the base first; it need not be the same there and back.
        rules: What one flight may carry.

    Raises:
        KeyError: A load is for a place that is not named.
    """
    at = {name: n + 1 for n, name in enumerate(places)}
    over = tuple(n for n, load in enumerate(loads) if not rules.allows([load.mass_kg]))
    flown = [n for n in range(len(loads)) if n not in over]
    nodes = np.array([0, *(at[loads[n].site] for n in flown)], dtype=np.int64)
    table = (_shortest(cost) if rules.over_drops else np.asarray(cost, dtype=np.float64))[np.ix_(nodes, nodes)]
    masses = [loads[n].mass_kg for n in flown]
    is_least = len(flown) <= EXACT
    parts = _least(table, masses, rules) if is_least else _saved(table, masses, rules)
    sorties = []
    for order in parts:
        which = tuple(flown[k] for k in order)
        stops = tuple(dict.fromkeys(int(nodes[k + 1]) - 1 for k in order))
        mass = sum(loads[n].mass_kg for n in which)
        sorties.append(Sortie(loads=which, stops=stops, mass_kg=mass, cost=_round(table, order) + rules.fixed))
    sorties.sort(key=lambda s: s.loads[0])
    return SortiePlan(
        sorties=tuple(sorties), cost=sum(s.cost for s in sorties), is_least=is_least, over_limit=over
    )  # fmt: skip


def _shortest(cost: Floats) -> Floats:
    """The table with each way no dearer than any detour over other drops (Floyd and Warshall)."""
    made = np.array(cost, dtype=np.float64)
    np.fill_diagonal(made, 0.0)
    for k in range(len(made)):
        made = np.minimum(made, made[:, k : k + 1] + made[k : k + 1, :])
    return made


def _round(table: Floats, order: Sequence[int]) -> float:
    line = [0, *(k + 1 for k in order), 0]
    return float(sum(table[a, b] for a, b in pairwise(line)))


def _least(table: Floats, masses: Sequence[float], rules: SortieRules) -> list[tuple[int, ...]]:
    """Parts of least cost in all, each in its best order, by dynamic programming over all parts.

    References: M. Held, R. M. Karp (1962), J. SIAM 10, 196-210, for the order; the parts are divided likewise.
    """
    count = len(masses)
    if not count:
        return []
    ends, closed = _rounds(table, masses, rules)
    best = np.full(1 << count, np.inf)
    best[0] = 0.0
    chosen = np.zeros(1 << count, dtype=np.int64)
    for mask in range(1, 1 << count):
        low = mask & -mask
        # every part that holds the lowest load, so that no division is looked at twice
        parts = parts_of(mask ^ low) | low
        costs = closed[parts] + best[mask ^ parts]
        pick = int(np.argmin(costs))
        best[mask], chosen[mask] = costs[pick], parts[pick]
    out, mask = [], (1 << count) - 1
    while mask:
        part = int(chosen[mask])
        out.append(tour_order(table, ends, part))
        mask ^= part
    return out


def _rounds(table: Floats, masses: Sequence[float], rules: SortieRules) -> tuple[Floats, Floats]:
    """(2^N, N) least way through a part that ends at a load; (2^N,) cost of its whole flight, inf if not allowed."""
    count = len(masses)
    held = (np.arange(1 << count)[:, None] >> np.arange(count)) & 1
    size = held.sum(axis=1)
    ends = tour_ends(table, np.zeros(count))
    closed = (ends + table[1:, 0]).min(axis=1) + rules.fixed
    load = held @ np.asarray(masses, dtype=np.float64)
    together = size > (1 if rules.limit_kg is None else count)
    heavy = load > (math.inf if rules.limit_kg is None else rules.limit_kg + _SLACK)
    many = size > (count if rules.most_loads is None else rules.most_loads)
    return ends, np.where(together | heavy | many, np.inf, closed)


def _saved(table: Floats, masses: Sequence[float], rules: SortieRules) -> list[tuple[int, ...]]:
    """Flights joined end to start while that saves most; not proven.

    References: G. Clarke, J. W. Wright (1964), Operations Research 12, 568-581.
    """
    routes: list[tuple[int, ...]] = [(n,) for n in range(len(masses))]
    while True:
        best = (_SLACK, 0, 0)
        for a, first in enumerate(routes):
            for b, then in enumerate(routes):
                if a != b and rules.allows([masses[n] for n in (*first, *then)]):
                    saved = table[first[-1] + 1, 0] + table[0, then[0] + 1] - table[first[-1] + 1, then[0] + 1]
                    best = max(best, (float(saved) + rules.fixed, -a, -b))
        if best[0] <= _SLACK:
            return [_best_order(table, r) for r in routes]
        a, b = -best[1], -best[2]
        joined = (*routes[a], *routes[b])
        routes = [r for n, r in enumerate(routes) if n not in (a, b)] + [joined]


def _best_order(table: Floats, route: tuple[int, ...]) -> tuple[int, ...]:
    """A flight's loads in their best order, up to a dozen of them."""
    if len(route) > EXACT:
        return route
    pick = np.array([0, *(n + 1 for n in route)])
    own = table[np.ix_(pick, pick)]
    ends, _ = _rounds(own, [0.0] * len(route), SortieRules(limit_kg=1.0))
    return tuple(route[k] for k in tour_order(own, ends, (1 << len(route)) - 1))
