"""From layers to a scene, and from a scene to what each factor measures, reusing what has not changed."""

from __future__ import annotations

import math
import sys
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from boscage.errors import PlanError
from boscage.exports.store import Store, key_of
from boscage.model.factor import Factor, FactorOptions, Measure
from boscage.model.fields import burn
from boscage.model.layers import RASTER_LAYERS, LayerSet
from boscage.model.plan import Plan
from boscage.model.scene import Scene, Surface
from boscage.pipeline.progress import Progress
from boscage.readers.surfaces import make_surfaces
from boscage.siting.land import Land
from boscage.siting.sites import RatedFactor
from boscage.values import Grid

GRID_MARGIN_M = 600.0  # as far as people are counted from by default
MOST_CELLS = 40_000_000
SURFACES = "surfaces"


def make_scene(plan: Plan, layers: LayerSet, land: Land, store: Store, progress: Progress) -> Scene:
    """Every surface on one grid over the ranch and its margin, with the land and the features."""
    grid = Grid.covering(layers.ranch.padded(GRID_MARGIN_M), cell_m=plan.sites.cell.m, crs=layers.crs)
    if grid.rows * grid.cols > MOST_CELLS:
        _refuse_grid(plan, grid)
    digests = {r.name: key_of(r.digest, plan.layers.get(r.name)) for r in layers.reports}
    rasters = [digests.get(name) for name in RASTER_LAYERS]
    digests["travel"] = key_of(plan.travel, plan.net.mass, plan.ranch.units)
    digests["sight"] = key_of(plan.net.height, plan.ranch.units)
    digests[SURFACES] = key_of(SURFACES, code_digest(), rasters, grid, plan.net.radius_m)
    return Scene(
        plan=plan, grid=grid, date=plan.date, vectors=layers.vectors, digests=digests,
        surfaces=_surfaces(plan, layers, grid, digests[SURFACES], (store, progress)),
        granted=burn(land.granted, grid), ranch=burn(land.ranch, grid),
    )  # fmt: skip


def _refuse_grid(plan: Plan, grid: Grid) -> None:
    least = plan.sites.cell.m * (grid.rows * grid.cols / MOST_CELLS) ** 0.5
    raise PlanError(
        f"a cell of {plan.sites.cell.m:g} m makes a scoring grid of {grid.rows * grid.cols / 1e6:.0f} million cells",
        expected=f"at most {MOST_CELLS // 1_000_000} million", mend=f'set cell = "{math.ceil(least):.0f}m" or more',
        file=plan.file, field="sites.cell",
    )  # fmt: skip


def _surfaces(plan: Plan, layers: LayerSet, grid: Grid, key: str, io: tuple[Store, Progress]) -> dict[str, Surface]:
    store, progress = io
    held = store.get(key)
    if held is None:
        made = make_surfaces(
            layers, grid, ring_radius_m=plan.net.radius_m, progress=lambda d, t: progress("surfaces", d, t)
        )
        notes = {f"note_{name}": np.array(surface.note) for name, surface in made.items()}
        store.put(key, {**{name: surface.values for name, surface in made.items()}, **notes})
        return made
    return {
        name: Surface(values=array.astype(np.float32, copy=False), note=str(held[f"note_{name}"]))
        for name, array in held.items()
        if not name.startswith("note_")
    }


def measure_all(
    scene: Scene, factors: list[tuple[Factor, FactorOptions]], store: Store, progress: Progress
) -> list[RatedFactor]:
    """What each factor measures on the scene."""
    rated = []
    for n, (factor, options) in enumerate(factors):
        progress(f"factor {factor.name}", n, len(factors))
        rated.append(RatedFactor(factor=factor, options=options, measure=_measure(scene, factor, options, store)))
    return rated


def _measure(scene: Scene, factor: Factor, options: FactorOptions, store: Store) -> Measure:
    reads = sorted(scene.digests) if factor.reads is None else (SURFACES, *factor.reads)
    facts = [scene.digests.get(name) for name in reads]
    code = (code_digest(), _source_of(type(factor).__module__))
    day = scene.date if factor.is_dated else None
    key = key_of("factor", factor.name, replace(options, weight=1.0), scene.grid, facts, day, code)
    held = store.get(key)
    if held is None:
        measure = factor.measure(scene, options)
        arrays: dict[str, Any] = {f"figure_{n}": a for n, a in measure.figures.items()}
        arrays |= {"values": measure.values, "notes": np.array(measure.notes, dtype=str)}
        arrays |= {f"kept_{n}": a for n, a in measure.kept.items()}
        store.put(key, arrays)
        return measure
    figures: dict[str, Any] = {n[7:]: a for n, a in held.items() if n.startswith("figure_")}
    values: Any = held["values"]
    kept = {n[5:]: a for n, a in held.items() if n.startswith("kept_")}
    return Measure(values=values, figures=figures, notes=tuple(map(str, held["notes"])), kept=kept)


@lru_cache(maxsize=1)
def code_digest() -> str:
    """Hash of the program's own source, so that stored results of other code are not reused."""
    folder = Path(__file__).resolve().parents[1]
    sources = sorted(folder.rglob("*.py"))
    return key_of(*[(path.relative_to(folder).as_posix(), path.read_bytes()) for path in sources])


def _source_of(module: str) -> bytes:
    """Source of the module that an outside plug-in lives in."""
    path = getattr(sys.modules.get(module), "__file__", None)
    return Path(path).read_bytes() if path and not module.startswith("boscage.") else b""
