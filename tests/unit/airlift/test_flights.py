"""Flights: loads on flights under the pilot's limit, in the order that takes least, with their legs."""

from __future__ import annotations

import datetime as dt
import itertools

import pytest

from boscage.airlift.flights import flight_of, plan_flights
from boscage.airlift.legs import Stop, fly
from boscage.model.brief import SlungLoad
from boscage.model.drop_plan import BriefOptions, DropOptions
from boscage.values import Mass

DAY = dt.date(2026, 11, 21)
BASE = Stop(name="base", lon=-92.70, lat=36.18)
STOPS = {
    name: Stop(name=name, lon=-92.70 + east, lat=36.18 + north)
    for name, east, north in (("A", 0.02, 0.03), ("B", 0.025, 0.032), ("C", -0.03, 0.01), ("D", -0.031, 0.004))
}


def load(site: str, kg: float) -> SlungLoad:
    return SlungLoad(
        number=0, site=site, flight=0, order=0, items=(), items_kg=kg, estimated_kg=kg, rigging_kg=None
    )  # fmt: skip


def planned(loads, drop: DropOptions, brief: BriefOptions | None = None):
    return plan_flights(loads, BASE, STOPS, flight_of(drop, DAY), (drop, brief or BriefOptions()))


def test_a_plain_hook_takes_one_load_a_flight() -> None:
    loads, rounds, least = planned(
        [load("A", 100.0), load("B", 90.0)], DropOptions(load_limit=Mass(500.0), ground_speed_kt=60.0)
    )
    assert least and [r.loads for r in rounds] == [(1,), (2,)]
    assert [(x.number, x.site, x.flight, x.order) for x in loads] == [(1, "A", 1, 1), (2, "B", 2, 1)]
    for r in rounds:
        assert (r.legs[0].start, r.legs[-1].end) == ("base", "base") and len(r.legs) == 2
        metres = sum(leg.distance_m for leg in r.legs)
        assert r.minutes == pytest.approx(metres / (60.0 * 1852.0 / 3600.0) / 60.0)


def test_several_hooks_join_neighbours_as_every_division_tried_says() -> None:
    kilos = {"A": 100.0, "B": 120.0, "C": 90.0, "D": 80.0}
    drop = DropOptions(load_limit=Mass(230.0), hooks=4, air_speed_kt=70.0, wind_deg=300.0, wind_kt=18.0)
    loads, rounds, least = planned([load(s, m) for s, m in kilos.items()], drop)
    assert least
    best = min(
        sum(cheapest(part, drop) for part in parts)
        for parts in divisions(list(kilos))
        if all(sum(kilos[s] for s in part) <= 230.0 for part in parts)
    )
    assert sum(r.minutes for r in rounds) == pytest.approx(best, rel=1e-9)
    sites = [{x.site for x in loads if x.flight == r.number} for r in rounds]
    assert {"A", "B"} in sites and {"C", "D"} in sites


def cheapest(part: list[str], drop: DropOptions) -> float:
    flight = flight_of(drop, DAY)
    return min(
        sum(leg.minutes for leg in fly([BASE, *(STOPS[s] for s in order), BASE], flight))
        for order in itertools.permutations(part)
    )


def divisions(items: list[str]):
    if not items:
        yield []
        return
    first, rest = items[0], items[1:]
    for size in range(len(rest) + 1):
        for others in itertools.combinations(rest, size):
            left = [r for r in rest if r not in others]
            for parts in divisions(left):
                yield [[first, *others], *parts]


def test_line_swivel_and_a_net_for_each_load_count_towards_the_limit() -> None:
    brief = BriefOptions(line_mass=Mass(20.0), swivel_mass=Mass(5.0), sling_mass=Mass(10.0))
    drop = DropOptions(load_limit=Mass(225.0), hooks=2, ground_speed_kt=60.0)
    _, together, _ = planned([load("A", 90.0), load("B", 90.0)], drop, brief)
    assert len(together) == 1 and together[0].mass_kg == pytest.approx(200.0), "25 hang on the hook beside these"
    _, apart, _ = planned([load("A", 90.0), load("B", 90.1)], drop, brief)
    assert len(apart) == 2


def test_what_is_over_the_limit_is_not_flown_and_stands_last() -> None:
    loads, rounds, _ = planned(
        [load("A", 300.0), load("B", 90.0)], DropOptions(load_limit=Mass(200.0), ground_speed_kt=60.0)
    )
    assert [(x.number, x.site, x.flight) for x in loads] == [(1, "B", 1), (2, "A", 0)]
    assert [r.loads for r in rounds] == [(1,)]


def test_without_a_speed_metres_decide_and_minutes_stay_blank() -> None:
    _, rounds, least = planned([load("A", 10.0), load("C", 10.0)], DropOptions(load_limit=Mass(50.0), hooks=2))
    assert least and all(r.minutes is None for r in rounds)


def test_a_stated_declination_is_used_and_the_model_otherwise() -> None:
    stated = flight_of(DropOptions(declination=5.0), dt.date(2040, 1, 1))
    leg = fly([BASE, STOPS["A"]], stated)[0]
    assert (leg.true_bearing_deg - leg.magnetic_bearing_deg) % 360.0 == pytest.approx(5.0)
