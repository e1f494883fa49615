"""Minutes between sets for a crew that goes round to check them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.travel import OFFSETS_16, travel_time
from boscage.model.journey import ATV, FOOT, VEHICLE, Journey, Leg, NoWay, TravelOptions
from boscage.ways.load import pace_under_load
from boscage.ways.reach import atv_ground, atv_limits, atv_walk, foot_ground, foot_walk
from boscage.ways.route import Rules, Ways, cells_in, part_near

Floats = NDArray[np.float64]
Cell = tuple[int, int]

NEAREST = 8  # sets that a set is joined to straight across
ROUND_NOTE = (
    "Minutes of a round are for one person with a light pack: from each set back to the ATV and the vehicle, over the "
    "mapped roads and tracks, through locked gates too, and in to the next set, with the same change-overs as with the "
    "gear; straight across only to the eight nearest sets for which the vehicle stands in the same place; other places "
    "to leave it are not looked at, so a round may take less."
)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Stop:
    """A set that is reached.

    Attributes:
        row: In the table.
        cell, atv: Of the set, and where the ATV is left for it; None without an ATV.
        node: Place of the network where the vehicle is left.
        in_min, out_min: From the vehicle to the set, and back to the vehicle, change-overs included but for the last.
        load_min: The last change-over, to drive on.
        on_min, off_min: From the ATV to the set, and back until the ATV rides.
        walks: Whether the last leg in is on foot.
    """

    row: int
    cell: Cell
    atv: Cell | None
    node: int
    in_min: float
    out_min: float
    load_min: float
    on_min: float
    off_min: float
    walks: bool


def minutes_between(ways: Ways, places: Sequence[tuple[float, float]], journeys: Sequence[Journey | NoWay]) -> Floats:
    """Minutes from the base and each of S sets (rows) to each of them (columns) for one person with a light pack.

    From a set back to where the ATV and the vehicle were left as its journey out says, over the network, and in as the
    journey of the next set says. Walking is timed with what a person carries besides the gear, on the cells that were
    found for the load; change-overs are the journeys'. Where two sets have the vehicle in the same place, also straight
    from one to the other: from ATV to ATV, or on foot where the ATV is left in one place too; to the 8 nearest such
    sets, within 600 m round them. The vehicle and the ATV are where the set's own journey leaves them at every set, so
    that rows follow each other in any order. Not looked at: other places to leave them, and walks and rides to sets
    whose vehicle stands elsewhere. The network has no one-way roads; its gates take their time, locked or not.

    The base is the start of most journeys; of equals, the one with ways to more of the sets, then the first in the
    order of the sets. Where journeys start on a public road or, without gates and public roads, on any track, it is one
    place on it, and the drive along the road from there is timed.

    Args:
        places: (east, north) of each set, metres.
        journeys: Of each, as `find_journey` gives them for the same ways.

    Returns:
        (S + 1, S + 1), the base first; 0 on the diagonal, infinite where no way is found. Not closed: a way through a
        third set may be quicker.
    """
    table = np.full((len(places) + 1, len(places) + 1), np.inf)
    pairs = zip(places, journeys, strict=True)
    stops = [_stop(ways, k + 1, place, way) for k, (place, way) in enumerate(pairs) if isinstance(way, Journey)]
    if stops:
        _go_round_by_road(ways, table, stops)
        _go_straight(ways, table, stops)
    np.fill_diagonal(table, 0.0)
    return table


def _stop(ways: Ways, row: int, place: tuple[float, float], journey: Journey) -> _Stop:
    options, cell = ways.options, ways.scene.grid.index(*place)
    _, ridden, stand = cells_in(ways, cell)
    faster = _light_pace(options) / pace_under_load(journey.share_kg + options.own_gear.kg, options)
    inward, outward = ([leg for leg in legs if leg.kind != VEHICLE] for legs in (journey.inward, journey.outward))
    kinds = {leg.kind for leg in inward}
    return _Stop(
        row=row, cell=cell, node=int(ways.node[stand]),
        atv=None if ridden is None else (int(ridden[0][-1]), int(ridden[1][-1])),
        in_min=sum(leg.change_min + _unloaded(leg, faster) for leg in inward),
        out_min=sum(leg.change_min + _unloaded(leg, faster) for leg in outward),
        load_min=options.atv_min if ATV in kinds else (options.pack_min if FOOT in kinds else 0.0),
        on_min=sum(leg.change_min + _unloaded(leg, faster) for leg in inward if leg.kind == FOOT),
        off_min=sum(leg.change_min + (_unloaded(leg, faster) if leg.kind == FOOT else 0.0) for leg in outward),
        walks=FOOT in kinds,
    )  # fmt: skip


def _light_pace(options: TravelOptions) -> float:
    return pace_under_load(options.own_gear.kg, options)


def _unloaded(leg: Leg, faster: float) -> float:
    """Minutes of a leg without the set's gear; a load multiplies the time of every step of a walk alike."""
    return leg.minutes * (faster if leg.kind == FOOT else 1.0)


