"""`rig.json` and `rig.gpkg`: one rig or the rigs of several sites, metric."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import geopandas as gpd
import shapely

from boscage.exports.geodata import write_layer
from boscage.exports.ground import answer_row, pickets_row
from boscage.model.rig_plan import RigPlan, RigResult


def rig_table(result: RigResult) -> dict[str, Any]:
    """What `rig.json` holds of one rig, feasible or not."""
    if result.plan is None:
        none = result.none
        return {
            "feasible": False, "name": result.name, "reason": "" if none is None else none.reason,
            "nearest_miss": "" if none is None else none.nearest_miss,
        }  # fmt: skip
    plan, ring = result.plan, result.plan.ring
    return {
        "feasible": True, "name": result.name, "support": ring.support, "score": round(ring.score, 9),
        "roundness": round(ring.roundness, 9), "finished_roundness": round(ring.finished_roundness, 9),
        "perimeter_m": round(ring.perimeter_m, 7), "area_m2": round(ring.area_m2, 7),
        "finished_perimeter_m": round(ring.finished_m, 7), "finished_area_m2": round(ring.finished_m2, 7),
        "built_supports": ring.built_supports, "crs": plan.crs, "stems": plan.stems_source,
        "dbh_estimated": plan.estimated,
        "pivot": {"x_m": round(plan.pivot[0], 7), "y_m": round(plan.pivot[1], 7), "stem": plan.pivot_stem},
        "declination_deg": plan.declination_deg, "declination_stated": plan.declination_stated,
        "contacts": [_contact_row(c) for c in plan.contacts],
        "supports": [_support_row(s) for s in plan.supports],
        "spans": _span_rows(plan),
        "stakes": [
            {"x_m": round(s.x_m, 7), "y_m": round(s.y_m, 7), "offset_m": round(s.offset_m, 4),
             "bearing_deg": round(s.bearing_deg, 1), "distance_m": round(s.distance_m, 3)}
            for s in plan.stakes
        ],
        "apron": {"near_m": round(plan.apron.near_m, 4), "best_m": round(plan.apron.best_m, 4),
                  "far_m": round(plan.apron.far_m, 4), "room_m": round(plan.apron.room_m, 4)},
        "closure": {"x_m": round(plan.closure[0], 4), "y_m": round(plan.closure[1], 4), "text": plan.closure_text},
        "gear": [
            {"item": g.item, "count": g.count, "length_m": None if g.length_m is None else round(g.length_m, 3),
             "mass_kg": None if g.mass_kg is None else round(g.mass_kg, 3), "note": g.note}
            for g in plan.gear
        ],
        "loads": {k: None if v is None else round(v, 4) for k, v in vars(plan.loads).items()},
        "holds_share": None if plan.steadiness is None else round(plan.steadiness.holds_share, 4),
        "weakest": None if plan.steadiness is None else plan.steadiness.weakest,
        "inside": [s.stem for s in plan.inside], "near_wall": [s.stem for s in plan.near_wall],
        "ground": answer_row(plan.soil),
        "trees_only": _other_rows(ring.trees_only), "with_posts": _other_rows(ring.with_posts),
        "best_at_bark": ring.best_at_bark, "notes": list(plan.notes),
    }  # fmt: skip


def _contact_row(contact: Any) -> dict[str, Any]:
    stem = contact.stem
    return {
        "stem": None if stem is None else stem.stem, "number": contact.number,
        "x_m": round(contact.x_m, 7), "y_m": round(contact.y_m, 7),
        "stem_x_m": round(contact.x_m if stem is None else stem.x_m, 7),
        "stem_y_m": round(contact.y_m if stem is None else stem.y_m, 7),
        "dbh_m": None if stem is None else round(stem.dbh_m, 6),
        "bearing_deg": round(contact.bearing_deg, 2), "distance_m": round(contact.distance_m, 3),
        "check_from": contact.check_from, "check_m": round(contact.check_m, 3),
        "strap_m": round(contact.strap_m, 3),
        "strap_stock_m": None if contact.strap_stock_m is None else round(contact.strap_stock_m, 3),
        "standoff_m": round(contact.standoff_m, 4), "turning_deg": round(contact.turning_deg, 2),
        "pull_n": round(contact.pull_n, 1),
        "without": {
            "score": None if contact.without_score is None else round(contact.without_score, 3),
            "stems": list(contact.without_stems), "built_supports": contact.without_built,
        },
    }  # fmt: skip


def _support_row(support: Any) -> dict[str, Any]:
    tie = support.tie
    return {
        "label": support.label, "x_m": round(support.x_m, 7), "y_m": round(support.y_m, 7), "kind": support.kind,
        "stem": support.stem, "pull_n": round(support.pull_n, 1), "bearing_deg": round(support.bearing_deg, 2),
        "distance_m": round(support.distance_m, 3),
        "tie": None if tie is None else {
            "stem": tie.stem, "x_m": round(tie.x_m, 7), "y_m": round(tie.y_m, 7), "length_m": round(tie.length_m, 3),
            "angle_deg": round(tie.angle_deg, 1), "bearing_deg": round(tie.bearing_deg, 1),
            "off_line_deg": round(tie.off_line_deg, 1), "pickets": pickets_row(tie.pickets),
        },
    }  # fmt: skip


def _span_rows(plan: RigPlan) -> list[dict[str, Any]]:
    """Contact-to-contact spans; posts that stand in for contacts have no stem and are named by their number."""
    ring = plan.ring

    def name(index: int) -> str:
        stem = ring.contacts[index].stem
        return f"post {index + 1}" if stem is None else stem.stem

    return [
        {"from": name(s.first), "to": name(s.second), "length_m": round(s.length_m, 7),
         "built_supports": len(s.supports), "finished_m": round(s.finished_m, 7)}
        for s in ring.spans
    ]  # fmt: skip


def _other_rows(other: Any) -> dict[str, Any] | None:
    if other is None:
        return None
    if not other:
        return {"feasible": False, "nearest_miss": other.nearest_miss}
    return {
        "feasible": True, "support": other.support, "score": round(other.score, 9),
        "roundness": round(other.roundness, 9), "built_supports": other.built_supports,
        "stems": [c.stem.stem for c in other.contacts if c.stem is not None],
    }  # fmt: skip


def write_rig_gpkg(target: Path, results: Sequence[RigResult], *, crs: str | None, day: str) -> None:
    """`rig.gpkg`: layers rings, contacts, supports, stakes, ties and stems; without a CRS the grid is a local one."""
    plans = [r.plan for r in results if r.plan is not None]
    rings, contacts, supports, stakes, ties, stems = [], [], [], [], [], []
    for plan in plans:
        outline = shapely.Polygon(plan.ring.outline)
        rings.append({"name": plan.name, "score": plan.ring.score, "support": plan.ring.support, "geometry": outline})
        for c in plan.contacts:
            row = {"name": plan.name, "number": c.number, "stem": c.stem.stem if c.stem else "",
                   "bearing_deg": c.bearing_deg, "distance_m": c.distance_m}  # fmt: skip
            contacts.append({**row, "geometry": shapely.Point(c.x_m, c.y_m)})
        for s in plan.supports:
            row = {"name": plan.name, "label": s.label, "kind": s.kind, "stem": s.stem or ""}
            supports.append({**row, "geometry": shapely.Point(s.x_m, s.y_m)})
            if s.tie is not None:
                line = shapely.LineString([(s.x_m, s.y_m), (s.tie.x_m, s.tie.y_m)])
                ties.append({"name": plan.name, "label": s.label, "to_stem": s.tie.stem or "stake", "geometry": line})
        stakes += [{"name": plan.name, "offset_m": s.offset_m, "geometry": shapely.Point(s.x_m, s.y_m)}
                   for s in plan.stakes]  # fmt: skip
        stems += [{"name": plan.name, "stem": s.stem, "dbh_m": s.dbh_m, "kind": s.kind,
                   "geometry": shapely.Point(s.x_m, s.y_m)} for s in plan.nearby]  # fmt: skip
    for layer, rows, kind in (
        ("rings", rings, "Polygon"), ("contacts", contacts, "Point"), ("supports", supports, "Point"),
        ("stakes", stakes, "Point"), ("ties", ties, "LineString"), ("stems", stems, "Point"),
    ):  # fmt: skip
        columns = _COLUMNS[layer]
        frame = gpd.GeoDataFrame(rows, columns=[*columns, "geometry"], geometry="geometry", crs=crs)
        write_layer(target, layer, frame, kind, day)


_COLUMNS = {
    "rings": ("name", "score", "support"),
    "contacts": ("name", "number", "stem", "bearing_deg", "distance_m"),
    "supports": ("name", "label", "kind", "stem"),
    "stakes": ("name", "offset_m"),
    "ties": ("name", "label", "to_stem"),
    "stems": ("name", "stem", "dbh_m", "kind"),
}
