"""How firm a ring is against errors in the places of its trees.

The trees of the ring are moved at random, by errors of tape and compass from the pivot or of a map, and it is asked
whether the same trees, in the same order, still hold a ring within the rules, with any number of built supports. In
turn, until one answers:

1. the corners of the answer carried along with their trunks are tried;
2. corners straight in front of their trunks, all by one share of the reach. The perimeter falls as the share grows.
   If it is too long with every corner at full reach there is no ring at all: that is the shortest closed line that
   visits the discs in which the corners must lie;
3. the smallest move of the corners that meets the rules, found by repeating it for the rules made linear.

A draw that fails all three counts as failing; the third is a local search, so the share is never too high.
Posts are put where they are wanted, and have no error.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import nnls

from boscage.kernels.ring_corners import bark_corners
from boscage.model.rig import Ring, RingOptions
from boscage.model.rig_plan import RigFrame, RiggingOptions, Steadiness
from boscage.rigging.bearings import Pivot, trunk_place
from boscage.rigging.placing import Stand, constraints
from boscage.rigging.polygon import score_of, spans

Array = NDArray[np.float64]

SEED = 20_240_601
_LOOKED_INTO = 40  # failing draws in which trees are put back one at a time
_STEPS = 12
_MARGIN = 1e-6
_HELD = -2e-7  # round-off allowed on rules that are met exactly


def judge_steadiness(ring: Ring, pivot: Pivot, frame: RigFrame, options: RiggingOptions) -> Steadiness | None:
    """The share of draws that still hold, and the tree behind most failures; None without draws or trees.

    Args:
        ring: The ring.
        pivot: Where tape and compass were used, if they were.
        frame: Says whether they were.
        options: Errors and the number of draws.
    """
    trunk, corners, measured = _given(ring)
    if options.draws == 0 or not measured.any():
        return None
    moved = draw_places(trunk[:, :2], measured, pivot, frame, options)
    origin = np.rint(trunk[0, :2])  # far from 0 digits are lost
    moved, corners = moved - origin, corners - origin
    trunk = trunk - np.array([*origin, 0.0])
    failing = [i for i, at in enumerate(moved) if not holds(_at(trunk, at), trunk, corners, ring.options)]
    weakest = None
    if failing:
        weakest = _weakest(moved[failing[:_LOOKED_INTO]], trunk, corners, ring)
    return Steadiness(
        holds_share=1.0 - len(failing) / options.draws, draws=options.draws, weakest=weakest,
        error=_words(frame, options),
    )  # fmt: skip


def draw_places(
    centres: Array, measured: NDArray[np.bool_], pivot: Pivot, frame: RigFrame, options: RiggingOptions
) -> Array:
    """(draws, K, 2) places of the trees, each with its own normal error; the same every time."""
    error = np.random.default_rng(SEED).standard_normal((options.draws, len(centres), 2)) * measured[:, None]
    if not frame.taped:
        return centres + options.mapped_error.m * error
    way = centres - np.asarray(pivot.place)
    far = np.hypot(*way.T) * (1.0 + options.distance_error * error[:, :, 0])
    turn = np.arctan2(way[:, 0], way[:, 1]) + np.radians(options.bearing_error_deg) * error[:, :, 1]
    return np.asarray(pivot.place) + far[:, :, None] * np.stack([np.sin(turn), np.cos(turn)], axis=2)


def holds(trunk: Array, listed: Array, corners: Array, options: RingOptions) -> bool:
    """Whether trees hold a ring within the rules.

    Args:
        trunk: (K, 3) east, north, radius where they stand, in the ring's order.
        listed: (K, 3) the same as the list has them.
        corners: (K, 2) of the ring on the listed trees.
        options: The rules.
    """
    carried = corners + trunk[:, :2] - listed[:, :2]
    if options.reach_m == 0.0:
        return _at_share(trunk, 0.0, options) is not None
    stand = _stand(trunk, options)
    if _meets(carried, stand, options):
        return True
    straight = _straight(trunk, options)
    if straight is not None:
        return straight
    starts = [carried, _bark(trunk, 0.0), _bark(trunk, 0.5 * options.reach_m)]
    return any(_meets_after_moves(start, stand, options) for start in starts if start is not None)


def _given(ring: Ring) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Trunks (K, 3), corners (K, 2), and which of them are trees."""
    trunk = [(*trunk_place(c), 0.0 if c.stem is None else c.stem.radius_m) for c in ring.contacts]
    corners = [(c.x_m, c.y_m) for c in ring.contacts]
    return np.array(trunk), np.array(corners), np.array([c.stem is not None for c in ring.contacts])


def _at(trunk: Array, places: Array) -> Array:
    return np.column_stack([places, trunk[:, 2]])


