"""What is told of a place: at a ranked site the same as a run tells, elsewhere as much as is known and no more."""

from __future__ import annotations

import json
import math
import pickle
import shutil
from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import shapely
import tiny_ranch as tiny

from boscage.model.desk import TileRequest
from boscage.model.desk_answers import PlaceAnswer, SiteEdits
from boscage.model.journey import Journey
from boscage.pipeline.desk_places import HERE, MIDDLE, OFF_GRID
from boscage.pipeline.desk_session import Session
from boscage.pipeline.ranking import rank_ranch
from boscage.pipeline.scout import scout


def ask(session: Session, local: tuple[float, float], *, with_ways: bool = False) -> PlaceAnswer:
    return session.place(*tiny.place(tiny.Variant(), *local), with_ways=with_ways)


def test_at_a_ranked_site_it_says_what_the_run_says(again: Session, copy: Callable[..., Path]) -> None:
    target = copy()
    run = scout(target, out=target.parent / "out", sheets=False)
    for site in run.sites:
        told = again.place(site.place.x_m, site.place.y_m)
        assert told.readings == site.readings
        assert told.score == pytest.approx(site.exact_score, abs=1e-3)
        assert (told.ddm, told.usng, told.decimal) == (site.place.ddm, site.place.usng, site.place.decimal)
        assert (told.parcel, told.owner, told.access) == (site.parcel, site.owner, "granted")
        assert told.hazards == site.hazards
        assert told.elevation_m == site.elevation_m
        assert told.support == site.support_note
        assert told.stops == ()
        assert (told.nearest_site, told.nearest_m) == (site.site, 0.0)
        assert isinstance(site.journey, Journey)
        assert np.array_equal(np.array(told.way_line), site.journey.line)
        assert f"Start: {site.journey.start}." in told.way
        assert any(f"In {site.journey.minutes_in:.0f} min" in line for line in told.way)
        assert site.exposure is not None
        assert any("within 600 m" in line for line in told.seen)
        if len(site.exposure.watchers):
            assert len(told.seen) >= 2 + len(site.exposure.worst)
        else:
            assert "NOT the same as none" in told.seen[0]


@pytest.mark.parametrize(
    ("local", "names"),
    [(tiny.HOUSE, {"dwelling"}), (tiny.REFUSED, {"permission"}), (tiny.A, set()), ((1500.0, 130.0), {"public_road"})],
)  # fmt: skip
def test_every_stop_at_a_place_comes_with_its_rule(again: Session, local: tuple[float, float], names: set) -> None:
    told = ask(again, local)
    found = {s.name for s in told.stops}
    assert names <= found | {"public_road"} if not names - {"public_road"} else names <= found
    for stop in told.stops:
        assert stop.title and stop.where == HERE
        if stop.rule:
            assert stop.citation and stop.checked and stop.grade in "VRCMP"
    if "dwelling" in names:
        stop = next(s for s in told.stops if s.name == "dwelling")
        assert "300 m" in stop.reason
        assert told.score is not None, "a place that is ruled out has a score of its own all the same"
    assert told.access == ("refused" if local == tiny.REFUSED else "granted")


def test_stops_without_data_are_told_and_never_as_good_news(again: Session) -> None:
    told = ask(again, tiny.A)
    assert len(told.not_applied) >= 2
    for line in told.not_applied:
        assert "STOP NOT APPLIED" in line and "NOT the same as none" in line
    words = " ".join((*told.not_applied, *told.ground, *told.seen, *told.way)).lower()
    assert " safe" not in words and " clear" not in words


def test_a_place_whose_cell_is_ruled_out_by_its_middle_says_so(again: Session) -> None:
    """Stops are held against places and, in the ranking, against the middles of cells."""
    grid, stopped = again.ranch.scene.grid, again.ranch.stopped & again.ranch.scene.granted
    wide = next(s for s in again.ranch.stops if s.name == "dwelling").geometry

    rows, cols = np.nonzero(stopped)
    for row, col in zip(rows.tolist(), cols.tolist(), strict=True):
        x, y = grid.centre(row, col)
        corners = [(x + a, y + b) for a in (-4.9, 4.9) for b in (-4.9, 4.9)]
        outside = [c for c in corners if not any(s.geometry.intersects(shapely.Point(c)) for s in again.ranch.stops)]
        if outside and wide.intersects(shapely.Point(x, y)):
            told = again.place(*outside[0], with_ways=False)
            assert [s.where for s in told.stops] == [MIDDLE]
            return
    raise AssertionError("no such cell on the rim of a stop")


def test_off_the_grid_and_off_the_parcels(again: Session) -> None:
    told = ask(again, (-9000.0, -9000.0), with_ways=True)
    assert (told.readings, told.score, told.score_note) == ((), None, OFF_GRID)
    assert (told.parcel, told.access, told.elevation_m) == ("", "", None)
    assert told.way == told.seen == (OFF_GRID,)
    assert told.usng and told.nearest_m is not None and told.nearest_m > 9000.0
    margin = ask(again, (-300.0, 1500.0))
    assert margin.access == "" and len(margin.readings) == 8


