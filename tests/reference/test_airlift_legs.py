"""Legs and sorties against published geodesics, the published magnetic test values and a published routing instance.

Sources: tests/data/geodesics (Karney, GeographicLib); GeodSolve(1) man page; tests/data/wmm2025 (NOAA NCEI and BGS
2024, World Magnetic Model 2025 test values); tests/data/sorties (Christofides and Eilon 1969).
"""

from __future__ import annotations

import csv
import datetime as dt
import itertools
import math
from pathlib import Path

import numpy as np
import pytest

from boscage.airlift.legs import Flight, Stop, distances, fly, geodesic, heading_for, wind_triangle
from boscage.airlift.magnetic import declination, magnetism, year_of
from boscage.airlift.sorties import SortieRules, plan_sorties
from boscage.errors import InputError
from boscage.model.drop import Load

DATA = Path(__file__).parents[1] / "data"


def turn(a: float, b: float) -> float:
    return abs((a - b + 180.0) % 360.0 - 180.0)


def test_twenty_published_geodesics() -> None:
    with (DATA / "geodesics" / "inverse.csv").open() as file:
        rows = [{k: float(v) for k, v in r.items()} for r in csv.DictReader(file)]
    assert len(rows) == 20
    for r in rows:
        away, start, end = geodesic(r["lat1"], r["lon1"], r["lat2"], r["lon2"])
        assert away == pytest.approx(r["s12"], abs=1e-6)
        assert turn(start, r["azi1"]) < 1e-9
        assert turn(end, r["azi2"]) < 1e-9


@pytest.mark.parametrize(
    ("ends", "metres", "azimuth"),
    [
        # GeodSolve(1): JFK to Singapore, 003:18:29.9, 15347628 m
        ((40 + 38 / 60 + 23 / 3600, -(73 + 46 / 60 + 44 / 3600), 1 + 21 / 60 + 33 / 3600, 103 + 59 / 60 + 22 / 3600),
         15347628.0, 3 + 18 / 60 + 29.9 / 3600),
        # GeodSolve 2.1.2 and geographiclib 2.1
        ((30.5, -97.5, 30.512, -97.489), 1698.457491, 38.437263036),
    ],
)  # fmt: skip
def test_geodesics_of_other_tools(ends: tuple[float, ...], metres: float, azimuth: float) -> None:
    away, start, _ = geodesic(*ends)
    assert away == pytest.approx(metres, abs=0.5 if metres > 1e6 else 1e-5)
    assert start == pytest.approx(azimuth, abs=2e-5 if metres > 1e6 else 1e-8)


def test_all_hundred_published_magnetic_rows() -> None:
    """NOAA NCEI and BGS (2024), WMM2025 test values: tests/data/wmm2025."""
    with (DATA / "wmm2025" / "test_values.csv").open() as file:
        rows = [{k: float(v) for k, v in r.items()} for r in csv.DictReader(file)]
    assert len(rows) == 100
    for r in rows:
        made = magnetism(r["lat"], r["lon"], r["year"], height_m=1000.0 * r["height_km"])
        assert turn(made.declination_deg, r["declination_deg"]) < 0.0051, "printed to 0.01 degree"
        assert made.inclination_deg == pytest.approx(r["inclination_deg"], abs=0.0051)
        for name in ("x", "y", "z"):
            assert getattr(made, f"{name}_nt") == pytest.approx(r[f"{name}_nt"], abs=0.1)


# year, height km, latitude, longitude, declination: rows of the same table as other readers of it give them
WMM_ROWS = [
    (2025.5, 44, 33, -118, 11.10), (2028.5, 28, 54, -120, 15.43), (2027.0, 61, 59, -77, -16.48),
    (2025.0, 48, 80, -96, -29.91), (2026.5, 12, -79, 115, -137.58),
]  # fmt: skip