def _stand(trunk: Array, options: RingOptions) -> Stand:
    return Stand(
        trunk=trunk, reach_m=options.reach_m, most_span_m=np.full(len(trunk), options.perimeter_m),
        least_m=options.least_m, most_m=options.perimeter_m,
    )  # fmt: skip


def _meets(corners: Array, stand: Stand, options: RingOptions) -> bool:
    """Whether corners meet every rule."""
    if constraints(corners, stand)[0].min() < _HELD:
        return False
    return score_of(corners, options.longest_span_m, options.least_m, options.perimeter_m) is not None


def _bark(trunk: Array, standoff_m: float) -> Array | None:
    """Corners straight in front of their trunks, all equally far off the bark; None where there are none."""
    thicker = np.ascontiguousarray(trunk + np.array([0.0, 0.0, standoff_m]))
    corners = trunk[:, :2].copy()
    return corners if bark_corners(thicker, corners) else None


def _at_share(trunk: Array, standoff_m: float, options: RingOptions) -> float | None:
    """Perimeter of the ring with corners so far off; None where it is not allowed."""
    corners = _bark(trunk, standoff_m)
    if corners is None:
        return None
    fits = score_of(corners, options.longest_span_m, options.least_m, options.perimeter_m)
    return None if fits is None else float(spans(corners).sum())


def _straight(trunk: Array, options: RingOptions) -> bool | None:
    """Whether some ring with corners straight in front holds; None where that does not settle it."""
    low, high = 0.0, options.reach_m
    ends = [_convex_length(trunk, off, options) for off in (low, high)]
    if ends[1] is not None and ends[1] > options.perimeter_m * (1.0 + 1e-9):
        return False
    if ends[0] is not None and ends[0] < options.least_m:
        return None
    for _ in range(8):
        middle = 0.5 * (low + high)
        length = _convex_length(trunk, middle, options)
        if length is None or length < options.least_m:
            high = middle
        elif length > options.perimeter_m:
            low = middle
        else:
            return True
    return None


def _convex_length(trunk: Array, standoff_m: float, options: RingOptions) -> float | None:
    """Perimeter of the ring with corners so far off, whatever it is; None where it is not strictly convex."""
    corners = _bark(trunk, standoff_m)
    if corners is None or score_of(corners, options.longest_span_m, 0.0, np.inf) is None:
        return None
    return float(spans(corners).sum())


def _meets_after_moves(corners: Array, stand: Stand, options: RingOptions) -> bool:
    """Whether the smallest moves that meet the rules made linear lead to corners that meet the rules."""
    for _ in range(_STEPS):
        values, slopes = constraints(corners, stand)
        step = least_move(slopes, _MARGIN - values)
        if step is None:
            return False
        corners = corners + step.reshape(-1, 2)
        if not np.isfinite(corners).all():
            return False
        if _meets(corners, stand, options):
            return True
    return False


def least_move(slopes: Array, wanted: Array) -> Array | None:
    """The shortest x with slopes @ x >= wanted, (N,); None where there is none.

    References:
        Lawson and Hanson (1974), Solving Least Squares Problems, chapter 23, problem LDP.
    """
    table = np.vstack([slopes.T, wanted])
    try:
        weight, _ = nnls(table, np.append(np.zeros(len(table) - 1), 1.0), maxiter=20 * table.shape[1])
    except RuntimeError:
        return None
    rest = table @ weight
    rest[-1] -= 1.0
    return None if abs(rest[-1]) < 1e-10 else -rest[:-1] / rest[-1]


def _weakest(places: Array, trunk: Array, corners: Array, ring: Ring) -> str | None:
    """The tree whose being where the list has it would mend most of the failing draws; the first of equals."""
    mended = np.zeros(len(trunk), dtype=np.int64)
    for at in places:
        for k in np.flatnonzero([c.stem is not None for c in ring.contacts]):
            put_back = at.copy()
            put_back[k] = trunk[k, :2]
            mended[k] += holds(_at(trunk, put_back), trunk, corners, ring.options)
    if not mended.any():
        return None
    stem = ring.contacts[int(mended.argmax())].stem
    return None if stem is None else stem.stem


def _words(frame: RigFrame, options: RiggingOptions) -> str:
    if frame.taped:
        degrees = options.bearing_error_deg
        return (
            f"standard errors of {degrees:g} degree{'' if degrees == 1.0 else 's'} of bearing and "
            f"{100.0 * options.distance_error:g} % of distance from the pivot"
        )
    metres = options.mapped_error.m
    return f"a standard error of {metres:g} m ({metres / 0.3048:.1f} ft) east and north in each tree's place on the map"
