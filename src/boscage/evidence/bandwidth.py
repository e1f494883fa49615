"""Bandwidth of a kernel: by the reference rule, by least-squares cross-validation, or fixed."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from boscage.model.evidence import Bandwidth, BandwidthRule

LEAST, MOST, TRIED = 0.1, 1.5, 57
"""Bandwidths tried by cross-validation, as shares of the reference one: from, to, how many."""
ROWS = 1000
MOST_POINTS = 20_000


def choose_bandwidth(
    points: NDArray[np.float64], weights: NDArray[np.float64], rule: BandwidthRule, *, fixed_m: float, least_m: float
) -> Bandwidth:
    """The bandwidth of weighted points by a rule.

    Args:
        points: (N, 2) metres.
        weights: (N,) 0 or more; points of weight 0 are left out.
        fixed_m: What `fixed` gives, and every rule for fewer than two different places.
        least_m: Least bandwidth that a rule may give.

    Returns:
        The bandwidth with the rule that gave it. Cross-validation falls back on the reference rule where it has no
        minimum inside the range tried, as with many points at one place, and says so.
    """
    held = weights > 0.0
    places, share = points[held], weights[held]
    if rule == "fixed":
        return Bandwidth(metres=fixed_m, rule="fixed")
    if len(np.unique(places, axis=0)) < 2:
        return Bandwidth(metres=fixed_m, rule="fixed", note="Fewer than two places: the fixed bandwidth is used.")
    share = share / share.sum()
    reference = reference_bandwidth(places, share)
    note = ""
    if rule == "cross-validation":
        found, note = _validated(places, share, reference)
        if not note:
            return _floored(found, "cross-validation", least_m)
    return _floored(reference, "reference", least_m, note)


def reference_bandwidth(points: NDArray[np.float64], share: NDArray[np.float64]) -> float:
    """h = (sd_x + sd_y) / 2 * n ** (-1/6), with sample standard deviations; for weights n is 1 / sum(share ** 2).

    References: B. J. Worton (1989), Ecology 70(1), 164-168; C. Calenge (2006), Ecol. Modelling 197, 516-519, for the
    mean of two standard deviations.
    """
    count = 1.0 / float((share**2).sum())
    middle = share @ points
    spread = np.sqrt((share @ (points - middle) ** 2) / max(1.0 - 1.0 / count, 1e-12))
    return float(0.5 * spread.sum() * count ** (-1.0 / 6.0))


def cross_validation_score(points: NDArray[np.float64], share: NDArray[np.float64], h: float) -> float:
    """Integrated square of the estimate, less twice its mean at the points with each left out in turn.

    References: B. W. Silverman (1986), Density Estimation, section 3.4.3, with the bivariate normal kernel and weights.
    """
    square = cross = 0.0
    for begin in range(0, len(points), ROWS):
        part = points[begin : begin + ROWS]
        away = ((part[:, None] - points[None]) ** 2).sum(axis=2)
        rows = share[begin : begin + ROWS]
        square += float(rows @ np.exp(-away / (4.0 * h * h)) @ share) / (4.0 * math.pi * h * h)
        near = np.exp(-away / (2.0 * h * h))
        near[np.arange(len(part)), begin + np.arange(len(part))] = 0.0
        cross += float((rows / (1.0 - rows)) @ near @ share) / (2.0 * math.pi * h * h)
    return square - 2.0 * cross


def _validated(points: NDArray[np.float64], share: NDArray[np.float64], reference: float) -> tuple[float, str]:
    """The bandwidth of least score, and why there is none."""
    if len(points) > MOST_POINTS:
        return reference, f"Over {MOST_POINTS} places: the reference bandwidth is used in place of cross-validation."
    tried = reference * np.linspace(LEAST, MOST, TRIED)
    scores = np.array([cross_validation_score(points, share, h) for h in tried])
    k = int(np.argmin(scores))
    if k in (0, TRIED - 1):
        return reference, "Cross-validation has no minimum inside the range tried: the reference bandwidth is used."
    below, here, above = scores[k - 1 : k + 2]
    bend = below - 2.0 * here + above
    shift = 0.5 * (below - above) / bend if bend > 0.0 else 0.0
    return float(tried[k] + shift * (tried[1] - tried[0])), ""


def _floored(metres: float, rule: BandwidthRule, least_m: float, note: str = "") -> Bandwidth:
    if metres >= least_m:
        return Bandwidth(metres=metres, rule=rule, note=note)
    low = f"The {rule} bandwidth is {metres:.1f} m; the least allowed is used."
    return Bandwidth(metres=least_m, rule=rule, note=f"{note} {low}".strip())
