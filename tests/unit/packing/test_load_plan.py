"""From gear lists and carriers to the load plan."""

from __future__ import annotations

import pytest

from boscage.errors import PlanError
from boscage.model.options import read_options
from boscage.model.pack import LB, CarrierOptions, PackItem, PackOptions
from boscage.model.rig_plan import GearItem
from boscage.packing.load import NO_ROOM, OVER, UNKNOWN, grams, make_convoy, plan_loads
from boscage.packing.needs import list_needs, total_kg
from boscage.values import Mass

GEAR = (
    GearItem(item="net with its top rope", count=1, length_m=18.3, mass_kg=22.68),
    GearItem(item="strap", count=10, length_m=3.66, mass_kg=0.165),
    GearItem(item="strap", count=2, length_m=4.57, mass_kg=0.206),
    GearItem(item="picket", count=8, length_m=1.524, mass_kg=4.2),
    GearItem(item="sledge hammer", count=1, mass_kg=3.0),
)
ATV = CarrierOptions(
    parts={"front rack": Mass(40.0), "rear rack": Mass(80.0)}, gross=Mass(220.0), aboard=Mass(110.0)
)  # fmt: skip


def needs(**kw) -> tuple[PackItem, ...]:
    return list_needs({"DH-01": GEAR}, PackOptions(**kw))


def find(items, name: str) -> PackItem:
    return next(i for i in items if name in (i.item, i.label))


def test_water_is_reckoned_on_what_soaks_it_up() -> None:
    items = needs(wet=0.5)
    assert find(items, "net with its top rope").mass_kg == pytest.approx(34.02)
    assert find(items, "strap 3.66m").mass_kg == pytest.approx(0.2475)
    assert find(items, "picket").mass_kg == 4.2
    assert find(items, "net cutter").mass_kg == 0.3, "a tool soaks nothing, whatever its name"
    assert find(items, "bag of bait").total_kg == pytest.approx(2 * 50 * LB)


def test_everything_is_an_estimate_until_it_is_weighed() -> None:
    assert not any(i.weighed for i in needs())
    items = needs(weighed={"strap 3.66m": Mass(0.2), "net with its top rope": Mass(30.0)}, weighed_wet=True)
    strap, net = find(items, "strap 3.66m"), find(items, "net with its top rope")
    assert strap.weighed and strap.mass_kg == 0.2
    assert net.mass_kg == 30.0 and net.grade == ""
    assert not find(items, "strap 4.57m").weighed and find(items, "picket").grade == "C"
    assert find(needs(weighed={"net with its top rope": Mass(30.0)}), "net with its top rope").mass_kg == 40.5


@pytest.mark.parametrize(
    ("name", "words"), [("strap", "strap 3.66m, strap 4.57m"), ("nett", "there is no such key"), ("anvil", "anvil")]
)
def test_a_weighed_item_must_be_one_that_goes(name: str, words: str) -> None:
    with pytest.raises(PlanError, match=r"pack\.weighed") as caught:
        needs(weighed={name: Mass(1.0)})
    assert words in str(caught.value)


def test_counts_of_people_and_sites() -> None:
    items = list_needs({"A": GEAR, "B": GEAR}, PackOptions(people=3, cameras=0))
    assert [i.count for i in items if i.item == "protective equipment"] == [3]
    assert [i.site for i in items if i.item == "picket"] == ["A", "B"]
    assert not any(i.item == "camera" for i in items)


def test_every_piece_is_somewhere_and_no_limit_is_passed() -> None:
    items = list_needs({"A": GEAR, "B": GEAR}, PackOptions())
    plan = plan_loads(items, make_convoy(("atv",), {"atv": ATV}), PackOptions())
    counts = {id(i): 0 for i in items}
    for load in plan.loads:
        assert load.mass_kg <= load.limit_kg
        assert load.mass_kg >= sum(p.count * p.item.mass_kg for p in load.portions) - 1e-9
        for p in load.portions:
            counts[id(p.item)] += p.count
    assert all(counts[id(i)] == i.count for i in items)
    for trip in range(1, plan.trips + 1):
        assert sum(load.mass_kg for load in plan.loads if load.trip == trip) <= 110.0
    assert plan.trips == plan.lower_bound_trips and plan.is_fewest
    assert not plan.left_behind and not plan.over_limit
    assert plan.mass_kg == pytest.approx(total_kg(items)[0], abs=0.2)
    assert plan.estimated_kg == pytest.approx(total_kg(items)[0])


def test_what_is_too_heavy_is_named_and_never_split() -> None:
    plan = plan_loads(needs(wet=0.0), make_convoy(("back",), {}), PackOptions())
    assert [i.item for i in plan.over_limit] == ["net with its top rope", "bag of bait"]
    assert {(b.item.item, b.count) for b in plan.left_behind if b.reason == OVER} == {
        ("net with its top rope", 1), ("bag of bait", 2),
    }  # fmt: skip
    assert not any(p.item in plan.over_limit for load in plan.loads for p in load.portions)


