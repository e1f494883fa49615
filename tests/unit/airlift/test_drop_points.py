"""Which gap serves a site, and what is said of it."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
import shapely

from boscage.airlift.drop_points import DropGround, Wires, find_drop, wire_note
from boscage.model.drop import FT, DropPoint, NoDrop
from boscage.model.drop_plan import GapOptions, line_length
from boscage.values import Grid, Length, Printer

GRID = Grid("EPSG:32615", 500_000.0, 4_000_200.0, 1.0, 200, 200)
SITE = (500_100.0, 4_000_100.0)
US = Printer("us")


def wood(*clearings: tuple[float, float, float], tall: float = 18.0) -> np.ndarray:
    """Closed forest with round clearings: east and north of the site, and radius."""
    x, y = np.meshgrid(np.arange(200) + 500_000.5, 4_000_199.5 - np.arange(200))
    out = np.full((200, 200), tall, dtype=np.float32)
    for east, north, radius in clearings:
        out[np.hypot(x - SITE[0] - east, y - SITE[1] - north) < radius] = 0.1
    return out


def look(canopy: np.ndarray, wires: Wires | None = None, **options) -> DropPoint | NoDrop:
    ground = DropGround(grid=GRID, canopy_m=canopy, terrain_m=np.full((200, 200), 90.0, np.float32), wires=wires)
    return find_drop("DH-01", SITE, ground, GapOptions(**options), US)


def test_the_nearest_that_is_wide_enough_and_not_the_set() -> None:
    """Clearings at the set, 40 m east and 70 m south, and one too small."""
    canopy = wood((0, 0, 9), (40, 0, 8), (0, -70, 14), (-30, 20, 4))
    made = look(canopy)
    assert isinstance(made, DropPoint)
    assert (made.gap.x_m - SITE[0], made.gap.y_m - SITE[1]) == pytest.approx((40, 0), abs=1.0)
    assert made.bearing_deg == pytest.approx(90.0, abs=2.0)
    assert made.gap.diameter_m == pytest.approx(16.0, abs=2.0)
    assert made.gap.reach_m >= 15.0, "the set's own clearing is not it"
    wide = look(canopy, diameter=Length(20.0))
    assert wide.bearing_deg == pytest.approx(180.0, abs=2.0)
    assert (made.elevation_m, made.slope_percent) == pytest.approx((90.0, 0.0), abs=1e-6)


def test_the_line_is_the_tallest_tree_and_fifty_feet_in_fifty_foot_lengths() -> None:
    canopy = wood((40, 0, 10))
    canopy[100, 150 + 40] = 33.0
    near = look(canopy)
    assert near.tallest_near_m == 33.0
    assert near.line_m == pytest.approx(200 * FT), "108 ft and 50 ft come to 158 ft: four lengths"
    assert look(canopy, near=Length(20.0)).line_m == pytest.approx(150 * FT), "59 ft and 50 ft: three"
    assert line_length(50 * FT, GapOptions()) == pytest.approx(100 * FT), "a whole number stays"
    assert line_length(0.0, GapOptions(line_margin=Length(0.0))) == pytest.approx(50 * FT)


def test_no_gap_is_said_with_the_widest_there_is() -> None:
    made = look(wood((40, 0, 4)))
    assert not made and isinstance(made, NoDrop)
    assert made.nearest_miss.diameter_m == pytest.approx(8.0, abs=1.5)
    assert "is asked for" in made.reason and "39 ft" in made.reason
    assert "no open ground" in look(wood()).reason
    assert "no canopy heights" in look(np.full((200, 200), np.nan, np.float32)).reason


def test_ground_without_data_is_no_gap_and_is_said() -> None:
    canopy = wood((40, 0, 10))
    canopy[:, 170:] = np.nan
    made = look(canopy)
    # what lies beyond a chord at half the radius: acos(1/2) / pi - sqrt(3) / (4 pi)
    assert made.unknown_share == pytest.approx(0.1955, abs=0.003)
    assert any("No canopy heights over" in n for n in made.notes)
    canopy[:] = np.where(canopy < 1.0, np.nan, canopy)
    assert not look(canopy)


def test_wires_are_never_said_to_be_absent() -> None:
    canopy = wood((40, 0, 10), (-60, 0, 10))
    none = look(canopy)
    assert none.wires.standing == "not searched" and "were not searched" in none.notes[-1]
    empty = look(canopy, Wires(shapes=(), source="county map", date=dt.date(2025, 3, 1)))
    assert empty.wires.standing == "none in data"
    assert "county map, 2025-03-01" in empty.wires.text and "not complete" in empty.wires.text
    for note in (none.wires.text, empty.wires.text):
        assert "no wires." not in note.replace("hold no wires; they are not complete", "") and "clear" not in note


def test_a_near_wire_rules_a_gap_out_and_a_farther_one_is_flagged() -> None:
    canopy = wood((40, 0, 10), (-60, 0, 10))
    east = shapely.LineString([(SITE[0] + 55, SITE[1] - 500), (SITE[0] + 55, SITE[1] + 500)])
    made = look(canopy, Wires(shapes=(east,), source="walked"))
    assert made.bearing_deg == pytest.approx(270.0, abs=2.0), "15 m from the wire is under 100 ft"
    assert made.wires.standing == "known" and made.wires.distance_m == pytest.approx(115.0, abs=1.5)
    assert "date not stated" in made.wires.text
    both = shapely.LineString([(SITE[0] - 75, SITE[1] - 500), (SITE[0] - 75, SITE[1] + 500)])
    none = look(canopy, Wires(shapes=(east, both)))
    assert not none and "rules every gap out" in none.reason


def test_a_tall_tree_makes_the_stop_wider() -> None:
    """100 ft, or 1.5 times the tallest tree: at 40 m from the wire a tree of 30 m rules the place out."""
    wires = Wires(shapes=(shapely.Point(40.0, 0.0),))
    assert wire_note((0.0, 0.0), wires, 10.0, GapOptions(), US).standing == "flag"
    assert wire_note((0.0, 0.0), wires, 30.0, GapOptions(), US).standing == "stop"
    assert wire_note((0.0, 0.0), wires, None, GapOptions(), US).standing == "flag"
    assert wire_note((-60.0, 0.0), wires, 10.0, GapOptions(), US).standing == "known"


def test_a_steep_or_unknown_floor_is_said() -> None:
    canopy = wood((40, 0, 10))
    slope = np.repeat(90.0 + 0.2 * np.arange(200.0)[None, :], 200, axis=0).astype(np.float32)
    steep = find_drop("DH-01", SITE, DropGround(grid=GRID, canopy_m=canopy, terrain_m=slope), GapOptions(), US)
    assert steep.slope_percent == pytest.approx(20.0, abs=0.01) and "slopes by 20 %" in " ".join(steep.notes)
    bare = find_drop("DH-01", SITE, DropGround(grid=GRID, canopy_m=canopy), GapOptions(), US)
    assert bare.slope_percent is None and bare.elevation_m is None and "slope is not known" in " ".join(bare.notes)
