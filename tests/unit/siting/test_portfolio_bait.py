"""Bait places against the published spacing: pairs, holes, the boundary."""

from __future__ import annotations

import math

import numpy as np
import pytest

from boscage.errors import InputError
from boscage.model.portfolio import BaitOptions
from boscage.siting.portfolio_bait import check_bait_spacing
from boscage.values import Grid, Length, Printer

METRIC = Printer("metric")
OPTIONS = BaitOptions()
GRID = Grid("EPSG:32615", 0.0, 6000.0, 25.0, 240, 240)
ALL = np.ones(GRID.shape, dtype=bool)


def row(*east: float) -> np.ndarray:
    return np.column_stack([east, np.full(len(east), 3000.0)])


@pytest.mark.parametrize(
    ("apart", "state"), [(999.0, "too near"), (1000.0, "spaced"), (1500.0, "spaced"), (2000.0, "spaced"),
                         (2001.0, "too far")],
)  # fmt: skip
def test_the_published_spacing(apart: float, state: str) -> None:
    """1 to 2 km: Snow and VerCauteren (2019), Crop Prot. 124:104835."""
    found = check_bait_spacing(row(1000.0, 1000.0 + apart), OPTIONS, printer=METRIC)
    assert [p.state for p in found.places] == [state, state]
    assert [p.nearest for p in found.places] == [1, 0]
    assert found.places[0].nearest_m == pytest.approx(apart)


def test_defaults_are_those_published() -> None:
    """1 km for sows at 0.5 daily visits, 1 to 2 km apart; 80 % first visited within 8.9 days (McRae et al. 2020)."""
    assert (OPTIONS.reach.m, OPTIONS.least.m, OPTIONS.most.m, OPTIONS.wait_days) == (1000.0, 1000.0, 2000.0, 8.9)


@pytest.mark.parametrize(("spacing", "count"), [(2000.0, 5), (1500.0, 9), (1000.0, 20)])
def test_places_that_five_thousand_acres_take(spacing: float, count: int) -> None:
    """Arithmetic: 20.2 km2 take 5 at 2 km, 9 at 1.5 km, 20 at 1 km."""
    side = math.sqrt(5000 * 4046.8564224)
    cells = round(side / 25.0)
    grid = Grid("EPSG:32615", 0.0, side, side / cells, cells, cells)
    options = BaitOptions(least=Length(spacing), most=Length(spacing))
    land = (grid, np.ones(grid.shape, dtype=bool))
    assert check_bait_spacing(row(100.0), options, printer=METRIC, land=land).expected == (count, count)


def test_a_pair_too_near_is_said_once_and_one_too_far_once() -> None:
    found = check_bait_spacing(row(500.0, 1100.0, 5000.0), OPTIONS, printer=METRIC)
    assert [p.state for p in found.places] == ["too near", "too near", "too far"]
    assert found.notes == (
        "Bait places 1 and 2 are 600 m apart, under 1.0 km: they feed the same animals; move one.",
        "Bait place 3 has none within 2.0 km; the nearest is 3.9 km off.",
    )
    assert math.isnan(found.reached_ha) and found.expected == (0, 0)
    feet = check_bait_spacing(row(500.0, 1100.0), OPTIONS, printer=Printer("us")).notes[0]
    assert "1,970 ft apart, under 0.6 mi" in feet


@pytest.mark.parametrize("rows", [256, 7])
def test_ground_reached_and_not(monkeypatch: pytest.MonkeyPatch, rows: int) -> None:
    monkeypatch.setattr("boscage.siting.portfolio_bait._ROWS", rows)
    found = check_bait_spacing(row(3000.0), OPTIONS, printer=METRIC, land=(GRID, ALL))
    circle = math.pi * 1000.0**2 / 1e4
    assert found.reached_ha == pytest.approx(circle, rel=0.005)
    assert found.reached_ha + found.unreached_ha == pytest.approx(3600.0)
    assert found.places[0].state == "alone" and found.places[0].outside_share == pytest.approx(0.0, abs=0.005)
    assert found.places[0].own_ha == pytest.approx(circle, rel=0.005)
    assert len(found.gaps) == 1 and found.gaps[0, 2] == pytest.approx(found.unreached_ha)
    assert math.hypot(found.gaps[0, 0] - 3000.0, found.gaps[0, 1] - 3000.0) > 4200.0
    assert "3,600 ha take 9 bait places at 2.0 km to 36 at 1.0 km; there are 1." in found.notes


def test_a_place_at_the_fence_draws_from_over_it() -> None:
    found = check_bait_spacing(row(0.0), OPTIONS, printer=METRIC, land=(GRID, ALL))
    assert found.places[0].outside_share == pytest.approx(0.5, abs=0.01)
    corner = np.array([[0.0, 6000.0]])
    found = check_bait_spacing(corner, OPTIONS, printer=METRIC, land=(GRID, ALL))
    assert found.places[0].outside_share == pytest.approx(0.75, abs=0.01)
    assert any("75 % of the ground that bait place 1 draws on lies off the land" in n for n in found.notes)


def test_places_share_the_ground_between_them() -> None:
    found = check_bait_spacing(row(2500.0, 3500.0), OPTIONS, printer=METRIC, land=(GRID, ALL))
    own = [p.own_ha for p in found.places]
    lens = 2 * math.acos(0.5) - 0.5 * math.sqrt(3)  # overlap of unit circles one radius apart
    assert own == pytest.approx([(math.pi - lens / 2) * 100.0] * 2, rel=0.01)
    assert sum(own) == pytest.approx(found.reached_ha)


def test_holes_apart_are_told_apart() -> None:
    land = ALL.copy()
    land[:, 110:130] = False
    found = check_bait_spacing(row(3000.0), BaitOptions(reach=Length(100.0)), printer=METRIC, land=(GRID, land))
    assert len(found.gaps) == 2 and found.gaps[:, 2] == pytest.approx([1650.0, 1650.0])


def test_no_bait_reaches_nothing() -> None:
    found = check_bait_spacing(np.zeros((0, 2)), OPTIONS, printer=METRIC, land=(GRID, ALL))
    assert (found.places, found.reached_ha, found.unreached_ha) == ((), 0.0, 3600.0)


def test_bait_that_is_not_visited_is_to_be_moved() -> None:
    days = (9.0, 8.9, math.nan)
    found = check_bait_spacing(row(500.0, 2000.0, 3500.0), OPTIONS, printer=METRIC, days_without_visit=days)
    assert found.notes == ("No visit in 8.9 days, in which 80 % of places are first visited: 1; move the bait.",)


def test_what_is_refused() -> None:
    with pytest.raises(InputError, match="row 2: a bait place has no place"):
        check_bait_spacing(np.array([[0.0, 0.0], [np.nan, 1.0]]), OPTIONS, printer=METRIC)
    with pytest.raises(InputError, match="2 days for 1 bait places"):
        check_bait_spacing(row(1.0), OPTIONS, printer=METRIC, days_without_visit=(1.0, 2.0))
    with pytest.raises(InputError, match="the land is 3 by 3 cells"):
        check_bait_spacing(row(1.0), OPTIONS, printer=METRIC, land=(GRID, np.ones((3, 3), dtype=bool)))
