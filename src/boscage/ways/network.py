"""Roads and tracks as a network: the vehicle's least times from the gates, and the way there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra
from scipy.spatial import cKDTree

from boscage.model.fields import cells_at
from boscage.model.journey import GATE_M, TravelOptions
from boscage.model.scene import Scene
from boscage.values import Printer

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_AT_ONCE = 32
JOIN_M = 8.0  # ends that stop this short of another line are taken to meet it


@dataclass(frozen=True, kw_only=True, eq=False)
class Network:
    """The ways that the vehicle may take.

    Attributes:
        xy: (N, 2) places along them, at most a third of a cell apart.
        seconds: (N,) least time from the start; infinite where it cannot get.
        before: (N,) the place before on the way there, negative at a start.
        gate: (N,) row of the gate that stands there, -1 where none does.
        roads: (N, N) sparse seconds along each edge, the same both ways; every gate, entry gates too, has half its time
            on the edges on either side of it.
        start: Where it begins, in words.
        notes: What was assumed.
    """

    xy: Floats
    seconds: Floats
    before: Ints
    gate: Ints
    roads: Any
    start: str
    notes: tuple[str, ...] = ()

    def way_to(self, node: int) -> Ints:
        """Places from the start to a node."""
        way = [node]
        while self.before[way[-1]] >= 0:
            way.append(int(self.before[way[-1]]))
        return np.array(way[::-1], dtype=np.int64)

    def drive_seconds(self, sources: Ints, targets: Ints) -> Floats:
        """Least seconds from each of S places to each of T; (S, T), infinite for no way, 0 from a place to itself."""
        made = np.empty((len(sources), len(targets)))
        for first in range(0, len(sources), _AT_ONCE):
            part = slice(first, first + _AT_ONCE)
            made[part] = dijkstra(self.roads, indices=sources[part])[:, targets]
        return made

    def gates_on(self, way: Ints) -> tuple[int, ...]:
        """Rows of the gates that a way passes, in order, each once."""
        return tuple(dict.fromkeys(int(row) for row in self.gate[way] if row >= 0))

    def start_of(self, way: Ints, gates: Any) -> str:
        """Where a way begins, in words; `gates` is the layer's frame or None."""
        gate = int(self.gate[way[0]])
        return self.start if gate < 0 else f"gate '{gate_name(gates, gate)}'"


def gate_name(gates: Any, row: int) -> str:
    """What people call a gate."""
    name = gates["name"].iloc[row] if "name" in gates else None
    return str(name) if isinstance(name, str) and name else f"in row {int(gates['row'].iloc[row])}"


def make_network(scene: Scene, options: TravelOptions) -> Network | None:
    """Least times of the vehicle over public roads, and over roads and tracks on granted land.

    It starts at gates of the kind `entry`; without one on public roads, and without those anywhere on its ways.
    None where there is no such way at all.
    """
    pieces, speed_mps, public = _pieces(scene, options)
    if len(pieces) == 0:
        return None
    xy, ends, seconds, is_public = _lay(scene, pieces, speed_mps, public)
    allowed = is_public | _granted_at(scene, (xy[ends[:, 0]] + xy[ends[:, 1]]) / 2.0)
    ends, seconds, is_public = ends[allowed], seconds[allowed], is_public[allowed]
    if len(ends) == 0:
        return None
    seconds = seconds + _ford_seconds(scene, xy, ends, options)
    ends, seconds = _join_ends(xy, ends, seconds)
    gate, far = _gates_at(scene, xy, ends)
    entry = _is_entry(scene, gate)
    half_gate_s = 30.0 * options.gate_min
    inner_s = seconds + half_gate_s * ((gate >= 0) & ~entry)[ends].sum(axis=1)
    all_s = seconds + half_gate_s * (gate >= 0)[ends].sum(axis=1)
    starts, first_s, words, notes = _starts(ends, entry, is_public, options)
    graph = _graph(ends, inner_s, len(xy))
    time, before, _ = dijkstra(graph, indices=starts, min_only=True, return_predecessors=True)
    return Network(
        xy=xy, seconds=time + first_s, before=before.astype(np.int64), gate=gate, start=words, notes=notes + far,
        roads=_graph(ends, all_s, len(xy)),
    )  # fmt: skip


