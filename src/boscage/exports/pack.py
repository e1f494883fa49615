"""`pack.json` and `pack.csv`: what goes, on what, in which trip. Metric; an unknown mass is null or empty."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

from boscage.model.pack import LeftBehind, PackItem, PartLoad
from boscage.model.results import PackResult


def pack_table(result: PackResult) -> dict[str, Any]:
    """`pack.json`."""
    made = result.pack
    return {
        "sites": list(made.sites), "items": [_item_row(i) for i in made.items],
        "carriers": [_load_row(load) for load in made.loads], "trips": made.trips,
        "lower_bound_trips": made.lower_bound_trips, "is_fewest": made.is_fewest,
        "over_limit": [{"site": i.site or None, "item": i.label, "mass_kg": _kg(i.mass_kg)} for i in made.over_limit],
        "left_behind": [_left_row(b) for b in made.left_behind], "mass_kg": round(made.mass_kg, 3),
        "estimated_kg": round(made.estimated_kg, 3), "notes": list(made.notes),
    }  # fmt: skip


def _item_row(item: PackItem) -> dict[str, Any]:
    return {
        "site": item.site or None, "item": item.item, "count": item.count, "mass_kg": _kg(item.mass_kg),
        "dry_kg": _kg(item.dry_kg), "wet_share": round(item.wet_share, 4), "length_m": _kg(item.length_m),
        "weighed": item.weighed, "purpose": item.purpose, "grade": item.grade or None, "note": item.note,
    }  # fmt: skip


def _load_row(load: PartLoad) -> dict[str, Any]:
    return {
        "carrier": load.part, "trip": load.trip, "limit_kg": round(load.limit_kg, 3), "mass_kg": round(load.mass_kg, 3),
        "items": [_portion_words(p.count, p.item) for p in load.portions],
    }  # fmt: skip


def _portion_words(count: int, item: PackItem) -> str:
    where = f" ({item.site})" if item.site else ""
    return f"{count} x {item.label}{where}"


def _left_row(behind: LeftBehind) -> dict[str, Any]:
    item = behind.item
    return {"site": item.site or None, "item": item.label, "count": behind.count, "reason": behind.reason}


def _kg(value: float | None) -> float | None:
    return None if value is None else round(value, 3)


def write_pack_csv(target: Path, result: PackResult) -> None:
    """`pack.csv`: one row for each item on each part in each trip, then what stays behind."""
    with target.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["trip", "carrier", "site", "item", "count", "mass_each_kg", "mass_kg", "weighed", "reason"])
        for load in result.pack.loads:
            for p in load.portions:
                each = p.item.mass_kg or 0.0
                writer.writerow(
                    [load.trip, load.part, p.item.site, p.item.label, p.count, f"{each:.3f}", f"{p.count * each:.3f}",
                     "yes" if p.item.weighed else "no", ""]
                )  # fmt: skip
        for b in result.pack.left_behind:
            each = "" if b.item.mass_kg is None else f"{b.item.mass_kg:.3f}"
            whole = "" if b.item.mass_kg is None else f"{b.count * b.item.mass_kg:.3f}"
            row = ["", "left behind", b.item.site, b.item.label, b.count, each, whole]
            writer.writerow([*row, "yes" if b.item.weighed else "no", b.reason])
