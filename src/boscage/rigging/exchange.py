"""Better sets of trees near a ring: one put in, one taken out, one put in for its neighbour."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from boscage.model.rig import RingOptions
from boscage.rigging.moves import Placed, most_score, move, needed, with_fewer

Array = NDArray[np.float64]

_ROUNDS = 12
_NEAR_M = 0.5  # how much farther than the reach from the ring's line a tree is still tried


def exchange(ring: Placed, trunk: Array, options: RingOptions) -> tuple[Placed, int]:
    """The ring after the first exchange that helps, again and again until none does; and how many were tried."""
    tried = 0
    for _ in range(_ROUNDS):
        better = ring
        for start in _neighbours(ring, trunk, options):
            if len(start.trees) < options.contacts or most_score(start.trees, trunk, options) <= ring.score:
                continue
            tried += 1
            found = move(start, trunk, options, needed(start.corners, options))
            if found.score > -math.inf:
                found = with_fewer(found, trunk, options)
            if found.score > ring.score + 1e-9:
                better = found
                break
        if better is ring:
            break
        ring = better
    return ring, tried


def _neighbours(ring: Placed, trunk: Array, options: RingOptions) -> Iterator[Placed]:
    """Sets one exchange away, those with the nearest tree put in first; no rings yet."""
    for tree, span, corner in _beside(ring, trunk, options):
        trees = np.insert(ring.trees, span + 1, tree)
        corners = np.insert(ring.corners, span + 1, corner, axis=0)
        yield Placed(trees=trees, corners=corners, score=-math.inf)
        for out in (span, (span + 2) % len(trees)):  # the corners before and after the new one
            yield _without(Placed(trees=trees, corners=corners, score=-math.inf), out)
    for out in range(len(ring.trees)):
        yield _without(ring, out)


def _without(ring: Placed, out: int) -> Placed:
    return Placed(trees=np.delete(ring.trees, out), corners=np.delete(ring.corners, out, axis=0), score=-math.inf)


def _beside(ring: Placed, trunk: Array, options: RingOptions) -> list[tuple[int, int, Array]]:
    """Trees near the ring's line, nearest first: the tree, the span it is beside, and a corner within its reach."""
    ends = np.roll(ring.corners, -1, axis=0)
    way = ends - ring.corners
    found = []
    for tree in np.setdiff1d(np.arange(len(trunk)), ring.trees):
        centre, radius = trunk[tree, :2], trunk[tree, 2]
        along = np.clip(((centre - ring.corners) * way).sum(axis=1) / (way**2).sum(axis=1), 0.0, 1.0)
        foot = ring.corners + along[:, None] * way
        far = np.hypot(*(centre - foot).T)
        span = int(np.argmin(far))
        if far[span] > radius + options.reach_m + _NEAR_M or not 0.0 < along[span] < 1.0:
            continue
        inward = np.array([-way[span, 1], way[span, 0]]) / float(np.hypot(*way[span]))
        outside = float((foot[span] - centre) @ inward)
        off = min(max(outside, radius), radius + options.reach_m)
        found.append((round(abs(outside - off), 9), int(tree), span, centre + off * inward))
    return [(tree, span, corner) for _, tree, span, corner in sorted(found, key=lambda f: f[:2])]
