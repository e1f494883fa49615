"""Sight by brute force, written apart from the program: every crossing of every line, in plain numpy."""

from __future__ import annotations

import numpy as np

EARTH_M = 6_371_000.0


def fractal(n: int, seed: int, *, relief_m: float, roughness: float = 2.2) -> np.ndarray:
    """A rough surface by filtered noise; (n, n), 0 to relief_m."""
    rng = np.random.default_rng(seed)
    square = np.fft.fftfreq(n)[:, None] ** 2 + np.fft.rfftfreq(n)[None] ** 2
    square[0, 0] = 1.0
    waves = (rng.normal(size=square.shape) + 1j * rng.normal(size=square.shape)) * square ** (-(roughness + 2) / 4)
    waves[0, 0] = 0.0
    z = np.fft.irfft2(waves, s=(n, n))
    return (z - z.min()) / np.ptp(z) * relief_m


def crowns(n: int, seed: int, *, trees: float, cell_m: float = 1.0, gaps: float = 0.45) -> np.ndarray:
    """Canopy height of crowns with gaps: `trees` a cell, none where a smooth field is under `gaps`."""
    rng = np.random.default_rng(seed)
    wood = fractal(n, seed + 77, relief_m=1.0, roughness=3.0) > gaps
    top = np.zeros((n, n))
    reach = max(1, int(np.ceil(6.0 / cell_m)))
    offset = np.hypot(*np.mgrid[-reach : reach + 1, -reach : reach + 1]) * cell_m
    for row, col in rng.integers(reach, n - reach, (int(trees * n * n), 2)):
        if wood[row, col]:
            radius, height = rng.uniform(1.5, 5.5), rng.uniform(5.0, 22.0)
            crown = np.where(offset <= radius, height * (1.0 - 0.4 * (offset / radius) ** 2), 0.0)
            part = (slice(row - reach, row + reach + 1), slice(col - reach, col + reach + 1))
            top[part] = np.maximum(top[part], crown)
    return top


def _bilinear(z: np.ndarray, row: np.ndarray, col: np.ndarray) -> np.ndarray:
    r0 = np.clip(np.floor(row).astype(int), 0, z.shape[0] - 2)
    c0 = np.clip(np.floor(col).astype(int), 0, z.shape[1] - 2)
    fr, fc = row - r0, col - c0
    return (
        z[r0, c0] * (1 - fr) * (1 - fc) + z[r0, c0 + 1] * (1 - fr) * fc
        + z[r0 + 1, c0] * fr * (1 - fc) + z[r0 + 1, c0 + 1] * fr * fc
    )  # fmt: skip


def share_of_sight(
    ground: np.ndarray, top: np.ndarray, extinction: np.ndarray, cell_m: float, place: tuple[int, int], eye_m: float,
    target_m: float, radius: int, *, curvature: float = 0.0,
) -> np.ndarray:  # fmt: skip
    """Share of sight from one person to every cell within a radius (in cells); NaN beyond. Any array is (n, n)."""
    rows, cols = np.mgrid[: ground.shape[0], : ground.shape[1]]
    di, dj = rows - place[0], cols - place[1]
    near = (di**2 + dj**2 <= radius**2) & ((di != 0) | (dj != 0))
    di, dj = di[near].astype(float), dj[near].astype(float)
    far = np.hypot(di, dj) * cell_m
    eye = ground[place] + eye_m
    bend = curvature / (2 * EARTH_M)
    end = ground[near] + target_m - bend * far**2
    seen = np.ones(len(di), dtype=bool)
    for step in (di, dj):
        for q in range(1, radius):
            live = (np.abs(step) > q) & seen
            if not live.any():
                break
            u = q / np.abs(step[live])
            z = _bilinear(ground, place[0] + di[live] * u, place[1] + dj[live] * u)
            seen[live] = z - bend * (far[live] * u) ** 2 <= eye + (end[live] - eye) * u
    depth = np.zeros(len(di))
    pieces = 8 * radius
    for piece in range(pieces):
        u = (piece + 0.5) / pieces
        r = np.floor(place[0] + di * u + 0.5).astype(int)
        c = np.floor(place[1] + dj * u + 0.5).astype(int)
        under = eye + (end - eye) * u < ground[r, c] + top[r, c] - bend * (far * u) ** 2
        depth += np.where(under & (top[r, c] > 0), extinction[r, c], 0.0) * far / pieces
    out = np.full(ground.shape, np.nan)
    out[near] = np.where(seen, np.exp(-depth), 0.0)
    out[place] = 1.0
    return out
