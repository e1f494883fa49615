"""Access: three legs that only go one way, over land that may be crossed."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scenes
import shapely

from boscage.factors.access import Access, AccessOptions
from boscage.factors.cover import Cover
from boscage.model.journey import ATV, FOOT, VEHICLE, Load
from boscage.values import Printer

FLAT_MPS = 6.0 * math.exp(-3.5 * 0.05) / 3.6
PULL = "[travel]\ngate_min = 0\nford_min = 0\npack_min = 0\nload_slows = 0.0\n"
ON_FOOT = PULL + "atv = false\n"
BY_ATV = PULL + "atv_min = 0\natv_slows = 0.0\n"


def tracks(*rows: tuple[list[tuple[float, float]], str, bool]) -> object:
    return scenes.layer("tracks", [shapely.LineString(r[0]) for r in rows], **{"class": [r[1] for r in rows]},
                        public=[r[2] for r in rows])  # fmt: skip


def flat(n: int = 200) -> dict[str, np.ndarray]:
    return {"elevation": np.full((n, n), 300.0)}


WEST_TRACK = ([(5, 0), (5, 2000)], "track", False)
WEST_ROAD = ([(5, 0), (5, 2000)], "road", True)


def measured(made: object) -> object:
    return Access().measure(made, AccessOptions())


def minutes(made: object, u: float, v: float, figure: str = "minutes_in") -> float:
    return float(measured(made).figures[figure][scenes.at(made, u, v)])


def journey(made: object, u: float, v: float, mass_kg: float = 22.7) -> object:
    found = measured(made)
    place = made.grid.centre(*scenes.at(made, u, v))
    return Access().journeys(made, found, [place], [Load(mass_kg=mass_kg, note="net")])[0]


def test_a_flat_walk_off_the_path_is_tobler_times_the_factor() -> None:
    made = scenes.scene(text=ON_FOOT, surfaces=flat(), tracks=tracks(WEST_TRACK))
    level = 1000.0 / (FLAT_MPS * 0.6) / 60
    assert minutes(made, 1005, 1000) == pytest.approx(level, abs=10.0 / FLAT_MPS / 60)
    assert minutes(made, 5, 1000) == 0.0


def test_under_canopy_the_walk_is_slower_and_unknown_cover_counts_as_open() -> None:
    made = scenes.scene(text=ON_FOOT, surfaces=flat(), tracks=tracks(WEST_TRACK))
    open_min = minutes(made, 1005, 1000)
    full = {**flat(), "cover": np.full((200, 200), 100.0)}
    made = scenes.scene(text=ON_FOOT, surfaces=full, tracks=tracks(WEST_TRACK))
    assert minutes(made, 1005, 1000) == pytest.approx(open_min * 0.6 / 0.5, rel=0.01)
    unknown = {**flat(), "cover": np.full((200, 200), np.nan)}
    made = scenes.scene(text=ON_FOOT, surfaces=unknown, tracks=tracks(WEST_TRACK))
    assert minutes(made, 1005, 1000) == pytest.approx(open_min)
    assert any("cover is not known" in note for note in measured(made).notes)


def test_the_load_and_the_change_over_cost_their_time() -> None:
    text = "[travel]\ngate_min = 0\npack_min = 7\nload_slows = 0.25\natv = false\npeople = 1\n"
    own = 'own_gear = "2kg"\ncarry_limit = "25kg"\n'
    made = scenes.scene(text=text + own, surfaces=flat(), tracks=tracks(WEST_TRACK))
    bare = scenes.scene(text=ON_FOOT, surfaces=flat(), tracks=tracks(WEST_TRACK))
    slowed = 1.0 / (1.0 - 0.25 * (22.679618 + 2.0) / 25.0)
    expected = 7.0 + minutes(bare, 1005, 1000) * slowed
    assert minutes(made, 1005, 1000) == pytest.approx(expected, rel=1e-4)


def test_a_trail_is_walked_at_full_speed_and_is_no_start() -> None:
    trail = ([(0, 1005), (2000, 1005)], "trail", False)
    made = scenes.scene(text=ON_FOOT, surfaces=flat(), tracks=tracks(WEST_TRACK, trail))
    assert minutes(made, 1005, 1005) == pytest.approx(1000.0 / FLAT_MPS / 60, rel=0.02)
    only = scenes.scene(text=ON_FOOT, surfaces=flat(), tracks=tracks(trail))
    assert np.isnan(measured(only).values).all()


def test_in_and_out_differ_on_a_slope() -> None:
    slope = np.tile(np.arange(200) * 10 * 0.15, (200, 1)) + 300
    made = scenes.scene(text=ON_FOOT, surfaces={"elevation": slope}, tracks=tracks(WEST_TRACK))
    found = journey(made, 1005, 1000)
    up = 1000 / (6.0 * math.exp(-3.5 * 0.20) / 3.6 * 0.6) / 60
    down = 1000 / (6.0 * math.exp(-3.5 * 0.10) / 3.6 * 0.6) / 60
    assert found.minutes_in == pytest.approx(up, rel=0.02)
    assert found.minutes_out == pytest.approx(down, rel=0.02)
    assert found.carry.climb_m == pytest.approx(150.0, abs=1.0)
    assert found.outward[0].descent_m == pytest.approx(150.0, abs=1.0)
    assert found.kcal > 0.0


def test_the_vehicle_drives_then_the_atv_rides_then_the_crew_walks() -> None:
    """A road from the south, a track off it, a fence that stops the ATV: each leg at its own speed."""
    road, spur = ([(5, 0), (5, 2000)], "road", True), ([(0, 1005), (600, 1005)], "track", False)
    fence = scenes.layer("fences", [shapely.LineString([(1205, 0), (1205, 2000)])])
    made = scenes.scene(text=BY_ATV, surfaces=flat(), tracks=tracks(road, spur), fences=fence)
    found = journey(made, 1505, 1005)
    assert [leg.kind for leg in found.inward] == [VEHICLE, ATV, FOOT]
    assert [leg.kind for leg in found.outward] == [FOOT, ATV, VEHICLE]
    drive, ride, carry = found.inward
    assert drive.minutes == pytest.approx(600 / (15 / 3.6) / 60, rel=0.03)
    assert ride.minutes == pytest.approx(590 / (8 / 3.6) / 60, rel=0.03)
    assert carry.distance_m == pytest.approx(310, abs=15)
    assert any("fence" in text for text in found.crossings)
    total = float(measured(made).figures["minutes_in"][scenes.at(made, 1505, 1005)])
    assert found.minutes_in == pytest.approx(total, rel=1e-5)


def test_legs_and_change_overs_add_up_to_the_field() -> None:
    rng = np.random.default_rng(3)
    hills = np.cumsum(rng.normal(0, 0.3, (200, 200)), axis=1) + np.cumsum(rng.normal(0, 0.3, (200, 200)), axis=0)
    surfaces = {"elevation": 300 + hills - hills.min(), "cover": rng.uniform(0, 100, (200, 200))}
    creek = scenes.layer("water", [shapely.LineString([(700, 0), (900, 900), (650, 2000)])])
    spur = ([(5, 1005), (600, 1005)], "track", False)
    made = scenes.scene(surfaces=surfaces, tracks=tracks(WEST_ROAD, spur), water=creek)
    found = measured(made)
    legs = sum(found.figures[k] for k in ("drive_min", "atv_min", "foot_min"))
    total = found.figures["minutes_in"]
    changes = total - legs
    reached = np.isfinite(total)
    assert reached.mean() > 0.9
    allowed = np.array([0.0, 5.0, 10.0, 15.0])
    gap = np.abs(changes[reached][:, None] - allowed).min(axis=1)
    assert gap.max() < 1e-3
    for u, v in ((405, 805), (1005, 1405), (1605, 305)):
        way = journey(made, u, v)
        assert way.minutes_in == pytest.approx(float(total[scenes.at(made, u, v)]), rel=1e-4)
        assert np.allclose(way.line[-1], made.grid.centre(*scenes.at(made, u, v)))


def test_a_vehicle_does_not_ignore_a_creek() -> None:
    """The ATV stays on the near side of a creek, save where a track crosses it; people wade and lose time."""
    creek = scenes.layer("water", [shapely.LineString([(805, 0), (805, 2000)])])
    made = scenes.scene(text=BY_ATV, surfaces=flat(), tracks=tracks(WEST_ROAD), water=creek)
    found = journey(made, 1205, 1000)
    assert [leg.kind for leg in found.inward] == [ATV, FOOT]
    ride = found.inward[0].line
    assert (ride[:, 0] < scenes.X + 805).all()
    assert any("mapped water once on foot" in text for text in found.crossings)
    dry = scenes.scene(text=BY_ATV, surfaces=flat(), tracks=tracks(WEST_ROAD))
    assert minutes(made, 1205, 1000) > minutes(dry, 1205, 1000) + 1.9
    assert [leg.kind for leg in journey(dry, 1205, 1000).inward] == [ATV]
    ford = ([(5, 1005), (1000, 1005)], "trail", False)
    over = scenes.scene(text=BY_ATV, surfaces=flat(), tracks=tracks(WEST_ROAD, ford), water=creek)
    assert [leg.kind for leg in journey(over, 1205, 1000).inward] == [ATV]


def test_a_slanting_creek_holds_the_atv_whatever_its_heading() -> None:
    for angle in np.radians([15, 30, 45, 60, 75, 105, 120, 150]):
        away = 1500 * np.array([math.cos(angle), math.sin(angle)])
        line = shapely.LineString([(1000 - away[0], 1000 - away[1]), (1000 + away[0], 1000 + away[1])])
        creek = scenes.layer("water", [line])
        spot = ([(1000 + 300, 1000), (1000 + 320, 1000)], "track", False)
        made = scenes.scene(text=BY_ATV, surfaces=flat(), tracks=tracks(spot), water=creek)
        found = measured(made)
        x, y = np.meshgrid(np.arange(5, 2000, 10), np.arange(1995, 0, -10))
        side = np.sign((x - 1000) * away[1] - (y - 1000) * away[0])
        start = np.sign(300 * away[1])
        far_side = (side == -start) & (np.abs((x - 1000) * away[1] - (y - 1000) * away[0]) / 1500 > 15)
        walked = found.figures["foot_min"][far_side]
        assert (walked > 0.0).all()


def test_the_atv_keeps_its_slope_limits_along_and_across() -> None:
    text = BY_ATV + "atv_up_deg = 10\natv_down_deg = 25\natv_across_deg = 25\n"
    steep = np.tile(np.arange(200) * 10 * math.tan(math.radians(12)), (200, 1)) + 300
    up = scenes.scene(text=text, surfaces={"elevation": steep}, tracks=tracks(WEST_ROAD))
    direct = journey(up, 605, 1000)
    straight = direct.inward[0]
    assert straight.kind == ATV
    rise = np.diff(straight.elevation_m) / np.hypot(*np.diff(straight.line, axis=0).T)
    assert rise.max() <= math.tan(math.radians(10)) + 1e-6
    down = scenes.scene(text=text, surfaces={"elevation": steep[:, ::-1]}, tracks=tracks(WEST_ROAD))
    assert minutes(down, 605, 1000) < minutes(up, 605, 1000)
    across = scenes.scene(
        text=BY_ATV + "atv_up_deg = 25\natv_across_deg = 7\n", surfaces={"elevation": steep},
        tracks=tracks(([(1005, 0), (1005, 60)], "road", True)),
    )  # fmt: skip
    ride = journey(across, 1005, 1500).inward[0]
    step = np.diff(ride.line, axis=0)
    aside = math.tan(math.radians(12)) * np.abs(step[:, 1]) / np.hypot(*step.T)
    assert ride.kind == ATV
    assert aside.max() <= math.tan(math.radians(7)) + 1e-6
    assert ride.distance_m > 3000


def test_thick_timber_keeps_the_atv_out_and_unmapped_timber_does_not() -> None:
    for name, high in (("cover", 99.0), ("stems", 2000.0)):
        values = np.full((200, 200), 10.0)
        values[:, 50:] = high
        made = scenes.scene(text=BY_ATV, surfaces={**flat(), name: values}, tracks=tracks(WEST_ROAD))
        found = journey(made, 905, 1000)
        assert [leg.kind for leg in found.inward] == [ATV, FOOT]
        assert found.inward[1].distance_m == pytest.approx(400, abs=25)
        values[:, 50:] = np.nan
        made = scenes.scene(text=BY_ATV, surfaces={**flat(), name: values}, tracks=tracks(WEST_ROAD))
        assert [leg.kind for leg in journey(made, 905, 1000).inward] == [ATV]


def test_refused_land_is_not_crossed_by_any_leg() -> None:
    """A refused strip across the middle with a gap at the north: the way goes round through the gap."""
    whole, strip = scenes.square(0, 0, 2000, 2000), scenes.square(800, 0, 1000, 1900)
    parcels = scenes.layer(
        "parcels", [whole.difference(strip), strip], parcel=["1", "2"], access=["granted", "refused"]
    )
    inside = shapely.transform(strip, lambda c: c + (scenes.X, scenes.Y)).buffer(-5)
    track = ([(5, 305), (1500, 305)], "track", False)
    for text in (ON_FOOT, BY_ATV):
        made = scenes.scene(text=text, surfaces=flat(), tracks=tracks(WEST_ROAD, track), parcels=parcels)
        found = journey(made, 1105, 105)
        for leg in (*found.inward, *found.outward):
            assert not shapely.LineString(leg.line).intersects(inside)
        assert math.isinf(minutes(made, 900, 1000))
    walk = scenes.scene(text=ON_FOOT, surfaces=flat(), tracks=tracks(WEST_ROAD, track), parcels=parcels)
    assert minutes(walk, 1105, 105) > 2 * 1100 / (FLAT_MPS * 0.6) / 60


def test_land_behind_refused_land_cannot_be_reached_and_the_parcel_is_named() -> None:
    whole, strip = scenes.square(0, 0, 2000, 2000), scenes.square(800, 0, 1000, 2000)
    parcels = scenes.layer(
        "parcels", [whole.difference(strip), strip], parcel=["1", "Lease 9"], access=["granted", "unknown"]
    )
    made = scenes.scene(surfaces=flat(), tracks=tracks(WEST_TRACK), parcels=parcels)
    there = scenes.at(made, 1500, 1000)
    found = measured(made)
    assert np.isinf(found.figures["minutes_in"][there])
    assert found.values[there] == 0.0
    figures = {name: float(a[there]) for name, a in found.figures.items()}
    assert "Not reachable" in Access().sentence(figures, AccessOptions(), Printer())
    none = journey(made, 1500, 1000)
    assert not none
    assert none.barriers == ("land without permission (parcel Lease 9)",)
    assert "Lease 9" in none.reason


def test_an_island_is_barred_by_water() -> None:
    ring = scenes.square(700, 700, 1300, 1300).difference(scenes.square(900, 900, 1100, 1100))
    made = scenes.scene(surfaces=flat(), tracks=tracks(WEST_TRACK), water=scenes.layer("water", [ring]))
    none = journey(made, 1000, 1000)
    assert not none
    assert none.barriers == ("mapped water",)


def test_a_pond_is_walked_round() -> None:
    pond = scenes.layer("water", [scenes.square(400, 200, 600, 1800)])
    plain = scenes.scene(text=ON_FOOT, surfaces=flat(), tracks=tracks(WEST_TRACK))
    round_it = scenes.scene(text=ON_FOOT, surfaces=flat(), tracks=tracks(WEST_TRACK), water=pond)
    detour = 595 + math.hypot(405, 800)
    direct = minutes(plain, 1005, 1000)
    assert minutes(round_it, 1005, 1000) == pytest.approx(detour / 1000 * direct, rel=0.03)
    assert math.isinf(minutes(round_it, 500, 1000))


def test_a_track_on_refused_land_is_no_start_but_a_public_road_is() -> None:
    halves = [scenes.square(0, 0, 1000, 2000), scenes.square(1000, 0, 2000, 2000)]
    parcels = scenes.layer("parcels", halves, parcel=["1", "2"], access=["refused", "granted"])
    edge = [(1000, 0), (1000, 2000)]
    made = scenes.scene(surfaces=flat(), tracks=tracks((edge, "road", True)), parcels=parcels)
    assert math.isfinite(minutes(made, 1500, 1000))
    inner = [(905, 0), (905, 2000)]
    made = scenes.scene(surfaces=flat(), tracks=tracks((inner, "track", False)), parcels=parcels)
    assert math.isnan(minutes(made, 1500, 1000))


def test_trips_and_energy_grow_with_the_load() -> None:
    made = scenes.scene(text=ON_FOOT, surfaces=flat(), tracks=tracks(WEST_TRACK))
    net, heavy = journey(made, 1005, 1000), journey(made, 1005, 1000, mass_kg=120.0)
    assert (net.trips, heavy.trips) == (1, 3)
    assert heavy.carry_min == pytest.approx(5 * net.carry_min, rel=1e-6)
    assert heavy.kcal > 4 * net.kcal


def test_missing_terrain_and_missing_tracks_are_said() -> None:
    found = measured(scenes.scene(tracks=tracks(WEST_TRACK)))
    assert any("No terrain" in note for note in found.notes)
    none = measured(scenes.scene(surfaces=flat()))
    assert np.isnan(none.values).all()
    figures = dict.fromkeys(("minutes_in", "drive_min", "atv_min", "foot_min"), math.nan)
    assert "not known" in Access().sentence(figures, AccessOptions(), Printer())
    assert Access().journeys(scenes.scene(surfaces=flat()), none, [(0.0, 0.0)], [Load(mass_kg=1, note="")]) == ()
    assert Access().rounds(scenes.scene(surfaces=flat()), none, [(0.0, 0.0)], ()) is None


def test_a_factor_without_ways_has_no_rounds_and_the_base_to_the_set_takes_the_way_in_without_the_load() -> None:
    made = scenes.scene(text=PULL, surfaces=flat(), tracks=tracks(WEST_ROAD))
    found, place = measured(made), made.grid.centre(*scenes.at(made, 1005, 1000))
    ways = Access().journeys(made, found, [place], [Load(mass_kg=22.7, note="net")])
    table = Access().rounds(made, found, [place], ways)
    assert table[0, 1] == pytest.approx(ways[0].minutes_in, rel=1e-6)
    assert table[1, 0] == pytest.approx(ways[0].minutes_out, rel=1e-6)
    assert Cover().rounds(made, found, [place], ways) is None
