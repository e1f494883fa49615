"""Ground: whether stakes can be driven and will hold, from the soil map and the readings."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boscage.model.factor import Factor, FactorOptions, Measure, no_data, rate
from boscage.model.options import ValuePoints, option
from boscage.model.scene import Scene
from boscage.soil.classes import resistance_class
from boscage.values import Printer

_FIGURES = ("resistance_mpa", "depth_cm", "rock_pct", "error_ln")


@dataclass(frozen=True, kw_only=True)
class GroundOptions(FactorOptions):
    """`[factors.ground]`."""

    weight: float = option(1.0, help="Weight in the score.", low=0.0, high=1000.0, grade="C")
    value: ValuePoints = option(
        ((0.0, 0.2), (0.3, 1.0), (2.0, 1.0), (4.0, 0.4), (8.0, 0.0)),
        help="Value by penetration resistance, MPa: mud holds no stake, very hard ground takes none.",
        grade="C",
    )
    depth: ValuePoints = option(
        ((10.0, 0.0), (46.0, 0.8), (61.0, 1.0)),
        help="Value by depth to rock or a pan, centimetres (18 in and 24 in: line posts, NRCS Kentucky 382).",
        grade="V",
    )
    rock: ValuePoints = option(
        ((15.0, 1.0), (35.0, 0.7), (60.0, 0.3), (90.0, 0.0)),
        help="Value by rock fragments, per cent by volume (breaks: Soil Survey Manual modifiers).",
        grade="C",
    )


class Ground(Factor):
    """The worst of three values, each used where it is known: resistance, depth to rock, rock fragments."""

    name = "ground"
    title = "Ground for stakes"
    unit = "MPa"
    needs = ("soils", "probes")
    reads = ("ground",)
    is_dated = False
    Options = GroundOptions

    def measure(self, scene: Scene, options: FactorOptions) -> Measure:
        """Rate what map and readings give of every cell of the ranch; nothing known is no data."""
        assert isinstance(options, GroundOptions)
        ground = scene.ground
        if ground is None:
            return no_data(scene, *_FIGURES)
        figures = {name: getattr(ground, name) for name in _FIGURES}
        points = (options.value, options.depth, options.rock)
        rated = [rate(figures[name], own) for name, own in zip(_FIGURES[:3], points, strict=True)]
        values = _least_known(rated)
        notes = () if np.isfinite(values).any() else ("Nothing in the soil map tells how hard the ground is.",)
        return Measure(values=values, figures=figures, notes=(*notes, *ground.notes))

    def sentence(self, figures: Mapping[str, float], options: FactorOptions, printer: Printer) -> str:
        """Say the class of resistance with its likely range, depth and rock."""
        parts = []
        mpa = figures["resistance_mpa"]
        if not math.isnan(mpa):
            spread = math.exp(figures["error_ln"])
            likely = f"{printer.pressure(mpa / spread).split()[0]} to {printer.pressure(mpa * spread)}"
            parts.append(f"{resistance_class(mpa)} resistance, about {printer.pressure(mpa)} (likely {likely})")
        if not math.isnan(figures["depth_cm"]):
            parts.append(f"nothing hard mapped above {printer.small(figures['depth_cm'] / 100)}")
        if not math.isnan(figures["rock_pct"]):
            parts.append(f"{figures['rock_pct']:.0f} % rock fragments")
        if not parts:
            return "Ground unknown: test a stake."
        said = ", ".join(parts)
        return f"{said[0].upper()}{said[1:]}; test a stake."


def _least_known(layers: list[NDArray[np.float32]]) -> NDArray[np.float32]:
    """The least of the layers at each cell, passing over NaN; NaN where all are."""
    least = layers[0]
    for other in layers[1:]:
        least = np.fmin(least, other)
    return least
