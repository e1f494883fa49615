"""Simulated woods with known stems, and how well found trees match them.

Stems stand in clusters (Neyman and Scott 1958) on an even background. Crown widths follow Bechtold (2003), SJAF
27:269-278 (post oak, loblolly pine, eastern redcedar); heights and crown shapes are invented.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, maximum_filter
from scipy.spatial import cKDTree

MATCH_M = 2.0
# crown width ft = base + per inch x dbh; height = 1.37 + a (1 - exp(-b dbh cm)); shape; crown depth as share of height
SPECIES = (
    (4.12, 1.70, 18.5, 0.046, "bowl", 0.42),
    (4.12, 1.70, 25.0, 0.042, "bowl", 0.42),
    (4.12, 1.70, 21.0, 0.048, "ball", 0.40),
    (2.56, 1.38, 26.0, 0.045, "cone", 0.45),
    (4.59, 1.34, 11.0, 0.060, "cone", 0.85),
)


@dataclass(frozen=True, kw_only=True)
class Wood:
    """A square wood: `canopy` (rows, cols) float32 m with row 0 at y = 0; `points` (n, 2) x and y m from the corner."""

    canopy: NDArray[np.float32]
    cell_m: float
    points: NDArray[np.float64]
    height_m: NDArray[np.float64]
    radius_m: NDArray[np.float64]
    dbh_m: NDArray[np.float64]


def grow(seed: int, per_ha: float, *, side_m: float = 150.0, cell_m: float = 1.0, rough_m: float = 0.15) -> Wood:
    """A clustered wood; `rough_m` is the unevenness of the crowns over about a metre (standard deviation)."""
    rng = np.random.default_rng(seed)
    points, dbh_cm = _stand(rng, per_ha * 1.15, side_m)
    kind = rng.choice(len(SPECIES), len(points), p=rng.dirichlet([2.0, 2.0, 1.5, 1.5, 1.0]))
    base, per_in, a, b = np.array([s[:4] for s in SPECIES])[kind].T
    height = (1.37 + a * (1 - np.exp(-b * dbh_cm))) * np.clip(1 + 0.07 * rng.standard_normal(len(kind)), 0.8, 1.2)
    width = (base + per_in * dbh_cm / 2.54) * 0.3048 * np.clip(1 + 0.1 * rng.standard_normal(len(kind)), 0.7, 1.3)
    canopy = _draw(points, height, width / 2, kind, side_m, cell_m)
    uneven = gaussian_filter(rng.standard_normal(canopy.shape), 0.8 / cell_m)
    noise = rng.normal(0.0, 0.1, canopy.shape) + rough_m * uneven / uneven.std()
    canopy = np.where(canopy > 0, np.maximum(canopy + noise, 0), 0).astype(np.float32)
    return Wood(
        canopy=canopy, cell_m=cell_m, points=points, height_m=height, radius_m=width / 2, dbh_m=dbh_cm / 100
    )  # fmt: skip


def _stand(rng: np.random.Generator, per_ha: float, side_m: float) -> tuple[NDArray, NDArray]:
    """Places and diameters in cm; of two stems too close the thinner goes."""
    hectares = side_m**2 / 1e4
    even = rng.random((rng.poisson(0.45 * per_ha * hectares), 2)) * side_m
    parents = rng.random((rng.poisson(45 * hectares), 2)) * side_m
    brood = rng.poisson(rng.gamma(2.0, 0.55 * per_ha / 45 / 2, len(parents)))
    near = np.repeat(parents, brood, axis=0) + rng.normal(0, 5, (brood.sum(), 2))
    points = np.vstack([even, near])
    points = points[((points > 0) & (points < side_m)).all(axis=1)]
    part, n = rng.random(len(points)), len(points)
    pole, large = 10 + 16 * rng.beta(1.3, 1.6, n), 22 + 38 * rng.beta(1.4, 3.0, n)
    dbh = np.where(part < 0.2, rng.uniform(4, 10, n), np.where(part < 0.55, pole, large))
    order = np.argsort(-dbh)
    points, dbh = points[order], dbh[order]
    keep = np.ones(n, bool)
    for first, second in sorted(cKDTree(points).query_pairs(2.05)):
        apart = np.hypot(*(points[first] - points[second]))
        if keep[first] and keep[second] and apart < 1.15 + 0.01 * dbh[second]:
            keep[second] = False
    return points[keep], dbh[keep]


def _draw(points: NDArray, height: NDArray, radius: NDArray, kind: NDArray, side_m: float, cell_m: float) -> NDArray:
    size = round(side_m / cell_m)
    out = np.zeros((size, size))
    centre = (np.arange(size) + 0.5) * cell_m
    for (x, y), h, r, k in zip(points, height, radius, kind, strict=True):
        i0, i1 = np.searchsorted(centre, [y - r, y + r])
        j0, j1 = np.searchsorted(centre, [x - r, x + r])
        share = np.hypot(centre[i0:i1, None] - y, centre[None, j0:j1] - x) / r
        shape, depth = SPECIES[k][4:]
        drop = {"bowl": share**2, "ball": 1 - np.sqrt(np.clip(1 - share**2, 0, 1)), "cone": share}[shape]
        np.maximum(out[i0:i1, j0:j1], np.where(share <= 1, h * (1 - depth * drop), 0), out=out[i0:i1, j0:j1])
    return out


def match(found: NDArray, true: NDArray) -> NDArray[np.int64]:
    """Index of the true stem of each found tree, -1 for none: one to one, nearest pairs first, at most 2 m apart."""
    near = cKDTree(true).query_ball_point(found, MATCH_M) if len(found) else []
    first = np.repeat(np.arange(len(found)), [len(v) for v in near])
    second = np.array([j for v in near for j in v], dtype=np.int64)
    apart = np.hypot(*(found[first] - true[second]).T) if len(first) else np.empty(0)
    out, taken = np.full(len(found), -1), np.zeros(len(true), bool)
    for k in np.argsort(apart, kind="stable"):
        if out[first[k]] < 0 and not taken[second[k]]:
            out[first[k]] = second[k]
            taken[second[k]] = True
    return out


def score(found: NDArray, true: NDArray) -> dict[str, float]:
    """Trees found, precision, recall, F1, and the median distance in metres of the matched pairs."""
    pairs = match(found, true)
    hits = int((pairs >= 0).sum())
    precision, recall = hits / max(1, len(found)), hits / max(1, len(true))
    apart = np.hypot(*(found[pairs >= 0] - true[pairs[pairs >= 0]]).T)
    return {
        "found": len(found), "precision": round(precision, 4), "recall": round(recall, 4),
        "f1": round(2 * hits / max(1, len(found) + len(true)), 4),
        "median_error_m": round(float(np.median(apart)), 3) if hits else float("nan"),
    }  # fmt: skip


def places(cells: NDArray, cell_m: float) -> NDArray[np.float64]:
    """x and y of cells given by row and column, (n, 2)."""
    return (np.asarray(cells, dtype=np.float64).reshape(-1, 2)[:, ::-1] + 0.5) * cell_m


def fixed_window(canopy: NDArray, reach: int, least_m: float) -> NDArray:
    """Rows and columns of the cells that top a square window of 2 reach + 1 cells, with scipy's maximum filter."""
    return np.argwhere((maximum_filter(canopy, size=2 * reach + 1) == canopy) & (canopy >= least_m))


def by_height_class(canopy: NDArray, cell_m: float, least_m: float) -> NDArray:
    """Tops by one maximum filter for each whole radius of a window of 1.2 + 0.16 h metres (Pitkanen 2004)."""
    reach = np.maximum(1, np.floor(0.5 * (1.2 + 0.16 * canopy) / cell_m + 0.5)).astype(int)
    out = [np.empty((0, 2), int)]
    for r in np.unique(reach[canopy >= least_m]):
        step = np.arange(-r, r + 1)
        disk = step[:, None] ** 2 + step[None, :] ** 2 <= r * r
        top = maximum_filter(canopy, footprint=disk) == canopy
        out.append(np.argwhere(top & (reach == r) & (canopy >= least_m)))
    return np.concatenate(out)
