"""A ranch made ready to be ranked: what its plan names, read; then scene, hard stops and what each factor measures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from boscage.exports.store import Store, key_of
from boscage.model.layers import LayerSet
from boscage.model.plan import Plan
from boscage.model.results import StopArea
from boscage.model.rules import Rule
from boscage.model.scene import Scene
from boscage.model.weights import Weighting
from boscage.pipeline.evidence import with_visits
from boscage.pipeline.firmness import Factors, weighed
from boscage.pipeline.ground import ground_of, with_ground
from boscage.pipeline.progress import Progress
from boscage.pipeline.scene import code_digest, make_scene, measure_all
from boscage.pipeline.timber import with_rings
from boscage.plugins import load_factors, load_readers
from boscage.readers.layers import read_layers
from boscage.readers.rules import read_rules
from boscage.siting.land import Land, make_land
from boscage.siting.sites import RatedFactor
from boscage.siting.stops import find_stops, stopped_cells
from boscage.soil.ground import Ground
from boscage.values import Grid


@dataclass(frozen=True, kw_only=True)
class Inputs:
    """What a plan names, read.

    Attributes:
        factors: Those that take part, with their weights as `weighting` has them.
        ground: The soil, map and readings together, or None without either.
    """

    plan: Plan
    factors: Factors
    weighting: Weighting
    rules: Mapping[str, Rule]
    layers: LayerSet
    ground: Ground | None


@dataclass(frozen=True, kw_only=True)
class Ranch:
    """A ranch with everything that a ranking is made from.

    Attributes:
        stops: Every hard stop; `stopped` (rows, cols) is True on the cells that any of them rules out.
        rated: What each factor measured, with its weight.
    """

    inputs: Inputs
    land: Land
    scene: Scene
    stops: tuple[StopArea, ...]
    stopped: NDArray[np.bool_]
    rated: tuple[RatedFactor, ...]

    @property
    def plan(self) -> Plan:
        """The plan."""
        return self.inputs.plan

    @property
    def layers(self) -> LayerSet:
        """The layers as read."""
        return self.inputs.layers

    @property
    def open_cells(self) -> NDArray[np.bool_]:
        """Cells with permission that no hard stop rules out; (rows, cols)."""
        return self.scene.granted & ~self.stopped


def read_inputs(plan: Plan, progress: Progress) -> Inputs:
    """Load the factors and read rules and layers.

    Raises:
        InputError: The plan or a layer is wrong.
        PluginError: A factor or reader that takes part cannot be loaded.
    """
    factors, weighting = weighed(plan, load_factors(plan))
    rules = read_rules(plan)
    progress("reading layers", 0, 1)
    layers = read_layers(plan, load_readers())
    return Inputs(
        plan=plan, factors=factors, weighting=weighting, rules=rules, layers=layers, ground=ground_of(layers, plan)
    )


def make_ranch(inputs: Inputs, store: Store, progress: Progress) -> Ranch:
    """Scene, hard stops, rings and ground, and the measure of each factor, reusing what the store still holds."""
    layers = inputs.layers
    land = make_land(layers.vectors["parcels"].frame)
    scene = make_scene(inputs.plan, layers, land, store, progress)
    progress("hard stops", 0, 1)
    stops = find_stops(scene, land, inputs.rules)
    stopped = _stopped(stops, scene.grid, store)
    scene = with_rings(scene, layers, stopped, store, progress)
    scene = with_ground(scene, layers, inputs.ground, store, progress)
    scene = with_visits(scene, layers)
    rated = measure_all(scene, inputs.factors, store, progress)
    return Ranch(inputs=inputs, land=land, scene=scene, stops=stops, stopped=stopped, rated=tuple(rated))


def _stopped(stops: Sequence[StopArea], grid: Grid, store: Store) -> NDArray[np.bool_]:
    """Cells that any stop rules out; kept by the stops' shapes, which many vertices make slow to lay on the grid."""
    key = key_of("stopped", code_digest(), grid, [shapely.to_wkb(s.geometry) for s in stops])
    held = store.get(key)
    if held is None:
        held = {"stopped": stopped_cells(tuple(stops), grid)}
        store.put(key, held)
    return held["stopped"].astype(bool, copy=False)
