"""Age of sign: one of four classes, forced from the date, the state it was found in, and rain."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from boscage.errors import InputError
from boscage.model.evidence import (
    AGE_FROM_DAYS,
    AGE_MIDDLE_DAYS,
    SIGN_KINDS,
    WASHED_KINDS,
    AgeClass,
    AgedSigns,
    Sign,
    SignOptions,
)

MOST_UNSEEN_DAYS = 7.0
"""Most days added to a track or scat of no stated look for the time since the last rain. Common practice, no source."""


def age_class(days: float) -> AgeClass:
    """The class of an age in days; an age between two whole days belongs to the younger one.

    >>> [age_class(d) for d in (0.0, 0.9, 1.0, 3.9, 4.0, 14.9, 15.0)]
    ['A', 'A', 'B', 'B', 'C', 'C', 'D']

    Raises:
        InputError: The age is negative or no number.
    """
    if not days >= 0.0:
        raise InputError(f"the age of a sign is {days:g} days", expected="0 or more")
    return next(c for c, low in reversed(AGE_FROM_DAYS.items()) if days >= low)


def age_signs(signs: Sequence[Sign], options: SignOptions) -> AgedSigns:
    """Force a class on every sign and weigh it: weight of its kind times 0.5 ** (age / half-life).

    The age is counted from the day the sign was recorded. To it comes the age it already had then: the middle of the
    class it was found in, where that is written down. A track or scat found in class A or B lies over the last rain, so
    that it was no older than that rain; of no stated look it is given half of the time since the rain, at most a week.
    Sign without a date counts as old; sign with a date still to come has no weight.

    Raises:
        InputError: A kind or a state is unknown, or the days since rain are negative.
    """
    ages = np.array([_age(_checked(s), options) for s in signs], dtype=np.float64)
    coming = np.array([s.days < 0.0 for s in signs], dtype=bool)
    ages[coming] = np.nan
    kinds = np.array([options.kinds.get(s.kind, 1.0) for s in signs], dtype=np.float64)
    weights = np.where(coming, 0.0, kinds * 0.5 ** (np.nan_to_num(ages) / options.half_life_days))
    return AgedSigns(
        x_m=np.array([s.x_m for s in signs], dtype=np.float64), y_m=np.array([s.y_m for s in signs], dtype=np.float64),
        age_days=ages, classes=tuple("" if c else age_class(a) for a, c in zip(ages, coming, strict=True)),
        weights=weights, notes=_notes(signs, options),
    )  # fmt: skip


def _checked(sign: Sign) -> Sign:
    if sign.kind not in SIGN_KINDS:
        raise InputError(f"the kind is {sign.kind}", expected=f"one of {', '.join(SIGN_KINDS)}", row=sign.row or None)
    if sign.state is not None and sign.state not in AGE_FROM_DAYS:
        raise InputError(f"the age class is {sign.state}", expected="A, B, C or D", row=sign.row or None)
    if sign.days_since_rain < 0.0:
        wrong = f"the days since rain are {sign.days_since_rain:g}"
        raise InputError(wrong, expected="0 or more", row=sign.row or None)
    return sign


def _age(sign: Sign, options: SignOptions) -> float:
    since = options.undated_days if math.isnan(sign.days) else sign.days
    rained = sign.days_since_rain
    washed = sign.kind in WASHED_KINDS and not math.isnan(rained)
    if sign.state is None:
        return since + (min(0.5 * rained, MOST_UNSEEN_DAYS) if washed else 0.0)
    had = AGE_MIDDLE_DAYS[sign.state]
    if washed and sign.state in ("A", "B"):
        had = min(had, rained)
    return since + had


def _notes(signs: Sequence[Sign], options: SignOptions) -> tuple[str, ...]:
    said = []
    undated = [s.row for s in signs if math.isnan(s.days)]
    if undated:
        said.append(
            f"Sign without a date: {len(undated)} (rows {_rows(undated)}); taken as {options.undated_days:g} days old."
        )
    coming = [s.row for s in signs if s.days < 0.0]
    if coming:
        said.append(f"Sign with a date still to come: {len(coming)} (rows {_rows(coming)}); it counts for nothing.")
    odd = [s.row for s in signs if s.kind in WASHED_KINDS and s.state == "B" and s.days_since_rain < 1.0]
    if odd:
        said.append(
            f"Tracks or scat of 1 to 3 days found within a day of rain: {len(odd)} (rows {_rows(odd)}); "
            "taken as no older than the rain; check the class."
        )
    return tuple(said)


def _rows(rows: Sequence[int]) -> str:
    shown = ", ".join(str(r) for r in rows[:5])
    return f"{shown} and more" if len(rows) > 5 else shown
