"""Getting everywhere: vehicle, ATV and foot, each pass seeded with the one before."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.roots import find_roots
from boscage.kernels.travel import OFFSETS_16, TOBLER_OUTWARD, Ground, Limits, Walk, trace, travel_time
from boscage.model.fields import cells_at
from boscage.model.journey import TravelOptions
from boscage.model.scene import Scene
from boscage.values import Grid
from boscage.ways.load import pace_under_load, share_load
from boscage.ways.network import Network
from boscage.ways.terrain import LAND, WayGround

Floats = NDArray[np.float64]
Cells = tuple[NDArray[np.int64], NDArray[np.int64]]


@dataclass(frozen=True, kw_only=True, eq=False)
class Reach:
    """Least times in to every cell with the first load; arrays have the grid's shape.

    Attributes:
        minutes: All legs and change-overs together; infinite where nobody gets.
        drive_min, atv_min, foot_min: The legs of that way, moving only; 0 for a leg that is not used.
        atv_from, foot_from: Moves that lead back, as `kernels.travel.travel_time` leaves them.
    """

    minutes: NDArray[np.float32]
    drive_min: NDArray[np.float32]
    atv_min: NDArray[np.float32]
    foot_min: NDArray[np.float32]
    atv_from: NDArray[np.int8]
    foot_from: NDArray[np.int8]


def atv_walk(options: TravelOptions, *, inward: bool = False) -> Walk:
    """How the ATV's speed depends on slope."""
    return Walk(top_speed_mps=options.atv_track_kmh / 3.6, decay=options.atv_slows, best_slope=0.0, inward=inward)


def foot_walk(pace: float, *, inward: bool = False) -> Walk:
    """How walking speed depends on slope; `pace` multiplies the time of an unloaded walk."""
    return TOBLER_OUTWARD._replace(top_speed_mps=TOBLER_OUTWARD.top_speed_mps / pace, inward=inward)


def atv_limits(ground: WayGround, options: TravelOptions) -> Limits:
    """Slopes that the ATV keeps off; where the gradient is not known only the slope along the way counts."""
    up, down, across = (
        math.tan(math.radians(a)) for a in (options.atv_up_deg, options.atv_down_deg, options.atv_across_deg)
    )
    return Limits(up=up, down=down, across=across, dzdx=ground.east, dzdy=ground.north)


def atv_ground(ground: WayGround, grid: Grid) -> Ground:
    """What the ATV's pass runs over."""
    return Ground(ground.elevation_m, ground.atv_pace, grid.cell_m)


def foot_ground(ground: WayGround, grid: Grid) -> Ground:
    """What a walk runs over."""
    return Ground(ground.elevation_m, ground.foot_pace, grid.cell_m)


def vehicle_field(network: Network, scene: Scene) -> tuple[Floats, NDArray[np.int64]]:
    """Seconds of the vehicle at each cell that it can stop in, infinite elsewhere, and the place that gives them."""
    seconds = np.full(scene.grid.shape, np.inf)
    node = np.full(scene.grid.shape, -1, dtype=np.int64)
    rows, cols, inside = cells_at(network.xy[:, 0], network.xy[:, 1], scene.grid)
    here = np.flatnonzero(inside & np.isfinite(network.seconds))
    order = here[np.argsort(-network.seconds[here], kind="stable")]  # the quickest is written last
    seconds[rows[order], cols[order]] = network.seconds[order]
    node[rows[order], cols[order]] = order
    return seconds, node


def beside_ways(vehicle: Floats, ground: WayGround) -> tuple[Floats, NDArray[np.int64]]:
    """Where people get off the vehicle: its own cells on granted land, and those beside its cells that are not.

    Returns:
        Seconds of the vehicle, infinite elsewhere, and the flat index of the cell that it stands in.
    """
    may = (ground.stops & LAND) == 0
    rows, cols = vehicle.shape
    padded = np.pad(np.where(may, np.inf, vehicle), 1, constant_values=np.inf)
    index = np.pad(np.arange(rows * cols).reshape(rows, cols), 1, constant_values=-1)
    best, source = vehicle.copy(), index[1:-1, 1:-1].copy()
    for i in (0, 1, 2):
        for j in (0, 1, 2):
            there = padded[i : i + rows, j : j + cols]
            better = (there < best) & ~np.isfinite(vehicle)
            best = np.where(better, there, best)
            source = np.where(better, index[i : i + rows, j : j + cols], source)
    return np.where(may, best, np.inf), source


