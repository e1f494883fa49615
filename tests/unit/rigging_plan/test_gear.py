"""The gear list: counts by hand."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

import pytest

from boscage.model.rig import Stem
from boscage.model.rig_plan import BuiltSupport, NetProfile, RiggedContact, RiggingOptions, Tie
from boscage.model.soil import APRON_STAKES, HOLDFASTS, ApronStakes, StakeAnswer
from boscage.rigging.gear import GUY_STAKE_M, MASSES, PICKET_M, StakeKinds, list_gear

NET = NetProfile(height_m=1.524, netting_m=2.4384, mass_kg=22.68)


def contact(number, stock_m, needed_m=1.5):
    return RiggedContact(
        number=number, x_m=0.0, y_m=0.0, stem=Stem(stem=str(number), x_m=0.0, y_m=0.0, dbh_m=0.2), bearing_deg=0.0,
        distance_m=3.0, check_from=1, check_m=2.0, turning_deg=60.0, pull_n=220.0, strap_m=needed_m,
        strap_stock_m=stock_m, standoff_m=0.1,
    )  # fmt: skip


def support(kind, *, stem=None, length_m=None):
    tie = None
    if length_m is not None:
        tie = Tie(stem=stem, x_m=0.0, y_m=0.0, length_m=length_m, angle_deg=45.0, bearing_deg=0.0, off_line_deg=0.0)
    return BuiltSupport(
        label="a", x_m=0.0, y_m=0.0, kind=kind, stem=stem, tie=tie, pull_n=100.0, bearing_deg=0.0, distance_m=3.0
    )


def kinds(count, kind="stake", also=()):
    return StakeKinds(count=count, apron=ApronStakes(kind=kind, times=1.0, why="", also=also))


def counted(contacts, supports, number, **options):
    gear = list_gear(NET, 18.288, contacts, supports, kinds(number), RiggingOptions(**options))
    by_name = defaultdict(list)
    for item in gear:
        by_name[item.item].append(item)
    return by_name


def test_two_straps_a_contact_by_stock_length_and_spares_in_the_longest():
    got = counted([contact(1, 2.0), contact(2, 2.5), contact(3, 2.0), contact(4, 2.0), contact(5, 2.0)], [], 10)[
        "strap"
    ]
    assert [(s.length_m, s.count) for s in got] == [(2.0, 8), (2.5, 3)]  # 10 straps, a tenth spare is 1
    assert got[1].mass_kg == pytest.approx(2.5 * MASSES["strap_a_metre"])
    more = counted([contact(k, 2.0) for k in range(1, 7)], [], 10)["strap"]
    assert more[0].count == 12 + 2  # a tenth of 12, rounded up


def test_a_strap_that_no_stock_covers_is_listed_at_the_length_it_needs():
    got = counted([contact(1, 2.0), contact(2, None, 9.7)], [], 10)["strap"]
    assert (got[-1].length_m, got[-1].count) == (9.7, 3)
    assert got[-1].note.startswith("longer than any in stock")


def test_stakes_have_spares_and_at_least_one():
    assert counted([contact(1, 2.0)], [], 11)["stake"][0].count == 13
    assert counted([contact(1, 2.0)], [], 10)["stake"][0].count == 11
    assert counted([contact(1, 2.0)], [], 5, spares=0.0)["stake"][0].count == 6


def test_lines_posts_and_what_goes_with_them():
    built = [
        support("sapling", stem="s", length_m=2.0), support("high_rope", stem="t", length_m=4.0), support("post"),
        support("guy_line", length_m=3.0),
    ]  # fmt: skip
    built[0] = support("sapling", length_m=2.0)
    got = counted([contact(1, 2.0)], built, 10)
    assert got["guy rope"][0].length_m == pytest.approx(2.0 + 4.0 + 3.0 + 3 * 1.0)
    assert got["guy rope"][0].mass_kg == pytest.approx(12.0 * MASSES["guy_rope_a_metre"])
    assert (got["guy stake"][0].count, got["guy stake"][0].length_m) == (
        3,
        GUY_STAKE_M,
    )  # two lines to stakes, one spare
    assert got["post"][0].count == 1
    assert got["tie cord"][0].count == 4
    assert got["carabiner"][0].count == got["strap"][0].count + 3
    assert "post driver" in got
    assert "throw line with weight" in got


@pytest.mark.parametrize("kind", list(APRON_STAKES))
def test_the_ground_decides_which_stakes_hold_the_apron(kind):
    """Kinds and masses of apron stakes: common practice, no source."""
    gear = list_gear(NET, 18.288, [contact(1, 2.0)], [], kinds(10, kind), RiggingOptions())
    by_name = {g.item: g for g in gear}
    found = by_name[APRON_STAKES[kind].title]
    assert found.count == 11 and found.mass_kg == APRON_STAKES[kind].mass_kg
    assert len({a.title for a in APRON_STAKES.values()} & set(by_name)) == 1
    assert ("sledge hammer" in by_name) == (kind == "steel pin")


def test_where_nobody_knows_the_ground_both_kinds_are_brought():
    gear = {g.item: g for g in list_gear(NET, 18.288, [contact(1, 2.0)], [], kinds(10, also=("steel pin",)),
                                         RiggingOptions())}  # fmt: skip
    assert gear["stake"].count == gear["steel pin"].count == 11
    assert "in case stakes do not hold" in gear["steel pin"].note and "in case" not in gear["stake"].note


def answered(pickets, count=1):
    held = next((h for h in HOLDFASTS if h.pickets == pickets), None)
    return StakeAnswer(pull_n=300.0, holdfast=held, count=count if held else 0, pickets=pickets * count if held else 0,
                       factor=1.0, holds_n=0.0, why="")  # fmt: skip


def test_lines_to_the_ground_take_the_pickets_that_the_soil_asks_for():
    lines = [support("guy_line", length_m=3.0) for _ in range(4)]
    said = (answered(1), answered(6, 2), answered(0), None)
    lines = [replace(s, tie=replace(s.tie, pickets=p)) for s, p in zip(lines, said, strict=True)]
    gear = {g.item: g for g in list_gear(NET, 18.288, [contact(1, 2.0)], lines, kinds(10), RiggingOptions())}
    assert (gear["picket"].count, gear["picket"].length_m) == (13 + 2, PICKET_M)
    assert gear["guy stake"].count == 2 + 1 and "test one" in gear["guy stake"].note
    assert "sledge hammer" in gear


def test_nothing_is_listed_that_is_not_needed():
    got = counted([contact(1, 2.0)], [], 10)
    assert not {"guy rope", "guy stake", "post", "tie cord", "post driver", "throw line with weight"} & set(got)
    assert {"mallet", "measuring tape", "compass", "knife"} <= set(got)


def test_every_mass_is_known_and_all_but_the_nets_say_that_they_are_to_be_weighed():
    gear = list_gear(NET, 18.288, [contact(1, 2.0)], [support("post")], kinds(10), RiggingOptions())
    assert gear[0].mass_kg == 22.68
    assert gear[0].length_m == 18.288
    assert all(g.mass_kg is not None and g.mass_kg > 0.0 for g in gear)
    assert all("weigh it" in g.note for g in gear[1:])
