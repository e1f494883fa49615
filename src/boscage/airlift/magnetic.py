"""Magnetic declination by the World Magnetic Model 2025, as pygeomag evaluates it, within the model's years."""

from __future__ import annotations

import calendar
import datetime as dt
import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from boscage.errors import InputError

FIRST_YEAR, LAST_YEAR = 2025.0, 2030.0
CAUTION_NT = 6000.0
_COEFFICIENTS = "wmm/WMM_2025.COF"


@dataclass(frozen=True, kw_only=True)
class Magnetism:
    """The main field at a place and date.

    Attributes:
        declination_deg: Magnetic north from true north, east positive.
        inclination_deg: Dip below the horizontal.
        x_nt, y_nt, z_nt: Northward, eastward, downward.
        error_deg: One standard error of declination by the model's own error model.
    """

    declination_deg: float
    inclination_deg: float
    x_nt: float
    y_nt: float
    z_nt: float

    @property
    def horizontal_nt(self) -> float:
        """Strength of the horizontal part."""
        return math.hypot(self.x_nt, self.y_nt)

    @property
    def error_deg(self) -> float:
        """sqrt(0.26**2 + (5417 / H)**2), H in nT."""
        return math.hypot(0.26, 5417.0 / self.horizontal_nt)

    @property
    def is_weak(self) -> bool:
        """Whether the horizontal part is so weak that a compass is not to be relied on."""
        return self.horizontal_nt < CAUTION_NT


def year_of(date: dt.date) -> float:
    """Decimal year of the start of a day.

    >>> year_of(dt.date(2026, 7, 2))
    2026.4986301369863
    """
    days = 366 if calendar.isleap(date.year) else 365
    return date.year + (date.timetuple().tm_yday - 1) / days


def magnetism(lat: float, lon: float, when: dt.date | float, *, height_m: float = 0.0) -> Magnetism:
    """The main field by WMM2025.

    Args:
        lat, lon: WGS 84 degrees.
        when: Date or decimal year, 2025.0 to 2030.0.
        height_m: Above the ellipsoid; the difference from sea level does not show in the declination.

    Raises:
        InputError: The date is outside the model's five years.

    References: NOAA NCEI and BGS (2024), The US/UK World Magnetic Model for 2025-2030.
    """
    year = year_of(when) if isinstance(when, dt.date) else float(when)
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise InputError(
            f"the date is {when}", expected="a date from 2025-01-01 to 2030-01-01, which is as far as WMM2025 goes",
            mend="state the declination yourself, or use a release with a newer model",
        )  # fmt: skip
    found = _model().calculate(
        glat=lat, glon=lon, alt=height_m / 1000.0, time=year, allow_date_outside_lifespan=True
    )  # fmt: skip
    return Magnetism(
        declination_deg=float(found.d), inclination_deg=float(found.i), x_nt=float(found.x), y_nt=float(found.y),
        z_nt=float(found.z),
    )  # fmt: skip


@lru_cache(maxsize=1)
def _model() -> Any:
    from pygeomag import GeoMag

    return GeoMag(coefficients_file=_COEFFICIENTS)


def declination(lat: float, lon: float, when: dt.date | float, *, height_m: float = 0.0) -> float:
    """Magnetic north from true north in degrees, east positive.

    >>> round(declination(30.5, -97.5, 2026.0, height_m=200.0), 2)
    2.99
    """
    return magnetism(lat, lon, when, height_m=height_m).declination_deg
