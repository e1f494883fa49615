"""Penetrometer readings: from blows to pressure, from units to MPa, and from single readings to places.

References:
    J. E. Herrick and T. L. Jones (2002), A dynamic cone penetrometer for measuring soil penetration resistance, Soil
    Sci. Soc. Am. J. 66:1320-1324: resistance is the work of the hammer over the distance that it drives the cone.
    ASAE S313.3: cones of 30 degrees, 20.27 mm and 12.83 mm across the base.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boscage.errors import InputError
from boscage.model.soil import ProbeReading

Array = NDArray[np.float64]

GRAVITY = 9.80665
LARGE_CONE_MM, SMALL_CONE_MM = 20.27, 12.83
HAMMER_KG, DROP_M = 2.0, 0.40
"""Hammer and drop that a dynamic reading is taken with where its file does not say."""
MPA_PER: Mapping[str, float] = {
    "mpa": 1.0, "kpa": 1e-3, "psi": 6894.757293168361e-6, "bar": 0.1, "kgf_cm2": 0.0980665, "n_cm2": 0.01,
}  # fmt: skip
"""Pressure units by the end of a column's name."""
SAME_PLACE_M = 1.0


def cone_area_m2(cone_mm: float) -> float:
    """Area of a cone's base.

    >>> round(cone_area_m2(20.27) * 1e6, 2), round(cone_area_m2(12.83) * 1e6, 2)
    (322.7, 129.28)
    """
    return math.pi * (cone_mm / 2000.0) ** 2


def dynamic_resistance_mpa(
    blows: float, distance_m: float, *, hammer_kg: float = HAMMER_KG, drop_m: float = DROP_M,
    cone_mm: float = LARGE_CONE_MM,
) -> float:  # fmt: skip
    """Resistance of a dynamic penetrometer: blows m g h / (distance times the cone's base).

    No energy is taken off for the blow itself, so the figure is an upper one.

    >>> round(dynamic_resistance_mpa(1, 0.020), 3)
    1.216

    Raises:
        InputError: A number is not over 0.
    """
    given = {"blows": blows, "distance": distance_m, "hammer": hammer_kg, "drop": drop_m, "cone": cone_mm}
    for name, value in given.items():
        if not (math.isfinite(value) and value > 0.0):
            raise InputError(f"{name} is {value:g}", expected="a number over 0", field=name)
    return blows * hammer_kg * GRAVITY * drop_m / (distance_m * cone_area_m2(cone_mm)) / 1e6


def is_known_cone(cone_mm: float) -> bool:
    """Whether a diameter is one of the two standard cones', worn by at most 3 %."""
    return any(0.97 * full <= cone_mm <= full * 1.005 for full in (LARGE_CONE_MM, SMALL_CONE_MM))


@dataclass(frozen=True, kw_only=True)
class ProbePlaces:
    """Places with readings.

    Attributes:
        x_m, y_m: (P,) one a place: readings within a metre of its first one belong together.
        members: For each place its readings.
        stopped_cm: (P,) least depth at which a probe was stopped there, inf where none was.
    """

    x_m: Array
    y_m: Array
    members: tuple[tuple[ProbeReading, ...], ...]
    stopped_cm: Array

    @property
    def points(self) -> Array:
        """(P, 2) east, north."""
        return np.column_stack([self.x_m, self.y_m])

    def __len__(self) -> int:
        return len(self.members)


def group_places(readings: Sequence[ProbeReading], within_m: float = SAME_PLACE_M) -> ProbePlaces:
    """Readings gathered by place, whatever their order.

    Places come from west to east, then from south to north; each takes what lies within `within_m` of its first
    reading.
    """
    left = sorted(readings, key=lambda r: (r.x_m, r.y_m, r.top_cm, r.row, r.resistance_mpa))
    members: list[tuple[ProbeReading, ...]] = []
    while left:
        first = left[0]
        near = [math.hypot(r.x_m - first.x_m, r.y_m - first.y_m) <= within_m for r in left]
        members.append(tuple(r for r, here in zip(left, near, strict=True) if here))
        left = [r for r, here in zip(left, near, strict=True) if not here]
    stops = [min((r.top_cm for r in group if r.stopped), default=math.inf) for group in members]
    return ProbePlaces(
        x_m=np.array([float(np.mean([r.x_m for r in g])) for g in members]),
        y_m=np.array([float(np.mean([r.y_m for r in g])) for g in members]),
        members=tuple(members), stopped_cm=np.array(stops),
    )  # fmt: skip


def slice_mpa(readings: Sequence[ProbeReading], top_cm: float, bottom_cm: float) -> float:
    """Mean resistance of the readings between two depths, the lower one left out, as a geometric mean; NaN for none.

    A reading that stands for a stretch counts by how much of it lies inside, one at a single depth as one centimetre.
    """
    weights, lns = [], []
    for r in readings:
        inside = min(r.bottom_cm, bottom_cm) - max(r.top_cm, top_cm)
        if r.top_cm == r.bottom_cm:
            inside = 1.0 if top_cm <= r.top_cm < bottom_cm else 0.0
        if inside > 0.0:
            weights.append(inside)
            lns.append(math.log(r.resistance_mpa))
    return math.exp(float(np.average(lns, weights=weights))) if weights else math.nan
