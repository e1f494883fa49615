"""Made-up helicopter drops for looking at pages: ground from closed forms, the figures by the functions of airlift."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon, box

from boscage.airlift.air import air_at
from boscage.airlift.coordinates import at_lon_lat, place_at
from boscage.airlift.drop_points import DropGround, Wires, find_drop
from boscage.airlift.horizon import terrain_horizon, terrain_light
from boscage.airlift.landing import find_landings
from boscage.airlift.legs import Flight, Stop, fly, geodesic
from boscage.airlift.magnetic import declination, magnetism
from boscage.airlift.misread import misreads
from boscage.airlift.sun import daylight
from boscage.model.brief import Base, CarryOver, DropResult, DropSite, FlightRound, Landing, SlungItem, SlungLoad
from boscage.model.drop import HELICOPTERS, DropPoint, NoDrop
from boscage.model.journey import NoWay
from boscage.model.layers import LayerReport
from boscage.model.pack import PackItem
from boscage.model.plan import Plan, plan_from_table
from boscage.model.results import Backdrop, Hazard, Place
from boscage.values import Bounds, Grid, Printer

CRS, WEST, SOUTH, SIDE = "EPSG:32615", 520_000.0, 4_006_000.0, 6_000.0
DATE = dt.date(2026, 11, 21)
NOTE = "Invented data for examples. No real place, owner or animal."
LONG_NAME = (
    "Żabia Łąka and the Upper Dunnock Hollow timber, pasture, creek bottom, ridge top, glade and old homestead "
    "tracts that are held together under one name which is far too long for any sheet of paper ever"
)
LONG_SITE = "żabia-łąka-north-bench-W2"
SETS = (
    (1500.0, 3300.0), (2600.0, 3650.0), (3350.0, 2450.0), (1950.0, 1850.0), (800.0, 3900.0), (2750.0, 4700.0),
    (3700.0, 3300.0), (1200.0, 2500.0),
)  # fmt: skip
BASE = (900.0, 700.0)
STATED = {
    "mission": "Dunnock Hollow gear lift", "plan_number": "DH-14", "takeoff": "07:30",
    "objective": "Set the nets and gear of three sets down at their drop points, nobody aboard.",
    "abort": "Gusts over 20 kt, radio contact lost, or anybody under the load.",
    "aircraft": "N000XX, light single, white", "receive": "168.550", "transmit": "168.550", "tone": "110.9",
    "air_to_air": "123.025", "following": "ranch office, every 15 min", "lost_comms": "return to base, wait 10 min",
    "hospital": "Teasel County trauma centre", "hospital_phone": "555 0100", "hospital_place": [-92.38, 36.335],
    "evacuation": [-92.7545, 36.2105], "road_end": [-92.7660, 36.2240], "county": "Teasel",
    "caller": "helicopter manager", "kit": "extinguisher and kit at the base table", "hazmat": "none",
    "line_mass": "38lb", "swivel_mass": "9lb", "sling_mass": "14lb",
}  # fmt: skip
DAY = {
    "temperature_c": 24.0, "dew_point_c": 9.0, "altimeter_hpa": 1013.0, "ground_speed_kt": 60.0, "wind_deg": 200.0,
    "wind_kt": 12.0, "load_limit": "700lb", "hooks": 2,
}  # fmt: skip
NEVER = (
    "Towers and masts with their guys, wires that the layer does not hold, cables at gauges and pumps.",
    "Stumps, rocks, holes and loose matter on the ground of a gap.",
    "Other aircraft, military routes, airspace and notices for the day.",
    "Stock and people near the drop on the day.",
)


@dataclass(frozen=True, kw_only=True)
class Wish:
    """What the made-up brief should be like.

    Attributes:
        drops: How many sites are served; `none` how many more have no gap.
        parts: Loads a site.
        base: Whether one is stated; `far` whether it lies off the map.
        stated: Whether words, weather, speeds and masses of rigging are.
        over: Whether the last load is over the limit.
        wires: `known`, `none in data` or `not searched`.
        items: Lines of gear more than usual.
        turn: Declination that the plan states.
    """

    drops: int = 1
    none: int = 0
    parts: int = 1
    base: bool = True
    far: bool = False
    stated: bool = True
    over: bool = False
    units: str = "us"
    paper: str | None = None
    zone: str | None = "America/Chicago"
    wires: str = "known"
    terrain: bool = True
    landings: bool = True
    carry: str = "walked"
    long: bool = False
    items: int = 0
    close: bool = False
    flags: int = 1
    turn: float | None = None


@dataclass(frozen=True, kw_only=True)
class MadeDrop:
    """A brief with what its map is drawn on."""

    result: DropResult
    overview: Backdrop


def heights(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Hills in closed form, metres."""
    u, v = (x - WEST) / 1000.0, (y - SOUTH) / 1000.0
    return 300 + 44 * np.sin(1.9 * u + 0.7 * np.sin(1.3 * v)) + 36 * np.cos(2.3 * v - 0.5 * u)


