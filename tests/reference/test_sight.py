"""Lines of sight against brute force written apart, and against scenes with a closed form."""

from __future__ import annotations

import math

import brute_sight as brute
import numpy as np
import pytest

from boscage.kernels.sight_field import expected_sightings, see_from
from boscage.kernels.sight_line import EARTH_M, SightScene, sight_between

FULL = math.log(10.0) / 60.96  # nine tenths hidden at 200 ft: Thomas et al. (1979), USDA Agriculture Handbook 553


def scene(ground: np.ndarray, top: np.ndarray | None = None, k: np.ndarray | None = None, cell_m: float = 1.0,
          curvature: float = 0.0) -> SightScene:  # fmt: skip
    nothing = np.full(ground.shape, np.nan)
    arrays = (ground, nothing if top is None else top, nothing if k is None else k)
    return SightScene(*[np.ascontiguousarray(a, dtype=np.float32) for a in arrays], cell_m, curvature)


def flat(n: int = 121) -> np.ndarray:
    return np.zeros((n, n))


def shares(made: SightScene, place: tuple[int, int], target: tuple[int, int], eye: float, height: float) -> float:
    out = np.empty((1, 1))
    sight_between(made, np.array([float(place[0])]), np.array([float(place[1])]), np.array([eye]),
                  (float(target[0]), float(target[1])), np.array([height]), out)  # fmt: skip
    return float(out[0, 0])


PLACES = [(150, 150), (90, 210)]


def jaccard(a: np.ndarray, b: np.ndarray) -> float:
    return float((a & b).sum() / max(1, (a | b).sum()))


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("cell_m", [1.0, 10.0])
def test_bare_ground_agrees_with_brute_force(seed: int, cell_m: float) -> None:
    """At least 99.5 % of cells; the surface as float32, since the program sees no more."""
    ground = brute.fractal(301, seed, relief_m=40.0 * cell_m**0.5).astype(np.float32).astype(float)
    for place in PLACES:
        want = brute.share_of_sight(ground, flat(301), flat(301), cell_m, place, 1.7, 0.5, 140)
        got = see_from(scene(ground, cell_m=cell_m), place, 1.7, 140 * cell_m, np.array([0.5]))[0]
        near = ~np.isnan(want)
        assert 0.02 < (want[near] > 0).mean() < 0.98
        assert np.mean((got[near] > 0) == (want[near] > 0)) >= 0.995
        assert jaccard(got[near] > 0, want[near] > 0) >= 0.98


@pytest.mark.parametrize("seed", [4, 5])
def test_an_opaque_canopy_taken_as_ground_agrees_with_brute_force(seed: int) -> None:
    """The case that interpolating horizons from cell to cell gets wrong."""
    ground = brute.fractal(301, seed, relief_m=40.0)
    surface = ground + brute.crowns(301, seed, trees=0.012)
    for place in PLACES:
        r, c = place
        surface[r - 6 : r + 7, c - 6 : c + 7] = ground[r - 6 : r + 7, c - 6 : c + 7]
        surface = surface.astype(np.float32).astype(float)
        want = brute.share_of_sight(surface, flat(301), flat(301), 1.0, place, 1.7, 0.5, 140)
        got = see_from(scene(surface), place, 1.7, 140.0, np.array([0.5]))[0]
        near = ~np.isnan(want)
        assert np.mean((got[near] > 0) == (want[near] > 0)) >= 0.995
        assert jaccard(got[near] > 0, want[near] > 0) >= 0.90


def canopy(seed: int, cell_m: float) -> tuple[np.ndarray, np.ndarray]:
    """Canopy tops and extinction: crowns at 1 m; at 10 m heights and cover that change from cell to cell."""
    rng = np.random.default_rng(seed)
    if cell_m == 1.0:
        top = brute.crowns(301, seed, trees=0.012)
        return top, np.where(top > 0, FULL * rng.uniform(0.3, 1.0, top.shape), 0.0)
    top = np.clip(brute.fractal(301, seed + 1, relief_m=40.0, roughness=1.6) - 12.0, 0.0, 25.0)
    cover = np.clip(brute.fractal(301, seed + 2, relief_m=1.4, roughness=1.2) - 0.3, 0.0, 1.0)
    return top, FULL * cover * rng.uniform(0.7, 1.0, top.shape)


