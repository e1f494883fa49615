"""Legs of a flight: geodesic distance, true and magnetic bearing, minutes in the wind."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from pyproj import Geod

from boscage.airlift.magnetic import declination
from boscage.model.drop import Leg

KNOT_MS = 1852.0 / 3600.0


@dataclass(frozen=True, kw_only=True)
class Stop:
    """A named place of a flight, WGS 84 degrees; `height_m` is its elevation where known."""

    name: str
    lon: float
    lat: float
    height_m: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Flight:
    """What is stated of the day; anything None stays blank.

    Attributes:
        date: For the declination by the model.
        declination_deg: Declination as somebody states it, instead of the model's.
        ground_speed_kt: Speed over the ground; taken as it stands, whatever the wind.
        air_speed_kt: Speed through the air, from which the wind triangle gives that over the ground.
        wind_deg: True direction that the wind comes from.
    """

    date: dt.date | None = None
    declination_deg: float | None = None
    ground_speed_kt: float | None = None
    air_speed_kt: float | None = None
    wind_deg: float | None = None
    wind_kt: float | None = None


@lru_cache(maxsize=1)
def _geod() -> Geod:
    return Geod(ellps="WGS84")


def geodesic(lat0: float, lon0: float, lat1: float, lon1: float) -> tuple[float, float, float]:
    """Distance in metres, bearing at the start and bearing on at the end, degrees from 0 up to 360."""
    start, back, away = _geod().inv(lon0, lat0, lon1, lat1)
    return float(away), float(start) % 360.0, (float(back) + 180.0) % 360.0


def distances(stops: Sequence[Stop]) -> NDArray[np.float64]:
    """(N, N) geodesic distances between all places, metres."""
    count = len(stops)
    lon, lat = np.array([s.lon for s in stops]), np.array([s.lat for s in stops])
    a, b = np.repeat(np.arange(count), count), np.tile(np.arange(count), count)
    away = _geod().inv(lon[a], lat[a], lon[b], lat[b])[2]
    table = np.asarray(away, dtype=np.float64).reshape(count, count)
    return (table + table.T) / 2.0


def fly(stops: Sequence[Stop], flight: Flight) -> tuple[Leg, ...]:
    """The legs from each place to the next.

    Raises:
        InputError: The date is outside the magnetic model's years.
    """
    return tuple(_leg(a, b, flight) for a, b in pairwise(stops))


def _leg(start: Stop, end: Stop, flight: Flight) -> Leg:
    away, track, _ = geodesic(start.lat, start.lon, end.lat, end.lon)
    turn = flight.declination_deg
    if turn is None and flight.date is not None:
        turn = declination(start.lat, start.lon, flight.date, height_m=start.height_m)
    magnetic = None if turn is None else (track - turn) % 360.0
    heading, speed = None, flight.ground_speed_kt
    if flight.wind_deg is not None and flight.wind_kt is not None:
        if speed is not None:
            heading = heading_for(track, speed, flight.wind_deg, flight.wind_kt)
        elif flight.air_speed_kt is not None:
            made = wind_triangle(track, flight.air_speed_kt, flight.wind_deg, flight.wind_kt)
            heading, speed = made if made is not None else (None, None)
    return Leg(
        start=start.name, end=end.name, distance_m=away, true_bearing_deg=track, magnetic_bearing_deg=magnetic,
        heading_deg=heading, ground_speed_kt=speed,
        minutes=None if speed is None else away / (speed * KNOT_MS) / 60.0,
    )  # fmt: skip


def wind_triangle(track_deg: float, air_speed_kt: float, wind_deg: float, wind_kt: float) -> tuple[float, float] | None:
    """Heading and ground speed that hold a track, or None where the wind is too strong for it.

    Args:
        wind_deg: Direction that the wind comes from; all bearings from true north.

    >>> heading, speed = wind_triangle(90.0, 100.0, 30.0, 20.0)
    >>> round(heading, 2), round(speed, 3)
    (80.03, 88.489)
    """
    angle = math.radians(wind_deg - track_deg)
    across = wind_kt * math.sin(angle) / air_speed_kt
    if abs(across) >= 1.0:
        return None
    speed = air_speed_kt * math.sqrt(1.0 - across * across) - wind_kt * math.cos(angle)
    return ((track_deg + math.degrees(math.asin(across))) % 360.0, speed) if speed > 0.0 else None


def heading_for(track_deg: float, ground_speed_kt: float, wind_deg: float, wind_kt: float) -> float:
    """Heading that makes good a track at a stated ground speed in the wind."""
    track, wind = math.radians(track_deg), math.radians(wind_deg)
    east = ground_speed_kt * math.sin(track) + wind_kt * math.sin(wind)
    north = ground_speed_kt * math.cos(track) + wind_kt * math.cos(wind)
    return math.degrees(math.atan2(east, north)) % 360.0
