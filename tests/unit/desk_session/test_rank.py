"""The ranking under other weights and choices is that of a run with them."""

from __future__ import annotations

import datetime as dt
import pickle
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import scenes
import tiny_ranch as tiny
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pyproj import Transformer

from boscage.errors import InputError
from boscage.model.choices import Choice
from boscage.model.desk_answers import RankAnswer, SiteEdits
from boscage.model.factor import Measure
from boscage.model.layers import LayerReport, LayerSet
from boscage.model.plan import LAYER_NAMES
from boscage.model.results import ScoutResult
from boscage.model.scene import RingField
from boscage.pipeline.desk_session import Session
from boscage.pipeline.ranch import Inputs, Ranch
from boscage.pipeline.ranking import _pick_places
from boscage.pipeline.scout import scout
from boscage.plugins import load_factors
from boscage.siting.land import make_land
from boscage.siting.sites import RatedFactor

FACTORS = ("access", "concealment", "cover", "floor", "ground", "timber", "use", "water")
WEIGHTS = {"cover": 0.5, "water": 6.0, "access": 4.25, "timber": 0.0}


def told(answer: RankAnswer) -> list[tuple]:
    return [(s.site, s.rank, s.score, s.x_m, s.y_m, s.parcel, s.bars, s.why, s.flags, s.support) for s in answer.sites]


def run(result: ScoutResult) -> list[tuple]:
    return [
        (s.site, s.rank, s.exact_score, s.place.x_m, s.place.y_m, s.parcel, s.readings, s.why, s.flags, s.support)
        for s in result.sites
    ]


def places(answer: RankAnswer) -> list[tuple[float, float]]:
    return [(s.x_m, s.y_m) for s in answer.sites]


def test_the_first_ranking_is_that_of_a_run(session: Session, plan: Path, tmp_path: Path) -> None:
    assert told(session.rank()) == run(scout(plan, out=tmp_path, sheets=False))


def test_other_weights_give_the_ranking_of_a_plan_with_them(again: Session, copy: Callable[..., Path]) -> None:
    tables = "".join(f"[factors.{name}]\nweight = {weight}\n" for name, weight in WEIGHTS.items())
    target = copy(more=tables)
    answer = again.rank(SiteEdits(weights=WEIGHTS))
    expected = scout(target, out=target.parent / "out", sheets=False)
    assert told(answer) == run(expected)
    assert places(answer) != places(again.rank()), "the weights matter"
    assert answer.weights == expected.factor_weights
    assert "timber" not in answer.weights


def test_a_factor_that_the_plan_leaves_out_comes_in_when_it_gets_weight(
    copy: Callable[..., Path], again: Session
) -> None:
    without = Session.open(copy(more="[factors.cover]\nweight = 0\n"))
    rows = {f.name: f for f in without.opened().factors}
    assert (rows["cover"].weight, rows["cover"].is_known) == (0.0, None)
    assert "cover" not in without.rank().weights
    mixed = without.rank(SiteEdits(weights={"cover": 3.0}))
    own = {f.name: f.weight for f in again.opened().factors}
    assert places(mixed) == places(again.rank(SiteEdits(weights={**own, "cover": 3.0})))