@pytest.mark.parametrize(("year", "km", "lat", "lon", "d"), WMM_ROWS)
def test_published_magnetic_values(year: float, km: float, lat: float, lon: float, d: float) -> None:
    made = magnetism(lat, lon, year, height_m=1000.0 * km)
    assert made.declination_deg == pytest.approx(d, abs=0.0051), "printed to 0.01 degree"


def test_published_strength_and_its_change() -> None:
    """First row: H 23678.743422 nT, F 44542.826874 nT, D changes by -0.075717 degrees a year."""
    made = magnetism(33, -118, 2025.5, height_m=44000.0)
    assert made.horizontal_nt == pytest.approx(23678.743422, abs=1e-3)
    assert math.hypot(made.horizontal_nt, made.z_nt) == pytest.approx(44542.826874, abs=1e-3)
    year = [declination(33, -118, y, height_m=44000.0) for y in (2025.4, 2025.6)]
    assert (year[1] - year[0]) / 0.2 == pytest.approx(-0.075717, abs=1e-5)
    assert magnetism(80, -96, 2025.0, height_m=48000.0).horizontal_nt == pytest.approx(2164, abs=0.5)


@pytest.mark.parametrize(
    ("year", "lat", "lon", "km", "expected"),
    [
        (2025.0, 30.5, -97.5, 0.2, 3.0734), (2026.0, 30.5, -97.5, 0.2, 2.9948), (2027.0, 30.5, -97.5, 0.2, 2.9159),
        (2026.0, 32.5, -84.5, 0.1, -5.3807), (2026.0, 34.5, -98.0, 0.35, 3.3319), (2026.0, 28.0, -82.0, 0.02, -6.4840),
    ],
)  # fmt: skip
def test_declination_as_another_library_has_it(year: float, lat: float, lon: float, km: float, expected: float) -> None:
    """pygeomag 1.1.0."""
    assert declination(lat, lon, year, height_m=1000 * km) == pytest.approx(expected, abs=1e-4)


def test_error_of_declination() -> None:
    """The model's own: 0.344 degrees at H 24,000 nT, 0.870 at 6,523.2."""
    made = magnetism(33, -118, 2025.5, height_m=44000.0)
    assert made.error_deg == pytest.approx(math.sqrt(0.26**2 + (5417 / 23678.743) ** 2), abs=1e-6)
    assert not made.is_weak and magnetism(80, -96, 2025.0).is_weak
    at = next(lat for lat in np.arange(60, 85, 0.001) if magnetism(lat, -96.0, 2025.0).horizontal_nt <= 6523.2)
    assert magnetism(at, -96.0, 2025.0).error_deg == pytest.approx(0.870, abs=1e-3)


def test_the_magnetic_model_ends() -> None:
    assert declination(30.5, -97.5, dt.date(2025, 1, 1)) == pytest.approx(declination(30.5, -97.5, 2025.0))
    assert declination(30.5, -97.5, dt.date(2030, 1, 1)) == pytest.approx(declination(30.5, -97.5, 2030.0))
    for day in (dt.date(2024, 12, 31), dt.date(2030, 1, 2)):
        with pytest.raises(InputError, match="as far as WMM2025 goes"):
            declination(30.5, -97.5, day)
    assert year_of(dt.date(2028, 12, 31)) == pytest.approx(2028 + 365 / 366)


def test_true_magnetic_and_grid() -> None:
    """30.5 N, 97.5 W, 2026.0: true 45.000 is magnetic 42.005 and, in UTM zone 14 N, grid 44.239."""
    from boscage.airlift.coordinates import convergence

    assert 45.0 - declination(30.5, -97.5, 2026.0, height_m=200.0) == pytest.approx(42.005, abs=0.01)
    assert 45.0 - convergence(-97.5, 30.5, "EPSG:32614") == pytest.approx(44.239, abs=0.001)


