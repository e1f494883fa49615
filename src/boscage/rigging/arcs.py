"""Chains of equal sides on circles' arcs over chords: the shapes that free corners between fixed ones take.

Over a chord a, a chain of n equal sides, each turning by 2 b from the one before, lies on an arc of radius
R = a / (2 sin(n b)). Its length is l = n a sin(b) / sin(n b), the area between it and the chord
R**2 (n sin 2b - sin 2nb) / 2, and d(area) / d(length) = R cos(b): the distance from the circle's middle to the sides
(the apothem). So where several chains share one length of rope, and none is held back, area is greatest when all have
the same apothem. That is the common multiplier; the radii differ where the sides do, by
R**2 = apothem**2 + (side / 2)**2.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Arcs:
    """Lengths (m), areas outside the chords (m2), apothems (m; infinite when straight) and d(length)/d(half turn)."""

    length_m: Array
    area_m2: Array
    apothem_m: Array
    slope_m: Array


def arcs(chord_m: Array, sides: NDArray[np.int64], half_turn: Array) -> Arcs:
    """The chains over each chord.

    Args:
        chord_m: (K,) over 0.
        sides: (K,) at least 1; with 1 side the chain is the chord.
        half_turn: (K,) radians, 0 (straight) to under pi / sides.
    """
    n = sides.astype(np.float64)
    bent = (half_turn > 1e-7) & (sides > 1)
    b = np.where(bent, half_turn, 0.5)  # a harmless angle where the series below is used
    b = np.where(bent, b, 0.5 / n)
    sin_b, sin_nb, cos_b, cos_nb = np.sin(b), np.sin(n * b), np.cos(b), np.cos(n * b)
    radius = chord_m / (2.0 * sin_nb)
    length = n * chord_m * sin_b / sin_nb
    area = 0.5 * radius**2 * (n * np.sin(2.0 * b) - np.sin(2.0 * n * b))
    slope = n * chord_m * (cos_b * sin_nb - n * sin_b * cos_nb) / sin_nb**2
    # first terms of the series at 0: l = a (1 + (n^2 - 1) b^2 / 6), area = a^2 (n^2 - 1) b / (6 n)
    small = np.where(sides > 1, half_turn, 0.0)
    grow = (n**2 - 1.0) / 6.0
    with np.errstate(divide="ignore"):
        flat_apothem = np.where((sides > 1) & (small > 0.0), chord_m / (2.0 * n * np.maximum(small, 1e-300)), np.inf)
    return Arcs(
        length_m=np.where(bent, length, chord_m * (1.0 + grow * small**2)),
        area_m2=np.where(bent, area, chord_m**2 * grow * small / n),
        apothem_m=np.where(bent, radius * cos_b, flat_apothem),
        slope_m=np.where(bent, slope, 2.0 * chord_m * grow * small),
    )


def half_turns_at(chord_m: Array, sides: NDArray[np.int64], apothem_m: float) -> Array:
    """The half turn of each chain at which its apothem has a given value, with the chain no more than a half circle.

    The apothem a cos(b) / (2 sin(n b)) falls as b grows to pi / (2 n). Where the value is below that of the half
    circle, the half circle is returned. Found by bisection to the last bit or so.
    """
    n = sides.astype(np.float64)
    low, high = np.zeros_like(chord_m), np.where(sides > 1, np.pi / (2.0 * n), 0.0)
    for _ in range(60):
        middle = 0.5 * (low + high)
        too_flat = chord_m * np.cos(middle) > 2.0 * apothem_m * np.sin(n * middle)
        low, high = np.where(too_flat, middle, low), np.where(too_flat, high, middle)
    return np.where(sides > 1, 0.5 * (low + high), 0.0)


def chain_points(start: Array, end: Array, sides: int, half_turn: float) -> Array:
    """The inner points of one chain, on the right of the way from start to end; (sides - 1, 2)."""
    way = end - start
    chord = float(np.hypot(*way))
    side = chord / sides if half_turn < 1e-12 else chord * np.sin(half_turn) / np.sin(sides * half_turn)
    heading = np.arctan2(way[1], way[0]) + half_turn * (2.0 * np.arange(sides - 1) - (sides - 1))
    return start + np.cumsum(side * np.column_stack([np.cos(heading), np.sin(heading)]), axis=0)
