"""The finished ring: built supports stand outside the chords, so that the rope left over makes the ring rounder.

Contacts are fixed and each span carries its built supports evenly, as a chain of equal sides on an arc
(`boscage.rigging.arcs`). Wanted is the roundest ring, no longer than the rope, convex everywhere.

Where no contact is made flat, all bent spans share one apothem. Along the shapes of one common apothem, as it
falls from infinity, the length L rises, and both rope - L and apothem * L - 2 * area fall; roundness rises as long as
the latter is over 0. So the answer is where the first of the two comes to 0: one root of one monotone function.

Where that would turn the ring inwards at a contact, the spans on either side are held back: the turns that they take
from a contact, (sides - 1) * half turn each, may not exceed the contact's own turn. And where a bent span would run
through the trunk of its contact, its half turn is held at the angle at which it touches the bark. The half turns are
then found by sequential quadratic programming from the common-apothem shape shrunk until it fits; a local optimum.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq, minimize

from boscage.rigging.arcs import Arcs, arcs, chain_points, half_turns_at
from boscage.rigging.polygon import area, spans, turns

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Finished:
    """The finished ring.

    Attributes:
        supports: For each span (built, 2) places, in order.
        span_m: (K,) length of each finished span.
        area_m2: Of the whole ring.
        half_turn: (K,) radians; 0 where a span is straight.
        held: Whether some contact is held back from turning inwards.
    """

    supports: tuple[Array, ...]
    span_m: Array
    area_m2: float
    half_turn: Array
    held: bool

    @property
    def length_m(self) -> float:
        """Length of the whole ring."""
        return float(self.span_m.sum())

    @property
    def roundness(self) -> float:
        """Isoperimetric quotient."""
        return 4.0 * math.pi * self.area_m2 / self.length_m**2


@dataclass(frozen=True, kw_only=True)
class _Case:
    """One problem: chords, sides, turn at the start of each span, area of the contacts, rope, greatest half turns."""

    chord_m: Array
    sides: NDArray[np.int64]
    turn: Array
    inner_m2: float
    rope_m: float
    most: Array

    def shape(self, half_turn: Array) -> tuple[Arcs, float, float]:
        made = arcs(self.chord_m, self.sides, half_turn)
        return made, float(made.length_m.sum()), self.inner_m2 + float(made.area_m2.sum())

    def spare_turn(self, half_turn: Array) -> Array:
        """What is left of each contact's turn, radians; the span before and the span after both take from it."""
        taken = (self.sides - 1) * half_turn
        return self.turn - taken - np.roll(taken, 1)


def finish(corners: Array, built: NDArray[np.int64], rope_m: float, trunk: Array | None = None) -> Finished:
    """Bend the spans of a ring outwards as far as makes it rounder and the rope allows.

    Args:
        corners: (K, 2) contacts, counter-clockwise, strictly convex.
        built: (K,) built supports on the span from each contact to the next.
        rope_m: Longest length of the finished ring, at least that of the ring of contacts.
        trunk: (K, 3) east, north, radius of each contact's trunk, which no span runs through; radius 0 for a post.
    """
    sides = np.asarray(built, np.int64) + 1
    case = _Case(
        chord_m=spans(corners), sides=sides, turn=turns(corners), inner_m2=area(corners), rope_m=rope_m,
        most=_most_half_turn(corners, sides, trunk),
    )  # fmt: skip
    half_turn, held = _bend(case)
    made, _, whole = case.shape(half_turn)
    ends = np.roll(corners, -1, axis=0)
    supports = tuple(
        chain_points(a, b, int(n), float(h)) for a, b, n, h in zip(corners, ends, case.sides, half_turn, strict=True)
    )
    return Finished(supports=supports, span_m=made.length_m, area_m2=whole, half_turn=half_turn, held=held)


def _most_half_turn(corners: Array, sides: NDArray[np.int64], trunk: Array | None) -> Array:
    """Half turn of each span at which its first or last side touches the bark at its contact; infinite without trunks.

    The first side leaves the chord by (sides - 1) half turns. Seen from the corner, the trunk covers asin(r / distance)
    on either side of its centre.
    """
    if trunk is None:
        return np.full(len(corners), np.inf)
    strap = trunk[:, :2] - corners
    far = np.hypot(*strap.T)
    covered = np.arcsin(np.clip(trunk[:, 2] / np.maximum(far, 1e-12), 0.0, 1.0))

    def room(way: Array) -> Array:
        size = np.maximum(np.hypot(*way.T) * far, 1e-12)
        angle = np.arccos(np.clip((way * strap).sum(axis=1) / size, -1.0, 1.0))
        return np.where((trunk[:, 2] > 0.0) & (far > 1e-9), np.maximum(angle - covered, 0.0), np.inf)

    ahead = np.roll(corners, -1, axis=0) - corners
    start, end = room(ahead), np.roll(room(-np.roll(ahead, 1, axis=0)), -1)
    return np.minimum(start, end) / np.maximum(sides - 1, 1)


