"""Smooth random fields that make edges and surfaces irregular."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from generate.frame import Floats


def fractal(shape: tuple[int, int], scales: list[float], rng: np.random.Generator) -> Floats:
    """Sum of Gaussian-smoothed white noise, mean 0 and standard deviation 1.

    `scales` are smoothing widths in cells; the weight of each is its square root.
    """
    total = np.zeros(shape)
    for scale in scales:
        step = max(1, int(scale // 2))
        coarse = (shape[0] // step + 3, shape[1] // step + 3)
        layer = ndimage.gaussian_filter(rng.standard_normal(coarse), scale / step, mode="wrap")
        layer = resample(layer / layer.std(), (coarse[0] * step, coarse[1] * step))
        total += np.sqrt(scale) * layer[: shape[0], : shape[1]]
    return (total - total.mean()) / total.std()


def resample(field: Floats, shape: tuple[int, int], order: int = 1) -> Floats:
    """The field at another cell size, cell centres aligned, by spline of the given order."""
    ratio = [field.shape[0] / shape[0], field.shape[1] / shape[1]]
    where = np.meshgrid(*[(np.arange(n) + 0.5) * r - 0.5 for n, r in zip(shape, ratio, strict=True)], indexing="ij")
    return ndimage.map_coordinates(field, where, order=order, mode="nearest")


def warp(field: Floats, bends: tuple[tuple[float, float], ...], rng: np.random.Generator) -> Floats:
    """The field pulled sideways by smooth random shifts, so that straight grid-aligned lines bend.

    `bends` holds (smoothing width, standard deviation of the shift), both in cells.
    """
    where = np.meshgrid(*[np.arange(n, dtype=float) for n in field.shape], indexing="ij")
    for scale, shift in bends:
        where = [axis + shift * fractal(field.shape, [scale], rng) for axis in where]
    return ndimage.map_coordinates(field, where, order=1, mode="nearest")
