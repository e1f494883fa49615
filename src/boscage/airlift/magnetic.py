"""Magnetic declination by the World Magnetic Model 2025; coefficients and their licence are in data/wmm2025.*."""

from __future__ import annotations

import calendar
import datetime as dt
import math
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from boscage.errors import InputError

FIRST_YEAR, LAST_YEAR = 2025.0, 2030.0
CAUTION_NT, BLACKOUT_NT = 6000.0, 2000.0
_DEGREE = 12
_RADIUS_M = 6_371_200.0
_A_M, _F = 6_378_137.0, 1.0 / 298.257223563


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

    References: NOAA NCEI and BGS (2024), The US/UK World Magnetic Model for 2025-2030, equations 1 to 17.
    """
    year = year_of(when) if isinstance(when, dt.date) else float(when)
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise InputError(
            f"the date is {when}", expected="a date from 2025-01-01 to 2030-01-01, which is as far as WMM2025 goes",
            mend="state the declination yourself, or use a release with a newer model",
        )  # fmt: skip
    theta, radius_m, tilt = _spherical(math.radians(lat), height_m)
    north, east, down = _field(theta, math.radians(lon), radius_m, year - FIRST_YEAR)
    x = north * math.cos(tilt) - down * math.sin(tilt)
    z = north * math.sin(tilt) + down * math.cos(tilt)
    return Magnetism(
        declination_deg=math.degrees(math.atan2(east, x)),
        inclination_deg=math.degrees(math.atan2(z, math.hypot(x, east))), x_nt=x, y_nt=east, z_nt=z,
    )  # fmt: skip


def declination(lat: float, lon: float, when: dt.date | float, *, height_m: float = 0.0) -> float:
    """Magnetic north from true north in degrees, east positive.

    >>> round(declination(30.5, -97.5, 2026.0, height_m=200.0), 2)
    2.99
    """
    return magnetism(lat, lon, when, height_m=height_m).declination_deg


def _spherical(lat: float, height_m: float) -> tuple[float, float, float]:
    """Colatitude and radius from the middle of the earth, and how far the horizontal there is tilted, radians."""
    e2 = _F * (2.0 - _F)
    curve = _A_M / math.sqrt(1.0 - e2 * math.sin(lat) ** 2)
    out, up = (curve + height_m) * math.cos(lat), (curve * (1.0 - e2) + height_m) * math.sin(lat)
    centred = math.atan2(up, out)
    return math.pi / 2.0 - centred, math.hypot(out, up), centred - lat


@lru_cache(maxsize=1)
def _coefficients() -> NDArray[np.float64]:
    """(4, 13, 13) g, h and their yearly change, nT, by degree and order."""
    table = np.zeros((4, _DEGREE + 1, _DEGREE + 1))
    text = files("boscage").joinpath("data", "wmm2025.cof").read_text(encoding="ascii")
    for line in text.splitlines()[1:]:
        parts = line.split()
        if len(parts) == 6:
            table[:, int(parts[0]), int(parts[1])] = [float(p) for p in parts[2:]]
    return table


def _field(theta: float, lon: float, radius_m: float, years: float) -> tuple[float, float, float]:
    """Northward, eastward and downward field in the earth-centred frame, nT."""
    g0, h0, g1, h1 = _coefficients()
    g, h = g0 + years * g1, h0 + years * h1
    legendre, slope = _legendre(theta)
    order = np.arange(_DEGREE + 1)
    cosine, sine = np.cos(order * lon), np.sin(order * lon)
    north = east = down = 0.0
    # at the poles the eastward part is a limit; a hair away from them it is as good
    over = max(abs(math.sin(theta)), 1e-10)
    for n in range(1, _DEGREE + 1):
        power = (_RADIUS_M / radius_m) ** (n + 2)
        wave = g[n] * cosine + h[n] * sine
        north += power * float(wave @ slope[n])
        east += power * float((order * (g[n] * sine - h[n] * cosine)) @ legendre[n]) / over
        down -= (n + 1) * power * float(wave @ legendre[n])
    return north, east, down


def _legendre(theta: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(13, 13) Schmidt semi-normalised functions of cos(theta) and their derivatives by theta."""
    cosine, sine = math.cos(theta), max(abs(math.sin(theta)), 1e-10)
    p = np.zeros((_DEGREE + 1, _DEGREE + 1))
    d = np.zeros_like(p)
    p[0, 0] = 1.0
    for n in range(1, _DEGREE + 1):
        for m in range(n + 1):
            if n == m:
                scale = 1.0 if n == 1 else math.sqrt(1.0 - 0.5 / n)
                p[n, n] = scale * sine * p[n - 1, n - 1]
                d[n, n] = scale * (sine * d[n - 1, n - 1] + cosine * p[n - 1, n - 1])
                continue
            low = math.sqrt((n - 1.0) ** 2 - m * m) if n > 1 and m <= n - 2 else 0.0
            before = p[n - 2, m] if low else 0.0
            slope = d[n - 2, m] if low else 0.0
            root = math.sqrt(float(n * n - m * m))
            p[n, m] = ((2 * n - 1) * cosine * p[n - 1, m] - low * before) / root
            d[n, m] = ((2 * n - 1) * (cosine * d[n - 1, m] - sine * p[n - 1, m]) - low * slope) / root
    return p, d
