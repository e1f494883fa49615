"""Cover within the crews' day, by trying sets in order: quick where the hours bind, since few sets can be done."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from boscage.model.portfolio import PROVEN_GAP
from boscage.siting.cover import Reduced
from boscage.siting.cover_search import Found
from boscage.siting.cover_solve import Clock
from boscage.siting.rounds import MOST_JOINED, Crews

MOST_CELLS = 5_000_000
"""Most pairs of site and cell, held as one table."""


def branch(problem: Reduced, crews: Crews, nets: int, start: Found, clock: Clock) -> tuple[Found, bool]:
    """The best set of at most `nets` sites that the crews can check, and whether that is proven.

    It is not when time runs out, or where there are too many nets or cells to try.

    Sets are built site by site, at each step from those that the crews can still check with the ones chosen, in the
    order of what they add. A branch is left when the most that the next sites could add, counted as if they shared no
    cell, does not lift it over the best set known. No set that covers more by over a millionth is missed.

    Args:
        start: A set that can be done, to beat.
    """
    if nets > MOST_JOINED + 1 or problem.cover.shape[0] * problem.cover.shape[1] > MOST_CELLS:
        return start, False
    search = _Search(problem=problem, crews=crews, nets=nets, clock=clock, best=start)
    here = _Node(chosen=(), covered=0.0, open=problem.weights)
    every = np.flatnonzero(crews.within_reach())
    done = search.visit(here, every)
    return search.best, done


@dataclass(frozen=True, kw_only=True)
class _Node:
    """A set while it is built: its sites, the use that they cover, and that of each cell still open."""

    chosen: tuple[int, ...]
    covered: float
    open: NDArray[np.float64]


@dataclass(kw_only=True)
class _Search:
    problem: Reduced
    crews: Crews
    nets: int
    clock: Clock
    best: Found
    table: NDArray[np.float64] = field(init=False)

    def __post_init__(self) -> None:
        self.table = self.problem.cover.toarray()

    def visit(self, node: _Node, sites: NDArray[np.int64]) -> bool:
        """Try every set that holds the node's and more of the sites given; False when time ran out."""
        gains = self.table[sites] @ node.open
        order = np.argsort(-gains, kind="stable")
        order = order[gains[order] > 0.0]
        sites, gains = sites[order], gains[order]
        left = self.nets - len(node.chosen)
        summed = np.concatenate([[0.0], np.cumsum(gains)])
        for k, site in enumerate(sites):
            most = node.covered + summed[min(k + left, len(sites))] - summed[k]
            if most <= self.best.covered * (1.0 + 0.5 * PROVEN_GAP):
                break
            if self.clock.left <= 0.0:
                return False
            covered = node.covered + float(gains[k])
            if covered > self.best.covered:
                self.best = Found(chosen=tuple(sorted((*node.chosen, int(site)))), covered=covered)
            if left > 1 and not self._deeper(node, int(site), covered, sites[k + 1 :]):
                return False
        return True

    def _deeper(self, node: _Node, site: int, covered: float, rest: NDArray[np.int64]) -> bool:
        held = self.problem.forbids
        rest = rest[~np.isin(rest, held.indices[held.indptr[site] : held.indptr[site + 1]])]
        chosen = (*node.chosen, site)
        rest = rest[self.crews.can_join(chosen, rest)]
        if not rest.size:
            return True
        still = np.where(self.table[site] > 0.0, 0.0, node.open)
        return self.visit(_Node(chosen=chosen, covered=covered, open=still), rest)