def _bend(case: _Case) -> tuple[Array, bool]:
    """Half turns of the spans, and whether a contact holds them back."""
    straight = np.zeros_like(case.chord_m)
    if not (case.sides > 1).any() or case.rope_m <= case.chord_m.sum() * (1.0 + 1e-12):
        return straight, False
    free = _common_apothem(case)
    if free is not None and (case.spare_turn(free) >= -1e-12).all() and (free <= case.most + 1e-12).all():
        return free, False
    return _held(case, straight if free is None else free), True


def _common_apothem(case: _Case) -> Array | None:
    """The half turns of the best shape with one apothem; None where a span would be more than a half circle."""
    bent = case.sides > 1

    def spare(apothem_m: float) -> float:
        _, length, whole = case.shape(half_turns_at(case.chord_m, case.sides, apothem_m))
        return min(case.rope_m - length, apothem_m * length - 2.0 * whole)

    low = float((case.chord_m[bent] * np.cos(np.pi / (2.0 * case.sides[bent])) / 2.0).max()) * (1.0 + 1e-12)
    high = 2.0 * max(low, 1.0)
    while spare(high) <= 0.0:
        high *= 2.0
        if high > 1e12:
            return np.zeros_like(case.chord_m)
    if spare(low) > 0.0:
        return None
    apothem = brentq(spare, low, high, xtol=1e-14, rtol=8.9e-16)
    half_turn = half_turns_at(case.chord_m, case.sides, apothem)
    _, length, _ = case.shape(half_turn)
    return half_turn if length <= case.rope_m else half_turns_at(case.chord_m, case.sides, apothem * (1.0 + 1e-13))


def _held(case: _Case, guess: Array) -> Array:
    """Half turns with some contacts held; never worse than straight spans or the guess shrunk to fit."""
    most = np.minimum(np.where(case.sides > 1, 0.98 * np.pi / case.sides, 0.0), case.most)
    start = _shrunk(case, np.minimum(guess if guess.any() else 0.5 * most, most))

    def loss(half_turn: Array) -> tuple[float, Array]:
        made, length, whole = case.shape(half_turn)
        apothem = np.where(np.isfinite(made.apothem_m), made.apothem_m, 0.0)
        straight_push = np.where(half_turn <= 0.0, case.chord_m**2 * (case.sides**2 - 1.0) / (6.0 * case.sides), 0.0)
        rise = apothem * made.slope_m + straight_push
        return 2.0 * math.log(length) - math.log(whole), 2.0 * made.slope_m / length - rise / whole

    take = np.diag(case.sides - 1.0)
    limits = [
        {"type": "ineq", "fun": case.spare_turn, "jac": lambda _: -take - np.roll(take, 1, axis=0)},
        {
            "type": "ineq",
            "fun": lambda h: case.rope_m - case.shape(h)[1],
            "jac": lambda h: -case.shape(h)[0].slope_m,
        },
    ]
    found = minimize(
        loss, start, jac=True, method="SLSQP", bounds=list(zip(np.zeros_like(most), most, strict=True)),
        constraints=limits, options={"maxiter": 300, "ftol": 1e-15},
    )  # fmt: skip
    choices = [np.zeros_like(most), start]
    if np.isfinite(found.x).all():
        choices.append(_shrunk(case, np.clip(found.x, 0.0, most)))
    return min(choices, key=lambda h: loss(h)[0])


def _shrunk(case: _Case, half_turn: Array) -> Array:
    """The half turns times the largest share in 0..1 that keeps every contact convex and the rope long enough."""

    def fits(share: float) -> bool:
        bent = share * half_turn
        return bool((case.spare_turn(bent) >= 0.0).all()) and case.shape(bent)[1] <= case.rope_m

    if fits(1.0):
        return half_turn
    low, high = 0.0, 1.0
    for _ in range(50):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if fits(middle) else (low, middle)
    return low * half_turn
