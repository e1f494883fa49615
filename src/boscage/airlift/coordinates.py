"""Coordinates in the forms that people read: decimal degrees, degrees decimal minutes, United States National Grid."""

from __future__ import annotations

import math
from functools import lru_cache

import mgrs
import numpy as np
from numpy.typing import NDArray
from pyproj import CRS, Geod, Proj, Transformer

from boscage.model.results import Place
from boscage.values import format_ddm


def format_decimal(lat: float, lon: float, *, digits: int = 5) -> tuple[str, str]:
    """Latitude and longitude as decimal degrees with a hemisphere letter; 5 digits are about 1 m.

    >>> format_decimal(31.234567, -98.765432)
    ('31.23457 N', '098.76543 W')
    """
    north = f"{abs(lat):0{digits + 3}.{digits}f} {'S' if lat < 0 else 'N'}"
    return north, f"{abs(lon):0{digits + 4}.{digits}f} {'W' if lon < 0 else 'E'}"


def format_usng(lat: float, lon: float) -> str:
    """United States National Grid (MGRS on WGS 84) to 1 m, truncated and never rounded, without blanks.

    >>> format_usng(30.5, -97.5)
    '14RPU4394875148'
    """
    return str(mgrs.MGRS().toMGRS(lat, lon, MGRSPrecision=5))


def space_usng(text: str) -> str:
    """A grid reference with blanks between zone, square, easting and northing.

    >>> space_usng('14RPU4394875148')
    '14R PU 43948 75148'
    """
    zone = 3 if text[1].isdigit() else 2
    digits = text[zone + 2 :]
    half = len(digits) // 2
    return f"{text[:zone]} {text[zone : zone + 2]} {digits[:half]} {digits[half:]}"


def place_at(x_m: float, y_m: float, crs: str) -> Place:
    """A place of the ranch's CRS in every form, on WGS 84."""
    lon, lat = _to_wgs84(crs).transform(x_m, y_m)
    north, east = format_decimal(lat, lon)
    lat_ddm, lon_ddm = format_ddm(lat, lon)
    return Place(
        x_m=x_m, y_m=y_m, lon=lon, lat=lat, decimal=f"{north}  {east}", ddm=f"{lat_ddm}  {lon_ddm}",
        usng=space_usng(format_usng(lat, lon)), convergence_deg=convergence(lon, lat, crs),
    )  # fmt: skip


def at_lon_lat(lon: float, lat: float, crs: str) -> Place:
    """A place given in WGS 84 degrees, in every form."""
    x_m, y_m = _to_wgs84(crs).transform(lon, lat, direction="INVERSE")
    return place_at(x_m, y_m, crs)


def convergence(lon: float, lat: float, crs: str) -> float:
    """Angle from true north to grid north in degrees, positive where grid north lies east of true north.

    >>> round(convergence(-97.5, 30.5, "EPSG:32614"), 6)
    0.761439
    """
    angle = _projection(crs).get_factors(lon, lat).meridian_convergence
    return float(angle) if math.isfinite(angle) else 0.0


@lru_cache(maxsize=8)
def _to_wgs84(crs: str) -> Transformer:
    return Transformer.from_crs(crs, "EPSG:4326", always_xy=True)


@lru_cache(maxsize=8)
def _projection(crs: str) -> Proj:
    return Proj(CRS.from_user_input(crs))


def from_pivot(east_north: NDArray[np.float64], pivot: tuple[float, float], crs: str) -> NDArray[np.float64]:
    """Places given in metres east and true north of a pivot, in a projected CRS; (N, 2).

    Args:
        east_north: (N, 2) metres.
        pivot: Longitude and latitude, WGS 84.
        crs: The projected CRS to bring them into.
    """
    bearing = np.degrees(np.arctan2(east_north[:, 0], east_north[:, 1]))
    away = np.hypot(east_north[:, 0], east_north[:, 1])
    lon, lat = np.full(len(away), pivot[0]), np.full(len(away), pivot[1])
    lon, lat, _ = Geod(ellps="WGS84").fwd(lon, lat, bearing, away)
    x, y = Transformer.from_crs("EPSG:4326", crs, always_xy=True).transform(lon, lat)
    return np.column_stack([x, y])
