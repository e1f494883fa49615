"""Gradients and planes against numpy."""

import numpy as np
import pytest

from boscage.kernels.terrain import horn_gradient, plane_roughness


def gradient(z_m, cell_m):
    dzdx, dzdy = np.full(z_m.shape, -9.0, np.float32), np.full(z_m.shape, -9.0, np.float32)
    horn_gradient(z_m, cell_m, dzdx, dzdy)
    return dzdx, dzdy


def roughness(z_m, radius_cells, cell_m):
    slope, rms_m = np.full(z_m.shape, -9.0, np.float32), np.full(z_m.shape, -9.0, np.float32)
    plane_roughness(z_m, radius_cells, cell_m, slope, rms_m)
    return slope, rms_m


def horn_twin(z_m, cell_m):
    p = z_m.astype(np.float64)
    east = p[:-2, 2:] + 2 * p[1:-1, 2:] + p[2:, 2:]
    west = p[:-2, :-2] + 2 * p[1:-1, :-2] + p[2:, :-2]
    north = p[:-2, :-2] + 2 * p[:-2, 1:-1] + p[:-2, 2:]
    south = p[2:, :-2] + 2 * p[2:, 1:-1] + p[2:, 2:]
    centre = 0.0 * (east + west + north + south + p[1:-1, 1:-1])
    rim = {"pad_width": 1, "constant_values": np.nan}
    return (
        np.pad((east - west) / (8 * cell_m) + centre, **rim),
        np.pad((north - south) / (8 * cell_m) + centre, **rim),
    )


def plane_twin(z_m, radius_cells, cell_m):
    """Solve the least-squares problem of each cell with numpy's lstsq."""
    radius_cells = max(radius_cells, 1.5)
    reach = int(radius_cells)
    span = np.arange(-reach, reach + 1)
    inside = span[:, None] ** 2 + span[None, :] ** 2 <= radius_cells**2
    south, east = np.nonzero(inside)
    design = np.column_stack([np.ones(south.size), (east - reach) * cell_m, (reach - south) * cell_m])
    slope, rms_m = np.full(z_m.shape, np.nan), np.full(z_m.shape, np.nan)
    for r in range(reach, z_m.shape[0] - reach):
        for c in range(reach, z_m.shape[1] - reach):
            piece = z_m[r - reach : r + reach + 1, c - reach : c + reach + 1][inside].astype(np.float64)
            if np.isfinite(piece).all():
                fit = np.linalg.lstsq(design, piece, rcond=None)[0]
                slope[r, c] = np.hypot(fit[1], fit[2])
                rms_m[r, c] = np.sqrt(np.mean((piece - design @ fit) ** 2))
    return slope, rms_m


def ground(shape=(9, 12), dtype=np.float32):
    z_m = np.random.default_rng(6).normal(200.0, 3.0, shape).astype(dtype)
    z_m[4, 5] = np.nan
    return z_m


@pytest.mark.nojit
@pytest.mark.parametrize("dtype", [np.float32, np.float64])
def test_gradient_equals_numpy(dtype):
    z_m = ground(dtype=dtype)
    for got, want in zip(gradient(z_m, 7.5), horn_twin(z_m, 7.5), strict=True):
        np.testing.assert_allclose(got, want, rtol=1e-6, atol=1e-7)


@pytest.mark.nojit
def test_gradient_is_positive_to_the_east_and_to_the_north():
    north_m, east_m = np.meshgrid(10.0 * np.arange(5)[::-1], 10.0 * np.arange(6), indexing="ij")
    dzdx, dzdy = gradient(0.2 * east_m + 0.5 * north_m, 10.0)
    np.testing.assert_allclose(dzdx[1:-1, 1:-1], 0.2, rtol=1e-6)
    np.testing.assert_allclose(dzdy[1:-1, 1:-1], 0.5, rtol=1e-6)


@pytest.mark.nojit
def test_missing_ground_spoils_its_neighbours_only_and_the_rim_is_nan():
    want = np.ones((9, 12), bool)
    want[1:-1, 1:-1] = False
    want[3:6, 4:7] = True
    for grid in gradient(ground(), 1.0):
        assert np.array_equal(np.isnan(grid), want)


@pytest.mark.nojit
@pytest.mark.parametrize("shape", [(0, 0), (1, 1), (2, 5), (5, 2), (0, 4), (4, 0)])
def test_a_grid_too_small_for_the_window_is_all_nan(shape):
    z_m = np.zeros(shape, np.float32)
    assert np.isnan(gradient(z_m, 1.0)).all()
    assert np.isnan(roughness(z_m, 1.0, 1.0)).all()


@pytest.mark.nojit
@pytest.mark.parametrize("radius_cells", [0.0, 1.0, 2.0, 3.5])
def test_plane_equals_lstsq(radius_cells):
    z_m = ground()
    got, want = roughness(z_m, radius_cells, 4.0), plane_twin(z_m, radius_cells, 4.0)
    np.testing.assert_allclose(got[0], want[0], rtol=1e-5)
    np.testing.assert_allclose(got[1], want[1], rtol=1e-5)


@pytest.mark.nojit
def test_a_plane_leaves_nothing_over():
    row, col = np.mgrid[0:8, 0:9]
    slope, rms_m = roughness(1000.0 + 3.0 * row - 4.0 * col, 2.0, 10.0)
    np.testing.assert_allclose(slope[2:-2, 2:-2], 0.5, rtol=1e-6)
    assert np.nanmax(rms_m) < 1e-9
