"""Removal over several passes of equal effort: maximum likelihood, and Carle and Strub's weighted form of it."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from boscage.ledger.removal_closed import asymptotic_error, check_catches
from boscage.model.ledger_removal import Estimate, NoEstimate

FAR = 1e7
"""Numbers beyond this many times the catch are taken as without bound."""


def maximum_likelihood(catches: Sequence[int], *, whole: bool = False, level: float = 0.95) -> Estimate | NoEstimate:
    """Number and rate that make the catches of k passes most likely, all animals and passes alike.

    Maximises lnG(N + 1) - lnG(N - T + 1) + T ln p + (k N - X - T) ln(1 - p) over N >= T, where T is the total catch, X
    the sum of (k - i) c_i and p = T / (k N - X). There is a maximum only if X > T (k - 1) / 2: the catch must fall. The
    interval holds every N whose likelihood ratio is within the chi-square bound (one degree of freedom).

    Args:
        catches: k of them, two or more.
        whole: Take the whole number of the greatest likelihood.
        level: Of the interval.

    Raises:
        InputError: A catch is no count, or there is one pass.

    References:
        Moran (1951), Biometrika 38:307-311; Zippin (1956), Biometrics 12:163-189; interval as Schnute (1983), Can. J.
        Fish. Aquat. Sci. 40:2153-2169; whole numbers as Van Deventer (1989), USFS GTR INT-254.
    """
    from scipy.special import gammaincinv

    method = "maximum likelihood"
    check_catches(tuple(catches), 2)
    total, k, x = _sums(catches)
    if total < 2:
        said = "nothing was caught" if total == 0 else "one animal was caught"
        return NoEstimate(method=method, reason=f"{said}.")
    if 2 * x <= total * (k - 1):
        return NoEstimate(method=method, reason="the catch does not fall from pass to pass.")

    def fit(n: float) -> float:
        return _log_likelihood(n, total, k, x)

    best = _peak(fit, float(total))
    number = best
    if whole:
        number = float(max((math.floor(best), math.ceil(best)), key=lambda n: fit(max(float(total), n))))
    rate = total / (k * number - x)
    error, rate_error = asymptotic_error(number, rate, k)
    low, high = _interval(fit, float(total), best, float(gammaincinv(0.5, level)))
    return Estimate(
        method=method, number=number, error=error, rate=rate, rate_error=rate_error, low=low, high=high,
    )  # fmt: skip


def carle_strub(catches: Sequence[int], *, alpha: float = 1.0, beta: float = 1.0) -> Estimate | NoEstimate:
    """The least whole number N >= T for which one more animal is no likelier, the rate weighted by a beta prior.

    N is the least for which (N + 1) / (N - T + 1) * prod_i (k N - X - T + beta + k - i) / (k N - X + alpha + beta + k -
    i) <= 1. It exists for any catches; p = T / (k N - X).

    Raises:
        InputError: A catch is no count, or there is one pass.

    References:
        Carle and Strub (1978), Biometrics 34:621-630, equation 7.
    """
    method = "Carle and Strub"
    check_catches(tuple(catches), 2)
    total, k, x = _sums(catches)
    if total == 0:
        return NoEstimate(method=method, reason="nothing was caught.")

    def falls(n: int) -> bool:
        step = math.log((n + 1) / (n - total + 1))
        for i in range(1, k + 1):
            step += math.log((k * n - x - total + beta + k - i) / (k * n - x + alpha + beta + k - i))
        return step <= 1e-12

    number = _least(falls, total)
    rate = total / (k * number - x)
    error, rate_error = asymptotic_error(float(number), rate, k)
    return Estimate(method=method, number=float(number), error=error, rate=rate, rate_error=rate_error)


def _sums(catches: Sequence[int]) -> tuple[int, int, int]:
    """Total, number of passes, and X."""
    k = len(catches)
    return sum(catches), k, sum((k - i) * c for i, c in enumerate(catches, start=1))


def _log_likelihood(n: float, total: int, k: int, x: int) -> float:
    """Log likelihood at a number, the rate at its best for it, constants left out."""
    held = k * n - x
    misses = held - total
    rate = total / held
    value = math.lgamma(n + 1.0) - math.lgamma(n - total + 1.0) + total * math.log(rate)
    return value + (misses * math.log1p(-rate) if misses > 0.0 else 0.0)


def _peak(fit: Callable[[float], float], least: float) -> float:
    """Where a function with one peak is greatest at or above a number, to 1e-7 of it."""
    from scipy.optimize import minimize_scalar

    far = 2.0 * least
    while fit(far * 2.0) > fit(far) and far < FAR * least:
        far *= 2.0
    found = minimize_scalar(
        lambda n: -fit(n), bounds=(least, 2.0 * far), method="bounded", options={"xatol": 1e-7 * least}
    )
    return least if fit(least) >= fit(float(found.x)) else float(found.x)


def _interval(fit: Callable[[float], float], least: float, best: float, drop: float) -> tuple[float, float]:
    """Numbers whose log likelihood is no more than `drop` under the greatest; infinite where it never falls so far."""
    from scipy.optimize import brentq

    top = fit(best)

    def under(n: float) -> float:
        return top - fit(n) - drop

    low = least if under(least) <= 0.0 else float(brentq(under, least, best, xtol=1e-6))
    far = 2.0 * best
    while under(far) < 0.0:
        far *= 2.0
        if far > FAR * best:
            return low, math.inf
    return low, float(brentq(under, best, far, xtol=1e-6))


def _least(holds: Callable[[int], bool], start: int) -> int:
    """The least whole number from `start` at which a condition that stays true once met is true."""
    step, low = 1, start
    if holds(start):
        return start
    while not holds(start + step):
        low, step = start + step, 2 * step
    high = start + step
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if holds(middle) else (middle, high)
    return high
