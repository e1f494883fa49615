"""Aspect: which way the ground faces, for shade in the afternoon."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from boscage.model.factor import Factor, FactorOptions, Measure, no_data, rate
from boscage.model.options import ValuePoints, option
from boscage.model.scene import Scene
from boscage.values import Printer

POINTS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")


@dataclass(frozen=True, kw_only=True)
class AspectOptions(FactorOptions):
    """`[factors.aspect]`."""

    weight: float = option(1.0, help="Weight in the score.", low=0.0, high=1000.0, grade="C")
    value: ValuePoints = option(
        ((0.0, 1.0), (90.0, 0.6), (180.0, 0.0)), help="Value by degrees off the best facing.", grade="C"
    )
    best_deg: float = option(
        45.0, help="Best facing, clockwise from grid north.", unit="degrees", low=0.0, high=360.0, grade="C"
    )
    flat_pct: float = option(3.0, help="Slope under which ground faces nowhere.", unit="%", low=0.0, high=50.0)
    flat_value: float = option(0.5, help="Value of ground that faces nowhere.", low=0.0, high=1.0, grade="C")


class Aspect(Factor):
    """Degrees between the downhill direction (central differences of the elevation surface) and the best facing."""

    name = "aspect"
    title = "Aspect"
    unit = "degrees"
    needs = ("terrain",)
    reads = ()
    is_dated = False
    Options = AspectOptions

    def measure(self, scene: Scene, options: FactorOptions) -> Measure:
        """Rate how far the ground faces from the best direction; NaN where the elevation is not known."""
        assert isinstance(options, AspectOptions)
        elevation = scene.surface("elevation")
        if elevation is None:
            return no_data(scene, "facing_deg")
        south, east = np.gradient(elevation.astype(np.float64), scene.grid.cell_m)
        facing = np.degrees(np.arctan2(-east, south)) % 360.0
        off = np.abs((facing - options.best_deg + 180.0) % 360.0 - 180.0)
        flat = np.hypot(south, east) * 100.0 < options.flat_pct
        values = np.where(flat, np.float32(options.flat_value), rate(off, options.value))
        facing = np.where(flat, -1.0, facing)
        return Measure(values=values.astype(np.float32), figures={"facing_deg": facing.astype(np.float32)})

    def sentence(self, figures: Mapping[str, float], options: FactorOptions, printer: Printer) -> str:
        """Say which way the ground faces."""
        facing = figures["facing_deg"]
        if math.isnan(facing):
            return "No terrain: facing not known."
        if facing < 0.0:
            return "The ground is too flat to face any way."
        return f"The ground faces {POINTS[round(facing / 45.0) % 8]}."
