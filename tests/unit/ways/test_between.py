"""Minutes between sets: over the roads, back to the vehicle and in again, and straight across."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scenes
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import shortest_path

from boscage.factors.access import Access, AccessOptions
from boscage.kernels.travel import OFFSETS_16, travel_time
from boscage.model.journey import ATV, FOOT, Load, TravelOptions
from boscage.ways.between import NEAREST, ROUND_NOTE
from boscage.ways.network import make_network
from boscage.ways.reach import foot_ground, foot_walk
from boscage.ways.terrain import make_ground

ROAD, TRACK = 60 * 40.0 / 3.6, 60 * 15.0 / 3.6  # metres a minute
OPEN = 60 * 6.0 * math.exp(-3.5 * 0.05) / 3.6 * 0.6  # Tobler (1993), level, off the path
RIDE = 60 * 8.0 / 3.6
CELL_MIN = 10.0 / OPEN
ON_FOOT = '[travel]\ngate_min = 3\nford_min = 0\npack_min = 4\nload_slows = 0.2\natv = false\nown_gear = "0kg"\n'
BY_ATV = ON_FOOT.replace("atv = false", "atv_min = 7\natv_slows = 0.0")
PUBLIC = ([(0, 105), (2000, 105)], "road", True)
Line = tuple[list[tuple[float, float]], str, bool]


def tracks(*rows: Line) -> object:
    return scenes.layer("tracks", [shapely.LineString(r[0]) for r in rows], **{"class": [r[1] for r in rows]},
                        public=[r[2] for r in rows])  # fmt: skip


def gates(*rows: tuple[float, float, str, str]) -> object:
    return scenes.layer(
        "gates", [shapely.Point(r[:2]) for r in rows], name=[f"gate {k}" for k in range(len(rows))],
        kind=[r[2] for r in rows], state=[r[3] for r in rows], row=list(range(1, len(rows) + 1)),
    )  # fmt: skip


def made(*lines: Line, text: str = ON_FOOT, n: int = 200, **more: object) -> object:
    more.setdefault("surfaces", {"elevation": np.full((n, n), 300.0)})
    return scenes.scene(text=text, tracks=tracks(*lines), **more)


def journeys(scene: object, places: list[tuple[float, float]], mass_kg: float = 22.7) -> tuple:
    measure = Access().measure(scene, AccessOptions())
    at = [scene.grid.centre(*scenes.at(scene, *place)) for place in places]
    return measure, at, Access().journeys(scene, measure, at, [Load(mass_kg=mass_kg, note="")] * len(at))


def rounds(scene: object, *places: tuple[float, float], mass_kg: float = 22.7) -> NDArray[np.float64]:
    measure, at, ways = journeys(scene, list(places), mass_kg)
    table = Access().rounds(scene, measure, at, ways)
    assert table.shape == (len(places) + 1, len(places) + 1)
    assert table.dtype == np.float64
    assert (np.diag(table) == 0.0).all()
    assert (table >= 0.0).all()
    return table


def test_along_a_straight_road_minutes_are_length_over_speed_and_the_gate_once() -> None:
    scene = made(([(505, 5), (505, 1995)], "road", False), gates=gates((505, 5, "entry", "")))
    table = rounds(scene, (505, 505), (505, 1005), (505, 1705))
    at = np.array([5, 505, 1005, 1705])
    expected = np.abs(at[:, None] - at) / ROAD
    expected[0, 1:] += 3.0
    expected[1:, 0] += 3.0
    assert table == pytest.approx(expected, abs=11 / ROAD)


def test_over_a_junction_each_arm_counts_at_its_own_speed() -> None:
    """Arms of 500 m road west, 700 m track east and 900 m track north of the junction; the base in the west."""
    arms = [
        ([(505, 505), (1005, 505)], "road", False),
        ([(1005, 505), (1705, 505)], "track", False),
        ([(1005, 505), (1005, 1405)], "track", False),
    ]
    table = rounds(made(*arms, gates=gates((505, 505, "entry", ""))), (1705, 505), (1005, 1405))
    assert table[1, 2] == pytest.approx(1600 / TRACK, abs=11 / TRACK)
    assert table[0, 1:] == pytest.approx(3.0 + 500 / ROAD + np.array([700, 900]) / TRACK, abs=11 / TRACK)
    assert table == pytest.approx(table.T)


def test_sets_on_roads_that_do_not_meet_have_no_way_and_most_journeys_say_where_the_base_is() -> None:
    one, two = ([(205, 5), (205, 1995)], "track", False), ([(1505, 5), (1505, 1995)], "track", False)
    scene = made(one, two, gates=gates((205, 5, "entry", ""), (1505, 5, "entry", "")))
    table = rounds(scene, (205, 505), (1505, 505), (1505, 805))
    assert np.isfinite(table[0, 2:]).all()
    assert np.isfinite(table[2, 3])
    apart = [(0, 1), (1, 0), (1, 2), (1, 3), (2, 1), (3, 1)]
    assert all(math.isinf(table[k]) for k in apart)


def test_between_two_gates_the_others_drive_over_the_network_and_pass_the_gate() -> None:
    """Two entry gates on one public road: the second track is 1000 m along it, with both gates to pass."""
    spurs = [([(u, 105), (u, 1505)], "track", False) for u in (405, 1405)]
    scene = made(PUBLIC, *spurs, gates=gates((405, 155, "entry", ""), (1405, 155, "entry", "locked")))
    table = rounds(scene, (405, 655), (405, 905), (1405, 655))
    own = 500 / TRACK
    across = 50 / TRACK + 1000 / ROAD + 550 / TRACK
    assert table[0, 1] == pytest.approx(3.0 + own, abs=0.1)
    assert table[0, 3] == pytest.approx(6.0 + across, abs=0.1)
    assert table[1, 3] == pytest.approx(6.0 + own + across, abs=0.1)
    assert table[3, 1] == pytest.approx(table[1, 3])


def test_the_base_is_the_gate_that_most_journeys_start_from() -> None:
    track = ([(505, 5), (505, 1995)], "track", False)
    scene = made(track, gates=gates((505, 5, "entry", ""), (505, 1995, "entry", "")))
    table = rounds(scene, (505, 505), (505, 1305), (505, 1505))
    assert table[0, 1:] == pytest.approx(3.0 + np.array([1490, 690, 490]) / TRACK, abs=11 / TRACK)


def test_of_starts_with_as_many_journeys_the_base_is_the_one_with_ways_to_more_sets() -> None:
    lonely, long = ([(205, 5), (205, 1995)], "track", False), ([(1505, 5), (1505, 1995)], "track", False)
    scene = made(lonely, long, gates=gates((205, 5, "entry", ""), (1505, 5, "entry", ""), (1505, 1995, "entry", "")))
    table = rounds(scene, (205, 505), (1505, 505), (1505, 1505))
    assert np.isfinite(table[0]).tolist() == [True, False, True, True]
    assert table[0, 2] == pytest.approx(3.0 + 500 / TRACK, abs=0.1)
    assert table[0, 3] == pytest.approx(3.0 + 1500 / TRACK, abs=0.1)


def test_a_set_at_the_gate_itself_is_past_the_gate() -> None:
    scene = made(([(505, 5), (505, 1995)], "road", False), gates=gates((505, 5, "entry", "")))
    _, _, (way,) = journeys(scene, [(505, 5)])
    assert rounds(scene, (505, 5))[0, 1] == pytest.approx(way.minutes_in) == pytest.approx(3.0)


def test_a_locked_gate_costs_the_time_of_a_gate_and_is_said_to_bar_nobody() -> None:
    track = ([(505, 5), (505, 1995)], "track", False)
    free = rounds(made(track, gates=gates((505, 5, "entry", ""))), (505, 505), (505, 1505))
    shut = made(track, gates=gates((505, 5, "entry", ""), (505, 1000, "inner", "locked")))
    assert rounds(shut, (505, 505), (505, 1505)) - free == pytest.approx(np.array([[0, 0, 3], [0, 0, 3], [3, 3, 0.0]]))
    assert "locked gates" in ROUND_NOTE


def test_from_a_public_road_the_base_is_one_place_and_the_road_takes_its_time() -> None:
    spurs = [([(u, 105), (u, 1505)], "track", False) for u in (405, 1405)]
    table = rounds(made(PUBLIC, *spurs), (405, 605), (1405, 605))
    assert table[0, 1] == pytest.approx(500 / TRACK, abs=0.1)
    assert table[0, 2] == pytest.approx(1000 / ROAD + 500 / TRACK, abs=0.1)
    assert table[1, 2] == pytest.approx(1000 / ROAD + 1000 / TRACK, abs=0.1)


def test_a_set_without_a_way_has_none_from_or_to_anywhere() -> None:
    ring = scenes.square(700, 700, 1300, 1300).difference(scenes.square(900, 900, 1100, 1100))
    scene = made(([(5, 5), (5, 1995)], "track", False), water=scenes.layer("water", [ring]))
    table = rounds(scene, (405, 405), (1000, 1000), (405, 1405))
    assert np.isinf(table[2, [0, 1, 3]]).all()
    assert np.isinf(table[[0, 1, 3], 2]).all()
    assert np.isfinite(table[np.ix_([0, 1, 3], [0, 1, 3])]).all()
    alone = rounds(scene, (1000, 1000))
    assert alone.tolist() == [[0.0, math.inf], [math.inf, 0.0]]


def test_on_foot_both_walks_and_both_change_overs_count_without_the_load() -> None:
    """Sets 300 m and 400 m off a track, 1000 m apart along it."""
    scene = made(([(5, 5), (5, 1995)], "track", False), gates=gates((5, 5, "entry", "")))
    table = rounds(scene, (305, 505), (405, 1505))
    expected = 2 * 4.0 + 1000 / TRACK + 700 / OPEN
    assert table[1, 2] == pytest.approx(expected, abs=2 * CELL_MIN)
    assert table[0, 1] == pytest.approx(3.0 + 500 / TRACK + 4.0 + 300 / OPEN, abs=CELL_MIN)
    _, _, (way, _) = journeys(scene, [(305, 505), (405, 1505)])
    loaded, walk = way.minutes_in, way.carry.minutes
    assert table[0, 1] == pytest.approx(loaded - walk * 0.2 * 22.7 / 2 / 27.215542, rel=1e-6)
    assert table[1, 0] == pytest.approx(way.minutes_out - way.outward[0].minutes * 0.2 * 22.7 / 2 / 27.215542, rel=1e-6)


def test_the_light_pack_slows_the_walk_by_its_own_mass() -> None:
    track = ([(5, 5), (5, 1995)], "track", False)
    bare = rounds(made(track), (605, 505), (605, 1505))
    pack = rounds(made(track, text=ON_FOOT.replace('"0kg"', '"10kg"')), (605, 505), (605, 1505))
    slower = 1.0 / (1.0 - 0.2 * 10 / 27.215542)
    drive = 1000 / TRACK
    assert pack[1, 2] - 8.0 - drive == pytest.approx((bare[1, 2] - 8.0 - drive) * slower, rel=0.01)


def test_the_gear_of_a_set_does_not_change_the_minutes_of_a_check() -> None:
    hills = 300 + np.cumsum(np.random.default_rng(5).normal(0, 0.4, (200, 200)), axis=1)
    for text in (ON_FOOT, BY_ATV):
        scene = made(([(5, 5), (5, 1995)], "track", False), text=text, surfaces={"elevation": hills})
        places = [(405, 405), (905, 1005), (205, 1605)]
        assert rounds(scene, *places, mass_kg=90.0) == pytest.approx(rounds(scene, *places), rel=1e-9)


def test_uphill_in_and_downhill_out_make_the_table_lopsided() -> None:
    """Ground that rises 15 in 100 to the east; the second set stands on the track itself."""
    slope = np.tile(np.arange(200) * 10 * 0.15, (200, 1)) + 300
    scene = made(([(5, 5), (5, 1995)], "track", False), surfaces={"elevation": slope})
    table = rounds(scene, (605, 505), (5, 1505))
    up, down = (600 / (60 * 6.0 * math.exp(-3.5 * steep) / 3.6 * 0.6) for steep in (0.20, 0.10))
    assert table[2, 1] == pytest.approx(1000 / TRACK + 4.0 + up, rel=0.02)
    assert table[1, 2] == pytest.approx(1000 / TRACK + 4.0 + down, rel=0.02)
    assert table[2, 1] > table[1, 2] + 1.0


def test_from_one_vehicle_place_the_crew_walks_straight_across() -> None:
    """A track that ends at 600 m: the sets beyond are 300 m from each other, and 500 m from its end."""
    scene = made(([(5, 1005), (605, 1005)], "track", False))
    table = rounds(scene, (1005, 1305), (1005, 1005), (1005, 705), (305, 1205))
    assert table[1, 2] == pytest.approx(300 / OPEN, abs=1e-6)
    assert table[2, 3] == pytest.approx(300 / OPEN, abs=1e-6)
    assert table[1, 3] == pytest.approx(600 / OPEN, abs=1e-6)
    assert table[1, 4] > 8.0 + (500 + 200) / OPEN


def test_from_one_vehicle_place_the_atv_rides_straight_across_and_is_not_loaded_up() -> None:
    scene = made(([(5, 1005), (205, 1005)], "track", False), text=BY_ATV)
    _, _, ways = journeys(scene, [(1205, 1105), (1205, 905)])
    assert [[leg.kind for leg in way.inward] for way in ways] == [[ATV], [ATV]]
    table = rounds(scene, (1205, 1105), (1205, 905))
    assert table[1, 2] == pytest.approx(4.0 + 200 / RIDE, abs=1e-6)


def test_between_two_vehicle_places_the_atv_is_loaded_up_and_driven() -> None:
    """Sets 400 m from each other, the vehicle at the ends of two tracks 1000 m apart that meet 900 m to the west."""
    lines = [([(5, 505), (5, 1505)], "road", True), *(([(5, v), (905, v)], "track", False) for v in (505, 1505))]
    table = rounds(made(*lines, text=BY_ATV), (905, 805), (905, 1205))
    _, _, ways = journeys(made(*lines, text=BY_ATV), [(905, 805), (905, 1205)])
    assert [[leg.kind for leg in way.inward] for way in ways] == [["vehicle", ATV]] * 2
    rides = ways[0].outward[0].minutes + 4.0 + 7.0 + 7.0 + ways[1].inward[1].minutes
    drives = ways[0].inward[0].minutes + ways[1].inward[0].minutes + 1000 / ROAD
    assert table[1, 2] == pytest.approx(rides + drives, rel=0.01)


def test_an_atv_left_in_two_places_for_walks_is_ridden_from_one_to_the_other() -> None:
    """A pond right across with two gaps 400 m apart, which a creek bars for the ATV alone."""
    wall = scenes.square(1100, 0, 1120, 2000)
    pond = wall.difference(scenes.square(1100, 1190, 1120, 1210)).difference(scenes.square(1100, 790, 1120, 810))
    creek = shapely.LineString([(1115, 0), (1115, 2000)])
    water = scenes.layer("water", [pond, creek])
    scene = made(([(5, 1005), (205, 1005)], "track", False), text=BY_ATV, water=water)
    places = [(1205, 1205), (1205, 805)]
    _, _, ways = journeys(scene, places)
    assert [[leg.kind for leg in way.inward] for way in ways] == [[ATV, FOOT], [ATV, FOOT]]
    walk_in = ways[1].inward[1].minutes * (1 - 0.2 * 22.7 / 2 / 27.215542)
    walk_out = ways[0].outward[0].minutes * (1 - 0.2 * 22.7 / 2 / 27.215542)
    ride = math.dist(ways[0].inward[0].line[-1], ways[1].inward[0].line[-1]) / RIDE
    table = rounds(scene, *places)
    assert table[1, 2] == pytest.approx(walk_out + 4.0 + ride + 4.0 + walk_in, rel=0.01)
    by_the_vehicle = ways[0].outward[1].minutes + 7.0 + ways[1].inward[0].minutes
    assert ride < by_the_vehicle - 10.0


def test_straight_walks_over_hills_equal_one_pass_over_the_whole_grid() -> None:
    rng = np.random.default_rng(11)
    hills = 300 + np.cumsum(rng.normal(0, 1.0, (200, 1)), axis=0) + np.cumsum(rng.normal(0, 1.0, (1, 200)), axis=1)
    scene = made(([(301, 1005), (309, 1005)], "track", False), surfaces={"elevation": hills})
    places = [(905, 1205), (1005, 905), (805, 1005)]
    table = rounds(scene, *places)
    ground = foot_ground(make_ground(scene, scene.plan.travel), scene.grid)
    for n, source in enumerate(places):
        time = np.full(scene.grid.shape, np.inf)
        time[scenes.at(scene, *source)] = 0.0
        travel_time(ground, foot_walk(1.0), OFFSETS_16, time, time, np.empty(time.shape, np.int8))
        whole = [time[scenes.at(scene, *place)] / 60.0 for place in places]
        assert table[n + 1, 1:] == pytest.approx(whole, rel=1e-9)
    assert not np.allclose(table, table.T, rtol=0.01)


def test_straight_ways_go_to_the_eight_nearest_sets_only() -> None:
    scene = made(([(5, 1005), (205, 1005)], "track", False))
    table = rounds(scene, *[(505 + 100 * k, 1005) for k in range(12)])
    straight = np.isclose(table[1, 2:], 100 * np.arange(1, 12) / OPEN)
    assert straight.tolist() == [True] * NEAREST + [False] * (11 - NEAREST)
    assert table[1, 12] == pytest.approx(4.0 + (300 + 1400) / OPEN, abs=2 * CELL_MIN)
    assert "eight nearest" in ROUND_NOTE


def random_network() -> tuple[object, object, list[Line]]:
    rng = np.random.default_rng(4)
    rows: list[Line] = [PUBLIC] + [
        ([tuple(rng.uniform(20, 1980, 2)), tuple(rng.uniform(20, 1980, 2))], ("road", "track")[k % 2], False)
        for k in range(14)
    ]
    scene = scenes.scene(tracks=tracks(*rows))
    return scene, make_network(scene, TravelOptions(gate_min=0.0, ford_min=0.0)), rows


def test_drives_equal_the_shortest_paths_of_scipy_on_a_random_network(monkeypatch: pytest.MonkeyPatch) -> None:
    """Floyd-Warshall over the pieces between crossings, laid out here by hand; loose ends are not joined."""
    monkeypatch.setattr("boscage.ways.network.JOIN_M", 0.0)
    scene, net, rows = random_network()
    lines = scene.vectors["tracks"].frame.geometry.to_numpy()
    index: dict[tuple[float, float], int] = {}
    edges = []
    for piece in shapely.get_parts(shapely.node(shapely.multilinestrings(list(lines)))):
        of = int(np.argmin(shapely.distance(lines, piece.interpolate(0.5, normalized=True))))
        ends = [index.setdefault(tuple(np.round(c, 2)), len(index)) for c in (piece.coords[0], piece.coords[-1])]
        edges.append((*ends, piece.length / (40.0 if rows[of][1] == "road" else 15.0) * 3.6))
    row, col, cost = (np.array(part) for part in zip(*edges, strict=True))
    expected = shortest_path(coo_array((cost, (row, col)), shape=(len(index),) * 2).tocsr(), "FW", directed=False)
    nodes = np.array([np.argmin(np.hypot(*(net.xy - place).T)) for place in index])
    found = net.drive_seconds(nodes, nodes)
    assert np.array_equal(np.isfinite(found), np.isfinite(expected))
    assert len(nodes) > 40
    assert found[np.isfinite(found)] == pytest.approx(expected[np.isfinite(expected)], abs=0.05)


def test_no_drive_is_quicker_by_a_detour_and_drives_are_the_same_both_ways() -> None:
    _, net, _ = random_network()
    nodes = np.random.default_rng(2).choice(len(net.xy), 60, replace=False)
    found = net.drive_seconds(nodes, nodes)
    by_third = (found[:, :, None] + found[None, :, :]).min(axis=1)
    assert (found <= by_third + 1e-9).all()
    assert found == pytest.approx(found.T)
    assert (np.diag(found) == 0.0).all()
    assert net.drive_seconds(nodes[:5], nodes[5:]) == pytest.approx(found[:5, 5:])


def test_the_table_keeps_the_order_of_the_sets() -> None:
    scene = made(([(5, 5), (5, 1995)], "track", False), gates=gates((5, 5, "entry", "")))
    places = [(305, 505), (405, 1505), (5, 905), (605, 1505)]
    turned = [0, 4, 2, 1, 3]
    again = rounds(scene, *[places[k - 1] for k in turned[1:]])
    assert again == pytest.approx(rounds(scene, *places)[np.ix_(turned, turned)])
