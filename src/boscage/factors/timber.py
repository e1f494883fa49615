"""Timber: the best ring that the mapped trees hold within a short walk."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from boscage.model.factor import Factor, FactorOptions, Measure, no_data, rate
from boscage.model.fields import centres_of
from boscage.model.options import ValuePoints, option
from boscage.model.scene import RingField, Scene
from boscage.values import Length, Printer


@dataclass(frozen=True, kw_only=True)
class TimberOptions(FactorOptions):
    """`[factors.timber]`."""

    weight: float = option(3.0, help="Weight in the score.", low=0.0, high=1000.0, grade="C")
    value: ValuePoints = option(
        ((0.0, 0.0), (30.0, 0.3), (55.0, 0.85), (70.0, 1.0)),
        help="Value by the score of the best ring of trees within the walk.",
        grade="C",
    )
    walk: Length = option(Length(20.0), help="How far from the place the ring may be.", low=2.0, high=200.0, grade="C")


class Timber(Factor):
    """Greatest score of any ring of trees whose middle lies within a walk of the place, 0 where trees are mapped and
    hold none; no data where trees are not mapped."""

    name = "timber"
    title = "Trees for a ring"
    unit = "ring score, 0 to 100"
    needs = ("canopy_height",)
    reads = ("rings",)
    is_dated = False
    Options = TimberOptions

    def measure(self, scene: Scene, options: FactorOptions) -> Measure:
        """Spread each ring's score over the cells within the walk, the best winning."""
        assert isinstance(options, TimberOptions)
        if scene.rings is None:
            return no_data(scene, "ring_score", "ring_contacts")
        best, contacts = _best_within(scene, scene.rings, options.walk.m)
        best = np.where(scene.rings.mapped, best, np.nan).astype(np.float32)
        return Measure(values=rate(best, options.value), figures={"ring_score": best, "ring_contacts": contacts})

    def sentence(self, figures: Mapping[str, float], options: FactorOptions, printer: Printer) -> str:
        """Say the best ring's score, or that trees are not mapped, or that they hold none."""
        assert isinstance(options, TimberOptions)
        around = printer.length(options.walk.m)
        if math.isnan(figures["ring_score"]):
            return "Trees not mapped: whether they hold a ring is for the walk."
        if figures["ring_score"] <= 0:
            return f"No ring of mapped trees within {around}."
        trees = f"{figures['ring_contacts']:.0f} trees"
        return f"Best ring of mapped trees within {around}: {trees}, ring score {figures['ring_score']:.0f} of 100."


def _best_within(scene: Scene, rings: RingField, walk_m: float) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Greatest ring score, 0 for none, and that ring's contacts, over the cells whose centre is within a walk."""
    grid = scene.grid
    best = np.zeros(grid.shape, dtype=np.float32)
    contacts = np.zeros(grid.shape, dtype=np.float32)
    if rings.score.size == 0:
        return best, contacts
    rows, cols = np.nonzero(rings.mapped)
    xy = centres_of(rows, cols, grid)
    order = np.argsort(-rings.score, kind="stable")
    tree = cKDTree(np.column_stack([rings.x_m[order], rings.y_m[order]]))
    for begin in range(0, rows.size, 100_000):
        part = slice(begin, begin + 100_000)
        near = tree.query_ball_point(xy[part], walk_m)
        first = np.array([min(found) if found else -1 for found in near], dtype=np.int64)
        hit = first >= 0
        best[rows[part][hit], cols[part][hit]] = np.maximum(rings.score[order[first[hit]]], 0.0)
        contacts[rows[part][hit], cols[part][hit]] = rings.contacts[order[first[hit]]]
    return best, contacts
