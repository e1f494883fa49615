"""Built supports: the order of the rule, lines and their geometry, by hand and by brute force."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from boscage.model.rig import Stem
from boscage.model.rig_plan import RigFrame, RiggingOptions
from boscage.rigging.anchors import STEEPEST_DEG, Need, Woods, look_for_trees, to_stake, to_tree
from boscage.rigging.bearings import Pivot
from boscage.rigging.course import walk
from boscage.rigging.ties import Ground, share_saplings, tie_all
from boscage.values import Length

H = 1.5


def stem(name, x, y, dbh=0.3, kind="tree"):
    return Stem(stem=name, x_m=x, y_m=y, dbh_m=dbh, kind=kind)


def tie(rings, others, *, posts=False, ring=None, **options):
    """The built supports of a square of trees with one support a side, outward east for the first."""
    ring = ring or rings.regular(4, 3.0, contacts=3, spacing_m=3.0, start_deg=-45.0)
    ground = Ground(
        stems=(*rings.trees(ring), *others), posts=posts, height_m=H, frame=RigFrame(),
        pivot=Pivot(place=(0.0, 0.0), stem=None),
    )  # fmt: skip
    return ring, tie_all(ring, walk(ring), RiggingOptions(**options), ground)


def test_the_rule_in_its_order(rings):
    ring, _ = tie(rings, [])
    x, y = ring.supports[0]
    assert (x, y) == pytest.approx((x, 0.0), abs=1e-9)
    others = [
        stem("sap", x + 0.3, 0.2, 0.04, "sapling"), stem("tall", x + 4.0, 0.5), stem("thin", x + 3.0, -0.5, 0.06),
    ]  # fmt: skip

    def first(given, **more):
        return tie(rings, given, **more)[1].supports[0]

    got = first(others)
    assert (got.kind, got.stem, got.tie.stem) == ("sapling", "sap", "thin")  # its guy goes to the nearer foot
    got = first(others, posts=True)
    assert (got.kind, got.stem) == ("sapling", "sap")
    got = first(others[1:], posts=True)
    assert (got.kind, got.stem, got.tie) == ("post", None, None)
    got = first(others[1:])
    assert (got.kind, got.stem, got.tie.stem) == ("high_rope", "tall", "tall")
    got = first(others[2:])
    assert (got.kind, got.tie.stem) == ("guy_line", "thin")
    got = first([])
    assert (got.kind, got.stem, got.tie.stem) == ("guy_line", None, None)


@pytest.mark.parametrize(
    "bad",
    [
        {"kind": "dead"}, {"kind": "leaning"}, {"dbh": 0.04}, {"x": 5.3, "y": 4.0}, {"x": 14.0}, {"x": 3.3}, {"x": 0.5},
    ],
    ids=["dead", "leaning", "too thin", "out of the sector", "too far", "too near", "inside"],
)  # fmt: skip
def test_trees_that_do_not_serve(rings, bad):
    given = {"name": "t", "x": 6.0, "y": 0.0, **bad}
    ring, _ = tie(rings, [])
    assert ring.supports[0] == pytest.approx((2.727, 0.0), abs=1e-3)
    assert tie(rings, [stem("t", 6.0, 0.0)])[1].supports[0].kind == "high_rope"
    assert tie(rings, [stem(**given)])[1].supports[0].stem is None


def test_high_rope_geometry(rings):
    ring, tied = tie(rings, [stem("t", 6.0, 1.0, 0.4)], rope_up=Length(3.2), pretension_n=200.0)
    got = tied.supports[0]
    x = ring.supports[0][0]
    level = math.hypot(6.0 - x, 1.0) - 0.2
    line = got.tie
    assert line.length_m == pytest.approx(math.hypot(level, 3.2 - H))
    assert line.angle_deg == pytest.approx(math.degrees(math.atan2(3.2 - H, level)))
    assert line.off_line_deg == pytest.approx(math.degrees(math.atan2(1.0, 6.0 - x)))
    assert line.bearing_deg == pytest.approx(90.0 - line.off_line_deg)
    assert line.made_fast_m == 3.2
    assert math.dist((line.x_m, line.y_m), (6.0, 1.0)) == pytest.approx(0.2)  # its bark
    # the parts of the line's pull: along outward it is the rope's pull, upward the uplift (statics)
    level_pull = line.tension_n * math.cos(math.radians(line.angle_deg))
    assert level_pull * math.cos(math.radians(line.off_line_deg)) == pytest.approx(got.pull_n)
    assert line.tension_n * math.sin(math.radians(line.angle_deg)) == pytest.approx(line.uplift_n)


def test_a_high_rope_is_made_fast_well_above_the_top_rope(rings):
    _, tied = tie(rings, [stem("t", 6.0, 0.0)], rope_up=Length(1.0))
    assert tied.supports[0].tie.made_fast_m == H + 1.0


def test_guy_to_a_stake_is_at_the_stated_angle_straight_outward(rings):
    _, tied = tie(rings, [], guy_deg=45.0)
    for got in tied.supports:
        assert got.tie.angle_deg == pytest.approx(45.0)
        assert got.tie.off_line_deg == pytest.approx(0.0, abs=1e-6)
        assert got.tie.length_m == pytest.approx(H * math.sqrt(2.0))
        assert got.tie.tension_n == pytest.approx(got.pull_n * math.sqrt(2.0))  # 1.41 x, statics
        assert got.tie.uplift_n == pytest.approx(got.pull_n)
    assert tied.notes == ()


def test_lines_go_round_trunks(rings):
    ring, _ = tie(rings, [])
    x = ring.supports[0][0]
    in_way = stem("dead", x + 1.0, 0.0, 0.3, "dead")
    around = tie(rings, [in_way])[1].supports[0]
    assert around.tie.off_line_deg == pytest.approx(10.0)
    assert tie(rings, [in_way, stem("t", x + 4.0, 0.0)])[1].supports[0].tie.stem is None
    wall = [stem(f"d{k}", x + 0.8, -1.0 + 0.2 * k, 0.3, "dead") for k in range(11)]
    _, shut = tie(rings, wall)
    assert shut.supports[0].tie.off_line_deg == pytest.approx(0.0, abs=1e-6)
    assert len(shut.notes) == 1
    assert shut.notes[0].startswith("Built support a: a trunk stands in the way")


def test_straighter_lines_first_then_shorter_ones(rings):
    ring, _ = tie(rings, [])
    x = ring.supports[0][0]
    far, near, off = stem("far", x + 6.0, 0.5), stem("near", x + 3.0, -0.5), stem("off", x + 2.0, 1.5)
    assert tie(rings, [far, near, off])[1].supports[0].stem == "near"
    assert tie(rings, [far, off])[1].supports[0].stem == "far"
    assert tie(rings, [off])[1].supports[0].stem == "off"


def test_posts_in_place_of_contacts_are_listed(rings):
    ring = rings.regular(6, 3.0, posts=(1, 4), spacing_m=10.0)
    _, tied = tie(rings, [], ring=ring)
    assert [(s.label, s.kind) for s in tied.supports] == [("a", "post"), ("b", "post")]
    assert [(s.x_m, s.y_m) for s in tied.supports] == [(ring.contacts[k].x_m, ring.contacts[k].y_m) for k in (1, 4)]


def brute(places, saplings, reach):
    """Most places served, then the least distance in all, over every way to share."""
    best = (0, 0.0)
    options = [*range(len(saplings)), *([None] * len(places))]
    for chosen in set(itertools.permutations(options, len(places))):
        pairs = [(p, saplings[k]) for p, k in zip(places, chosen, strict=True) if k is not None]
        far = [math.dist(p, (s.x_m, s.y_m)) for p, s in pairs]
        if all(f <= reach for f in far):
            best = max(best, (len(far), -sum(far)))
    return best


@pytest.mark.parametrize("seed", range(12))
def test_saplings_are_shared_out_as_well_as_can_be(seed):
    rng = np.random.default_rng(seed)
    places = [tuple(p) for p in rng.uniform(0.0, 2.0, (3, 2))]
    saplings = [stem(str(k), *p, 0.03, "sapling") for k, p in enumerate(rng.uniform(0.0, 2.0, (4, 2)))]
    given = share_saplings(places, [*saplings, stem("tree", *places[0])], 0.6)
    ids = [s.stem for s in given if s is not None]
    assert len(ids) == len(set(ids))
    far = [math.dist(p, (s.x_m, s.y_m)) for p, s in zip(places, given, strict=True) if s is not None]
    assert max(far, default=0.0) <= 0.6
    assert (len(far), -sum(far)) == pytest.approx(brute(places, saplings, 0.6))


@pytest.mark.parametrize("seed", range(8))
def test_the_tree_taken_is_the_best_of_those_that_the_rule_allows(seed):
    """Against the rule written out again with complex numbers."""
    rng = np.random.default_rng(seed)
    outline = 2.0 * np.column_stack([np.cos(a := np.linspace(0, 2 * np.pi, 13)[:-1]), np.sin(a)])
    stems = [stem(str(k), *p, 0.2) for k, p in enumerate(rng.uniform(-9.0, 9.0, (40, 2)))]
    options = RiggingOptions()
    high, foot = look_for_trees(stems, outline, set(), 0.1)
    woods = Woods(
        outline=outline, high=high, foot=foot, trunks=np.array([(s.x_m, s.y_m, 0.1) for s in stems]),
        ids=tuple(s.stem for s in stems), height_m=H, options=options, frame=RigFrame(),
    )  # fmt: skip
    need = Need(place=(2.0, 0.0), outward=(1.0, 0.0), turning_deg=30.0, pull_n=100.0)
    ranked = []
    for s in stems:
        z = complex(s.x_m, s.y_m) - 2.0
        level, off = abs(z) - 0.1, abs(math.degrees(np.angle(z)))
        end = z / abs(z) * level
        others = [complex(t.x_m, t.y_m) - 2.0 for t in stems if t is not s]
        shut = any(abs(o - end * min(1.0, max(0.0, (o / end).real))) < 0.1 for o in others)
        length = math.hypot(level, H)
        steep = math.degrees(math.atan2(H, level)) > STEEPEST_DEG
        if off <= 45.0 and length <= 8.0 and not steep and not shut:
            ranked.append((math.ceil(off / 15.0), length, s.stem))
    got = to_tree(need, woods, high=False)
    assert (got.stem if got else None) == (min(ranked)[2] if ranked else None)
    stake, free = to_stake(need, woods)
    assert free
    assert stake.angle_deg == pytest.approx(45.0)
