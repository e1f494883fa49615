"""What must hold of the ground whatever the soil and the readings."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boscage.model.soil import (
    MOISTURES,
    Component,
    Horizon,
    ProbeReading,
    Restriction,
    SoilOptions,
    SoilUnit,
)
from boscage.soil.components import ground_shares, profiles, unit_strength
from boscage.soil.correction import correct
from boscage.soil.place import Place, post_tool, verdicts
from boscage.soil.posts import answer_posts
from boscage.soil.strength import horizon_strength
from boscage.soil.texture import TEXTURES, texture_class

OPTIONS = SoilOptions()
FEW = settings(derandomize=True, deadline=None, max_examples=60)


@st.composite
def soils(draw: st.DrawFn, percent: float = 100.0) -> Component:
    first, second = draw(st.floats(5, 60)), draw(st.floats(70, 200))
    figures = [
        Horizon(
            top_cm=top, bottom_cm=bottom, rock_pct=draw(st.sampled_from([0.0, 10.0, 40.0, 70.0, math.nan])),
            resistance_mpa=draw(st.one_of(st.floats(0.05, 20.0), st.just(math.nan))),
        )
        for top, bottom in ((0.0, first), (first, second))
    ]  # fmt: skip
    rock = draw(st.one_of(st.none(), st.floats(5, second)))
    hard = () if rock is None else (Restriction(top_cm=rock, kind="Lithic bedrock"),)
    return Component(name="soil", percent=percent, horizons=tuple(figures), restrictions=hard)


@st.composite
def units(draw: st.DrawFn) -> SoilUnit:
    cuts = sorted(draw(st.lists(st.integers(0, 100), min_size=1, max_size=3)))
    shares = [b - a for a, b in zip([0, *cuts[:-1]], cuts, strict=True)]
    return SoilUnit(key="A", symbol="A", name="mix", components=tuple(draw(soils(percent=float(s))) for s in shares))


@FEW
@given(st.floats(0, 100), st.floats(0, 100))
def test_every_mixture_has_exactly_one_texture(first: float, second: float) -> None:
    sand, clay = sorted((first, second))[0], abs(first - second)
    assert texture_class(sand, clay) in TEXTURES


@FEW
@given(st.floats(0, 60), st.floats(0, 40), st.floats(0, 12), st.floats(0.8, 2.0))
def test_drier_is_never_softer_and_denser_never_softer_when_dry(
    clay: float, sand: float, organic: float, density: float
) -> None:
    """With water contents of their own, so that density alone changes."""
    water = {"dry": 0.12, "moist": 0.25, "wet": 0.4}
    made = Horizon(
        top_cm=0, bottom_cm=30, sand_pct=sand, clay_pct=clay, organic_pct=organic, bulk_density=density, water=water
    )
    found = horizon_strength(made, OPTIONS).mpa
    assert found["wet"] <= found["moist"] <= found["dry"]
    denser = horizon_strength(replace(made, bulk_density=density + 0.1), OPTIONS).mpa
    assert all(denser[m] >= found[m] for m in MOISTURES)


@FEW
@given(units(), st.floats(-3, 3))
def test_shares_sum_to_one_and_harder_ground_never_allows_more(unit: SoilUnit, shift: float) -> None:
    """Mud aside: what is too soft to hold may become a yes when it hardens."""
    options = replace(OPTIONS, soft_mpa=0.0)
    both = np.array([shift, shift + 0.7])
    rows = ground_shares(profiles(unit, options), both, post_tool(options), "moist", options)
    assert rows.sum(axis=1) == pytest.approx([1.0, 1.0]) and (rows >= -1e-12).all()
    assert rows[1, 0] <= rows[0, 0] + 1e-12 and rows[1, 2] >= rows[0, 2] - 1e-12


@FEW
@given(units(), st.floats(-2, 2))
def test_unnamed_ground_never_turns_into_yes(unit: SoilUnit, shift: float) -> None:
    """A yes needs four fifths of the whole ground to be known and to allow it."""
    found = answer_posts(Place(unit=unit, made=profiles(unit, OPTIONS), shift_ln=shift, error_ln=0.2), OPTIONS)
    if found.verdict == "yes":
        assert unit.unnamed_pct <= 20.0 + 1e-6 and found.shares.yes >= 0.8 - 1e-9
    thinned = replace(unit, components=tuple(replace(c, percent=c.percent * 0.5) for c in unit.components))
    less = answer_posts(Place(unit=thinned, made=profiles(thinned, OPTIONS), shift_ln=shift, error_ln=0.2), OPTIONS)
    assert less.verdict != "yes"


@FEW
@given(st.floats(0, 1), st.floats(0, 1), st.floats(0, 1))
def test_a_verdict_comes_from_its_share(first: float, second: float, third: float) -> None:
    cuts = np.sort([first, second, third])
    row = np.diff(np.concatenate([[0.0], cuts, [1.0]]))
    index = int(verdicts(row[None, :], OPTIONS)[0])
    assert (index == 0) == (row[0] >= 0.8 - 1e-9)
    if index == 1:
        assert row[3] <= 0.4 + 1e-9 and row[2] < 0.5


@settings(derandomize=True, deadline=None, max_examples=40)
@given(st.integers(0, 10_000), st.sampled_from([1, 2, 5, 7, 8, 12, 25]), st.booleans())
def test_readings_never_make_the_estimate_at_their_own_place_worse(seed: int, count: int, two_units: bool) -> None:
    """Squared misfit over the depths of a place, corrected against map, whichever rule is in force."""
    rng = np.random.default_rng(seed)
    horizons = tuple(
        Horizon(top_cm=t, bottom_cm=b, rock_pct=0.0, resistance_mpa=float(rng.uniform(0.3, 6.0)))
        for t, b in ((0, 20), (20, 45), (45, 100))
    )
    base = SoilUnit(key="A", symbol="A", name="", components=(Component(name="s", percent=90.0, horizons=horizons),))
    keys_of = ["A", "B"] if two_units else ["A"]
    made = {k: profiles(base, OPTIONS) for k in keys_of}
    places, own = rng.uniform(0, 1500, (count, 2)), rng.choice(keys_of, count)
    readings, keys = [], []
    for (x, y), key in zip(places, own, strict=True):
        for depth in (10.0, 30.0, 60.0)[: int(rng.integers(1, 4))]:
            mpa = float(np.exp(rng.normal(0.5, 0.8)))
            readings.append(ProbeReading(x_m=x, y_m=y, top_cm=depth, bottom_cm=depth, resistance_mpa=mpa))
            keys.append(str(key))
    made_of = correct(readings, made, keys, OPTIONS)
    found = made_of.at(places, [str(k) for k in own], np.full(count, 0.5))
    for k, (x, _) in enumerate(places):
        here = [r for r in readings if r.x_m == x]
        at_map = [unit_strength(made[str(own[k])], r.top_cm, r.bottom_cm, "moist").ln_mpa for r in here]
        missed = np.array([math.log(r.resistance_mpa) - m for r, m in zip(here, at_map, strict=True)])
        assert ((missed - found.shift_ln[k]) ** 2).sum() <= (missed**2).sum() + 1e-9


@settings(derandomize=True, deadline=None, max_examples=15)
@given(st.integers(0, 1000), st.floats(-5e5, 5e5), st.randoms(use_true_random=False))
def test_order_and_position_do_not_matter(seed: int, move: float, shuffle: object) -> None:
    rng = np.random.default_rng(seed)
    unit = SoilUnit(
        key="A", symbol="A", name="",
        components=(
            Component(
                name="s", percent=100.0,
                horizons=(Horizon(top_cm=0, bottom_cm=100, rock_pct=0, resistance_mpa=1.0),),
            ),
        ),
    )  # fmt: skip
    made = {"A": profiles(unit, OPTIONS)}
    readings = [
        ProbeReading(
            x_m=x, y_m=y, top_cm=30, bottom_cm=30, resistance_mpa=float(np.exp(np.sin(x / 300) + 0.1 * y / 900))
        )
        for x, y in rng.uniform(0, 900, (11, 2)).round(1)
    ]
    at = rng.uniform(0, 900, (4, 2))
    plain = correct(readings, made, ["A"] * 11, OPTIONS).at(at, ["A"] * 4, np.full(4, 0.5))
    moved = [replace(r, x_m=r.x_m + round(move)) for r in readings]
    shuffle.shuffle(moved)
    other = correct(moved, made, ["A"] * 11, OPTIONS).at(at + [round(move), 0], ["A"] * 4, np.full(4, 0.5))
    assert other.shift_ln == pytest.approx(plain.shift_ln, abs=1e-6)
    assert other.error_ln == pytest.approx(plain.error_ln, abs=1e-6)
