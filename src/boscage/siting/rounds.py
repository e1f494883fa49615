"""Rounds: the shortest way from the base to every chosen site and back, one round a crew."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from itertools import permutations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment
from scipy.sparse.csgraph import floyd_warshall

from boscage.errors import InputError
from boscage.model.portfolio import EXACT_ROUND, Round
from boscage.model.tours import parts_of, tour_ends, tour_order

_SLACK = 1e-9
_NO_WAY = 1e9
MOST_JOINED = 7
"""Most sites of which every order is tried when one more is to join them."""


def closed_minutes(minutes: NDArray[np.float64]) -> NDArray[np.float64]:
    """Minutes by the quickest way through any other place, so that no detour is ever quicker; inf for no way.

    Args:
        minutes: (N, N) from row to column; need not be the same in both directions.
    """
    made = np.array(minutes, dtype=np.float64)
    np.fill_diagonal(made, 0.0)
    return np.asarray(floyd_warshall(np.where(np.isfinite(made), made, np.inf), directed=True))


@dataclass(frozen=True, kw_only=True)
class RoundTable:
    """Shortest rounds of every part of a few sites.

    Attributes:
        minutes: (N + 1, N + 1) travel minutes, the base first.
        stay: (N,) minutes at each site.
    """

    minutes: NDArray[np.float64]
    stay: NDArray[np.float64]

    def __post_init__(self) -> None:
        if len(self.stay) > EXACT_ROUND:
            raise InputError(
                f"there are {len(self.stay)} sites", expected=f"{EXACT_ROUND} at the most for exact rounds"
            )

    @cached_property
    def _ends(self) -> NDArray[np.float64]:
        """(2^N, N) minutes of the quickest way from the base through a part (a bit a site) that ends at site n."""
        return tour_ends(self.minutes, self.stay)

    @cached_property
    def closed(self) -> NDArray[np.float64]:
        """(2^N,) minutes of the shortest round of every part, 0 for none."""
        if not len(self.stay):
            return np.zeros(1)
        made = (self._ends + self.minutes[1:, 0]).min(axis=1)
        made[0] = 0.0
        return made

    def order(self, mask: int) -> tuple[int, ...]:
        """Sites of a part in the order of its shortest round."""
        return tour_order(self.minutes, self._ends, mask)

    def split(self, crews: int, limit: float) -> NDArray[np.float64]:
        """(2^N,) least minutes of all rounds together when each crew keeps within a limit; inf where they cannot."""
        tables = self._tables(crews, limit)
        if len(tables) < min(crews, len(self.stay)):
            tables.append(np.array([self._divided(m, tables[0], tables[-1]).min() for m in range(tables[0].size)]))
        return tables[-1]

    def divide(self, crews: int, limit: float) -> list[int]:
        """Parts of all sites, one a crew with anything to do, that take the least minutes together; [] if none do.

        Since no detour is quicker than the way it leaves, one crew takes the least time wherever one can do it all.
        """
        mask = self.closed.size - 1
        if self.closed[mask] <= limit + _SLACK:
            return [mask]
        tables = self._tables(crews, limit)
        parts: list[int] = []
        for rest in reversed(tables[: crews - 1]):
            ways = self._divided(mask, tables[0], rest)
            if not np.isfinite(ways.min()):
                return []
            part = int(parts_of(mask)[np.argmin(ways)])
            parts.append(part)
            mask &= ~part
        return [m for m in (*parts, mask) if m] if tables[0][mask] < np.inf else []

    def _tables(self, crews: int, limit: float) -> list[NDArray[np.float64]]:
        """What `split` gives for 1, 2, ... crews, up to one fewer than asked for (but for at least one)."""
        tables = [np.where(self.closed <= limit + _SLACK, self.closed, np.inf)]
        for _ in range(2, min(crews, len(self.stay))):
            tables.append(np.array([self._divided(m, tables[0], tables[-1]).min() for m in range(tables[0].size)]))
        return tables

    def _divided(self, mask: int, one: NDArray[np.float64], rest: NDArray[np.float64]) -> NDArray[np.float64]:
        """Minutes of each part of a mask by one crew and what is left by the others."""
        parts = parts_of(mask)
        return one[parts] + rest[mask & ~parts]


@dataclass(frozen=True, kw_only=True)
class Crews:
    """Who checks the sites.

    Attributes:
        minutes: (S + 1, S + 1) closed travel minutes, the base first.
        stay_minutes: At each set.
        count: Crews.
        limit_minutes: Of each crew's round, stays included.
    """

    minutes: NDArray[np.float64]
    stay_minutes: float
    count: int
    limit_minutes: float

    def within_reach(self) -> NDArray[np.bool_]:
        """(S,) whether a crew can check the site alone."""
        alone = self.minutes[0, 1:] + self.minutes[1:, 0] + self.stay_minutes
        return alone <= self.limit_minutes + _SLACK

    def table(self, sites: Sequence[int]) -> RoundTable:
        """Exact rounds of up to a dozen sites."""
        pick = np.array([0, *(s + 1 for s in sites)])
        return RoundTable(minutes=self.minutes[np.ix_(pick, pick)], stay=np.full(len(sites), self.stay_minutes))

    def rounds(self, sites: Sequence[int]) -> tuple[Round, ...] | None:
        """Rounds that check all sites within the limit, or None where none were found.

        Up to a dozen sites they are the shortest and None means that there are none; beyond that both are by insertion
        and exchange, not proven.
        """
        if not sites:
            return ()
        if len(sites) > EXACT_ROUND:
            return self._long_rounds(sites)
        table = self.table(sites)
        parts = table.divide(self.count, self.limit_minutes)
        return tuple(self._round(sites, table, part) for part in parts) if parts else None

    def _round(self, sites: Sequence[int], table: RoundTable, part: int) -> Round:
        order = tuple(int(sites[n]) for n in table.order(part))
        return Round(sites=order, minutes=float(table.closed[part]), is_shortest=True)

    def cannot(self, sites: Sequence[int]) -> bool:
        """Whether it is proven that no rounds check these sites within the limit."""
        if len(sites) <= EXACT_ROUND:
            return self.rounds(sites) is None
        return self.least_total(sites) > self.count * self.limit_minutes + _SLACK

    def least_total(self, sites: Sequence[int]) -> float:
        """Least minutes that all rounds together take: each place is left once and come to once, and a crew goes out.

        References: the assignment bound of the travelling salesman, e.g. G. Laporte (1992), EJOR 59, 231-247.
        """
        if not sites:
            return 0.0
        pick = np.array([*[0] * self.count, *(s + 1 for s in sites)])
        cost = np.minimum(self.minutes[np.ix_(pick, pick)], _NO_WAY)
        at_site = np.arange(self.count, len(pick))
        cost[at_site, at_site] = _NO_WAY
        cost[0, : self.count] = _NO_WAY
        rows, cols = linear_sum_assignment(cost)
        return float(cost[rows, cols].sum()) + self.stay_minutes * len(sites)

    def least_each(self) -> NDArray[np.float64]:
        """(S,) minutes such that the rounds of any set take at least the sum over its sites.

        Half the quickest way in and half the quickest way out, from and to any other place, and the stay.
        """
        away = np.minimum(self.minutes, _NO_WAY) + np.diag(np.full(len(self.minutes), _NO_WAY))
        return 0.5 * (away.min(axis=0) + away.min(axis=1))[1:] + self.stay_minutes

    def barred_parts(self, sites: Sequence[int]) -> list[tuple[int, ...]]:
        """Parts of a set that cannot be checked although every smaller part of them can; proven, perhaps none.

        Of more than a dozen sites a part is found by leaving sites out while what is left still cannot be checked.
        """
        rest = list(sites)
        for s in list(rest):
            if len(rest) > EXACT_ROUND and self.cannot([t for t in rest if t != s]):
                rest.remove(s)
        if not self.cannot(rest):
            return []
        if len(rest) > EXACT_ROUND:
            return [tuple(sorted(rest))]
        masks = np.arange(1 << len(rest))
        bad = ~np.isfinite(self.table(rest).split(self.count, self.limit_minutes))
        least = bad.copy()
        for n in range(len(rest)):
            has = (masks >> n) & 1 == 1
            least &= ~(has & bad[masks & ~(1 << n)])
        found = [tuple(sorted(rest[n] for n in range(len(rest)) if m >> n & 1)) for m in np.flatnonzero(least)]
        return sorted(found, key=lambda part: (len(part), part))

    def can_join(self, chosen: tuple[int, ...], sites: NDArray[np.int64]) -> NDArray[np.bool_]:
        """(N,) whether the crews can check the chosen sites and one more: one crew takes it with a part of them.

        Exact, for up to `MOST_JOINED` chosen sites that can be checked: every order of every part is tried.
        """
        count = len(chosen)
        whole = (1 << count) - 1
        others = np.full(1 << count, np.inf)
        others[0] = 0.0
        if self.count > 1:
            others = self.table(chosen).split(self.count - 1, self.limit_minutes)
        out = np.zeros(sites.size, dtype=bool)
        for part in range(whole + 1):
            left = np.flatnonzero(~out)
            if not left.size:
                break
            if np.isfinite(others[whole & ~part]):
                members = np.array([s + 1 for k, s in enumerate(chosen) if part >> k & 1], dtype=np.int64)
                minutes = self._minutes_with(members[_orders(members.size)], sites[left])
                out[left] = minutes <= self.limit_minutes + 1e-9
        return out

    def _minutes_with(self, orders: NDArray[np.int64], sites: NDArray[np.int64]) -> NDArray[np.float64]:
        """(N,) minutes of the shortest round of a part and one more site: every order of the part, every gap in it."""
        minutes = self.minutes
        home = np.zeros((len(orders), 1), dtype=np.int64)
        line = np.hstack([home, orders, home])
        begin, end = line[:, :-1], line[:, 1:]
        legs = minutes[begin, end]
        added = minutes[begin[:, :, None], sites + 1] + minutes[(sites + 1)[None, None, :], end[:, :, None]]
        least = (legs.sum(axis=1)[:, None, None] - legs[:, :, None] + added).min(axis=(0, 1))
        return least + self.stay_minutes * (orders.shape[1] + 1)

    def widened(self, part: Sequence[int]) -> tuple[int, ...]:
        """A set of up to a dozen sites, the part among them, of which no more can be checked than all but one of it.

        Grown by the sites that lie nearest in minutes, so that one condition stands for many parts that are alike.
        """
        if len(part) >= EXACT_ROUND:
            return tuple(sorted(part))
        away = np.minimum(self.minutes[1:, 1:], self.minutes[1:, 1:].T)[list(part)].min(axis=0)
        away[list(part)] = np.inf
        near = [int(s) for s in np.argsort(away, kind="stable")[: EXACT_ROUND - len(part)] if np.isfinite(away[s])]
        pool = [*part, *near]
        masks = np.arange(1 << len(pool))
        bad = ~np.isfinite(self.table(pool).split(self.count, self.limit_minutes))
        size = ((masks[:, None] >> np.arange(len(pool))) & 1).sum(axis=1)
        can = masks[(size == len(part)) & ~bad]
        held = (1 << len(part)) - 1
        for n in range(len(part), len(pool)):
            if not (can & ~(held | 1 << n) == 0).any():
                held |= 1 << n
        return tuple(sorted(s for n, s in enumerate(pool) if held >> n & 1))

    def _long_rounds(self, sites: Sequence[int]) -> tuple[Round, ...] | None:
        """Rounds of many sites: one round by insertion and exchange, cut into a piece for each crew."""
        pieces = self._cut(_one_round(self.minutes, [s + 1 for s in sites]))
        return None if pieces is None else tuple(self._piece(p) for p in pieces)

    def _piece(self, stops: Sequence[int]) -> Round:
        if len(stops) <= EXACT_ROUND:
            sites = [n - 1 for n in stops]
            table = self.table(sites)
            return self._round(sites, table, (1 << len(sites)) - 1)
        minutes = _length(self.minutes, stops) + self.stay_minutes * len(stops)
        return Round(sites=tuple(n - 1 for n in stops), minutes=minutes, is_shortest=False)

    def _cut(self, stops: Sequence[int]) -> list[list[int]] | None:
        """The order cut into at most one piece a crew, each within the limit, least minutes together; None if not."""
        count = len(stops)
        best = np.full((self.count + 1, count + 1), np.inf)
        came = np.zeros((self.count + 1, count + 1), dtype=np.int64)
        best[:, 0] = 0.0
        for end in range(1, count + 1):
            for begin in range(end):
                piece = stops[begin:end]
                minutes = _length(self.minutes, piece) + self.stay_minutes * len(piece)
                if minutes > self.limit_minutes + _SLACK:
                    continue
                for crew in range(1, self.count + 1):
                    if best[crew - 1, begin] + minutes < best[crew, end]:
                        best[crew, end], came[crew, end] = best[crew - 1, begin] + minutes, begin
        if not np.isfinite(best[-1, count]):
            return None
        pieces, crew, end = [], self.count, count
        while end:
            pieces.append(list(stops[came[crew, end] : end]))
            crew, end = crew - 1, int(came[crew, end])
        return pieces[::-1]


@cache
def _orders(count: int) -> NDArray[np.int64]:
    """(count!, count) every order of so many places."""
    return np.array(list(permutations(range(count))), dtype=np.int64).reshape(math.factorial(count), count)


def _length(minutes: NDArray[np.float64], stops: Sequence[int]) -> float:
    """Minutes under way from the base through the stops and back."""
    line = np.array([0, *stops, 0])
    return float(minutes[line[:-1], line[1:]].sum())


def _one_round(minutes: NDArray[np.float64], stops: Sequence[int]) -> list[int]:
    """One round through all stops: cheapest insertion, then pieces of one to three stops moved or turned."""
    route: list[int] = []
    for _ in stops:
        left = [n for n in stops if n not in route]
        tries = [(_length(minutes, [*route[:k], n, *route[k:]]), k, n) for n in left for k in range(len(route) + 1)]
        _, k, n = min(tries)
        route.insert(k, n)
    best = _length(minutes, route)
    better = True
    while better:
        better = False
        for trial in _moved(route):
            length = _length(minutes, trial)
            if length < best - _SLACK:
                route, best, better = trial, length, True
                break
    return route


def _moved(route: Sequence[int]) -> Iterator[list[int]]:
    """Every order that comes of moving or turning a piece of up to three stops, or of turning a longer one."""
    count = len(route)
    for size in range(1, min(3, count) + 1):
        for begin in range(count - size + 1):
            piece, rest = list(route[begin : begin + size]), [*route[:begin], *route[begin + size :]]
            for k in range(len(rest) + 1):
                yield [*rest[:k], *piece, *rest[k:]]
                yield [*rest[:k], *piece[::-1], *rest[k:]]
    for begin in range(count):
        for end in range(begin + 4, count + 1):
            yield [*route[:begin], *route[begin:end][::-1], *route[end:]]
