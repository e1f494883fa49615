"""What the gear of a place weighs, from the gear lists that an earlier run left beside the outputs."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

from boscage.model.rig_plan import GearItem

RIG_LIST = "rig.json"
_NOT_OURS = (OSError, ValueError, KeyError, TypeError, AttributeError)


def read_gear_loads(folder: Path) -> tuple[tuple[float, float, float], ...]:
    """East, north (middle of the contacts, the ranch's CRS) and kilograms of each rig in `rig.json`.

    A rig with an item that has no mass is left out, and so is a file that is absent or not ours: the caller then says
    that there is no gear list.
    """
    try:
        rows = [_load(row) for row in _rows(folder)]
    except _NOT_OURS:
        return ()
    return tuple(row for row in rows if row is not None)


def read_gear_lists(folder: Path) -> dict[str, tuple[GearItem, ...]]:
    """Gear of each ring in `rig.json`, by the name of its place; none where the file is absent or not ours."""
    try:
        return {row["name"]: tuple(_item(item) for item in row["gear"]) for row in _rows(folder) if row["feasible"]}
    except _NOT_OURS:
        return {}


def _rows(folder: Path) -> list[dict[str, Any]]:
    """One row a rig."""
    table = json.loads((folder / RIG_LIST).read_text(encoding="utf-8"))
    return table.get("sites", [table])


def _item(row: dict[str, Any]) -> GearItem:
    return GearItem(
        item=row["item"], count=row["count"], length_m=row["length_m"], mass_kg=row["mass_kg"], note=row["note"]
    )


def _load(row: dict[str, object]) -> tuple[float, float, float] | None:
    contacts, gear = row.get("contacts"), row.get("gear")
    if not isinstance(contacts, list) or not isinstance(gear, list) or not contacts or not gear:
        return None
    if any(item["mass_kg"] is None for item in gear):
        return None
    x = sum(float(c["x_m"]) for c in contacts) / len(contacts)
    y = sum(float(c["y_m"]) for c in contacts) / len(contacts)
    mass = sum(int(item["count"]) * float(item["mass_kg"]) for item in gear)
    return (x, y, mass) if math.isfinite(mass) else None
