"""Single sight lines against a twin in plain Python that sorts every crossing, and small views with a known answer."""

import math
from itertools import pairwise

import numpy as np
import pytest

from boscage.kernels.sight_field import expected_sightings, see_from
from boscage.kernels.sight_line import SightScene, sight_between

EARTH_M = 6_371_000.0
FULL = math.log(10.0) / 60.96  # nine tenths hidden at 200 ft: Thomas et al. (1979), USDA Agriculture Handbook 553


def crossings(a, b, offset):
    """Shares of the way from a to b at which whole numbers + offset are crossed, ends left out."""
    if a == b:
        return []
    lines = np.arange(math.floor(min(a, b)) - 1, math.ceil(max(a, b)) + 2) + offset
    return [u for u in (lines - a) / (b - a) if 0.0 < u < 1.0]


def height_at(ground, row, col):
    """Bilinear; NaN where a corner that counts is unknown."""
    r, c = math.floor(row), math.floor(col)
    corners = [
        (wr * wc, ground[i, j])
        for i, wr in ((r, 1.0 - (row - r)), (r + 1, row - r))
        for j, wc in ((c, 1.0 - (col - c)), (c + 1, col - c))
        if wr * wc > 1e-9
    ]
    return float(sum(w * np.float64(z) for w, z in corners))


def share(scene, start, eye, end, height):
    """Share of sight left: ground where rows and columns of centres are crossed, vegetation from cell edge to edge."""
    ground, top, extinction, cell, curvature = scene
    bend = curvature / (2.0 * EARTH_M)
    z0, z1 = height_at(ground, *start), height_at(ground, *end)
    if math.isnan(z0 + z1):
        return math.nan
    south, east = end[0] - start[0], end[1] - start[1]
    span = math.hypot(south, east) * cell
    low, high = z0 + eye, z1 + height - bend * span**2
    for u in sorted(crossings(start[0], end[0], 0.0) + crossings(start[1], end[1], 0.0)):
        z = height_at(ground, start[0] + u * south, start[1] + u * east)
        if z - bend * (u * span) ** 2 > low + u * (high - low):
            return 0.0
    depth = 0.0
    stops = [0.0, *sorted(crossings(start[0], end[0], 0.5) + crossings(start[1], end[1], 0.5)), 1.0]
    for a, b in pairwise(stops):
        u = 0.5 * (a + b)
        r, c = math.floor(start[0] + u * south + 0.5), math.floor(start[1] + u * east + 0.5)
        z, tall, k = float(ground[r, c]), float(top[r, c]), float(extinction[r, c])
        if not (math.isfinite(z) and tall > 0.0 and k > 0.0):
            continue
        level = z + tall - bend * (u * span) ** 2
        line = np.linspace(low + a * (high - low), low + b * (high - low), 2)
        if line.min() < level < line.max():
            depth += k * (b - a) * span * (level - line.min()) / np.ptp(line)
        elif line.mean() < level:
            depth += k * (b - a) * span
    return math.exp(-depth)


def make_scene(seed, n=12, cell=10.0, curvature=6 / 7):
    """Rough ground and low, patchy vegetation, a few cells of either unknown."""
    rng = np.random.default_rng(seed)
    ground = rng.uniform(0.0, 3.0, (n, n)).astype(np.float32)
    top = rng.choice([0.0, 1.0, 2.5, 8.0], (n, n)).astype(np.float32)
    extinction = rng.uniform(0.0, FULL, (n, n)).astype(np.float32)
    for array in (ground, top, extinction):
        array[rng.random((n, n)) < 0.05] = np.nan
    return SightScene(ground, top, extinction, cell, curvature)


def look(scene, starts, eye, end, heights):
    out = np.full((len(heights), len(starts)), -9.0)
    rows, cols = np.array(starts, dtype=float).reshape(-1, 2).T
    eyes = np.full(len(starts), eye)
    sight_between(scene, np.ascontiguousarray(rows), np.ascontiguousarray(cols), eyes, end, np.array(heights), out)
    return out


@pytest.mark.nojit
@pytest.mark.parametrize("seed", range(6))
def test_lines_between_any_two_places_equal_the_twin(seed):
    scene = make_scene(seed)
    rng = np.random.default_rng(seed + 100)
    starts = rng.uniform(0.0, 11.0, (40, 2))
    starts[:10] = np.round(starts[:10])
    end = tuple(rng.uniform(2.0, 9.0, 2))
    got = look(scene, starts, 1.7, end, [0.3, 4.0])
    want = [[share(scene, tuple(s), 1.7, end, h) for s in starts] for h in (0.3, 4.0)]
    np.testing.assert_allclose(got, want, atol=1e-9)


