"""Ropes at rest: sag, dip, pull, guys and turns. Planning figures, not a rating.

Lengths in metres, forces in newtons, weights in newtons a metre, angles in radians unless the name says degrees.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy.optimize import brentq

from boscage.errors import InputError

GRAVITY = 9.80665
"""Standard gravity, m/s2 (ISO 80000-3)."""


@dataclass(frozen=True, kw_only=True)
class HangingRope:
    """A rope between two supports of one height.

    Attributes:
        constant_m: Horizontal tension over weight; the lowest point's radius of curvature.
        horizontal_n: Tension at the lowest point.
        greatest_n: Tension at the supports.
        length_m: Length of the rope.
        sag_m: Lowest point under the supports.
    """

    constant_m: float
    horizontal_n: float
    greatest_n: float
    length_m: float
    sag_m: float


@dataclass(frozen=True, kw_only=True)
class Dip:
    """A rope pushed at mid-span: how far it goes, and its tension then."""

    dip_m: float
    tension_n: float


def catenary(span_m: float, sag_m: float, weight_n_m: float) -> HangingRope:
    """The exact shape of an even rope of known sag: sag = c (cosh(span / 2c) - 1).

    Args:
        span_m: Between the supports, over 0.
        sag_m: Over 0.
        weight_n_m: Over 0.

    Raises:
        InputError: A value is not over 0.

    References:
        Beer and Johnston, Vector Mechanics for Engineers: Statics, section 7.10, sample problem 7.9.
    """
    _check_over_0(span_m=span_m, sag_m=sag_m, weight_n_m=weight_n_m)

    def too_deep(u: float) -> float:  # u = span / 2c; sag / (span / 2) rises with u from 0
        return 2.0 * math.sinh(0.5 * u) ** 2 / u - 2.0 * sag_m / span_m

    high = min(4.0 * sag_m / span_m, 700.0)  # the left side is at least u / 2
    u = brentq(too_deep, 1e-9 * high, high * (1.0 + 1e-12), xtol=1e-300, rtol=8.9e-16)
    return _hanging(0.5 * span_m / u, span_m, weight_n_m)


def catenary_at(span_m: float, horizontal_n: float, weight_n_m: float) -> HangingRope:
    """The exact shape of an even rope of known tension at its lowest point.

    Raises:
        InputError: A value is not over 0.
    """
    _check_over_0(span_m=span_m, horizontal_n=horizontal_n, weight_n_m=weight_n_m)
    return _hanging(horizontal_n / weight_n_m, span_m, weight_n_m)


def _hanging(constant_m: float, span_m: float, weight_n_m: float) -> HangingRope:
    u = 0.5 * span_m / constant_m
    sag = 2.0 * constant_m * math.sinh(0.5 * u) ** 2
    return HangingRope(
        constant_m=constant_m, horizontal_n=weight_n_m * constant_m, greatest_n=weight_n_m * (constant_m + sag),
        length_m=2.0 * constant_m * math.sinh(u), sag_m=sag,
    )  # fmt: skip


def parabola(span_m: float, sag_m: float, weight_n_m: float) -> HangingRope:
    """The shape of a rope whose load is even along the level: H = w L**2 / 8 f.

    Raises:
        InputError: A value is not over 0.
    """
    _check_over_0(span_m=span_m, sag_m=sag_m, weight_n_m=weight_n_m)
    slope = 4.0 * sag_m / span_m
    horizontal = weight_n_m * span_m**2 / (8.0 * sag_m)
    return HangingRope(
        constant_m=horizontal / weight_n_m, horizontal_n=horizontal,
        greatest_n=horizontal * math.sqrt(1.0 + slope**2),
        length_m=0.5 * span_m * (math.sqrt(1.0 + slope**2) + math.asinh(slope) / slope), sag_m=sag_m,
    )  # fmt: skip


def widest_span_m(allowed_sag_m: float, horizontal_n: float, weight_n_m: float) -> float:
    """The span at which an even rope sags by just so much: 2 c acosh(1 + sag / c); 0 where no sag is allowed.

    Raises:
        InputError: Tension or weight is not over 0.
    """
    _check_over_0(horizontal_n=horizontal_n, weight_n_m=weight_n_m)
    if allowed_sag_m <= 0.0:
        return 0.0
    constant = horizontal_n / weight_n_m
    return 2.0 * constant * acosh_1p(allowed_sag_m / constant)


def acosh_1p(x: float) -> float:
    """acosh(1 + x), exact for small x too."""
    return math.log1p(x + math.sqrt(x * (2.0 + x)))


def point_load_tension_n(push_n: float, span_m: float, dip_m: float) -> float:
    """Tension of a weightless rope with a load at mid-span: P / (2 sin a), tan a = dip / (span / 2).

    Raises:
        InputError: Span or dip is not over 0.
    """
    _check_over_0(span_m=span_m, dip_m=dip_m)
    return push_n / (2.0 * math.sin(math.atan2(dip_m, 0.5 * span_m)))


def push_dip(push_n: float, span_m: float, pretension_n: float, stiffness_n: float) -> Dip | None:
    """How far a push at mid-span takes a rope that was straight and tight: 2 T sin a = P exactly.

    T is the pretension, and grows by stiffness (1 / cos a - 1) as the rope gets longer. With no stiffness the rope
    runs out at a constant tension; then it holds no more than twice that.

    Args:
        push_n: 0 or more, across the rope.
        span_m: Between the supports, over 0.
        pretension_n: Over 0.
        stiffness_n: EA of the rope, 0 or more.

    Returns:
        None where the push is at or over twice a constant tension.

    Raises:
        InputError: Span or pretension is not over 0.
    """
    _check_over_0(span_m=span_m, pretension_n=pretension_n)
    if stiffness_n <= 0.0:
        sine = push_n / (2.0 * pretension_n)
        if sine >= 1.0:
            return None
        return Dip(dip_m=0.5 * span_m * math.tan(math.asin(sine)), tension_n=pretension_n)

    def short(t: float) -> float:  # t = tan a; rises from -push without end
        longer = math.sqrt(1.0 + t * t)
        tension = pretension_n + stiffness_n * (longer - 1.0)
        return 2.0 * tension * t / longer - push_n

    high = 1.0
    while short(high) < 0.0:
        high *= 2.0
    t = brentq(short, 0.0, high, xtol=1e-15, rtol=8.9e-16)
    return Dip(dip_m=0.5 * span_m * t, tension_n=pretension_n + stiffness_n * (math.sqrt(1.0 + t * t) - 1.0))


def contact_pull_n(tension_n: float, turning_deg: float) -> float:
    """Pull of a rope on what turns it: 2 T sin(turning / 2).

    >>> round(contact_pull_n(100.0, 60.0), 9)
    100.0
    """
    return 2.0 * tension_n * math.sin(0.5 * math.radians(turning_deg))


def guy_tension_n(pull_n: float, angle_deg: float) -> float:
    """Tension of a guy that takes a level pull at an angle from the ground: P / cos(angle), 0 <= angle < 90.

    >>> round(guy_tension_n(100.0, 60.0), 9)
    200.0
    """
    return pull_n / math.cos(math.radians(angle_deg))


def guy_uplift_n(pull_n: float, angle_deg: float) -> float:
    """Upward pull on the stake of that guy, and downward push on the post: P tan(angle)."""
    return pull_n * math.tan(math.radians(angle_deg))


def capstan_ratio(friction: float, turns: float) -> float:
    """How many times the held pull a rope with turns round a trunk can take before it slips: e**(mu 2 pi turns).

    References:
        Euler and Eytelwein's belt equation; Beer and Johnston, Statics, section 8.10.
    """
    return math.exp(friction * 2.0 * math.pi * turns)


def working_load_n(breaking_n: float, design_factor: float, knot_loss: float = 0.0) -> float:
    """Breaking strength less what knots cost, over the design factor.

    Args:
        breaking_n: Least breaking strength as its maker states it.
        design_factor: At least 1; for fibre rope 5 to 12 (Cordage Institute CI 1401).
        knot_loss: Share that knots cost, 0 to under 1; up to 0.5 (CI 1401).

    Raises:
        InputError: A value is outside its range.
    """
    if design_factor < 1.0:
        raise InputError(f"the design factor is {design_factor:g}", expected="1 or more")
    if not 0.0 <= knot_loss < 1.0:
        raise InputError(f"the share lost to knots is {knot_loss:g}", expected="0 to under 1")
    return breaking_n * (1.0 - knot_loss) / design_factor


def _check_over_0(**values: float) -> None:
    for name, value in values.items():
        if not (math.isfinite(value) and value > 0.0):
            raise InputError(f"{name} is {value:g}", expected="a number over 0", field=name)
