"""A made-up ranking and its ground from closed forms, for looking at pages without any file."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import geopandas as gpd
import numpy as np
import pytest
import shapely
from evidence_results import Findings, make_findings, make_standing
from ground_results import make_answer, make_field
from shapely.geometry import LineString, Point, Polygon, box
from way_results import NO_WAY, full_journey, make_exposure, one_leg

from boscage.model.layers import LayerReport
from boscage.model.plan import Plan, plan_from_table
from boscage.model.results import Backdrop, FactorReading, Hazard, Place, ScoutResult, Site, StopArea
from boscage.model.rules import Rule
from boscage.values import Bounds, Grid, Length

CRS = "EPSG:32615"
WEST, SOUTH = 520_000.0, 4_006_000.0
SIDE = 6_000.0
DATE = dt.date(2026, 11, 21)
LONG_NAME = (
    "Żabia Łąka and the Upper Dunnock Hollow timber, pasture, creek bottom, ridge top, glade and old homestead "
    "tracts that are held together under one name which is far too long for any sheet of paper ever"
).ljust(200, ".")


SEEN_BY = (
    "Camera creek crossing, 640 ft away: 21 visits in 24 nights, the last 2 days ago, 8 at one time.",
    "Camera north bench, 0.4 mi away: no visit in 24 nights; that is not the same as no animals.",
)


@dataclass(frozen=True, kw_only=True)
class Made:
    """A ranking with what its maps are drawn on."""

    result: ScoutResult
    overview: Backdrop
    closeups: dict[str, Backdrop]


@dataclass(frozen=True, kw_only=True)
class Wish:
    """What the made-up ranking should be like."""

    sites: int = 12
    units: str = "us"
    paper: str | None = None
    name: str = "Dunnock Hollow Ranch"
    parcel: str = "Creek bottom"
    owner: str = "Dunnock Hollow Land"
    note: str | None = "Invented data for examples. No real place, owner or animal."
    whys: int = 4
    missing: tuple[str, ...] = ("power_lines",)
    bare: bool = False
    reason: str = ""
    close: bool = False
    wide: bool = False
    long: bool = False
    way: str = "full"
    seen: str = "full"
    field: str = "none"
    ground: str = "none"
    found: str = "none"


def heights(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Hills in closed form, metres."""
    u, v = (x - WEST) / 1000.0, (y - SOUTH) / 1000.0
    return (
        300 + 34 * np.sin(1.9 * u + 0.7 * np.sin(1.3 * v)) + 26 * np.cos(2.3 * v - 0.5 * u) + 6 * np.sin(7 * u + 5 * v)
    )


