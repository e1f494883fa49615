"""Machine-readable outputs as interface promises them: JSON and CSV, metric, in fixed order."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

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
        "nearest_miss": result.reason or None,
    }


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
        "top_rank_share": None,
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
    }  # fmt: skip
