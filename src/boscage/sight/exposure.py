"""Who sees a place: the field of expected sightings, and the sight lines to single places."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.sight_field import expected_sightings
from boscage.kernels.sight_line import SightScene, sight_between
from boscage.model.exposure import SEEN, Exposure, Sighting
from boscage.model.fields import cells_at
from boscage.model.scene import Scene
from boscage.model.sight_plan import WATCHER_KINDS, ConcealmentOptions
from boscage.sight.ground import SightGround
from boscage.sight.watchers import Watchers

Floats = NDArray[np.float64]

CURVATURE = 1.0 - 1.0 / 7.0  # curvature less refraction, see docs/methods.md
APART_M = 50.0  # two of the worst places are at least this far apart
WORST = 3


@dataclass(frozen=True, kw_only=True, eq=False)
class SightingField:
    """Expected sightings a day by cell, of the net's top and of the crew at the place; (rows, cols)."""

    net: NDArray[np.float32]
    activity: NDArray[np.float32]


def target_heights(scene: Scene, options: ConcealmentOptions) -> Floats:
    """Heights of what is looked for: the net's top and a person, metres above the ground."""
    return np.array([scene.plan.net.height.m, options.person.m])


def count_sightings(
    scene: Scene, ground: SightGround, watchers: Watchers, options: ConcealmentOptions
) -> SightingField:
    """Sum of looks times the share of sight left, over every watcher within reach of each cell."""
    out = expected_sightings(
        _sight_scene(scene, ground), _cells(scene, watchers.xy), np.full(len(watchers), options.eye.m),
        watchers.looks, options.within.m, target_heights(scene, options),
    )  # fmt: skip
    return SightingField(
        net=out[0].astype(np.float32), activity=(options.activity_share * out[1]).astype(np.float32)
    )  # fmt: skip


def expose(
    scene: Scene, ground: SightGround, watchers: Watchers, options: ConcealmentOptions, place: tuple[float, float]
) -> Exposure:
    """Every sight line to one place, exact; the worst three stand apart from one another."""
    offset = watchers.xy - np.array(place)
    far = np.hypot(offset[:, 0], offset[:, 1])
    near = np.flatnonzero(far <= options.within.m)
    cells = _cells(scene, watchers.xy[near]).astype(np.float64)
    row, col = _cells(scene, np.array([place]))[0]
    heights = target_heights(scene, options)
    shares = np.empty((len(heights), len(near)))
    sight_between(
        _sight_scene(scene, ground), np.ascontiguousarray(cells[:, 0]), np.ascontiguousarray(cells[:, 1]),
        np.full(len(near), options.eye.m), (float(row), float(col)), heights, shares,
    )  # fmt: skip
    looks = watchers.looks[near]
    kinds = list(WATCHER_KINDS)
    worst: list[Sighting] = []
    for k in np.argsort(-shares[0] * looks, kind="stable"):
        x, y = watchers.xy[near[k]]
        if shares[0, k] < SEEN or len(worst) == WORST:
            break
        if any(math.hypot(x - w.x_m, y - w.y_m) < APART_M for w in worst):
            continue
        bearing = math.degrees(math.atan2(offset[near[k], 0], offset[near[k], 1])) % 360.0
        worst.append(
            Sighting(
                kind=kinds[watchers.kind[near[k]]], name=str(watchers.name[near[k]]), x_m=float(x), y_m=float(y),
                distance_m=float(far[near[k]]), bearing_deg=bearing, share=float(shares[0, k]),
                looks=float(shares[0, k] * looks[k]),
            )
        )  # fmt: skip
    return Exposure(
        net_looks=float(shares[0] @ looks), activity_looks=float(options.activity_share * (shares[1] @ looks)),
        worst=tuple(worst), watchers=watchers.xy[near], shares=shares[0], radius_m=options.within.m,
    )  # fmt: skip


def _sight_scene(scene: Scene, ground: SightGround) -> SightScene:
    return SightScene(ground.ground_m, ground.top_m, ground.extinction_per_m, scene.grid.cell_m, CURVATURE)


def _cells(scene: Scene, xy: Floats) -> NDArray[np.int64]:
    """(N, 2) row and column of places: people and targets stand in the middle of their cells."""
    rows, cols, _ = cells_at(xy[:, 0], xy[:, 1], scene.grid)
    return np.column_stack([rows, cols])
