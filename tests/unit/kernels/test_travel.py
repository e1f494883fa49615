"""Travel times against repeated relaxation of every move, and the edges of the contract."""

import math
from itertools import pairwise

import numpy as np
import pytest

from boscage.kernels.buckets import BUCKETS, fill, has_lost, open_queue
from boscage.kernels.travel import (
    OFFSETS_8,
    OFFSETS_16,
    TOBLER_INWARD,
    TOBLER_OUTWARD,
    Ground,
    Limits,
    Walk,
    lay_out,
    time_along,
    trace,
    travel_time,
    walking_speed_mps,
)
from boscage.kernels.travel_pass import mark_cells, run

LEVEL = Walk(top_speed_mps=2.0, decay=0.0, best_slope=0.0, inward=False)


def times(ground, walk, offsets, seeds):
    shape = ground.pace.shape
    start_s = np.full(shape, np.inf)
    for (row, col), seconds in seeds.items():
        start_s[row, col] = seconds
    time_s, back = np.full(shape, -9.0), np.full(shape, -9, np.int8)
    travel_time(ground, walk, offsets, start_s, time_s, back)
    return time_s, back


def flat(rows, cols, cell_m=10.0):
    return Ground(np.zeros((rows, cols), np.float32), np.ones((rows, cols), np.float32), cell_m)


