"""`drop.json`, and the brief's places as a phone takes them. Metric; null is not stated or not known, never none."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pyproj import Transformer

from boscage.model.brief import CarryOver, DropResult, DropSite, Landing, SlungLoad
from boscage.model.drop import AirDensity, Daylight, Leg, Misread, NoDrop
from boscage.model.journey import NoWay
from boscage.model.results import Hazard, Place
from boscage.model.share import Route, ShareSet, Track, Waypoint


def drop_table(result: DropResult) -> dict[str, Any]:
    """`drop.json`."""
    base = result.base
    return {
        "ranch": result.plan.ranch.name, "date": result.plan.date.isoformat(), "datum": "WGS84",
        "crs": result.grid.crs, "drops": [_drop_row(d) for d in result.drops],
        "no_drop": [_none_row(n) for n in result.none], "legs": _legs(result),
        "loads": [_load_row(load) for load in result.loads],
        "flights": [
            {"flight": r.number, "loads": list(r.loads), "mass_kg": round(r.mass_kg, 3), "minutes": _round(r.minutes),
             "legs": [_leg_row(leg) for leg in r.legs]}
            for r in result.rounds
        ],
        "is_least": result.is_least,
        "base": None if base is None else {
            "name": base.name, **_place_row(base.place), "elevation_m": _round(base.elevation_m, 1),
            "declination_deg": round(base.declination_deg, 2), "air": _air_row(base.air),
        },
        "daylight": None if result.daylight is None else _daylight_row(result.daylight),
        "magnetic_error_deg": round(result.magnetic_error_deg, 2),
        "allowable_load_kg": None,
        "hazard_layers": [
            {"layer": r.name, "state": r.state, "source": r.source or None,
             "date": r.date.isoformat() if r.date else None, "complete": False}
            for r in result.reports
        ],
        "not_searched": list(result.not_searched), "notes": list(result.notes),
        "by_crew": [{"item": i.item, "count": i.count, "mass_kg": _round(i.mass_kg)} for i in result.by_foot],
    }  # fmt: skip


def _legs(result: DropResult) -> list[dict[str, Any]]:
    """Every leg flown, each once."""
    seen: dict[tuple[str, str], dict[str, Any]] = {}
    for leg in (leg for r in result.rounds for leg in r.legs):
        seen.setdefault((leg.start, leg.end), _leg_row(leg))
    return list(seen.values())


def _leg_row(leg: Leg) -> dict[str, Any]:
    return {
        "from": leg.start, "to": leg.end, "distance_m": round(leg.distance_m, 1),
        "true_bearing_deg": round(leg.true_bearing_deg, 2), "magnetic_bearing_deg": _round(leg.magnetic_bearing_deg, 2),
        "minutes": _round(leg.minutes), "heading_deg": _round(leg.heading_deg, 2),
        "ground_speed_kt": _round(leg.ground_speed_kt, 1),
    }  # fmt: skip


def _place_row(place: Place) -> dict[str, Any]:
    lat_ddm, lon_ddm = place.ddm.split("  ")
    return {
        "x_m": round(place.x_m, 2), "y_m": round(place.y_m, 2), "lon": round(place.lon, 7), "lat": round(place.lat, 7),
        "lat_ddm": lat_ddm, "lon_ddm": lon_ddm, "usng": place.usng.replace(" ", ""),
    }  # fmt: skip


def _drop_row(drop: DropSite) -> dict[str, Any]:
    point, wires = drop.point, drop.point.wires
    return {
        "site": drop.site, "point": "open gap, not the set", **_place_row(drop.place),
        "elevation_m": _round(point.elevation_m, 1), "gap_diameter_m": round(point.gap.diameter_m, 2),
        "tallest_near_m": _round(point.tallest_near_m, 1), "declination_deg": round(drop.declination_deg, 2),
        "density_altitude_m": None if drop.air is None else round(drop.air.density_altitude_m, 1),
        "air": _air_row(drop.air), "parcel": drop.parcel or None, "owner": drop.owner or None,
        "suggested_line_m": _round(point.line_m, 2), "floor_slope_percent": _round(point.slope_percent, 1),
        "unknown_canopy_share": round(point.unknown_share, 4),
        "wires": {"distance_m": _round(wires.distance_m, 1), "standing": wires.standing, "source": wires.source or None,
                  "date": wires.date.isoformat() if wires.date else None, "complete": False, "text": wires.text},
        "set": {**_place_row(drop.set_place), "distance_m": round(point.gap.reach_m, 1),
                "true_bearing_deg": round(drop.set_bearing_deg, 1)},
        "carry": _carry_row(drop.carry), "landings": [_landing_row(g) for g in drop.landings],
        "terrain_light": {"first_sun": _utc(drop.light.first_sun), "last_sun": _utc(drop.light.last_sun),
                          "horizon_known_share": round(drop.light.known_share, 4)},
        "misread": [_misread_row(m) for m in drop.misreads], "hazards": [_hazard_row(h) for h in drop.hazards],
        "notes": list(point.notes), "flags": list(drop.flags),
    }  # fmt: skip


def _carry_row(carry: CarryOver | NoWay | None) -> dict[str, Any] | None:
    if carry is None:
        return None
    if isinstance(carry, NoWay):
        return {"reachable": False, "reason": carry.reason}
    return {
        "reachable": True, "distance_m": round(carry.distance_m, 1), "minutes": _round(carry.minutes),
        "trips": carry.trips, "share_kg": round(carry.share_kg, 3), "all_minutes": _round(carry.all_min),
        "climb_m": None if math.isnan(carry.climb_m) else round(carry.climb_m, 1),
    }  # fmt: skip


def _landing_row(landing: Landing) -> dict[str, Any]:
    found = landing.found
    return {
        "type": found.helicopter.name, **_place_row(landing.place), "circle_m": round(found.helicopter.circle_m, 3),
        "pad_m": round(found.helicopter.pad_m, 3), "open_diameter_m": round(found.gap.diameter_m, 2),
        "slope_percent": _round(found.slope_percent, 1), "distance_m": round(landing.away_m, 1),
        "true_bearing_deg": round(landing.bearing_deg, 1),
        "approaches_below_surface_deg": [round(a.bearing_deg, 1) for a in found.below_surface],
        "approaches": [
            {"bearing_deg": round(a.bearing_deg, 1), "over_m": _round(a.over_m, 1), "at_m": _round(a.at_m, 1),
             "known_share": round(a.known_share, 4)}
            for a in found.approaches
        ],
    }  # fmt: skip


def _misread_row(row: Misread) -> dict[str, Any]:
    return {
        "written": row.written, "read_as": row.read_as, "lat": _round(row.lat, 6), "lon": _round(row.lon, 6),
        "off_m": _round(row.off_m, 0), "text": row.text,
    }  # fmt: skip


def _hazard_row(hazard: Hazard) -> dict[str, Any]:
    return {
        "kind": hazard.kind, "distance_m": _round(hazard.distance_m, 1), "bearing_deg": _round(hazard.bearing_deg, 1),
        "detail": hazard.detail, "source": hazard.source,
    }  # fmt: skip


def _none_row(none: NoDrop) -> dict[str, Any]:
    miss = none.nearest_miss
    return {
        "site": none.site, "reason": none.reason,
        "nearest_miss": None if miss is None else {
            "x_m": round(miss.x_m, 2), "y_m": round(miss.y_m, 2), "gap_diameter_m": round(miss.diameter_m, 2),
            "distance_m": round(miss.reach_m, 1),
        },
    }  # fmt: skip


def _load_row(load: SlungLoad) -> dict[str, Any]:
    return {
        "load": load.number, "to": load.site, "flight": load.flight or None, "order": load.order or None,
        "items": [_words(s.count, s.item.label) for s in load.items], "mass_kg": round(load.items_kg, 3),
        "estimated_kg": round(load.estimated_kg, 3), "rigging_kg": _round(load.rigging_kg, 3),
        "total_kg": _round(load.total_kg, 3),
    }  # fmt: skip


def _words(count: int, label: str) -> str:
    return f"{count} x {label}"


def _air_row(air: AirDensity | None) -> dict[str, Any] | None:
    if air is None:
        return None
    return {
        "temperature_c": air.temperature_c, "altimeter_hpa": air.altimeter_hpa, "dew_point_c": air.dew_point_c,
        "pressure_altitude_m": round(air.pressure_altitude_m, 1),
        "density_altitude_m": round(air.density_altitude_m, 1),
    }  # fmt: skip


def _daylight_row(light: Daylight) -> dict[str, str | None]:
    return {
        "civil_dawn": _utc(light.civil_dawn), "sunrise": _utc(light.sunrise), "noon": _utc(light.noon),
        "sunset": _utc(light.sunset), "civil_dusk": _utc(light.civil_dusk),
    }  # fmt: skip


def _utc(when: dt.datetime | None) -> str | None:
    return None if when is None else when.astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _round(value: float | None, digits: int = 2) -> float | None:
    return None if value is None else round(value, digits)


def drop_share(result: DropResult) -> ShareSet:
    """Base, drop points, sets and landing places as waypoints, flights as routes, carries as tracks."""
    back = Transformer.from_crs(result.grid.crs, "EPSG:4326", always_xy=True)
    points = [] if result.base is None else [_waypoint("base", result.base.name, result.base.place)]
    for d in result.drops:
        gap, load = d.point.gap, _line_words(d)
        text = f"{d.site} drop point: the open gap, not the set. {load}"
        points.append(_waypoint("drop", f"{d.site} DROP", d.place, d.point.elevation_m, text))
        words = f"{d.site} set, under trees, {gap.reach_m:.0f} m from its drop point. Nothing comes down here."
        points.append(_waypoint("set", f"{d.site} SET", d.set_place, None, words))
        for n, landing in enumerate(d.landings, start=1):
            words = f"{d.site}: open circle for {landing.found.helicopter.name}, a screen only; the pilot decides."
            points.append(_waypoint("landing", f"{d.site} LZ{n}", landing.place, None, words))
    at = {p.name.removesuffix(" DROP"): p for p in points if p.kind in ("drop", "base")}
    routes = [
        Route(
            name=f"Flight {r.number}", text=f"Loads {', '.join(map(str, r.loads))}",
            points=tuple(at[name] for name in (r.legs[0].start, *(leg.end for leg in r.legs))),
        )
        for r in result.rounds
    ]  # fmt: skip
    tracks = [
        Track(name=f"{d.site} carry", lines=(_lon_lat(d.carry.line, back),), kind="foot", text=f"{d.site} drop to set")
        for d in result.drops
        if isinstance(d.carry, CarryOver)
    ]
    return ShareSet(
        title=f"Helicopter drop, {result.plan.ranch.name}", date=result.plan.date, waypoints=tuple(points),
        routes=tuple(routes), tracks=tuple(tracks), areas=(), note=result.plan.ranch.note or "",
    )  # fmt: skip


def _line_words(drop: DropSite) -> str:
    gap = f"Gap {drop.point.gap.diameter_m:.0f} m wide."
    tallest = drop.point.tallest_near_m
    return gap if tallest is None else f"{gap} Tallest tree near {tallest:.0f} m."


def _waypoint(kind: str, name: str, place: Place, elevation_m: float | None = None, text: str = "") -> Waypoint:
    return Waypoint(name=name, lon=place.lon, lat=place.lat, elevation_m=elevation_m, kind=kind, text=text)


def _lon_lat(line: NDArray[np.float64], back: Transformer) -> NDArray[np.float64]:
    return np.column_stack(back.transform(line[:, 0], line[:, 1]))
