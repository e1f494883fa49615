"""Ground stakes of the apron: how many, where, and how far inside the wall."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from boscage.model.rig import Point
from boscage.rigging.course import outward, run_lengths

Array = NDArray[np.float64]

FEWEST = 5
ROOM_SHARE = 0.9
"""Share of the room inside that an offset may take, so that the middle stays open; common practice, no source."""
_AT_CORNER = 0.05  # of the distance between stakes: nearer to a corner than that, the corner's bisector is the normal


@dataclass(frozen=True, kw_only=True)
class StakePlaces:
    """Where the stakes stand.

    Attributes:
        places: (N, 2), counter-clockwise.
        offsets_m: (N,) from the wall along its normal.
        feet: (N, 2) the place on the wall that each belongs to.
        room_m: Radius of the largest circle inside.
        shortened: Number of stakes that stand nearer than asked for.
    """

    places: Array
    offsets_m: Array
    feet: Array
    room_m: float
    shortened: int


def largest_circle_m(outline: Array) -> float:
    """Radius of the largest circle inside a convex outline, to a hundred-thousandth of its width, from below."""
    line = shapely.maximum_inscribed_circle(shapely.Polygon(outline), tolerance=1e-5 * float(np.ptp(outline)))
    return float(line.length)


def place_stakes(outline: Array, closure: Point, offset_m: float, spacing_m: float) -> StakePlaces:
    """Stakes evenly round a finished ring, the closure halfway between two of them.

    Each is set inward along the ring's own normal: that of the run it belongs to, or at a corner the bisector. An
    offset is cut down where it would leave less than a tenth of the largest circle's radius open, take a stake past
    the middle of the ring as seen along its normal, or take it across its neighbour's line.

    Args:
        outline: (K, 2) finished ring, convex, counter-clockwise.
        closure: Place on the outline.
        offset_m: Wanted, 0 or more.
        spacing_m: Longest run of wall between two stakes.
    """
    runs = run_lengths(outline)
    whole = float(runs.sum())
    count = max(FEWEST, math.ceil(whole / spacing_m * (1.0 - 1e-9)))
    step = whole / count
    along = (_where(outline, runs, closure) + (np.arange(count) + 0.5) * step) % whole
    feet, inward = _feet(outline, runs, along, _AT_CORNER * step)
    room = largest_circle_m(outline)
    offsets = np.minimum(min(offset_m, ROOM_SHARE * room), 0.5 * _depth(outline, feet, inward))
    offsets = _in_order(feet, inward, offsets)
    return StakePlaces(
        places=feet + offsets[:, None] * inward, offsets_m=offsets, feet=feet, room_m=room,
        shortened=int((offsets < offset_m * (1.0 - 1e-9)).sum()),
    )  # fmt: skip


def _where(outline: Array, runs: Array, point: Point) -> float:
    """How far along the outline the place nearest to a point is."""
    way = np.roll(outline, -1, axis=0) - outline
    to = np.asarray(point) - outline
    share = np.clip((to * way).sum(axis=1) / (way**2).sum(axis=1), 0.0, 1.0)
    k = int(np.hypot(*(to - share[:, None] * way).T).argmin())
    return float(runs[:k].sum() + share[k] * runs[k])


def _feet(outline: Array, runs: Array, along: Array, corner_m: float) -> tuple[Array, Array]:
    """Places on the wall and their inward normals."""
    ends = np.concatenate([[0.0], np.cumsum(runs)])
    k = np.clip(np.searchsorted(ends, along, side="right") - 1, 0, len(runs) - 1)
    into = along - ends[k]
    unit = (np.roll(outline, -1, axis=0) - outline) / runs[:, None]
    feet = outline[k] + into[:, None] * unit[k]
    inward = np.column_stack([-unit[k, 1], unit[k, 0]])
    bisector = -outward(outline)
    after = (k + 1) % len(runs)
    inward = np.where((into <= corner_m)[:, None], bisector[k], inward)
    return feet, np.where((runs[k] - into <= corner_m)[:, None], bisector[after], inward)


def _depth(outline: Array, feet: Array, inward: Array) -> Array:
    """How far the ring reaches inward of each place on its wall."""
    way = np.roll(outline, -1, axis=0) - outline
    normal = np.column_stack([-way[:, 1], way[:, 0]]) / np.hypot(*way.T)[:, None]
    away = ((feet[:, None, :] - outline[None]) * normal[None]).sum(axis=2)
    closing = -(inward @ normal.T)
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = np.where(closing > 1e-9, np.maximum(away, 0.0) / closing, np.inf)
    return reach.min(axis=1)


def _in_order(feet: Array, inward: Array, offsets: Array) -> Array:
    """Offsets cut down until no stake's line crosses its neighbour's."""
    offsets = offsets.copy()
    for _ in range(2):
        for i in range(len(feet)):
            j = (i + 1) % len(feet)
            cross = inward[i, 0] * inward[j, 1] - inward[i, 1] * inward[j, 0]
            if cross <= 1e-12:
                continue
            gap = feet[j] - feet[i]
            to_i = (gap[0] * inward[j, 1] - gap[1] * inward[j, 0]) / cross
            to_j = (gap[0] * inward[i, 1] - gap[1] * inward[i, 0]) / cross
            if 0.0 <= to_i < offsets[i] / 0.9 and 0.0 <= to_j < offsets[j] / 0.9:
                offsets[i], offsets[j] = min(offsets[i], 0.9 * to_i), min(offsets[j], 0.9 * to_j)
    return offsets
