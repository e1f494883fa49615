"""What pinned, added and rejected places come to, on squares whose right answer is plain."""

from __future__ import annotations

import datetime as dt
import tomllib
from dataclasses import replace

import numpy as np
import pytest
import scenes
import shapely

from boscage.errors import PlanError
from boscage.model.choices import Choice, PlacedChoice, apart_m, read_choices
from boscage.model.results import StopArea
from boscage.model.scene import RingField, Scene
from boscage.readers.choice_places import place_choices
from boscage.siting.choices import Chosen, rings_apart, weigh_choices
from boscage.siting.land import make_land
from boscage.siting.ranking import find_peaks, settle_on_rings

SPACING = 300.0
PERMISSION = ("permission", "no permission")


def placed(*rows: tuple[str, float, float], **more: object) -> tuple[PlacedChoice, ...]:
    """Choices at local places (east, north of the square's south-west corner)."""
    made = []
    for n, (kind, u, v) in enumerate(rows, start=1):
        choice = Choice(site=f"S{n}", at=(0.0, 0.0), choice=kind, reason="a reason", date=dt.date(2026, 11, 20))
        made.append(PlacedChoice(choice=replace(choice, **more), row=n, x_m=scenes.X + u, y_m=scenes.Y + v))
    return tuple(made)


def stop(name: str, title: str, shape: shapely.Geometry, *, applied: bool = True) -> StopArea:
    moved = shapely.transform(shape, lambda c: c + (scenes.X, scenes.Y))
    return StopArea(
        name=name, title=title, hectares=1.0, geometry=moved, rule=None, distance_m=None, stale=False, applied=applied
    )


def weighed(made: Scene, choices: tuple[PlacedChoice, ...], *stops: StopArea, score: float = 50.0) -> Chosen:
    values = np.full(made.grid.shape, score, np.float32)
    return weigh_choices(choices, values, made, make_land(made.vectors["parcels"].frame), stops, 20.0)


def two_owners() -> Scene:
    parcels = scenes.layer(
        "parcels", [scenes.square(0, 0, 1000, 2000), scenes.square(1000, 0, 2000, 2000)], parcel=["W", "E"],
        access=["granted", "refused"],
    )  # fmt: skip
    return scenes.scene(parcels=parcels)


def test_a_pinned_place_is_ranked_where_it_is_with_its_own_score() -> None:
    made = scenes.scene()
    values = np.full(made.grid.shape, 50.0, np.float32)
    values[made.grid.index(scenes.X + 704.9, scenes.Y + 501.2)] = 63.0
    land = make_land(made.vectors["parcels"].frame)
    chosen = weigh_choices(placed(("pin", 704.9, 501.2)), values, made, land, (), 20.0)
    (peak,), (outcome,) = chosen.peaks, chosen.outcomes
    assert (peak.x_m, peak.y_m, peak.score, peak.chosen) == (scenes.X + 704.9, scenes.Y + 501.2, 63.0, 1)
    assert (outcome.state, outcome.score) == ("ranked", 63.0)
    assert chosen.apart.tolist() == [[scenes.X + 704.9, scenes.Y + 501.2, SPACING]]


@pytest.mark.parametrize(("u", "inside"), [(399.9, True), (400.1, False)])
def test_a_stop_is_held_against_the_place_itself_and_not_its_cell(u: float, inside: bool) -> None:
    """The cell of both places is the same one, 10 m wide, with its middle at 395 m or 405 m."""
    near = stop("dwelling", "near a dwelling", scenes.square(0, 0, 400, 2000))
    chosen = weighed(scenes.scene(), placed(("add", u, 500.0)), near)
    (outcome,) = chosen.outcomes
    assert (outcome.state == "ruled out") == inside == (not chosen.peaks)
    assert outcome.stops == (("dwelling",) if inside else ())
    assert ("near a dwelling" in outcome.sentence) == inside


def test_every_stop_that_rules_it_out_is_named() -> None:
    both = (stop("water", "water and its edge", scenes.square(0, 0, 900, 900)),
            stop("steep", "floor too steep", scenes.square(0, 0, 900, 900)))  # fmt: skip
    (outcome,) = weighed(scenes.scene(), placed(("pin", 500.0, 500.0)), *both).outcomes
    assert outcome.stops == ("water", "steep")
    assert "water and its edge; floor too steep" in outcome.sentence


def test_a_stop_without_data_rules_nothing_out() -> None:
    idle = stop("dwelling", "near a dwelling", scenes.square(0, 0, 900, 900), applied=False)
    assert weighed(scenes.scene(), placed(("pin", 500.0, 500.0)), idle).peaks


