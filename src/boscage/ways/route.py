"""The way to one place and back, leg by leg, with its profile, energy and what it crosses."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.travel import (
    OFFSETS_16,
    Ground,
    Limits,
    Walk,
    time_along,
    travel_time,
)
from boscage.model.fields import centres_of
from boscage.model.journey import ATV, FOOT, VEHICLE, Journey, Leg, Load, NoWay, TravelOptions
from boscage.model.scene import Scene
from boscage.ways.barred import find_barriers
from boscage.ways.crossings import list_crossings
from boscage.ways.load import Carry, energy_kcal, pace_under_load, share_load
from boscage.ways.network import Network, make_network
from boscage.ways.reach import (
    Cells,
    atv_ground,
    atv_limits,
    atv_pass,
    atv_walk,
    beside_ways,
    cells_to,
    foot_ground,
    foot_seeds,
    foot_walk,
    vehicle_field,
)
from boscage.ways.terrain import WayGround, make_ground

Floats = NDArray[np.float64]
Rules = tuple[Ground, Limits | None, Walk]

BACK_ROOM_M = 600.0  # the way back is sought this far round the way in


@dataclass(frozen=True, kw_only=True, eq=False)
class Ways:
    """All that routes are drawn from.

    Attributes:
        minutes, atv_from, foot_from: Of the scene's `Reach`.
        vehicle, node: Seconds and place of the network by cell, see `vehicle_field`.
        beside, parked: Where people get off the vehicle, and the cell that it stands in, see `beside_ways`.
        atv: Seconds of the ATV by cell.
    """

    scene: Scene
    options: TravelOptions
    ground: WayGround
    network: Network
    minutes: NDArray[np.float32]
    atv_from: NDArray[np.int8]
    foot_from: NDArray[np.int8]
    vehicle: Floats
    node: NDArray[np.int64]
    beside: Floats
    parked: NDArray[np.int64]
    atv: Floats


def gather_ways(scene: Scene, kept: Mapping[str, NDArray[Any]], minutes: NDArray[np.float32]) -> Ways | None:
    """Lay out again what a scene's passes ran over; None where there are no ways for the vehicle.

    Args:
        kept: `atv_from` and `foot_from` of the scene's `Reach`.
        minutes: Its least times in.
    """
    options = scene.plan.travel
    network = make_network(scene, options)
    if network is None:
        return None
    ground = make_ground(scene, options)
    vehicle, node = vehicle_field(network, scene)
    beside, parked = beside_ways(vehicle, ground)
    atv, _ = atv_pass(scene.grid, ground, beside, options)
    return Ways(
        scene=scene, options=options, ground=ground, network=network, minutes=minutes, vehicle=vehicle, node=node,
        atv_from=kept["atv_from"], foot_from=kept["foot_from"], beside=beside, parked=parked, atv=atv,
    )  # fmt: skip


def find_journey(ways: Ways, x_m: float, y_m: float, load: Load) -> Journey | NoWay:
    """The least-time way to the cell of a place and back, or why there is none.

    The way in is the one that the passes found for the plan's net; energy and trips are for `load`. The way back is the
    least-time one to where the ATV and the vehicle were left, within 600 m of the way in.
    """
    cell = ways.scene.grid.index(x_m, y_m)
    if not math.isfinite(ways.minutes[cell]):
        return find_barriers(ways.scene, ways.ground, ways.vehicle, cell)
    options, grid = ways.options, ways.scene.grid
    walked, ridden, stand = cells_in(ways, cell)
    carry = share_load(load.mass_kg, options)
    stop = int(ways.node[stand])
    drive = ways.network.way_to(stop) if stop >= 0 else np.empty(0, dtype=np.int64)
    inward, outward = [], []
    carry_min = kcal = 0.0
    if len(drive) and ways.network.seconds[stop] > 0.0:
        inward.append(_drive(ways, drive))
    if ridden is not None:
        rules: Rules = (atv_ground(ways.ground, grid), atv_limits(ways.ground, options), atv_walk(options))
        back = _way_back(ways, ridden, rules)
        inward.append(_leg(ways, ATV, ridden, rules, options.atv_min))
        outward.append(_leg(ways, ATV, back, rules, options.pack_min))
    if walked is not None:
        pace = pace_under_load(carry.share_kg + options.own_gear.kg, options)
        rules = (foot_ground(ways.ground, grid), None, foot_walk(pace))
        back = _way_back(ways, walked, rules)
        inward.append(_leg(ways, FOOT, walked, rules, options.pack_min))
        outward.insert(0, _leg(ways, FOOT, back, rules, 0.0))
        carry_min, kcal = _carry_cost(ways, (walked, back), carry)
    if inward and inward[0].kind == VEHICLE:
        change = options.atv_min if ridden is not None else (options.pack_min if walked is not None else 0.0)
        outward.append(_turned(inward[0], change))
    gates = ways.scene.vectors.get("gates")
    start = ways.network.start_of(drive, None if gates is None else gates.frame) if len(drive) else ways.network.start
    return Journey(
        start=start, inward=tuple(inward), outward=tuple(outward), load_kg=load.mass_kg, load_note=load.note,
        trips=carry.trips, share_kg=carry.share_kg, carry_min=carry_min, kcal=kcal,
        crossings=list_crossings(ways.scene, tuple(inward), ways.network.gates_on(drive)),
    )  # fmt: skip


def cells_in(ways: Ways, cell: tuple[int, int]) -> tuple[Cells | None, Cells | None, tuple[int, int]]:
    """Cells of the walk and of the ride in order of travel, None for a leg not used, and where the vehicle is."""
    vehicle, atv = ways.vehicle, ways.atv
    by_foot = 60.0 * float(ways.minutes[cell]) < min(vehicle[cell], atv[cell]) - 0.01
    walked = cells_to(ways.foot_from, cell) if by_foot else None
    here = cell if walked is None else _first(walked)
    if by_foot:
        rides = atv[here] + 60.0 * ways.options.pack_min <= foot_seeds(ways.beside[here], atv[here], ways.options)
    else:
        rides = atv[here] < vehicle[here]
    if not rides:
        return walked, None, _stand(ways, here) if by_foot else here
    ridden = cells_to(ways.atv_from, here)
    return walked, ridden if len(ridden[0]) > 1 else None, _stand(ways, _first(ridden))


def _first(cells: Cells) -> tuple[int, int]:
    return int(cells[0][0]), int(cells[1][0])


def _stand(ways: Ways, cell: tuple[int, int]) -> tuple[int, int]:
    """The cell that the vehicle stands in for a leg that begins in a cell."""
    row, col = divmod(int(ways.parked[cell]), ways.scene.grid.cols)
    return row, col


def part_near(ways: Ways, rules: Rules, cells: Cells) -> tuple[Rules, tuple[int, int]]:
    """What a pass runs over in the box 600 m wider than some cells, and the first row and column of that."""
    ground, limits, walk = rules
    room = int(BACK_ROOM_M / ways.scene.grid.cell_m) + 1
    top, left = max(0, int(cells[0].min()) - room), max(0, int(cells[1].min()) - room)
    part = (slice(top, int(cells[0].max()) + room + 1), slice(left, int(cells[1].max()) + room + 1))
    cut = Ground(*[np.ascontiguousarray(a[part]) for a in (ground.elevation_m, ground.pace)], ground.cell_m)
    if limits is not None:
        limits = limits._replace(
            dzdx=np.ascontiguousarray(limits.dzdx[part]), dzdy=np.ascontiguousarray(limits.dzdy[part])
        )
    return (cut, limits, walk), (top, left)


def _way_back(ways: Ways, cells: Cells, rules: Rules) -> Cells:
    """Least-time way from the end of a leg back to its beginning, in order of travel."""
    (cut, limits, walk), (top, left) = part_near(ways, rules, cells)
    time = np.full(cut.pace.shape, np.inf)
    time[cells[0][0] - top, cells[1][0] - left] = 0.0
    moves = np.empty(cut.pace.shape, dtype=np.int8)
    travel_time(cut, walk._replace(inward=True), OFFSETS_16, time, time, moves, limits)
    end = (int(cells[0][-1]) - top, int(cells[1][-1]) - left)
    if not math.isfinite(time[end]):
        return cells[0][::-1].copy(), cells[1][::-1].copy()
    rows, cols = cells_to(moves, end)
    return rows[::-1].copy() + top, cols[::-1].copy() + left


def _leg(ways: Ways, kind: str, cells: Cells, rules: Rules, change_min: float) -> Leg:
    ground, _, walk = rules
    seconds = np.zeros(max(0, len(cells[0]) - 1))
    time_along(ground, walk, *cells, seconds)
    line = centres_of(*cells, ways.scene.grid)
    return _made_leg(ways, kind, line, float(seconds.sum()) / 60.0, change_min)


def _drive(ways: Ways, nodes: NDArray[np.int64]) -> Leg:
    line = ways.network.xy[nodes]
    return _made_leg(ways, VEHICLE, line, float(ways.network.seconds[nodes[-1]]) / 60.0, 0.0)


def _turned(leg: Leg, change_min: float) -> Leg:
    """The drive back along the same way."""
    return Leg(
        kind=leg.kind, line=leg.line[::-1], elevation_m=leg.elevation_m[::-1], minutes=leg.minutes,
        change_min=change_min, distance_m=leg.distance_m, climb_m=leg.descent_m, descent_m=leg.climb_m,
    )  # fmt: skip


def _made_leg(ways: Ways, kind: str, line: Floats, minutes: float, change_min: float) -> Leg:
    height = heights_along(ways.scene, line)
    rise = np.diff(height)
    known = ways.scene.surface("elevation") is not None
    return Leg(
        kind=kind, line=line, elevation_m=height, minutes=minutes, change_min=change_min,
        distance_m=float(np.hypot(*np.diff(line, axis=0).T).sum()),
        climb_m=float(np.nansum(np.maximum(rise, 0.0))) if known else math.nan,
        descent_m=float(np.nansum(np.maximum(-rise, 0.0))) if known else math.nan,
    )  # fmt: skip


def heights_along(scene: Scene, line: Floats) -> Floats:
    """Ground under the places of a line, bilinear between cell centres; NaN off the grid and without data."""
    values: Any = scene.surface("elevation")
    if values is None:
        return np.full(len(line), np.nan)
    grid = scene.grid
    c = np.clip((line[:, 0] - grid.west) / grid.cell_m - 0.5, 0.0, grid.cols - 1.0)
    r = np.clip((grid.north - line[:, 1]) / grid.cell_m - 0.5, 0.0, grid.rows - 1.0)
    c0, r0 = np.minimum(c.astype(int), max(0, grid.cols - 2)), np.minimum(r.astype(int), max(0, grid.rows - 2))
    c1, r1 = np.minimum(c0 + 1, grid.cols - 1), np.minimum(r0 + 1, grid.rows - 1)
    fc, fr = c - c0, r - r0
    top = values[r0, c0] * (1.0 - fc) + np.where(fc > 0.0, values[r0, c1] * fc, 0.0)
    low = values[r1, c0] * (1.0 - fc) + np.where(fc > 0.0, values[r1, c1] * fc, 0.0)
    return np.asarray(top * (1.0 - fr) + np.where(fr > 0.0, low * fr, 0.0), dtype=np.float64)


def _carry_cost(ways: Ways, way: tuple[Cells, Cells], carry: Carry) -> tuple[float, float]:
    """Minutes on foot until the whole load is there, and kilocalories of one person for it.

    Loaded in on every trip, empty back between trips.
    """
    own = ways.options.own_gear.kg
    in_s, in_kcal = _walk_cost(ways, way[0], carry.share_kg + own)
    back_s, back_kcal = _walk_cost(ways, way[1], own)
    more = carry.trips - 1
    return (carry.trips * in_s + more * back_s) / 60.0, carry.trips * in_kcal + more * back_kcal


def _walk_cost(ways: Ways, cells: Cells, load_kg: float) -> tuple[float, float]:
    """Seconds and kilocalories of one walk along cells with a load on the back."""
    rows, cols = cells
    seconds = np.zeros(max(0, len(rows) - 1))
    walk = foot_walk(pace_under_load(load_kg, ways.options))
    time_along(foot_ground(ways.ground, ways.scene.grid), walk, rows, cols, seconds)
    length = ways.scene.grid.cell_m * np.hypot(np.diff(rows), np.diff(cols))
    rise = np.diff(ways.ground.elevation_m[rows, cols].astype(np.float64))
    terrain = (ways.ground.energy[rows[1:], cols[1:]] + ways.ground.energy[rows[:-1], cols[:-1]]) / 2.0
    return float(seconds.sum()), energy_kcal(ways.options.body.kg, load_kg, (length, rise, seconds), terrain)