@pytest.mark.parametrize(("seed", "cell_m"), [(7, 1.0), (9, 1.0), (3, 10.0), (4, 10.0)])
def test_ground_with_canopy_looked_through_agrees_with_brute_force(seed: int, cell_m: float) -> None:
    """The same side of 'seen at all' and of nine tenths hidden (the definition of hiding cover) for at least 99.5 % of
    cells; of one half for at least 99 %, and shares near by.
    """
    ground = brute.fractal(301, seed, relief_m=40.0 * cell_m**0.5).astype(np.float32).astype(float)
    top, k = canopy(seed, cell_m)
    for place in PLACES:
        want = brute.share_of_sight(ground, top, k, cell_m, place, 1.7, 1.5, 140)
        got = see_from(scene(ground, top, k, cell_m), place, 1.7, 140.0 * cell_m, np.array([1.5]))[0]
        near = ~np.isnan(want)
        assert (want[near] > 0.1).sum() > 150
        for level, least in ((1e-6, 0.995), (0.1, 0.995), (0.5, 0.99)):  # sums are kept in steps of 2**-32
            assert np.mean((got[near] > level) == (want[near] > level)) >= least
        both = near & (got > 0) & (want > 0)
        assert np.abs(got - want)[both].mean() < 0.01
        assert np.quantile(np.abs(got - want)[both], 0.95) < 0.04


def test_single_lines_are_exact() -> None:
    ground = brute.fractal(121, 11, relief_m=20.0).astype(np.float32).astype(float)
    top = brute.crowns(121, 11, trees=0.012)
    k = np.where(top > 0, FULL, 0.0)
    want = brute.share_of_sight(ground, top, k, 1.0, (60, 60), 1.7, 1.5, 50)
    rng = np.random.default_rng(0)
    compared = 0
    for row, col in rng.integers(15, 106, (300, 2)):
        if np.isnan(want[row, col]) or (row, col) == (60, 60):
            continue
        got = shares(scene(ground, top, k), (60, 60), (row, col), 1.7, 1.5)
        assert got == pytest.approx(want[row, col], abs=0.01)
        compared += 0.0 < got < 1.0
    assert compared > 50


def test_curvature_agrees_with_brute_force() -> None:
    ground = brute.fractal(201, 12, relief_m=15.0, roughness=3.0).astype(np.float32).astype(float)
    want = brute.share_of_sight(ground, flat(201), flat(201), 100.0, (100, 100), 1.7, 1.5, 95, curvature=6 / 7)
    got = see_from(scene(ground, cell_m=100.0, curvature=6 / 7), (100, 100), 1.7, 9500.0, np.array([1.5]))[0]
    near = ~np.isnan(want)
    assert np.mean((got[near] > 0) == (want[near] > 0)) >= 0.995
    plain = see_from(scene(ground, cell_m=100.0), (100, 100), 1.7, 9500.0, np.array([1.5]))[0]
    assert (plain[near] > 0).sum() > (got[near] > 0).sum()


@pytest.mark.parametrize("curvature", [1.0, 6 / 7])
def test_the_horizon_of_a_sphere(curvature: float) -> None:
    """sqrt(2 R h / curvature): 4.654 km from 1.7 m without refraction, checked in steps of one cell of 50 m."""
    made = scene(flat(221), cell_m=50.0, curvature=curvature)
    seen = see_from(made, (110, 110), 1.7, 5400.0, np.array([0.0]))[0] > 0
    horizon = math.sqrt(2 * EARTH_M * 1.7 / curvature)
    rows, cols = np.mgrid[:221, :221]
    far = np.hypot(rows - 110, cols - 110) * 50.0
    assert seen[far < horizon - 100].all()
    assert not seen[(far > horizon + 100) & (far < 5400)].any()


