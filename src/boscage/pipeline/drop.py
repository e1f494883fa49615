"""`boscage drop`: where loads come down, who flies what in which order, and the brief for the pilot."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from boscage.airlift.air import air_at
from boscage.airlift.coordinates import at_lon_lat
from boscage.airlift.flights import flight_of, plan_flights
from boscage.airlift.legs import Stop
from boscage.airlift.magnetic import declination, magnetism
from boscage.airlift.sun import daylight
from boscage.errors import InputError
from boscage.exports.drop import drop_share, drop_table
from boscage.exports.gpx import write_gpx
from boscage.exports.kml import write_kml
from boscage.exports.staging import staged
from boscage.exports.store import Store
from boscage.exports.tables import write_json
from boscage.model.brief import Base, DropResult, DropSite
from boscage.model.drop import NoDrop
from boscage.model.layers import LayerReport, LayerSet
from boscage.model.pack import PackItem
from boscage.model.plan import Plan
from boscage.model.results import Backdrop, Place
from boscage.pipeline.drop_places import DropScene, barred_ground, find_site
from boscage.pipeline.pack import site_needs
from boscage.pipeline.progress import Progress, silent
from boscage.pipeline.rig import chosen_sites
from boscage.pipeline.scene import make_scene
from boscage.pipeline.slung import carried_kg, hook_loads
from boscage.plugins import load_readers
from boscage.readers.backdrop import read_backdrop
from boscage.readers.drop_ground import read_terrain
from boscage.readers.last_run import read_together
from boscage.readers.layers import read_layers
from boscage.readers.plan_file import read_plan
from boscage.readers.rules import read_rules
from boscage.sheets.dropbrief import print_drop_brief
from boscage.siting.land import make_land
from boscage.siting.stops import find_stops
from boscage.values import Bounds, Grid
from boscage.ways.terrain import make_ground

MAP_CELLS, MAP_MARGIN_M = 900, 400.0
HAZARD_LAYERS = ("power_lines", "dwellings", "no_go", "fences", "tracks", "canopy_height", "terrain")
NEVER_SEARCHED = (
    "Towers and masts with their guys, wires that the layer does not hold, electric fences across draws, cables at "
    "gauges and pumps: ask the landowner and walk it.",
    "Stumps, rocks, holes and loose matter on the ground of a gap.",
    "Other aircraft, military routes, airspace and notices for the day.",
    "Stock and people near the drop on the day.",
)
NO_BASE = "The plan states no base: legs, flights and their order are not worked out."
NO_LIMIT = "No load limit is stated: everything for a site is one load, for the pilot to divide."
NO_RIGGING = "The mass of line, swivel or sling net is not stated, and it is not taken off the limit."


def drop(
    plan: Plan | str | Path, sites: Sequence[str] = (), *, out: Path, progress: Progress = silent
) -> DropResult:  # fmt: skip
    """The helicopter's brief for ranked sites; writes the outputs of `boscage drop`, all or none.

    Where no site is named: those chosen together by the last ranking, else all of them.

    Raises:
        InputError: The plan or a layer is wrong, no ranking is there, a site is unknown, the base lies far off, or
            the date is outside the magnetic model.
    """
    plan = plan if isinstance(plan, Plan) else read_plan(plan)
    rows = chosen_sites(out, sites or read_together(out))
    progress("reading layers", 0, 1)
    layers = read_layers(plan, load_readers())
    items = site_needs(plan, out, [str(r["site"]) for r in rows])
    ground = _ground(plan, layers, rows, items, (out, progress))
    found: list[DropSite | NoDrop] = []
    for n, row in enumerate(rows):
        progress("finding gaps", n, len(rows))
        found.append(find_site(ground, row))
    result = _result(ground, found, items)
    progress("printing the brief", 0, 1)
    share = drop_share(result)
    with staged(out) as folder:
        write_json(folder / "drop.json", drop_table(result))
        write_gpx(folder / "drop.gpx", share)
        write_kml(folder / "drop.kml", share)
        print_drop_brief(result, _overview(layers, result), folder / "drop_brief.pdf")
    progress("done", 1, 1)
    return result


def _ground(
    plan: Plan, layers: LayerSet, rows: Sequence[dict[str, Any]], items: Sequence[PackItem],
    io: tuple[Path, Progress],
) -> DropScene:  # fmt: skip
    out, progress = io
    land = make_land(layers.vectors["parcels"].frame)
    scene = make_scene(plan, layers, land, Store(out), progress)
    (no_go,) = find_stops(scene, land, read_rules(plan), ("no_go",))
    places = [(float(r["x_m"]), float(r["y_m"])) for r in rows]
    reach = 4.0 * plan.gap.reach.m + 3.0 * plan.drop.landing_reach.m
    return DropScene(
        plan=plan, layers=layers, scene=scene, land=land, way_ground=make_ground(scene, plan.travel),
        barred=barred_ground(scene, land, no_go.geometry, places, reach),
        loads_kg={str(r["site"]): carried_kg(items, str(r["site"])) for r in rows},
    )  # fmt: skip


def _result(ground: DropScene, found: Sequence[DropSite | NoDrop], items: Sequence[PackItem]) -> DropResult:
    plan = ground.plan
    drops = tuple(f for f in found if isinstance(f, DropSite))
    base, notes = _base(ground), []
    loads, unknown = hook_loads(items, [d.site for d in drops], plan)
    notes += unknown
    rounds: tuple[Any, ...] = ()
    is_least = True
    if base is None:
        notes.append(NO_BASE)
        loads = tuple(replace(load, number=n) for n, load in enumerate(loads, start=1))
    elif loads:
        start = Stop(name=base.name, lon=base.place.lon, lat=base.place.lat, height_m=base.elevation_m or 0.0)
        stops = {
            d.site: Stop(name=d.site, lon=d.place.lon, lat=d.place.lat, height_m=d.point.elevation_m or 0.0)
            for d in drops
        }
        loads, rounds, is_least = plan_flights(
            loads, start, stops, flight_of(plan.drop, plan.date), (plan.drop, plan.brief)
        )
    notes += [NO_LIMIT] if plan.drop.load_limit is None else [NO_RIGGING] if plan.brief.rigging_kg is None else []
    at = base.place if base else drops[0].place if drops else None
    reports = tuple(ground.report(n) for n in HAZARD_LAYERS)
    return DropResult(
        plan=plan, grid=ground.scene.grid, base=base, drops=drops, none=tuple(f for f in found if not f), loads=loads,
        rounds=rounds, is_least=is_least, by_foot=tuple(i for i in items if not i.site),
        daylight=None if at is None else daylight(plan.date, at.lat, at.lon),
        magnetic_error_deg=0.0 if at is None or plan.drop.declination is not None
        else magnetism(at.lat, at.lon, plan.date).error_deg,
        reports=reports, not_searched=(*_missing(reports), *NEVER_SEARCHED), notes=tuple(notes),
        **{name: _stated(ground, at) for name, at in _rescue(plan).items()},
    )  # fmt: skip


def _rescue(plan: Plan) -> dict[str, tuple[float, float] | None]:
    return {"hospital": plan.brief.hospital_place, "evacuation": plan.brief.evacuation, "road_end": plan.brief.road_end}


def _stated(ground: DropScene, at: tuple[float, float] | None) -> Place | None:
    return None if at is None else at_lon_lat(*at, ground.scene.grid.crs)


def _missing(reports: Sequence[LayerReport]) -> list[str]:
    words = {"power_lines": "Power lines: no layer in the plan.", "dwellings": "Houses: no layer in the plan.",
             "fences": "Fences: no layer in the plan.", "terrain": "Terrain: no layer in the plan."}  # fmt: skip
    return [words[r.name] for r in reports if r.state == "missing" and r.name in words]


def _base(ground: DropScene) -> Base | None:
    plan = ground.plan
    if plan.drop.base is None:
        return None
    place = at_lon_lat(*plan.drop.base, ground.scene.grid.crs)
    _check_base(ground, place.x_m, place.y_m)
    height = plan.drop.base_elevation.m if plan.drop.base_elevation else _elevation(ground.layers, place.x_m, place.y_m)
    turn = plan.drop.declination
    return Base(
        name=plan.drop.base_name, place=place, elevation_m=height,
        declination_deg=declination(place.lat, place.lon, plan.date) if turn is None else turn,
        air=air_at(height, plan.drop.temperature_c, plan.drop.altimeter_hpa, plan.drop.dew_point_c),
    )  # fmt: skip


FAR_BASE_M = 150_000.0


def _check_base(ground: DropScene, x_m: float, y_m: float) -> None:
    """That the base lies within a flight of the ranch: one that does not is a slip of the pen."""
    b = ground.layers.ranch
    away = max(b.west - x_m, x_m - b.east, b.south - y_m, y_m - b.north)
    if away > FAR_BASE_M:
        raise InputError(
            f"the base lies {away / 1000.0:,.0f} km from the ranch", expected="[longitude, latitude] near the ranch",
            mend="check the order, the sign and the form of the two numbers", file=ground.plan.file,
            field="drop.base",
        )  # fmt: skip


def _elevation(layers: LayerSet, x_m: float, y_m: float) -> float | None:
    grid = Grid.covering(Bounds(x_m - 5.0, y_m - 5.0, x_m + 5.0, y_m + 5.0), cell_m=5.0, crs=layers.crs)
    values = read_terrain(layers, grid)
    if values is None:
        return None
    row, col = grid.index(x_m, y_m)
    height = float(values[row, col])
    return None if math.isnan(height) else height


def _overview(layers: LayerSet, result: DropResult) -> Backdrop:
    """The ground of the brief's map: base, drops, sets and landing places, with room round them."""
    places = [d.place for d in result.drops] + [d.set_place for d in result.drops]
    places += [g.place for d in result.drops for g in d.landings]
    places += [result.base.place] if result.base else []
    b = layers.ranch
    xs, ys = [p.x_m for p in places] or [b.west, b.east], [p.y_m for p in places] or [b.south, b.north]
    wide = Bounds(min(xs), min(ys), max(xs), max(ys)).padded(MAP_MARGIN_M)
    side = max(wide.width, wide.height)  # the page may be higher or wider than what is on it
    middle = ((wide.west + wide.east) / 2.0, (wide.south + wide.north) / 2.0)
    square = Bounds(middle[0] - side, middle[1] - side, middle[0] + side, middle[1] + side)
    return read_backdrop(layers, square, max(2.0, 2.0 * side / MAP_CELLS), result.plan.date)
