"""`report.json`, `coverage.csv` and `report.gpkg`: metric; what is not known is null or empty."""

from __future__ import annotations

import csv
import math
from pathlib import Path
from typing import Any

import geopandas as gpd
import shapely

from boscage.exports.geodata import write_layer
from boscage.exports.report_parts import (
    camera_rows,
    clock_table,
    damage_table,
    group_rows,
    known,
    night_row,
    rate_table,
    removal_table,
    set_row,
    share_table,
    step_row,
)
from boscage.model.report import ReportResult, square_side

COLUMNS = (
    "parcel", "owner", "hectares", "covered_ha", "covered_share", "hectare_nights", "mean_armed_nights", "radius_m",
)  # fmt: skip


def report_table(result: ReportResult) -> dict[str, Any]:
    """`report.json`."""
    plan, effort, caught, rates, land = (
        result.plan, result.effort, result.captures, result.rates, result.covered
    )  # fmt: skip
    return {
        "ranch": plan.ranch.name, "date": plan.date.isoformat(), "crs": result.crs, "zone": result.zone,
        "owner": result.owner or None, "masked": result.masked,
        "square_m": square_side(plan) if result.masked else None,
        "first_night": result.begin.isoformat() if result.begin else None,
        "last_night": result.end.isoformat() if result.end else None,
        "sites": effort.sites, "armed_nights": effort.armed_nights, "prebait_nights": effort.prebait_nights,
        "open_nights": effort.open_nights, "camera_nights": known(effort.camera_nights, 1), "checks": effort.checks,
        "hours": known(effort.hours, 2), "rows_without_hours": effort.rows_without_hours,
        "hours_by_task": {name: round(h, 2) for name, h in effort.hours_by_task.items()},
        "bait_kg": known(effort.bait_kg, 2), "captures": dict(caught.by_class),
        "captures_per_armed_night": known(rates.per_armed_night.value),
        "captures_per_armed_night_low": known(rates.per_armed_night.low),
        "captures_per_armed_night_high": known(rates.per_armed_night.high),
        "capture_nights_per_armed_night": rate_table(rates.events_per_armed_night),
        "hours_per_capture": known(rates.hours_per_capture, 3), "nights": [night_row(n) for n in caught.nights],
        "nontargets": dict(caught.nontargets), "injuries": None if caught.injuries is None else dict(caught.injuries),
        "fates": dict(caught.fates), "set_aside": caught.set_aside, "covered_ha": round(land.covered_ha, 2),
        "granted_ha": round(land.granted_ha, 2), "hectare_nights": round(land.hectare_nights, 1),
        "radius_m": land.radius_m,
        "parcels": [
            {"parcel": p.parcel, "owner": p.owner, "hectares": round(p.hectares, 2),
             "covered_ha": round(p.covered_ha, 2), "covered_share": round(p.covered_share, 4),
             "hectare_nights": round(p.hectare_nights, 1)}
            for p in land.parcels
        ],
        "owners": [
            {"owner": o.owner, "hectares": round(o.hectares, 2), "covered_ha": round(o.covered_ha, 2),
             "covered_share": round(o.covered_share, 4), "hectare_nights": round(o.hectare_nights, 1)}
            for o in land.owners
        ],
        "use_covered": {
            "before": share_table(result.use.before), "after": share_table(result.use.after),
            "notes": list(result.use.notes),
        },
        "sets": [set_row(line) for line in result.sets], "groups": group_rows(result.groups),
        "cameras_beside": camera_rows(result.camera_groups), "groups_complete": result.groups.complete,
        "minimum_alive": result.groups.minimum_alive,
        "minimum_alive_as_of": result.groups.as_of.isoformat() if result.groups.as_of else None,
        "taken_apart": result.groups.taken_apart, "damage": damage_table(result.damage),
        "removal": removal_table(result.removal), "clock": clock_table(result.clock, plan.checks, result.zone),
        "next": [step_row(s) for s in result.steps],
        "problems": [
            {"row": p.row, "text": p.text, "counted": p.counted, "animals": p.animals} for p in result.problems
        ],
        "problems_not_shown": result.hidden,
        "quality": {name: getattr(result.quality, name) for name in type(result.quality).__dataclass_fields__},
        "notes": [*result.notes, *land.notes, *rates.notes, *result.groups.notes, *result.clock.notes],
    }  # fmt: skip


def write_coverage_csv(target: Path, result: ReportResult) -> None:
    """`coverage.csv`: one row a parcel with permission."""
    with target.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(COLUMNS)
        for p in result.covered.parcels:
            writer.writerow(
                [p.parcel, p.owner, f"{p.hectares:.2f}", f"{p.covered_ha:.2f}", f"{p.covered_share:.4f}",
                 f"{p.hectare_nights:.1f}", f"{p.mean_nights:.2f}", f"{result.covered.radius_m:g}"]
            )  # fmt: skip


def write_report_gpkg(target: Path, result: ReportResult) -> None:
    """`report.gpkg`: `covered` (polygons, one a parcel), and `sets` (points) or, masked, `squares` (polygons)."""
    day = result.plan.date.isoformat()
    held = [
        (p, shapely.MultiPolygon(_polygons(shape)))
        for p, shape in zip(result.covered.parcels, result.pieces, strict=True)
    ]
    table = {
        "parcel": [p.parcel for p, _ in held], "owner": [p.owner for p, _ in held],
        "covered_ha": [p.covered_ha for p, _ in held], "covered_share": [p.covered_share for p, _ in held],
        "mean_armed_nights": [round(p.mean_nights, 2) for p, _ in held],
        "radius_m": [result.covered.radius_m for _ in held],
        "drawn_off_m": [round(result.blur_m) for _ in held],
    }  # fmt: skip
    covered = gpd.GeoDataFrame(table, geometry=[g for _, g in held], crs=result.crs)
    write_layer(target, "covered", covered, "MultiPolygon", day)
    if result.masked:
        write_layer(target, "squares", _squares(result), "Polygon", day)
    else:
        write_layer(target, "sets", _points(result), "Point", day)


def _polygons(shape: Any) -> list[Any]:
    parts = shapely.get_parts(shape).tolist()
    return [p for p in parts if p.geom_type == "Polygon" and not p.is_empty]


def _points(result: ReportResult) -> gpd.GeoDataFrame:
    """Sets with a known place."""
    placed = [s for s in result.sets if not math.isnan(s.x_m)]
    table = {
        "site": [s.site for s in placed], "parcel": [s.parcel for s in placed], "state": [s.state for s in placed],
        "armed_nights": [s.armed for s in placed], "open_nights": [s.open for s in placed],
        "prebait_nights": [s.prebait for s in placed], "animals": [s.animals for s in placed],
    }  # fmt: skip
    return gpd.GeoDataFrame(table, geometry=[shapely.Point(s.x_m, s.y_m) for s in placed], crs=result.crs)


def _squares(result: ReportResult) -> gpd.GeoDataFrame:
    """Squares that hold sets, with what was done in each."""
    held: dict[Any, list[Any]] = {}
    for line in result.sets:
        if line.square is not None:
            held.setdefault(line.square, []).append(line)
    table = {
        "sites": [", ".join(s.site for s in lines) for lines in held.values()],
        "armed_nights": [sum(s.armed for s in lines) for lines in held.values()],
        "animals": [sum(s.animals for s in lines) for lines in held.values()],
    }
    shapes = [shapely.box(b.west, b.south, b.east, b.north) for b in held]
    return gpd.GeoDataFrame(table, geometry=shapes, crs=result.crs)
