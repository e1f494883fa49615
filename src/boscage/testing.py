"""Checks that the author of a plug-in can run in a test of their own.

from boscage.testing import check_factor
check_factor(MyFactor())
"""

from __future__ import annotations

import datetime as dt
import math

import numpy as np

from boscage.model.factor import Factor, Measure
from boscage.model.options import describe
from boscage.model.plan import plan_from_table
from boscage.model.scene import Scene
from boscage.values import Grid, Printer

_PLAN = {"ranch": {"name": "Check"}, "layers": {"parcels": "parcels.gpkg", "canopy_cover": "cover.tif"}}


def empty_scene(rows: int = 12, cols: int = 9) -> Scene:
    """A scene of granted land with no surface and no layer at all."""
    plan = plan_from_table(_PLAN, file="plan.toml", folder=".", today=dt.date(2026, 1, 1))
    grid = Grid("EPSG:32615", 500_000.0, 4_000_000.0, 10.0, rows, cols)
    land = np.ones(grid.shape, dtype=bool)
    return Scene(
        plan=plan, grid=grid, date=plan.date, surfaces={}, vectors={}, granted=land, ranch=land, digests={}
    )  # fmt: skip


def check_factor(factor: Factor, scene: Scene | None = None) -> Measure:
    """Hold a factor to what the program relies on; returns what it measured on the scene.

    Args:
        factor: The factor, made without arguments.
        scene: A scene on which it has data; without one only the behaviour on missing layers is checked.

    Raises:
        AssertionError: Something does not hold; the message says what.
    """
    for word in ("name", "title", "unit"):
        assert isinstance(getattr(factor, word, None), str) and getattr(factor, word), f"{word} is no text"
    assert factor.name.isidentifier() and factor.name.islower(), f"the name {factor.name!r} is no lower-case word"
    assert isinstance(factor.needs, tuple) and factor.needs, "needs names no layer"
    options = factor.Options()
    assert options.weight > 0, "the default weight is not above 0"
    for row in describe(factor.Options, f"factors.{factor.name}"):
        assert row.info.help.endswith("."), f"{row.key} has no sentence of help"
    blind = factor.measure(empty_scene(), options)
    _check_measure(factor, blind, empty_scene())
    assert np.isnan(blind.values).all(), "without its layers it must have no data (NaN), not a guess"
    _check_sentence(factor, blind, (0, 0))
    if scene is None:
        return blind
    found = factor.measure(scene, options)
    _check_measure(factor, found, scene)
    assert np.isfinite(found.values).any(), "it has no data anywhere on the scene"
    row, col = np.argwhere(np.isfinite(found.values))[0]
    _check_sentence(factor, found, (int(row), int(col)))
    return found


def _check_measure(factor: Factor, measure: Measure, scene: Scene) -> None:
    for name, array in {"values": measure.values, **measure.figures}.items():
        assert array.shape == scene.grid.shape, f"{name} has the shape {array.shape}, not {scene.grid.shape}"
    known = measure.values[~np.isnan(measure.values)]
    assert known.size == 0 or (known.min() >= 0.0 and known.max() <= 1.0), "values leave 0..1"


def _check_sentence(factor: Factor, measure: Measure, cell: tuple[int, int]) -> None:
    figures = {name: float(array[cell]) for name, array in measure.figures.items()}
    figures["value"] = float(measure.values[cell])
    for units in ("us", "metric"):
        said = factor.sentence(figures, factor.Options(), Printer(units))
        assert isinstance(said, str) and said.endswith("."), f"the sentence {said!r} does not end with a full stop"
        assert "nan" not in said.lower().split(), f"the sentence {said!r} prints NaN"
        for word in (" safe", " clear"):
            assert word not in said.lower(), f"the sentence {said!r} says{word}"
        if not math.isnan(figures["value"]):
            assert any(ch.isdigit() for ch in said) or "No " in said, f"the sentence {said!r} has no figure"
