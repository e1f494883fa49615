"""What it costs to carry: metabolic rate, trips and the energy of a carry."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boscage.model.journey import TravelOptions

Floats = NDArray[np.float64]

JOULES_A_KCAL = 4184.0
# Energy terrain factors of Soule and Goldman (1972): dirt road or grass 1.1, light brush 1.2, heavy brush 1.5.
PATH_FACTOR, OPEN_FACTOR, TIMBER_FACTOR = 1.1, 1.2, 1.5


def metabolic_rate_w(
    body_kg: float, load_kg: float, speed_mps: Floats | float, grade_pct: Floats | float, terrain: Floats | float
) -> Floats:
    """Watts of a person who walks with a load, by Pandolf with the downhill correction.

    M = 1.5 W + 2 (W + L)(L / W)**2 + n (W + L)(1.5 V**2 + 0.35 V G); where the grade G is under 0,
    n (G (W + L) V / 3.5 - (W + L)(G + 6)**2 / W + 25 - V**2) is taken off. Never less than standing with the load.

    Args:
        body_kg, load_kg: W and L.
        speed_mps, grade_pct, terrain: V, G and n; broadcast together.

    References: K. B. Pandolf, B. Givoni, R. F. Goldman (1977), J. Appl. Physiol. 43:577-581; W. R. Santee et al.
    (2001), USARIEM, for the correction (its sign convention is from memory).

    >>> round(float(metabolic_rate_w(70.0, 20.0, 1.1111, 10.0, 1.0)), 2)
    636.35
    >>> round(float(metabolic_rate_w(80.0, 22.6796, 1.34, -10.0, 1.0)), 2)
    321.94
    """
    v, g, n = (np.asarray(a, dtype=np.float64) for a in (speed_mps, grade_pct, terrain))
    both = body_kg + load_kg
    standing = 1.5 * body_kg + 2.0 * both * (load_kg / body_kg) ** 2
    level = standing + n * both * (1.5 * v**2 + 0.35 * v * g)
    fall = n * (g * both * v / 3.5 - both * (g + 6.0) ** 2 / body_kg + 25.0 - v**2)
    return np.maximum(np.where(g < 0.0, level - fall, level), standing)


@dataclass(frozen=True, kw_only=True)
class Carry:
    """How a load is shared out.

    Attributes:
        trips: Loaded walks that the whole crew makes.
        share_kg: Load of the set on one back on each of them.
    """

    trips: int
    share_kg: float


def share_load(load_kg: float, options: TravelOptions) -> Carry:
    """Fewest trips that keep every back under its limit, and the even share on each.

    >>> share_load(100.0, TravelOptions())
    Carry(trips=2, share_kg=25.0)
    """
    backs = max(1, math.ceil(load_kg / options.carry_limit.kg - 1e-9))
    trips = math.ceil(backs / options.people)
    return Carry(trips=trips, share_kg=load_kg / (trips * options.people))


def pace_under_load(share_kg: float, options: TravelOptions) -> float:
    """Multiplier on walking time with a load on the back."""
    return 1.0 / (1.0 - options.load_slows * min(1.0, share_kg / options.carry_limit.kg))


def energy_kcal(body_kg: float, load_kg: float, step: tuple[Floats, Floats, Floats], terrain: Floats | float) -> float:
    """Energy of one walk along a line.

    Args:
        step: Map length in metres, rise in metres and seconds of each step, (N,); NaN rises count as level.
        terrain: Energy factor of the ground, for each step or for all.
    """
    length_m, rise_m, seconds = step
    moving = seconds > 0.0
    speed = np.divide(length_m, seconds, out=np.zeros_like(length_m), where=moving)
    grade = 100.0 * np.divide(np.nan_to_num(rise_m), length_m, out=np.zeros_like(length_m), where=length_m > 0.0)
    return float(np.sum(metabolic_rate_w(body_kg, load_kg, speed, grade, terrain) * seconds) / JOULES_A_KCAL)
