"""Machine-readable outputs as interface promises them: JSON and CSV, metric, in fixed order."""

from __future__ import annotations

import csv
import json
import math
from pathlib import Path
from typing import Any

from boscage.exports.findings import (
    evidence_table,
    move_rows,
    standing_row,
    steadiness_table,
    together_table,
    weighting_table,
)
from boscage.exports.ground import answer_row, ground_table
from boscage.exports.report_parts import clock_table
from boscage.model.choices import ChoiceOutcome
from boscage.model.exposure import Exposure
from boscage.model.journey import Journey, Leg, NoWay
from boscage.model.results import CheckResult, ScoutResult, Site


def write_json(target: Path, table: Any) -> None:
    """Write JSON in UTF-8, two blanks deep, with a line end at the end; NaN is refused."""
    target.write_text(json.dumps(table, indent=2, ensure_ascii=False, allow_nan=False) + "\n", encoding="utf-8")


def scout_table(result: ScoutResult) -> dict[str, Any]:
    """`scout.json`."""
    return {
        "ranch": result.plan.ranch.name,
        "crs": result.grid.crs,
        "date": result.plan.date.isoformat(),
        "note": result.plan.ranch.note,
        "sites": [_site_row(site) for site in result.sites],
        "stops": {stop.name: round(stop.hectares, 2) for stop in result.stops if stop.applied},
        "stops_not_applied": {stop.name: stop.note for stop in result.stops if not stop.applied},
        "stop_rules": [_rule_row(stop) for stop in result.stops if stop.rule is not None],
        "ranch_ha": round(result.ranch_ha, 2),
        "granted_ha": round(result.granted_ha, 2),
        "open_ha": round(result.open_ha, 2),
        "missing_layers": list(result.missing_layers),
        "weights": dict(result.factor_weights),
        "notes": list(result.notes),
        "nearest_miss": result.reason or None, "ground": ground_table(result.ground),
        "weighting": weighting_table(result.weighting), "steadiness": steadiness_table(result.steadiness),
        "moves": move_rows(result.moves), "evidence": evidence_table(result.evidence),
        "together": together_table(result.together), "choices": [_choice_row(c) for c in result.choices],
    }


def _choice_row(outcome: ChoiceOutcome) -> dict[str, Any]:
    """What became of one of the plan's choices."""
    placed, choice = outcome.placed, outcome.placed.choice
    on_map = math.isfinite(placed.x_m) and math.isfinite(placed.y_m)
    return {
        "row": placed.row, "choice": choice.choice, "name": choice.site, "lon": choice.lon, "lat": choice.lat,
        "x_m": round(placed.x_m, 2) if on_map else None, "y_m": round(placed.y_m, 2) if on_map else None,
        "reason": choice.reason, "date": choice.date.isoformat() if choice.date else None, "state": outcome.state,
        "site": outcome.site or None, "rank": outcome.rank,
        "score": None if outcome.score is None else round(outcome.score, 2), "stops": list(outcome.stops),
        "sentence": outcome.sentence,
    }  # fmt: skip


def _site_row(site: Site) -> dict[str, Any]:
    place = site.place
    return {
        "site": site.site, "rank": site.rank, "score": site.score,
        "x_m": round(place.x_m, 2), "y_m": round(place.y_m, 2), "lon": round(place.lon, 7), "lat": round(place.lat, 7),
        "ddm": place.ddm, "usng": place.usng, "datum": place.datum,
        "parcel": site.parcel, "owner": site.owner,
        "factors": {r.name: None if r.value is None else round(r.value, 3) for r in site.readings},
        "points": {r.name: round(r.points, 2) for r in site.readings},
        "sentences": {r.name: r.sentence for r in site.readings},
        "data_share": round(site.data_share, 3),
        "support": site.support, "support_note": site.support_note,
        "why": list(site.why), "flags": list(site.flags),
        "hazards": [
            {
                "kind": h.kind, "distance_m": None if h.distance_m is None else round(h.distance_m, 1),
                "bearing_deg": None if h.bearing_deg is None else round(h.bearing_deg, 1),
                "detail": h.detail, "source": h.source,
            }
            for h in site.hazards
        ],
        "elevation_m": None if site.elevation_m is None else round(site.elevation_m, 1),
        "top_rank_share": None if site.standing is None else round(site.standing.top_rank_share, 4),
        "standing": standing_row(site.standing), "cameras_near": list(site.seen_by),
        "way": _way_table(site.journey), "seen": _seen_table(site.exposure),
        "ground": answer_row(site.ground),
    }  # fmt: skip