def make_reach(scene: Scene, ground: WayGround, network: Network, options: TravelOptions) -> Reach:
    """Run the ATV's pass and the walk, each from wherever the leg before it can stop."""
    vehicle, _ = vehicle_field(network, scene)
    beside, _ = beside_ways(vehicle, ground)
    atv, atv_from = atv_pass(scene.grid, ground, beside, options)
    carry = share_load(scene.plan.net.mass.kg, options)
    foot_start = foot_seeds(beside, atv, options)
    foot = foot_start.copy()
    foot_from = np.empty(scene.grid.shape, dtype=np.int8)
    walk = foot_walk(pace_under_load(carry.share_kg + options.own_gear.kg, options))
    travel_time(foot_ground(ground, scene.grid), walk, OFFSETS_16, foot, foot, foot_from)
    return _split(vehicle, (atv, atv_from), (foot_start, foot, foot_from), options)


def foot_seeds(beside: Floats, atv: Floats, options: TravelOptions) -> Floats:
    """Seconds at which the gear is shouldered, wherever the vehicle or the ATV stops, with the change-over."""
    return np.minimum(beside, atv) + 60.0 * options.pack_min


def atv_pass(grid: Grid, ground: WayGround, beside: Floats, options: TravelOptions) -> tuple[Floats, NDArray[np.int8]]:
    """Seconds of the ATV at each cell and the moves that lead back; it goes nowhere where the plan has none.

    It is unloaded, with the change-over, where people get off the vehicle (`beside`).
    """
    back = np.full(grid.shape, -1, dtype=np.int8)
    if not options.atv:
        return np.full(grid.shape, np.inf), back
    time = beside + 60.0 * options.atv_min
    travel_time(atv_ground(ground, grid), atv_walk(options), OFFSETS_16, time, time, back, atv_limits(ground, options))
    return time, back


def cells_to(moves: NDArray[np.int8], cell: tuple[int, int]) -> Cells:
    """Rows and columns from the seed that a cell was reached from to the cell."""
    most = 4 * (moves.shape[0] + moves.shape[1])
    while True:
        rows, cols = np.empty(most, dtype=np.int64), np.empty(most, dtype=np.int64)
        count = trace(moves, OFFSETS_16, cell[0], cell[1], rows, cols)
        if count <= most:
            return rows[:count][::-1].copy(), cols[:count][::-1].copy()
        most = count


def _split(
    vehicle: Floats, ridden: tuple[Floats, NDArray[np.int8]], walked: tuple[Floats, Floats, NDArray[np.int8]],
    options: TravelOptions,
) -> Reach:  # fmt: skip
    """The quickest of the three ways to end at each cell, and its legs."""
    atv, atv_from = ridden
    foot_start, foot, foot_from = walked
    roots = np.empty(vehicle.shape, dtype=np.int64)
    pack_s = 60.0 * options.pack_min
    with np.errstate(invalid="ignore"):
        find_roots(atv_from, OFFSETS_16, roots)
        atv_s = np.where(np.isfinite(atv), atv - atv.ravel()[roots], 0.0)
        find_roots(foot_from, OFFSETS_16, roots)
        shoulder = foot_start.ravel()[roots]
        foot_s = foot - shoulder
    by_atv = atv.ravel()[roots] + pack_s <= shoulder
    atv_before = np.where(by_atv, atv_s.ravel()[roots], 0.0)
    best = np.minimum(np.minimum(vehicle, atv), foot)
    on_foot, ride = foot < np.minimum(vehicle, atv), (atv <= foot) & (atv < vehicle)
    with np.errstate(invalid="ignore"):
        legs_foot = np.where(on_foot, foot_s, 0.0)
        legs_atv = np.where(on_foot, atv_before, np.where(ride, atv_s, 0.0))
        changes = np.where(on_foot, pack_s, 0.0) + np.where(ride | (on_foot & by_atv), 60.0 * options.atv_min, 0.0)
        drive = best - legs_foot - legs_atv - changes
    far = ~np.isfinite(best)
    minutes, *legs = (
        np.where(far, np.inf if k == 0 else np.nan, a / 60.0).astype(np.float32)
        for k, a in enumerate((best, drive, legs_atv, legs_foot))
    )
    return Reach(
        minutes=minutes, drive_min=legs[0], atv_min=legs[1], foot_min=legs[2], atv_from=atv_from, foot_from=foot_from
    )
