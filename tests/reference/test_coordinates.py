"""Coordinate strings against published examples and independent libraries.

Sources: GeoConvert(1) of GeographicLib 2.1.2 (grid references of six sites, agreeing with pyproj and mgrs there);
NGA mgrs-java test suite (33XVG7459643594); UTM convergence of the same six sites from GeoConvert for the first two.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boscage.airlift.coordinates import convergence, format_decimal, format_usng, place_at, space_usng
from boscage.values import format_ddm

SITES = [
    (30.5, -97.5, "EPSG:32614", 643948.824, 3375148.001, "14RPU4394875148", 0.761439),
    (31.234567, -98.765432, "EPSG:32614", 522338.311, 3455622.033, "14RNV2233855622", 0.121634),
    (32.5, -84.5, "EPSG:32616", 734879.663, 3598613.456, "16SGA3487998613", 1.343864),
    (34.5, -98.0, "EPSG:32614", 591804.930, 3818051.052, "14SND9180418051", 0.566446),
    (28.0, -82.0, "EPSG:32617", 401674.665, 3097605.227, "17RML0167497605", -0.469509),
    (29.7, -95.999, "EPSG:32615", 209819.431, 3289308.559, "15RTN0981989308", -1.486921),
]


@pytest.mark.parametrize("lat, lon, crs, x, y, grid, turn", SITES)
def test_grid_reference_and_convergence(
    lat: float, lon: float, crs: str, x: float, y: float, grid: str, turn: float
) -> None:
    assert format_usng(lat, lon) == grid
    assert convergence(lon, lat, crs) == pytest.approx(turn, abs=1e-5)
    place = place_at(x, y, crs)
    assert (place.lat, place.lon) == pytest.approx((lat, lon), abs=2e-8)
    assert place.datum == "WGS 84"


def test_grid_reference_is_cut_off_and_never_rounded() -> None:
    """NGA mgrs-java: UTM 33 N 474596.26 8643594.54 is 33XVG7459643594, though the northing is nearer to 595."""
    place = place_at(474596.26, 8643594.54, "EPSG:32633")
    assert place.usng == "33X VG 74596 43594"
    assert space_usng("4QFJ1234567890") == "4Q FJ 12345 67890"


@pytest.mark.parametrize(
    "lat, lon, expected",
    [
        (30.5, -97.5, ("30 30.000 N", "097 30.000 W")),
        (31.234567, -98.765432, ("31 14.074 N", "098 45.926 W")),
        (29.999999, -95.999, ("30 00.000 N", "095 59.940 W")),
        (-33.9, 18.5, ("33 54.000 S", "018 30.000 E")),
        (-0.0000001, 0.0, ("00 00.000 N", "000 00.000 E")),
    ],
)
def test_degrees_decimal_minutes(lat: float, lon: float, expected: tuple[str, str]) -> None:
    assert format_ddm(lat, lon) == expected


@settings(derandomize=True, deadline=None, max_examples=300)
@given(st.floats(-80, 80), st.floats(-179.9, 179.9))
def test_degrees_decimal_minutes_read_back(lat: float, lon: float) -> None:
    for text, angle in zip(format_ddm(lat, lon), (lat, lon), strict=True):
        degrees, minutes, letter = text.split()
        assert float(minutes) < 60.0
        back = (int(degrees) + float(minutes) / 60.0) * (-1 if letter in "SW" else 1)
        assert back == pytest.approx(angle, abs=0.5e-3 / 60 + 1e-9)


def test_decimal_degrees() -> None:
    assert format_decimal(31.234567, -98.765432) == ("31.23457 N", "098.76543 W")
