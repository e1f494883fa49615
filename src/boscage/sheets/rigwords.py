"""Figures of a rig sheet as a crew reads them: tape lengths, bearings, diameters, forces."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass

from boscage.model.rig import Stem
from boscage.model.rig_plan import RiggedContact, RigPlan, RigResult
from boscage.values import Printer

FOOT_M, POUND_FORCE_N = 0.3048, 4.4482216152605
_LEAST_ARM_M = 0.05


@dataclass(frozen=True)
class RigTape:
    """Prints what is taped, pulled and weighed on the spot.

    >>> RigTape("us").far(3.048), RigTape("metric").far(3.048)
    ('10.0 ft', '3.05 m')
    """

    units: str = "us"

    @property
    def is_us(self) -> bool:
        """Whether feet and pounds are printed."""
        return self.units == "us"

    @property
    def printer(self) -> Printer:
        """The printer of masses and heights in the same units."""
        return Printer(self.units)

    def far(self, metres: float) -> str:
        """A taped distance: feet and tenths, or metres with two decimals."""
        return f"{metres / FOOT_M:.1f} ft" if self.is_us else f"{metres:.2f} m"

    def stock(self, metres: float) -> str:
        """A length as it is sold: no decimals that say nothing.

        >>> RigTape("us").stock(3.6576), RigTape("us").stock(3.5)
        ('12 ft', '11.5 ft')
        """
        feet = round(metres / FOOT_M, 1)
        return f"{feet:g} ft" if self.is_us else f"{metres:.2f} m"

    def thick(self, metres: float) -> str:
        """A diameter of a trunk: inches with a tenth, or centimetres."""
        return f"{metres / 0.0254:.1f} in" if self.is_us else f"{metres * 100:.0f} cm"

    def force(self, newtons: float) -> str:
        """A force: pounds-force or newtons, two or three figures.

        >>> RigTape("us").force(220.0), RigTape("metric").force(220.0)
        ('49 lbf', '220 N')
        """
        value = newtons / POUND_FORCE_N if self.is_us else newtons
        step = 1.0 if value < 100 else 5.0 if value < 1000 else 10.0
        return f"{round(value / step) * step:,.0f} {'lbf' if self.is_us else 'N'}"


def bearing_words(degrees: float) -> str:
    """A bearing to the half degree, three figures before the point.

    >>> bearing_words(7.26), bearing_words(359.9)
    ('007.5°', '000.0°')
    """
    return f"{math.floor(degrees * 2.0 + 0.5) / 2.0 % 360.0:05.1f}°"


def share_words(share: float) -> str:
    """A share in whole per cent; 100 and 0 only where they are exact.

    >>> share_words(0.999), share_words(1.0), share_words(0.001)
    ('99 %', '100 %', '1 %')
    """
    whole = round(100.0 * share)
    if share < 1.0:
        whole = min(whole, 99)
    if share > 0.0:
        whole = max(whole, 1)
    return f"{whole} %"


def one_or_more(count: int, word: str) -> str:
    """`1 stake`, `2 stakes`."""
    return f"{count} {word}{'' if count == 1 else 's'}"


def bearing_title(plan: RigPlan) -> str:
    """The head of a column of bearings."""
    return "mag. bearing" if plan.declination_stated else "bearing"


def declination_words(plan: RigPlan) -> str:
    """Which declination the bearings were made with."""
    if not plan.declination_stated:
        return "Declination not stated: 0 used, bearings are true (from taped stems: as the compass read them)."
    side = "" if plan.declination_deg == 0 else " east" if plan.declination_deg > 0 else " west"
    return f"Bearings are magnetic. Declination used: {abs(plan.declination_deg):.1f}°{side}."


def stem_words(stem: Stem, tape: RigTape) -> str:
    """`17 (sapling, 3.1 in)`."""
    return f"{stem.stem} ({stem.kind}, {tape.thick(stem.dbh_m)})"


def contact_stem(contact: RiggedContact) -> str:
    """The tree's id, or that it is a post."""
    return "post" if contact.stem is None else contact.stem.stem


def trunk_of(contact: RiggedContact) -> tuple[float, float]:
    """Where bearing and distance lead to: the trunk's middle, or the post."""
    return (contact.x_m, contact.y_m) if contact.stem is None else (contact.stem.x_m, contact.stem.y_m)


def bearing_zero_deg(plan: RigPlan) -> float | None:
    """Grid azimuth of bearing 0 as the printed bearings have it, -180..180; None without a contact off the pivot."""
    best: tuple[float, float] | None = None
    for contact in plan.contacts:
        x, y = trunk_of(contact)
        east, north = x - plan.pivot[0], y - plan.pivot[1]
        far = math.hypot(east, north)
        if far > _LEAST_ARM_M and (best is None or far > best[0]):
            best = (far, math.degrees(math.atan2(east, north)) - contact.bearing_deg)
    return None if best is None else (best[1] + 180.0) % 360.0 - 180.0


def true_north_deg(plan: RigPlan) -> float | None:
    """Grid azimuth of true north, -180..180; None where the bearings do not tell."""
    zero = bearing_zero_deg(plan)
    return None if zero is None else (zero - plan.declination_deg + 180.0) % 360.0 - 180.0


def day_words(result: RigResult, date: dt.date | None) -> str:
    """The plan's date; the given one where there is no ring; or that none is stated."""
    day = date if result.plan is None else result.plan.date
    return "not stated" if day is None else day.isoformat()
