"""Roads and tracks as a network: where the vehicle may go and how long it takes."""

from __future__ import annotations

import numpy as np
import pytest
import scenes
import shapely

from boscage.model.journey import TravelOptions
from boscage.ways.network import Network, make_network

ROAD, TRACK = 40.0 / 3.6, 15.0 / 3.6
PLAIN = TravelOptions(gate_min=0.0, ford_min=0.0)


def tracks(*rows: tuple[list[tuple[float, float]], str, bool]) -> object:
    return scenes.layer("tracks", [shapely.LineString(r[0]) for r in rows], **{"class": [r[1] for r in rows]},
                        public=[r[2] for r in rows])  # fmt: skip


def gates(*rows: tuple[float, float, str, str]) -> object:
    return scenes.layer(
        "gates", [shapely.Point(r[:2]) for r in rows], name=[r[2] for r in rows], kind=[r[3] for r in rows],
        row=list(range(1, len(rows) + 1)),
    )  # fmt: skip


def seconds_at(net: Network, u: float, v: float) -> float:
    gap = np.hypot(*(net.xy - np.array([scenes.X + u, scenes.Y + v])).T)
    near = int(np.argmin(gap))
    assert gap[near] < 4.0
    return float(net.seconds[near])


PUBLIC = ([(0, 100), (2000, 100)], "road", True)
SPUR = ([(1000, 100), (1000, 1600)], "track", False)


def test_time_is_length_over_speed_by_class_from_the_public_road() -> None:
    net = make_network(scenes.scene(tracks=tracks(PUBLIC, SPUR)), PLAIN)
    assert seconds_at(net, 1000, 1600) == pytest.approx(1500 / TRACK, rel=1e-3)
    assert seconds_at(net, 300, 100) == 0.0
    assert net.start == "the public road"
    assert "entry gate" in net.notes[0]


def test_with_an_entry_gate_the_drive_starts_there() -> None:
    made = scenes.scene(tracks=tracks(PUBLIC, SPUR), gates=gates((1000, 120, "Creek gate", "entry")))
    net = make_network(made, TravelOptions(gate_min=3.0, ford_min=0.0))
    assert seconds_at(net, 1000, 1600) == pytest.approx(180 + 1480 / TRACK, rel=1e-2)
    top = int(np.argmin(np.hypot(*(net.xy - np.array([scenes.X + 1000, scenes.Y + 1600])).T)))
    assert net.start_of(net.way_to(top), made.vectors["gates"].frame) == "gate 'Creek gate'"
    assert net.notes == ()


def test_an_inner_gate_and_a_ford_cost_their_time_once() -> None:
    creek = scenes.layer("water", [shapely.LineString([(0, 1000), (2000, 1000)])])
    pond = scenes.layer("water", [scenes.square(900, 900, 1100, 1100)])
    bare = seconds_at(make_network(scenes.scene(tracks=tracks(PUBLIC, SPUR)), PLAIN), 1000, 1600)
    for layers, options, more in (
        ({"gates": gates((1000, 700, "Mid", "inner"))}, TravelOptions(gate_min=2.0, ford_min=0.0), 120.0),
        ({"water": creek}, TravelOptions(gate_min=0.0, ford_min=1.5), 90.0),
        ({"water": pond}, TravelOptions(gate_min=0.0, ford_min=1.5), 90.0),
    ):
        net = make_network(scenes.scene(tracks=tracks(PUBLIC, SPUR), **layers), options)
        assert seconds_at(net, 1000, 1600) == pytest.approx(bare + more, abs=1.0)


def test_a_track_through_refused_land_is_cut() -> None:
    whole, strip = scenes.square(0, 0, 2000, 2000), scenes.square(0, 800, 2000, 1000)
    parcels = scenes.layer(
        "parcels", [whole.difference(strip), strip], parcel=["1", "2"], access=["granted", "refused"]
    )
    net = make_network(scenes.scene(tracks=tracks(PUBLIC, SPUR), parcels=parcels), PLAIN)
    assert np.isfinite(seconds_at(net, 1000, 700))
    beyond = net.xy[:, 1] > scenes.Y + 1005
    assert not np.isfinite(net.seconds[beyond]).any()


