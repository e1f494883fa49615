"""Every ring that a small wood can hold, by trying every set of trees: plain numpy, written apart from the program."""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np


def best_of_points(
    points: np.ndarray, *, perimeter: float, gather: float, spacing: float, contacts: int
) -> tuple[float, frozenset[int]]:
    """Best score and its trees over all sets of points in strictly convex position; (-inf, {}) where there is none."""
    best = (-math.inf, frozenset())
    for size in range(contacts, len(points) + 1):
        sets = np.array(list(combinations(range(len(points)), size)))
        corners = points[sets]
        away = corners - corners.mean(axis=1, keepdims=True)
        order = np.argsort(np.arctan2(away[..., 1], away[..., 0]), axis=1)
        corners = np.take_along_axis(corners, order[..., None], axis=1)
        step = np.roll(corners, -1, axis=1) - corners
        after = np.roll(step, -1, axis=1)
        turn = step[..., 0] * after[..., 1] - step[..., 1] * after[..., 0]
        span = np.hypot(step[..., 0], step[..., 1])
        length = span.sum(axis=1)
        fits = (turn > 1e-9).all(axis=1)
        fits &= (length <= perimeter * (1 + 1e-9)) & (length >= (1 - gather) * perimeter * (1 - 1e-9))
        if not fits.any():
            continue
        x, y = corners[..., 0], corners[..., 1]
        area = 0.5 * (x * np.roll(y, -1, axis=1) - y * np.roll(x, -1, axis=1)).sum(axis=1)
        built = np.maximum(np.ceil(span / spacing * (1 - 1e-9)) - 1, 0).sum(axis=1)
        with np.errstate(divide="ignore", invalid="ignore"):
            score = np.where(fits, 100 * (4 * math.pi * area / length**2 - 0.03 * built), -np.inf)
        top = int(np.argmax(score))
        if score[top] > best[0] + 1e-9:
            best = (float(score[top]), frozenset(sets[top].tolist()))
    return best


def bark_ring(trunks: np.ndarray) -> np.ndarray | None:
    """Corners on the bark of trunks given counter-clockwise, each where the inward normal halves the ring's angle.

    Found as the shortest closed line that visits the discs in order, by moving one corner at a time to the best place
    on its disc (a search over the angle), many times over.
    """
    corners = trunks[:, :2].copy()
    angles = np.linspace(0, 2 * math.pi, 361)[:-1]
    for k, (x, y, r) in enumerate(trunks):
        rim = np.column_stack([x + r * np.cos(angles), y + r * np.sin(angles)])
        corners[k] = rim[np.argmin(np.hypot(*(rim - trunks[:, :2].mean(axis=0)).T))]
    for _ in range(400):
        before = corners.copy()
        for k, (x, y, r) in enumerate(trunks):
            a, b = corners[k - 1], corners[(k + 1) % len(trunks)]
            ua, ub = (a - corners[k]) / np.hypot(*(a - corners[k])), (b - corners[k]) / np.hypot(*(b - corners[k]))
            inward = ua + ub
            size = np.hypot(*inward)
            if size < 1e-12:
                return None
            corners[k] = np.array([x, y]) + r * inward / size
        if np.abs(corners - before).max() < 1e-13:
            return corners
    return corners if np.abs(corners - before).max() < 1e-8 else None


def best_of_trunks(
    trunks: np.ndarray, *, perimeter: float, gather: float, spacing: float, contacts: int
) -> tuple[float, frozenset[int]]:
    """As `best_of_points`, for trunks with a radius (third column), corners at the bark."""
    best = (-math.inf, frozenset())
    for size in range(contacts, len(trunks) + 1):
        for chosen in combinations(range(len(trunks)), size):
            some = trunks[list(chosen)]
            away = some[:, :2] - some[:, :2].mean(axis=0)
            some = some[np.argsort(np.arctan2(away[:, 1], away[:, 0]))]
            corners = bark_ring(some)
            if corners is None:
                continue
            step = np.roll(corners, -1, axis=0) - corners
            after = np.roll(step, -1, axis=0)
            span = np.hypot(*step.T)
            length = span.sum()
            if (step[:, 0] * after[:, 1] - step[:, 1] * after[:, 0] <= 1e-9).any():
                continue
            if not (1 - gather) * perimeter * (1 - 1e-9) <= length <= perimeter * (1 + 1e-9):
                continue
            x, y = corners.T
            area = 0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))
            built = np.maximum(np.ceil(span / spacing * (1 - 1e-9)) - 1, 0).sum()
            score = 100 * (4 * math.pi * area / length**2 - 0.03 * built)
            if score > best[0] + 1e-9:
                best = (float(score), frozenset(chosen))
    return best
