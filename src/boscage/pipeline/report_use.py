"""How much of what sign shows of use lies within the covered land, before the work and after it."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import shapely

from boscage.evidence.ages import age_signs
from boscage.evidence.ranch import signs_of
from boscage.evidence.surface import use_surface
from boscage.factors.use import UseOptions
from boscage.model.fields import burn
from boscage.model.ledger import Book
from boscage.model.ledger_land import Parcel
from boscage.model.options import read_options
from boscage.model.report import UseCovered, UseShare
from boscage.pipeline.report_inputs import ReportInputs
from boscage.values import Grid

LEAST_SIGNS = 5
"""Fewer signs give no share. Common practice, no source."""
CELLS_ACROSS, LEAST_CELL_M = 250, 10.0
EFFORT_NOTE = (
    "Shares say where the sign lies, not how much use there is: the two searches were not the same, and ground where "
    "nobody looked shows no sign."
)


def use_covered(inputs: ReportInputs, book: Book, granted: Sequence[Parcel], covered: Any) -> UseCovered:
    """Share of use within the covered land, from sign up to the first armed night and from sign after the last catch.

    Sign is weighed by kind and age as `[factors.use]` says, ages counted from the last day of each time.
    """
    layer = inputs.layers.vectors.get("sign")
    if layer is None or not len(layer.frame):
        return UseCovered(notes=("No sign is mapped: use of the land before and after is not known.",))
    armed = [s.first for s in book.stays if s.state == "armed" and s.nights]
    if not armed or not granted:
        return UseCovered(notes=("No armed night on land with permission, so there is no before and after.",))
    begin, caught = min(armed), [r.night for r in book.of("capture")]
    day = inputs.plan.date
    notes = [EFFORT_NOTE]
    before = _share(inputs, granted, covered, (None, begin))
    after = None
    if caught and max(caught) < day:
        after = _share(inputs, granted, covered, (max(caught) + dt.timedelta(days=1), day))
    else:
        notes.append("No catch yet, so there is no time after it." if not caught else "The last catch is of today.")
    return UseCovered(before=before, after=after, notes=tuple(notes))


def _share(
    inputs: ReportInputs, granted: Sequence[Parcel], covered: Any, days: tuple[dt.date | None, dt.date]
) -> UseShare | None:  # fmt: skip
    """The share from sign dated within some days, both included; None without any such sign."""
    day, options = inputs.plan.date, _options(inputs)
    held = []
    for sign in signs_of(inputs.layers.vectors["sign"].frame):
        if math.isnan(sign.days) or sign.days < 0:
            continue
        seen = day - dt.timedelta(days=int(sign.days))
        if (days[0] is None or seen >= days[0]) and seen <= days[1]:
            held.append((seen, replace(sign, days=float((days[1] - seen).days))))
    if not held:
        return None
    shapes = shapely.union_all([p.shape for p in granted])
    share = math.nan
    if len(held) >= LEAST_SIGNS:
        ranch = inputs.layers.ranch
        cell = max(LEAST_CELL_M, max(ranch.width, ranch.height) / CELLS_ACROSS)
        grid = Grid.covering(ranch.padded(2.0 * cell), cell_m=cell, crs=inputs.layers.crs)
        density = use_surface(age_signs([s for _, s in held], options), grid, options).density.astype(np.float64)
        total = float(density[burn(shapes, grid)].sum())
        share = min(1.0, float(density[burn(covered, grid)].sum()) / total) if total > 0.0 else math.nan
    seen_days = [d for d, _ in held]
    return UseShare(begin=days[0] or min(seen_days), end=days[1], signs=len(held), share=share)


def _options(inputs: ReportInputs) -> UseOptions:
    plan = inputs.plan
    return read_options(UseOptions, plan.factors.get("use", {}), file=plan.file, key="factors.use")
