"""Access: the walk from a vehicle track, over land that may be crossed."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scenes
import shapely

from boscage.factors.access import Access, AccessOptions
from boscage.values import Printer

TOBLER_FLAT_MPS = 6.0 * math.exp(-3.5 * 0.05) / 3.6


def tracks(*rows: tuple[list[tuple[float, float]], str, bool]) -> object:
    return scenes.layer("tracks", [shapely.LineString(r[0]) for r in rows], **{"class": [r[1] for r in rows]},
                        public=[r[2] for r in rows])  # fmt: skip


def flat(n: int = 200) -> dict[str, np.ndarray]:
    return {"elevation": np.full((n, n), 300.0)}


WEST_TRACK = ([(5, 0), (5, 2000)], "track", False)


def minutes(made: object, **options: object) -> tuple[np.ndarray, object]:
    found = Access().measure(made, AccessOptions(**options))
    return found.figures["walk_min"], found


def test_flat_walk_off_the_path_is_tobler_times_the_factor() -> None:
    made = scenes.scene(surfaces=flat(), tracks=tracks(WEST_TRACK))
    walk, _ = minutes(made)
    level = 1000.0 / (TOBLER_FLAT_MPS * 0.6) / 60
    step = 10.0 / TOBLER_FLAT_MPS / 60
    assert walk[scenes.at(made, 1005, 1000)] == pytest.approx(level, abs=step)
    assert walk[scenes.at(made, 5, 1000)] == 0.0


def test_a_trail_is_walked_at_full_speed_and_is_no_start() -> None:
    trail = ([(0, 1005), (2000, 1005)], "trail", False)
    made = scenes.scene(surfaces=flat(), tracks=tracks(WEST_TRACK, trail))
    walk, _ = minutes(made)
    assert walk[scenes.at(made, 1005, 1005)] == pytest.approx(1000.0 / TOBLER_FLAT_MPS / 60, rel=0.02)
    only = scenes.scene(surfaces=flat(), tracks=tracks(trail))
    assert np.isinf(minutes(only)[0]).all()


def test_going_up_takes_longer_than_going_down() -> None:
    slope = np.tile(np.arange(200) * 10 * 0.15, (200, 1)) + 300
    up = scenes.scene(surfaces={"elevation": slope}, tracks=tracks(WEST_TRACK))
    down = scenes.scene(surfaces={"elevation": slope[:, ::-1]}, tracks=tracks(WEST_TRACK))
    there = scenes.at(up, 1005, 1000)
    fast = 6.0 * math.exp(-3.5 * abs(-0.15 + 0.05)) / 3.6
    assert minutes(down)[0][there] == pytest.approx(1000 / (fast * 0.6) / 60, rel=0.02)
    assert minutes(up)[0][there] > 1.4 * minutes(down)[0][there]


def test_refused_land_is_not_crossed() -> None:
    """A refused strip across the middle with a gap at the north: the walk goes round through the gap."""
    whole = scenes.square(0, 0, 2000, 2000)
    strip = scenes.square(800, 0, 1000, 1900)
    parcels = scenes.layer(
        "parcels", [whole.difference(strip), strip], parcel=["1", "2"], access=["granted", "refused"]
    )
    made = scenes.scene(surfaces=flat(), tracks=tracks(WEST_TRACK), parcels=parcels)
    walk, found = minutes(made)
    there = scenes.at(made, 1105, 105)
    assert walk[there] > 2 * 1100 / (TOBLER_FLAT_MPS * 0.6) / 60
    way = Access().way_in(made, found, *made.grid.centre(*there))
    inside = shapely.transform(strip, lambda c: c + (scenes.X, scenes.Y)).buffer(-5)
    assert not shapely.LineString(way).intersects(inside)
    assert np.isinf(walk[scenes.at(made, 900, 1000)])


def test_land_behind_refused_land_cannot_be_reached() -> None:
    whole = scenes.square(0, 0, 2000, 2000)
    strip = scenes.square(800, 0, 1000, 2000)
    parcels = scenes.layer(
        "parcels", [whole.difference(strip), strip], parcel=["1", "2"], access=["granted", "unknown"]
    )
    made = scenes.scene(surfaces=flat(), tracks=tracks(WEST_TRACK), parcels=parcels)
    found = Access().measure(made, AccessOptions())
    there = scenes.at(made, 1500, 1000)
    assert np.isinf(found.figures["walk_min"][there])
    assert found.values[there] == 0.0
    figures = {"walk_min": float(found.figures["walk_min"][there])}
    assert "No way on foot over permitted land" in Access().sentence(figures, AccessOptions(), Printer())
    assert Access().way_in(made, found, *made.grid.centre(*there)) is None


def test_a_track_on_refused_land_is_no_start_but_a_public_road_is() -> None:
    halves = [scenes.square(0, 0, 1000, 2000), scenes.square(1000, 0, 2000, 2000)]
    parcels = scenes.layer("parcels", halves, parcel=["1", "2"], access=["refused", "granted"])
    line = [(905, 0), (905, 2000)]
    for public, reached in ((False, False), (True, False)):
        made = scenes.scene(surfaces=flat(), tracks=tracks((line, "road", public)), parcels=parcels)
        assert np.isfinite(minutes(made)[0][scenes.at(made, 1500, 1000)]) == reached
    edge = [(1000, 0), (1000, 2000)]
    made = scenes.scene(surfaces=flat(), tracks=tracks((edge, "road", True)), parcels=parcels)
    assert np.isfinite(minutes(made)[0][scenes.at(made, 1500, 1000)])


def test_a_pond_is_walked_round_and_a_creek_is_crossed() -> None:
    pond = scenes.layer("water", [scenes.square(400, 200, 600, 1800)])
    creek = scenes.layer("water", [shapely.LineString([(500, 0), (500, 2000)])])
    here = (1005, 1000)
    plain = scenes.scene(surfaces=flat(), tracks=tracks(WEST_TRACK))
    round_it = scenes.scene(surfaces=flat(), tracks=tracks(WEST_TRACK), water=pond)
    over_it = scenes.scene(surfaces=flat(), tracks=tracks(WEST_TRACK), water=creek)
    direct = minutes(plain)[0][scenes.at(plain, *here)]
    assert minutes(over_it)[0][scenes.at(plain, *here)] == pytest.approx(direct)
    detour = 595 + math.hypot(405, 800)
    assert minutes(round_it)[0][scenes.at(plain, *here)] == pytest.approx(detour / 1000 * direct, rel=0.03)
    assert np.isinf(minutes(round_it)[0][scenes.at(plain, 500, 1000)])


def test_missing_terrain_and_missing_tracks_are_said() -> None:
    _, found = minutes(scenes.scene(tracks=tracks(WEST_TRACK)))
    assert "No terrain" in found.notes[0]
    none = Access().measure(scenes.scene(surfaces=flat()), AccessOptions())
    assert np.isnan(none.values).all()
    assert "not known" in Access().sentence({"walk_min": math.nan}, AccessOptions(), Printer())


def test_the_way_in_begins_at_the_track_and_ends_at_the_place() -> None:
    made = scenes.scene(surfaces=flat(), tracks=tracks(WEST_TRACK))
    found = Access().measure(made, AccessOptions())
    row, col = scenes.at(made, 1005, 1000)
    way = Access().way_in(made, found, *made.grid.centre(row, col))
    assert tuple(way[-1]) == made.grid.centre(row, col)
    assert way[0][0] - scenes.X < 10.0
    assert np.hypot(*np.diff(way, axis=0).T).max() < 10 * math.sqrt(5) + 1e-9
