"""Ropes, guys and turns against textbook values.

Sources are named at each check. 'From memory' marks values that were recalled and not read again.
"""

from __future__ import annotations

import math

import pytest
from scipy.integrate import quad

from boscage.errors import InputError
from boscage.rigging import statics


def test_catenary_of_beer_and_johnston():
    """Beer and Johnston, Vector Mechanics for Engineers: Statics, sample problem 7.9: feet and pounds."""
    rope = statics.catenary(500.0, 100.0, 3.0)
    assert rope.constant_m == pytest.approx(327.93, rel=1e-4)
    assert rope.horizontal_n == pytest.approx(983.8, rel=1e-4)
    assert rope.greatest_n == pytest.approx(1283.8, rel=1e-4)
    assert rope.length_m == pytest.approx(549.86, rel=1e-4)
    # as the book rounds them
    assert (rope.constant_m, rope.horizontal_n, rope.greatest_n, rope.length_m) == pytest.approx(
        (328.0, 984.0, 1284.0, 550.0), rel=1e-3
    )


def test_parabola_and_the_catenary_of_the_same_sag():
    """Standard formulas: H = w L^2 / 8 f, T = H sqrt(1 + 16 r^2), S = L (1 + 8/3 r^2 - 32/5 r^4)."""
    parabola, catenary = statics.parabola(100.0, 5.0, 10.0), statics.catenary(100.0, 5.0, 10.0)
    assert parabola.horizontal_n == pytest.approx(2500.0, rel=1e-12)
    assert parabola.greatest_n == pytest.approx(2549.510, rel=1e-6)
    assert parabola.length_m == pytest.approx(100.66267, abs=1e-4)
    assert catenary.constant_m == pytest.approx(250.82893, rel=1e-7)
    assert catenary.horizontal_n == pytest.approx(2508.289, rel=1e-6)
    assert catenary.greatest_n == pytest.approx(2558.289, rel=1e-6)
    assert catenary.length_m == pytest.approx(100.66358, rel=1e-7)


@pytest.mark.parametrize(("sag", "flat", "hung"), [(0.1, 125.0, 125.0167), (0.5, 25.0, 25.0829), (2.0, 6.25, 6.5586)])
def test_small_sags(sag, flat, hung):
    """w 1, L 10: H of the parabola w L^2 / 8 f and of the catenary (arithmetic of those two formulas)."""
    assert statics.parabola(10.0, sag, 1.0).horizontal_n == pytest.approx(flat, rel=1e-9)
    assert statics.catenary(10.0, sag, 1.0).horizontal_n == pytest.approx(hung, abs=6e-5)


@pytest.mark.parametrize("sag", [1e-4, 0.3, 3.0, 40.0])
def test_lengths_equal_the_integral_of_the_curve(sag):
    rope = statics.catenary(10.0, sag, 2.0)
    c = rope.constant_m
    assert c * (math.cosh(5.0 / c) - 1.0) == pytest.approx(sag, rel=1e-9, abs=1e-10)  # 1 is taken off a number near 1
    length = quad(lambda x: math.cosh(x / c), -5.0, 5.0, epsrel=1e-12)[0]
    assert rope.length_m == pytest.approx(length, rel=1e-10)
    flat = statics.parabola(10.0, sag, 2.0)
    k = 8.0 * sag / 100.0
    length = quad(lambda x: math.sqrt(1.0 + (k * x) ** 2), -5.0, 5.0, epsrel=1e-12)[0]
    assert flat.length_m == pytest.approx(length, rel=1e-10)


@pytest.mark.parametrize(("sag_share", "ratio"), [(0.01, 25.005), (0.02, 12.510), (0.05, 5.025), (0.10, 2.550)])
def test_load_at_mid_span(sag_share, ratio):
    """Statics of three forces, T = P / (2 sin a)."""
    assert statics.point_load_tension_n(1.0, 1.0, sag_share) == pytest.approx(ratio, abs=1e-3)


@pytest.mark.parametrize("stiffness", [0.0, 800.0, 20_000.0, 1e7])
def test_push_is_in_balance(stiffness):
    """Equilibrium at mid-span: 2 T sin a = P, with Hooke's law for T; both written apart from the program."""
    dip = statics.push_dip(300.0, 2.0, 220.0, stiffness)
    angle = math.atan(dip.dip_m / 1.0)
    assert dip.tension_n == pytest.approx(220.0 + stiffness * (1.0 / math.cos(angle) - 1.0), rel=1e-6)
    assert 2.0 * dip.tension_n * math.sin(angle) == pytest.approx(300.0, rel=1e-6)
    assert dip.tension_n == pytest.approx(statics.point_load_tension_n(300.0, 2.0, dip.dip_m), rel=1e-6)


