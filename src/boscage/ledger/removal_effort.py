"""Removal by catch per unit of effort, where effort differs from pass to pass: Leslie, and DeLury."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from boscage.errors import InputError
from boscage.model.ledger_removal import Estimate, NoEstimate


def leslie(
    catches: Sequence[float], efforts: Sequence[float], *, midpoint: bool = False, level: float = 0.95
) -> Estimate | NoEstimate:
    """Catch per effort falls along a straight line with what was caught before: slope -q, and N0 = intercept / q.

    With s the residual standard deviation and K the catch before, mean Km: var N0 = s^2 / q^2 * (1 / n + (N0 - Km)^2 /
    sum (K - Km)^2), var q = s^2 / sum (K - Km)^2, Student's t with n - 2 degrees of freedom.
    The interval may begin under what was caught.

    Args:
        catches: One a pass, three passes or more.
        efforts: One a pass, over 0.
        midpoint: Count half of each pass's own catch to what was caught before it.
        level: Of the interval.

    Raises:
        InputError: There are fewer than three passes, lengths differ, an effort is not over 0, a catch is negative.

    References:
        Leslie and Davis (1939); Seber (1982), section 7.3; midpoint: Ricker (1975), Bull. Fish. Res. Bd Can. 191.
    """
    from scipy.special import stdtrit

    method = "Leslie"
    catch, effort = _checked(catches, efforts)
    before = np.cumsum(catch) - catch * (0.5 if midpoint else 1.0)
    line = _line(before, catch / effort)
    if line is None:
        return NoEstimate(method=method, reason="nothing was caught before the last pass.")
    slope, intercept, spread, squares, mean = line
    if slope >= 0.0:
        return NoEstimate(method=method, reason="the catch per armed night does not fall.")
    q, n = -slope, len(catch)
    number = intercept / q
    error = spread / q * math.sqrt(1.0 / n + (number - mean) ** 2 / squares)
    half = float(stdtrit(n - 2, 0.5 + level / 2.0)) * error
    return Estimate(
        method=method, number=number, error=error, rate=q, rate_error=spread / math.sqrt(squares),
        low=number - half, high=number + half,
    )  # fmt: skip


def delury(catches: Sequence[float], efforts: Sequence[float], *, midpoint: bool = True) -> Estimate | NoEstimate:
    """The logarithm of catch per effort falls with effort spent before: slope -q, and N0 = exp(intercept) / q.

    No standard error of the number is given.

    Raises:
        InputError: As `leslie`.

    References:
        DeLury (1947); midpoint: Ricker (1975), Bull. Fish. Res. Bd Can. 191, example 6.2.
    """
    method = "DeLury"
    catch, effort = _checked(catches, efforts)
    if (catch <= 0.0).any():
        return NoEstimate(method=method, reason="a pass without a catch has no logarithm.")
    line = _line(np.cumsum(effort) - effort * (0.5 if midpoint else 1.0), np.log(catch / effort))
    assert line is not None, "effort is over 0, so what was spent before differs"
    slope, intercept, spread, squares, _ = line
    if slope >= 0.0:
        return NoEstimate(method=method, reason="the catch per armed night does not fall.")
    return Estimate(
        method=method, number=math.exp(intercept) / -slope, rate=-slope, rate_error=spread / math.sqrt(squares)
    )  # fmt: skip


def _checked(catches: Sequence[float], efforts: Sequence[float]) -> tuple[np.ndarray, np.ndarray]:
    catch, effort = np.asarray(catches, dtype=float), np.asarray(efforts, dtype=float)
    if len(catch) != len(effort) or len(catch) < 3:
        raise InputError(
            f"there are {len(catch)} catches and {len(effort)} efforts", expected="as many of each, three or more"
        )
    if (catch < 0.0).any() or not (effort > 0.0).all():
        raise InputError("a catch is negative or an effort not over 0", expected="catches from 0 and efforts over 0")
    return catch, effort


def _line(x: np.ndarray, y: np.ndarray) -> tuple[float, float, float, float, float] | None:
    """Least squares: slope, intercept, residual standard deviation, sum of squares of x about its mean, that mean."""
    mean = float(x.mean())
    squares = float(((x - mean) ** 2).sum())
    if squares == 0.0:
        return None
    slope = float(((x - mean) * (y - y.mean())).sum()) / squares
    intercept = float(y.mean()) - slope * mean
    left = y - intercept - slope * x
    return slope, intercept, math.sqrt(float((left**2).sum()) / (len(x) - 2)), squares, mean