def test_a_piece_at_the_limit_goes() -> None:
    """45 lb on a pack of 45 lb, but not a gram more."""
    convoy = make_convoy(("back",), {})
    just = PackItem(site="A", item="crate", count=1, dry_kg=45 * LB - 0.001)
    assert plan_loads([just], convoy, PackOptions()).trips == 1
    over = PackItem(site="A", item="crate", count=1, dry_kg=45 * LB + 0.001)
    assert plan_loads([over], convoy, PackOptions()).trips == 0
    assert grams(20.0) == 20000


def test_gross_less_what_is_aboard_binds_although_the_rack_would_take_it() -> None:
    heavy = CarrierOptions(parts={"rear rack": Mass(80.0)}, gross=Mass(160.0), aboard=Mass(110.0))
    crate = PackItem(site="A", item="crate", count=1, dry_kg=60.0)
    plan = plan_loads([crate], make_convoy(("q",), {"q": heavy}), PackOptions())
    assert [i.item for i in plan.over_limit] == ["crate"]


def test_an_unknown_mass_is_left_and_said() -> None:
    plan = plan_loads([PackItem(site="A", item="box", count=2, dry_kg=None)], make_convoy(("back",), {}), PackOptions())
    assert [(b.item.item, b.count, b.reason) for b in plan.left_behind] == [("box", 2, UNKNOWN)]
    assert plan.trips == plan.lower_bound_trips == 0


def test_within_one_trip_aid_and_the_first_ring_go_first() -> None:
    items = list_needs({"A": GEAR, "B": GEAR}, PackOptions())
    plan = plan_loads(items, make_convoy(("atv",), {"atv": ATV}), PackOptions(trips=1))
    assert plan.trips == 1 and plan.is_fewest and plan.lower_bound_trips > 1
    behind = {(b.item.site, b.item.item) for b in plan.left_behind}
    assert all(b.reason == NO_ROOM for b in plan.left_behind)
    assert not any(site == "A" and item in {g.item for g in GEAR} for site, item in behind)
    assert ("", "first aid kit") not in behind
    assert ("B", "net with its top rope") in behind or ("B", "picket") in behind
    gone = sum(p.count for load in plan.loads for p in load.portions)
    assert gone + sum(b.count for b in plan.left_behind) == sum(i.count for i in items)


def test_several_backs_go_together() -> None:
    back = CarrierOptions(kind="back", parts={"pack": Mass(20.0)}, body=Mass(54.0), count=2)
    convoy = make_convoy(("crew",), {"crew": back})
    assert [p.name for p in convoy.parts] == ["crew 1 pack", "crew 2 pack"]
    assert [p.limit_kg for p in convoy.parts] == [18.0, 18.0], "a third of the body weight"
    crates = PackItem(site="A", item="crate", count=3, dry_kg=18.0)
    assert plan_loads([crates], convoy, PackOptions()).trips == 2


def test_what_is_not_stated_is_said() -> None:
    notes = " ".join(make_convoy(("atv", "back"), {}).notes)
    assert "gross limit of atv is not stated" in notes
    assert "common practice without a source" in notes
    assert "Body weight for back is not stated" in notes
    assert make_convoy(("atv",), {"atv": ATV}).notes == ()


def test_a_helicopter_has_the_pilots_limit_or_none() -> None:
    ship = {"ship": CarrierOptions(kind="helicopter")}
    with pytest.raises(PlanError, match=r"carriers\.ship\.parts.*operator's load calculation"):
        make_convoy(("ship",), ship)
    assert make_convoy(("ship",), ship, load_limit_kg=180.0).parts[0].limit_kg == 180.0


def test_wrong_tables() -> None:
    with pytest.raises(PlanError, match="did you mean atv"):
        make_convoy(("atvv",), {})
    with pytest.raises(PlanError, match=r"carriers\.sled"):
        make_convoy(("sled",), {"sled": CarrierOptions(kind="sled")})
    with pytest.raises(PlanError, match="gross above what is aboard"):
        read_options(CarrierOptions, {"gross": "200kg", "aboard": "210kg"}, file="plan.toml", key="carriers.atv")
    with pytest.raises(PlanError, match="bait_bags"):
        read_options(PackOptions, {"bait_bags": -1}, file="plan.toml", key="pack")


def test_what_goes_whole_does_although_heaviest_first_would_leave_some(monkeypatch: pytest.MonkeyPatch) -> None:
    """Thirty pieces that fill nine trips of 100 kg, heaviest first eleven; a bag of 30 kg then finds no room."""
    monkeypatch.setattr("boscage.packing.load._SEARCHED", 0)
    sled = make_convoy(("sled",), {"sled": CarrierOptions(kind="sled", parts={"load": Mass(100.0)})})
    pieces = [
        PackItem(site="A", item=f"{kg} kg", count=n, dry_kg=float(kg))
        for kg, n in ((51, 6), (27, 6), (26, 6), (23, 12))
    ]  # fmt: skip
    bag = PackItem(site="A", item="bag of bait", count=1, dry_kg=30.0, purpose="bait")
    plan = plan_loads([*pieces, bag], sled, PackOptions(trips=9))
    assert [(b.item.item, b.count) for b in plan.left_behind] == [("bag of bait", 1)]
    assert plan.trips == 9 and plan.is_fewest and plan.lower_bound_trips == 10