def move_seconds(ground, walk, cell, move):
    """Seconds for one move, infinite where it is barred or leads off the grid; written out cell by cell."""
    z_m, pace, cell_m = ground
    rows, cols = pace.shape

    def passable(row, col):
        return bool(np.isfinite(z_m[row, col]) and np.isfinite(pace[row, col]) and pace[row, col] > 0)

    (row, col), (south, east) = cell, move
    there = (row + south, col + east)
    if not (0 <= there[0] < rows and 0 <= there[1] < cols) or not (passable(*cell) and passable(*there)):
        return math.inf
    if abs(south) == abs(east) and not (passable(row + south, col) or passable(row, col + east)):
        return math.inf
    if abs(south) == 2 and not (passable(row + south // 2, col) and passable(row + south // 2, col + east)):
        return math.inf
    if abs(east) == 2 and not (passable(row, col + east // 2) and passable(row + south, col + east // 2)):
        return math.inf
    run_m = cell_m * math.hypot(south, east)
    slope = (float(z_m[there]) - float(z_m[cell])) / run_m * (-1 if walk.inward else 1)
    speed = walk.top_speed_mps * math.exp(-walk.decay * abs(slope - walk.best_slope))
    cells = [cell, there]
    if abs(south) == 2:
        cells += [(row + south // 2, col), (row + south // 2, col + east)]
    elif abs(east) == 2:
        cells += [(row, col + east // 2), (row + south, col + east // 2)]
    return run_m / speed * sum(float(pace[c]) for c in cells) / len(cells)


def twin(ground, walk, offsets, seeds):
    """Relax every move until nothing changes."""
    rows, cols = ground.pace.shape
    best = dict(seeds)
    changed = True
    while changed:
        changed = False
        for cell, seconds in list(best.items()):
            for south, east in offsets.tolist():
                there = (cell[0] + south, cell[1] + east)
                offer = seconds + move_seconds(ground, walk, cell, (south, east))
                if offer < best.get(there, math.inf):
                    best[there] = offer
                    changed = True
    answer = np.full((rows, cols), np.inf)
    for cell, seconds in best.items():
        answer[cell] = seconds
    return answer


def rough_ground(seed, shape=(9, 11)):
    rng = np.random.default_rng(seed)
    z_m = np.cumsum(rng.normal(0.0, 2.0, shape), axis=1).astype(np.float32)
    pace = rng.uniform(1.0, 3.0, shape).astype(np.float32)
    pace[rng.random(shape) < 0.15] = np.inf
    z_m[rng.random(shape) < 0.05] = np.nan
    z_m[0, 0], pace[0, 0] = 0.0, 1.0
    z_m[6, 7], pace[6, 7] = 0.0, 1.0
    return Ground(z_m, pace, 10.0)


@pytest.mark.nojit
@pytest.mark.parametrize("offsets", [OFFSETS_8, OFFSETS_16], ids=["8", "16"])
@pytest.mark.parametrize("walk", [TOBLER_OUTWARD, TOBLER_INWARD, LEVEL], ids=["outward", "inward", "level"])
def test_times_equal_plain_relaxation(offsets, walk):
    seeds = {(0, 0): 5.0, (6, 7): 0.0}
    for seed in range(3):
        ground = rough_ground(seed)
        got, _ = times(ground, walk, offsets, seeds)
        np.testing.assert_allclose(got, twin(ground, walk, offsets, seeds), rtol=1e-12)


@pytest.mark.nojit
def test_moves_come_in_opposite_pairs():
    for offsets, count in ((OFFSETS_8, 8), (OFFSETS_16, 16)):
        assert len({tuple(move) for move in offsets.tolist()}) == count
        assert np.array_equal(offsets[::2], -offsets[1::2])


@pytest.mark.nojit
def test_a_pace_slows_by_the_mean_of_both_cells():
    ground = flat(1, 3)
    ground.pace[0, 2] = 3.0
    got, back = times(ground, LEVEL, OFFSETS_8, {(0, 0): 0.0})
    assert got.tolist() == [[0.0, 5.0, 15.0]]
    assert back.tolist() == [[-1, 2, 2]]


@pytest.mark.nojit
@pytest.mark.parametrize("bad", [np.inf, np.nan, 0.0, -1.0])
def test_no_pace_is_a_barrier_never_free_ground(bad):
    ground = flat(3, 3)
    ground.pace[:, 1] = bad
    got, back = times(ground, TOBLER_OUTWARD, OFFSETS_16, {(1, 0): 0.0})
    assert np.isinf(got[:, 1:]).all()
    assert (back[:, 1:] == -1).all()


@pytest.mark.nojit
def test_missing_elevation_is_a_barrier_and_a_seed_on_it_does_not_count():
    ground = flat(2, 4)
    ground.elevation_m[:, 1] = np.nan
    got, back = times(ground, TOBLER_OUTWARD, OFFSETS_8, {(0, 1): 0.0, (0, 0): 7.0})
    assert np.isinf(got[:, 1:]).all()
    assert got[0, 0] == 7.0
    assert (back[:, 1:] == -1).all()


@pytest.mark.nojit
def test_a_diagonal_passes_one_barrier_but_not_two():
    ground = flat(2, 2)
    ground.pace[0, 1] = np.inf
    assert np.isclose(times(ground, LEVEL, OFFSETS_8, {(0, 0): 0.0})[0][1, 1], math.sqrt(200.0) / 2.0)
    ground.pace[1, 0] = np.inf
    assert np.isinf(times(ground, LEVEL, OFFSETS_8, {(0, 0): 0.0})[0][1, 1])


@pytest.mark.nojit
@pytest.mark.parametrize("blocked", [(0, 1), (1, 1)])
def test_a_knights_move_passes_no_barrier_at_its_middle(blocked):
    ground = flat(2, 3)
    straight = math.sqrt(500.0) / 2.0
    assert np.isclose(times(ground, LEVEL, OFFSETS_16, {(0, 0): 0.0})[0][1, 2], straight)
    ground.pace[blocked] = np.inf
    assert times(ground, LEVEL, OFFSETS_16, {(0, 0): 0.0})[0][1, 2] > straight * 1.01


@pytest.mark.nojit
def test_a_seed_that_starts_late_is_overtaken():
    got, back = times(flat(1, 4), LEVEL, OFFSETS_8, {(0, 0): 0.0, (0, 2): 100.0})
    assert got.tolist() == [[0.0, 5.0, 10.0, 15.0]]
    assert back[0, 2] == 2


@pytest.mark.nojit
def test_no_seed_and_no_passable_cell_reach_nothing():
    assert np.isinf(times(flat(3, 3), LEVEL, OFFSETS_8, {})[0]).all()
    ground = flat(2, 2)
    ground.pace[:] = np.inf
    assert np.isinf(times(ground, LEVEL, OFFSETS_8, {(0, 0): 0.0})[0]).all()


@pytest.mark.nojit
@pytest.mark.parametrize("shape", [(0, 0), (0, 3), (3, 0)])
def test_an_empty_grid_stays_empty(shape):
    got, back = times(flat(*shape), TOBLER_OUTWARD, OFFSETS_16, {})
    assert got.size == 0
    assert trace(back, OFFSETS_16, 0, 0, np.empty(1, np.int64), np.empty(1, np.int64)) == 0


@pytest.mark.nojit
@pytest.mark.parametrize("pace", [1e-8, 1e7])
def test_a_cell_of_extreme_pace_changes_the_work_not_the_answer(pace):
    ground = flat(5, 8)
    ground.pace[2, 3:5] = pace
    seeds = {(2, 0): 0.0, (0, 7): 1.0e6}
    got, _ = times(ground, TOBLER_OUTWARD, OFFSETS_16, seeds)
    np.testing.assert_allclose(got, twin(ground, TOBLER_OUTWARD, OFFSETS_16, seeds), rtol=1e-12)


@pytest.mark.nojit
def test_seeds_spread_over_many_rounds_of_the_queue_all_count():
    ground = flat(1, 40)
    ground.pace[0, 1::2] = np.inf
    seeds = {(0, col): 10.0 ** (col / 4) for col in range(0, 40, 2)}
    got, _ = times(ground, LEVEL, OFFSETS_16, seeds)
    assert {(0, col): got[0, col] for col in range(0, 40, 2)} == seeds


@pytest.mark.nojit
def test_a_cliff_beyond_the_range_of_exp_is_not_crossed():
    ground = flat(1, 3)
    ground.elevation_m[0, 2] = 1.0e5
    assert np.isinf(times(ground, TOBLER_OUTWARD, OFFSETS_8, {(0, 0): 0.0})[0][0, 2])
    assert walking_speed_mps(1.0e4, TOBLER_OUTWARD) == 0.0


@pytest.mark.nojit
def test_trace_leads_back_to_the_seed_and_adds_up_to_the_time():
    ground = rough_ground(1)
    got, back = times(ground, TOBLER_OUTWARD, OFFSETS_16, {(0, 0): 5.0})
    rows, cols = np.empty(got.size, np.int64), np.empty(got.size, np.int64)
    for row, col in np.argwhere(np.isfinite(got)).tolist():
        count = trace(back, OFFSETS_16, row, col, rows, cols)
        path = list(zip(rows[:count].tolist(), cols[:count].tolist(), strict=True))[::-1]
        assert path[0] == (0, 0) and path[-1] == (row, col)
        walked = 5.0
        for a, b in pairwise(path):
            walked += move_seconds(ground, TOBLER_OUTWARD, a, (b[0] - a[0], b[1] - a[1]))
        assert math.isclose(walked, got[row, col], rel_tol=1e-12)


@pytest.mark.nojit
def test_trace_tells_the_true_length_when_there_is_too_little_room():
    _, back = times(flat(1, 6), LEVEL, OFFSETS_8, {(0, 0): 0.0})
    rows, cols = np.full(2, -7, np.int64), np.full(2, -7, np.int64)
    assert trace(back, OFFSETS_8, 0, 5, rows, cols) == 6
    assert cols.tolist() == [5, 4]
    assert trace(back, OFFSETS_8, 0, 0, rows, cols) == 1


@pytest.mark.nojit
def test_start_times_may_be_the_array_that_is_filled():
    ground = rough_ground(2)
    want, back = times(ground, TOBLER_OUTWARD, OFFSETS_16, {(0, 0): 5.0, (6, 7): 0.0})
    time_s, moves = np.full(want.shape, np.nan), np.empty(want.shape, np.int8)
    time_s[0, 0], time_s[6, 7] = 5.0, 0.0
    travel_time(ground, TOBLER_OUTWARD, OFFSETS_16, time_s, time_s, moves)
    assert np.array_equal(time_s, want)
    assert np.array_equal(moves, back)


def limited(ground, walk, offsets, seed, **bounds):
    """Times from one seed, 0 s, under limits; no gradient unless one is given."""
    shape = ground.pace.shape
    level = {"up": np.inf, "down": np.inf, "across": np.inf}
    level |= {"dzdx": np.zeros(shape, np.float32), "dzdy": np.zeros(shape, np.float32)}
    time_s, back = np.full(shape, np.inf), np.empty(shape, np.int8)
    time_s[seed] = 0.0
    travel_time(ground, walk, offsets, time_s, time_s, back, Limits(**(level | bounds)))
    return time_s


@pytest.mark.nojit
def test_a_slope_may_be_driven_down_and_not_up_and_inward_means_the_way_back():
    ground = flat(1, 2)
    ground.elevation_m[0, 1] = -3.0
    home = LEVEL._replace(inward=True)
    assert limited(ground, LEVEL, OFFSETS_8, (0, 0), up=0.25, down=0.35)[0, 1] == 5.0
    assert np.isinf(limited(ground, home, OFFSETS_8, (0, 0), up=0.25, down=0.35)[0, 1])
    assert np.isinf(limited(ground, LEVEL, OFFSETS_8, (0, 1), up=0.25, down=0.35)[0, 0])
    assert limited(ground, home, OFFSETS_8, (0, 1), up=0.25, down=0.35)[0, 0] == 5.0
    assert np.isinf(limited(ground, LEVEL, OFFSETS_8, (0, 0), up=0.25, down=0.29)[0, 1])


@pytest.mark.nojit
def test_a_side_slope_bars_the_way_along_it_and_not_up_it():
    """Ground that rises to the east: its gradient lies along a move east, across a move north, at 45 deg between."""
    ground = flat(3, 3)
    east = np.full((3, 3), 0.4, np.float32)
    got = limited(ground, LEVEL, OFFSETS_8, (1, 1), across=0.3, dzdx=east)
    assert got[1, 0] == got[1, 2] == 5.0
    assert np.allclose(got[0, 0], math.sqrt(200.0) / 2.0)  # 0.4 * sin 45 deg = 0.283
    assert got[0, 1] > 10.0 and got[2, 1] > 10.0
    assert np.isinf(limited(ground, LEVEL, OFFSETS_8, (1, 1), across=0.28, dzdx=east)[0]).all()
    north = limited(ground, LEVEL, OFFSETS_8, (1, 1), across=0.3, dzdy=east)
    assert north[0, 1] == north[2, 1] == 5.0
    assert north[1, 0] > 10.0


@pytest.mark.nojit
def test_the_sign_of_both_gradients_counts_on_a_diagonal():
    """Rising to the north-east, gradient (0.3, 0.3): nothing across the way north-east, 0.42 across north-west."""
    ground = flat(2, 2)
    rise = np.full((2, 2), 0.3, np.float32)
    assert np.isfinite(limited(ground, LEVEL, OFFSETS_8, (1, 0), across=0.1, dzdx=rise, dzdy=rise)[0, 1])
    assert np.isfinite(limited(ground, LEVEL, OFFSETS_8, (1, 1), across=0.43, dzdx=rise, dzdy=rise)[0, 0])
    alone = limited(ground, LEVEL, OFFSETS_8, (1, 1), across=0.2, dzdx=rise, dzdy=rise)
    assert np.isinf(alone[0, 0]) and np.isinf(alone[0, 1]) and np.isinf(alone[1, 0])


@pytest.mark.nojit
def test_where_the_gradient_is_not_known_only_the_slope_along_counts():
    ground = flat(2, 1)
    unknown = np.full((2, 1), np.nan, np.float32)
    assert limited(ground, LEVEL, OFFSETS_8, (0, 0), across=0.1, dzdx=unknown, dzdy=unknown)[1, 0] == 5.0
    ground.elevation_m[1, 0] = 9.0
    assert np.isinf(limited(ground, LEVEL, OFFSETS_8, (0, 0), across=0.1, up=0.5, dzdx=unknown, dzdy=unknown)[1, 0])


@pytest.mark.nojit
def test_the_seconds_of_the_steps_of_a_path():
    """One straight, one diagonal and one knight's move, from the start to the end that are given."""
    ground = flat(4, 4)
    ground.pace[:] = np.arange(1.0, 17.0).reshape(4, 4)
    rows, cols, got = np.array([0, 0, 1, 2]), np.array([0, 1, 2, 0]), np.empty(3)
    time_along(ground, LEVEL, rows, cols, got)
    knights = math.sqrt(500.0) / 2.0 * (7.0 + 9.0 + 6.0 + 10.0) / 4.0
    np.testing.assert_allclose(got, [5.0 * 1.5, math.sqrt(200.0) / 2.0 * (2.0 + 7.0) / 2.0, knights], rtol=1e-12)
    time_along(ground, TOBLER_OUTWARD, rows[:1], cols[:1], got[:0])


def test_the_queue_takes_no_more_room_than_promised():
    """4.1 bytes for each cell of room and 272 bytes a list, 8 of them in `lists` twice where it is a tile's."""
    room = 1_000_000
    queue = open_queue((1000, 1000), 0.2, 100.0, room)
    most = BUCKETS + (1 << queue.frame.shift) + queue.frame.tiles
    assert queue.pool.nbytes <= 4.1 * room + 256 * (most + 2)
    assert queue.lists.nbytes <= 16 * (most + 1)
    assert (1 << queue.frame.shift) == 512


@pytest.mark.parametrize("room", [0, 40_000])
def test_entries_that_find_no_room_are_found_again(room):
    """Every cell of a large grid is a seed: more than the queue can hold at once."""
    rng = np.random.default_rng(5)
    shape = (400, 500)
    ground = Ground(
        rng.normal(0.0, 3.0, shape).astype(np.float32), rng.uniform(1.0, 3.0, shape).astype(np.float32), 10.0
    )
    start_s = rng.uniform(0.0, 40.0, shape)
    want, back = start_s.copy(), np.empty(shape, np.int8)
    travel_time(ground, TOBLER_OUTWARD, OFFSETS_16, want, want, back)
    field = lay_out(ground, TOBLER_OUTWARD, OFFSETS_16)
    time_s, marks = np.empty(start_s.size), np.empty(start_s.size, np.int8)
    mark_cells(field, start_s.ravel(), time_s, marks)
    queue = open_queue(shape, 0.1, 10.0, room)
    fill(queue, time_s, marks)
    assert has_lost(queue)
    run(field, None, (time_s, marks), room)
    assert np.mean(want < start_s) > 0.2
    assert np.array_equal(time_s.reshape(shape), want)