def _graph(ends: Ints, seconds: Floats, count: int) -> Any:
    """Edges both ways as a sparse array, the quickest of any that join the same two places."""
    both, cost = np.concatenate([ends, ends[:, ::-1]]), np.concatenate([seconds, seconds])
    order = np.lexsort((cost, both[:, 1], both[:, 0]))
    both, cost = both[order], cost[order]
    shortest = np.append(True, np.any(np.diff(both, axis=0) != 0, axis=1))
    return csr_array((cost[shortest], (both[shortest, 0], both[shortest, 1])), shape=(count, count))


def _pieces(scene: Scene, options: TravelOptions) -> tuple[Any, Floats, NDArray[np.bool_]]:
    """Lines cut where they meet, each with its speed and whether it is public."""
    none = np.empty(0, dtype=object), np.empty(0), np.empty(0, dtype=bool)
    layer = scene.vectors.get("tracks")
    if layer is None:
        return none
    frame = layer.frame[(layer.frame["class"] != "trail") | layer.frame["public"]]
    lines = shapely.force_2d(frame.geometry.to_numpy())
    parts, source = shapely.get_parts(lines, return_index=True)
    keep = shapely.get_dimensions(parts) == 1
    parts, source = parts[keep], source[keep]
    if len(parts) == 0:
        return none
    pieces = shapely.get_parts(shapely.node(shapely.multilinestrings(parts)))
    middle = shapely.line_interpolate_point(pieces, 0.5, normalized=True)
    tree = shapely.STRtree(parts)
    of = source[tree.nearest(middle)]
    road = (frame["class"] == "road").to_numpy()[of]
    speed = np.where(road, options.road_kmh, options.track_kmh) / 3.6
    return pieces, speed, frame["public"].to_numpy(dtype=bool)[of]


def _lay(
    scene: Scene, pieces: Any, speed_mps: Floats, public: NDArray[np.bool_]
) -> tuple[Floats, Ints, Floats, NDArray[np.bool_]]:
    """Places and edges along the pieces; places on the same millimetre are one."""
    dense = shapely.segmentize(pieces, scene.grid.cell_m / 3.0)
    coords, of = shapely.get_coordinates(dense, return_index=True)
    xy, node = np.unique(np.round(coords, 3), axis=0, return_inverse=True)
    node = node.reshape(-1)
    same = of[1:] == of[:-1]
    ends = np.column_stack([node[:-1][same], node[1:][same]]).astype(np.int64)
    piece = of[:-1][same]
    length = np.hypot(*(xy[ends[:, 1]] - xy[ends[:, 0]]).T)
    real = length > 0.0
    return xy, ends[real], (length / speed_mps[piece])[real], public[piece][real]


def _granted_at(scene: Scene, xy: Floats) -> NDArray[np.bool_]:
    """Whether places lie on cells of granted land."""
    rows, cols, inside = cells_at(xy[:, 0], xy[:, 1], scene.grid)
    out = np.zeros(len(xy), dtype=bool)
    out[inside] = scene.granted[rows[inside], cols[inside]]
    return out


def _ford_seconds(scene: Scene, xy: Floats, ends: Ints, options: TravelOptions) -> Floats:
    """Time lost on edges that cross a creek, or the edge of a mapped polygon of water (half each side)."""
    layer = scene.vectors.get("water")
    if layer is None or layer.frame.empty:
        return np.zeros(len(ends))
    shapes = shapely.get_parts(shapely.force_2d(layer.frame.geometry.to_numpy()))
    area = shapely.get_dimensions(shapes) == 2
    edges = shapely.linestrings(np.stack([xy[ends[:, 0]], xy[ends[:, 1]]], axis=1))
    lost = np.zeros(len(ends))
    for lines, minutes in ((shapes[~area], options.ford_min), (shapely.boundary(shapes[area]), options.ford_min / 2)):
        if len(lines):
            hit, line = shapely.STRtree(lines).query(edges, predicate="intersects")
            ends_xy = shapely.points(xy[ends[hit]])
            at_end = shapely.dwithin(ends_xy, lines[line][:, None], 1e-6).any(axis=1)  # the next edge counts it too
            np.add.at(lost, hit, np.where(at_end, 30.0, 60.0) * minutes)
    return lost


