"""Where people are: places sampled along roads, tracks and the parcel line, and at dwellings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from boscage.model.fields import cells_at
from boscage.model.scene import Scene
from boscage.model.sight_plan import WATCHER_KINDS, ConcealmentOptions

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class Watchers:
    """Sampled places where a person may stand and look.

    Attributes:
        xy: (N, 2) metres.
        looks: (N,) looks a day that a place stands for.
        kind: (N,) index into the kinds of `WATCHER_KINDS`.
        name: (N,) name of the road or dwelling, or ''.
        off_grid: How many sampled places lie off the working grid and were left out.
    """

    xy: Floats
    looks: Floats
    kind: NDArray[np.int64]
    name: NDArray[np.object_]
    off_grid: int

    def __len__(self) -> int:
        return len(self.xy)


def place_watchers(scene: Scene, options: ConcealmentOptions) -> Watchers:
    """Sample every kind by the plan's spacing.

    A place on a line stands for (people a day) * (its stretch of the line) / look_every looks; a dwelling for its looks
    a day.
    """
    parts = [*_on_ways(scene, options), _at_dwellings(scene, options), _on_parcel_line(scene, options)]
    parts = [p for p in parts if len(p[0])]
    if not parts:
        none = np.empty(0)
        return Watchers(
            xy=np.empty((0, 2)), looks=none, kind=none.astype(np.int64), name=none.astype(object), off_grid=0
        )
    xy, looks, kind, name = (np.concatenate([p[k] for p in parts]) for k in range(4))
    _, _, inside = cells_at(xy[:, 0], xy[:, 1], scene.grid)
    off = int((~inside & (looks > 0.0)).sum())
    inside &= looks > 0.0
    return Watchers(xy=xy[inside], looks=looks[inside], kind=kind[inside], name=name[inside], off_grid=off)


Part = tuple[Floats, Floats, NDArray[np.int64], NDArray[np.object_]]


def _part(xy: Floats, looks: Floats, kind: str, names: Any) -> Part:
    number = list(WATCHER_KINDS).index(kind)
    name = np.empty(len(xy), dtype=object)
    name[:] = names
    return xy, looks, np.full(len(xy), number, dtype=np.int64), name


def _on_ways(scene: Scene, options: ConcealmentOptions) -> list[Part]:
    layer = scene.vectors.get("tracks")
    if layer is None or layer.frame.empty:
        return []
    frame = layer.frame
    public = frame["public"].to_numpy(dtype=bool)
    parts = []
    for kind in ("public road", "road", "track", "trail"):
        rows = np.flatnonzero(public if kind == "public road" else (frame["class"] == kind).to_numpy() & ~public)
        if len(rows) == 0:
            continue
        xy, stretch, of = sample_lines(frame.geometry.to_numpy()[rows], options.spacing.m)
        names = _names(frame)[rows][of]
        parts.append(_part(xy, options.a_day(kind) * stretch / options.look_every.m, kind, names))
    return parts


def _names(frame: Any) -> NDArray[np.object_]:
    out = np.full(len(frame), "", dtype=object)
    if "name" in frame:
        out[:] = [v if isinstance(v, str) else "" for v in frame["name"]]
    return out


def _at_dwellings(scene: Scene, options: ConcealmentOptions) -> Part:
    layer = scene.vectors.get("dwellings")
    if layer is None or layer.frame.empty:
        return _part(np.empty((0, 2)), np.empty(0), "dwelling", [])
    shapes = shapely.force_2d(layer.frame.geometry.to_numpy())
    xy = shapely.get_coordinates(shapely.centroid(shapes))
    return _part(xy, np.full(len(xy), options.a_day("dwelling")), "dwelling", _names(layer.frame))


def _on_parcel_line(scene: Scene, options: ConcealmentOptions) -> Part:
    frame = scene.vectors["parcels"].frame
    granted = frame.geometry[(frame["access"] == "granted").to_numpy()].to_numpy()
    line = shapely.boundary(shapely.union_all(shapely.force_2d(granted)))
    xy, stretch, _ = sample_lines(np.array([line], dtype=object), options.spacing.m)
    return _part(xy, options.a_day("parcel line") * stretch / options.look_every.m, "parcel line", "")


def sample_lines(lines: Any, spacing_m: float) -> tuple[Floats, Floats, NDArray[np.int64]]:
    """Places in the middle of equal stretches of lines, each stretch at most the spacing long.

    Returns:
        (N, 2) places, (N,) metres of line that each stands for, (N,) index of the line.
    """
    parts, of = shapely.get_parts(shapely.force_2d(lines), return_index=True)
    keep = (shapely.get_dimensions(parts) == 1) & (shapely.length(parts) > 0.0)
    parts, of = parts[keep], of[keep]
    if len(parts) == 0:
        return np.empty((0, 2)), np.empty(0), np.empty(0, dtype=np.int64)
    length = shapely.length(parts)
    count = np.maximum(1, np.ceil(length / spacing_m).astype(np.int64))
    line = np.repeat(np.arange(len(parts)), count)
    first = np.cumsum(count) - count
    along = (np.arange(count.sum()) - first[line] + 0.5) * (length / count)[line]
    places = shapely.line_interpolate_point(parts[line], along)
    return shapely.get_coordinates(places), (length / count)[line], of[line].astype(np.int64)
