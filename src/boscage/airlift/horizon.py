"""The horizon that terrain makes, and when the sun stands over it."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boscage.airlift.sun import refraction, solar_noon, sun_at, when_of
from boscage.model.drop import TerrainLight
from boscage.values import Grid

Floats = NDArray[np.float64]
LIMB_DEG = 0.2666
EARTH_M = 6_371_000.0
BEND = 0.13
"""Share of the earth's curvature that refraction takes back along the ground; the usual default of surveyors' tools."""
BEARINGS = 720
_STEP_S = 20.0


@dataclass(frozen=True, kw_only=True)
class Horizon:
    """The terrain's edge round a place.

    Attributes:
        bearing_deg: (N,) true bearings, rising from 0.
        angle_deg: (N,) highest angle of known ground above the level, at least 0 less the dip of what is known; NaN
            where no ground is known on that bearing.
        known: (N,) whether the ground is known as far as was looked.
    """

    bearing_deg: Floats
    angle_deg: Floats
    known: NDArray[np.bool_]

    def at(self, bearing_deg: Floats) -> Floats:
        """Angle on any bearing, linear between those looked at; 0, the level, where nothing is known."""
        angles = np.where(np.isnan(self.angle_deg), 0.0, self.angle_deg)
        return np.interp(bearing_deg % 360.0, [*self.bearing_deg, 360.0], [*angles, angles[0]])


def terrain_horizon(
    terrain_m: NDArray[np.float32], grid: Grid, place: tuple[float, float], *, eye_m: float = 2.0,
    reach_m: float = 10_000.0, convergence_deg: float = 0.0,
) -> Horizon:  # fmt: skip
    """Highest angle of the ground on each bearing, curvature and refraction reckoned; cells are taken as they stand.

    Args:
        terrain_m: (R, C) elevation, NaN = no data.
        place: East and north.
        eye_m: Above the ground there.
        convergence_deg: Grid north east of true north, so that bearings are true.

    Returns:
        A horizon of unknown bearings where the place itself has no elevation.
    """
    true = np.arange(BEARINGS) * 360.0 / BEARINGS
    row, col = grid.index(*place)
    if not grid.holds(row, col) or not np.isfinite(terrain_m[row, col]):
        return Horizon(bearing_deg=true, angle_deg=np.full(BEARINGS, np.nan), known=np.zeros(BEARINGS, dtype=bool))
    eye = float(terrain_m[row, col]) + eye_m
    away = np.arange(grid.cell_m, reach_m + grid.cell_m / 2.0, grid.cell_m)
    drop = away**2 * (1.0 - BEND) / (2.0 * EARTH_M)
    angles, known = np.full(BEARINGS, np.nan), np.zeros(BEARINGS, dtype=bool)
    for n, bearing in enumerate(np.radians(true - convergence_deg)):
        rows = np.floor((grid.north - place[1] - away * math.cos(bearing)) / grid.cell_m).astype(np.int64)
        cols = np.floor((place[0] + away * math.sin(bearing) - grid.west) / grid.cell_m).astype(np.int64)
        on = (rows >= 0) & (rows < grid.rows) & (cols >= 0) & (cols < grid.cols)
        z = np.full(len(away), np.nan)
        z[on] = terrain_m[rows[on], cols[on]]
        there = np.isfinite(z)
        known[n] = there.all()
        if there.any():
            angles[n] = np.degrees(np.arctan((z[there] - drop[there] - eye) / away[there])).max()
    return Horizon(bearing_deg=true, angle_deg=angles, known=known)


def terrain_light(date: dt.date, lat: float, lon: float, horizon: Horizon) -> TerrainLight:
    """When the sun's upper limb is first and last seen over the terrain on a day of the place.

    Where no ground is known the horizon is taken as level: the times may then be too early and too late.
    """
    noon = solar_noon(date, lon)
    days = noon + np.arange(-43200.0, 43200.0 + _STEP_S, _STEP_S) / 86400.0
    over = _over(days, lat, lon, horizon)
    share = float(horizon.known.mean())
    seen = np.flatnonzero(over > 0.0)
    if not seen.size:
        return TerrainLight(first_sun=None, last_sun=None, known_share=share)
    first, last = int(seen[0]), int(seen[-1])
    begin = None if first == 0 else when_of(_zero(days[first - 1], days[first], lat, lon, horizon))
    end = None if last == len(days) - 1 else when_of(_zero(days[last + 1], days[last], lat, lon, horizon))
    return TerrainLight(first_sun=begin, last_sun=end, known_share=share)


def _over(days: Floats, lat: float, lon: float, horizon: Horizon) -> Floats:
    """Degrees that the upper limb stands over the terrain."""
    altitude, bearing = sun_at(days, lat, lon)
    edge = horizon.at(bearing)
    return altitude + LIMB_DEG + refraction(edge) - edge


def _zero(dark: float, light: float, lat: float, lon: float, horizon: Horizon) -> float:
    while abs(light - dark) > 0.1 / 86400.0:
        middle = (dark + light) / 2.0
        if float(_over(np.array([middle]), lat, lon, horizon)[0]) > 0.0:
            light = middle
        else:
            dark = middle
    return (dark + light) / 2.0
