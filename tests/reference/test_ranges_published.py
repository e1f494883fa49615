"""Ranges and surfaces against published areas, closed forms and scipy."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import gaussian_kde

from boscage.evidence.bandwidth import choose_bandwidth, cross_validation_score, reference_bandwidth
from boscage.evidence.ranges import convex_hull, isopleths
from boscage.evidence.surface import kernel_density
from boscage.values import Bounds, Grid

RELOCS = Path(__file__).parents[1] / "data" / "puechabon" / "relocs.csv"
BOARS = ("Brock", "Calou", "Chou", "Jean")


def fixes(name: str) -> np.ndarray:
    with RELOCS.open() as file:
        return np.array([(float(r["x_m"]), float(r["y_m"])) for r in csv.DictReader(file) if r["name"] == name])


def even(count: int) -> np.ndarray:
    return np.full(count, 1.0 / count)


@pytest.mark.parametrize(
    ("name", "count", "whole", "most", "half"),
    [
        ("Brock", 30, 40.59635, 22.6467, 9.68735),
        ("Calou", 19, 49.7505, 41.68815, 16.31155),
        ("Chou", 40, 162.8455, 71.93205, 26.7634),
        ("Jean", 30, 167.6369, 55.88415, 5.72115),
    ],
)
def test_convex_polygons_of_four_boars(name: str, count: int, whole: float, most: float, half: float) -> None:
    """adehabitat, puechabonsp: 100, 95 and 50 % of fixes, hectares; Calenge (2006), example of adehabitatHR."""
    points = fixes(name)
    assert len(points) == count
    found = [convex_hull(points, share).hectares for share in (1.0, 0.95, 0.5)]
    assert found == pytest.approx([whole, most, half], abs=1e-4)


@pytest.mark.parametrize(
    ("name", "metres"), [("Brock", 200.018), ("Calou", 169.690), ("Chou", 200.569), ("Jean", 235.751)]
)
def test_reference_bandwidths(name: str, metres: float) -> None:
    """h = 0.5 (sd_x + sd_y) n^(-1/6), the convention of adehabitat."""
    points = fixes(name)
    assert reference_bandwidth(points, even(len(points))) == pytest.approx(metres, abs=1e-3)
    found = choose_bandwidth(points, np.full(len(points), 3.0), "reference", fixed_m=1.0, least_m=1.0)
    assert (found.metres, found.rule) == (pytest.approx(metres, abs=1e-3), "reference")


@pytest.mark.parametrize(
    ("name", "areas"),
    [
        ("Brock", (196.30, 154.96, 48.85)),
        ("Calou", (178.91, 143.54, 45.43)),
        ("Chou", (258.51, 192.28, 57.41)),
        ("Jean", (210.26, 155.98, 37.14)),
    ],
)
def test_kernel_areas_of_four_boars(name: str, areas: tuple[float, float, float]) -> None:
    """95, 90 and 50 % of volume, h = 200 m, on a grid of 10 m, within 1 %."""
    points = fixes(name)
    box = Bounds(*points.min(axis=0), *points.max(axis=0)).padded(1200.0)
    grid = Grid.covering(box, cell_m=10.0, crs="EPSG:27573")
    density = kernel_density(points, even(len(points)), grid, 200.0)
    assert density.sum(dtype=float) * 100.0 == pytest.approx(1.0, abs=2e-5)
    found = [i.hectares for i in isopleths(density, 10.0, (0.95, 0.9, 0.5))]
    assert found == pytest.approx(areas, rel=0.01)


@pytest.mark.parametrize("share", [0.5, 0.9, 0.95, 0.99])
def test_one_fix_has_the_closed_form_area(share: float) -> None:
    """2 pi h^2 ln(1 / (1 - q)); h = 200 m, 95 %: 75.291 ha."""
    grid = Grid("EPSG:32615", 0.0, 3000.0, 10.0, 300, 300)
    density = kernel_density(np.array([[1503.0, 1497.0]]), np.ones(1), grid, 200.0)
    (found,) = isopleths(density, 10.0, (share,))
    assert found.hectares == pytest.approx(2 * math.pi * 4.0 * math.log(1 / (1 - share)), rel=0.002)


@pytest.mark.parametrize("alike", [False, True])
def test_isopleths_equal_sorting_the_cells(alike: bool) -> None:
    """Cells that are alike differ in the last bits only."""
    density = np.random.default_rng(2).exponential(1.0, (700, 90)).astype(np.float32) ** 3
    density = 1.0 + density * np.float32(1e-5) if alike else density
    density[5, 5] = np.nan
    for found in isopleths(density, 20.0, (0.1, 0.5, 0.95)):
        cells = np.sort(np.nan_to_num(density).ravel().astype(float))[::-1]
        summed = np.cumsum(cells)
        k = int(np.searchsorted(summed, found.share * summed[-1]))
        part = (found.share * summed[-1] - (summed[k - 1] if k else 0.0)) / cells[k]
        assert found.hectares == pytest.approx((k + part) * 0.04, rel=1e-9)
        assert found.level == cells[k]


def test_the_density_is_that_of_scipy() -> None:
    """scipy.stats.gaussian_kde with its covariance set to h^2 in both directions, weighted."""
    points, weights = fixes("Chou"), np.random.default_rng(1).random(40)
    kde = gaussian_kde(points.T, weights=weights)
    kde.covariance = np.eye(2) * 150.0**2
    kde.cho_cov = np.linalg.cholesky(kde.covariance)
    grid = Grid.covering(Bounds(*points.min(axis=0), *points.max(axis=0)), cell_m=50.0, crs="EPSG:27573")
    ours = kernel_density(points, weights, grid, 150.0)
    east, north = np.meshgrid(*[np.array(v) for v in zip(*[grid.centre(k, k) for k in range(25)], strict=True)])
    theirs = kde(np.vstack([east.ravel(), north.ravel()])).reshape(25, 25) * weights.sum()
    cut = weights.sum() * math.exp(-(5.0**2) / 2) / (2 * math.pi * 150.0**2)
    assert ours[:25, :25] == pytest.approx(theirs, rel=1e-6, abs=cut)


def test_cross_validation_score_is_the_integral_it_stands_for() -> None:
    """Square of the density summed over a fine grid, and scipy's estimate with each point left out in turn."""
    points, h = fixes("Calou") - fixes("Calou").mean(axis=0), 160.0
    grid = Grid.covering(Bounds(-2500, -2500, 2500, 2500), cell_m=10.0, crs="EPSG:27573")
    density = kernel_density(points, even(19), grid, h).astype(float)
    left = []
    for k in range(19):
        rest = np.delete(points, k, axis=0)
        away = ((rest - points[k]) ** 2).sum(axis=1)
        left.append(np.exp(-away / (2 * h * h)).mean() / (2 * np.pi * h * h))
    want = (density**2).sum() * 100.0 - 2 * np.mean(left)
    assert cross_validation_score(points, even(19), h) == pytest.approx(want, rel=1e-3)


def test_cross_validation_by_parts_is_that_of_the_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    points, share = fixes("Jean"), np.arange(1.0, 31.0) / 465.0
    whole = cross_validation_score(points, share, 120.0)
    monkeypatch.setattr("boscage.evidence.bandwidth.ROWS", 7)
    assert cross_validation_score(points, share, 120.0) == pytest.approx(whole, rel=1e-12)


def test_cross_validation_finds_the_least_score_and_nears_the_best_bandwidth() -> None:
    """For a normal sample the bandwidth of least error is sd n^(-1/6) (Silverman 1986, eq. 4.14); theirs varies."""
    points = np.random.default_rng(5).normal(0.0, 100.0, (800, 2))
    found = choose_bandwidth(points, np.ones(800), "cross-validation", fixed_m=1.0, least_m=1.0)
    assert found.rule == "cross-validation" and found.note == ""
    assert found.metres == pytest.approx(100.0 * 800 ** (-1 / 6), rel=0.35)
    here = cross_validation_score(points, even(800), found.metres)
    for factor in (0.9, 1.1):
        assert cross_validation_score(points, even(800), factor * found.metres) > here
