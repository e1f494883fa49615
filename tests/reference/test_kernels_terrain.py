"""Slope and aspect against a printed worked example and against open rasters."""

from pathlib import Path

import numpy as np
import pytest

from boscage.kernels.terrain import horn_gradient

DATA = Path(__file__).parents[1] / "data" / "site_covariates" / "gorillas_window.npz"


def gradient(z_m, cell_m):
    dzdx, dzdy = np.empty(z_m.shape), np.empty(z_m.shape)
    horn_gradient(z_m, cell_m, dzdx, dzdy)
    return dzdx, dzdy


def slope_deg(dzdx, dzdy):
    return np.degrees(np.arctan(np.hypot(dzdx, dzdy)))


def aspect_deg(dzdx, dzdy):
    return np.degrees(np.arctan2(-dzdx, -dzdy)) % 360.0


@pytest.mark.nojit
def test_worked_slope_of_the_horn_window():
    """Worked example of the Horn (1981) 3 x 3 method in GIS manuals ("How Slope works"), from memory.

    Recomputed by hand. The example counts dz/dy downward and prints -3.8; here north is positive.
    """
    z_m = np.array([[50.0, 45.0, 50.0], [30.0, 30.0, 30.0], [8.0, 10.0, 10.0]])
    dzdx, dzdy = (grid[1, 1] for grid in gradient(z_m, 5.0))
    assert dzdx == pytest.approx(0.05, abs=1e-12)
    assert dzdy == pytest.approx(3.8, abs=1e-12)
    assert slope_deg(dzdx, dzdy) == pytest.approx(75.25766, abs=1e-5)


@pytest.mark.nojit
def test_worked_aspect_of_the_horn_window():
    """Worked example of GIS manuals ("How Aspect works", 92.64), from memory; cell size drops out."""
    z_m = np.array([[101.0, 92.0, 85.0], [101.0, 92.0, 85.0], [101.0, 91.0, 84.0]])
    dzdx, dzdy = (grid[1, 1] for grid in gradient(z_m, 1.0))
    assert dzdx == pytest.approx(-8.125, abs=1e-12)
    assert dzdy == pytest.approx(0.375, abs=1e-12)
    assert aspect_deg(dzdx, dzdy) == pytest.approx(92.6425, abs=1e-4)


def test_slope_and_aspect_of_an_open_elevation_raster():
    """Rasters `gorillas` of the R package spatstat.data, see the README beside the data; slope in degrees."""
    with np.load(DATA) as data:
        z_m, slope, facing = data["elevation_m"], data["slope_deg"], data["aspect_class"]
    dzdx, dzdy = gradient(z_m, 30.709549771388993)
    inner = (slice(1, -1), slice(1, -1))
    np.testing.assert_allclose(slope_deg(dzdx, dzdy)[inner], slope[inner], atol=1e-5)
    octants = np.array([2, 3, 1, 6, 5, 7, 8, 4])  # N, NE, E, SE, S, SW, W, NW in the raster's own codes
    got = octants[np.floor((aspect_deg(dzdx, dzdy)[inner] + 22.5) / 45.0).astype(int) % 8]
    assert np.array_equal(got, facing[inner])
