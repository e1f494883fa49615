"""`season.json` and `season.csv`: a line a ranch and season, totals by crew and land; metric, no place in either."""

from __future__ import annotations

import csv
import math
from pathlib import Path
from typing import Any

from boscage.exports.report_parts import known, rate_table
from boscage.model.ledger import ANIMAL_CLASSES
from boscage.model.report import Quality, SeasonLine, SeasonResult, SeasonTotal

COLUMNS = (
    "kind", "ranch", "season", "crew", "first_night", "last_night", "sites", "armed_nights", "open_nights",
    "prebait_nights", "checks", "hours", *ANIMAL_CLASSES, "total", "capture_nights", "captures_per_armed_night",
    "captures_per_armed_night_low", "captures_per_armed_night_high", "hours_per_capture", "groups_known",
    "groups_complete", "minimum_alive", "covered_ha", "granted_ha", "radius_m", "rows", "rows_aside",
    "rows_without_hours", "late_looks", "looks_unknown", "armed_nights_without_a_look", "sets_without_a_place",
)  # fmt: skip


def season_table(result: SeasonResult) -> dict[str, Any]:
    """`season.json`."""
    return {
        "date": result.plan.date.isoformat(), "lines": [_line(line) for line in result.lines],
        "totals": [_total(total) for total in result.totals], "notes": list(result.notes),
    }  # fmt: skip


def _line(line: SeasonLine) -> dict[str, Any]:
    effort, caught, rates = line.effort, line.captures, line.rates
    return {
        "ranch": line.ranch, "season": line.season, "crew": line.crew or None,
        "first_night": line.begin.isoformat() if line.begin else None,
        "last_night": line.end.isoformat() if line.end else None, "sites": effort.sites,
        "armed_nights": effort.armed_nights, "open_nights": effort.open_nights,
        "prebait_nights": effort.prebait_nights, "camera_nights": known(effort.camera_nights, 1),
        "checks": effort.checks, "hours": known(effort.hours, 2), "bait_kg": known(effort.bait_kg, 2),
        "captures": dict(caught.by_class), "capture_nights": len(caught.nights),
        "nontargets": sum(caught.nontargets.values()), "captures_per_armed_night": rate_table(rates.per_armed_night),
        "capture_nights_per_armed_night": rate_table(rates.events_per_armed_night),
        "hours_per_capture": known(rates.hours_per_capture, 3), "groups_known": line.groups_known,
        "groups_complete": line.groups_complete, "minimum_alive": line.missing,
        "covered_ha": round(line.covered_ha, 2), "granted_ha": round(line.granted_ha, 2), "radius_m": line.radius_m,
        "quality": _quality(line.quality),
    }  # fmt: skip


def _quality(held: Quality) -> dict[str, int]:
    return {name: getattr(held, name) for name in type(held).__dataclass_fields__}


def _total(total: SeasonTotal) -> dict[str, Any]:
    return {
        "kind": total.kind, "name": total.name, "lines": total.lines, "sites": total.sites,
        "armed_nights": total.armed_nights, "open_nights": total.open_nights, "prebait_nights": total.prebait_nights,
        "checks": total.checks, "hours": known(total.hours, 2),
        "captures": {**dict(zip(ANIMAL_CLASSES, total.by_class, strict=True)), "total": total.animals},
        "capture_nights": total.events, "captures_per_armed_night": rate_table(total.rates.per_armed_night),
        "capture_nights_per_armed_night": rate_table(total.rates.events_per_armed_night),
        "hours_per_capture": known(total.rates.hours_per_capture, 3), "minimum_alive": total.missing,
        "covered_ha": known(total.covered_ha, 2), "notes": [*total.rates.notes, *total.notes],
    }  # fmt: skip


def write_season_csv(target: Path, result: SeasonResult) -> None:
    """`season.csv`: the lines, then the totals, told apart by `kind`."""
    with target.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(COLUMNS)
        for line in result.lines:
            writer.writerow(_cells(_line_row(line)))
        for total in result.totals:
            writer.writerow(_cells(_total_row(total)))


def _line_row(line: SeasonLine) -> dict[str, Any]:
    effort, caught, rate, held = line.effort, line.captures, line.rates.per_armed_night, line.quality
    return {
        "kind": "line", "ranch": line.ranch, "season": line.season, "crew": line.crew, "first_night": line.begin,
        "last_night": line.end, "sites": effort.sites, "armed_nights": effort.armed_nights,
        "open_nights": effort.open_nights, "prebait_nights": effort.prebait_nights, "checks": effort.checks,
        "hours": effort.hours, **caught.by_class, "capture_nights": len(caught.nights),
        "captures_per_armed_night": rate.value, "captures_per_armed_night_low": rate.low,
        "captures_per_armed_night_high": rate.high, "hours_per_capture": line.rates.hours_per_capture,
        "groups_known": line.groups_known, "groups_complete": line.groups_complete, "minimum_alive": line.missing,
        "covered_ha": line.covered_ha, "granted_ha": line.granted_ha, "radius_m": line.radius_m, "rows": held.rows,
        "rows_aside": held.aside, "rows_without_hours": held.without_hours, "late_looks": held.late,
        "looks_unknown": held.gaps_unknown, "armed_nights_without_a_look": held.unchecked,
        "sets_without_a_place": held.unplaced,
    }  # fmt: skip


def _total_row(total: SeasonTotal) -> dict[str, Any]:
    rate = total.rates.per_armed_night
    return {
        "kind": total.kind, "ranch": total.name if total.kind == "land" else "",
        "crew": total.name if total.kind == "crew" else "", "sites": total.sites, "armed_nights": total.armed_nights,
        "open_nights": total.open_nights, "prebait_nights": total.prebait_nights, "checks": total.checks,
        "hours": total.hours, **dict(zip(ANIMAL_CLASSES, total.by_class, strict=True)), "total": total.animals,
        "capture_nights": total.events, "captures_per_armed_night": rate.value,
        "captures_per_armed_night_low": rate.low, "captures_per_armed_night_high": rate.high,
        "hours_per_capture": total.rates.hours_per_capture, "minimum_alive": total.missing,
        "covered_ha": total.covered_ha,
    }  # fmt: skip


def _cells(row: dict[str, Any]) -> list[Any]:
    """Cells in the order of the columns; what is not known is empty."""
    out = []
    for name in COLUMNS:
        value = row.get(name, "")
        is_blank = value is None or (isinstance(value, float) and not math.isfinite(value))
        out.append("" if is_blank else f"{value:.4f}".rstrip("0").rstrip(".") if isinstance(value, float) else value)
    return out