def test_wind_triangle() -> None:
    """TAS 100 kt, track 090, wind 030/20: correction -9.974 degrees, ground speed 88.489 kt; 12 nm at 90 kt, 8 min."""
    heading, speed = wind_triangle(90.0, 100.0, 30.0, 20.0)
    assert heading - 90.0 == pytest.approx(-9.974, abs=1e-3)
    assert speed == pytest.approx(88.489, abs=1e-3)
    assert heading_for(90.0, speed, 30.0, 20.0) == pytest.approx(heading, abs=1e-9)
    assert wind_triangle(0.0, 20.0, 90.0, 25.0) is None
    assert wind_triangle(0.0, 20.0, 0.0, 25.0) is None
    assert wind_triangle(0.0, 60.0, 180.0, 25.0) == pytest.approx((0.0, 85.0))


def test_legs_there_and_back() -> None:
    base, drop = Stop(name="base", lat=30.5, lon=-97.5), Stop(name="DH-01", lat=30.5 + 0.2, lon=-97.5)
    out, back = fly([base, drop, base], Flight(date=dt.date(2026, 1, 1), ground_speed_kt=90.0))
    assert (out.start, out.end, back.end) == ("base", "DH-01", "base")
    assert out.true_bearing_deg == pytest.approx(0.0, abs=1e-9) and back.true_bearing_deg == pytest.approx(180.0)
    assert out.magnetic_bearing_deg == pytest.approx(360.0 - 2.9948, abs=2e-3)
    assert out.minutes == pytest.approx(out.distance_m / 1852.0 / 90.0 * 60.0)
    blown = fly([base, drop, base], Flight(air_speed_kt=80.0, wind_deg=0.0, wind_kt=20.0))
    assert [leg.ground_speed_kt for leg in blown] == pytest.approx([60.0, 100.0])
    assert blown[0].magnetic_bearing_deg is None
    calm = fly([base, drop], Flight())[0]
    assert (calm.minutes, calm.heading_deg, calm.ground_speed_kt) == (None, None, None)
    assert fly([base, drop], Flight(air_speed_kt=15.0, wind_deg=0.0, wind_kt=20.0))[0].minutes is None
    assert distances([base, drop, base])[0] == pytest.approx([0.0, out.distance_m, 0.0])


DEMANDS = (1200, 1700, 1500, 1400, 1700, 1400, 1200, 1900, 1800, 1600, 1700, 1100)


def test_twelve_drops_of_christofides_and_eilon() -> None:
    """E-n13-k4: 247, with every way taken as the table gives it."""
    rows = [[float(v) for v in line.split()] for line in (DATA / "sorties" / "e_n13_k4.txt").read_text().splitlines()]
    cost = np.zeros((13, 13))
    for a, row in enumerate(rows):
        cost[a, : a + 1] = row
    cost += cost.T
    plan = plan_sorties(
        [Load(site=str(n), mass_kg=float(m)) for n, m in enumerate(DEMANDS, start=1)], [str(n) for n in range(1, 13)],
        cost, SortieRules(limit_kg=6000.0, over_drops=False),
    )  # fmt: skip
    assert plan.is_least and plan.cost == pytest.approx(247.0)
    assert len(plan.sorties) == 4
    assert sorted(n for s in plan.sorties for n in s.loads) == list(range(12))
    assert all(s.mass_kg <= 6000.0 for s in plan.sorties)
    assert plan.cost == pytest.approx(sum(
        sum(cost[a, b] for a, b in itertools.pairwise((0, *(k + 1 for k in s.stops), 0))) for s in plan.sorties
    ))  # fmt: skip


def partitions(items: list[int]):
    """Every way of dividing a list into parts."""
    if not items:
        yield []
        return
    first, rest = items[0], items[1:]
    for size in range(len(rest) + 1):
        for part in itertools.combinations(rest, size):
            for more in partitions([r for r in rest if r not in part]):
                yield [(first, *part), *more]


