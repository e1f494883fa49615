"""Use: how much fresh sign there is round a place; old sign fades."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.density import Corner, Points, gaussian_density
from boscage.model.factor import Factor, FactorOptions, Measure, no_data, rate
from boscage.model.options import ValuePoints, option
from boscage.model.scene import Scene
from boscage.values import Length, Printer

SIGN_KINDS = ("rooting", "wallow", "rub", "trail", "track", "scat", "bed")
_CUTOFF = 5.0


@dataclass(frozen=True, kw_only=True)
class UseOptions(FactorOptions):
    """`[factors.use]`."""

    weight: float = option(4.0, help="Weight in the score.", low=0.0, high=1000.0, grade="C")
    value: ValuePoints = option(
        ((0.0, 0.0), (2.5, 0.35), (12.0, 0.8), (40.0, 1.0)),
        help="Value by weighted density of sign, fresh signs per km².",
        grade="C",
    )
    bandwidth: Length = option(
        Length(200.0), help="Bandwidth (standard deviation) of the kernel round each sign.", low=10.0, high=5000.0,
        grade="C",
    )  # fmt: skip
    half_life_days: float = option(
        7.0,
        help="Days in which a sign loses half of its weight.",
        unit="days",
        low=0.1,
        high=1000.0,
        grade="C",
    )
    undated_days: float = option(
        60.0, help="Age given to a sign without a date.", unit="days", low=0.0, high=10000.0, grade="C"
    )
    kinds: Mapping[str, float] = option(
        factory=lambda: {
            "bed": 1.4, "wallow": 1.2, "scat": 1.0, "rub": 1.0, "trail": 1.0, "track": 1.0, "rooting": 0.7,
        },
        help="Weight of one fresh sign of each kind; beds and wallows over damage.", low=0.0, high=100.0,
        choices=SIGN_KINDS, grade="C",
    )  # fmt: skip


class Use(Factor):
    """Kernel density of sign, each weighted by kind and by 0.5 ** (age / half-life), in fresh signs per km².

    References: B. W. Silverman (1986), Density Estimation for Statistics and Data Analysis, eq. 4.1 (Gaussian kernel).
    """

    name = "use"
    title = "Fresh sign"
    unit = "fresh signs per km²"
    needs = ("sign",)
    reads = ("sign",)
    Options = UseOptions

    def measure(self, scene: Scene, options: FactorOptions) -> Measure:
        """Sum the kernels; also the count and the newest age of sign within one bandwidth of each cell."""
        assert isinstance(options, UseOptions)
        layer = scene.vectors.get("sign")
        if layer is None or layer.frame.empty:
            return no_data(scene, "per_km2", "near_count", "newest_days")
        frame = layer.frame
        ages = frame["age_days"].fillna(options.undated_days).to_numpy(dtype=np.float64)
        usable = ages >= 0.0
        kinds = np.array([options.kinds.get(kind, 1.0) for kind in frame["kind"]])
        weight = np.where(usable, kinds * 0.5 ** (np.maximum(ages, 0.0) / options.half_life_days), 0.0)
        x, y = frame.geometry.x.to_numpy(), frame.geometry.y.to_numpy()
        density = np.zeros(scene.grid.shape, dtype=np.float64)
        corner = Corner(scene.grid.west, scene.grid.north, scene.grid.cell_m)
        gaussian_density(Points(x, y, weight), corner, options.bandwidth.m, _CUTOFF, density)
        per_km2 = (density * 1e6).astype(np.float32)
        count, newest = _near(scene, x[usable], y[usable], ages[usable], options.bandwidth.m)
        figures = {"per_km2": per_km2, "near_count": count, "newest_days": newest}
        return Measure(values=rate(per_km2, options.value), figures=figures)

    def sentence(self, figures: Mapping[str, float], options: FactorOptions, printer: Printer) -> str:
        """Say how many signs are near and how old the newest is."""
        assert isinstance(options, UseOptions)
        around = printer.length(options.bandwidth.m)
        if math.isnan(figures["per_km2"]):
            return "No sign layer: use not known."
        count = int(figures["near_count"])
        if count == 0:
            return f"No sign recorded within {around}; that is not the same as searched and none found."
        days = int(figures["newest_days"])
        age = "today" if days == 0 else f"{days} day{'s' if days != 1 else ''} old"
        signs = f"{count} sign{'s' if count != 1 else ''} within {around}, the newest {age}"
        return f"{signs}; weighed by age and kind, {printer.per_area(figures['per_km2'])}."


def _near(
    scene: Scene, x: NDArray[np.float64], y: NDArray[np.float64], ages: NDArray[np.float64], radius_m: float
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Count of signs within a radius of each cell's centre, and the least age among them (NaN where none)."""
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
