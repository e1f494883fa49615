"""Travel times against scipy's shortest paths, Tobler's function and the geometry of grid paths."""

import math

import numpy as np
import pytest
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra

from boscage.kernels.travel import (
    OFFSETS_8,
    OFFSETS_16,
    TOBLER_INWARD,
    TOBLER_OUTWARD,
    Ground,
    Limits,
    Walk,
    time_along,
    trace,
    travel_time,
    walking_speed_mps,
)

# W. Tobler (1993), NCGIA Technical Report 93-1: slope, km/h.
TOBLER_KMH = [
    (-0.5, 1.2420), (-0.3, 2.5012), (-0.2, 3.5493), (-0.1, 5.0367), (-0.05, 6.0000), (0.0, 5.0367),
    (0.05, 4.2281), (0.1, 3.5493), (0.2, 2.5012), (0.3, 1.7625), (0.5, 0.8753),
]  # fmt: skip

MOVES = {
    8: [(r, c) for r in (-1, 0, 1) for c in (-1, 0, 1) if (r, c) != (0, 0)],
    16: [(r, c) for r in range(-2, 3) for c in range(-2, 3) if math.gcd(r, c) == 1],
}
OFFSETS = {8: OFFSETS_8, 16: OFFSETS_16}


def times(ground, walk, offsets, start_s):
    time_s, back = np.empty(start_s.shape), np.empty(start_s.shape, np.int8)
    travel_time(ground, walk, offsets, start_s, time_s, back)
    return time_s


def shifted(grid, south, east, fill):
    """grid[r + south, c + east] at each (r, c), `fill` beyond the edge."""
    rows, cols = grid.shape
    return np.pad(grid, 2, constant_values=fill)[2 + south : 2 + south + rows, 2 + east : 2 + east + cols]


def move_seconds(z_m, pace, cell_m, south, east, limits=None):
    """Seconds from each cell to the cell a move away by Tobler's function, NaN where the move is barred.

    A knight's move runs a quarter of its way in each of four cells.
    """
    passable = np.isfinite(z_m) & np.isfinite(pace)
    allowed = passable & shifted(passable, south, east, False)
    half_s, half_e = int(south / 2), int(east / 2)
    mean = (pace + shifted(pace, south, east, np.nan)) / 2.0
    if abs(south) == 1 and abs(east) == 1:
        allowed &= shifted(passable, south, 0, False) | shifted(passable, 0, east, False)
    elif abs(south) == 2:
        allowed &= shifted(passable, half_s, 0, False) & shifted(passable, half_s, east, False)
        mean = mean / 2.0 + (shifted(pace, half_s, 0, np.nan) + shifted(pace, half_s, east, np.nan)) / 4.0
    elif abs(east) == 2:
        allowed &= shifted(passable, 0, half_e, False) & shifted(passable, south, half_e, False)
        mean = mean / 2.0 + (shifted(pace, 0, half_e, np.nan) + shifted(pace, south, half_e, np.nan)) / 4.0
    run_m = cell_m * math.hypot(south, east)
    slope = (shifted(z_m, south, east, np.nan) - z_m) / run_m
    kmh = 6.0 * np.exp(-3.5 * np.abs(slope + 0.05))
    seconds = run_m / (kmh / 3.6) * mean
    if limits is not None:
        along = np.array([east, -south]) / math.hypot(south, east)
        gx = (limits.dzdx + shifted(limits.dzdx, south, east, np.nan)) / 2.0
        gy = (limits.dzdy + shifted(limits.dzdy, south, east, np.nan)) / 2.0
        across = np.abs(gx * along[1] - gy * along[0])
        allowed &= (slope <= limits.up) & (slope >= -limits.down) & ~(across > limits.across)
    return np.where(allowed, seconds, np.nan)