@pytest.mark.parametrize("seed", range(8))
def test_sorties_against_every_division_and_order(seed: int) -> None:
    """Six loads at four drops, ways that differ there and back, a limit, two or three loads a flight, a fixed cost."""
    rng = np.random.default_rng(seed)
    cost = rng.uniform(1.0, 20.0, (5, 5))
    np.fill_diagonal(cost, 0.0)
    for k in range(5):
        cost = np.minimum(cost, cost[:, k : k + 1] + cost[k : k + 1])
    where, masses = rng.integers(0, 4, 6), rng.uniform(40.0, 160.0, 6)
    most = 2 + seed % 2
    rules = SortieRules(limit_kg=300.0, most_loads=most, fixed=2.0 * (seed % 2))
    loads = [Load(site=f"d{w}", mass_kg=float(m)) for w, m in zip(where, masses, strict=True)]

    def way(part: tuple[int, ...]) -> float:
        if len(part) > most or masses[list(part)].sum() > 300.0:
            return math.inf
        lines = [(0, *(where[n] + 1 for n in order), 0) for order in itertools.permutations(part)]
        return min(sum(cost[a, b] for a, b in itertools.pairwise(line)) for line in lines) + rules.fixed

    best = min(sum(way(p) for p in division) for division in partitions(list(range(6))))
    plan = plan_sorties(loads, ["d0", "d1", "d2", "d3"], cost, rules)
    assert plan.is_least and plan.cost == pytest.approx(best)
    assert sum(s.cost for s in plan.sorties) == pytest.approx(plan.cost)
    assert sorted(n for s in plan.sorties for n in s.loads) == list(range(6))


def test_loads_over_the_limit_and_no_limit() -> None:
    cost = np.array([[0.0, 5.0, 6.0], [5.0, 0.0, 1.0], [6.0, 1.0, 0.0]])
    loads = [Load(site="a", mass_kg=100.0), Load(site="b", mass_kg=250.0), Load(site="b", mass_kg=80.0)]
    plan = plan_sorties(loads, ["a", "b"], cost, SortieRules(limit_kg=200.0))
    assert plan.over_limit == (1,) and [sorted(s.loads) for s in plan.sorties] == [[0, 2]] and plan.cost == 12.0
    alone = plan_sorties(loads, ["a", "b"], cost, SortieRules())
    assert [s.loads for s in alone.sorties] == [(0,), (1,), (2,)] and alone.cost == 34.0
    assert plan_sorties([], ["a"], cost[:2, :2], SortieRules()).sorties == ()


def test_more_than_a_dozen_loads_are_not_called_least() -> None:
    rng = np.random.default_rng(2)
    at = np.vstack([[0.0, 0.0], rng.uniform(-30, 30, (20, 2))])
    cost = np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1))
    loads = [Load(site=str(n), mass_kg=float(m)) for n, m in enumerate(rng.uniform(40, 120, 20))]
    plan = plan_sorties(loads, [str(n) for n in range(20)], cost, SortieRules(limit_kg=300.0))
    assert not plan.is_least
    assert sorted(n for s in plan.sorties for n in s.loads) == list(range(20))
    assert all(s.mass_kg <= 300.0 for s in plan.sorties)
    assert plan.cost < 0.75 * 2 * cost[0].sum()


def test_the_cost_of_a_flight_makes_fewer_flights() -> None:
    """60 kg west and north, 40 kg twice in the east, limit 100: three short flights, or two longer ones."""
    at = np.array([[0.0, 0.0], [-10.0, 0.0], [0.0, 10.0], [10.0, 0.0]])
    cost = np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1))
    loads = [Load(site=s, mass_kg=m) for s, m in (("w", 60.0), ("n", 60.0), ("e", 40.0), ("e", 40.0))]
    short = plan_sorties(loads, ["w", "n", "e"], cost, SortieRules(limit_kg=100.0))
    assert len(short.sorties) == 3 and short.cost == pytest.approx(60.0)
    few = plan_sorties(loads, ["w", "n", "e"], cost, SortieRules(limit_kg=100.0, fixed=20.0))
    assert len(few.sorties) == 2 and few.cost == pytest.approx(40.0 + 20.0 + math.sqrt(200.0) + 40.0)