def test_the_check_above_meets_every_kind_of_line():
    """Hidden, partly hidden and unknown lines all come up often in it."""
    found = np.concatenate([
        look(make_scene(s), np.random.default_rng(s + 100).uniform(0.0, 11.0, (40, 2)), 1.7, (5.3, 6.2), [0.3])[0]
        for s in range(6)
    ])  # fmt: skip
    for kind in (found == 0.0, (found > 0.01) & (found < 0.99), np.isnan(found)):
        assert kind.sum() >= 10


@pytest.mark.nojit
def test_a_line_has_the_same_share_either_way_when_eye_and_target_change_places():
    scene = make_scene(3, curvature=0.0)
    rng = np.random.default_rng(5)
    for a, b in rng.uniform(0.0, 11.0, (60, 2, 2)):
        there = look(scene, [a], 1.7, tuple(b), [3.0])
        back = look(scene, [b], 3.0, tuple(a), [1.7])
        np.testing.assert_allclose(there, back, atol=1e-9)


@pytest.mark.nojit
def test_a_thin_wall_between_two_centres_is_met_wherever_the_line_crosses_it():
    """One column of cells 5 m high: lines that cross it between two rows of centres are blocked as well."""
    ground = np.zeros((15, 15), np.float32)
    ground[:, 7] = 5.0
    bare = np.full((15, 15), np.nan, np.float32)
    scene = SightScene(ground, bare, bare, 1.0, 0.0)
    starts = [(float(r), 2.0) for r in range(15)]
    assert (look(scene, starts, 1.7, (3.0, 13.0), [1.5]) == 0.0).all()
    assert (look(scene, starts, 1.7, (3.0, 5.0), [1.5]) == 1.0).all()


@pytest.mark.nojit
def test_the_cells_round_an_observer_do_not_block_one_another():
    """A pit of one cell: its 8 neighbours are seen from it, and nothing beyond them on level ground."""
    ground = np.full((9, 9), 10.0, np.float32)
    ground[4, 4] = 0.0
    bare = np.full((9, 9), np.nan, np.float32)
    shares = see_from(SightScene(ground, bare, bare, 1.0, 0.0), (4, 4), 1.7, 4.0, np.array([0.5]))[0]
    assert (shares[3:6, 3:6] == 1.0).all()
    assert shares.sum() == 9.0


@pytest.mark.nojit
def test_a_wall_hides_all_that_stands_lower_behind_it():
    """Level ground right behind the wall does not open the view again."""
    ground = np.zeros((25, 25), np.float32)
    ground[:, 16] = 5.0
    bare = np.full((25, 25), np.nan, np.float32)
    shares = see_from(SightScene(ground, bare, bare, 1.0, 0.0), (12, 12), 1.7, 12.0, np.array([1.5]))[0]
    assert (shares[12, :17] == 1.0).all()
    assert (shares[:, 17:] == 0.0).all()


@pytest.mark.nojit
@pytest.mark.parametrize("radius", [8, 16])
def test_even_vegetation_hides_alike_in_every_direction(radius):
    """exp(-k d) to every cell of level ground.

    The length of a line is taken between two rays whose slopes lie h = 2 / radius apart; sqrt(1 + t**2) bends by at
    most 1, so that the depth is too great by at most h**2 / 8 of itself and never too small.
    """
    n = 2 * radius + 1
    level, tall = np.zeros((n, n), np.float32), np.full((n, n), 12.0, np.float32)
    scene = SightScene(level, tall, np.full((n, n), FULL, np.float32), 2.0, 0.0)
    got = see_from(scene, (radius, radius), 1.7, 2.0 * radius, np.array([1.5]))[0]
    rows, cols = np.mgrid[:n, :n]
    depth = FULL * np.hypot(rows - radius, cols - radius) * 2.0
    within = depth <= FULL * 2.0 * radius
    excess = -np.log(got[within]) - depth[within]
    assert (excess >= -1e-5).all()
    assert (excess <= depth[within] * (2.0 / radius) ** 2 / 8.0 + 1e-5).all()


@pytest.mark.nojit
def test_two_observers_add_up_by_weight():
    level, bare = np.zeros((9, 9), np.float32), np.full((9, 9), np.nan, np.float32)
    scene = SightScene(level, bare, bare, 1.0, 0.0)
    places = np.array([[4, 2], [4, 6]])
    total = expected_sightings(scene, places, np.full(2, 1.7), np.array([0.25, 3.0]), 3.0, np.array([1.5, 1.8]))
    assert total.shape == (2, 9, 9)
    assert total[0, 4, 0] == 0.25
    assert total[0, 4, 4] == 3.25
    assert total[1, 4, 8] == 3.0
    assert total[0, 0, 0] == 0.0
