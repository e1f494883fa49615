"""What must hold for lines of sight on any ground."""

import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from boscage.kernels.sight_field import expected_sightings, see_from
from boscage.kernels.sight_line import SightScene, sight_between

steady = settings(derandomize=True, deadline=None, max_examples=40)
HEIGHTS = np.array([1.5, 1.8])
FULL = math.log(10.0) / 60.96  # nine tenths hidden at 200 ft: Thomas et al. (1979), USDA Agriculture Handbook 553


@st.composite
def scenes(draw):
    """Ground from level to rough, bare or with crowns, in a square; an observer well inside."""
    n, cell = draw(st.integers(11, 27)), draw(st.sampled_from([1.0, 10.0]))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    rough = draw(st.sampled_from([0.0, 0.3, 3.0]))
    steps = rng.normal(0.0, rough, (2, n))
    ground = np.cumsum(steps[0])[:, None] + np.cumsum(steps[1])[None, :] + rng.normal(0.0, 0.3 * rough, (n, n))
    top = np.where(rng.random((n, n)) < draw(st.sampled_from([0.0, 0.3, 0.9])), rng.uniform(1.0, 20.0, (n, n)), 0.0)
    extinction = rng.uniform(0.2, 1.0, (n, n)) * FULL
    place = tuple(int(v) for v in rng.integers(n // 4, n - n // 4, 2))
    arrays = [np.ascontiguousarray(a, dtype=np.float32) for a in (ground, top, extinction)]
    return SightScene(*arrays, cell, 6 / 7), place


def view(scene, place):
    return see_from(scene, place, 1.7, 100.0 * scene.cell_m, HEIGHTS)


def turned(scene, turn):
    return SightScene(*(np.ascontiguousarray(turn(a)) for a in scene[:3]), *scene[3:])


def between(scene, starts, place):
    out = np.empty((2, len(starts)))
    rows, cols = np.ascontiguousarray(starts[:, 0]), np.ascontiguousarray(starts[:, 1])
    sight_between(scene, rows, cols, np.full(len(starts), 1.7), place, HEIGHTS, out)
    return out


@steady
@given(scenes(), st.integers(0, 3), st.booleans())
def test_turning_the_map_turns_the_view(problem, quarters, over):
    """Rounding may move a cell that just touches its horizon: at most 1 in 100."""
    scene, place = problem

    def turn(a):
        a = np.rot90(a, quarters, axes=(-2, -1))
        return np.swapaxes(a, -2, -1) if over else a

    mark = np.zeros(scene.ground_m.shape, dtype=bool)
    mark[place] = True
    there = tuple(int(v) for v in np.argwhere(turn(mark))[0])
    want, got = turn(view(scene, place)), view(turned(scene, turn), there)
    assert np.mean(np.abs(want - got) > 1e-4) <= 0.01


@steady
@given(scenes(), st.integers(0, 3), st.booleans())
def test_turning_the_map_leaves_single_lines_as_they_are(problem, quarters, over):
    scene, place = problem

    def turn(a):
        a = np.rot90(a, quarters)
        return a.T if over else a

    n = scene.ground_m.shape[0]
    number = turn(np.arange(n * n).reshape(n, n))
    cells = np.random.default_rng(1).integers(0, n, (30, 2))
    where = {int(v): ij for ij, v in np.ndenumerate(number)}
    moved = np.array([where[int(r * n + c)] for r, c in cells], dtype=float)
    there = where[place[0] * n + place[1]]
    want = between(scene, cells.astype(float), (float(place[0]), float(place[1])))
    got = between(turned(scene, turn), moved, (float(there[0]), float(there[1])))
    assert np.mean(np.abs(want - got) > 1e-7) <= 0.01


@steady
@given(scenes(), st.integers(0, 9), st.integers(0, 9), st.sampled_from([-64.0, 256.0]))
def test_moving_and_lifting_everything_changes_nothing(problem, down, right, lift):
    """The grid grows by unknown ground to the north and west, and the datum moves."""
    scene, place = problem
    padded = [np.pad(a, ((down, 0), (right, 0)), constant_values=np.nan) for a in scene[:3]]
    padded[0] += np.float32(lift)
    got = view(SightScene(*padded, *scene[3:]), (place[0] + down, place[1] + right))[:, down:, right:]
    assert np.mean(np.abs(view(scene, place) - got) > 1e-3) <= 0.01


@steady
@given(scenes(), st.integers(0, 10**6), st.floats(0.1, 30.0))
def test_raising_the_ground_of_one_cell_never_helps_to_see_the_others(problem, pick, rise):
    scene, place = problem
    cell = np.unravel_index(pick % scene.ground_m.size, scene.ground_m.shape)
    if cell == place:
        return
    before = view(scene, place)
    ground = scene.ground_m.copy()
    ground[cell] += np.float32(rise)
    after = view(scene._replace(ground_m=ground), place)
    before[:, cell[0], cell[1]] = after[:, cell[0], cell[1]] = 0.0
    assert (after <= before + 1e-4).all()


@steady
@given(scenes(), st.floats(1.0, 5.0))
def test_more_extinction_never_helps_to_see(problem, more):
    scene, place = problem
    before = view(scene, place)
    after = view(scene._replace(extinction_per_m=scene.extinction_per_m * np.float32(more)), place)
    assert (after <= before + 1e-4).all()
    assert ((after > 0.0) <= (before > 0.0)).all()


@steady
@given(scenes())
def test_forgetting_vegetation_never_hides_and_a_lower_target_is_never_seen_better(problem):
    scene, place = problem
    before = view(scene, place)
    top = scene.top_m.copy()
    top[::2] = np.nan
    assert (view(scene._replace(top_m=top), place) >= before - 1e-4).all()
    assert (before[0] <= before[1] + 1e-4).all()


@steady
@given(scenes())
def test_shares_lie_between_none_and_all_and_bare_ground_leaves_no_third(problem):
    scene, place = problem
    shares = view(scene, place)
    assert ((shares >= 0.0) & (shares <= 1.0)).all()
    bare = view(scene._replace(top_m=np.zeros_like(scene.top_m)), place)
    assert np.isin(bare, [0.0, 1.0]).all()
    assert (bare >= shares).all()


@steady
@given(scenes(), st.integers(0, 2**32 - 1))
def test_the_order_of_observers_and_the_number_of_calls_do_not_matter(problem, seed):
    """To the last bit."""
    scene, _ = problem
    rng = np.random.default_rng(seed)
    places = rng.integers(0, scene.ground_m.shape[0], (7, 2))
    eyes, weights = rng.uniform(1.0, 2.0, 7), rng.uniform(0.0, 50.0, 7)

    def sums(order):
        return expected_sightings(scene, places[order], eyes[order], weights[order], 9.0 * scene.cell_m, HEIGHTS)

    whole = sums(np.arange(7))
    assert np.array_equal(whole, sums(rng.permutation(7)))
    assert np.array_equal(whole, sums(np.arange(3)) + sums(np.arange(3, 7)))
