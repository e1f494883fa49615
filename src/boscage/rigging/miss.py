"""What comes nearest where no ring fits: a sentence with figures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from boscage.model.rig import RingOptions, Stem
from boscage.rigging.search import BestSets, Window, best_sets

Array = NDArray[np.float64]

_FARTHEST = 1.5  # times the perimeter: how much too long a ring is still looked for
_SMALLEST = 0.5
_CLOSE_M = 0.01
_CHAINS, _LEAST_CHAINS = 100_000, 200


@dataclass(frozen=True, kw_only=True)
class Miss:
    """A ring that misses. off_m: too long where over 0, too short where under."""

    trees: NDArray[np.int64]
    perimeter_m: float
    off_m: float


def why_none(stems: Sequence[Stem], usable: Sequence[Stem], options: RingOptions) -> tuple[str, str]:
    """The reason and the nearest miss.

    Args:
        stems: All stems given.
        usable: Those that may hold a ring.
        options: What a ring may be.
    """
    wanted = options.contacts
    if len(usable) < wanted:
        thin = sum(s.kind == "tree" for s in stems) - len(usable)
        other = len(stems) - len(usable) - thin
        reason = f"Only {_count(len(usable), 'usable tree')} of {_count(len(stems), 'stem')}; {wanted} are needed."
        rest = [_count(thin, "tree") + f" thinner than {_both(options.min_dbh_m)}"] if thin else []
        rest += [f"{other} dead, leaning or a sapling"] if other else []
        return reason, "Not counted: " + " and ".join(rest) + "." if rest else "No other stems are listed."
    trunk = np.array([(s.x_m, s.y_m, s.radius_m) for s in usable])
    window = f"{_both(options.least_m)} to {_both(options.perimeter_m)}"
    reason = f"No {wanted} of the {len(usable)} usable trees stand on a closed convex ring of {window}."
    miss = _nearest_length(trunk, options)
    if miss is not None:
        names = ", ".join(usable[i].stem for i in miss.trees)
        side = "too long" if miss.off_m > 0 else "too short"
        return reason, (
            f"The nearest ring of {len(miss.trees)} trees (stems {names}) is {_both(miss.perimeter_m)} round, "
            f"{_both(abs(miss.off_m))} {side}."
        )
    return reason, _fewer(trunk, usable, options)


def _nearest_length(trunk: Array, options: RingOptions) -> Miss | None:
    """The ring of enough trees whose perimeter misses the window by least, of those met."""
    misses = [m for m in (_shortest_beyond(trunk, options), _longest_below(trunk, options)) if m is not None]
    return min(misses, key=lambda m: (round(abs(m.off_m), 9), m.off_m)) if misses else None


def _shortest_beyond(trunk: Array, options: RingOptions) -> Miss | None:
    """The shortest ring longer than the rope, corners as far off the bark as they may be."""
    thicker = trunk + np.array([0.0, 0.0, options.reach_m])
    low, high, found = options.perimeter_m, _FARTHEST * options.perimeter_m, None
    edge = high
    while edge - low > _CLOSE_M:
        sets = _sets(thicker, options, low, edge)
        if sets.sets:
            found = Miss(
                trees=sets.sets[0], perimeter_m=sets.perimeters_m[0], off_m=sets.perimeters_m[0] - options.perimeter_m
            )
            high = found.perimeter_m
        else:
            low = edge
            if found is None:
                return None
        edge = 0.5 * (low + high)
    return found


def _longest_below(trunk: Array, options: RingOptions) -> Miss | None:
    """The longest ring shorter than the least perimeter, corners at the bark."""
    low, high, found = _SMALLEST * options.least_m, options.least_m, None
    edge = low
    while high - edge > _CLOSE_M:
        sets = _sets(trunk, options, edge, high)
        if sets.sets:
            found = Miss(
                trees=sets.sets[0], perimeter_m=sets.perimeters_m[0], off_m=sets.perimeters_m[0] - options.least_m
            )
            low = found.perimeter_m
        else:
            high = edge
            if found is None:
                return None
        edge = 0.5 * (low + high)
    return found


def _sets(trunk: Array, options: RingOptions, least_m: float, most_m: float) -> BestSets:
    return best_sets(
        trunk, options, count=1, window=Window(least_m=least_m, most_m=most_m, contacts=options.contacts),
        most_chains=max(_LEAST_CHAINS, _CHAINS // len(trunk)),
    )  # fmt: skip


def _fewer(trunk: Array, usable: Sequence[Stem], options: RingOptions) -> str:
    """The ring of the most trees within the window, or how many trees stand near one another."""
    for contacts in range(options.contacts - 1, 2, -1):
        for off in (0.0, options.reach_m):
            thicker = trunk + np.array([0.0, 0.0, off])
            sets = best_sets(
                thicker, options, count=1, most_chains=max(_LEAST_CHAINS, _CHAINS // len(trunk)),
                window=Window(least_m=options.least_m, most_m=options.perimeter_m, contacts=contacts),
            )  # fmt: skip
            if sets.sets:
                names = ", ".join(usable[i].stem for i in sets.sets[0])
                return (
                    f"The nearest is a ring of {contacts} trees (stems {names}), {options.contacts - contacts} short "
                    f"of {options.contacts}, {_both(sets.perimeters_m[0])} round."
                )
    reach = 0.5 * options.perimeter_m + 2.0 * (options.reach_m + float(trunk[:, 2].max()))
    near = int(cKDTree(trunk[:, :2]).query_ball_point(trunk[:, :2], reach, return_length=True).max())
    return f"At most {_count(near, 'usable tree')} stand within a net's width, {_both(reach)}, of any one of them."


def _count(number: int, name: str) -> str:
    return f"{number} {name}" if number == 1 else f"{number} {name}s"


def _both(metres: float) -> str:
    if metres < 0.3:
        return f"{100.0 * metres:.1f} cm ({metres / 0.0254:.1f} in)"
    return f"{metres:.2f} m ({metres / 0.3048:.1f} ft)"
