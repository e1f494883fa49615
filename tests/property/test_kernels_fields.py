"""What must hold for the moving-window, block and density kernels on any field."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from boscage.kernels.density import Corner, Points, gaussian_density
from boscage.kernels.focal import disk_mean
from boscage.kernels.reduce import BlockOut, block_reduce
from boscage.kernels.terrain import horn_gradient, plane_roughness

steady = settings(derandomize=True, deadline=None, max_examples=60)


@st.composite
def fields(draw):
    rows, cols = draw(st.integers(1, 14)), draw(st.integers(1, 14))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    values = (rng.integers(-800, 800, (rows, cols)) / 8.0).astype(np.float32)
    values[rng.random((rows, cols)) < draw(st.sampled_from([0.0, 0.1, 0.7]))] = np.nan
    return values


def mean_of(values, radius_cells, least_share):
    out = np.empty_like(values)
    disk_mean(values, radius_cells, least_share, out)
    return out


@steady
@given(fields(), st.floats(0.0, 6.0), st.floats(0.0, 1.0))
def test_disk_mean_turns_with_the_map_and_stays_within_the_values(values, radius_cells, least_share):
    want = mean_of(values, radius_cells, least_share)
    for turn in (np.transpose, np.flipud, np.fliplr):
        got = mean_of(np.ascontiguousarray(turn(values)), radius_cells, least_share)
        np.testing.assert_allclose(got, turn(want), rtol=1e-6, atol=1e-5)
    known = want[np.isfinite(want)]
    if known.size:
        assert known.min() >= np.nanmin(values) - 1e-4
        assert known.max() <= np.nanmax(values) + 1e-4


@steady
@given(fields(), st.floats(0.0, 5.0))
def test_disk_mean_moves_with_the_field(values, radius_cells):
    """A rim of no data wide enough changes nothing but the place."""
    want = mean_of(values, radius_cells, 0.0)
    got = mean_of(np.pad(values, ((6, 0), (0, 7)), constant_values=np.nan), radius_cells, 0.0)
    np.testing.assert_allclose(got[6:, :-7], want, rtol=1e-6, atol=1e-5)


@steady
@given(fields(), st.floats(-100.0, 100.0), st.integers(1, 4))
def test_raising_the_threshold_never_raises_the_share(values, threshold, k):
    rows, cols = values.shape[0] // k, values.shape[1] // k
    values = np.ascontiguousarray(values[: rows * k, : cols * k])
    low, high = (BlockOut(*(np.empty((rows, cols), np.float32) for _ in range(4))) for _ in range(2))
    block_reduce(values, k, threshold, low)
    block_reduce(values, k, threshold + 10.0, high)
    known = low.valid > 0
    assert (high.share[known] <= low.share[known]).all()
    assert (low.mean[known] <= low.peak[known] + 1e-5).all()


@steady
@given(fields(), st.sampled_from([-128.0, 512.0]), st.floats(0.0, 3.0))
def test_slope_and_roughness_do_not_depend_on_height_above_sea(z_m, rise_m, radius_cells):
    a, b, c, d, e, f, g, h = (np.empty(z_m.shape) for _ in range(8))
    horn_gradient(z_m, 5.0, a, b)
    plane_roughness(z_m, radius_cells, 5.0, c, d)
    lifted = z_m + np.float32(rise_m)
    horn_gradient(lifted, 5.0, e, f)
    plane_roughness(lifted, radius_cells, 5.0, g, h)
    np.testing.assert_allclose([e, f, g, h], [a, b, c, d], rtol=1e-9, atol=1e-9)


@steady
@given(fields())
def test_gradient_turns_with_the_map(z_m):
    dzdx, dzdy, tx, ty = (np.empty(z_m.shape) for _ in range(4))
    horn_gradient(z_m, 5.0, dzdx, dzdy)
    tx, ty = tx.T.copy(), ty.T.copy()
    horn_gradient(np.ascontiguousarray(z_m.T), 5.0, tx, ty)
    np.testing.assert_allclose(tx.T, -dzdy, rtol=1e-9, atol=1e-12)
    np.testing.assert_allclose(ty.T, -dzdx, rtol=1e-9, atol=1e-12)


@steady
@given(st.integers(0, 2**32 - 1), st.integers(0, 12), st.integers(-20, 20), st.integers(-20, 20))
def test_density_moves_with_the_points_and_adds_up(seed, count, east, north):
    rng = np.random.default_rng(seed)
    points = Points(rng.uniform(0, 320, count), rng.uniform(0, 320, count), rng.uniform(0, 3, count))
    here, moved, first, rest = (np.empty((20, 20)) for _ in range(4))
    gaussian_density(points, Corner(0.0, 320.0, 16.0), 40.0, 5.0, here)
    shift = Points(points.x_m + 1024.0 * east, points.y_m + 1024.0 * north, points.weight)
    gaussian_density(shift, Corner(1024.0 * east, 320.0 + 1024.0 * north, 16.0), 40.0, 5.0, moved)
    np.testing.assert_allclose(moved, here, rtol=1e-8, atol=1e-9)
    half = count // 2
    gaussian_density(Points(*(a[:half] for a in points)), Corner(0.0, 320.0, 16.0), 40.0, 5.0, first)
    gaussian_density(Points(*(a[half:] for a in points)), Corner(0.0, 320.0, 16.0), 40.0, 5.0, rest)
    np.testing.assert_allclose(first + rest, here, rtol=1e-12, atol=1e-18)
