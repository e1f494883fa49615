"""Water: how far the nearest creek or pond is."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from boscage.model.factor import Factor, FactorOptions, Measure, no_data, rate
from boscage.model.fields import distance_field
from boscage.model.options import ValuePoints, option
from boscage.model.scene import Scene
from boscage.values import Printer


@dataclass(frozen=True, kw_only=True)
class WaterOptions(FactorOptions):
    """`[factors.water]`."""

    weight: float = option(1.0, help="Weight in the score.", low=0.0, high=1000.0, grade="C")
    value: ValuePoints = option(
        ((0.0, 1.0), (275.0, 1.0), (460.0, 0.6), (1500.0, 0.0)),
        help="Value by distance to the nearest mapped water, metres.",
        grade="C",
    )


class Water(Factor):
    """Straight distance from the place to the nearest mapped water, metres."""

    name = "water"
    title = "Near water"
    unit = "m"
    needs = ("water",)
    reads = ("water",)
    is_dated = False
    Options = WaterOptions

    def measure(self, scene: Scene, options: FactorOptions) -> Measure:
        """Distance to every creek and pond of the water layer."""
        layer = scene.vectors.get("water")
        if layer is None or layer.frame.empty:
            return no_data(scene, "water_m")
        far = distance_field(layer.frame.geometry.to_numpy(), scene.grid)
        return Measure(values=rate(far, options.value), figures={"water_m": far})

    def sentence(self, figures: Mapping[str, float], options: FactorOptions, printer: Printer) -> str:
        """Say the distance."""
        if math.isnan(figures["water_m"]):
            return "No water layer: distance to water not known."
        return f"Nearest mapped water {printer.length(figures['water_m'])} away."
