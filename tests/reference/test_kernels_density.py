"""Density against scipy and against the closed form of the bivariate normal."""

import math

import numpy as np
import pytest
from scipy.stats import gaussian_kde

from boscage.kernels.density import Corner, Points, gaussian_density


def test_density_equals_scipys_weighted_kernel_estimate():
    """scipy.stats.gaussian_kde on points whose weighted covariance is a multiple of the identity."""
    rng = np.random.default_rng(11)
    weight = rng.random(40) + 0.1
    raw = rng.normal(size=(2, 40))
    whitener = np.linalg.inv(np.linalg.cholesky(np.cov(raw, aweights=weight)))
    spread_m, bandwidth_m = 300.0, 120.0
    x_m, y_m = spread_m * (whitener @ raw)
    estimate = gaussian_kde(np.vstack([x_m, y_m]), bw_method=bandwidth_m / spread_m, weights=weight)

    corner = Corner(west_m=-1000.0, north_m=1000.0, cell_m=50.0)
    out = np.empty((40, 40))
    gaussian_density(Points(x_m, y_m, weight), corner, bandwidth_m, 38.0, out)
    centres = -1000.0 + 50.0 * (np.arange(40) + 0.5)
    east, north = np.meshgrid(centres, centres[::-1])
    want = estimate(np.vstack([east.ravel(), north.ravel()])).reshape(40, 40) * weight.sum()
    np.testing.assert_allclose(out, want, rtol=1e-9)


@pytest.mark.parametrize("share, factor", [(0.5, 4.35517), (0.9, 14.46757), (0.95, 18.82274), (0.99, 28.93514)])
def test_isopleth_of_one_fix_encloses_the_closed_form_area(share, factor):
    """Area 2 pi h^2 ln(1 / (1 - q)) of the bivariate normal; one fix, h = 200 m, 10 m cells, within 1 %.

    At q = 0.95 that is 75.291 ha.
    """
    out = np.empty((260, 260))
    fix = Points(np.array([1303.0]), np.array([1297.0]), np.ones(1))
    gaussian_density(fix, Corner(0.0, 2600.0, 10.0), 200.0, 6.0, out)
    mass = np.sort(out.ravel())[::-1] * 100.0
    cells = int(np.searchsorted(np.cumsum(mass), share)) + 1
    assert 2 * math.pi * math.log(1 / (1 - share)) == pytest.approx(factor, abs=1e-5)
    assert cells * 100.0 == pytest.approx(factor * 200.0**2, rel=0.01)


@pytest.mark.parametrize("cutoff", [1.0, 2.0, 3.0])
def test_a_point_loses_the_mass_beyond_the_cut(cutoff):
    """Mass of the bivariate normal outside a circle of c standard deviations: exp(-c^2 / 2)."""
    out = np.empty((400, 400))
    gaussian_density(Points(np.zeros(1), np.zeros(1), np.ones(1)), Corner(-400.0, 400.0, 2.0), 100.0, cutoff, out)
    assert out.sum() * 4.0 == pytest.approx(1.0 - math.exp(-(cutoff**2) / 2), abs=1e-3)
