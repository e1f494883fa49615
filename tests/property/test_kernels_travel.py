"""What must hold for travel times on any ground."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from boscage.kernels.travel import (
    OFFSETS_8,
    OFFSETS_16,
    TOBLER_INWARD,
    TOBLER_OUTWARD,
    Ground,
    trace,
    travel_time,
)

steady = settings(derandomize=True, deadline=None, max_examples=60)
offsets_of = st.sampled_from([OFFSETS_8, OFFSETS_16])
walks = st.sampled_from([TOBLER_OUTWARD, TOBLER_INWARD])


@st.composite
def problems(draw):
    rows, cols = draw(st.integers(1, 12)), draw(st.integers(1, 12))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    z_m = (rng.integers(-160, 160, (rows, cols)) / 16.0 * draw(st.sampled_from([0.0, 1.0, 8.0]))).astype(np.float32)
    pace = (rng.integers(4, 40, (rows, cols)) / 4.0).astype(np.float32)
    pace[rng.random((rows, cols)) < draw(st.sampled_from([0.0, 0.2, 0.45]))] = np.inf
    start_s = np.where(rng.random((rows, cols)) < 0.1, rng.uniform(0.0, 500.0, (rows, cols)), np.inf)
    start_s[rng.integers(rows), rng.integers(cols)] = 0.0
    return Ground(z_m, pace, 10.0), start_s


def times(ground, walk, offsets, start_s):
    time_s, back = np.empty(start_s.shape), np.empty(start_s.shape, np.int8)
    travel_time(ground, walk, offsets, start_s, time_s, back)
    return time_s, back


@steady
@given(problems(), walks, offsets_of)
def test_turning_the_map_over_turns_the_times_over(problem, walk, offsets):
    ground, start_s = problem
    want, _ = times(ground, walk, offsets, start_s)
    for turn in (np.transpose, np.flipud, np.fliplr):
        turned = Ground(*(np.ascontiguousarray(turn(grid)) for grid in ground[:2]), ground.cell_m)
        got, _ = times(turned, walk, offsets, np.ascontiguousarray(turn(start_s)))
        np.testing.assert_allclose(got, turn(want), rtol=1e-12)


@steady
@given(problems(), walks, offsets_of, st.sampled_from([-64.0, 256.0]), st.floats(0.0, 1e4))
def test_raising_all_ground_changes_nothing_and_a_later_start_delays_all(problem, walk, offsets, rise_m, delay_s):
    ground, start_s = problem
    want, _ = times(ground, walk, offsets, start_s)
    lifted = ground._replace(elevation_m=ground.elevation_m + np.float32(rise_m))
    np.testing.assert_allclose(times(lifted, walk, offsets, start_s)[0], want, rtol=1e-12)
    later, _ = times(ground, walk, offsets, start_s + delay_s)
    np.testing.assert_allclose(later, want + delay_s, rtol=1e-9)


@steady
@given(problems(), walks, offsets_of, st.integers(0, 2**32 - 1))
def test_raising_a_pace_never_lowers_a_time(problem, walk, offsets, seed):
    ground, start_s = problem
    rng = np.random.default_rng(seed)
    worse = ground.pace * rng.choice(np.array([1.0, 1.5, 9.0, np.inf], np.float32), ground.pace.shape)
    before, _ = times(ground, walk, offsets, start_s)
    after, _ = times(ground._replace(pace=worse), walk, offsets, start_s)
    reached = np.isfinite(after)
    assert np.isfinite(before[reached]).all()
    assert (after[reached] >= before[reached] * (1 - 1e-12)).all()


@steady
@given(problems(), walks)
def test_more_moves_never_take_longer_and_another_seed_never_hurts(problem, walk):
    ground, start_s = problem
    eight, _ = times(ground, walk, OFFSETS_8, start_s)
    sixteen, _ = times(ground, walk, OFFSETS_16, start_s)
    assert (sixteen <= np.nextafter(eight * (1 + 1e-12), np.inf)).all()
    more = start_s.copy()
    more[-1, -1] = 0.0
    assert (times(ground, walk, OFFSETS_8, more)[0] <= eight).all()


@steady
@given(problems(), offsets_of)
def test_inward_times_are_outward_times_over_the_ground_upside_down(problem, offsets):
    ground, start_s = problem
    inward, _ = times(ground, TOBLER_INWARD, offsets, start_s)
    mirrored, _ = times(ground._replace(elevation_m=-ground.elevation_m), TOBLER_OUTWARD, offsets, start_s)
    np.testing.assert_allclose(inward, mirrored, rtol=1e-12)


@steady
@given(problems(), walks, offsets_of)
def test_every_reached_cell_traces_back_to_a_seed_through_falling_times(problem, walk, offsets):
    ground, start_s = problem
    got, back = times(ground, walk, offsets, start_s)
    rows, cols = np.empty(got.size, np.int64), np.empty(got.size, np.int64)
    for row, col in np.argwhere(np.isfinite(got)).tolist():
        count = trace(back, offsets, row, col, rows, cols)
        along = got[rows[:count], cols[:count]]
        assert (np.diff(along) < 0.0).all()
        assert along[-1] == start_s[rows[count - 1], cols[count - 1]]
