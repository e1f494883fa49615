"""Hard stops on a square ranch where every area is known in closed form."""

from __future__ import annotations

import datetime as dt
import math
import tomllib

import geopandas as gpd
import numpy as np
import pytest
import shapely

from boscage.model.fields import burn
from boscage.model.layers import LayerReport, VectorLayer
from boscage.model.plan import plan_from_table
from boscage.model.rules import Rule
from boscage.model.scene import Scene, Surface
from boscage.siting.land import make_land
from boscage.siting.stops import cells_to_shape, find_stops, stopped_cells
from boscage.values import Grid, Length

CRS = "EPSG:32615"
X, Y = 500_000.0, 4_000_000.0
SIDE = 2000.0
DAY = dt.date(2026, 11, 21)
RING = 18.288 / (2 * math.pi)
PLAN = """
[ranch]
name = "Square"
[layers]
parcels = "p.gpkg"
canopy_cover = "c.tif"
[stops]
"""


def rules() -> dict[str, Rule]:
    common = {"text": "t", "citation": "c", "checked": dt.date(2026, 1, 1)}
    reach = {"dwelling": 400.0, "public_road": 90.0, "parcel_line": 0.0, "power_line": 30.0, "water": 9.0}
    made = {name: Rule(stop=name, distance=Length(m), **common) for name, m in reach.items()}
    made |= {name: Rule(stop=name, **common) for name in ("permission", "no_go")}
    made["steep"] = Rule(stop="steep", percent=25.0, **common)
    made["flood"] = Rule(stop="flood", classes=("frequent",), **common)
    return made


def layer(name: str, shapes: list[shapely.Geometry], **columns: object) -> VectorLayer:
    frame = gpd.GeoDataFrame(columns, geometry=shapes, crs=CRS)
    return VectorLayer(name=name, frame=frame, report=LayerReport(name=name, state="usable", read=""))


def square(u0: float, v0: float, u1: float, v1: float) -> shapely.Polygon:
    return shapely.box(X + u0, Y + v0, X + u1, Y + v1)


def scene_of(
    text: str = "", slope: np.ndarray | None = None, tops: np.ndarray | None = None, **layers: VectorLayer
) -> tuple:
    parcels = layers.pop("parcels", None) or layer(
        "parcels", [square(0, 0, SIDE, SIDE)], parcel=["1"], access=["granted"]
    )
    land = make_land(parcels.frame)
    grid = Grid(CRS, X, Y + SIDE, 10.0, 200, 200)
    plan = plan_from_table(tomllib.loads(PLAN + text), file="p", folder=".", today=DAY)
    surfaces = {} if slope is None else {"slope": Surface(values=slope.astype(np.float32), note="")}
    surfaces |= {} if tops is None else {"canopy_top": Surface(values=tops.astype(np.float32), note="")}
    scene = Scene(
        plan=plan, grid=grid, date=DAY, surfaces=surfaces, vectors={"parcels": parcels, **layers},
        granted=burn(land.granted, grid), ranch=burn(land.ranch, grid), digests={},
    )  # fmt: skip
    return scene, land, {a.name: a for a in find_stops(scene, land, rules())}


def test_setbacks_have_the_area_of_their_construction() -> None:
    house = layer("dwellings", [shapely.Point(X + 1000, Y + 1000)])
    road = layer("tracks", [shapely.LineString([(X - 500, Y + 1500), (X + 2500, Y + 1500)])], public=[True])
    scene, _, areas = scene_of(dwellings=house, tracks=road)
    for name, exact in (("dwelling", math.pi * (400 + RING) ** 2 / 1e4), ("public_road", 2 * (90 + RING) * SIDE / 1e4)):
        assert exact * (1 - 1e-9) <= areas[name].hectares <= exact * 1.0004, name
    mask = stopped_cells((areas["dwelling"],), scene.grid)
    rows, cols = np.nonzero(~mask)
    far = [
        math.hypot(*np.subtract(scene.grid.centre(r, c), (X + 1000, Y + 1000))) for r, c in zip(rows, cols, strict=True)
    ]
    assert min(far) >= 400 + RING


def test_parcel_line_is_an_inset_of_each_owners_land() -> None:
    """Two granted parcels side by side with a gap of half a metre. Of one owner, the line between them stops nothing;
    of two owners, or of owners not stated, there may be a fence and the map may be off."""
    shapes = [square(0, 0, 1000, SIDE), square(1000.5, 0, SIDE, SIDE)]
    inset = 15.24 + RING
    one = SIDE**2 - (SIDE - 2 * inset) ** 2
    two = one + 2 * inset * (SIDE - 2 * inset)
    for owners, expected in ((["A", "A"], one), (["A", "B"], two), ([None, None], two)):
        pair = layer("parcels", shapes, parcel=["1", "2"], owner=owners, access=["granted", "granted"])
        _, land, areas = scene_of(parcels=pair)
        assert land.granted.geom_type == "Polygon"
        assert areas["parcel_line"].hectares == pytest.approx(expected / 1e4, rel=4e-3), owners


