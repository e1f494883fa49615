"""Concealment: who sees a set from where people are, and what missing data never do."""

from __future__ import annotations

import math
from dataclasses import replace

import brute_sight as brute
import numpy as np
import pytest
import scenes
import shapely

from boscage.factors.concealment import Concealment
from boscage.model.sight_plan import ConcealmentOptions
from boscage.sight.watchers import place_watchers, sample_lines
from boscage.values import Length, Printer

ONLY_ROAD = {"parcel_line_a_day": 0.0, "activity_share": 0.0}


def road(u: float = 305.0) -> object:
    line = shapely.LineString([(u, 0), (u, 1000)])
    return scenes.layer("tracks", [line], **{"class": ["road"], "public": [True], "name": ["County road"]})


def dwelling(u: float, v: float) -> object:
    return scenes.layer("dwellings", [shapely.Point(u, v)], name=["old house"])


def square(n: int = 100, **values: float) -> dict[str, np.ndarray]:
    return {name: np.full((n, n), v) for name, v in {"elevation": 300.0, **values}.items()}


def made_scene(**layers: object) -> object:
    surfaces = layers.pop("surfaces", square())
    return scenes.scene(side=1000.0, surfaces=surfaces, **layers)


def looks(made: object, u: float, v: float, figure: str = "net_looks", **options: object) -> float:
    found = Concealment().measure(made, ConcealmentOptions(**{**ONLY_ROAD, **options}))
    return float(found.figures[figure][scenes.at(made, u, v)])


def test_on_open_level_ground_every_look_within_reach_counts() -> None:
    """A road at 100 m: 2 sqrt(600**2 - 100**2) m of it within 600 m, cut by the ranch's edge; one look in 50 m."""
    made = made_scene(tracks=road())
    stretch = min(500.0, math.sqrt(600**2 - 100**2)) * 2
    assert looks(made, 405, 505) == pytest.approx(40.0 * stretch / 50.0, rel=0.01)


def test_spacing_of_the_samples_does_not_change_the_sum() -> None:
    made = made_scene(tracks=road())
    fine, rough = (looks(made, 405, 505, spacing=Length(s)) for s in (10.0, 50.0))
    assert fine == pytest.approx(rough, rel=0.02)


def test_a_dwelling_through_full_cover_is_one_tenth_at_200_ft() -> None:
    """Hiding cover: nine tenths hidden at 61 m; Thomas et al. (1979), USDA Agriculture Handbook 553."""
    made = made_scene(surfaces=square(cover=100.0, canopy_top=15.0), dwellings=dwelling(205, 505))
    at_60 = looks(made, 265, 505)
    assert at_60 == pytest.approx(20.0 * 10 ** (-60.0 / 60.96), rel=1e-3)
    half = made_scene(surfaces=square(cover=50.0, canopy_top=15.0), dwellings=dwelling(205, 505))
    assert looks(half, 265, 505) == pytest.approx(20.0 * 10 ** (-30.0 / 60.96), rel=1e-3)


def test_a_hill_between_hides() -> None:
    surfaces = square()
    surfaces["elevation"][:, 35:38] += 15.0
    made = made_scene(surfaces=surfaces, tracks=road())
    assert looks(made, 505, 505) == 0.0
    assert looks(made, 325, 505) > 100.0


def test_a_set_is_not_hidden_because_canopy_data_are_missing() -> None:
    """No cover at all, cover missing in part, and height missing: nothing unknown hides."""
    open_looks = looks(made_scene(tracks=road()), 505, 505)
    unknown = square(cover=np.nan, canopy_top=np.nan)
    made = made_scene(surfaces=unknown, tracks=road())
    assert looks(made, 505, 505) == pytest.approx(open_looks)
    found = Concealment().measure(made, ConcealmentOptions())
    assert any("hides nothing" in note for note in found.notes)
    assert any(
        "nothing hides" in n for n in Concealment().measure(made_scene(tracks=road()), ConcealmentOptions()).notes
    )
    only_height = square(canopy_top=15.0)
    assert looks(made_scene(surfaces=only_height, tracks=road()), 505, 505) == pytest.approx(open_looks)
    no_height = square(cover=100.0)
    made = made_scene(surfaces=no_height, tracks=road())
    assert looks(made, 505, 505) < 0.2 * open_looks
    for units, words in (("metric", "taken as 6 m for"), ("us", "taken as 20 ft for")):
        ranch = replace(made.plan.ranch, units=units)
        found = Concealment().measure(replace(made, plan=replace(made.plan, ranch=ranch)), ConcealmentOptions())
        assert any(words in n for n in found.notes)