def scipy_times(ground, start_s, moves, *, inward, limits=None):
    """Dijkstra from one more node, joined to each seed by an edge one second longer than its start."""
    z_m, pace = ground.elevation_m.astype(np.float64), ground.pace.astype(np.float64)
    z_m, pace = np.where(np.isfinite(z_m), z_m, np.nan), np.where(np.isfinite(pace), pace, np.nan)
    number = np.arange(z_m.size).reshape(z_m.shape)
    tails, heads, seconds = [], [], []
    for south, east in moves:
        cost = move_seconds(z_m, pace, ground.cell_m, south, east, limits)
        keep = np.isfinite(cost)
        tails.append(number[keep])
        heads.append(number[keep] + south * z_m.shape[1] + east)
        seconds.append(cost[keep])
    seeds = number[np.isfinite(start_s)]
    tail, head = np.concatenate(tails), np.concatenate(heads)
    if inward:
        tail, head = head, tail
    tail = np.concatenate([tail, np.full(seeds.size, z_m.size)])
    head = np.concatenate([head, seeds])
    weight = np.concatenate([*seconds, start_s[np.isfinite(start_s)] + 1.0])
    graph = coo_array((weight, (tail, head)), shape=(z_m.size + 1, z_m.size + 1)).tocsr()
    return dijkstra(graph, indices=z_m.size)[:-1].reshape(z_m.shape) - 1.0


def wild_ground(seed, shape=(53, 71)):
    """Ridges with one steep side, banks, scattered barriers and holes in the elevation."""
    rng = np.random.default_rng(seed)
    row, col = np.indices(shape)
    z_m = 8.0 * (col % 9) - 3.0 * (row % 7) + rng.normal(0.0, 2.0, shape)
    pace = np.where(rng.random(shape) < 0.3, 1.0, rng.uniform(1.0 / 0.6, 5.0, shape))
    pace[rng.random(shape) < 0.2] = np.inf
    pace[rng.random(shape) < 0.02] = np.nan
    z_m[rng.random(shape) < 0.02] = np.nan
    start_s = np.full(shape, np.inf)
    for _ in range(6):
        seed_cell = rng.integers(shape[0]), rng.integers(shape[1])
        start_s[seed_cell] = rng.uniform(0.0, 300.0)
        z_m[seed_cell], pace[seed_cell] = 10.0, 1.0
    return Ground(z_m.astype(np.float32), pace.astype(np.float32), 10.0), start_s


@pytest.mark.parametrize("neighbours", [8, 16])
@pytest.mark.parametrize("inward", [False, True], ids=["outward", "inward"])
@pytest.mark.parametrize("seed", range(4))
def test_times_equal_scipys_dijkstra(neighbours, inward, seed):
    """scipy.sparse.csgraph.dijkstra on the same graph, built apart; 1e-9 relative."""
    ground, start_s = wild_ground(seed)
    got = times(ground, TOBLER_INWARD if inward else TOBLER_OUTWARD, OFFSETS[neighbours], start_s)
    want = scipy_times(ground, start_s, MOVES[neighbours], inward=inward)
    assert 0.5 < np.isfinite(want).mean() < 1.0
    assert np.array_equal(np.isfinite(got), np.isfinite(want))
    np.testing.assert_allclose(got, want, rtol=1e-9)


@pytest.mark.parametrize("neighbours", [8, 16])
@pytest.mark.parametrize("inward", [False, True], ids=["outward", "inward"])
@pytest.mark.parametrize("seed", range(3))
def test_times_with_one_way_and_side_slope_limits_equal_scipys_dijkstra(neighbours, inward, seed):
    """A vehicle that goes down what it cannot go up, and not along steep sides; some gradients are not known."""
    ground, start_s = wild_ground(seed, shape=(47, 61))
    ground = ground._replace(elevation_m=ground.elevation_m * np.float32(0.4))
    rng = np.random.default_rng(seed + 50)
    dzdx, dzdy = rng.normal(0.0, 0.15, (2, *start_s.shape)).astype(np.float32)
    dzdx[rng.random(start_s.shape) < 0.05] = np.nan
    limits = Limits(up=0.22, down=0.45, across=0.3, dzdx=dzdx, dzdy=dzdy)
    time_s, back = start_s.copy(), np.empty(start_s.shape, np.int8)
    walk = TOBLER_INWARD if inward else TOBLER_OUTWARD
    travel_time(ground, walk, OFFSETS[neighbours], time_s, time_s, back, limits)
    want = scipy_times(ground, start_s, MOVES[neighbours], inward=inward, limits=limits)
    free = times(ground, walk, OFFSETS[neighbours], start_s)
    assert np.array_equal(np.isfinite(time_s), np.isfinite(want))
    assert np.mean(np.isfinite(free) & ~(want <= free * 1.01)) > 0.05
    np.testing.assert_allclose(time_s, want, rtol=1e-9)