def test_refraction_and_curvature_do_nothing_within_a_ranch() -> None:
    """At 500 m the drop is 0.017 m (Wolf and Ghilani's 0.0675 K**2 at K = 0.5)."""
    drop = 6 / 7 * 500.0**2 / (2 * EARTH_M)
    assert drop == pytest.approx(0.0675 * 0.25, abs=2e-4)


def test_a_wall_hides_what_stands_in_its_shadow() -> None:
    """Eye 1.7 m at 20 cells before a wall of 5 m: a target of 1.5 m behind it is seen nowhere on level ground."""
    ground = flat()
    ground[:, 80] = 5.0
    got = see_from(scene(ground), (60, 60), 1.7, 58.0, np.array([1.5, 20.0]))
    assert (got[0, :, 82:][got[0, :, 82:] >= 0] == 0).all()
    assert (got[0, 40:81, 10:80] > 0).all()
    slope = (5.0 - 1.7) / 20.0
    for col in range(82, 118):
        assert (got[1, 60, col] > 0) == (1.7 + slope * (col - 60) <= 20.0)


def test_a_ridge_and_an_inclined_plane() -> None:
    rows, cols = np.mgrid[:121, :121]
    plane = 0.3 * cols + 0.1 * rows
    assert (see_from(scene(plane), (60, 60), 1.7, 55.0, np.array([0.0]))[0][25:96, 60:100] > 0).all()
    ridge = 30.0 - 0.5 * np.abs(cols - 60.0)
    got = see_from(scene(ridge), (60, 30), 1.7, 55.0, np.array([1.5]))[0]
    assert (got[60, 10:61] > 0).all()
    hidden_from = next(c for c in range(61, 85) if 1.5 + 30 - 0.5 * (c - 60) < 16.7 + (30 - 16.7) / 30 * (c - 30))
    assert (got[60, hidden_from:84] == 0).all()
    assert (got[60, 60 : hidden_from - 1] > 0).all()


@pytest.mark.parametrize("share_of_cover", [1.0, 0.5, 0.25])
def test_even_vegetation_hides_as_the_definition_says(share_of_cover: float) -> None:
    """exp(-k d) exactly along a row; nine tenths hidden at 200 ft under full cover (Thomas et al. 1979)."""
    k = np.full((3, 141), FULL * share_of_cover)
    top = np.full((3, 141), 12.0)
    made = scene(np.zeros((3, 141)), top, k)
    got = see_from(made, (1, 5), 1.6, 130.0, np.array([1.5]))[0, 1]
    d = np.abs(np.arange(141) - 5.0)
    reached = d <= 130
    assert np.allclose(got[reached], np.exp(-FULL * share_of_cover * d)[reached], rtol=1e-4, atol=1e-9)
    for col in (10, 66, 120):
        exact = shares(made, (1, 5), (1, col), 1.6, 1.5)
        assert exact == pytest.approx(math.exp(-FULL * share_of_cover * (col - 5)), rel=1e-6)
    if share_of_cover == 1.0:
        assert 1.0 - shares(made, (1, 5), (1, 66), 1.6, 1.5) == pytest.approx(0.9, abs=0.001)


def test_vegetation_lower_than_the_line_is_looked_over() -> None:
    """From a bank of 10 m down to level ground with brush of 1 m: the last part of the line alone runs through it."""
    ground = np.zeros((3, 101))
    ground[:, :10] = 10.0
    top, k = np.full((3, 101), 1.0), np.full((3, 101), FULL)
    top[:, :10], k[:, :10] = 0.0, 0.0
    made = scene(ground, top, k)
    exact = shares(made, (1, 9), (1, 69), 2.0, 0.0)
    assert exact == pytest.approx(math.exp(-FULL * 5.0), rel=1e-3)
    swept = see_from(made, (1, 9), 2.0, 80.0, np.array([0.0]))[0, 1, 69]
    assert swept == pytest.approx(exact, abs=0.03)


def test_an_observer_under_trees_stands_on_the_ground() -> None:
    """Tall trees at the observer's own cell neither lift the eye nor block; they hide half a cell."""
    top, k = np.zeros((41, 41)), np.zeros((41, 41))
    top[20, 20], k[20, 20] = 25.0, FULL
    got = see_from(scene(flat(41), top, k), (20, 20), 1.7, 15.0, np.array([1.5]))[0]
    assert got[20, 30] == pytest.approx(math.exp(-FULL * 0.5), rel=1e-4)


