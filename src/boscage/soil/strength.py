"""How hard a horizon is to a cone, dry, moist and wet.

References:
    A. P. da Silva and B. D. Kay (1997), Estimating the least limiting water range of soils from properties and
    management, Soil Sci. Soc. Am. J. 61:877-883: ln PR = (a + b clay + c OC) + (d + e clay) ln Db
    + (f + g clay + h OC) ln theta, with clay and organic carbon in per cent, Db in Mg/m3, theta in m3/m3, PR in MPa.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boscage.model.soil import MOISTURES, Horizon, Moisture, SoilOptions
from boscage.soil.water import water_contents

CARBON_OF_ORGANIC = 1.0 / 1.724
"""Organic carbon in organic matter (van Bemmelen)."""
FITTED: Mapping[str, tuple[float, float]] = {
    "clay": (5.0, 40.0), "organic carbon": (1.0, 4.0), "bulk density": (1.0, 1.8), "water content": (0.05, 0.5),
}  # fmt: skip
"""Range that inputs are held to. The published range is not at hand: these are the project's own assumption. Within
them more water never makes the estimate harder, and more density never softer."""
LEAST_MPA, MOST_MPA = 0.01, 8.0
"""The estimate is held to these: below the one and above the other the equation says no more than so much."""
_UNITS = {"clay": "%", "organic carbon": "%", "bulk density": "Mg/m3", "water content": ""}
ORGANIC_TAKEN_PCT = 1.0


def raw_resistance_mpa(
    clay_pct: ArrayLike, carbon_pct: ArrayLike, bulk_density: ArrayLike, water: ArrayLike
) -> NDArray[np.float64]:
    """The equation as published, held to nothing.

    >>> float(raw_resistance_mpa(20.0, 2.0, 1.4, 0.2).round(4))
    2.7168
    """
    clay, carbon = np.asarray(clay_pct, dtype=float), np.asarray(carbon_pct, dtype=float)
    logs = np.log(np.asarray(bulk_density, dtype=float)), np.log(np.asarray(water, dtype=float))
    return np.exp(_ln_resistance(clay, carbon, *logs))


def _ln_resistance(clay: Any, carbon: Any, ln_density: Any, ln_water: Any) -> Any:
    """The right-hand side, for numbers and arrays alike."""
    start = -3.6733 - 0.1447 * clay + 0.7653 * carbon
    return start + (3.8521 + 0.0963 * clay) * ln_density + (-0.4805 - 0.1239 * clay + 0.208 * carbon) * ln_water


@dataclass(frozen=True, kw_only=True)
class Clamped:
    """An estimate, and what was held to a bound on the way to it, in words."""

    mpa: float
    held: tuple[str, ...] = ()


def resistance_mpa(clay_pct: float, carbon_pct: float, bulk_density: float, water: float) -> Clamped:
    """The equation with every input held to `FITTED` and the result to `LEAST_MPA`..`MOST_MPA`; NaN in, NaN out."""
    given = dict(zip(FITTED, (clay_pct, carbon_pct, bulk_density, water), strict=True))
    if any(math.isnan(v) for v in given.values()):
        return Clamped(mpa=math.nan)
    used, held = [], []
    for name, value in given.items():
        low, high = FITTED[name]
        used.append(min(max(value, low), high))
        if used[-1] != value:
            unit = f" {_UNITS[name]}" if _UNITS[name] else ""
            held.append(f"{name} {value:.3g}{unit} counts as {used[-1]:g}{unit}")
    clay, carbon, density, theta = used
    found = math.exp(_ln_resistance(clay, carbon, math.log(density), math.log(theta)))
    if found > MOST_MPA:
        held.append(f"the resistance is {MOST_MPA:g} MPa or more")
    if found < LEAST_MPA:
        held.append(f"the resistance is {LEAST_MPA:g} MPa or less")
    return Clamped(mpa=min(max(found, LEAST_MPA), MOST_MPA), held=tuple(held))


@dataclass(frozen=True, kw_only=True)
class Strength:
    """How hard one horizon is.

    Attributes:
        mpa: By moisture; NaN where unknown.
        error_ln: Standard error of its natural logarithm, NaN where unknown.
        notes: What was filled in or held to a bound.
    """

    mpa: Mapping[Moisture, float]
    error_ln: float
    notes: tuple[str, ...] = ()


_UNKNOWN: Mapping[Moisture, float] = {"dry": math.nan, "moist": math.nan, "wet": math.nan}


def horizon_strength(horizon: Horizon, options: SoilOptions) -> Strength:
    """Resistance of a horizon in its three states.

    Water contents are the horizon's own where it has them, else those of `water_contents`. A bulk density that is not
    given is the one that goes with the texture, and widens the error. Without texture, and for organic material,
    the resistance is unknown; where the map states it (moist) that figure is taken and moved to the other states by the
    ratio that the equation gives, if it can.
    """
    estimate = _estimate(horizon, options)
    stated = horizon.resistance_mpa
    if math.isnan(stated):
        return estimate
    ratio = {m: estimate.mpa[m] / estimate.mpa["moist"] for m in MOISTURES}
    mpa: dict[Moisture, float] = {m: min(stated * ratio[m], max(MOST_MPA, stated)) for m in MOISTURES}
    mpa["moist"] = stated
    return Strength(mpa=mpa, error_ln=options.strength_error, notes=("the map states the resistance",))


def _estimate(horizon: Horizon, options: SoilOptions) -> Strength:
    if horizon.organic or math.isnan(horizon.clay_pct) or math.isnan(horizon.sand_pct):
        why = "organic material has no estimate" if horizon.organic else "no texture, so no estimate"
        return Strength(mpa=_UNKNOWN, error_ln=math.nan, notes=(why,))
    notes = list(horizon.estimated)
    organic = horizon.organic_pct
    if math.isnan(organic):
        organic = ORGANIC_TAKEN_PCT
        notes.append(f"organic matter not given, taken as {organic:g} %")
    density, error = horizon.bulk_density, options.strength_error
    if math.isnan(density):
        density = water_contents(horizon.sand_pct, horizon.clay_pct, organic).normal_density
        notes.append("bulk density not given, taken from texture")
        error = math.hypot(error, (3.8521 + 0.0963 * horizon.clay_pct) * options.density_error)
    made = water_contents(horizon.sand_pct, horizon.clay_pct, organic, density).by_moisture()
    filled = [m for m in MOISTURES if math.isnan(horizon.water.get(m, math.nan))]
    if filled:
        notes.append(f"water content ({', '.join(filled)}) taken from texture")
    mpa: dict[Moisture, float] = {}
    for state in MOISTURES:
        water = made[state] if state in filled else horizon.water[state]
        found = resistance_mpa(horizon.clay_pct, organic * CARBON_OF_ORGANIC, density, water)
        mpa[state] = found.mpa
        notes += [f"{state}: {text}" for text in found.held]
    return Strength(mpa=mpa, error_ln=error, notes=tuple(notes))