@pytest.mark.parametrize("shape", [(23, 1100), (1100, 23), (520, 530)], ids=str)
@pytest.mark.parametrize("inward", [False, True], ids=["outward", "inward"])
def test_times_on_a_grid_of_several_tiles_equal_scipys_dijkstra(shape, inward):
    """The queue works tile by tile, 512 cells a side: ways that go back and forth between tiles, narrow passes."""
    ground, start_s = wild_ground(3, shape)
    ground.pace[::6, :] = np.where(np.arange(shape[1]) % 11 < 8, np.inf, 1.0)
    ground.pace[:, 500:525:3] = np.float32(0.01)
    start_s[~np.isfinite(ground.pace)] = np.inf
    got = times(ground, TOBLER_INWARD if inward else TOBLER_OUTWARD, OFFSETS_16, start_s)
    want = scipy_times(ground, start_s, MOVES[16], inward=inward)
    assert np.isfinite(want).mean() > 0.3
    assert np.array_equal(np.isfinite(got), np.isfinite(want))
    np.testing.assert_allclose(got, want, rtol=1e-9)


@pytest.mark.parametrize("neighbours", [8, 16])
def test_times_at_one_speed_equal_scipys_dijkstra(neighbours):
    """Isotropic: level ground through the same graph, scaled by the speed on it."""
    ground, start_s = wild_ground(5)
    start_s[np.isfinite(start_s)] = 0.0
    level = ground._replace(elevation_m=np.where(np.isnan(ground.elevation_m), np.nan, 0.0).astype(np.float32))
    walk = Walk(top_speed_mps=6.0 * math.exp(-3.5 * 0.05) / 3.6, decay=0.0, best_slope=0.0, inward=False)
    want = scipy_times(level, start_s, MOVES[neighbours], inward=False)
    np.testing.assert_allclose(times(ground, walk, OFFSETS[neighbours], start_s), want, rtol=1e-9)


@pytest.mark.parametrize("heading_deg", range(0, 180, 15))
def test_a_strip_of_slow_ground_one_cell_wide_is_paid_for_whatever_its_heading(heading_deg):
    """The strip's cells share sides; the cheapest move over it is a knight's, 5**0.5 / 4 of a cell in the strip."""
    shape = (81, 81)
    row, col = np.indices(shape) - 40
    angle = math.radians(heading_deg)
    along = np.arange(-80.0, 80.0, 0.2)
    rows, cols = np.round(along * math.sin(angle)).astype(int) + 40, np.round(along * math.cos(angle)).astype(int) + 40
    inside = (rows >= 0) & (rows < 81) & (cols >= 0) & (cols < 81)
    pace = np.ones(shape, np.float32)
    pace[rows[inside], cols[inside]] = 30.0
    strip = pace > 1.0
    corner = strip[:-1, :-1] & strip[1:, 1:] & ~strip[1:, :-1] & ~strip[:-1, 1:]
    pace[:-1, 1:][corner] = 30.0
    corner = strip[:-1, 1:] & strip[1:, :-1] & ~strip[:-1, :-1] & ~strip[1:, 1:]
    pace[:-1, :-1][corner] = 30.0
    side = col * math.sin(angle) - row * math.cos(angle)
    start_s = np.where(side > 2.0, 0.0, np.inf)
    ground = Ground(np.zeros(shape, np.float32), pace, 10.0)
    walk = Walk(top_speed_mps=1.0, decay=0.0, best_slope=0.0, inward=False)
    beyond = times(ground, walk, OFFSETS_16, start_s)[side < -2.0]
    assert beyond.min() > 5**0.5 / 4 * 30.0 * 10.0


