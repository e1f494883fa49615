"""Floor: whether the ground inside the ring is level and even."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from boscage.model.factor import Factor, FactorOptions, Measure, no_data, rate
from boscage.model.options import ValuePoints, option
from boscage.model.scene import Scene
from boscage.values import Printer


@dataclass(frozen=True, kw_only=True)
class FloorOptions(FactorOptions):
    """`[factors.floor]`."""

    weight: float = option(2.0, help="Weight in the score.", low=0.0, high=1000.0, grade="C")
    value: ValuePoints = option(
        ((0.0, 1.0), (5.0, 1.0), (10.0, 0.5), (20.0, 0.0)), help="Value by slope, per cent.", grade="C"
    )
    roughness: ValuePoints = option(
        ((0.05, 1.0), (0.30, 0.0)),
        help="Value by roughness inside the ring, metres off its plane.",
        grade="C",
    )


class Floor(Factor):
    """The worse of two values: slope in per cent, and roughness where the terrain is fine enough to show it."""

    name = "floor"
    title = "Level floor"
    unit = "%"
    needs = ("terrain",)
    reads = ()
    is_dated = False
    Options = FloorOptions

    def measure(self, scene: Scene, options: FactorOptions) -> Measure:
        """Rate slope, and roughness where it is known."""
        assert isinstance(options, FloorOptions)
        slope = scene.surface("slope")
        if slope is None:
            return no_data(scene, "slope_pct", "rough_m")
        slope_pct = slope * np.float32(100.0)
        values = rate(slope_pct, options.value)
        rough = scene.surface("roughness")
        if rough is None:
            rough = np.full(scene.grid.shape, np.nan, dtype=np.float32)
            notes = ("The terrain's cells are too coarse to show bumps inside the ring.",)
        else:
            values = np.where(np.isnan(rough), values, np.minimum(values, rate(rough, options.roughness)))
            notes = ()
        return Measure(values=values, figures={"slope_pct": slope_pct, "rough_m": rough}, notes=notes)

    def sentence(self, figures: Mapping[str, float], options: FactorOptions, printer: Printer) -> str:
        """Say the slope, and the roughness or that it is not known."""
        if math.isnan(figures["slope_pct"]):
            return "No terrain: slope not known."
        text = f"Floor slopes {figures['slope_pct']:.0f} %"
        if math.isnan(figures["rough_m"]):
            return f"{text}; bumps inside the ring not known (terrain too coarse)."
        return f"{text}; ground inside the ring is {printer.small(figures['rough_m'])} off a plane."
