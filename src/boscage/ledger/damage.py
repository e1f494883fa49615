"""Damage before and after on the same transects, as a share of what was surveyed, with an interval."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from boscage.errors import InputError
from boscage.model.ledger_land import DamageChange, NoComparison, Share, Transect

Floats = NDArray[np.float64]
SAME_SHARE = 0.01
"""Lengths of one transect that differ by no more than this share are taken as the same. Common practice, no source."""
SEASON_DAYS = 45
"""Days of the year apart up to which two surveys count as of one season. Common practice, no source."""


def compare_damage(
    before: Sequence[Transect], after: Sequence[Transect], level: float = 0.95
) -> DamageChange | NoComparison:
    """Damaged share of the ground surveyed before and after, and the change.

    The share is sum(damaged) / sum(surveyed) with the transect as the unit of sampling: a ratio estimate, variance
    n / (n - 1) * sum((damaged - share * surveyed)**2) / sum(surveyed)**2, and Student's t with n - 1 degrees.
    The change is the same of the differences of each transect, so that what differs between transects falls out.
    Another observer or season is said, since trade practice asks for the same.

    Returns:
        The change, or why there is none: other transects, other lengths, another unit, one transect twice.

    Raises:
        InputError: A transect has no length, or more damage than length; the level is not within 0..1.

    References:
        Cochran (1977), Sampling Techniques, 3rd ed., section 6.4 (from memory).
    """
    if not 0.0 < level < 1.0:
        raise InputError(f"the level is {level:g}", expected="a share between 0 and 1")
    for transect in (*before, *after):
        _check(transect)
    reason = _differ(before, after)
    if reason:
        return NoComparison(reason=reason)
    later = {t.transect: t for t in after}
    pairs = [(t, later[t.transect]) for t in before]
    surveyed = np.array([(a.surveyed + b.surveyed) / 2.0 for a, b in pairs])
    first = np.array([a.damaged / a.surveyed for a, _ in pairs]) * surveyed
    second = np.array([b.damaged / b.surveyed for _, b in pairs]) * surveyed
    return DamageChange(
        transects=len(pairs), surveyed=float(surveyed.sum()), unit=before[0].unit,
        before=_share(first, surveyed, level, low=0.0), after=_share(second, surveyed, level, low=0.0),
        change=_share(second - first, surveyed, level, low=-1.0), level=level, notes=_notes(pairs, first, second),
    )  # fmt: skip


def _check(transect: Transect) -> None:
    if not transect.surveyed > 0.0 or not 0.0 <= transect.damaged <= transect.surveyed:
        raise InputError(
            f"transect {transect.transect} has {transect.damaged:g} damaged of {transect.surveyed:g} {transect.unit}",
            expected="a length over 0 and no more damage than that", mend="correct the survey",
        )  # fmt: skip


def _differ(before: Sequence[Transect], after: Sequence[Transect]) -> str:
    """Why two surveys are not of the same transects, or ''."""
    if not before or not after:
        return f"there is no survey {'before' if not before else 'after'}."
    for survey, when in ((before, "before"), (after, "after")):
        twice = [n for n, k in Counter(t.transect for t in survey).items() if k > 1]
        if twice:
            return f"transect {twice[0]} stands twice in the survey {when}; keep one of the two."
    units = sorted({t.unit for t in (*before, *after)})
    if len(units) > 1:
        return f"the surveys are in {' and '.join(units)}; line intercept and area cannot be compared."
    first, second = {t.transect: t for t in before}, {t.transect: t for t in after}
    only = [*(n for n in first if n not in second), *(n for n in second if n not in first)]
    if only:
        return f"not the same transects: {', '.join(only)} were walked only once; leave them out of both, or walk them."
    for name, one in first.items():
        other = second[name]
        if abs(one.surveyed - other.surveyed) > SAME_SHARE * max(one.surveyed, other.surveyed):
            return f"transect {name} has {one.surveyed:g} {one.unit} before and {other.surveyed:g} after: not the same."
    return ""


def _share(part: Floats, whole: Floats, level: float, *, low: float) -> Share:
    """A ratio of sums with its interval, cut to what a share, or a change of one, can be."""
    from scipy.special import stdtrit

    value = float(part.sum() / whole.sum())
    n = len(part)
    if n < 2:
        return Share(value=value, low=math.nan, high=math.nan)
    spread = n / (n - 1) * float(((part - value * whole) ** 2).sum()) / float(whole.sum()) ** 2
    half = float(stdtrit(n - 1, 0.5 + level / 2.0)) * math.sqrt(spread)
    return Share(value=value, low=max(low, value - half), high=min(1.0, value + half))


def _notes(pairs: Sequence[tuple[Transect, Transect]], first: Floats, second: Floats) -> tuple[str, ...]:
    notes = []
    if len(pairs) < 2:
        notes.append("one transect gives no interval.")
    elif not first.any() and not second.any():
        notes.append("no damage on any transect, before or after; ground off the transects is not known.")
    elif np.allclose(second - first, 0.0):
        notes.append("every transect shows the same before and after; ground off the transects is not known.")
    if any(a.observer.lower() != b.observer.lower() for a, b in pairs):
        notes.append("not the same observer before and after on every transect; some of the change may be theirs.")
    elif not all(a.observer and b.observer for a, b in pairs):
        notes.append("the observer is not written down.")
    if not all(a.date and b.date for a, b in pairs):
        notes.append("the day of a survey is not written down, so whether it was the same season is not known.")
    elif any(_other_season(a, b) for a, b in pairs):
        notes.append("not the same season before and after; damage changes with the season.")
    return tuple(notes)


def _other_season(first: Transect, second: Transect) -> bool:
    assert first.date is not None and second.date is not None, "asked only of dated surveys"
    apart = abs(first.date.timetuple().tm_yday - second.date.timetuple().tm_yday)
    return min(apart, 365 - apart) > SEASON_DAYS