def _go_round_by_road(ways: Ways, table: Floats, stops: Sequence[_Stop]) -> None:
    """Fill in the ways by the vehicle between all sets, and from and to the base."""
    rows, nodes = (np.array([getattr(s, name) for s in stops], dtype=np.int64) for name in ("row", "node"))
    in_min, out_min, load_min = (
        np.array([getattr(s, name) for s in stops]) for name in ("in_min", "out_min", "load_min")
    )
    starts = [int(ways.network.way_to(int(node))[0]) for node in nodes]
    several = np.array(list(dict.fromkeys(starts)), dtype=np.int64)
    drive_s = ways.network.drive_seconds(nodes, np.concatenate([nodes, several]))
    between, to_starts = drive_s[:, : len(nodes)] / 60.0, drive_s[:, len(nodes) :]
    load = np.where(between > 0.0, load_min[:, None], 0.0)
    table[np.ix_(rows, rows)] = out_min[:, None] + load + between + in_min
    count = Counter(starts)
    base = max(range(len(several)), key=lambda k: (count[int(several[k])], np.isfinite(to_starts[:, k]).sum(), -k))
    first_s = ways.network.seconds[several[base]]  # a gate's whole time, of which the edges beside it have half
    drive = np.maximum(to_starts[:, base] + first_s / 2.0, ways.network.seconds[nodes]) / 60.0
    table[0, rows] = drive + in_min
    table[rows, 0] = out_min + np.where(drive > 0.0, load_min, 0.0) + drive


def _go_straight(ways: Ways, table: Floats, stops: Sequence[_Stop]) -> None:
    """Better the table by ways that leave the vehicle where it stands: from ATV to ATV, and on foot."""
    grid, options = ways.scene.grid, ways.options
    ride: Rules = (atv_ground(ways.ground, grid), atv_limits(ways.ground, options), atv_walk(options))
    walk: Rules = (foot_ground(ways.ground, grid), None, foot_walk(_light_pace(options)))
    for sets in _together((s.node, s) for s in stops if s.atv is not None):
        off, on = np.array([s.off_min for s in sets]), np.array([s.on_min for s in sets])
        _better(table, sets, off[:, None] + _spread(ways, ride, [s.atv for s in sets if s.atv is not None]) + on)
    for sets in _together(((s.node, s.atv), s) for s in stops if s.walks):
        _better(table, sets, _spread(ways, walk, [s.cell for s in sets]))


def _together(keyed: Iterable[tuple[Hashable, _Stop]]) -> list[list[_Stop]]:
    """Sets of the same key, where there are at least two."""
    found: dict[Hashable, list[_Stop]] = {}
    for key, stop in keyed:
        found.setdefault(key, []).append(stop)
    return [sets for sets in found.values() if len(sets) > 1]


def _better(table: Floats, sets: Sequence[_Stop], minutes: Floats) -> None:
    rows = np.array([s.row for s in sets])
    table[np.ix_(rows, rows)] = np.minimum(table[np.ix_(rows, rows)], minutes)


def _spread(ways: Ways, rules: Rules, cells: Sequence[Cell]) -> Floats:
    """Minutes of the least-time way from each of K cells to the 8 nearest others; (K, K), infinite elsewhere."""
    at = np.array(cells, dtype=np.int64)
    minutes = np.full((len(at), len(at)), np.inf)
    for k, cell in enumerate(at):
        near = np.argsort(np.hypot(*(at - cell).T), kind="stable")[: NEAREST + 1]
        (ground, limits, walk), corner = part_near(ways, rules, (at[near, 0], at[near, 1]))
        time = np.full(ground.pace.shape, np.inf)
        time[tuple(cell - corner)] = 0.0
        travel_time(ground, walk, OFFSETS_16, time, time, np.empty(time.shape, dtype=np.int8), limits)
        there = at[near] - corner
        minutes[k, near] = time[there[:, 0], there[:, 1]] / 60.0
    return minutes
