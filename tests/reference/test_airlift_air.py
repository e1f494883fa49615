"""The air against the standard atmosphere and the FAA's sample problem.

Sources: ICAO Doc 7488/3 (1993) and U.S. Standard Atmosphere 1976, Table I; FAA-H-8083-25, Pilot's Handbook of
Aeronautical Knowledge, Density Altitude Charts, Sample Problem 1; National Weather Service density altitude note. Rows
marked 'own' are the exact dry figures that those formulas give.
"""

from __future__ import annotations

import pytest

from boscage.airlift.air import SEA_KG_M3, air_at, density_altitude, geopotential, pressure_altitude, standard_air
from boscage.errors import InputError

FT, INHG = 0.3048, 33.8638866667


def celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32.0) / 1.8


@pytest.mark.parametrize(
    ("metres", "kelvin", "pascals", "density"),
    [
        (0, 288.15, 101325.0, 1.22500), (1000, 281.65, 89874.6, 1.11164), (2000, 275.15, 79495.2, 1.00649),
        (3000, 268.65, 70108.5, 0.90912), (5000, 255.65, 54019.9, 0.73612), (11000, 216.65, 22632.1, 0.36392),
    ],
)  # fmt: skip
def test_by_geopotential_altitude(metres: float, kelvin: float, pascals: float, density: float) -> None:
    assert standard_air(metres) == pytest.approx((kelvin, pascals / 100, density), rel=1e-5)


@pytest.mark.parametrize(
    ("metres", "kelvin", "pascals", "density"),
    [
        (500, 284.900, 95461.29, 1.16727), (1000, 281.651, 89876.29, 1.11166), (1500, 278.402, 84559.68, 1.05810),
        (2000, 275.154, 79501.42, 1.00655), (3000, 268.659, 70121.16, 0.90925), (5000, 255.676, 54048.29, 0.73643),
    ],
)  # fmt: skip
def test_by_geometric_altitude(metres: float, kelvin: float, pascals: float, density: float) -> None:
    assert standard_air(geopotential(metres)) == pytest.approx((kelvin, pascals / 100, density), rel=1e-5)


@pytest.mark.parametrize(
    ("feet", "sigma", "inches", "degrees"),
    [
        (0, 1.0000, 29.921, 15.00), (1000, 0.9711, 28.856, 13.02), (2000, 0.9428, 27.821, 11.04),
        (3000, 0.9151, 26.817, 9.06), (4000, 0.8881, 25.842, 7.08), (5000, 0.8617, 24.896, 5.09),
        (6000, 0.8359, 23.978, 3.11), (8000, 0.7860, 22.225, -0.85), (10000, 0.7385, 20.577, -4.81),
    ],
)  # fmt: skip
def test_by_feet(feet: float, sigma: float, inches: float, degrees: float) -> None:
    kelvin, pressure, density = standard_air(feet * FT)
    assert density / SEA_KG_M3 == pytest.approx(sigma, abs=5.1e-5)
    assert pressure / INHG == pytest.approx(inches, abs=6e-4)
    assert kelvin - 273.15 == pytest.approx(degrees, abs=6e-3)
    assert pressure_altitude(pressure) == pytest.approx(feet * FT, abs=1e-6)
    assert density_altitude(density) == pytest.approx(feet * FT, abs=1e-6)


def test_faa_sample_problem() -> None:
    """Elevation 5,883 ft, altimeter 30.10, 70 F: pressure altitude 5,718 ft, density altitude about 7,700 ft."""
    made = air_at(5883 * FT, celsius(70.0), 30.10 * INHG)
    assert made.pressure_altitude_m / FT == pytest.approx(5718, abs=2)
    assert made.density_altitude_m / FT == pytest.approx(7700, abs=50), "read from a chart"
    assert air_at(5703 * FT, celsius(70.0), 1013.25).density_altitude_m / FT == pytest.approx(7691, abs=2), (
        "own, from the 5,703 ft that the rule of 1,000 ft an inch gives"
    )


@pytest.mark.parametrize(
    ("feet", "inches", "fahrenheit", "pressure_ft", "dense_ft"),
    [(1000, 29.92, 95, 1000, 3490), (600, 29.80, 100, 720, 3450), (5000, 29.92, 90, 5000, 8037),
     (2500, 30.00, 86, 2420, 4671)],
)  # fmt: skip
def test_dry_air(feet: float, inches: float, fahrenheit: float, pressure_ft: float, dense_ft: float) -> None:
    """Pressure altitudes of the rule of 1,000 ft an inch, to 20 ft; density altitudes own, from those, to 15 ft."""
    made = air_at(feet * FT, celsius(fahrenheit), inches * INHG)
    assert made.pressure_altitude_m / FT == pytest.approx(pressure_ft, abs=20)
    assert made.density_altitude_m / FT == pytest.approx(dense_ft, abs=15)


@pytest.mark.parametrize(
    ("feet", "fahrenheit", "dew", "dry_ft", "moist_ft"), [(600, 95, 75, 3004, 3384), (1000, 100, 70, 3789, 4112)]
)
def test_humid_air_is_thinner(feet: float, fahrenheit: float, dew: float, dry_ft: float, moist_ft: float) -> None:
    dry = air_at(feet * FT, celsius(fahrenheit), 1013.25)
    moist = air_at(feet * FT, celsius(fahrenheit), 1013.25, celsius(dew))
    assert dry.density_altitude_m / FT == pytest.approx(dry_ft, abs=15)
    assert moist.density_altitude_m / FT == pytest.approx(moist_ft, abs=15)


def test_weather_service_pressure_altitudes() -> None:
    """977.17 hPa 999.5 ft, 942.13 1999.1, 843.07 4998.0, 700 9878.4 (formula from memory), 0.4 to 4.1 ft lower."""
    for hpa, feet in ((977.17, 999.5), (942.13, 1999.1), (843.07, 4998.0), (700.0, 9878.4)):
        assert (1.0 - (hpa / 1013.25) ** 0.190284) * 145366.45 == pytest.approx(feet, abs=0.06)
        assert 0.3 < pressure_altitude(hpa) / FT - feet < 4.15


def test_standard_air_is_its_own_density_altitude() -> None:
    made = air_at(1200.0, standard_air(1200.0)[0] - 273.15, 1013.25)
    assert made.density_altitude_m == pytest.approx(1200.0, abs=1e-6)
    assert made.standard_c == pytest.approx(15.0 - 7.8)


@pytest.mark.parametrize("missing", range(3))
def test_what_is_not_stated_stays_blank(missing: int) -> None:
    given = [300.0, 30.0, 1013.0]
    given[missing] = None
    assert air_at(*given) is None


def test_wrong_air() -> None:
    with pytest.raises(InputError, match="dew point no higher than the temperature"):
        air_at(300.0, 20.0, 1013.0, 25.0)
    with pytest.raises(ValueError, match="expected -2000 to 11000"):
        standard_air(12000.0)