def test_choices_give_the_ranking_of_a_plan_with_them(again: Session, copy: Callable[..., Path]) -> None:
    to_wgs = Transformer.from_crs(tiny.UTM, "EPSG:4326", always_xy=True)
    first, second = again.rank().sites[:2]
    lon, lat = to_wgs.transform(*tiny.place(tiny.Variant(), *tiny.HOUSE))
    added = to_wgs.transform(*tiny.place(tiny.Variant(), 1000.0, 2500.0))
    choices = (
        Choice(at=(first.lon, first.lat), choice="reject", reason="a hunter's stand", date=dt.date(2026, 11, 20)),
        Choice(at=(second.lon, second.lat), choice="pin", reason="good oaks"),
        Choice(at=(lon, lat), choice="pin"), Choice(at=added, choice="add", site="the old orchard"),
    )  # fmt: skip
    answer = again.rank(SiteEdits(choices=choices))
    rows = []
    for c in choices:
        more = "".join(f'{k} = "{v}"\n' for k, v in (("reason", c.reason), ("site", c.site)) if v)
        more += f"date = {c.date}\n" if c.date else ""
        rows.append(f'[[choices]]\nat = [{c.lon!r}, {c.lat!r}]\nchoice = "{c.choice}"\n{more}')
    target = copy(more="".join(rows))
    result = scout(target, out=target.parent / "out", sheets=False)
    assert told(answer) == run(result)
    assert [o.state for o in (*answer.rejected, *answer.ruled_out)] == ["rejected", "ruled out"]
    assert answer.ruled_out[0].stops == ("dwelling",)
    assert sum(s.pinned for s in answer.sites) == 1
    assert sum(s.by_hand for s in answer.sites) == 1
    assert all(np.hypot(s.x_m - first.x_m, s.y_m - first.y_m) >= 100.0 for s in answer.sites), "half the spacing"
    assert again.rank().rejected == (), "the plan's own choices hold again"


def test_steadiness_follows_and_keeps_the_ranking(again: Session) -> None:
    edits = SiteEdits(weights={"cover": 4.0})
    answer = again.rank(edits)
    assert all(s.top_rank_share is None and not s.label for s in answer.sites)
    steady = again.steadiness(edits)
    assert steady.ranking == answer.ranking
    assert told(steady) == told(answer)
    assert sum(s.top_rank_share or 0.0 for s in steady.sites) == pytest.approx(1.0)
    assert all(s.label and s.low_rank <= s.high_rank for s in steady.sites)
    assert again.steadiness().sites == steady.sites, "without edits it is of the last ranking"
    other = again.steadiness(SiteEdits(weights=WEIGHTS))
    assert other.ranking == answer.ranking + 1, "of other weights it is a ranking of its own"
    assert places(other) == places(again.rank(SiteEdits(weights=WEIGHTS)))


def test_no_place_settles_on_a_ring_near_a_rejected_one(tmp_path: Path) -> None:
    """The best place lies 10 m outside the circle round a rejected one, and the ring that it would walk to inside."""
    made = scenes.scene(side=1000.0)
    rows, cols = np.mgrid[0:100, 0:100]
    top = made.grid.index(scenes.X + 665.0, scenes.Y + 505.0)
    values = np.maximum(0.0, 1.0 - np.hypot(rows - top[0], cols - top[1]) / 150.0).astype(np.float32)
    rings = RingField(
        x_m=np.array([scenes.X + 646.0]), y_m=np.array([scenes.Y + 505.0]), score=np.array([90.0]),
        contacts=np.array([6]), built_supports=np.array([0]), mapped=np.ones((100, 100), bool), note="",
    )  # fmt: skip
    to_wgs = Transformer.from_crs(scenes.CRS, "EPSG:4326", always_xy=True)
    at = to_wgs.transform(scenes.X + 505.0, scenes.Y + 505.0)
    factor, options = load_factors(made.plan)[0]
    rated = (RatedFactor(factor=factor, options=options, measure=Measure(values=values)),)
    reject = Choice(at=at, choice="reject", reason="no")
    for choices, ring in (((), 90.0), ((reject,), None)):
        plan = replace(made.plan, choices=choices)
        reports = tuple(LayerReport(name=n, state="missing", read="") for n in LAYER_NAMES)
        layers = LayerSet(vectors=made.vectors, rasters={}, reports=reports, crs=scenes.CRS, ranch=made.grid.bounds)
        inputs = Inputs(plan=plan, factors=[], weighting=None, rules={}, layers=layers, ground=None)  # type: ignore[arg-type]
        ranch = Ranch(
            inputs=inputs, land=make_land(made.vectors["parcels"].frame), scene=replace(made, rings=rings), stops=(),
            stopped=np.zeros((100, 100), bool), rated=rated,
        )  # fmt: skip
        _, peaks, _ = _pick_places(ranch)
        assert peaks[0].ring_score == ring
        assert np.hypot(peaks[0].x_m - scenes.X - 505.0, peaks[0].y_m - scenes.Y - 505.0) >= (150.0 if choices else 0.0)


