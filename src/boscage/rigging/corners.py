"""Corners that stand off the bark: from good sets of trees to the best ring found with reach.

Starts. The exact search runs on trunks made thicker by several shares of the reach, the bark itself first; a ring of
thicker trunks is a ring whose corners all stand off by that much, straight in front of their trunks, and is therefore
allowed. From each search the best few sets are kept. On thicker trunks the perimeter may miss its window by a
twentieth, and each tree's part of the search is cut off after a number of chains. So sets that are too long, too
short or not convex with every corner at the bark are met as well.

Moves. For a set and given numbers of built supports, roundness is raised by sequential quadratic programming over all
corners under the constraints of `boscage.rigging.placing`; then each span in turn is asked to do with one support less.
For the best few rings one tree is then put in, taken out or put in for a neighbour (`boscage.rigging.exchange`), as
long as that helps. A ring is taken only if its score, worked out anew from its corners, is higher and every constraint
holds.

What is guaranteed: the answer is never below the best ring with every corner at the bark, which is a global optimum.
Beyond that it is a local optimum with starts. Nothing is drawn by chance.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.ring_corners import bark_corners
from boscage.model.rig import RingOptions
from boscage.rigging.exchange import exchange
from boscage.rigging.moves import Placed, most_score, move, needed, with_fewer
from boscage.rigging.polygon import score_of
from boscage.rigging.search import BestSets, Window, best_sets

Array = NDArray[np.float64]

_SHARES = (0.0, 0.25, 0.6, 1.0)
_FROM_BARK, _FROM_SHARE = 10, 6
_WELL_PLACED = 8
_CHAINS, _LEAST_CHAINS = 20_000, 60  # on thicker trunks, in all and from each tree
_LOOSE = 0.05  # share by which a start may miss the perimeter's window


@dataclass(frozen=True, kw_only=True)
class Placing:
    """The best ring found and how. at_bark: the best with every corner at the bark; sets: how many were moved."""

    best: Placed | None
    at_bark: Placed | None
    chains: int
    rings: int
    sets: int


def place_corners(trunk: Array, options: RingOptions) -> Placing:
    """The best ring of trees alone.

    Args:
        trunk: (N, 3) east, north, radius of the usable trees.
        options: The whole of what a ring may be; `posts` is not used.
    """
    bark = best_sets(trunk, options, count=_FROM_BARK if options.reach_m > 0.0 else 1)
    starts = _with_corners(bark, trunk, options)
    at_bark = starts[0] if starts else None
    chains, rings, best, sets = bark.chains, bark.rings, at_bark, 0
    if options.reach_m > 0.0:
        for share in _SHARES[1:]:
            thicker = trunk + np.array([0.0, 0.0, share * options.reach_m])
            found = best_sets(
                thicker, options, count=_FROM_SHARE, window=_loose(options),
                most_chains=max(_LEAST_CHAINS, _CHAINS // max(len(trunk), 1)),
            )  # fmt: skip
            chains, rings = chains + found.chains, rings + found.rings
            starts += _with_corners(found, thicker, options)
        best, sets = _move_all(starts, at_bark, trunk, options)
    return Placing(best=best, at_bark=at_bark, chains=chains, rings=rings, sets=sets)


def _loose(options: RingOptions) -> Window:
    return Window(
        least_m=(1.0 - _LOOSE) * options.least_m, most_m=(1.0 + _LOOSE) * options.perimeter_m, contacts=options.contacts
    )


def _with_corners(found: BestSets, trunk: Array, options: RingOptions) -> list[Placed]:
    made = []
    for trees in found.sets:
        corners = trunk[trees, :2].copy()
        bark_corners(np.ascontiguousarray(trunk[trees]), corners)
        score = score_of(corners, options.longest_span_m, options.least_m, options.perimeter_m)
        made.append(Placed(trees=trees, corners=corners, score=-math.inf if score is None else score))
    return made


def _move_all(
    starts: list[Placed], at_bark: Placed | None, trunk: Array, options: RingOptions
) -> tuple[Placed | None, int]:
    """Move the corners of every set once; then ask the best few to do with fewer supports and to exchange trees."""
    seen: dict[tuple[int, ...], Placed] = {}
    for one in sorted(starts, key=lambda p: -p.score):
        seen.setdefault(tuple(sorted(one.trees.tolist())), one)
    best_score = -math.inf if at_bark is None else at_bark.score
    moved = []
    for one in seen.values():
        if most_score(one.trees, trunk, options) > best_score:
            moved.append(move(one, trunk, options, needed(one.corners, options)))
            best_score = max(best_score, moved[-1].score)
    sets, finalists = len(moved), [] if at_bark is None else [at_bark]
    for one in sorted(moved, key=lambda p: -p.score)[:_WELL_PLACED]:
        if one.score > -math.inf:
            better, looked = exchange(with_fewer(one, trunk, options), trunk, options)
            finalists.append(better)
            sets += looked
    best = max(finalists, key=lambda p: p.score, default=None)
    return best, sets
