"""The surface of use: a kernel utilisation distribution of weighted sign."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from boscage.evidence.bandwidth import choose_bandwidth
from boscage.evidence.ranges import isopleths
from boscage.evidence.searching import search_effort
from boscage.kernels.density import Corner, Points, gaussian_density
from boscage.model.evidence import AgedSigns, Bandwidth, Searched, SignOptions, UseSurface
from boscage.values import Grid

SHARES = (0.5, 0.95)
OFF_GRID = 0.01
CUTOFF = 5.0
STRIP_CELLS = 4_000_000


def use_surface(
    signs: AgedSigns, grid: Grid, options: SignOptions, searched: Sequence[Searched] | None = None
) -> UseSurface:
    """Density of weighted sign with its isopleths, and where somebody looked.

    Args:
        signs: Aged sign in the grid's CRS.
        searched: Lines along which sign was looked for; None where none are given, so that ground without sign is
            unknown.

    References: B. J. Worton (1989), Ecology 70(1), 164-168 (kernel utilisation distribution).
    """
    points = np.column_stack([signs.x_m, signs.y_m]).reshape(-1, 2)
    width = choose_bandwidth(
        points, signs.weights, options.rule, fixed_m=options.bandwidth.m, least_m=options.least_bandwidth.m  # type: ignore[arg-type]
    )  # fmt: skip
    density = kernel_density(points, signs.weights, grid, width.metres)
    total = float(signs.weights.sum())
    held = float(density.sum(dtype=np.float64)) * grid.cell_m**2
    off = min(1.0, max(0.0, 1.0 - held / total)) if total > 0.0 else 0.0
    effort = None if searched is None else search_effort(searched, signs, grid, options)
    return UseSurface(
        grid=grid, density=density, bandwidth=width, isopleths=isopleths(density, grid.cell_m, SHARES), off_grid=off,
        effort=effort,
        notes=(*signs.notes, *(effort.notes if effort else ()), *_notes(width, off, total, effort is None)),
    )  # fmt: skip


def kernel_density(
    points: NDArray[np.float64], weights: NDArray[np.float64], grid: Grid, bandwidth_m: float
) -> NDArray[np.float32]:
    """(rows, cols) float32 weight per square metre: normal kernels, cut at five bandwidths.

    Made a strip of rows at a time, so that beside the answer no more than a strip is held in memory.

    Args:
        points: (N, 2) metres.
        weights: (N,) 0 or more.
    """
    out = np.empty(grid.shape, dtype=np.float32)
    x, y = np.ascontiguousarray(points[:, 0]), np.ascontiguousarray(points[:, 1])
    held = np.ascontiguousarray(weights, dtype=np.float64)
    rows = max(1, min(grid.rows, STRIP_CELLS // max(1, grid.cols)))
    strip = np.empty((rows, grid.cols), dtype=np.float64)
    for begin in range(0, grid.rows, rows):
        part = strip[: min(rows, grid.rows - begin)]
        corner = Corner(grid.west, grid.north - begin * grid.cell_m, grid.cell_m)
        gaussian_density(Points(x, y, held), corner, bandwidth_m, CUTOFF, part)
        out[begin : begin + len(part)] = part
    return out


def _notes(width: Bandwidth, off: float, total: float, unsearched: bool) -> tuple[str, ...]:
    said = [width.note] if width.note else []
    if total <= 0.0:
        said.append("No sign has any weight: use is not known.")
    if off > OFF_GRID:
        said.append(f"{100.0 * off:.0f} % of use lies beyond the map.")
    if unsearched:
        said.append("No searched line is given: ground without sign was not looked at, as far as is known.")
    return tuple(said)
