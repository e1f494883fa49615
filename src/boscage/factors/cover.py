"""Cover: how much of the ground round the ring is under canopy."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from boscage.kernels.focal import disk_mean
from boscage.model.factor import Factor, FactorOptions, Measure, no_data, rate
from boscage.model.options import ValuePoints, option
from boscage.model.scene import Scene
from boscage.values import Length, Printer


@dataclass(frozen=True, kw_only=True)
class CoverOptions(FactorOptions):
    """`[factors.cover]`."""

    weight: float = option(3.0, help="Weight in the score.", low=0.0, high=1000.0, grade="C")
    value: ValuePoints = option(
        ((0.0, 0.0), (25.0, 0.3), (60.0, 0.85), (90.0, 1.0)),
        help="Value by canopy cover round the ring, per cent.",
        grade="C",
    )
    radius: Length = option(
        Length(30.0),
        help="Radius of the ground that counts as round the ring.",
        low=5.0,
        high=500.0,
        grade="C",
    )


class Cover(Factor):
    """Mean canopy cover within a radius of the place, per cent; no data where half of that ground has none."""

    name = "cover"
    title = "Canopy cover"
    unit = "%"
    needs = ("canopy_cover", "canopy_height")
    reads = ()
    is_dated = False
    Options = CoverOptions

    def measure(self, scene: Scene, options: FactorOptions) -> Measure:
        """Average the cover surface over a disk."""
        assert isinstance(options, CoverOptions)
        cover = scene.surface("cover")
        if cover is None:
            return no_data(scene, "cover_pct")
        mean = np.empty_like(cover)
        disk_mean(np.ascontiguousarray(cover), options.radius.m / scene.grid.cell_m, 0.5, mean)
        return Measure(values=rate(mean, options.value), figures={"cover_pct": mean})

    def sentence(self, figures: Mapping[str, float], options: FactorOptions, printer: Printer) -> str:
        """Say the mean cover and the radius."""
        assert isinstance(options, CoverOptions)
        around = printer.length(options.radius.m)
        if math.isnan(figures["cover_pct"]):
            return f"No canopy data within {around}."
        return f"Canopy over {figures['cover_pct']:.0f} % of the ground within {around}."
