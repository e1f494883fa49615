"""Coordinate slips against worked figures, and grid references read back.

Sources: plain arithmetic (31.4567 read as 31 45.67' lands 34 km off, 31 27' 24.1" read as 31 27.241' lands 300 m off);
GeoConvert(1) of GeographicLib 2.1.2; NGA mgrs-java, MGRSTest.java.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boscage.airlift.coordinates import format_usng
from boscage.airlift.grid_reference import read_usng
from boscage.airlift.legs import geodesic
from boscage.airlift.misread import DDM, DECIMAL, DMS, explain_place, format_dms, misread_angle, misreads
from boscage.errors import InputError


def test_decimal_degrees_read_as_minutes() -> None:
    """31.4567 read as 31 45.67' is 34 km to the north."""
    wrong = misread_angle("31.45670 N", DECIMAL, DDM)
    assert wrong == pytest.approx(31 + 45.67 / 60)
    assert geodesic(31.4567, -97.5, wrong, -97.5)[0] == pytest.approx(34_000, abs=300)


def test_seconds_read_as_decimals_of_a_minute() -> None:
    """31 27' 24.1" read as 31 27.241' is 300 m off."""
    wrong = misread_angle("31 27 24.1 N", DMS, DDM)
    assert wrong == pytest.approx(31 + 27.241 / 60)
    assert geodesic(31 + 27 / 60 + 24.1 / 3600, -97.5, wrong, -97.5)[0] == pytest.approx(300, abs=5)


@pytest.mark.parametrize(
    ("text", "written", "read_as", "angle"),
    [
        ("31 27.402 N", DDM, DECIMAL, 31.27402), ("31 27.402 N", DDM, DMS, 31 + 27 / 60 + 40.2 / 3600),
        ("098 45 55.6 W", DMS, DECIMAL, -98.45556), ("31.45570 N", DECIMAL, DMS, 31 + 45 / 60 + 57.0 / 3600),
        ("31.45670 N", DECIMAL, DMS, None), ("31.65000 N", DECIMAL, DDM, None), ("31 27.702 N", DDM, DMS, None),
        ("34.05000 S", DECIMAL, DDM, -(34 + 5 / 60)),
    ],
)  # fmt: skip
def test_slips(text: str, written: str, read_as: str, angle: float | None) -> None:
    made = misread_angle(text, written, read_as)
    assert made == (None if angle is None else pytest.approx(angle))


def test_degrees_minutes_seconds() -> None:
    """GeoConvert -: -p 1: 31:14:04.44N 098:45:55.56W; seconds of 60 carry."""
    assert format_dms(31.234567, -98.765432, digits=2) == ("31 14 04.44 N", "098 45 55.56 W")
    assert format_dms(29.999999, -95.999) == ("30 00 00.0 N", "095 59 56.4 W")


def test_the_table_of_a_place() -> None:
    rows = misreads(31.234567, -98.265432)
    assert len(rows) == 8
    for row in rows:
        if row.off_m is None:
            assert "cannot be read" in row.text
        else:
            assert row.off_m == pytest.approx(geodesic(31.234567, -98.265432, row.lat, row.lon)[0], abs=1e-6)
            assert row.written in row.text
    first = [r.off_m for r in rows[:6] if r.off_m is not None]
    assert first == sorted(first, reverse=True) and len(first) >= 4
    assert rows[6].text.endswith("a part of it is too large"), "98 is no latitude"
    assert rows[7].lon == 98.265432


@pytest.mark.parametrize("seed_lat", [36.2123, 30.5051, 28.0333])
def test_a_slip_is_recognised(seed_lat: float) -> None:
    """A base typed as decimal degrees from degrees and minutes lies far off, and reading it so brings it home."""
    near = (seed_lat, -92.3021)
    typed = tuple(
        misread_angle(text, DDM, DECIMAL)
        for text in (f"{int(v):02d} {v % 1 * 60:06.3f} {h}" for v, h in ((near[0], "N"), (-near[1], "W")))
    )
    assert geodesic(*typed, *near)[0] > 5_000
    found = explain_place(typed, near, within_m=2_000.0)
    assert found is not None and found.read_as == DDM
    assert geodesic(found.lat, found.lon, *near)[0] < 60.0
    assert explain_place(near, near, within_m=2_000.0) is None
    assert explain_place((10.0, 10.0), near, within_m=2_000.0) is None


def test_other_side_is_recognised() -> None:
    near = (36.2, -92.7)
    assert explain_place((36.2, 92.7), near, within_m=1_000.0).read_as == "east and west exchanged"
    assert explain_place((36.2, -80.0), near, within_m=1_000.0) is None


@pytest.mark.parametrize(
    ("text", "zone", "east", "north", "side"),
    [
        ("33XVG74594359", 33, 474590, 8643590, 10), ("33X VG 74596 43594", 33, 474596, 8643594, 1),
        ("38SMB4488", 38, 444000, 3688000, 1000), ("33XVG", 33, 400000, 8600000, 100000),
        ("33xvg74", 33, 470000, 8640000, 10000), ("14RPU4394875148", 14, 643948, 3375148, 1),
    ],
)  # fmt: skip
def test_references_read_back(text: str, zone: int, east: float, north: float, side: float) -> None:
    made = read_usng(text)
    assert (made.zone, made.east_m, made.north_m, made.side_m) == (zone, east, north, side)
    assert made.is_north


def test_published_middle_of_a_square() -> None:
    """GeoConvert(1): 38SMB4488 is 33.33424 44.40363."""
    made = read_usng("38SMB4488")
    assert (made.lat, made.lon) == pytest.approx((33.33424, 44.40363), abs=6e-6)


@settings(derandomize=True, deadline=None, max_examples=200)
@given(st.floats(-79.9, 83.9), st.floats(-179.9, 179.9))
def test_a_reference_holds_its_place(lat: float, lon: float) -> None:
    made = read_usng(format_usng(lat, lon))
    assert geodesic(lat, lon, made.lat, made.lon)[0] < 0.75
    assert made.is_north == (lat >= 0.0) or abs(lat) < 1e-4


@pytest.mark.parametrize("text", ["", "14R PU 43948 7514", "14I PU 4394 7514", "61R PU 43 75", "14R ZZ 43 75", "36.2"])
def test_no_reference(text: str) -> None:
    with pytest.raises(InputError, match="copy it again"):
        read_usng(text)
