"""The ground of a ranch: soil map and readings put together once, then laid on the grid and asked at places."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from boscage.exports.store import Store, key_of
from boscage.model.fields import cell_centres
from boscage.model.ground import GroundField
from boscage.model.layers import LayerSet
from boscage.model.plan import Plan
from boscage.model.scene import Scene
from boscage.model.soil import VERDICTS, GroundAnswer
from boscage.pipeline.progress import Progress
from boscage.pipeline.scene import code_digest
from boscage.readers.soils import unit_cells, units_at
from boscage.rigging.statics import contact_pull_n, guy_tension_n
from boscage.soil.answers import Asking
from boscage.soil.components import unit_limits
from boscage.soil.ground import Ground, know_ground
from boscage.soil.posts import assumption
from boscage.soil.table import left_out_words, read_places, unit_rows
from boscage.values import Printer

GROUND = "ground"
_FIELDS = ("resistance_mpa", "error_ln", "depth_cm", "rock_pct")


def ground_of(layers: LayerSet, plan: Plan) -> Ground | None:
    """All that soil map and readings tell, or None without either."""
    if not layers.soil_units and not layers.readings:
        return None
    soils = layers.vectors.get("soils")
    points = np.array([(r.x_m, r.y_m) for r in layers.readings], dtype=float).reshape(-1, 2)
    keys = units_at(None if soils is None else soils.frame, points)
    return know_ground(layers.soil_units, layers.readings, keys, plan.ground)


def askings(
    ground: Ground, layers: LayerSet, plan: Plan, points: Sequence[tuple[float, float]]
) -> tuple[Asking, ...]:  # fmt: skip
    """Places of the ranch ready to be asked about; points are east and north."""
    soils = layers.vectors.get("soils")
    places = np.array(points, dtype=float).reshape(-1, 2)
    found = ground.places(places, units_at(None if soils is None else soils.frame, places))
    printer = Printer(plan.ranch.units)
    return tuple(Asking(place=p, options=plan.ground, month=plan.date.month, printer=printer) for p in found)


def answers_at(
    ground: Ground | None, layers: LayerSet, plan: Plan, points: Sequence[tuple[float, float]]
) -> tuple[GroundAnswer | None, ...]:
    """What the ground allows at places, with pickets for one guy line; None where there is neither map nor reading."""
    if ground is None:
        return (None,) * len(points)
    return tuple(a.all(guy_pull_n(plan)) for a in askings(ground, layers, plan, points))


def guy_pull_n(plan: Plan) -> float:
    """Tension of a guy that holds back one corner of an even ring of the fewest contacts, newtons."""
    corner = contact_pull_n(plan.rigging.pretension_n, 360.0 / plan.rigging.contacts)
    return guy_tension_n(corner, plan.rigging.guy_deg)


def with_ground(
    scene: Scene, layers: LayerSet, ground: Ground | None, store: Store, progress: Progress
) -> Scene:  # fmt: skip
    """The scene with the ground on its grid; as it is without soil map and readings."""
    facts = [scene.digests.get(name) for name in ("soils", "probes")]
    key = key_of(GROUND, code_digest(), facts, scene.grid, scene.plan.ground, scene.ranch.tobytes())
    scene = replace(scene, digests={**scene.digests, GROUND: key})
    if ground is None:
        return scene
    held = store.get(key)
    if held is None:
        progress("the ground", 0, 1)
        held = _lay_out(scene, layers, ground)
        store.put(key, held)
    names, cells = held["names"].tolist(), held["cells"].tolist()
    hectares = {n: c * scene.grid.cell_ha for n, c in zip(names, cells, strict=True) if n}
    fields = {name: held[name] for name in _FIELDS}
    correction, deep = ground.correction, scene.plan.ground.post_depth.m * 100.0
    field = GroundField(
        **fields, posts=held["posts"], moisture=scene.plan.ground.moisture, rows=unit_rows(ground, hectares),
        places=read_places(correction, deep), rule="" if correction is None else correction.rule,
        left_out=left_out_words(correction), notes=() if correction is None else correction.notes,
        assumption=assumption(scene.plan.ground, Printer(scene.plan.ranch.units)),
    )  # fmt: skip
    return replace(scene, ground=field)


def _lay_out(scene: Scene, layers: LayerSet, ground: Ground) -> dict[str, NDArray[Any]]:
    """Figures of every cell of the ranch, and how many cells each map unit has there."""
    grid, here = scene.grid, np.flatnonzero(scene.ranch)
    names, codes = _codes(scene, layers, here)
    x, y = cell_centres(grid)
    points = np.column_stack([x[here % grid.cols], y[here // grid.cols]])
    found = ground.layers_of(points, codes, names)
    limits = [_limits(ground, name) for name in names]
    made = {
        "resistance_mpa": found.resistance_mpa, "error_ln": found.error_ln,
        "depth_cm": np.array([d for d, _ in limits])[codes], "rock_pct": np.array([r for _, r in limits])[codes],
    }  # fmt: skip
    held: dict[str, NDArray[Any]] = {name: _spread(values, here, grid.shape) for name, values in made.items()}
    posts = np.full(grid.rows * grid.cols, VERDICTS.index("unknown"), dtype=np.int8)
    posts[here] = found.posts
    counts = np.bincount(codes, minlength=len(names))
    return held | {"posts": posts.reshape(grid.shape), "names": np.array(names, dtype=str), "cells": counts}


def _codes(scene: Scene, layers: LayerSet, here: NDArray[np.int64]) -> tuple[list[str], NDArray[np.int64]]:
    """Names of the map units, '' first, and the index of each cell's among them."""
    soils = layers.vectors.get("soils")
    if soils is None:
        return [""], np.zeros(len(here), dtype=np.int64)
    keys = [str(k) for k in soils.frame["unit"]]
    number: Mapping[str, int] = {key: n for n, key in enumerate(("", *dict.fromkeys(keys)))}
    of_polygon = np.array([number[k] for k in keys] + [0])
    return list(number), of_polygon[unit_cells(soils.frame, scene.grid).ravel()[here]]


def _limits(ground: Ground, name: str) -> tuple[float, float]:
    if name not in ground.made:
        return math.nan, math.nan
    limits = unit_limits(ground.made[name], ground.options)
    return limits.depth_cm, limits.rock_pct


def _spread(values: NDArray[np.float64], here: NDArray[np.int64], shape: tuple[int, int]) -> NDArray[np.float32]:
    out = np.full(shape[0] * shape[1], np.nan, dtype=np.float32)
    out[here] = values
    return out.reshape(shape)
