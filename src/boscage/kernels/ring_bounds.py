"""An upper bound on the score of every ring that starts with a given chain of trunks.

Let the ring's perimeter be L, its chain so far of length l between `spent_low` and `spent_high`, and let at most
q more corners follow. Then

- what is left of the line, with the chain's two ends moved out to their trunks' centres (which only adds area,
  see `boscage.kernels.ring`), is at most t = L - spent_low + ends long and has at most q + 1 spans. Together with
  the chord it encloses at most the area of the chain of q + 1 equal spans on a circle's arc over that chord (of
  all polygons with given sides the one on a circle is largest; of two unequal neighbouring sides, making them
  equal adds area). So area <= chain + t**2 * share(q + 1, chord / t);
- the spans left need at least ceil((L - spent_high) / spacing) - (q + 1) built supports, because a sum of
  ceilings is at least the ceiling of the sum, and never fewer than 0.

Both grow weaker as q grows, so the bound at the largest possible q holds for all. L runs over the allowed window
in pieces; in each piece [a, b] the area is taken at b, the division by L**2 and the supports at a.
"""

import functools
import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.flags import jit
from boscage.kernels.ring_corners import BUILT_COST, EDGE

_STEPS = 1024
_MOST_SPANS = 24
_PIECES = 6


class Limits(NamedTuple):
    """What a ring must keep to: least_m <= perimeter <= most_m, built supports from spacing_m, least contacts."""

    least_m: float
    most_m: float
    spacing_m: float
    contacts: int


class Chain(NamedTuple):
    """A chain's sums: length between low and high (m), area with the chord at most (m2), supports at least.

    chord_m: between the centres of the end trunks. ends_m: the sum of their radii.
    """

    low_m: float
    high_m: float
    area_m2: float
    built: int
    chord_m: float
    ends_m: float


@functools.cache
def arc_table() -> NDArray[np.float64]:
    """Area of the largest polygon of a chord and n equal spans of total length 1; shape (26, 1025).

    Row n is for n spans; the last row for any number of them (a circle's arc), which serves for n over 24 too.
    Column k is for the chord 1 - (k / 1024)**2, so that the area is nearly linear in k; it rises with k.
    With b half the angle of a span at the centre: chord = sin(n b) / (n sin b), area = (n sin 2b - sin 2nb) / (8
    n**2 sin(b)**2). Each value is rounded up by 1e-9.
    """
    chord = 1.0 - (np.arange(_STEPS + 1) / _STEPS) ** 2
    table = np.zeros((_MOST_SPANS + 2, _STEPS + 1))
    for row in range(2, _MOST_SPANS + 2):
        n = row if row <= _MOST_SPANS else 1_000_000
        low, high = np.full(chord.shape, 1e-12), np.full(chord.shape, math.pi / n)
        if row > _MOST_SPANS:
            low *= 1e-3
        for _ in range(80):
            half = 0.5 * (low + high)
            over = np.sin(n * half) / (n * np.sin(half)) > chord
            low, high = np.where(over, half, low), np.where(over, high, half)
        table[row] = (n * np.sin(2 * high) - np.sin(2 * n * high)) / (8 * (n * np.sin(high)) ** 2) + 1e-9
    return np.maximum.accumulate(table, axis=1)


@jit
def arc_area(table: NDArray[np.float64], spans: int, chord_m: float, length_m: float) -> float:
    """Largest area, m2, between a chord and a line of the given length and number of spans; never too small."""
    if not length_m > chord_m:
        return 0.0
    row = min(spans, table.shape[0] - 1)
    column = math.ceil(math.sqrt(1.0 - chord_m / length_m) * (table.shape[1] - 1) + 1e-9)
    return length_m * length_m * table[row, min(column, table.shape[1] - 1)]


@jit
def score_bound(chain: Chain, further: int, limits: Limits, table: NDArray[np.float64], target: float) -> float:
    """No ring that starts with the chain and has at most `further` more corners scores more; -inf where none can close.

    Stops at the first piece of the window that exceeds `target` and returns that piece's bound.
    """
    first = max(limits.least_m * (1.0 - EDGE), chain.low_m + chain.chord_m - chain.ends_m)
    last = limits.most_m * (1.0 + EDGE)
    highest = -math.inf
    if first > last:
        return highest
    step = (last - first) / _PIECES
    for piece in range(_PIECES):
        a, b = first + piece * step, first + (piece + 1) * step
        area = chain.area_m2 + arc_area(table, further + 1, chain.chord_m, b - chain.low_m + chain.ends_m + EDGE)
        wanted = math.ceil((a - chain.high_m) / limits.spacing_m * (1.0 - EDGE) - EDGE) - (further + 1)
        built = chain.built + max(0, wanted)
        highest = max(highest, 100.0 * (min(1.0, 4.0 * math.pi * area / (a * a)) - BUILT_COST * built) + EDGE)
        if highest > target:
            break
    return highest
