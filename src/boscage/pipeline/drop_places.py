"""Where each site's load comes down, and everything that the brief says of that place."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from boscage.airlift.air import air_at
from boscage.airlift.coordinates import place_at
from boscage.airlift.drop_points import DropGround, Wires, find_drop
from boscage.airlift.horizon import Horizon, terrain_horizon, terrain_light
from boscage.airlift.landing import find_landings
from boscage.airlift.legs import geodesic
from boscage.airlift.magnetic import declination
from boscage.airlift.misread import misreads
from boscage.model.brief import CarryOver, DropSite, Landing
from boscage.model.drop import APPROACH_LENGTH_M, HELICOPTERS, DropPoint, NoDrop
from boscage.model.fields import burn
from boscage.model.layers import LayerReport, LayerSet
from boscage.model.plan import Plan
from boscage.model.results import Place
from boscage.model.scene import Scene
from boscage.readers.drop_ground import read_canopy, read_far_terrain, read_terrain
from boscage.siting.land import Land
from boscage.siting.sites import find_hazards
from boscage.values import Grid, Printer
from boscage.ways.carry import carry_between
from boscage.ways.terrain import WayGround

WIDE_CELL_M = 3.0
HORIZON_M = 10_000.0
OLD_YEARS = 5.0
LANDINGS = 2


@dataclass(frozen=True, kw_only=True, eq=False)
class DropScene:
    """What drop points are sought on.

    Attributes:
        barred: Shapes that a load may not come down on: land without permission, no-go areas, water.
        way_ground: What is walked over.
        loads_kg: Mass to be carried from the drop to the set, by site.
    """

    plan: Plan
    layers: LayerSet
    scene: Scene
    land: Land
    barred: Any
    way_ground: WayGround
    loads_kg: Mapping[str, float]

    @property
    def wires(self) -> Wires | None:
        """Wires in the data, or None where the plan gives no such layer."""
        layer = self.layers.vectors.get("power_lines")
        if layer is None:
            return None
        return Wires(
            shapes=tuple(layer.frame.geometry.to_numpy()), source=layer.report.source, date=layer.report.date
        )  # fmt: skip

    def report(self, name: str) -> LayerReport:
        """What is known of a layer."""
        return next(r for r in self.layers.reports if r.name == name)


def barred_ground(scene: Scene, land: Land, no_go: Any, around: Sequence[tuple[float, float]], reach_m: float) -> Any:
    """Ground near the sites that no load may come down on, as one shape."""
    near = shapely.union_all([shapely.Point(p).buffer(reach_m) for p in around])
    shapes = [shapely.difference(near, land.granted), shapely.intersection(near, no_go)]
    water = scene.vectors.get("water")
    if water is not None:
        wet = shapely.force_2d(water.frame.geometry.to_numpy())
        shapes += list(wet[shapely.get_dimensions(wet) == 2])
    return shapely.union_all(shapes)


def find_site(ground: DropScene, row: Mapping[str, Any]) -> DropSite | NoDrop:
    """The drop of one ranked site.

    Args:
        row: Of `scout.json`.
    """
    plan = ground.plan
    name, at = str(row["site"]), (float(row["x_m"]), float(row["y_m"]))
    printer = Printer(plan.ranch.units)
    reach = plan.gap.reach.m + max(plan.gap.near.m, 2.0 * plan.gap.reach.m)
    point = find_drop(name, at, _ground(ground, at, reach), plan.gap, printer)
    if not isinstance(point, DropPoint):
        return point
    here = (point.gap.x_m, point.gap.y_m)
    place, set_place = _at(ground, here), _at(ground, at)
    horizon, unknown = _light(ground, here, place)
    bearing = geodesic(place.lat, place.lon, set_place.lat, set_place.lon)[1]
    carry = carry_between(ground.scene, ground.way_ground, (here, at), ground.loads_kg.get(name, 0.0))
    drop = plan.drop
    turn = drop.declination
    reports = {r.name: r for r in ground.layers.reports}
    return DropSite(
        site=name, parcel=str(row.get("parcel") or ""), owner=str(row.get("owner") or ""), point=point, place=place,
        set_place=set_place, set_bearing_deg=bearing,
        declination_deg=declination(place.lat, place.lon, plan.date) if turn is None else turn,
        air=air_at(point.elevation_m, drop.temperature_c, drop.altimeter_hpa, drop.dew_point_c),
        light=terrain_light(plan.date, place.lat, place.lon, horizon), misreads=misreads(place.lat, place.lon),
        carry=carry, landings=_landings(ground, here, place),
        hazards=find_hazards(ground.scene, ground.land, here, reports, place.convergence_deg),
        flags=(*_flags(ground, point, carry, printer), *unknown),
    )  # fmt: skip


def _ground(ground: DropScene, at: tuple[float, float], reach_m: float, cell_m: float = 0.0) -> DropGround:
    grid, canopy = read_canopy(ground.layers, at, reach_m, cell_m)
    return DropGround(
        grid=grid, canopy_m=canopy, terrain_m=read_terrain(ground.layers, grid), wires=ground.wires,
        barred=_barred(ground, grid),
    )  # fmt: skip


def _barred(ground: DropScene, grid: Grid) -> NDArray[np.bool_]:
    b = grid.bounds
    part = shapely.clip_by_rect(ground.barred, b.west, b.south, b.east, b.north)
    return burn(part, grid) if not part.is_empty else np.zeros(grid.shape, dtype=bool)


def _at(ground: DropScene, at: tuple[float, float]) -> Place:
    return place_at(*at, ground.scene.grid.crs)


def _light(ground: DropScene, here: tuple[float, float], place: Place) -> tuple[Horizon, tuple[str, ...]]:
    """The horizon, level and unknown without terrain."""
    far = read_far_terrain(ground.layers, here, HORIZON_M)
    if far is None:
        grid = Grid.covering(ground.layers.ranch, cell_m=100.0, crs=ground.layers.crs)
        nothing = np.full(grid.shape, np.nan, np.float32)
        return terrain_horizon(nothing, grid, here), ("No terrain: the horizon is not known.",)
    grid, terrain = far
    made = terrain_horizon(terrain, grid, here, reach_m=HORIZON_M, convergence_deg=place.convergence_deg)
    return made, ()


def _landings(ground: DropScene, here: tuple[float, float], place: Place) -> tuple[Landing, ...]:
    """Places to land near a drop point, with their distance and true bearing from it."""
    drop = ground.plan.drop
    kind = HELICOPTERS[drop.helicopter]
    reach = drop.landing_reach.m
    if reach <= 0.0:
        return ()
    wide = _ground(ground, here, 2.0 * reach + kind.circle_m + APPROACH_LENGTH_M, WIDE_CELL_M)
    landings = []
    for found in find_landings(here, wide, kind, reach_m=reach, count=LANDINGS):
        there = _at(ground, (found.gap.x_m, found.gap.y_m))
        away, bearing, _ = geodesic(place.lat, place.lon, there.lat, there.lon)
        landings.append(Landing(found=found, place=there, away_m=away, bearing_deg=bearing))
    return tuple(landings)


def _flags(ground: DropScene, point: DropPoint, carry: object, printer: Printer) -> list[str]:
    """What a pilot or a crew must not overlook at the place."""
    flags = []
    if point.wires.standing == "flag":
        flags.append(point.wires.text)
    canopy = ground.report("canopy_height")
    if canopy.date is None:
        flags.append("Nobody says when the canopy heights were made: trees have grown since.")
    elif (ground.plan.date - canopy.date).days > OLD_YEARS * 365.25:
        flags.append(f"The canopy heights are of {canopy.date.isoformat()}: trees have grown since.")
    if not isinstance(carry, CarryOver):
        flags.append(getattr(carry, "reason", ""))
    elif not math.isnan(carry.climb_m) and carry.climb_m > 15.0:
        flags.append(f"The carry to the set climbs {printer.height(carry.climb_m)}.")
    return [f for f in flags if f]