def middles(grid: Grid) -> tuple[np.ndarray, np.ndarray]:
    """East and north of every cell's middle."""
    x = grid.west + (np.arange(grid.cols) + 0.5) * grid.cell_m
    y = grid.north - (np.arange(grid.rows) + 0.5) * grid.cell_m
    xs, ys = np.meshgrid(x, y)
    return xs, ys


def set_places(wish: Wish) -> list[tuple[float, float]]:
    """East and north of the sets."""
    if wish.close:
        return [(WEST + 1500.0 + 55.0 * k, SOUTH + 3300.0 + 25.0 * (k % 2)) for k in range(wish.drops)]
    return [(WEST + SETS[k % 8][0] + 90.0 * (k // 8), SOUTH + SETS[k % 8][1]) for k in range(wish.drops)]


def canopy(grid: Grid, wish: Wish) -> np.ndarray:
    """Timber with a gap near each set, and a meadow farther off that widens away from it."""
    xs, ys = middles(grid)
    top = 15.0 + 4.0 * np.sin(xs / 31.0) * np.cos(ys / 23.0)
    for k, (x, y) in enumerate(set_places(wish)):
        turn = math.radians(70.0 + 95.0 * k)
        top[np.hypot(xs - x - 62 * math.sin(turn), ys - y - 62 * math.cos(turn)) < 9.0 + k % 3] = 0.2
        if wish.landings:
            ax, ay = math.sin(turn + 2), math.cos(turn + 2)
            along, aside = (xs - x) * ax + (ys - y) * ay, (xs - x) * ay - (ys - y) * ax
            top[(along > 220.0) & (along < 700.0) & (np.abs(aside) < 45.0 + 0.15 * (along - 220.0))] = 0.2
    return top.astype(np.float32)


def vectors(wish: Wish) -> dict[str, Any]:
    """Vector layers by plan key."""
    w, s, t = WEST, SOUTH, np.linspace(0, 1, 80)

    def frame(rows: list[dict[str, Any]]) -> gpd.GeoDataFrame:
        return gpd.GeoDataFrame(rows, geometry="geometry", crs=CRS)

    name = LONG_NAME if wish.long else "Creek bottom"
    made = {
        "parcels": frame([
            {"parcel": name, "access": "granted",
             "geometry": Polygon([(w, s), (w + 4200, s), (w + 4100, s + 6000), (w, s + 6000)])},
            {"parcel": "Teasel inholding", "access": "refused",
             "geometry": box(w + 4150, s + 3300, w + 6000, s + 6000)},
            {"parcel": "East forty", "access": "unknown", "geometry": box(w + 4250, s, w + 6000, s + 3000)},
        ]),
        "tracks": frame([
            {"class": "road", "name": "County Road 12", "public": True,
             "geometry": LineString(np.column_stack([w + 300 + 250 * np.sin(5 * t), s - 200 + 6400 * t]))},
            {"class": "track", "name": "ridge track", "public": False,
             "geometry": LineString(np.column_stack([w + 400 + 3600 * t, s + 2300 + 500 * np.sin(6 * t)]))},
        ]),
        "fences": frame([{"name": "", "geometry": LineString([(w + 100, s + 2500), (w + 3900, s + 2450)])}]),
        "water": frame([
            {"name": "Dunnock Creek", "class": "perennial",
             "geometry": LineString(np.column_stack([w + 200 + 5500 * t, s + 1500 + 420 * np.sin(7 * t)]))},
        ]),
        "dwellings": frame([{"name": "house 1", "geometry": Point(w + 700, s + 800)},
                            {"name": "house 2", "geometry": Point(w + 640, s + 5200)}]),
        "no_go": frame([{"reason": "cattle with calves", "geometry": Point(w + 3000, s + 1300).buffer(380)}]),
        "power_lines": frame([{"voltage_kv": 69, "geometry": LineString(
            [(w - 100, s + 2750), (w + 1560, s + 3420), (w + 2500, s + 6100)])}]),
    }  # fmt: skip
    if wish.wires != "known":
        del made["power_lines"]
    return made


def plan_of(wish: Wish) -> Plan:
    """A plan as a file would give it."""
    ranch: dict[str, Any] = {"name": LONG_NAME if wish.long else "Dunnock Hollow Ranch", "units": wish.units,
                             "crs": CRS, "date": DATE, "note": NOTE}  # fmt: skip
    if wish.zone:
        ranch["zone"] = wish.zone
    words = {k: LONG_NAME if wish.long and k in ("mission", "objective", "abort", "aircraft", "following", "lost_comms",
             "hospital", "kit", "hazmat", "caller", "county") else v for k, v in STATED.items()}  # fmt: skip
    table: dict[str, Any] = {
        "ranch": ranch, "layers": {"parcels": "parcels.gpkg", "canopy_cover": "canopy_cover.tif"},
        **({"sheets": {"paper": wish.paper}} if wish.paper else {}),
        **({"brief": words, "drop": DAY} if wish.stated else {}),
    }  # fmt: skip
    if wish.turn is not None:
        table["drop"] = {**table.get("drop", {}), "declination": wish.turn}
    return plan_from_table(table, file="plan.toml", folder=".", today=DATE)


def gear(site: str, wish: Wish) -> tuple[PackItem, ...]:
    """What goes to one site; two lines of it weighed."""
    rows = (
        ("net with its top rope", 1, 22.7, True, 0.35), ("strap", 10, 0.41, True, 0.35), ("rope", 3, 1.9, False, 0.35),
        ("ground stake", 14, 0.9, False, 0.0), ("bait bag", 2, 22.7, False, 0.0), ("camera", 2, 0.9, False, 0.0),
    )  # fmt: skip
    more = tuple((f"guyed sapling kit {k + 1}", 1, 3.4, False, 0.0) for k in range(wish.items))
    return tuple(
        PackItem(site=site, item=i, count=n, dry_kg=kg, weighed=weighed, wet_share=wet)
        for i, n, kg, weighed, wet in (*rows, *more)
    )


def loads_of(sites: list[str], plan: Plan, wish: Wish) -> list[SlungLoad]:
    """Every site's gear in so many loads, two a flight."""
    loads: list[SlungLoad] = []
    for site in sites:
        items = gear(site, wish)
        for part in range(wish.parts):
            own = items[part :: wish.parts]
            n = len(loads)
            loads.append(SlungLoad(
                number=n + 1 if wish.base else 0, site=site, flight=n // 2 + 1 if wish.base else 0,
                order=n % 2 + 1 if wish.base else 0, items=tuple(SlungItem(item=i, count=i.count) for i in own),
                items_kg=sum(i.total_kg or 0.0 for i in own),
                estimated_kg=sum(i.total_kg or 0.0 for i in own if not i.weighed), rigging_kg=plan.brief.rigging_kg,
            ))  # fmt: skip
    if wish.over and loads:
        bulk = PackItem(site=sites[-1], item="welded panel bundle", count=1, dry_kg=420.0)
        loads.append(SlungLoad(
            number=len(loads) + 1, site=sites[-1], flight=0, order=0, items=(SlungItem(item=bulk, count=1),),
            items_kg=420.0, estimated_kg=420.0, rigging_kg=plan.brief.rigging_kg,
        ))  # fmt: skip
    return loads


def rounds_of(loads: list[SlungLoad], base: Base, drops: tuple[DropSite, ...], plan: Plan) -> tuple[FlightRound, ...]:
    """The flights over the drops in order, by the program's legs."""
    given = plan.drop
    flight = Flight(
        date=plan.date,
        ground_speed_kt=given.ground_speed_kt,
        wind_deg=given.wind_deg,
        wind_kt=given.wind_kt,
        declination_deg=given.declination,
    )
    places = {d.site: Stop(name=d.site, lon=d.place.lon, lat=d.place.lat) for d in drops}
    start = Stop(name=base.name, lon=base.place.lon, lat=base.place.lat)
    rounds = []
    for number in range(1, max((load.flight for load in loads), default=0) + 1):
        own = [load for load in loads if load.flight == number]
        names = list(dict.fromkeys(load.site for load in own))
        legs = fly([start, *(places[n] for n in names), start], flight)
        known = [leg.minutes for leg in legs if leg.minutes is not None]
        rounds.append(FlightRound(
            number=number, loads=tuple(load.number for load in own), legs=legs,
            mass_kg=sum(load.items_kg for load in own), minutes=sum(known) if len(known) == len(legs) else None,
        ))  # fmt: skip
    return tuple(rounds)


def hazards_of(at: tuple[float, float], wish: Wish, name: str) -> tuple[Hazard, ...]:
    """The nearest of each kind in the layers."""
    layers, source = vectors(wish), "walked by the operator, not complete, 2026-08-02"
    rows = []
    for kind, title in (("power_lines", "Power line"), ("dwellings", "Dwelling"), ("no_go", "No-go area")):
        if kind not in layers:
            rows.append(Hazard(kind=kind, title=title, distance_m=None, bearing_deg=None, detail="not mapped: look",
                               source="no data"))  # fmt: skip
            continue
        shapes = layers[kind].geometry.to_numpy()
        near = min(shapes, key=lambda g: g.distance(Point(at)))
        (x0, y0), (x1, y1) = shapely.get_coordinates(shapely.shortest_line(Point(at), near))[[0, -1]]
        rows.append(Hazard(
            kind=kind, title=title, distance_m=float(near.distance(Point(at))),
            bearing_deg=math.degrees(math.atan2(x1 - x0, y1 - y0)) % 360.0, detail=name, source=source,
        ))  # fmt: skip
    return tuple(rows)


def carry_of(here: Place, there: Place, wish: Wish) -> CarryOver | NoWay | None:
    """The walk from the drop point to the set."""
    if wish.carry == "not asked":
        return None
    if wish.carry == "barred":
        return NoWay(reason="Not reachable on foot: the nearest way is barred by Dunnock Creek.", barriers=("creek",))
    line = np.array([(here.x_m, here.y_m), (here.x_m + 20, there.y_m - 8), (there.x_m, there.y_m)])
    far = sum(math.dist(a, b) for a, b in pairwise(line.tolist()))
    return CarryOver(line=line, distance_m=far, minutes=far / 40.0, trips=3, share_kg=19.4, all_min=far / 9.0,
                     climb_m=6.0 if wish.terrain else math.nan)  # fmt: skip


def ground_of(at: tuple[float, float], reach_m: float, cell_m: float, wish: Wish) -> DropGround:
    """What drop points and landing places are sought on."""
    bounds = Bounds(at[0] - reach_m, at[1] - reach_m, at[0] + reach_m, at[1] + reach_m)
    grid = Grid.covering(bounds, cell_m=cell_m, crs=CRS)
    shapes = (
        () if wish.wires == "none in data" else tuple(vectors(replace(wish, wires="known"))["power_lines"].geometry)
    )
    wires = Wires(shapes=shapes, source="walked by the operator", date=dt.date(2026, 8, 2))
    terrain = heights(*middles(grid)).astype(np.float32) if wish.terrain else None
    return DropGround(grid=grid, canopy_m=canopy(grid, wish), terrain_m=terrain,
                      wires=None if wish.wires == "not searched" else wires)  # fmt: skip


def site_drop(number: int, at: tuple[float, float], plan: Plan, wish: Wish) -> DropSite:
    """One drop, everything by the program's functions."""
    name = f"{LONG_SITE}-{number:02d}" if wish.long else f"DH-{number:02d}"
    point = find_drop(name, at, ground_of(at, 230.0, 2.0, wish), plan.gap, Printer(plan.ranch.units))
    assert isinstance(point, DropPoint), point
    here = (point.gap.x_m, point.gap.y_m)
    place, there = place_at(*here, CRS), place_at(*at, CRS)
    landings = []
    if wish.landings:
        kind = HELICOPTERS[plan.drop.helicopter]
        for found in find_landings(here, ground_of(here, 2100.0, 12.0, wish), kind, reach_m=400.0, count=2):
            to = place_at(found.gap.x_m, found.gap.y_m, CRS)
            away, bearing, _ = geodesic(place.lat, place.lon, to.lat, to.lon)
            landings.append(Landing(found=found, place=to, away_m=away, bearing_deg=bearing))
    wide = Grid.covering(Bounds(WEST, SOUTH, WEST + SIDE, SOUTH + SIDE), cell_m=50.0, crs=CRS)
    z = heights(*middles(wide)).astype(np.float32) if wish.terrain else np.full(wide.shape, np.nan, np.float32)
    horizon = terrain_horizon(z, wide, here, reach_m=2500.0, convergence_deg=place.convergence_deg)
    given = plan.drop
    flag = LONG_NAME if wish.long else "The canopy heights are of 2019-02-18: trees have grown since."
    return DropSite(
        site=name, parcel=LONG_NAME if wish.long else "Creek bottom", owner="Dunnock Hollow Land", point=point,
        place=place, set_place=there, set_bearing_deg=geodesic(place.lat, place.lon, there.lat, there.lon)[1],
        declination_deg=turn_at(place, plan),
        air=air_at(point.elevation_m, given.temperature_c, given.altimeter_hpa, given.dew_point_c),
        light=terrain_light(plan.date, place.lat, place.lon, horizon), misreads=misreads(place.lat, place.lon),
        carry=carry_of(place, there, wish), landings=tuple(landings),
        hazards=hazards_of(here, wish, LONG_NAME if wish.long else ""),
        flags=tuple(f"{flag} ({k + 1})" if k else flag for k in range(wish.flags)),
    )  # fmt: skip


def turn_at(place: Place, plan: Plan) -> float:
    """Declination as the plan states it, else by the model."""
    stated = plan.drop.declination
    return declination(place.lat, place.lon, plan.date) if stated is None else stated


def base_of(plan: Plan, wish: Wish) -> Base | None:
    """The base, on the ranch or 40 km off."""
    if not wish.base:
        return None
    x, y = (WEST - 31_000.0, SOUTH - 22_000.0) if wish.far else (WEST + BASE[0], SOUTH + BASE[1])
    place, given = place_at(x, y, CRS), plan.drop
    height = float(heights(np.array([x]), np.array([y]))[0]) if wish.terrain else None
    return Base(
        name="ranch pasture" if not wish.long else LONG_NAME, place=place, elevation_m=height,
        declination_deg=turn_at(place, plan),
        air=air_at(height, given.temperature_c, given.altimeter_hpa, given.dew_point_c),
    )  # fmt: skip


def reports_of(wish: Wish) -> tuple[LayerReport, ...]:
    """One for each layer that holds hazards."""
    rows = []
    for name in ("power_lines", "dwellings", "no_go", "fences", "tracks", "canopy_height", "terrain"):
        lost = (name == "power_lines" and wish.wires == "not searched") or (name == "terrain" and not wish.terrain)
        if lost:
            rows.append(LayerReport(name=name, state="missing", read="not given"))
            continue
        count = 0 if name == "power_lines" and wish.wires == "none in data" else 12
        rows.append(LayerReport(
            name=name, state="usable", read=f"{count} features from {name}.gpkg", date=dt.date(2026, 8, 2),
            source=LONG_NAME if wish.long else "walked by the operator, not complete",
        ))  # fmt: skip
    return tuple(rows)


def overview_of(wish: Wish) -> Backdrop:
    """The ranch on a grid, with the layers."""
    bounds = Bounds(WEST, SOUTH, WEST + SIDE, SOUTH + SIDE).padded(400.0)
    grid = Grid.covering(bounds, cell_m=15.0, crs=CRS)
    elevation = heights(*middles(grid)).astype(np.float32) if wish.terrain else None
    return Backdrop(grid=grid, date=DATE, elevation=elevation, vectors=vectors(wish))


def stated_place(given: tuple[float, float] | None) -> Place | None:
    """A place that a plan states as longitude and latitude."""
    return None if given is None else at_lon_lat(*given, CRS)


@lru_cache(maxsize=64)
def _built(wish: Wish) -> MadeDrop:
    plan = plan_of(wish)
    base = base_of(plan, wish)
    drops = tuple(site_drop(n, at, plan, wish) for n, at in enumerate(set_places(wish), start=1))
    loads = loads_of([d.site for d in drops], plan, wish)
    grid = Grid.covering(Bounds(WEST, SOUTH, WEST + SIDE, SOUTH + SIDE), cell_m=10.0, crs=CRS)
    none = tuple(
        NoDrop(site=f"DH-{90 + k}", reason="The widest gap within 492 ft is 21 ft wide; 39 ft is asked for.")
        for k in range(wish.none)
    )
    at = base.place if base else drops[0].place if drops else None
    missing = ("Power lines: no layer in the plan.",) if wish.wires == "not searched" else ()
    given = plan.brief
    result = DropResult(
        plan=plan, grid=grid, base=base, drops=drops, none=none, loads=tuple(loads),
        rounds=rounds_of(loads, base, drops, plan) if base else (), is_least=wish.drops * wish.parts <= 12,
        by_foot=(PackItem(site="", item="loppers", count=1, dry_kg=1.2, weighed=True),
                 PackItem(site="", item="drinking water", count=2, dry_kg=3.8)),
        daylight=daylight(plan.date, at.lat, at.lon) if at else None,
        magnetic_error_deg=magnetism(at.lat, at.lon, plan.date).error_deg if at and wish.turn is None else 0.0,
        reports=reports_of(wish),
        not_searched=(*missing, *NEVER),
        notes=() if base else ("The plan states no base: legs, flights and their order are not worked out.",),
        hospital=stated_place(given.hospital_place), evacuation=stated_place(given.evacuation),
        road_end=stated_place(given.road_end),
    )  # fmt: skip
    return MadeDrop(result=result, overview=overview_of(wish))


def made_drop(**wishes: Any) -> MadeDrop:
    """A brief as wished; the same wishes give the same object."""
    return _built(Wish(**wishes))