def test_land_without_permission_is_never_ranked_even_with_the_stop_switched_off() -> None:
    made = two_owners()
    refused = stop("permission", "no permission", scenes.square(1000, 0, 2000, 2000))
    for stops, names in (((refused,), ("permission",)), ((), ())):
        chosen = weighed(made, placed(("pin", 500.0, 500.0), ("add", 1500.0, 500.0)), *stops)
        assert [o.state for o in chosen.outcomes] == ["ranked", "ruled out"]
        assert chosen.outcomes[1].stops == names
        assert chosen.outcomes[1].sentence.count("no permission") == 1


def test_a_place_off_the_ranch_says_so() -> None:
    choices = placed(("pin", 500.0, 500.0), ("pin", -50.0, 500.0), ("add", 1e7, 0.0))
    lost = replace(choices[0], row=4, x_m=float("inf"), y_m=float("inf"))
    outcomes = weighed(scenes.scene(), (*choices, lost)).outcomes
    assert [o.state for o in outcomes] == ["ranked", "ruled out", "ruled out", "ruled out"]
    assert all("none of the parcels" in o.sentence for o in outcomes[1:])


def test_too_few_data_are_a_reason_too() -> None:
    (outcome,) = weighed(scenes.scene(), placed(("pin", 500.0, 500.0)), score=float("nan")).outcomes
    assert outcome.state == "ruled out"
    assert outcome.score is None
    assert "sites.least_data" in outcome.sentence


def test_nothing_is_ranked_within_half_the_spacing_of_a_rejected_place() -> None:
    made = scenes.scene()
    chosen = weighed(made, placed(("reject", 1000.0, 1000.0), ("pin", 1149.0, 1000.0), ("pin", 1000.0, 851.0),
                                  ("add", 1000.0, 1150.0)))  # fmt: skip
    assert [o.state for o in chosen.outcomes] == ["rejected", "ruled out", "ruled out", "ranked"]
    assert "S1, rejected by hand on 2026-11-20: a reason" in chosen.outcomes[1].sentence
    score = np.full(made.grid.shape, 20.0, np.float32)
    rows, cols = np.mgrid[0 : made.grid.rows, 0 : made.grid.cols]
    x, y = made.grid.west + (cols + 0.5) * 10.0, made.grid.north - (rows + 0.5) * 10.0
    for u, v, high in ((1005, 1065, 60), (1005, 1255, 55), (1005, 1455, 50), (1165, 1005, 45), (305, 305, 40)):
        score += np.exp(-np.hypot(x - scenes.X - u, y - scenes.Y - v) / 50.0).astype(np.float32) * high
    free = find_peaks(score, made.grid, count=20, spacing_m=SPACING)
    kept = find_peaks(score, made.grid, count=20, spacing_m=SPACING, apart=chosen.apart)
    reject, pinned = (scenes.X + 1000.0, scenes.Y + 1000.0), (scenes.X + 1000.0, scenes.Y + 1150.0)
    assert np.hypot(free[0].x_m - reject[0], free[0].y_m - reject[1]) < 150.0, "without the choices it is the best"
    tops = [(round(p.x_m - scenes.X), round(p.y_m - scenes.Y)) for p in kept[:2]]
    assert tops == [(1005, 1455), (305, 305)], "the two nearer hills lie within 150 m and 300 m"
    for peak in kept:
        assert np.hypot(peak.x_m - reject[0], peak.y_m - reject[1]) >= 150.0
        assert np.hypot(peak.x_m - pinned[0], peak.y_m - pinned[1]) >= SPACING


def test_a_rejected_place_alone_keeps_the_best_hill_out() -> None:
    made = scenes.scene()
    chosen = weighed(made, placed(("reject", 1000.0, 1000.0)))
    score = np.full(made.grid.shape, 20.0, np.float32)
    score[made.grid.index(scenes.X + 1145.0, scenes.Y + 1000.0)] = 90.0
    score[made.grid.index(scenes.X + 1155.0, scenes.Y + 1100.0)] = 80.0
    (best,) = find_peaks(score, made.grid, count=1, spacing_m=SPACING)
    (kept,) = find_peaks(score, made.grid, count=1, spacing_m=SPACING, apart=chosen.apart)
    assert (best.score, kept.score) == (90.0, 80.0)


def test_places_do_not_settle_on_rings_that_are_kept_out() -> None:
    made = scenes.scene()
    x = np.array([scenes.X + 500.0, scenes.X + 515.0])
    y = np.full(2, scenes.Y + 500.0)
    rings = RingField(
        x_m=x, y_m=y, score=np.array([60.0, 90.0]), contacts=np.array([5, 5]), built_supports=np.array([0, 0]),
        mapped=np.ones(made.grid.shape, bool), note="",
    )  # fmt: skip
    apart = np.array([[scenes.X + 665.0, scenes.Y + 500.0, 151.0]])
    kept = rings_apart(rings, apart)
    assert kept is not None
    assert kept.x_m.tolist() == [x[0]]
    score = np.full(made.grid.shape, 50.0, np.float32)
    peaks = weighed(replace(made, rings=rings), placed(("pin", 505.0, 500.0))).peaks
    (free,), (held,) = (
        settle_on_rings(list(peaks), r, score, made.grid, walk_m=20.0, spacing_m=SPACING) for r in (rings, kept)
    )
    assert (free.x_m, held.x_m) == (x[1], x[0])