def _join_ends(xy: Floats, ends: Ints, seconds: Floats) -> tuple[Ints, Floats]:
    """Edges with short links from loose ends to the nearest place of another line, at walking speed."""
    degree = np.bincount(ends.ravel(), minlength=len(xy))
    loose = np.flatnonzero(degree == 1)
    used = np.flatnonzero(degree > 0)
    if len(loose) == 0:
        return ends, seconds
    both = np.concatenate([ends, ends[:, ::-1]])
    graph = csr_array((np.ones(len(both)), (both[:, 0], both[:, 1])), shape=(len(xy), len(xy)))
    near = cKDTree(xy[used]).query_ball_point(xy[loose], JOIN_M)
    links = []
    for node, around in zip(loose, near, strict=True):
        own = set(_within_steps(graph, int(node), 2 * JOIN_M, xy))
        other = [int(used[k]) for k in around if int(used[k]) not in own]
        if other:
            gap = np.hypot(*(xy[other] - xy[node]).T)
            links.append((node, other[int(np.argmin(gap))], float(gap.min())))
    if not links:
        return ends, seconds
    made = np.array([(a, b) for a, b, _ in links], dtype=np.int64)
    slow = np.array([max(gap, 0.01) for _, _, gap in links]) / 1.4
    return np.concatenate([ends, made]), np.concatenate([seconds, slow])


def _within_steps(graph: Any, node: int, limit_m: float, xy: Floats) -> list[int]:
    """Places joined to a node by edges within a straight distance of it."""
    seen, todo = {node}, [node]
    while todo:
        here = todo.pop()
        for there in graph.indices[graph.indptr[here] : graph.indptr[here + 1]]:
            if int(there) not in seen and np.hypot(*(xy[there] - xy[node])) <= limit_m:
                seen.add(int(there))
                todo.append(int(there))
    return list(seen)


def _gates_at(scene: Scene, xy: Floats, ends: Ints) -> tuple[Ints, tuple[str, ...]]:
    """Row of the gate at each place, -1 where there is none, and words on gates that stand at no way.

    Each gate stands at the nearest place of a way.
    """
    gate = np.full(len(xy), -1, dtype=np.int64)
    layer = scene.vectors.get("gates")
    used = np.unique(ends)
    if layer is None or layer.frame.empty or len(used) == 0:
        return gate, ()
    places = shapely.get_coordinates(shapely.centroid(layer.frame.geometry.to_numpy()))
    gap, near = cKDTree(xy[used]).query(places, distance_upper_bound=GATE_M)
    for row in np.flatnonzero(np.isfinite(gap)):
        gate[used[near[row]]] = row
    far = [gate_name(layer.frame, int(row)) for row in np.flatnonzero(~np.isfinite(gap))]
    if not far:
        return gate, ()
    within = Printer(scene.plan.ranch.units).length(GATE_M)
    note = f"Gates that are over {within} from every road and track are left out: {', '.join(far)}."
    return gate, (note,)


def _is_entry(scene: Scene, gate: Ints) -> NDArray[np.bool_]:
    """Which places have an entry gate."""
    layer = scene.vectors.get("gates")
    if layer is None or "kind" not in layer.frame:
        return np.zeros(len(gate), dtype=bool)
    entry = (layer.frame["kind"] == "entry").to_numpy(dtype=bool)
    return (gate >= 0) & entry[np.maximum(gate, 0)]


def _starts(
    ends: Ints, entry: NDArray[np.bool_], public: NDArray[np.bool_], options: TravelOptions
) -> tuple[Ints, float, str, tuple[str, ...]]:
    """Places where the vehicle starts, seconds spent there, words for them and what was assumed."""
    if entry.any():
        return np.flatnonzero(entry), 60.0 * options.gate_min, "an entry gate", ()
    if public.any():
        note = "No entry gate on a road or track: the drive in is timed from the nearest public road."
        return np.unique(ends[: len(public)][public]), 0.0, "the public road", (note,)
    note = "No entry gate and no public road: driving to the tracks is not timed."
    return np.unique(ends), 0.0, "the nearest road or track", (note,)
