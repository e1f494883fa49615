"""A field of residuals from scattered ones: ordinary kriging, its variogram fitted by one stated rule.

The model is exponential with a nugget: gamma(d) = nugget + sill (1 - exp(-3 d / range)) for d > 0, so that `range_m` is
where 95 % of the sill is reached. It is the one of greatest restricted likelihood among a fixed set of ranges and
nugget shares, the total variance in closed form: no starting value, no optimiser, the same answer everywhere.

References:
    R. Webster and M. A. Oliver (2007), Geostatistics for Environmental Scientists, 2nd ed., chapters 5, 8 and 9.4
    (exponential model, ordinary kriging, residual maximum likelihood).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import LinAlgError, cho_factor, cho_solve
from scipy.spatial.distance import pdist, squareform

from boscage.errors import InputError

Array = NDArray[np.float64]

NUGGET_SHARES = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
RANGE_STEPS = 16
MOST_FITTED = 400
_LEAST_VARIANCE = 1e-12
_CHUNK = 20_000


@dataclass(frozen=True, kw_only=True)
class Variogram:
    """An exponential variogram with a nugget.

    Attributes:
        nugget: Variance of two readings side by side.
        sill: Variance that is added with distance.
        range_m: Distance where 95 % of the sill is reached.
        count: Number of places that it was fitted to.
    """

    nugget: float
    sill: float
    range_m: float
    count: int

    def __call__(self, distance_m: Array) -> Array:
        """Half the expected squared difference at a distance; 0 at 0."""
        d = np.asarray(distance_m, dtype=float)
        return np.where(d > 0.0, self.nugget + self.sill * -np.expm1(-3.0 * d / self.range_m), 0.0)

    def __str__(self) -> str:
        return (
            f"exponential, nugget {self.nugget:.3f}, sill {self.sill:.3f}, range {self.range_m:.0f} m, "
            f"{self.count} places"
        )


def fit_variogram(points: Array, values: Array) -> Variogram:
    """The model of greatest restricted likelihood.

    Ranges tried run in equal ratios from the median distance of each place to its nearest neighbour up to the greatest
    distance between two places; nugget shares are `NUGGET_SHARES`. Of more than `MOST_FITTED` places evenly picked ones
    (in the order west to east) are used.

    Args:
        points: (N, 2) metres, no two alike, N at least 3.
        values: (N,).

    Raises:
        InputError: There are too few places, or two are the same.
    """
    points, values = _checked(points, values)
    if len(points) > MOST_FITTED:
        order = np.lexsort((points[:, 1], points[:, 0]))
        picked = order[np.linspace(0, len(points) - 1, MOST_FITTED).round().astype(int)]
        points, values = points[picked], values[picked]
    apart = squareform(pdist(points))
    nearest = np.where(np.eye(len(points), dtype=bool), np.inf, apart).min(axis=1)
    best: tuple[float, float, float, float] | None = None
    for range_m in np.geomspace(float(np.median(nearest)), float(apart.max()), RANGE_STEPS):
        related = np.exp(-3.0 * apart / range_m)
        for share in NUGGET_SHARES:
            likelihood, variance = _restricted(related, values, share)
            if best is None or likelihood > best[0] + 1e-9:
                best = (likelihood, variance, share, float(range_m))
    assert best is not None, "there is at least one range"
    _, variance, share, range_m = best
    return Variogram(nugget=share * variance, sill=(1.0 - share) * variance, range_m=range_m, count=len(values))


def _restricted(related: Array, values: Array, nugget_share: float) -> tuple[float, float]:
    """Restricted log likelihood (less a constant) and the total variance that maximises it.

    With n values, correlation R and a constant mean: -0.5 ((n - 1) ln s2 + ln det R + ln(1' R^-1 1)), where
    s2 = r' R^-1 r / (n - 1) and r are the values less their generalised mean.
    """
    n = len(values)
    matrix = (1.0 - nugget_share) * related
    np.fill_diagonal(matrix, 1.0)
    try:
        factor = cho_factor(matrix, lower=True)
    except LinAlgError:
        return -math.inf, _LEAST_VARIANCE
    solved = cho_solve(factor, np.column_stack([np.ones(n), values]))
    weight = float(solved[:, 0].sum())
    if weight <= 0.0:
        return -math.inf, _LEAST_VARIANCE
    rest = values - float(solved[:, 1].sum()) / weight
    variance = max(float(rest @ cho_solve(factor, rest)) / (n - 1), _LEAST_VARIANCE)
    log_det = 2.0 * float(np.log(np.diag(factor[0])).sum())
    return -0.5 * ((n - 1) * math.log(variance) + log_det + math.log(weight)), variance


@dataclass(frozen=True, kw_only=True)
class Kriged:
    """Estimates at places.

    Attributes:
        values: (M,).
        errors: (M,) standard errors of a new reading there; 0 at a place that the data hold.
    """

    values: Array
    errors: Array


def krige(points: Array, values: Array, variogram: Variogram, at: Array) -> Kriged:
    """Ordinary kriging; it returns the data at their own places.

    Args:
        points: (N, 2) metres, no two alike, N at least 3.
        values: (N,).
        at: (M, 2).
    """
    from pykrige.ok import OrdinaryKriging

    points, values = _checked(points, values)
    middle = points.mean(axis=0)
    total = variogram.nugget + variogram.sill
    if total <= 2.0 * _LEAST_VARIANCE or np.ptp(values) == 0.0:
        return Kriged(values=np.full(len(at), values.mean()), errors=np.full(len(at), math.sqrt(max(total, 0.0))))
    model = OrdinaryKriging(
        points[:, 0] - middle[0], points[:, 1] - middle[1], values, variogram_model="exponential",
        variogram_parameters={"psill": variogram.sill, "range": variogram.range_m, "nugget": variogram.nugget},
        exact_values=True,
    )  # fmt: skip
    found, errors = np.empty(len(at)), np.empty(len(at))
    for start in range(0, len(at), _CHUNK):
        part = np.asarray(at[start : start + _CHUNK], dtype=float) - middle
        z, variance = model.execute("points", part[:, 0], part[:, 1])
        found[start : start + _CHUNK] = np.asarray(z)
        errors[start : start + _CHUNK] = np.sqrt(np.maximum(np.asarray(variance), 0.0))
    return Kriged(values=found, errors=errors)


def leave_one_out(points: Array, values: Array, variogram: Variogram) -> Kriged:
    """Each place estimated from all the others with the same variogram, all at once.

    With K the ordinary kriging matrix (semivariances bordered by ones) and b = (values, 0): the error at i is
    (K^-1 b)_i / (K^-1)_ii, its variance -1 / (K^-1)_ii.

    References:
        O. Dubrule (1983), Cross validation of kriging in a unique neighborhood, Math. Geology 15:687-699.
    """
    points, values = _checked(points, values)
    n = len(values)
    if variogram.nugget + variogram.sill <= 2.0 * _LEAST_VARIANCE or np.ptp(values) == 0.0:
        return Kriged(values=values.copy(), errors=np.zeros(n))
    matrix = np.ones((n + 1, n + 1))
    matrix[:n, :n] = variogram(squareform(pdist(points)))
    matrix[n, n] = 0.0
    inverse = np.linalg.inv(matrix)
    diagonal = np.diag(inverse)[:n]
    missed = (inverse[:n, :n] @ values) / diagonal
    return Kriged(values=values - missed, errors=np.sqrt(np.maximum(-1.0 / diagonal, 0.0)))


def _checked(points: Array, values: Array) -> tuple[Array, Array]:
    points, values = np.asarray(points, dtype=float), np.asarray(values, dtype=float)
    if len(points) < 3 or len(points) != len(values):
        raise InputError(f"{len(points)} places with {len(values)} values", expected="at least 3, one value each")
    if not (np.isfinite(points).all() and np.isfinite(values).all()):
        raise InputError("a place or value is not finite", expected="numbers")
    if len(np.unique(points, axis=0)) < len(points):
        raise InputError("two readings have the same place", mend="average them first")
    return points, values
