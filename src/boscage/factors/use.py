"""Use: how much fresh sign and how many camera visits there are round a place; both fade."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boscage.evidence.ranch import ranch_use
from boscage.kernels.focal import disk_mean
from boscage.model.evidence import NOT_LOOKED, SignOptions
from boscage.model.factor import Factor, FactorOptions, Measure, no_data, rate
from boscage.model.options import ValuePoints, option
from boscage.model.scene import Scene
from boscage.values import Printer

LEAST_TOLD_PER_KM2 = 0.5
_FIGURES = ("per_km2", "near_count", "newest_days", "visit_count", "visit_days", "looked")


@dataclass(frozen=True, kw_only=True)
class UseOptions(FactorOptions, SignOptions):
    """`[factors.use]`: how sign is weighed, and what that is worth."""

    weight: float = option(4.0, help="Weight in the score.", low=0.0, high=1000.0, grade="C")
    value: ValuePoints = option(
        ((0.0, 0.0), (2.5, 0.35), (12.0, 0.8), (40.0, 1.0)),
        help="Value by weighted density of sign, fresh signs per km².",
        grade="C",
    )
    rule: str = option(
        "fixed", help="How the bandwidth is found.", choices=("fixed", "reference", "cross-validation"), grade="C"
    )
    visit: float = option(
        6.0, help="Weight of one camera visit, against one fresh sign: tonight's camera outranks the map.", low=0.0,
        high=1000.0, grade="C",
    )  # fmt: skip


class Use(Factor):
    """Kernel density of sign and camera visits, each weighted by kind and by 0.5 ** (age / half-life), per km².

    References: B. W. Silverman (1986), Density Estimation for Statistics and Data Analysis, eq. 4.1 (Gaussian kernel).
    """

    name = "use"
    title = "Fresh sign"
    unit = "fresh signs per km²"
    needs = ("sign", "cameras")
    reads = ("sign", "searched", "cameras")
    Options = UseOptions

    def measure(self, scene: Scene, options: FactorOptions) -> Measure:
        """The surface of use; the count and the newest age of sign and of visits within a bandwidth of each cell.

        Ground that nobody looked at keeps the value that its sign gives it, mostly 0: taking it as not known would lift
        it above ground that somebody walked. That nobody looked is said instead.
        """
        assert isinstance(options, UseOptions)
        layer = scene.vectors.get("sign")
        if (layer is None or layer.frame.empty) and not scene.visits:
            return no_data(scene, *_FIGURES)
        both, surface = ranch_use(scene, options, options.visit)
        visits = len(scene.visits or ())
        sign = slice(0, len(both.x_m) - visits)
        per_km2 = surface.density * np.float32(1e6)
        reach, known = options.bandwidth.m, ~np.isnan(both.age_days[sign])
        count, newest = _near(scene, both.x_m[sign][known], both.y_m[sign][known], both.age_days[sign][known], reach)
        seen = slice(len(both.x_m) - visits, None)
        visited, last = _near(scene, both.x_m[seen], both.y_m[seen], both.age_days[seen], reach)
        looked = np.full(scene.grid.shape, np.nan, dtype=np.float32)
        values = rate(per_km2, options.value)
        if surface.effort is not None:
            looked = _looked(surface.effort.looked != NOT_LOOKED, reach / scene.grid.cell_m)
        figures = dict(zip(_FIGURES, (per_km2, count, newest, visited, last, looked), strict=True))
        return Measure(values=values, figures=figures, notes=surface.notes)

    def sentence(self, figures: Mapping[str, float], options: FactorOptions, printer: Printer) -> str:
        """Say how many signs and visits are near, how old the newest are, and whether anybody looked."""
        assert isinstance(options, UseOptions)
        around = printer.length(options.bandwidth.m)
        if math.isnan(figures["per_km2"]):
            return "No sign layer and no cameras: use not known."
        parts = []
        if count := int(figures["near_count"]):
            days = int(figures["newest_days"])
            age = "today" if days == 0 else f"{days} day{'s' if days != 1 else ''} old"
            parts.append(f"{count} sign{'s' if count != 1 else ''} within {around}, the newest {age}")
        if visits := int(figures["visit_count"]):
            nights = int(figures["visit_days"])
            when = {0: "tonight", 1: "last night"}.get(nights, f"{nights} nights ago")
            parts.append(f"{visits} camera visit{'s' if visits != 1 else ''} within {around}, the latest {when}")
        if parts:
            return f"{'; '.join(parts)}; weighed by age and kind, {printer.per_area(figures['per_km2'])}."
        beyond = figures["per_km2"]
        more = f" What lies beyond weighs {printer.per_area(beyond)} here." if beyond >= LEAST_TOLD_PER_KM2 else ""
        if math.isnan(figures["looked"]):
            return f"No sign recorded within {around}; that is not the same as searched and none found.{more}"
        days = f"{options.search_days:g} days"
        if not figures["looked"]:
            return f"Nobody looked for sign within {around} in the last {days}; it counts as none.{more}"
        return f"Looked for sign within {around} in the last {days}, and none found.{more}"


def _looked(seen: NDArray[np.bool_], reach_cells: float) -> NDArray[np.float32]:
    """1 where ground that somebody looked at lies within reach, else 0."""
    mean = np.empty(seen.shape, dtype=np.float32)
    disk_mean(seen.astype(np.float32), reach_cells, 0.0, mean)
    return (mean > 0.0).astype(np.float32)


def _near(
    scene: Scene, x: NDArray[np.float64], y: NDArray[np.float64], ages: NDArray[np.float64], radius_m: float
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Count of points within a radius of each cell's centre, and the least age among them (NaN where none)."""
    grid = scene.grid
    count = np.zeros(grid.shape, dtype=np.float32)
    newest = np.full(grid.shape, np.inf, dtype=np.float32)
    reach = int(radius_m / grid.cell_m) + 1
    for px, py, age in zip(x, y, ages, strict=True):
        row, col = grid.index(px, py)
        r0, r1 = max(0, row - reach), min(grid.rows, row + reach + 1)
        c0, c1 = max(0, col - reach), min(grid.cols, col + reach + 1)
        if r0 >= r1 or c0 >= c1:
            continue
        dx = grid.west + (np.arange(c0, c1) + 0.5) * grid.cell_m - px
        dy = grid.north - (np.arange(r0, r1) + 0.5) * grid.cell_m - py
        inside = dx[None, :] ** 2 + dy[:, None] ** 2 <= radius_m**2
        count[r0:r1, c0:c1] += inside
        part = newest[r0:r1, c0:c1]
        np.minimum(part, np.where(inside, np.float32(age), np.inf), out=part)
    return count, np.where(np.isinf(newest), np.nan, newest).astype(np.float32)
