"""Quantities, grids and how they are printed."""

from __future__ import annotations

import pytest

from boscage.errors import UnitError
from boscage.values import Bearing, Bounds, Grid, Length, Mass, Printer


@pytest.mark.parametrize(
    "text, metres",
    [("18.3m", 18.3), ("60ft", 18.288), ("6in", 0.1524), ("0.25mi", 402.336), (" 750 yd ", 685.8), ("1.5km", 1500.0),
     ("30cm", 0.3), (".5m", 0.5), ("1e3m", 1000.0), ("-2ft", -0.6096)],
)  # fmt: skip
def test_lengths_with_units(text: str, metres: float) -> None:
    assert Length.parse(text).m == pytest.approx(metres, rel=1e-12)


@pytest.mark.parametrize("text", ["60", 60, 60.0, "", "ft", "60 feet", "60'", None, True, "6 0ft", "sixty ft", "nanft"])
def test_a_bare_or_broken_length_is_refused(text: object) -> None:
    with pytest.raises(UnitError) as caught:
        Length.parse(text)
    assert "18.3m or 60ft" in str(caught.value)


def test_masses() -> None:
    assert Mass.parse("50lb").kg == pytest.approx(22.6796185)
    assert Mass.parse("16oz").kg == pytest.approx(0.45359237)
    with pytest.raises(UnitError, match="mass"):
        Mass.parse("50ft")


def test_bearing_stays_in_the_circle() -> None:
    assert Bearing(-10.0).degrees == 350.0
    assert Bearing(720.0).degrees == 0.0
    assert Bearing(90.0).reverse() == Bearing(270.0)


def test_grid_covers_its_bounds_on_whole_cells() -> None:
    bounds = Bounds(500_003.0, 4_000_001.0, 500_061.0, 4_000_099.0)
    grid = Grid.covering(bounds, cell_m=10.0, crs="EPSG:32615")
    assert grid.shape == (10, 7)
    assert (grid.west, grid.north) == (500_000.0, 4_000_100.0)
    assert grid.bounds == Bounds(500_000.0, 4_000_000.0, 500_070.0, 4_000_100.0)
    assert grid.cell_ha == 0.01


def test_grid_index_is_the_inverse_of_centre() -> None:
    grid = Grid("EPSG:32615", 1000.0, 9000.0, 10.0, 5, 8)
    for row in range(5):
        for col in range(8):
            assert grid.index(*grid.centre(row, col)) == (row, col)
    assert not grid.holds(*grid.index(999.0, 8999.0))


def test_grid_window_is_cut_off_at_the_edge() -> None:
    grid = Grid("EPSG:32615", 1000.0, 9000.0, 10.0, 5, 8)
    part = grid.window(3, 6, 4, 4)
    assert part.shape == (2, 2)
    assert part.centre(0, 0) == grid.centre(3, 6)


def test_bounds() -> None:
    one = Bounds(0.0, 0.0, 10.0, 5.0)
    assert one.padded(1.0) == Bounds(-1.0, -1.0, 11.0, 6.0)
    assert one.overlaps(Bounds(9.0, 4.0, 20.0, 20.0))
    assert not one.overlaps(Bounds(10.0, 0.0, 20.0, 5.0))
    assert (one.width, one.height) == (10.0, 5.0)


@pytest.mark.parametrize(
    "what, value, us, metric",
    [
        ("length", 2.5, "8.2 ft", "2.5 m"),
        ("length", 100.0, "328 ft", "100 m"),
        ("length", 800.0, "2,620 ft", "800 m"),
        ("length", 2500.0, "1.6 mi", "2.5 km"),
        ("height", 312.4, "1,025 ft", "312 m"),
        ("small", 0.46, "18 in", "46 cm"),
        ("area", 100.0, "247 ac", "100 ha"),
        ("area", 3500.0, "8,650 ac", "3,500 ha"),
        ("mass", 22.68, "50 lb", "23 kg"),
        ("pressure", 2.0, "290 psi", "2.0 MPa"),
        ("per_area", 10.0, "4.0 per 100 ac", "10 per km²"),
    ],
)
def test_printed_quantities(what: str, value: float, us: str, metric: str) -> None:
    assert getattr(Printer("us"), what)(value) == us
    assert getattr(Printer("metric"), what)(value) == metric