def test_rankings_are_counted_and_say_what_is_new_in_them(again: Session) -> None:
    before = again.rank()
    same = again.rank()
    other = again.rank(SiteEdits(weights=WEIGHTS))
    assert (same.ranking, other.ranking) == (before.ranking + 1, before.ranking + 2)
    assert same.moved == ()
    new = [s.site for s in other.sites if (s.x_m, s.y_m) not in places(same)]
    assert list(other.moved) == new and new


@pytest.mark.parametrize(
    ("weights", "words"),
    [({"covr": 1.0}, "there is no factor covr"), ({"cover": -1.0}, "-1"), ({"cover": float("nan")}, "nan"),
     (dict.fromkeys(FACTORS, 0.0), "every factor has the weight 0")],
)  # fmt: skip
def test_wrong_weights_are_refused_and_change_nothing(again: Session, weights: dict, words: str) -> None:
    before = again.rank()
    with pytest.raises(InputError, match=words):
        again.rank(SiteEdits(weights=weights))
    assert again.steadiness().ranking == before.ranking


def test_no_site_says_why(copy: Callable[..., Path]) -> None:
    empty = Session.open(copy(('dwelling = "300m"', 'dwelling = "9000m"')))
    answer = empty.rank()
    assert answer.sites == ()
    assert "near a dwelling" in answer.reason
    assert empty.steadiness().sites == ()


def test_an_answer_is_small_and_goes_between_processes(again: Session) -> None:
    for one in (again.rank(), again.steadiness(), again.opened()):
        sent = pickle.dumps(one)
        assert len(sent) < 60_000
        assert pickle.loads(sent) == one


weight = st.floats(0.05, 20.0).map(lambda w: round(w, 3))
some = st.dictionaries(st.sampled_from(FACTORS), weight, min_size=1)
checked = settings(
    max_examples=25, deadline=None, derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)  # fmt: skip


@checked
@given(weights=some, order=st.permutations(FACTORS))
def test_the_order_in_which_weights_are_given_changes_nothing(session: Session, weights: dict, order: list) -> None:
    turned = {name: weights[name] for name in order if name in weights}
    assert told(session.rank(SiteEdits(weights=weights))) == told(session.rank(SiteEdits(weights=turned)))


@checked
@given(weights=st.fixed_dictionaries(dict.fromkeys(FACTORS, weight)), power=st.integers(-4, 4))
def test_all_weights_times_a_constant_change_nothing(session: Session, weights: dict, power: int) -> None:
    """A power of two is exact in single precision, so that even the scores are the same."""
    scaled = {name: w * 2.0**power for name, w in weights.items()}
    plain, other = session.rank(SiteEdits(weights=weights)), session.rank(SiteEdits(weights=scaled))
    assert places(plain) == places(other)
    assert [s.score for s in plain.sites] == [s.score for s in other.sites]


@checked
@given(weights=st.fixed_dictionaries(dict.fromkeys(FACTORS, weight)), times=st.floats(0.1, 40.0))
def test_other_constants_change_scores_by_rounding_alone(session: Session, weights: dict, times: float) -> None:
    scaled = {name: w * times for name, w in weights.items()}
    plain, other = session.rank(SiteEdits(weights=weights)), session.rank(SiteEdits(weights=scaled))
    assert [s.score for s in plain.sites] == pytest.approx([s.score for s in other.sites], abs=2e-3)


@checked
@given(weights=some)
def test_points_add_up_to_the_score_and_sites_keep_their_distance(session: Session, weights: dict) -> None:
    answer = session.rank(SiteEdits(weights=weights))
    for n, site in enumerate(answer.sites):
        assert sum(b.points for b in site.bars) == pytest.approx(site.score, abs=1e-3)
        assert {b.name: b.weight for b in site.bars} == answer.weights
        for other in answer.sites[:n]:
            assert np.hypot(site.x_m - other.x_m, site.y_m - other.y_m) >= 200.0
    scores = [s.score for s in answer.sites]
    assert scores == sorted(scores, reverse=True)
