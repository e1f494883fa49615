"""The whole rig plan of made-up stems: every part there, in one order, and consistent."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from boscage.errors import InputError
from boscage.model.rig import RingOptions, Stem
from boscage.model.rig_plan import NetProfile, RiggingOptions
from boscage.model.trees import StemList
from boscage.rigging.plan_ring import plan_rig
from boscage.rigging.ring import fit_ring
from boscage.values import Length

NET = NetProfile(height_m=1.524, netting_m=2.4384, mass_kg=22.679618)
RING = RingOptions(perimeter_m=18.288)


def wood(extra=()):
    """Seven trees round a middle, uneven, a stem near the middle, others outside; all invented."""
    angle = np.radians([10.0, 62.0, 118.0, 160.0, 215.0, 268.0, 322.0])
    far = np.array([3.3, 3.0, 3.4, 3.1, 3.3, 3.0, 3.2])
    trees = [
        Stem(stem=f"t{k}", x_m=float(100 + d * math.cos(a)), y_m=float(200 + d * math.sin(a)), dbh_m=0.2 + 0.02 * k)
        for k, (a, d) in enumerate(zip(angle, far, strict=True))
    ]
    others = [
        Stem(stem="mid", x_m=100.4, y_m=200.3, dbh_m=0.05, kind="sapling"),
        Stem(stem="snag", x_m=99.0, y_m=201.0, dbh_m=0.25, kind="dead"),
        Stem(stem="out1", x_m=106.0, y_m=203.0, dbh_m=0.3), Stem(stem="out2", x_m=95.0, y_m=197.0, dbh_m=0.3),
        Stem(stem="far", x_m=140.0, y_m=200.0, dbh_m=0.4),
    ]  # fmt: skip
    return StemList(
        stems=(*trees, *others, *extra), frame="crs", crs="EPSG:26915", declination_deg=2.0, convergence_deg=0.5
    )


@pytest.fixture(scope="module")
def listed():
    return wood()


@pytest.fixture(scope="module")
def ring(listed):
    found = fit_ring(listed.stems, RING)
    assert found
    return found


@pytest.fixture(scope="module")
def plan(ring, listed):
    return plan_rig(
        "Dunnock Hollow bench", ring, listed, NET, RiggingOptions(draws=60), mapped=True, stated=True,
        source="invented stems", date=dt.date(2026, 11, 21),
    )  # fmt: skip


def test_the_ring_is_the_same_counted_from_contact_1(plan, ring):
    assert sorted(plan.ring.outline) == sorted(ring.outline)
    assert (plan.ring.score, plan.ring.finished_m) == (ring.score, ring.finished_m)
    assert [(c.x_m, c.y_m) for c in plan.contacts] == [(c.x_m, c.y_m) for c in plan.ring.contacts]
    assert [c.number for c in plan.contacts] == list(range(1, len(plan.contacts) + 1))
    assert shapely.LinearRing([(c.x_m, c.y_m) for c in plan.contacts]).is_ccw


def test_every_contact_can_be_laid_off_with_tape_and_compass(plan, listed):
    assert plan.pivot_stem == "mid"
    for c in plan.contacts:
        grid = math.radians(c.bearing_deg + listed.declination_deg - listed.convergence_deg)
        x, y = plan.pivot[0] + c.distance_m * math.sin(grid), plan.pivot[1] + c.distance_m * math.cos(grid)
        assert (x, y) == pytest.approx((c.stem.x_m, c.stem.y_m), abs=1e-6)
        other = plan.contacts[c.check_from - 1].stem
        assert c.check_m == pytest.approx(math.dist((other.x_m, other.y_m), (c.stem.x_m, c.stem.y_m)))
    assert plan.contacts[0].bearing_deg == min(c.bearing_deg for c in plan.contacts)


def test_built_supports_are_those_of_the_ring_in_its_order(plan):
    assert [(s.x_m, s.y_m) for s in plan.supports] == list(plan.ring.supports)
    assert [s.label for s in plan.supports] == [chr(ord("a") + k) for k in range(len(plan.supports))]
    assert all(s.tie is not None for s in plan.supports if s.kind != "post")


def test_without_each_tree_is_the_fit_without_it(plan, listed):
    for c in plan.contacts[:2]:
        other = fit_ring([s for s in listed.stems if s.stem != c.stem.stem], RING)
        assert c.without_score == (other.score if other else None)
        assert c.stem.stem not in c.without_stems
        assert c.without_score is None or c.without_score <= plan.ring.score + 1e-6


def test_figures_of_the_top_rope(plan):
    outline = np.array(plan.ring.outline)
    longest = np.hypot(*(np.roll(outline, -1, axis=0) - outline).T).max()
    assert plan.loads.longest_span_m == pytest.approx(longest)
    weight = 22.679618 * 9.80665 / 18.288
    assert plan.loads.own_sag_m == pytest.approx(weight * longest**2 / 8 / 220.0, rel=2e-3)  # the parabola
    assert plan.loads.capstan_ratio == pytest.approx(12.345, abs=1e-3)
    angle = math.atan(plan.loads.dip_m / (longest / 2))
    assert 2 * plan.loads.push_tension_n * math.sin(angle) == pytest.approx(450.0, rel=1e-6)
    pulls = [c.pull_n for c in plan.contacts] + [s.pull_n for s in plan.supports]
    assert plan.loads.largest_pull_n == pytest.approx(max(pulls))


def test_apron_stakes_and_closure(plan):
    assert plan.apron.near_m == pytest.approx(0.9144)
    assert plan.apron.near_m < plan.apron.best_m < plan.apron.far_m
    assert plan.apron.profile[0] == pytest.approx((0.0, 1.524))
    shape = shapely.Polygon(plan.ring.outline)
    assert len(plan.stakes) >= 5
    assert all(shape.contains(shapely.Point(s.x_m, s.y_m)) for s in plan.stakes)
    assert plan.closure == (plan.contacts[0].x_m, plan.contacts[0].y_m)
    assert plan.closure_text.startswith("At contact 1 (stem ")


def test_who_stands_about(plan):
    assert {"mid", "snag"} <= {s.stem for s in plan.inside}
    names = {s.stem for s in plan.nearby}
    assert "far" not in names
    assert {c.stem.stem for c in plan.contacts} <= names
    assert plan.steadiness.draws == 60


def test_notes_say_what_the_figures_are_and_never_more(plan):
    text = " ".join([*plan.notes, plan.closure_text, *(g.note for g in plan.gear)]).lower()
    assert "planning figures, not a rating" in text
    for word in ("safe", "certified", "clear"):
        assert word not in text


def test_the_order_of_the_stems_does_not_matter(plan, ring, listed):
    back = replace(listed, stems=listed.stems[::-1])
    again = plan_rig(
        "Dunnock Hollow bench", fit_ring(back.stems, RING), back, NET, RiggingOptions(draws=60), mapped=True,
        stated=True, source="invented stems", date=dt.date(2026, 11, 21),
    )  # fmt: skip
    assert [c.stem for c in again.contacts] == [c.stem for c in plan.contacts]
    assert again.supports == plan.supports
    assert again.gear == plan.gear
    assert again.steadiness == plan.steadiness


def test_warnings_are_said(ring, listed):
    tight = RiggingOptions(draws=0, strap_stock=(Length(1.0),), least_height=Length(1.6), stiffness_n=0.0, spares=0.2)
    deep = NetProfile(height_m=1.524, netting_m=6.0, mass_kg=22.7)
    plan = plan_rig("x", ring, replace(listed, doubts=("A doubt.",)), deep, tight)
    text = " ".join(plan.notes)
    assert plan.steadiness is None
    assert plan.loads.dip_m is None
    assert plan.loads.widest_span_m == 0.0
    for part in ("No strap in stock", "its dip is not known", "no higher than the least height", "bunches", "A doubt."):
        assert part in text
    assert all(c.strap_stock_m is None for c in plan.contacts)


def test_a_span_that_sags_too_far_is_said(ring, listed):
    heavy = NetProfile(height_m=1.524, netting_m=2.4384, mass_kg=400.0)
    plan = plan_rig("x", ring, listed, heavy, RiggingOptions(draws=0))
    assert any("sags below the least height" in n for n in plan.notes)


def test_netting_that_does_not_reach_the_ground_is_refused(ring, listed):
    with pytest.raises(InputError, match="netting"):
        plan_rig("x", ring, listed, NetProfile(height_m=1.5, netting_m=1.2, mass_kg=20.0), RiggingOptions(draws=0))


def test_a_ring_of_posts_without_any_tree():
    listed = StemList(stems=(), frame="grid")
    ring = fit_ring((), RingOptions(perimeter_m=18.288, posts=True))
    assert ring.support == "posts"
    plan = plan_rig("posts", ring, listed, NET, RiggingOptions())
    assert plan.steadiness is None
    assert plan.pivot_stem is None
    assert {s.kind for s in plan.supports} == {"post"}
    assert plan.closure_text.startswith("At post ")
    assert next(g.count for g in plan.gear if g.item == "post") == len(plan.supports)
