"""Covered land: circles of armed sets only, on land with permission, each hectare once, weighted by nights."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
import shapely

from boscage.errors import InputError
from boscage.ledger.covered import circle, cover_land
from boscage.model.ledger import Book
from boscage.model.ledger_land import Parcel

HEAD = "date,site,event,x,y\n"
WIDE = Parcel(parcel="P", owner="North", access="granted", shape=shapely.box(-5000, -5000, 5000, 5000))


def two(book_of: Callable[..., Book], apart: float = 1000.0) -> Book:
    """Two sets: A armed 1 to 5, B armed 3 to 9 September."""
    return book_of(
        f"{HEAD}2026-09-01,A,armed,0,0\n2026-09-05,A,pulled,,\n2026-09-03,B,armed,{apart},0\n2026-09-09,B,pulled,,\n"
    )


def lens(radius: float, apart: float) -> float:
    """Ground that two equal circles share: 2 r^2 acos(d / 2 r) - d / 2 sqrt(4 r^2 - d^2)."""
    return 2 * radius**2 * math.acos(apart / (2 * radius)) - apart / 2 * math.sqrt(4 * radius**2 - apart**2)


def test_a_circle_has_its_area() -> None:
    assert circle(7.0, 8.0, 1500.0).area == pytest.approx(math.pi * 1500.0**2, rel=1e-9)
    reach = np.hypot(*(shapely.get_coordinates(circle(0.0, 0.0, 1000.0)).T))
    assert abs(reach - 1000.0).max() < 0.1


def test_two_circles_share_a_lens(book_of: Callable[..., Book]) -> None:
    found = cover_land(two(book_of), [WIDE], 800.0)
    whole = 2 * math.pi * 800**2 - lens(800, 1000)
    assert found.covered_ha == pytest.approx(whole / 1e4, rel=1e-4)
    assert found.beyond_ha == pytest.approx(0.0, abs=1e-6) and found.sites == ("A", "B")


def test_hectare_nights_count_shared_ground_once_a_night(book_of: Callable[..., Book]) -> None:
    """A alone 2 nights, both 2 nights, B alone 4 nights."""
    found = cover_land(two(book_of), [WIDE], 800.0)
    disc, both = math.pi * 800**2, 2 * math.pi * 800**2 - lens(800, 1000)
    assert found.hectare_nights == pytest.approx((2 * disc + 2 * both + 4 * disc) / 1e4, rel=1e-4)
    assert found.parcels[0].mean_nights == pytest.approx(found.hectare_nights / found.covered_ha)


def test_only_armed_sets_with_a_night_cover(book_of: Callable[..., Book]) -> None:
    book = book_of(f"{HEAD}2026-09-01,A,open,0,0\n2026-09-01,B,prebait,0,0\n2026-11-21,C,armed,0,0\n")
    found = cover_land(book, [WIDE], 800.0)
    assert (found.covered_ha, found.hectare_nights, found.sites) == (0.0, 0.0, ())
    assert "no set had an armed night" in found.notes[0] and found.parcels[0].mean_nights == 0.0


def test_clipped_to_land_with_permission_by_parcel_and_owner(book_of: Callable[..., Book]) -> None:
    west, east = shapely.box(-2000, -2000, 0, 2000), shapely.box(0, -2000, 2000, 2000)
    parcels = [
        Parcel(parcel="W1", owner="North", access="granted", shape=shapely.box(-2000, 0, 0, 2000)),
        Parcel(parcel="W2", owner="North", access="granted", shape=shapely.box(-2000, -2000, 0, 0)),
        Parcel(parcel="E", owner="South", access="refused", shape=east),
    ]
    found = cover_land(book_of(f"{HEAD}2026-09-01,A,armed,0,0\n2026-09-03,A,pulled,,\n"), parcels, 1000.0)
    half = math.pi * 1000**2 / 2 / 1e4
    assert found.covered_ha == pytest.approx(half) and found.beyond_ha == pytest.approx(half)
    assert [(p.parcel, p.covered_ha) for p in found.parcels] == [
        ("W1", pytest.approx(half / 2)),
        ("W2", pytest.approx(half / 2)),
    ]
    assert [(o.owner, o.covered_ha, o.covered_share) for o in found.owners] == [
        ("North", pytest.approx(half), pytest.approx(half / 800.0))
    ]
    assert found.granted_ha == pytest.approx(west.area / 1e4) and found.hectare_nights == pytest.approx(2 * half)
    assert "1 parcel without granted access left out." in found.notes


@pytest.mark.parametrize("access", ["refused", "unknown"])
def test_without_permission_nothing_counts(book_of: Callable[..., Book], access: str) -> None:
    parcel = Parcel(parcel="P", owner="N", access=access, shape=WIDE.shape)
    found = cover_land(two(book_of), [parcel], 800.0)
    assert found.covered_ha == 0.0 and found.parcels == () and "no parcel has its access granted" in found.notes[0]


def test_parcels_over_one_another_count_once_in_all(book_of: Callable[..., Book]) -> None:
    twice = cover_land(two(book_of), [WIDE, WIDE], 800.0)
    once = cover_land(two(book_of), [WIDE], 800.0)
    assert twice.covered_ha == pytest.approx(once.covered_ha) and twice.owners[0].covered_ha == pytest.approx(
        once.covered_ha
    )


def test_armed_sets_without_a_place_are_said(book_of: Callable[..., Book]) -> None:
    found = cover_land(book_of("date,site,event\n2026-09-01,A,armed\n"), [WIDE], 800.0)
    assert found.unplaced == ("A",) and found.covered_ha == 0.0
    assert found.notes == ("armed sets without a place: A; their land is missing from the figures.",)


def test_one_set_armed_in_two_stretches_is_one_circle(book_of: Callable[..., Book]) -> None:
    book = book_of(f"{HEAD}2026-09-01,A,armed,0,0\n2026-09-03,A,open,,\n2026-09-05,A,armed,,\n2026-09-06,A,pulled,,\n")
    found = cover_land(book, [WIDE], 500.0)
    disc = math.pi * 500**2 / 1e4
    assert found.covered_ha == pytest.approx(disc) and found.hectare_nights == pytest.approx(3 * disc)


def test_a_radius_of_nothing_is_refused(book_of: Callable[..., Book]) -> None:
    with pytest.raises(InputError, match="the radius is 0 m"):
        cover_land(two(book_of), [WIDE], 0.0)


def test_against_points_of_a_lattice(book_of: Callable[..., Book]) -> None:
    """A plain count of lattice points in granted land and in reach, 10 m apart."""
    land = shapely.Polygon([(-700, -300), (900, -800), (1500, 600), (200, 900)])
    parcel = Parcel(parcel="P", owner="N", access="granted", shape=land)
    found = cover_land(two(book_of), [parcel], 600.0)
    xx, yy = np.meshgrid(np.arange(-1995.0, 2000.0, 10.0), np.arange(-1995.0, 2000.0, 10.0))
    near = (np.hypot(xx, yy) < 600) | (np.hypot(xx - 1000, yy) < 600)
    inside = shapely.contains_xy(land, xx, yy)
    assert found.covered_ha == pytest.approx((near & inside).sum() * 0.01, rel=0.01)
    assert found.parcels[0].covered_share == pytest.approx((near & inside).sum() / inside.sum(), rel=0.01)
