"""Where the sun stands and the times of a day: civil dawn, sunrise, sunset, civil dusk, in UTC."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
from numpy.typing import NDArray

from boscage.model.drop import Daylight

Floats = NDArray[np.float64]
RISE_DEG, CIVIL_DEG = -0.8333, -6.0
"""Geometric altitude of the sun's middle: upper limb on a level horizon with 34' of refraction; civil twilight."""
DELTA_T_S = 69.2
"""Terrestrial time less UTC; 69.1 to 69.3 s in the 2020s. A second more or less moves the sun by 0.00001 degree."""
_EPOCH = dt.datetime(2000, 1, 1, 12, tzinfo=dt.UTC)
_DAY_S = 86400.0


def days_of(when: dt.datetime) -> float:
    """Days of UTC since noon of 1 January 2000.

    >>> days_of(dt.datetime(2000, 1, 2, 0, tzinfo=dt.UTC))
    0.5
    """
    return (when - _EPOCH).total_seconds() / _DAY_S


def when_of(days: float) -> dt.datetime:
    """The time of so many days, to the second."""
    return _EPOCH + dt.timedelta(seconds=round(days * _DAY_S))


def apparent_sun(days: Floats | float) -> tuple[Floats, Floats, Floats]:
    """Right ascension and declination of date, degrees, and apparent sidereal time at Greenwich, degrees.

    Right to 0.01 degree from 1950 to 2050.

    Args:
        days: UTC since noon of 1 January 2000.

    References: J. Meeus (1998), Astronomical Algorithms, 2nd edition, chapters 12, 22 and 25.
    """
    ut = np.asarray(days, dtype=np.float64)
    t = (ut + DELTA_T_S / _DAY_S) / 36525.0
    mean = 280.46646 + 36000.76983 * t + 0.0003032 * t**2
    m = np.radians(357.52911 + 35999.05029 * t - 0.0001537 * t**2)
    centre = (
        (1.914602 - 0.004817 * t - 0.000014 * t**2) * np.sin(m)
        + (0.019993 - 0.000101 * t) * np.sin(2 * m)
        + 0.000289 * np.sin(3 * m)
    )
    node = np.radians(125.04 - 1934.136 * t)
    nutation = -0.00478 * np.sin(node)
    lon = np.radians(mean + centre - 0.00569 + nutation)
    tilt = np.radians(23.439291 - 0.0130042 * t + 0.00256 * np.cos(node))
    ascension = np.degrees(np.arctan2(np.cos(tilt) * np.sin(lon), np.cos(lon))) % 360.0
    height = np.degrees(np.arcsin(np.sin(tilt) * np.sin(lon)))
    sidereal = 280.46061837 + 360.98564736629 * ut + nutation * np.cos(tilt)
    return ascension, height, sidereal % 360.0


def sun_at(days: Floats | float, lat: float, lon: float) -> tuple[Floats, Floats]:
    """Altitude of the sun's middle without refraction and its true bearing, degrees, as seen from the ground."""
    ascension, height, sidereal = apparent_sun(days)
    hour = np.radians(sidereal + lon - ascension)
    dec, phi = np.radians(height), math.radians(lat)
    up = math.sin(phi) * np.sin(dec) + math.cos(phi) * np.cos(dec) * np.cos(hour)
    altitude = np.degrees(np.arcsin(np.clip(up, -1.0, 1.0)))
    west = np.cos(dec) * np.sin(hour)
    south = math.sin(phi) * np.cos(dec) * np.cos(hour) - math.cos(phi) * np.sin(dec)
    # the sun is 8.8 seconds of arc lower from the surface than from the earth's middle
    return altitude - 8.794 / 3600.0 * np.cos(np.radians(altitude)), (np.degrees(np.arctan2(west, south)) + 180) % 360


def refraction(apparent_deg: Floats | float, *, pressure_hpa: float = 1010.0, temperature_c: float = 10.0) -> Floats:
    """How much refraction lifts what is seen at an altitude, degrees; 34' on a level horizon in standard air.

    References: G. G. Bennett (1982), Journal of Navigation 35, 255-259, scaled from 34.5' to 34' at 0.
    """
    seen = np.maximum(np.asarray(apparent_deg, dtype=np.float64), -1.5)
    minutes = 1.0 / np.tan(np.radians(seen + 7.31 / (seen + 4.4)))
    level = 1.0 / math.tan(math.radians(7.31 / 4.4))
    return np.asarray(minutes * (34.0 / level) / 60.0 * (pressure_hpa / 1010.0) * 283.0 / (273.0 + temperature_c))


def daylight(date: dt.date, lat: float, lon: float) -> Daylight:
    """Times of one day of the place: from the midnight before its solar noon to the midnight after, to the second.

    Sea-level horizon; a time may fall on the next day of UTC. Within 20 s of an ephemeris between the polar circles.

    Args:
        date: The calendar day there.
    """
    noon = solar_noon(date, lon)
    dawn, dusk = (_crossing(noon, s, CIVIL_DEG, lat, lon) for s in (-1, 1))
    rise, sets = (_crossing(noon, s, RISE_DEG, lat, lon) for s in (-1, 1))
    return Daylight(civil_dawn=dawn, sunrise=rise, noon=when_of(noon), sunset=sets, civil_dusk=dusk)


def solar_noon(date: dt.date, lon: float) -> float:
    """Days since the epoch when the sun is due north or south of a place on a day."""
    days = days_of(dt.datetime(date.year, date.month, date.day, 12, tzinfo=dt.UTC)) - lon / 360.0
    for _ in range(3):
        ascension, _, sidereal = apparent_sun(days)
        hour = (float(sidereal) + lon - float(ascension) + 180.0) % 360.0 - 180.0
        days -= hour / 360.98564736629 * 1.0027379
    return days


def _crossing(noon: float, side: int, altitude_deg: float, lat: float, lon: float) -> dt.datetime | None:
    """When the sun passes an altitude in the half day before (-1) or after (1) noon; by bisection to 0.1 s."""
    day, night = noon, noon + 0.5 * side

    def over(days: float) -> float:
        return float(sun_at(days, lat, lon)[0]) - altitude_deg

    if over(day) <= 0.0 or over(night) >= 0.0:
        return None
    while abs(night - day) > 0.1 / _DAY_S:
        middle = (day + night) / 2.0
        day, night = (middle, night) if over(middle) > 0.0 else (day, middle)
    return when_of((day + night) / 2.0)