def test_push_limits():
    """No stiffness: sin a = P / 2T, so 30 degrees at P = T. Great stiffness: the cube law of a taut elastic wire.

    For P small beside EA and no pretension to speak of, a**3 = P / EA (Timoshenko, Strength of Materials; from memory).
    """
    assert statics.push_dip(220.0, 2.0, 220.0, 0.0).dip_m == pytest.approx(math.tan(math.radians(30.0)), rel=1e-12)
    assert statics.push_dip(440.0, 2.0, 220.0, 0.0) is None
    assert statics.push_dip(439.9, 2.0, 220.0, 0.0) is not None
    stiff = statics.push_dip(100.0, 2.0, 1e-6, 1e8)
    assert stiff.dip_m == pytest.approx((100.0 / 1e8) ** (1.0 / 3.0), rel=1e-3)
    assert statics.push_dip(0.0, 2.0, 220.0, 2e4).dip_m == 0.0
    dips = [statics.push_dip(300.0, 2.0, 220.0, ea).dip_m for ea in (0.0, 1e3, 1e4, 1e5)]
    assert dips == sorted(dips, reverse=True)


def test_widest_span_gives_the_allowed_sag_back():
    """The catenary's own formula, sag = c (cosh(L / 2c) - 1), solved for L."""
    wide = statics.widest_span_m(0.1524, 220.0, 12.16)
    assert statics.catenary_at(wide, 220.0, 12.16).sag_m == pytest.approx(0.1524, rel=1e-12)
    assert wide == pytest.approx(math.sqrt(8.0 * 0.1524 * 220.0 / 12.16), rel=5e-3)  # the parabola of small sags
    assert statics.widest_span_m(0.0, 220.0, 12.16) == 0.0
    assert statics.widest_span_m(-0.2, 220.0, 12.16) == 0.0


@pytest.mark.parametrize(
    ("up", "out", "tension", "compression"),
    [
        (1.0, 1.0, 1.4142, 1.0), (1.0, 2.0, 1.1180, 0.5), (2.0, 1.0, 2.2361, 2.0),
        (math.tan(math.pi / 6), 1.0, 1.1547, 0.5774),
    ],
)  # fmt: skip
def test_guy_on_a_post(up, out, tension, compression):
    """Statics of a post with a level pull at height h and its anchor at d: T/P = sqrt(1 + (h/d)^2), C/P = h/d."""
    angle = math.degrees(math.atan2(up, out))
    assert statics.guy_tension_n(1.0, angle) == pytest.approx(tension, abs=1e-4)
    assert statics.guy_uplift_n(1.0, angle) == pytest.approx(compression, abs=1e-4)


@pytest.mark.parametrize(
    ("from_level", "factor"),
    [
        (90, 1.0), (85, 1.004), (80, 1.015), (75, 1.035), (70, 1.064), (65, 1.104), (60, 1.155), (55, 1.221),
        (50, 1.305), (45, 1.414), (40, 1.555), (35, 1.742), (30, 2.0),
    ],
)  # fmt: skip
def test_sling_angle_factors(from_level, factor):
    """Trade chart of sling angle factors, 1 / sin of the angle from level (ASME B30.9 logic); rounded there."""
    assert statics.guy_tension_n(1.0, 90.0 - from_level) == pytest.approx(factor, abs=2e-3)


@pytest.mark.parametrize(
    ("friction", "half", "one", "two"),
    [
        (0.1, 1.369, 1.874, 3.514), (0.2, 1.874, 3.514, 12.345), (0.25, 2.193, 4.810, 23.141),
        (0.3, 2.566, 6.586, 43.376), (0.4, 3.514, 12.345, 152.406), (0.5, 4.810, 23.141, 535.492),
    ],
)  # fmt: skip
def test_turns_round_a_trunk(friction, half, one, two):
    """Euler and Eytelwein: e^(mu theta)."""
    got = [statics.capstan_ratio(friction, turns) for turns in (0.5, 1.0, 2.0)]
    assert got == pytest.approx([half, one, two], rel=1e-3, abs=6e-4)


def test_pull_of_a_rope_on_what_turns_it():
    """The resultant of two equal forces; a rope that comes straight back pulls twice."""
    assert statics.contact_pull_n(220.0, 0.0) == 0.0
    assert statics.contact_pull_n(220.0, 90.0) == pytest.approx(220.0 * math.sqrt(2.0))
    assert statics.contact_pull_n(220.0, 180.0) == pytest.approx(440.0)


@pytest.mark.parametrize(
    ("factor", "loss", "load"), [(12.0, 0.0, 450.0), (5.0, 0.0, 1080.0), (12.0, 0.5, 225.0), (5.0, 0.5, 540.0)]
)
def test_design_factors(factor, loss, load):
    """5,400 lb rope; CI 1401-15: design factor = breaking strength / working load; knots up to 50 %."""
    assert statics.working_load_n(5400.0, factor, loss) == pytest.approx(load, rel=1e-12)


def test_values_that_make_no_sense_are_refused():
    for wrong in (
        lambda: statics.catenary(0.0, 1.0, 1.0),
        lambda: statics.catenary_at(1.0, 0.0, 1.0),
        lambda: statics.parabola(1.0, math.nan, 1.0),
        lambda: statics.push_dip(1.0, 1.0, 0.0, 0.0),
        lambda: statics.working_load_n(1.0, 0.5),
        lambda: statics.working_load_n(1.0, 5.0, 1.0),
    ):
        with pytest.raises(InputError):
            wrong()