def test_where_parcels_overlap_the_stricter_access_holds() -> None:
    pair = layer("parcels", [square(0, 0, 1200, SIDE), square(800, 0, SIDE, SIDE)], parcel=["1", "2"],
                 access=["granted", "refused"])  # fmt: skip
    scene, land, areas = scene_of(parcels=pair)
    assert land.granted.area == pytest.approx(800 * SIDE)
    assert areas["permission"].hectares == pytest.approx(1200 * SIDE / 1e4)
    assert not scene.granted[:, 80:].any()


def test_missing_layers_are_said_and_stop_nothing() -> None:
    _, _, areas = scene_of()
    for name in ("dwelling", "public_road", "power_line", "water", "no_go", "steep", "flood"):
        assert not areas[name].applied
        assert areas[name].hectares == 0.0
        assert "not the same as none" in areas[name].note


def test_a_stop_can_be_switched_off_and_that_is_said() -> None:
    house = layer("dwellings", [shapely.Point(X + 1000, Y + 1000)])
    _, _, areas = scene_of('switched_off = ["dwelling"]', dwellings=house)
    assert not areas["dwelling"].applied
    assert areas["dwelling"].note == "switched off in the plan"


@pytest.mark.parametrize(
    "start, until, active",
    [
        (None, None, True),
        ("2026-10-01", "2026-12-15", True),
        ("2026-12-21", None, True),
        ("2026-12-22", None, False),
        (None, "2026-11-21", True),
        (None, "2026-11-20", False),
        ("11-01", "02-15", True),
        ("03-01", "11-20", False),
        ("12-20", "12-31", True),
    ],
)
def test_dated_areas_count_while_the_set_may_be_up(start: str | None, until: str | None, active: bool) -> None:
    """The set may be up from 2026-11-21 for 30 days, to 2026-12-21."""
    area = layer("no_go", [square(500, 500, 900, 900)], reason=["calves"], from_date=[start], until_date=[until])
    _, _, areas = scene_of(no_go=area)
    assert (areas["no_go"].hectares > 0) is active
    if active:
        grown = 400 * 400 + 4 * 400 * RING + math.pi * RING**2
        assert areas["no_go"].hectares == pytest.approx(grown / 1e4, rel=1e-3)
        assert "calves" in areas["no_go"].note


def test_steep_ground_by_cell() -> None:
    slope = np.full((200, 200), 0.1)
    slope[20:30, 40:80] = 0.26
    slope[100:, :] = np.nan
    scene, _, areas = scene_of(slope=slope)
    assert areas["steep"].hectares == pytest.approx(10 * 40 * 0.01)
    assert np.array_equal(stopped_cells((areas["steep"],), scene.grid), slope > 0.25)
    assert "slope not known on 50% of the ranch" in areas["steep"].note


def test_a_power_line_reaches_one_and_a_half_times_the_trees_beside_it() -> None:
    line = layer("power_lines", [shapely.LineString([(X, Y + 1000), (X + SIDE, Y + 1000)])])
    tops = np.full((200, 200), 40.0)
    tops[:, :100] = 2.0
    scene, _, areas = scene_of(power_lines=line, tops=tops)
    mask = stopped_cells((areas["power_line"],), scene.grid)
    distance = np.abs(scene.grid.north - (np.arange(200) + 0.5) * 10 - (Y + 1000))
    assert np.array_equal(mask[:, 20], distance <= 30 + RING)
    assert np.array_equal(mask[:, 180], distance < 60 + RING)


def test_flood_classes_of_the_soil_map() -> None:
    soils = layer("soils", [square(0, 0, 300, SIDE), square(300, 0, SIDE, SIDE)], flood_class=["frequent", "rare"])
    _, _, areas = scene_of(soils=soils)
    assert areas["flood"].hectares == pytest.approx(300 * SIDE / 1e4)


def test_old_rules_are_marked() -> None:
    assert not rules()["water"].is_stale(DAY)
    assert rules()["water"].is_stale(dt.date(2027, 1, 2))


def test_cells_to_shape_covers_exactly_the_cells() -> None:
    rng = np.random.default_rng(5)
    grid = Grid(CRS, X, Y, 10.0, 30, 40)
    mask = rng.random((30, 40)) < 0.4
    shape = cells_to_shape(mask, grid)
    assert shape.area == pytest.approx(mask.sum() * 100.0)
    assert np.array_equal(burn(shape.buffer(-0.01), grid), mask)
    assert cells_to_shape(np.zeros((30, 40), bool), grid).is_empty