def _way_table(journey: Journey | NoWay | None) -> dict[str, Any] | None:
    """The way in and out of one site; None where ways are not mapped."""
    if journey is None:
        return None
    if isinstance(journey, NoWay):
        return {"reachable": False, "reason": journey.reason, "barriers": list(journey.barriers)}
    return {
        "reachable": True, "start": journey.start, "minutes_in": round(journey.minutes_in, 2),
        "minutes_out": round(journey.minutes_out, 2), "in": [_leg_row(leg) for leg in journey.inward],
        "out": [_leg_row(leg) for leg in journey.outward], "load_kg": round(journey.load_kg, 3),
        "load_note": journey.load_note, "trips": journey.trips, "share_kg": round(journey.share_kg, 3),
        "carry_minutes": round(journey.carry_min, 2), "kcal_each": round(journey.kcal, 1),
        "crossings": list(journey.crossings),
    }  # fmt: skip


def _leg_row(leg: Leg) -> dict[str, Any]:
    def known(metres: float) -> float | None:
        return None if math.isnan(metres) else round(metres, 1)

    return {
        "leg": leg.kind, "distance_m": round(leg.distance_m, 1), "climb_m": known(leg.climb_m),
        "descent_m": known(leg.descent_m), "minutes": round(leg.minutes, 2), "change_minutes": round(leg.change_min, 2),
    }  # fmt: skip


def _seen_table(exposure: Exposure | None) -> dict[str, Any] | None:
    """Who sees one site; None where nobody's places are mapped."""
    if exposure is None:
        return None
    return {
        "net_a_day": round(exposure.net_looks, 4), "crew_a_day": round(exposure.activity_looks, 4),
        "places_sampled": len(exposure.shares), "within_m": round(exposure.radius_m, 2),
        "worst": [
            {"kind": s.kind, "name": s.name, "x_m": round(s.x_m, 2), "y_m": round(s.y_m, 2),
             "distance_m": round(s.distance_m, 1), "grid_bearing_deg": round(s.bearing_deg, 1),
             "share": round(s.share, 5), "net_a_day": round(s.looks, 4)}
            for s in exposure.worst
        ],
    }  # fmt: skip


def _rule_row(stop: Any) -> dict[str, Any]:
    rule = stop.rule
    return {
        "stop": stop.name, "distance_m": None if stop.distance_m is None else round(stop.distance_m, 2),
        "text": rule.text, "citation": rule.citation, "checked": rule.checked.isoformat(), "grade": rule.grade,
        "stale": stop.stale, "note": stop.note,
    }  # fmt: skip


def write_sites_csv(target: Path, result: ScoutResult) -> None:
    """`sites.csv`: one row a site."""
    names = list(result.factor_weights)
    head = [
        "site",
        "rank",
        "score",
        "lon",
        "lat",
        "x_m",
        "y_m",
        "crs",
        "ddm",
        "usng",
        "parcel",
        "owner",
        "support",
    ]
    with target.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow([*head, "data_share", *names, "why"])
        for site in result.sites:
            values = {r.name: "" if r.value is None else f"{r.value:.3f}" for r in site.readings}
            place = site.place
            writer.writerow(
                [site.site, site.rank, site.score, f"{place.lon:.7f}", f"{place.lat:.7f}", f"{place.x_m:.2f}",
                 f"{place.y_m:.2f}", result.grid.crs, place.ddm, place.usng, site.parcel, site.owner, site.support,
                 f"{site.data_share:.3f}", *[values.get(n, "") for n in names], " ".join(site.why)]
            )  # fmt: skip


def check_table(result: CheckResult) -> dict[str, Any]:
    """`check.json`."""
    return {
        "ranch": result.plan.ranch.name,
        "crs": result.crs,
        "crs_reason": result.crs_reason,
        "date": result.plan.date.isoformat(),
        "ranch_ha": round(result.ranch_ha, 2),
        "owners": [{"owner": o, "access": a, "hectares": round(h, 2)} for o, a, h in result.owners],
        "layers": [
            {
                "layer": r.name, "state": r.state, "read": r.read, "crs": r.crs, "source": r.source,
                "coverage": None if r.coverage is None else round(r.coverage, 4),
                "date": r.date.isoformat() if r.date else None, "doubts": list(r.doubts), "error": r.error or None,
            }
            for r in result.reports
        ],
        "rules": [
            {"stop": r.stop, "text": r.text, "citation": r.citation, "checked": r.checked.isoformat(),
             "grade": r.grade, "stale": r.is_stale(result.plan.date)}
            for r in result.rules
        ],
        "notes": list(result.notes),
        "clock": None if result.clock is None else clock_table(result.clock, result.plan.checks, result.zone),
    }  # fmt: skip