def test_a_pinned_place_stays_and_tells_of_the_ring_within_a_walk() -> None:
    made = scenes.scene()
    at = np.array([scenes.X + 512.0, scenes.X + 560.0]), np.full(2, scenes.Y + 500.0)
    rings = RingField(
        x_m=at[0], y_m=at[1], score=np.array([60.0, 90.0]), contacts=np.array([5, 5]), built_supports=np.array([0, 0]),
        mapped=np.ones(made.grid.shape, bool), note="",
    )  # fmt: skip
    near, far = weighed(replace(made, rings=rings), placed(("pin", 500.0, 500.0), ("pin", 900.0, 500.0))).peaks
    assert (near.x_m, near.ring_score) == (scenes.X + 500.0, 60.0)
    assert far.ring_score is None


ROW = '[[choices]]\nsite = "DH-03"\nat = [-92.7, 36.2]\nchoice = "pin"\n'
REJECT = '[[choices]]\nat = [-92.71, 36.2]\nchoice = "reject"\nreason = "too wet"\ndate = 2026-11-20\n'


def choices_of(text: str) -> tuple[Choice, ...]:
    return read_choices(tomllib.loads(text)["choices"], file="plan.toml")


def test_choices_are_read_in_order() -> None:
    pin, reject = choices_of(ROW + REJECT)
    assert (pin.site, pin.lon, pin.lat, pin.choice, pin.reason, pin.date) == ("DH-03", -92.7, 36.2, "pin", None, None)
    assert (reject.reason, reject.date) == ("too wet", dt.date(2026, 11, 20))
    assert reject.told() == "rejected by hand on 2026-11-20: too wet"
    assert pin.told(named=True) == "pinned by hand as DH-03, day not stated: no reason stated"


BAD = {
    "one pair of brackets": (ROW.replace("[[", "[").replace("]]", "]"), "field choices: choices is no list of tables"),
    "swapped": (ROW + REJECT.replace("[-92.71, 36.2]", "[36.2, -92.71]"),
                "plan.toml, row 2, field choices.at: the place is [36.2, -92.71]; expected [longitude, latitude] in "
                "degrees; exchange the two numbers."),
    "one number": (ROW.replace("[-92.7, 36.2]", "[-92.7]"), "row 1, field choices.at: the list has 1 entries"),
    "text": (ROW.replace("[-92.7, 36.2]", '["w", "n"]'), 'row 1, field choices.at: the value is "w"'),
    "unknown word": (ROW.replace('"pin"', '"pinn"'), 'expected "pin" or "reject" or "add"'),
    "unknown key": (ROW + "why = 'x'\n", "row 1, field choices.why: there is no such key"),
    "no place": (REJECT + ROW.replace("at = [-92.7, 36.2]\n", ""), "row 2, field choices.at: the key is missing"),
    "rejected without a reason": (REJECT.replace('reason = "too wet"', ""), "row 1, field choices.reason"),
    "added without a name": (ROW.replace('site = "DH-03"', "").replace('"pin"', '"add"'), "row 1, field choices.site"),
    "two at one place": (ROW + REJECT.replace("-92.71", "-92.700001"),
                         "row 2, field choices.at: the place is rejected here and pinned in row 1"),
    "two of one name": (ROW.replace('"pin"', '"add"') + ROW.replace('"pin"', '"add"').replace("-92.7", "-92.8"),
                        "row 2, field choices.site: the added place is named 'DH-03', as is that of row 1"),
}  # fmt: skip


@pytest.mark.parametrize(("text", "said"), BAD.values(), ids=BAD)
def test_a_wrong_choice_is_one_sentence_with_row_and_key(text: str, said: str) -> None:
    with pytest.raises(PlanError) as caught:
        choices_of(text)
    assert said in str(caught.value)
    assert caught.value.file == "plan.toml"


def test_places_in_metres_agree_with_the_geodesic() -> None:
    """Against Geod of PROJ (WGS 84), the flat distance on a sphere of 6,371 km that twins are told by."""
    from pyproj import Geod

    one, other = choices_of(ROW + REJECT)
    true_m = Geod(ellps="WGS84").inv(one.lon, one.lat, other.lon, other.lat)[2]
    assert apart_m(one, other) == pytest.approx(true_m, rel=0.005)
    first, second = place_choices((one, other), "EPSG:32615")
    assert np.hypot(first.x_m - second.x_m, first.y_m - second.y_m) == pytest.approx(true_m, rel=0.0005)
    assert (first.row, second.row) == (1, 2)
    assert place_choices((), "EPSG:32615") == ()