@pytest.mark.parametrize("pace_spread", [1e-4, 1e4])
def test_times_equal_scipys_dijkstra_when_paces_differ_greatly(pace_spread):
    """The queue's buckets then hold many moves each, or stand far apart."""
    ground, start_s = wild_ground(9)
    half = np.random.default_rng(9).random(ground.pace.shape) < 0.5
    ground.pace[half] *= np.float32(pace_spread)
    got = times(ground, TOBLER_OUTWARD, OFFSETS_16, start_s)
    np.testing.assert_allclose(got, scipy_times(ground, start_s, MOVES[16], inward=False), rtol=1e-9)


def test_one_way_slopes_give_different_times_out_and_back():
    ground, start_s = wild_ground(2)
    out, back = (times(ground, walk, OFFSETS_16, start_s) for walk in (TOBLER_OUTWARD, TOBLER_INWARD))
    reached = np.isfinite(out)
    assert np.max(np.abs(out[reached] / np.maximum(back[reached], 1.0) - 1.0)) > 0.2


@pytest.mark.nojit
@pytest.mark.parametrize("slope, kmh", TOBLER_KMH)
def test_walking_speed_by_tobler(slope, kmh):
    assert walking_speed_mps(slope, TOBLER_OUTWARD) * 3.6 == pytest.approx(kmh, abs=1e-4)


@pytest.mark.nojit
@pytest.mark.parametrize("slope, kmh", TOBLER_KMH)
@pytest.mark.parametrize("walk, sign", [(TOBLER_OUTWARD, 1), (TOBLER_INWARD, -1)], ids=["outward", "inward"])
def test_time_over_one_move_by_tobler(slope, kmh, walk, sign):
    """100 m cells, off path (time over 0.6): the move away from the seed, or back to it."""
    ground = Ground(np.array([[0.0, sign * 100.0 * slope]], np.float32), np.full((1, 2), 1 / 0.6, np.float32), 100.0)
    got = times(ground, walk, OFFSETS_8, np.array([[0.0, np.inf]]))[0, 1]
    assert 0.36 / (got * 0.6) * 1000.0 == pytest.approx(kmh, abs=1e-4)


@pytest.mark.parametrize(
    "neighbours, worst, closed_form",
    [(8, 1.08239, 1 / math.cos(math.pi / 8)), (16, 1.02749, 1 / math.cos(math.atan(0.5) / 2))],
)
def test_no_heading_on_flat_ground_is_longer_than_the_closed_form(neighbours, worst, closed_form):
    """Elongation of grid paths, cf. M. F. Goodchild (1977): 1 / cos of half the widest gap between moves."""
    side = 201
    ground = Ground(np.zeros((side, side), np.float32), np.ones((side, side), np.float32), 10.0)
    start_s = np.full((side, side), np.inf)
    start_s[100, 100] = 0.0
    length_m = times(ground, TOBLER_OUTWARD, OFFSETS[neighbours], start_s) * walking_speed_mps(0.0, TOBLER_OUTWARD)
    row, col = np.indices((side, side)) - 100
    straight_m = 10.0 * np.hypot(row, col)
    away = straight_m > 0.0
    longest = np.max(length_m[away] / straight_m[away])
    assert closed_form == pytest.approx(worst, abs=1e-5)
    assert longest <= closed_form * (1 + 1e-12)
    assert longest == pytest.approx(worst, abs=1e-4)
    assert np.min(length_m[away] / straight_m[away]) > 1.0 - 1e-12


@pytest.mark.parametrize("seed", range(3))
def test_the_steps_of_a_path_add_up_to_its_time(seed):
    ground, start_s = wild_ground(seed)
    time_s, back = start_s.copy(), np.empty(start_s.shape, np.int8)
    travel_time(ground, TOBLER_OUTWARD, OFFSETS_16, time_s, time_s, back)
    rows, cols = np.empty(start_s.size, np.int64), np.empty(start_s.size, np.int64)
    checked = 0
    for row, col in np.argwhere(np.isfinite(time_s))[::37]:
        count = trace(back, OFFSETS_16, row, col, rows, cols)
        way = rows[:count][::-1].copy(), cols[:count][::-1].copy()
        steps = np.empty(count - 1)
        time_along(ground, TOBLER_OUTWARD, *way, steps)
        assert time_s[way[0][0], way[1][0]] + steps.sum() == pytest.approx(time_s[row, col], rel=1e-9)
        checked += count > 5
    assert checked > 10
