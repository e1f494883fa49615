"""From arrays of trunks to the best sets of trees: the exact search with its trunks put in order.

Trunks are sorted by north, then east, then radius before the search, so that nothing depends on the order in which
they are given; only trunks alike in all three are told apart by that order.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boscage.errors import InputError
from boscage.kernels.ring import ALL, Kept, Task, Wood, open_kept, search_all
from boscage.kernels.ring_bounds import Limits, arc_table
from boscage.kernels.ring_many import Found, search_each
from boscage.kernels.ring_near import near_above
from boscage.model.rig import RingOptions


@dataclass(frozen=True, kw_only=True)
class RootRings:
    """For each stem the best ring of all those whose lowest stem it is (then leftmost, then thinnest).

    Attributes:
        score: (N,), NaN where there is none.
        perimeter_m, area_m2: (N,).
        built_supports, contacts: (N,).
        first: (N + 1,); the ring of stem i is ids[first[i]:first[i + 1]].
        ids: Places in the arrays given, counter-clockwise from the lowest.
    """

    score: NDArray[np.float64]
    perimeter_m: NDArray[np.float64]
    area_m2: NDArray[np.float64]
    built_supports: NDArray[np.int64]
    contacts: NDArray[np.int64]
    first: NDArray[np.int64]
    ids: NDArray[np.int64]

    def ring(self, stem: int) -> NDArray[np.int64]:
        """Stems of one ring; empty where there is none."""
        return self.ids[self.first[stem] : self.first[stem + 1]]


@dataclass(frozen=True, kw_only=True)
class BestSets:
    """The best rings with every corner at the bark, best first.

    Attributes:
        sets: Places in the arrays given, counter-clockwise from the lowest.
        scores: One for each.
        perimeters_m: One for each.
        chains, rings: Chains tried and rings judged.
    """

    sets: tuple[NDArray[np.int64], ...]
    scores: tuple[float, ...]
    perimeters_m: tuple[float, ...]
    chains: int
    rings: int


def best_rings(stems: NDArray[np.float64], radii_m: NDArray[np.float64], options: RingOptions) -> RootRings:
    """The best ring of every stem of a wood, corners at the bark (`options.reach_m` is not used).

    Args:
        stems: (N, 2) east and north, metres. All are taken as usable trees.
        radii_m: (N,).
        options: Perimeter, gather, spacing and contacts.

    Raises:
        InputError: The arrays do not fit together or hold something that is not a finite number, or a radius is
            negative.
    """
    trunk = _trunks(stems, radii_m)
    count = len(trunk)
    worth = np.full((count, 4), -math.inf)
    contacts = np.zeros(count, np.int64)
    if count == 0:
        none = np.zeros(0, np.int64)
        return _root_rings(worth, contacts, np.zeros(1, np.int64), none)
    order, wood = _wood(trunk, options.perimeter_m)
    ids = np.empty(wood.near.size + count, np.int64)
    task = Task(wood, _limits(options, options.least_m, options.perimeter_m), arc_table())
    search_each(task, Found(worth, contacts, ids))
    rank = np.empty(count, np.int64)
    rank[order] = np.arange(count)
    first = np.concatenate([[0], np.cumsum(contacts[rank])])
    offset = np.repeat(wood.first[rank] + rank, contacts[rank])
    within = np.arange(first[-1]) - np.repeat(first[:-1], contacts[rank])
    return _root_rings(worth[rank], contacts[rank], first, order[ids[offset + within]])


def _root_rings(
    worth: NDArray[np.float64], contacts: NDArray[np.int64], first: NDArray[np.int64], ids: NDArray[np.int64]
) -> RootRings:
    found = contacts > 0
    score, perimeter, area, built = (np.where(found, worth[:, k], np.nan) for k in range(4))
    return RootRings(
        score=score, perimeter_m=perimeter, area_m2=area, contacts=contacts, first=first, ids=ids,
        built_supports=np.where(found, built, 0.0).astype(np.int64),
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Window:
    """Perimeters allowed, metres, and the least number of contacts."""

    least_m: float
    most_m: float
    contacts: int


def best_sets(
    trunk: NDArray[np.float64],
    options: RingOptions,
    *,
    count: int,
    window: Window | None = None,
    most_chains: int | None = None,
) -> BestSets:
    """The `count` best rings of a wood with every corner at the bark: the global optimum and those next to it.

    Args:
        trunk: (N, 3) east, north, radius.
        options: Perimeter, gather, spacing and contacts.
        count: How many rings to keep.
        window: Other limits than those of the options.
        most_chains: Stop each tree's search, as the lowest of a ring, after so many chains. With that the answer is
            good but no longer known to be the optimum.
    """
    limits = window or Window(least_m=options.least_m, most_m=options.perimeter_m, contacts=options.contacts)
    if len(trunk) < max(3, limits.contacts):
        return BestSets(sets=(), scores=(), perimeters_m=(), chains=0, rings=0)
    order, wood = _wood(trunk, limits.most_m)
    kept: Kept = open_kept(count, int(np.diff(wood.first).max()) + 1)
    bounds = _limits(options, limits.least_m, limits.most_m, limits.contacts)
    search_all(Task(wood, bounds, arc_table()), kept, ALL if most_chains is None else most_chains)
    found = int(np.count_nonzero(kept.contacts))
    return BestSets(
        sets=tuple(order[kept.ids[k, : kept.contacts[k]]] for k in range(found)),
        scores=tuple(float(v) for v in kept.worth[:found, 0]),
        perimeters_m=tuple(float(v) for v in kept.worth[:found, 1]),
        chains=int(kept.tried[0]),
        rings=int(kept.tried[1]),
    )


def _limits(options: RingOptions, least_m: float, most_m: float, contacts: int | None = None) -> Limits:
    return Limits(
        float(least_m), float(most_m), float(options.longest_span_m),
        options.contacts if contacts is None else contacts,
    )  # fmt: skip


def _trunks(stems: NDArray[np.float64], radii_m: NDArray[np.float64]) -> NDArray[np.float64]:
    stems, radii_m = np.asarray(stems, dtype=np.float64), np.asarray(radii_m, dtype=np.float64)
    if stems.ndim != 2 or stems.shape[1] != 2 or radii_m.shape != stems.shape[:1]:
        raise InputError(
            f"stems have the shape {stems.shape} and radii {radii_m.shape}", expected="(N, 2) and (N,)", field="stems"
        )
    trunk = np.column_stack([stems, radii_m])
    if not np.isfinite(trunk).all() or (radii_m < 0.0).any():
        row = int(np.flatnonzero(~np.isfinite(trunk).all(axis=1) | (radii_m < 0.0))[0]) + 1
        raise InputError(
            "the stem has no place or a negative radius", expected="finite metres and a radius of 0 or more", row=row
        )
    return trunk


def _wood(trunk: NDArray[np.float64], most_m: float) -> tuple[NDArray[np.int64], Wood]:
    order = np.lexsort((trunk[:, 2], trunk[:, 0], trunk[:, 1])).astype(np.int64)
    middle = np.array([*np.rint(np.median(trunk[:, :2], axis=0)), 0.0])  # whole metres, so that no digit changes
    stem = np.ascontiguousarray(trunk[order] - middle)
    return order, Wood(stem, *near_above(stem, float(most_m)))