def timber(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Canopy cover in closed form, per cent."""
    u, v = (x - WEST) / 1000.0, (y - SOUTH) / 1000.0
    fine = 14 * np.sin(31 * u + 3 * np.cos(11 * v)) * np.cos(27 * v)
    return np.clip(52 + 44 * np.sin(2.4 * u + 1.1 * v) * np.cos(1.7 * v - u) + fine, 0, 100)


def backdrop(bounds: Bounds, cell_m: float, *, vectors: dict[str, Any], bare: bool = False) -> Backdrop:
    """The closed forms on a grid, with the layers."""
    grid = Grid.covering(bounds, cell_m=cell_m, crs=CRS)
    x = grid.west + (np.arange(grid.cols) + 0.5) * grid.cell_m
    y = grid.north - (np.arange(grid.rows) + 0.5) * grid.cell_m
    xs, ys = np.meshgrid(x, y)
    if bare:
        return Backdrop(grid=grid, date=DATE, vectors=vectors)
    return Backdrop(
        grid=grid, date=DATE, elevation=heights(xs, ys).astype(np.float32), cover=timber(xs, ys).astype(np.float32),
        vectors=vectors,
    )  # fmt: skip


def layers(wish: Wish) -> dict[str, Any]:
    """Vector layers by plan key."""
    w, s = WEST, SOUTH

    def frame(rows: list[dict[str, Any]]) -> gpd.GeoDataFrame:
        return gpd.GeoDataFrame(rows, geometry="geometry", crs=CRS)

    parcels = [
        {"parcel": wish.parcel, "owner": wish.owner, "access": "granted",
         "geometry": Polygon([(w, s), (w + 4200, s), (w + 4000, s + 3100), (w, s + 2900)])},
        {"parcel": "North ridge", "owner": wish.owner, "access": "granted",
         "geometry": Polygon([(w, s + 2900), (w + 4000, s + 3100), (w + 4100, s + 6000), (w, s + 6000)])},
        {"parcel": "Teasel inholding", "owner": "Teasel Creek Partners", "access": "refused",
         "geometry": box(w + 4100, s + 3300, w + 6000, s + 6000)},
        {"parcel": "East forty", "owner": "Estate of the North Forty", "access": "unknown",
         "geometry": box(w + 4250, s, w + 6000, s + 3000)},
    ]  # fmt: skip
    if wish.wide:
        parcels.append({"parcel": "Far east", "owner": wish.owner, "access": "granted",
                        "geometry": box(w + 6000, s + 2000, w + 16000, s + 3500)})  # fmt: skip
    t = np.linspace(0, 1, 80)
    made = {
        "parcels": frame(parcels),
        "tracks": frame([
            {"class": "road", "name": "County Road 12", "public": True,
             "geometry": LineString(np.column_stack([w + 300 + 250 * np.sin(5 * t), s - 200 + 6400 * t]))},
            {"class": "track", "name": "ridge track", "public": False,
             "geometry": LineString(np.column_stack([w + 400 + 3600 * t, s + 2300 + 500 * np.sin(6 * t)]))},
            {"class": "trail", "name": "", "public": False,
             "geometry": LineString(np.column_stack([w + 2000 + 300 * np.sin(9 * t), s + 2500 + 3000 * t]))},
        ]),
        "gates": frame([
            {"name": "main gate", "kind": "entry", "state": "locked", "geometry": Point(w + 400, s + 2300)},
            {"name": "", "kind": "inner", "state": "open", "geometry": Point(w + 2200, s + 2370)},
        ]),
        "fences": frame([
            {"name": "north fence", "kind": "", "geometry": LineString([(w + 100, s + 2500), (w + 3900, s + 2450)])},
        ]),
        "water": frame([
            {"name": "Dunnock Creek", "class": "perennial",
             "geometry": LineString(np.column_stack([w + 200 + 5500 * t, s + 1500 + 420 * np.sin(7 * t)]))},
            {"name": "Wren Draw", "class": "intermittent",
             "geometry": LineString(np.column_stack([w + 1500 + 200 * np.sin(8 * t), s + 1700 + 2800 * t]))},
            {"name": "Teal Pond", "class": "pond", "geometry": Point(w + 2900, s + 3900).buffer(90)},
        ]),
        "dwellings": frame([{"name": "house 1", "geometry": Point(w + 700, s + 800)},
                            {"name": "house 2", "geometry": Point(w + 640, s + 5200)}]),
        "power_lines": frame([{"voltage_kv": 69,
                               "geometry": LineString([(w - 100, s + 5200), (w + 2500, s + 6100)])}]),
        "no_go": frame([{"reason": "cattle with calves", "from_date": "2026-10-01", "until_date": "2026-12-15",
                         "geometry": Point(w + 3300, s + 700).buffer(420)}]),
        "sign": frame(sign_rows()),
    }  # fmt: skip
    return {k: v for k, v in made.items() if k not in wish.missing}


def sign_rows() -> list[dict[str, Any]]:
    """Sign of every kind and age along the creek."""
    kinds = ("rooting", "wallow", "rub", "trail", "track", "scat", "bed")
    rows = []
    for k in range(56):
        x = WEST + 600 + 90 * k + 40 * np.sin(3.0 * k)
        y = SOUTH + 1500 + 420 * np.sin(7 * (90 * k + 400) / 5500) + 130 * np.cos(5.0 * k)
        age = (1, 2, 9, 40, 120)[k % 5]
        rows.append({"kind": kinds[k % 7], "age_days": float(age), "date": str(DATE - dt.timedelta(days=age)),
                     "geometry": Point(x, y)})  # fmt: skip
    return rows


def plan(wish: Wish) -> Plan:
    """A plan as a file would give it."""
    ranch: dict[str, Any] = {"name": wish.name, "units": wish.units, "crs": CRS, "date": DATE}
    if wish.note:
        ranch["note"] = wish.note
    table: dict[str, Any] = {
        "ranch": ranch,
        "layers": {"parcels": "parcels.gpkg", "canopy_cover": "canopy_cover.tif"},
        **({"sheets": {"paper": wish.paper}} if wish.paper else {}),
    }
    return plan_from_table(table, file="plan.toml", folder=".", today=DATE)


def stop(name: str, title: str, geometry: Any, **own: Any) -> StopArea:
    """A stop that was applied, with a rule."""
    rule = Rule(
        stop=name, distance=Length(402.336), text="A quarter of a mile from an occupied dwelling.",
        citation="common practice, no source; look up the state's and county's own distances",
        checked=dt.date(2025, 1, 15), place="private land in the United States",
    )  # fmt: skip
    given: dict[str, Any] = {"rule": rule, "distance_m": 402.336, "stale": True, **own}
    return StopArea(name=name, title=title, hectares=geometry.area / 1e4, geometry=geometry, **given)


def stops() -> tuple[StopArea, ...]:
    """Stops of every sort."""
    house = Point(WEST + 700, SOUTH + 800).buffer(402.3).union(Point(WEST + 640, SOUTH + 5200).buffer(402.3))
    creek = layers(Wish())["water"].geometry.iloc[0].buffer(9.2)
    refused = box(WEST + 4100, SOUTH + 3300, WEST + 6000, SOUTH + 6000)
    steep = Point(WEST + 2500, SOUTH + 2400).buffer(160)
    empty = StopArea(
        name="power_line", title="near a power line", hectares=0.0, geometry=Polygon(), rule=None, distance_m=None,
        stale=False, note="power lines: no layer given", applied=False,
    )  # fmt: skip
    return (
        stop("permission", "no permission", refused, rule=None, distance_m=None, stale=False),
        stop("dwelling", "near a dwelling", house),
        stop("water", "water and its edge", creek, distance_m=9.144, stale=False),
        stop("steep", "floor too steep", steep, distance_m=None, stale=False),
        empty,
    )


def readings(rank: int) -> tuple[FactorReading, ...]:
    """Six factors, one without data."""
    rows = (
        ("cover", "canopy cover", 0.91, 3.0, "Canopy cover is 78 % over the ring and 71 % within 330 ft."),
        ("use", "fresh use", 0.84, 3.0, "14 fresh signs within 1,000 ft; the newest is 1 day old."),
        ("water", "water near", 0.62, 2.0, "Water is 890 ft away, at Dunnock Creek."),
        ("floor", "flat floor", 0.97, 2.0, "The floor slopes 3 % with bumps of 4 in across the ring."),
        ("access", "way in", 0.55, 2.0, "The carry from the ridge track is 460 ft, 14 minutes with a load."),
        ("ground", "ground for stakes", None, 1.0, "No soil data here: test the stakes."),
    )
    return tuple(
        FactorReading(
            name=n, title=t, value=v if v is None else max(0.0, v - 0.02 * rank), weight=w,
            points=0.0 if v is None else 100 * v * w / 13, sentence=s,
        )
        for n, t, v, w, s in rows
    )  # fmt: skip


def hazard_rows() -> tuple[Hazard, ...]:
    """The nearest of each kind, one missing."""
    source = "tracks.gpkg, drawn by the operator, 2026-08-02"
    rows = (
        (
            "power_line",
            "power line",
            None,
            None,
            "no layer given",
            "No layer in the plan: this is no evidence of none.",
        ),
        ("dwelling", "dwelling", 960.0, 201.0, "house 1", "dwellings.gpkg, operator, 2026-08-02"),
        ("public_road", "public road", 1430.0, 274.0, "County Road 12", source),
        ("parcel_line", "land without permission", 320.0, 88.0, "East forty, unknown", "parcels.gpkg, 2026-05-01"),
        ("water", "water", 270.0, 187.0, "Dunnock Creek", "water.gpkg, 2026-03-01"),
        (
            "no_go",
            "no-go area",
            640.0,
            133.0,
            "cattle with calves, to 2026-12-15",
            "no_go.gpkg, the manager, 2026-11-01",
        ),
    )
    return tuple(Hazard(kind=k, title=t, distance_m=d, bearing_deg=b, detail=x, source=s) for k, t, d, b, x, s in rows)


def reasons(count: int, site: str) -> tuple[str, ...]:
    """Sentences for one site."""
    first = (
        "Fresh use: 14 signs up to 3 days old within 1,000 ft, most of them along the draw below the bench.",
        "Dense timber: canopy cover 78 % over the ring, so the group can come up under cover all the way.",
        "Short carry: 460 ft from the ridge track, downhill and without a creek to cross.",
        f"It outranks the next site by 4 points, 3 of them from fresh use; {site} stays first in 71 % of trials.",
    )
    return (first * (count // 4 + 1))[:count]


def make_journey(x: float, y: float, wish: Wish) -> Any:
    """The way in to a site, as wished."""
    ground = None if wish.bare else heights
    if wish.way == "full":
        return full_journey(x, y, ground, start=f"the gate {LONG_NAME}" if wish.long else "the gate Sorrel gate")
    return {"one": one_leg(x, y, ground), "barred": NO_WAY, "unknown": None}[wish.way]


def make_sight(x: float, y: float, wish: Wish) -> Any:
    """Who sees a site, as wished."""
    if wish.seen == "unknown":
        return None
    names = (LONG_NAME, LONG_NAME, LONG_NAME) if wish.long else ("County Road 12", "", "house 1")
    return make_exposure(x, y, seen=0.0 if wish.seen == "nobody" else 1.0, names=names)


def make_site(rank: int, wish: Wish) -> Site:
    """The site of a rank."""
    row, col = divmod(rank - 1, 4)
    step = 60.0 if wish.close else 800.0
    x, y = WEST + 1100 + col * step + 45 * (rank % 3), SOUTH + 2150 + row * step * 0.8 + 60 * (rank % 2)
    lat, lon = 36.21 + (y - SOUTH) / 111_000, -92.77 + (x - WEST) / 90_000
    place = Place(
        x_m=x, y_m=y, lon=lon, lat=lat, decimal=f"{lat:.6f} N  {-lon:.6f} W",
        ddm=f"36 {(lat - 36) * 60:.3f} N  092 {(-lon - 92) * 60:.3f} W", usng="15S WA 21234 08152",
        convergence_deg=0.18,
    )  # fmt: skip
    return Site(
        site=f"DH-{rank:02d}", rank=rank, score=max(1, 88 - 4 * rank), exact_score=88.0 - 4 * rank, place=place,
        parcel=wish.parcel, owner=wish.owner, readings=readings(rank), data_share=0.92, support="trees",
        support_note="About 9 stems of 8 in and more are expected within 30 ft of the middle; count them on the spot.",
        why=reasons(wish.whys, f"DH-{rank:02d}"), hazards=hazard_rows(), elevation_m=312.4,
        journey=make_journey(x, y, wish), exposure=make_sight(x, y, wish),
        ground=make_answer(kind=wish.ground, long=LONG_NAME if wish.long else ""),
        standing=make_standing(rank) if wish.found != "none" else None,
        seen_by=SEEN_BY if wish.found not in ("none", "bare") and rank == 1 else (),
        flags=("Within 350 ft of land without permission: walk the line before the set goes up.",),
    )  # fmt: skip


def make_found(grid: Grid, vectors: dict[str, Any], sites: tuple[Site, ...], wish: Wish) -> Findings:
    """What else was found, as wished."""
    parcels = vectors["parcels"]
    land = parcels[parcels["access"] == "granted"].union_all()
    kind = f"long:{LONG_NAME}" if wish.long and wish.found == "full" else wish.found
    return make_findings(grid, sites, land, kind=kind, west=WEST, south=SOUTH)


def make_ground(grid: Grid, vectors: dict[str, Any], wish: Wish) -> Any:
    """The ground of the ranch, as wished, known on parcels alone."""
    if wish.field == "none":
        return None
    x = grid.west + (np.arange(grid.cols) + 0.5) * grid.cell_m
    y = grid.north - (np.arange(grid.rows) + 0.5) * grid.cell_m
    inside = shapely.contains_xy(vectors["parcels"].union_all(), *np.meshgrid(x, y))
    return make_field(grid, inside, west=WEST, south=SOUTH, kind=wish.field)


def reports(wish: Wish) -> tuple[LayerReport, ...]:
    """One report a layer."""
    names = (
        "parcels",
        "canopy_cover",
        "terrain",
        "tracks",
        "dwellings",
        "water",
        "power_lines",
        "no_go",
        "soils",
        "sign",
    )
    out = []
    for name in names:
        if name in wish.missing:
            out.append(LayerReport(name=name, state="missing", read="not given"))
        else:
            doubts = ("3 rows have no date: fill in the column.",) if name == "sign" else ()
            out.append(LayerReport(
                name=name, state="doubtful" if doubts else "usable", read=f"12 features from {name}.gpkg",
                coverage=0.97 if name in ("canopy_cover", "terrain", "soils") else None, date=dt.date(2026, 8, 2),
                doubts=doubts, source="walked by the operator with a hand-held receiver, not complete",
            ))  # fmt: skip
    return tuple(out)


def build(**wishes: Any) -> Made:
    """A ranking with its ground, as wished."""
    wish = Wish(**wishes)
    if wish.long:
        wish = replace(wish, name=LONG_NAME, parcel=LONG_NAME, owner=LONG_NAME, note=LONG_NAME)
    vectors = layers(wish)
    sites = tuple(make_site(k, wish) for k in range(1, wish.sites + 1))
    whole = Bounds(WEST, SOUTH, WEST + SIDE + (10_000.0 if wish.wide else 0.0), SOUTH + SIDE)
    overview = backdrop(whole.padded(300.0), 11.0, vectors=vectors, bare=wish.bare)
    grid = overview.grid
    found = make_found(grid, vectors, sites, wish)
    result = ScoutResult(
        plan=plan(wish), grid=grid, score=np.zeros(grid.shape, np.float32), stopped=np.zeros(grid.shape, bool),
        sites=sites, stops=stops(), reports=reports(wish), ranch_ha=3470.0, granted_ha=2410.0, open_ha=1630.0,
        notes=("Soils are missing: the factor on stakes has no data.",), reason=wish.reason,
        factor_weights={"cover": 3.0, "use": 3.0, "water": 2.0, "floor": 2.0, "access": 2.0, "ground": 1.0,
                        "concealment": 0.0},
        ground=make_ground(grid, vectors, wish), evidence=found.evidence, moves=found.moves,
        weighting=found.weighting, steadiness=found.steadiness, together=found.together,
    )  # fmt: skip
    closeups = {
        s.site: backdrop(
            Bounds(s.place.x_m - 240, s.place.y_m - 210, s.place.x_m + 240, s.place.y_m + 210), 1.0, vectors=vectors,
            bare=wish.bare,
        )
        for s in sites
    }  # fmt: skip
    return Made(result=result, overview=overview, closeups=closeups)


@pytest.fixture(scope="session")
def make() -> Callable[..., Made]:
    """The builder; every call makes a ranking as wished."""
    return build
