"""The air: standard atmosphere up to 11 km, pressure altitude and density altitude; blank where nothing is stated."""

from __future__ import annotations

from boscage.errors import InputError
from boscage.model.drop import AirDensity

SEA_K, SEA_HPA, SEA_KG_M3 = 288.15, 1013.25, 1.225
LAPSE_K_M = 0.0065
_GAS = 287.05287
_POWER = 9.80665 / (LAPSE_K_M * _GAS)
_EARTH_M = 6_356_766.0
_TOP_M = 11_000.0


def geopotential(height_m: float) -> float:
    """Geopotential altitude of a geometric one, metres."""
    return _EARTH_M * height_m / (_EARTH_M + height_m)


def standard_air(altitude_m: float) -> tuple[float, float, float]:
    """Temperature in kelvin, pressure in hPa and density in kg/m3 of the standard atmosphere.

    Args:
        altitude_m: Geopotential, -2,000 to 11,000 m.

    Raises:
        ValueError: The altitude is outside the lowest layer.

    References: ICAO (1993), Doc 7488/3; NOAA, NASA, USAF (1976), U.S. Standard Atmosphere, Table I.
    """
    if not -2000.0 <= altitude_m <= _TOP_M:
        raise ValueError(f"the altitude is {altitude_m:g} m; expected -2000 to 11000")
    warm = 1.0 - LAPSE_K_M * altitude_m / SEA_K
    return SEA_K * warm, SEA_HPA * warm**_POWER, SEA_KG_M3 * warm ** (_POWER - 1.0)


def pressure_altitude(pressure_hpa: float) -> float:
    """Altitude of the standard atmosphere that has a pressure, metres."""
    return SEA_K / LAPSE_K_M * (1.0 - (pressure_hpa / SEA_HPA) ** (1.0 / _POWER))


def density_altitude(density_kg_m3: float) -> float:
    """Altitude of the standard atmosphere that has a density, metres."""
    return SEA_K / LAPSE_K_M * (1.0 - (density_kg_m3 / SEA_KG_M3) ** (1.0 / (_POWER - 1.0)))


def air_at(
    elevation_m: float | None, temperature_c: float | None, altimeter_hpa: float | None,
    dew_point_c: float | None = None,
) -> AirDensity | None:  # fmt: skip
    """Pressure and density altitude at a place, or None where elevation, temperature or altimeter setting is missing.

    Pressure altitude is the elevation and the standard altitude of the altimeter setting, which is how an altimeter
    works. Without a dew point the air is taken as dry: humid air is thinner, and the density altitude then higher.

    Raises:
        InputError: The dew point is above the temperature.

    References: FAA-H-8083-25, Pilot's Handbook of Aeronautical Knowledge, Aircraft Performance; National Weather
    Service, density altitude note, for the vapour pressure and the virtual temperature.
    """
    if elevation_m is None or temperature_c is None or altimeter_hpa is None:
        return None
    if dew_point_c is not None and dew_point_c > temperature_c:
        raise InputError(
            f"the dew point is {dew_point_c:g} °C at {temperature_c:g} °C", field="dew_point_c",
            expected="a dew point no higher than the temperature", mend="correct one of them",
        )  # fmt: skip
    altitude = elevation_m + pressure_altitude(altimeter_hpa)
    standard_k, pressure, _ = standard_air(altitude)
    kelvin = temperature_c + 273.15
    if dew_point_c is not None:
        vapour = 6.11 * 10.0 ** (7.5 * dew_point_c / (237.7 + dew_point_c))
        kelvin /= 1.0 - vapour / pressure * (1.0 - 0.622)
    density = SEA_KG_M3 * (pressure / SEA_HPA) * (SEA_K / kelvin)
    return AirDensity(
        elevation_m=elevation_m, temperature_c=temperature_c, altimeter_hpa=altimeter_hpa,
        pressure_altitude_m=altitude, density_altitude_m=density_altitude(density), standard_c=standard_k - 273.15,
        dew_point_c=dew_point_c,
    )  # fmt: skip
