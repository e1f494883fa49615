"""Which rings the mapped trees of a ranch hold: trees from canopy heights, then the best ring of each."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from boscage.exports.store import Store, key_of
from boscage.kernels.focal import disk_mean
from boscage.model.fields import cells_at
from boscage.model.layers import LayerSet
from boscage.model.plan import Plan
from boscage.model.scene import RingField, Scene, Surface
from boscage.model.trees import TreeMap
from boscage.pipeline.progress import Progress
from boscage.pipeline.scene import code_digest
from boscage.readers.tree_map import canopy_frame, find_trees
from boscage.rigging.search import RootRings, best_rings

RINGS = "rings"
STEMS = "stems"
DENSITY_CELLS = 1.5  # trees are counted over a disk of this many cells
_ARRAYS = ("x_m", "y_m", "score", "contacts", "built_supports")


def with_rings(scene: Scene, layers: LayerSet, stopped: NDArray[np.bool_], store: Store, progress: Progress) -> Scene:
    """The scene with the rings that the mapped trees on open land hold; as it is where no tree is mapped."""
    canopy: Any = layers.rasters.get("canopy_height")
    tops = scene.surface("canopy_top")
    if canopy is None or tops is None or canopy.native_cell_m > scene.plan.net.radius_m:
        return scene
    land = scene.granted & ~stopped
    facts = (scene.digests.get("canopy_height"), scene.grid, scene.plan.ring_options(), scene.plan.trees)
    key = key_of(RINGS, code_digest(), *facts, land.tobytes())
    held = store.get(key)
    if held is None:
        progress("mapping trees", 0, 1)
        trees = find_trees(canopy, canopy_frame(canopy, layers.crs, layers.ranch), scene.plan.trees.tree_options())
        progress("fitting rings", 0, 1)
        held = _rings_of(trees.taken(_on_land(trees, scene, land)), scene.plan)
        held |= {STEMS: _stems_a_hectare(trees, scene)}
        store.put(key, held)
    mapped = np.isfinite(tops) & scene.ranch
    stems = np.where(np.isfinite(tops), held[STEMS], np.nan).astype(np.float32)
    surfaces = {**scene.surfaces, STEMS: Surface(values=stems, note=str(held["note"]))}
    field = RingField(**{name: held[name] for name in _ARRAYS}, mapped=mapped, note=str(held["note"]))
    return replace(scene, rings=field, surfaces=surfaces, digests={**scene.digests, RINGS: key})


def _stems_a_hectare(trees: TreeMap, scene: Scene) -> NDArray[np.float32]:
    """Mapped trees a hectare round each cell."""
    count = np.zeros(scene.grid.shape, dtype=np.float32)
    rows, cols, inside = cells_at(trees.x_m, trees.y_m, scene.grid)
    np.add.at(count, (rows[inside], cols[inside]), 1.0)
    mean = np.empty_like(count)
    disk_mean(count, DENSITY_CELLS, 0.0, mean)
    return (np.nan_to_num(mean) / scene.grid.cell_ha).astype(np.float32)


def _on_land(trees: TreeMap, scene: Scene, land: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which trees stand on cells of open land."""
    rows, cols, inside = cells_at(trees.x_m, trees.y_m, scene.grid)
    open_here = np.zeros(len(trees), dtype=bool)
    open_here[inside] = land[rows[inside], cols[inside]]
    return open_here


def _rings_of(trees: TreeMap, plan: Plan) -> dict[str, NDArray[Any]]:
    """Middle, score, contacts and built supports of the best ring of each thick enough tree that has one."""
    options = plan.ring_options()
    thick = trees.taken(trees.dbh_m >= options.min_dbh_m)
    place = np.column_stack([thick.x_m, thick.y_m])
    rings = best_rings(place, 0.5 * thick.dbh_m, options)
    has = np.flatnonzero(rings.contacts > 0)
    middle = _middles(place, rings)[has]
    note = f"trees from canopy heights of {trees.cell_m:.2g} m cells; diameters are estimates"
    return {
        "x_m": middle[:, 0], "y_m": middle[:, 1], "score": rings.score[has], "contacts": rings.contacts[has],
        "built_supports": rings.built_supports[has], "note": np.array(note),
    }  # fmt: skip


def _middles(place: NDArray[np.float64], rings: RootRings) -> NDArray[np.float64]:
    """Mean place of each ring's trees; NaN where there is no ring."""
    root = np.repeat(np.arange(len(place)), rings.contacts)
    sums = np.zeros_like(place)
    np.add.at(sums, root, place[rings.ids])
    with np.errstate(invalid="ignore", divide="ignore"):
        return sums / rings.contacts[:, None]