def test_the_weights_of_the_ranking_that_is_shown_hold(again: Session) -> None:
    plain = ask(again, tiny.A)
    again.rank(SiteEdits(weights={"cover": 9.0, "timber": 0.0}))
    other = ask(again, tiny.A)
    assert {r.name: r.weight for r in other.readings}["cover"] == 9.0
    assert "timber" not in {r.name for r in other.readings}
    assert other.score != plain.score
    again.rank()
    assert ask(again, tiny.A).readings == plain.readings


def test_without_a_factor_for_it_way_and_sight_are_said_to_be_not_asked(again: Session) -> None:
    again.rank(SiteEdits(weights={"access": 0.0, "concealment": 0.0}))
    told = ask(again, tiny.A, with_ways=True)
    again.rank()
    assert told.has_ways and told.way_line == ()
    assert "not worked out" in told.way[0] and "`access`" in told.way[0]
    assert "not worked out" in told.seen[0] and "`concealment`" in told.seen[0]
    assert ask(again, tiny.A).has_ways is False


def test_without_layers_it_says_that_they_are_missing(copy: Callable[..., Path]) -> None:
    bare = Session.open(copy(
        ('tracks = "tracks.gpkg"\n', ""), ('dwellings = "dwellings.gpkg"\n', ""), ('soils = "soils.gpkg"\n', ""),
        ('terrain = { path = "terrain.tif", unit = "m" }\n', ""),
    ))  # fmt: skip
    told = ask(bare, tiny.A, with_ways=True)
    assert told.elevation_m is None
    assert "No road or track" in told.way[0]
    assert "not known" in told.seen[0]
    assert told.ground == ("Ground: no soil map and no readings. Test a stake.",)
    assert any("DWELLING" in line and "NOT APPLIED" in line for line in told.not_applied)


def test_too_little_data_is_no_score_and_said(copy: Callable[..., Path]) -> None:
    bare = Session.open(copy(('soils = "soils.gpkg"\n', ""), ("count = 5", "count = 5\nleast_data = 0.99")))
    told = ask(bare, tiny.A)
    assert told.score is None and told.readings
    assert "sites.least_data asks for 99%" in told.score_note


def test_a_ranch_without_permission_is_shown_and_asked_all_the_same(plan: Path, tmp_path: Path) -> None:
    folder = tmp_path / "tiny"
    shutil.copytree(plan.parent, folder)
    parcels = gpd.read_file(folder / "parcels.gpkg")
    parcels.assign(access="refused").to_file(folder / "parcels.gpkg")
    closed = Session.open(folder / "plan.toml")
    told = ask(closed, tiny.A, with_ways=True)
    assert [s.name for s in told.stops][:1] == ["permission"]
    assert (told.access, told.hazards, told.nearest_site) == ("refused", (), "")
    assert closed.rank().reason.startswith("No parcel has granted access")
    assert closed.tile(TileRequest(zoom=1, col=0, row=0)).data


def test_the_gear_list_of_a_place_is_carried_there(plan: Path, tmp_path: Path) -> None:
    folder = tmp_path / "tiny"
    shutil.copytree(plan.parent, folder)
    x, y = tiny.place(tiny.Variant(), *tiny.A)
    corners = [{"x_m": x + dx, "y_m": y + dy} for dx, dy in ((2, 0), (-2, 0), (0, 2), (0, -2))]
    rig = {"contacts": corners, "gear": [{"item": "net", "count": 1, "length_m": None, "mass_kg": 61.0, "note": ""}]}
    (folder / "out" / "rig.json").write_text(json.dumps(rig), encoding="utf-8")
    told = Session.open(folder / "plan.toml").place(x, y)
    assert any("61 kg" in line and "gear list of this place" in line for line in told.way)


def test_it_is_the_same_answer_asked_twice_and_small(again: Session) -> None:
    first, second = (ask(again, (1000.0, 1234.0), with_ways=True) for _ in range(2))
    sent = pickle.dumps(first)
    assert len(sent) < 60_000
    assert {k: v for k, v in vars(first).items() if k != "wall_ms"} == {
        k: v for k, v in vars(second).items() if k != "wall_ms"
    }
    assert pickle.loads(sent) == first


def test_the_score_of_a_place_is_that_of_its_cell_in_the_ranking(again: Session) -> None:
    result = rank_ranch(again.ranch)
    rng = np.random.default_rng(2)
    for u, v in rng.random((30, 2)) * 3000.0:
        x, y = tiny.place(tiny.Variant(), float(u), float(v))
        told = again.place(x, y, with_ways=False)
        held = float(result.score[result.grid.index(x, y)])
        if not math.isnan(held):
            assert told.score == pytest.approx(held, abs=1e-3)
            assert told.stops == () or all(s.where == HERE for s in told.stops)