def test_a_track_that_stops_just_short_of_the_road_meets_it() -> None:
    short = ([(1000, 105), (1000, 1600)], "track", False)
    far = ([(1000, 115), (1000, 1600)], "track", False)
    joined = make_network(scenes.scene(tracks=tracks(PUBLIC, short)), PLAIN)
    assert seconds_at(joined, 1000, 1600) == pytest.approx(1495 / TRACK + 5 / 1.4, rel=1e-2)
    apart = make_network(scenes.scene(tracks=tracks(PUBLIC, far)), PLAIN)
    assert np.isinf(seconds_at(apart, 1000, 1600))


def test_crossing_lines_without_a_common_vertex_are_joined_and_the_quicker_way_wins() -> None:
    across = ([(200, 1500), (1800, 1500)], "track", False)
    side = ([(200, 50), (200, 1550)], "road", False)
    net = make_network(scenes.scene(tracks=tracks(PUBLIC, SPUR, across, side)), PLAIN)
    by_road = 1400 / ROAD + 300 / TRACK
    assert seconds_at(net, 500, 1500) == pytest.approx(by_road, rel=1e-2)


def test_without_public_road_or_gate_every_track_is_a_start_and_that_is_said() -> None:
    net = make_network(scenes.scene(tracks=tracks(SPUR)), PLAIN)
    assert (net.seconds[np.isfinite(net.seconds)] == 0.0).all()
    assert "not timed" in net.notes[0]
    assert make_network(scenes.scene(), PLAIN) is None
    trail = ([(0, 100), (2000, 100)], "trail", False)
    assert make_network(scenes.scene(tracks=tracks(trail)), PLAIN) is None


def test_times_equal_bellman_ford_on_a_random_network(monkeypatch: pytest.MonkeyPatch) -> None:
    """Bellman-Ford by hand over the pieces between crossings; loose ends are not joined here."""
    monkeypatch.setattr("boscage.ways.network.JOIN_M", 0.0)
    rng = np.random.default_rng(4)
    rows = [PUBLIC, SPUR] + [
        ([tuple(rng.uniform(20, 1980, 2)), tuple(rng.uniform(20, 1980, 2))], ("road", "track")[k % 2], False)
        for k in range(12)
    ]
    made = scenes.scene(tracks=tracks(*rows))
    net = make_network(made, PLAIN)
    pieces = shapely.get_parts(shapely.node(shapely.multilinestrings(made.vectors["tracks"].frame.geometry.to_list())))
    lines = made.vectors["tracks"].frame.geometry.to_numpy()
    nodes: dict[tuple[float, float], float] = {}
    edges = []
    for piece in pieces:
        mid = piece.interpolate(0.5, normalized=True)
        of = int(np.argmin(shapely.distance(lines, mid)))
        speed = ROAD if rows[of][1] == "road" else TRACK
        a, b = (tuple(np.round(c, 2)) for c in (piece.coords[0], piece.coords[-1]))
        edges.append((a, b, piece.length / speed))
        for end in (a, b):
            nodes[end] = 0.0 if rows[of][2] or nodes.get(end) == 0.0 else nodes.get(end, np.inf)
    for _ in range(len(nodes)):
        for a, b, cost in edges:
            nodes[b] = min(nodes[b], nodes[a] + cost)
            nodes[a] = min(nodes[a], nodes[b] + cost)
    reached = 0
    for (x, y), time in nodes.items():
        near = int(np.argmin(np.hypot(net.xy[:, 0] - x, net.xy[:, 1] - y)))
        if np.isfinite(time):
            assert net.seconds[near] == pytest.approx(time, abs=0.05)
            reached += time > 0
    assert reached > 10


def test_a_gate_far_from_every_way_is_named() -> None:
    made = scenes.scene(
        tracks=tracks(PUBLIC, SPUR), gates=gates((1000, 120, "Creek gate", "entry"), (300, 900, "Old", ""))
    )
    net = make_network(made, PLAIN)
    assert "Old" in net.notes[0]
    assert "over 98 ft from" in net.notes[0]
    assert "Creek gate" not in net.notes[0]
