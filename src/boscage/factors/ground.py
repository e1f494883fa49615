"""Ground: whether stakes can be driven and will hold, from the soil layer."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boscage.model.factor import Factor, FactorOptions, Measure, no_data, rate
from boscage.model.fields import burn
from boscage.model.options import ValuePoints, option
from boscage.model.scene import Scene
from boscage.values import Printer

_COLUMNS = ("resistance_mpa", "depth_cm", "rock_pct")


@dataclass(frozen=True, kw_only=True)
class GroundOptions(FactorOptions):
    """`[factors.ground]`."""

    weight: float = option(1.0, help="Weight in the score.", low=0.0, high=1000.0, grade="C")
    value: ValuePoints = option(
        ((0.0, 0.2), (0.3, 1.0), (2.0, 1.0), (4.0, 0.4), (8.0, 0.0)),
        help="Value by penetration resistance when moist, MPa: mud holds no stake, very hard ground takes none.",
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
    """The worst of three values, each used where the soil layer gives it: resistance, depth to rock, rock fragments."""

    name = "ground"
    title = "Ground for stakes"
    unit = "MPa"
    needs = ("soils",)
    reads = ("soils",)
    is_dated = False
    Options = GroundOptions

    def measure(self, scene: Scene, options: FactorOptions) -> Measure:
        """Paint the soil polygons and take the worst of what is known; nothing known is no data."""
        assert isinstance(options, GroundOptions)
        layer = scene.vectors.get("soils")
        if layer is None or layer.frame.empty:
            return no_data(scene, *_COLUMNS)
        figures = {name: np.full(scene.grid.shape, np.nan, dtype=np.float32) for name in _COLUMNS}
        given = [name for name in _COLUMNS if name in layer.frame.columns]
        for row in layer.frame.itertuples():
            mask = burn(row.geometry, scene.grid)
            for name in given:
                figures[name][mask] = getattr(row, name)
        rated = [rate(figures[name], points) for name, points in zip(_COLUMNS, _value_points(options), strict=True)]
        notes = () if given else ("The soil layer has no column that tells how hard the ground is.",)
        return Measure(values=_least_known(rated), figures=figures, notes=notes)

    def sentence(self, figures: Mapping[str, float], options: FactorOptions, printer: Printer) -> str:
        """Say what the map gives of resistance, depth and rock."""
        parts = []
        if not math.isnan(figures["resistance_mpa"]):
            parts.append(f"resistance about {printer.pressure(figures['resistance_mpa'])} when moist")
        if not math.isnan(figures["depth_cm"]):
            parts.append(f"{printer.small(figures['depth_cm'] / 100)} to rock or a pan")
        if not math.isnan(figures["rock_pct"]):
            parts.append(f"{figures['rock_pct']:.0f} % rock fragments")
        if not parts:
            return "Ground unknown: test a stake."
        return f"Soil map: {', '.join(parts)}; test a stake."


def _value_points(options: GroundOptions) -> tuple[ValuePoints, ValuePoints, ValuePoints]:
    return options.value, options.depth, options.rock


def _least_known(layers: list[NDArray[np.float32]]) -> NDArray[np.float32]:
    """The least of the layers at each cell, passing over NaN; NaN where all are."""
    least = layers[0]
    for other in layers[1:]:
        least = np.fmin(least, other)
    return least