def test_unknown_vegetation_and_unknown_ground_hide_nothing() -> None:
    ground = flat(61)
    top, k = np.full((61, 61), 15.0), np.full((61, 61), FULL)
    k[:, 35:] = np.nan
    known = see_from(scene(ground, top, k), (30, 30), 1.7, 25.0, np.array([1.5]))[0]
    assert known[30, 50] == pytest.approx(math.exp(-FULL * 4.5), rel=1e-3)
    assert known[30, 10] == pytest.approx(math.exp(-FULL * 20), rel=1e-3)
    ground[:, 40] = np.nan
    got = see_from(scene(ground), (30, 30), 1.7, 25.0, np.array([1.5]))[0]
    assert np.isnan(got[30, 40])
    assert got[30, 45] == 1.0
    blind = see_from(scene(ground), (30, 40), 1.7, 25.0, np.array([1.5]))[0]
    assert np.nansum(blind) == 0.0


def test_sums_do_not_depend_on_order_calls_or_threads() -> None:
    """Bit for bit: one call, many calls, another order, one thread."""
    import numba

    ground = brute.fractal(201, 21, relief_m=25.0)
    top = brute.crowns(201, 21, trees=0.01)
    made = scene(ground, top, np.where(top > 0, FULL, 0.0))
    rng = np.random.default_rng(3)
    places = rng.integers(0, 201, (60, 2))
    eyes, weights = rng.uniform(1.0, 2.0, 60), rng.uniform(0.0, 40.0, 60)
    heights = np.array([1.5, 1.8])
    whole = expected_sightings(made, places, eyes, weights, 70.0, heights)
    order = rng.permutation(60)
    assert np.array_equal(whole, expected_sightings(made, places[order], eyes[order], weights[order], 70.0, heights))
    split = sum(
        expected_sightings(made, places[part], eyes[part], weights[part], 70.0, heights)
        for part in (slice(0, 17), slice(17, 41), slice(41, 60))
    )
    assert np.array_equal(whole, split)
    threads = numba.get_num_threads()
    try:
        numba.set_num_threads(1)
        assert np.array_equal(whole, expected_sightings(made, places, eyes, weights, 70.0, heights))
    finally:
        numba.set_num_threads(threads)


def test_tiles_of_observers_meet_without_a_seam(monkeypatch: pytest.MonkeyPatch) -> None:
    ground = brute.fractal(150, 22, relief_m=25.0)
    places = np.random.default_rng(4).integers(0, 150, (25, 2))
    ones = np.ones(25)
    whole = expected_sightings(scene(ground), places, 1.7 * ones, ones, 60.0, np.array([1.5]))
    monkeypatch.setattr("boscage.kernels.sight_field._TILE", 37)
    assert np.array_equal(whole, expected_sightings(scene(ground), places, 1.7 * ones, ones, 60.0, np.array([1.5])))


def test_turning_the_map_turns_the_answer() -> None:
    ground = brute.fractal(101, 23, relief_m=20.0)
    place = (50, 40)
    here = see_from(scene(ground), place, 1.7, 45.0, np.array([1.5]))[0]
    for turn, there in ((np.flipud, (50, 40)), (np.fliplr, (50, 60)), (np.transpose, (40, 50))):
        got = see_from(scene(turn(ground)), there, 1.7, 45.0, np.array([1.5]))[0]
        assert np.mean((turn(here) > 0) == (got > 0)) > 0.999


def test_nobody_sees_nothing() -> None:
    none = expected_sightings(
        scene(flat(9)), np.empty((0, 2), np.int64), np.empty(0), np.empty(0), 5.0, np.array([1.5])
    )
    assert none.shape == (1, 9, 9)
    assert (none == 0.0).all()
    off = expected_sightings(scene(flat(9)), np.array([[-3, 4]]), np.ones(1), np.ones(1), 5.0, np.array([1.5]))
    assert (off == 0.0).all()
