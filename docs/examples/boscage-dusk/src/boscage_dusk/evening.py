"""Evening: how squarely the ground faces the low afternoon sun; what faces it stays warm and light for longest."""

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
class EveningOptions(FactorOptions):
    """`[factors.evening]`."""

    weight: float = option(1.0, help="Weight in the score.", low=0.0, high=1000.0, grade="C")
    value: ValuePoints = option(((0.0, 1.0), (0.5, 0.4), (1.0, 0.0)), help="Value by share of full sun.", grade="C")
    sun_deg: float = option(
        235.0, help="Bearing of the sun from grid north.", unit="degrees", low=0.0, high=360.0, grade="C"
    )
    high_deg: float = option(12.0, help="Height of the sun.", unit="degrees", low=1.0, high=60.0, grade="C")


class Evening(Factor):
    """Cosine between the ground's normal (central differences) and the direction to the sun, never under 0."""

    name = "evening"
    title = "Evening shade"
    unit = "share"
    needs = ("terrain",)
    reads = ()
    is_dated = False
    Options = EveningOptions

    def measure(self, scene: Scene, options: FactorOptions) -> Measure:
        """Rate the share of full sun that falls on the ground; NaN where the elevation is not known."""
        assert isinstance(options, EveningOptions)
        elevation = scene.surface("elevation")
        if elevation is None:
            return no_data(scene, "sun_share")
        south, east = np.gradient(elevation.astype(np.float64), scene.grid.cell_m)
        bearing, high = math.radians(options.sun_deg), math.radians(options.high_deg)
        sun = (math.sin(bearing) * math.cos(high), math.cos(bearing) * math.cos(high), math.sin(high))
        falls = (-east * sun[0] + south * sun[1] + sun[2]) / np.sqrt(1.0 + east**2 + south**2)
        share = np.maximum(falls, 0.0)
        values = rate(share, options.value).astype(np.float32)
        return Measure(values=values, figures={"sun_share": share.astype(np.float32)})

    def sentence(self, figures: Mapping[str, float], options: FactorOptions, printer: Printer) -> str:
        """Say how much of the low sun falls on the ground."""
        share = figures["sun_share"]
        if math.isnan(share):
            return "No terrain: evening shade not known."
        return f"{100.0 * share:.0f} % of the low sun falls on the ground in the evening."
