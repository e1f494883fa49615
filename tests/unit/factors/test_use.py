"""Use: fresh sign near a place counts, old sign fades, nothing recorded is not the same as none."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import scenes
import shapely
from scipy.stats import gaussian_kde

from boscage.factors.use import Use, UseOptions
from boscage.model.evidence import VisitPoint
from boscage.model.factor import Measure
from boscage.values import Printer


def sign(*rows: tuple[float, float, str, float | None]) -> object:
    ages = [math.nan if age is None else float(age) for *_, age in rows]
    return scenes.layer("sign", [shapely.Point(u, v) for u, v, *_ in rows], kind=[r[2] for r in rows], age_days=ages)


def measure(*rows: tuple[float, float, str, float | None], **options: object) -> tuple:
    made = scenes.scene(sign=sign(*rows))
    return made, Use().measure(made, UseOptions(**options))


def test_eighty_old_rootings_lose_to_five_fresh_signs() -> None:
    rng = np.random.default_rng(8)
    old = [(500 + du, 1000 + dv, "rooting", 90.0) for du, dv in rng.normal(0, 40, (80, 2))]
    fresh = [(1500 + du, 1000 + dv, "track", 1.0) for du, dv in rng.normal(0, 40, (5, 2))]
    made, found = measure(*old, *fresh)
    stale_value = found.values[scenes.at(made, 500, 1000)]
    fresh_value = found.values[scenes.at(made, 1500, 1000)]
    assert fresh_value > 0.5
    assert stale_value < 0.1


def test_density_is_that_of_scipy_on_the_same_weighted_points() -> None:
    """scipy.stats.gaussian_kde with weights, its covariance set to the same bandwidth in both directions."""
    rng = np.random.default_rng(9)
    rows = [(u, v, k, a) for (u, v), k, a in zip(rng.uniform(600, 1400, (30, 2)), ["bed", "scat", "rooting"] * 10,
            rng.integers(0, 20, 30), strict=True)]  # fmt: skip
    made, found = measure(*rows)
    options = UseOptions()
    weights = np.array([options.kinds[k] * 0.5 ** (a / options.half_life_days) for _, _, k, a in rows])
    points = np.array([(scenes.X + u, scenes.Y + v) for u, v, *_ in rows]).T
    kde = gaussian_kde(points, weights=weights)
    kde.covariance = np.eye(2) * options.bandwidth.m**2
    kde.cho_cov = np.linalg.cholesky(kde.covariance)
    for u, v in ((1000, 1000), (700, 1200), (1300, 650), (400, 400)):
        row, col = scenes.at(made, u, v)
        theirs = kde(np.array(made.grid.centre(row, col)))[0] * weights.sum() * 1e6
        assert found.figures["per_km2"][row, col] == pytest.approx(theirs, rel=2e-3, abs=1e-3)


def test_a_sign_loses_half_of_its_weight_in_a_half_life() -> None:
    made, fresh = measure((1000, 1000, "scat", 0))
    _, week = measure((1000, 1000, "scat", 7))
    here = scenes.at(made, 1000, 1000)
    assert week.figures["per_km2"][here] == pytest.approx(fresh.figures["per_km2"][here] / 2)


def test_a_bed_counts_more_than_rooting_and_the_plan_may_say_otherwise() -> None:
    made, bed = measure((1000, 1000, "bed", 0))
    _, damage = measure((1000, 1000, "rooting", 0))
    _, level = measure((1000, 1000, "rooting", 0), kinds={"rooting": 1.4})
    here = scenes.at(made, 1000, 1000)
    assert bed.figures["per_km2"][here] == pytest.approx(2 * damage.figures["per_km2"][here])
    assert level.figures["per_km2"][here] == pytest.approx(bed.figures["per_km2"][here])


def test_undated_sign_counts_as_old_and_future_sign_not_at_all() -> None:
    made, undated = measure((1000, 1000, "scat", None))
    _, old = measure((1000, 1000, "scat", 60))
    _, future = measure((1000, 1000, "scat", -3))
    here = scenes.at(made, 1000, 1000)
    assert undated.figures["per_km2"][here] == pytest.approx(old.figures["per_km2"][here])
    assert future.figures["per_km2"][here] == 0
    assert future.figures["near_count"][here] == 0


def test_what_is_near_is_counted_and_the_newest_is_told() -> None:
    made, found = measure((1000, 1000, "scat", 12), (1100, 1000, "bed", 3), (1000, 1500, "bed", 0))
    here = scenes.at(made, 1000, 1000)
    figures = {name: float(array[here]) for name, array in found.figures.items()}
    assert (figures["near_count"], figures["newest_days"]) == (2, 3)
    said = Use().sentence(figures, UseOptions(), Printer("us"))
    assert said.startswith("2 signs within 656 ft, the newest 3 days old; ")
    far = {name: float(array[scenes.at(made, 200, 200)]) for name, array in found.figures.items()}
    assert "not the same as searched and none found" in Use().sentence(far, UseOptions(), Printer("metric"))


def test_without_a_sign_layer_there_are_no_data() -> None:
    found = Use().measure(scenes.scene(), UseOptions())
    assert np.isnan(found.values).all()
    figures = {name: float(array[0, 0]) for name, array in found.figures.items()}
    assert Use().sentence(figures, UseOptions(), Printer()) == "No sign layer and no cameras: use not known."


def searched(*points: tuple[float, float], days: float = 3.0) -> object:
    return scenes.layer("searched", [shapely.LineString(points)], since_days=[days])


def test_nothing_found_where_somebody_looked_differs_from_nobody_looked() -> None:
    """Within a bandwidth of a walked line ground counts as looked at; an old walk no longer counts."""
    found_there = sign((1000, 1000, "track", 1.0))
    made = scenes.scene(sign=found_there, searched=searched((300, 100), (300, 1900)))
    found = Use().measure(made, UseOptions())
    near, far = scenes.at(made, 455, 1005), scenes.at(made, 1805, 1005)
    assert (found.figures["looked"][near], found.figures["looked"][far]) == (1.0, 0.0)
    assert found.values[far] == pytest.approx(0.0, abs=1e-3) and np.isfinite(found.values).all()
    said = [Use().sentence({n: float(a[p]) for n, a in found.figures.items()}, UseOptions(), Printer("us"))
            for p in (near, far)]  # fmt: skip
    assert said[0].startswith("Looked for sign within 656 ft in the last 14 days, and none found.")
    assert said[1] == "Nobody looked for sign within 656 ft in the last 14 days; it counts as none."
    long_ago = searched((300, 100), (300, 1900), days=30.0)
    old = Use().measure(scenes.scene(sign=found_there, searched=long_ago), UseOptions())
    assert old.figures["looked"][near] == 0.0


def test_a_night_on_camera_weighs_more_than_a_sign_and_fades_like_it() -> None:
    """Six fresh signs' worth by default: common practice, no source."""
    visit = VisitPoint(x_m=scenes.X + 1005, y_m=scenes.Y + 1005, days=0.0, size=9, deployment="d")
    at = scenes.at(scenes.scene(), 1005, 1005)

    def density(days: float | None, **layers: object) -> Measure:
        made = scenes.scene(**layers)
        made = made if days is None else replace(made, visits=(replace(visit, days=days),))
        return Use().measure(made, UseOptions())

    one = density(None, sign=sign((1005, 1005, "track", 0.0))).figures["per_km2"][at]
    fresh, week = density(0.0), density(7.0)
    assert fresh.figures["per_km2"][at] == pytest.approx(6.0 * one, rel=1e-5)
    assert week.figures["per_km2"][at] == pytest.approx(3.0 * one, rel=1e-5)
    assert (week.figures["visit_count"][at], week.figures["visit_days"][at]) == (1.0, 7.0)
    said = Use().sentence({n: float(a[at]) for n, a in fresh.figures.items()}, UseOptions(), Printer("us"))
    assert said.startswith("1 camera visit within 656 ft, the latest tonight; weighed by age and kind")
