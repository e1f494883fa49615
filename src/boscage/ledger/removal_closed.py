"""Removal estimators in closed form: two passes, and three."""

from __future__ import annotations

import math

from boscage.errors import InputError
from boscage.model.ledger_removal import Estimate, NoEstimate


def check_catches(catches: tuple[int, ...], least: int) -> None:
    """Refuse catches that are no counts.

    Raises:
        InputError: There are too few passes, or a catch is negative or no whole number.
    """
    if len(catches) < least:
        raise InputError(f"there are {len(catches)} passes", expected=f"at least {least}")
    for number, catch in enumerate(catches, start=1):
        if catch < 0 or catch != int(catch):
            raise InputError(f"pass {number} has a catch of {catch}", expected="a whole number, 0 or more")


def asymptotic_error(number: float, rate: float, passes: int) -> tuple[float, float]:
    """Standard errors of the number and the rate of a removal of equal passes; NaN where there is none.

    With q = 1 - p: var N = N (1 - q^k) q^k / ((1 - q^k)^2 - (p k)^2 q^(k-1)),
    var p = (q p)^2 (1 - q^k) / (N (q (1 - q^k)^2 - (p k)^2 q^k)).

    References:
        Zippin (1956), Biometrics 12:163-189; Seber (1982), Estimation of Animal Abundance, 2nd ed., section 7.2.
    """
    q, k = 1.0 - rate, passes
    if not 0.0 < rate < 1.0 or number <= 0.0:
        return (0.0, 0.0) if rate == 1.0 else (math.nan, math.nan)
    kept = q**k
    below = (1.0 - kept) ** 2 - (rate * k) ** 2 * q ** (k - 1)
    if below <= 0.0:
        return math.nan, math.nan
    error = math.sqrt(number * (1.0 - kept) * kept / below)
    return error, math.sqrt((q * rate) ** 2 * (1.0 - kept) / (number * q * below))


def two_pass(first: int, second: int) -> Estimate | NoEstimate:
    """Two passes: N = c1^2 / (c1 - c2), p = 1 - c2 / c1.

    Standard errors: var N = c1^2 c2^2 (c1 + c2) / (c1 - c2)^4, var p = c2 (c1 + c2) / c1^3.

    Raises:
        InputError: A catch is no count.

    References:
        Seber and LeCren (1967), J. Anim. Ecol. 36:631-643.
    """
    method = "Seber and LeCren, two passes"
    check_catches((first, second), 2)
    if second >= first:
        return NoEstimate(method=method, reason=_not_falling(first, second))
    return Estimate(
        method=method, number=first**2 / (first - second), error=_two_pass_error(first, second),
        rate=1.0 - second / first, rate_error=math.sqrt(second * (first + second) / first**3),
    )  # fmt: skip


def two_pass_adjusted(first: int, second: int) -> Estimate | NoEstimate:
    """Two passes with less bias: N = (c1^2 - c2) / (c1 - c2); rate and error as of `two_pass`.

    Raises:
        InputError: A catch is no count.

    References:
        Robson and Regier (1968), as given by Cowx (1983), Fish. Mgmt 14:67-82.
    """
    method = "Robson and Regier, two passes"
    plain = two_pass(first, second)
    if isinstance(plain, NoEstimate):
        return NoEstimate(method=method, reason=plain.reason)
    return Estimate(
        method=method, number=(first**2 - second) / (first - second), error=plain.error, rate=plain.rate,
        rate_error=plain.rate_error,
    )  # fmt: skip


def three_pass(first: int, second: int, third: int) -> Estimate | NoEstimate:
    """Three passes: with X = 2 c1 + c2 and Y = c1 + c2 + c3,

    N = (6 X^2 - 3 X Y - Y^2 + Y sqrt(Y^2 + 6 X Y - 3 X^2)) / (18 (X - Y)) and
    p = (3 X - Y - sqrt(Y^2 + 6 X Y - 3 X^2)) / (2 X).

    Raises:
        InputError: A catch is no count.

    References:
        Junge and Libosvarsky (1965); Seber (1982), equations 7.24 and 7.25.
    """
    method = "Junge and Libosvarsky, three passes"
    check_catches((first, second, third), 3)
    x, y = 2 * first + second, first + second + third
    if third >= first:
        return NoEstimate(method=method, reason=_not_falling(first, third))
    root = math.sqrt(y * y + 6 * x * y - 3 * x * x)
    number = (6 * x * x - 3 * x * y - y * y + y * root) / (18 * (x - y))
    rate = (3 * x - y - root) / (2 * x)
    error, rate_error = asymptotic_error(number, rate, 3)
    return Estimate(method=method, number=number, error=error, rate=rate, rate_error=rate_error)


def _two_pass_error(first: int, second: int) -> float:
    return math.sqrt(first**2 * second**2 * (first + second)) / (first - second) ** 2


def _not_falling(first: int, last: int) -> str:
    if first == last == 0:
        return "nothing was caught."
    return f"the last pass took {last} and the first {first}; the catch must fall."
