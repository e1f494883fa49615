"""Words on the ground that the ranch's sheet and a site's page share."""

from __future__ import annotations

import math
from itertools import pairwise

from boscage.sheets.groundpatterns import UNKNOWN
from boscage.soil.classes import EXCAVATION, RESISTANCE_MPA, excavation_class, resistance_class, rock_modifier
from boscage.values import Printer

NOT_KNOWN = "not known"
TEST_FIRST = "Test a stake before anything hangs on it."
ASSUMED = "The project's own assumption"
_PSI_PER_MPA = 145.03773773


def verdict_words(verdict: str) -> str:
    """A verdict as it is printed.

    >>> verdict_words("yes"), verdict_words("unknown")
    ('yes', 'not known')
    """
    return NOT_KNOWN if verdict == UNKNOWN else verdict


def limit_words(mpa: float, printer: Printer) -> str:
    """Bound of a class without its unit, three figures.

    >>> [limit_words(v, Printer("us")) for v in (0.01, 1.0, 8.0)], limit_words(0.01, Printer("metric"))
    (['1.45', '145', '1,160'], '0.01')
    """
    if printer.units != "us":
        return f"{mpa:g}"
    psi = mpa * _PSI_PER_MPA
    digits = 2 - math.floor(math.log10(psi))
    return f"{round(psi, digits):,.{max(0, digits)}f}"


def class_limits(printer: Printer) -> dict[str, str]:
    """Limits of each penetration resistance class of the Soil Survey Manual, soft to hard.

    >>> class_limits(Printer("metric"))["high"]
    '2 to 4 MPa'
    """
    unit = "psi" if printer.units == "us" else "MPa"
    ends = {name: (low, high) for (low, name), (high, _) in pairwise(RESISTANCE_MPA)}
    limits = {
        name: f"{limit_words(low, printer)} to {limit_words(high, printer)} {unit}" if low else
        f"under {limit_words(high, printer)} {unit}" for name, (low, high) in ends.items()
    }  # fmt: skip
    low, name = RESISTANCE_MPA[-1]
    return {**limits, name: f"{limit_words(low, printer)} {unit} and more"}


def digging_words(name: str) -> str:
    """How ground of a resistance class is dug, by the project's own reading of the manual's excavation classes."""
    return EXCAVATION[excavation_class(next(low for low, own in RESISTANCE_MPA if own == name))]


def resistance_words(mpa: float, error_ln: float, printer: Printer) -> str:
    """Class, figure, and the range of one standard error either way.

    >>> resistance_words(2.0, 0.5, Printer("metric"))
    'high: 2.0 MPa (likely 1.2 to 3.3 MPa)'
    """
    if math.isnan(mpa):
        return NOT_KNOWN
    words = f"{resistance_class(mpa)}: {printer.pressure(mpa)}"
    if math.isnan(error_ln):
        return f"{words} (likely range {NOT_KNOWN})"
    low, high = (printer.pressure(mpa * math.exp(sign * error_ln)) for sign in (-1.0, 1.0))
    return f"{words} (likely {low.rpartition(' ')[0]} to {high})"


def depth_words(depth_cm: float, printer: Printer) -> str:
    """A depth below the surface.

    >>> depth_words(61.0, Printer("us")), depth_words(float("nan"), Printer("us"))
    ('24 in', 'not known')
    """
    return NOT_KNOWN if math.isnan(depth_cm) else printer.small(depth_cm / 100.0)


def rock_words(rock_pct: float) -> str:
    """Rock fragments with the manual's modifier.

    >>> rock_words(40.0), rock_words(8.0)
    ('40 % (very gravelly)', '8 %')
    """
    if math.isnan(rock_pct):
        return NOT_KNOWN
    word = rock_modifier(rock_pct)
    return f"{rock_pct:.0f} %" + (f" ({word})" if word else "")


def flood_words(flood_class: str | None) -> str:
    """The flood class, or that none is stated."""
    return flood_class or "not stated"


def part_words(share: float) -> str:
    """A share, never rounded to nothing or to the whole.

    >>> [part_words(v) for v in (0.0, 0.002, 0.5, 0.998, 1.0)]
    ['0 %', 'under 1 %', '50 %', 'over 99 %', '100 %']
    """
    if 0.0 < share < 0.01:
        return "under 1 %"
    if 0.99 < share < 1.0:
        return "over 99 %"
    return f"{share * 100:.0f} %"


def counted(number: int, one: str, many: str) -> str:
    """A number with its noun.

    >>> counted(1, "place", "places"), counted(2, "place", "places")
    ('1 place', '2 places')
    """
    return f"{number:,} {one if number == 1 else many}"