def test_missing_terrain_is_said_and_fills_no_hill() -> None:
    surfaces = square()
    surfaces["elevation"][:, 35:38] = np.nan
    made = made_scene(surfaces=surfaces, tracks=road())
    assert looks(made, 505, 505) == pytest.approx(looks(made_scene(tracks=road()), 505, 505))
    found = Concealment().measure(made, ConcealmentOptions())
    assert any("terrain is not mapped" in note for note in found.notes)
    bare = scenes.scene(side=1000.0, surfaces={}, tracks=road())
    assert any("No terrain" in note for note in Concealment().measure(bare, ConcealmentOptions()).notes)


def test_without_roads_and_dwellings_there_is_no_value_and_one_missing_is_said() -> None:
    none = Concealment().measure(made_scene(), ConcealmentOptions())
    assert np.isnan(none.values).all()
    assert "not known" in Concealment().sentence(dict.fromkeys(("net_looks", "activity_looks"), math.nan),
                                                 ConcealmentOptions(), Printer())  # fmt: skip
    part = Concealment().measure(made_scene(dwellings=dwelling(205, 505)), ConcealmentOptions())
    assert any("roads, tracks or trails" in note for note in part.notes)
    assert Concealment().exposures(made_scene(), ConcealmentOptions(), [(0.0, 0.0)]) == ()


def test_people_too_far_off_the_ranch_are_counted_as_left_out() -> None:
    far = shapely.LineString([(-300, 0), (-300, 1000)])
    made = made_scene(tracks=scenes.layer("tracks", [far], **{"class": ["road"], "public": [True]}))
    found = Concealment().measure(made, ConcealmentOptions(parcel_line_a_day=0.0))
    assert any("40 sampled places lie too far off" in note for note in found.notes)


def test_the_exposure_adds_up_to_the_field_and_names_the_worst() -> None:
    rng = np.random.default_rng(5)
    surfaces = square(canopy_top=12.0)
    surfaces["elevation"] = 300.0 + brute.fractal(100, 5, relief_m=25.0, roughness=3.0)
    surfaces["cover"] = rng.uniform(0, 40, (100, 100))
    made = made_scene(surfaces=surfaces, tracks=road(), dwellings=dwelling(605, 755))
    options = ConcealmentOptions()
    place = made.grid.centre(*scenes.at(made, 455, 505))
    exposure = Concealment().exposures(made, options, [place])[0]
    found = Concealment().measure(made, options)
    field = found.figures["net_looks"][scenes.at(made, 455, 505)]
    assert exposure.net_looks == pytest.approx(float(field), rel=0.05)
    assert exposure.net_looks == pytest.approx(sum(exposure.shares * _looks(made, options, place)))
    assert 1 <= len(exposure.worst) <= 3
    assert exposure.worst[0].kind == "public road"
    assert exposure.worst[0].name == "County road"
    assert exposure.worst[0].looks >= exposure.worst[-1].looks
    for a, b in zip(exposure.worst, exposure.worst[1:], strict=False):
        assert math.hypot(a.x_m - b.x_m, a.y_m - b.y_m) >= 50.0


def _looks(made: object, options: ConcealmentOptions, place: tuple[float, float]) -> np.ndarray:
    watchers = place_watchers(made, options)
    return watchers.looks[np.hypot(*(watchers.xy - np.array(place)).T) <= options.within.m]


def test_samples_stand_for_the_whole_line() -> None:
    lines = np.array([shapely.LineString([(0, 0), (100, 0), (100, 30)]), shapely.Point(0, 0)], dtype=object)
    xy, stretch, of = sample_lines(lines, 25.0)
    assert len(xy) == 6
    assert stretch.sum() == pytest.approx(130.0)
    assert (of == 0).all()
    assert np.allclose(xy[0], (130 / 12, 0))


@pytest.mark.parametrize(
    ("net", "crew", "words"),
    [(0.0, 0.0, "No sampled place"), (0.01, 0.0, "under 0.1 times"),
     (3.21, 0.34, "about 3.2 times a day (net) and about 0.3"),
     (42.4, 4.2, "about 42 times")],
)  # fmt: skip
def test_the_sentence_counts_and_never_promises(net: float, crew: float, words: str) -> None:
    said = Concealment().sentence({"net_looks": net, "activity_looks": crew}, ConcealmentOptions(), Printer())
    assert words in said
    assert "1,970 ft" in said
    assert not {"safe", "clear", "hidden"} & set(said.lower().split())
