"""The walk from one place to another with a load: from where a load came down to where it is used."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.travel import OFFSETS_16, Ground, Walk, time_along, travel_time
from boscage.model.brief import CarryOver
from boscage.model.fields import centres_of
from boscage.model.journey import NoWay, TravelOptions
from boscage.model.scene import Scene
from boscage.ways.load import pace_under_load, share_load
from boscage.ways.reach import Cells, cells_to, foot_walk
from boscage.ways.route import heights_along
from boscage.ways.terrain import BARRIER_WORDS, WayGround

Floats = NDArray[np.float64]

ROOM_M = 300.0
"""The way is sought in the box this much wider than the two places."""


def carry_between(
    scene: Scene, ground: WayGround, ends: tuple[tuple[float, float], tuple[float, float]], load_kg: float
) -> CarryOver | NoWay:
    """The least-time walk between two places with a shared load, and the time until all of it is there.

    Walks go from cell to cell of the scene; the straight pieces at both ends belong to the cells they lie in. A way
    back without a load is timed along the same line.

    Args:
        ends: East and north of where the load lies and of where it goes.
    """
    options, grid = scene.plan.travel, scene.grid
    begin, end = (grid.index(*place) for place in ends)
    if not (grid.holds(*begin) and grid.holds(*end)):
        return NoWay(reason="Not walked out: the drop point lies off the map of the ranch.")
    top, left, part = _box(scene, begin, end)
    cut = Ground(*[np.ascontiguousarray(a[part]) for a in (ground.elevation_m, ground.foot_pace)], grid.cell_m)
    start, goal = (begin[0] - top, begin[1] - left), (end[0] - top, end[1] - left)
    carry = share_load(load_kg, options)
    walk = foot_walk(pace_under_load(carry.share_kg + options.own_gear.kg, options))
    time = np.full(cut.pace.shape, np.inf)
    if math.isfinite(cut.pace[start]):
        time[start] = 0.0
    moves = np.empty(cut.pace.shape, dtype=np.int8)
    travel_time(cut, walk, OFFSETS_16, time, time, moves)
    if not math.isfinite(time[goal]):
        return _barred(ground, begin, end)
    rows, cols = cells_to(moves, goal)
    line = centres_of(rows + top, cols + left, grid)
    line = np.vstack([ends[0], line[1:-1], ends[1]]) if len(line) > 1 else np.array(ends, dtype=np.float64)
    return _made(scene, (line, cut, (rows, cols)), load_kg, options)


def _box(scene: Scene, begin: tuple[int, int], end: tuple[int, int]) -> tuple[int, int, tuple[slice, slice]]:
    room = int(ROOM_M / scene.grid.cell_m) + 1
    top, left = max(0, min(begin[0], end[0]) - room), max(0, min(begin[1], end[1]) - room)
    return top, left, (slice(top, max(begin[0], end[0]) + room + 1), slice(left, max(begin[1], end[1]) + room + 1))


def _barred(ground: WayGround, begin: tuple[int, int], end: tuple[int, int]) -> NoWay:
    words = tuple(w for bit, w in BARRIER_WORDS.items() if any(ground.stops[c] & bit for c in (begin, end)))
    what = " and ".join(words) if words else "mapped water, or land without permission, between them"
    return NoWay(reason=f"No walk from the drop point to the set is known: {what}.", barriers=words)


def _made(scene: Scene, found: tuple[Floats, Ground, Cells], load_kg: float, options: TravelOptions) -> CarryOver:
    line, cut, cells = found
    carry, own = share_load(load_kg, options), options.own_gear.kg
    length = float(np.hypot(*np.diff(line, axis=0).T).sum())
    back = (cells[0][::-1].copy(), cells[1][::-1].copy())
    in_s = _seconds(cut, cells, foot_walk(pace_under_load(carry.share_kg + own, options)), length)
    back_s = _seconds(cut, back, foot_walk(pace_under_load(own, options)), length)
    height = heights_along(scene, line)
    known = scene.surface("elevation") is not None
    return CarryOver(
        line=line, distance_m=length, minutes=in_s / 60.0, trips=carry.trips, share_kg=carry.share_kg,
        all_min=(carry.trips * in_s + (carry.trips - 1) * back_s) / 60.0,
        climb_m=float(np.nansum(np.maximum(np.diff(height), 0.0))) if known else math.nan,
    )  # fmt: skip


def _seconds(cut: Ground, cells: Cells, walk: Walk, length_m: float) -> float:
    """Time along cells, scaled to the length of the line between the true ends; level ground inside one cell."""
    over_m = cut.cell_m * float(np.hypot(np.diff(cells[0]), np.diff(cells[1])).sum())
    if over_m == 0.0:
        level = walk.top_speed_mps * math.exp(-walk.decay * abs(walk.best_slope))
        return length_m / level * float(cut.pace[cells[0][0], cells[1][0]])
    seconds = np.zeros(len(cells[0]) - 1)
    time_along(cut, walk, *cells, seconds)
    return float(seconds.sum()) * length_m / over_m
