"""The rankings that runs before this one left beside the outputs."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

RANKINGS = ".boscage/ranking.json"
_KEYS = {"site", "rank", "x_m", "y_m", "score", "points", "titles"}


def read_rankings(out: Path) -> tuple[list[dict[str, Any]] | None, list[dict[str, Any]] | None]:
    """Rows of the ranking before the last and of the last; None for each that is not there or not ours."""
    try:
        held = json.loads((out / RANKINGS).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None, None
    if not isinstance(held, dict):
        return None, None
    before, now = held.get("before"), held.get("now")
    return (before if _ours(before) else None), (now if _ours(now) else None)


def read_together(out: Path) -> tuple[str, ...]:
    """The sites that the last ranking chose together; none where it chose none or is not there."""
    try:
        return tuple(json.loads((out / "scout.json").read_text(encoding="utf-8"))["together"]["sites"])
    except (OSError, ValueError, KeyError, TypeError):
        return ()


def _ours(rows: object) -> bool:
    return isinstance(rows, list) and all(isinstance(r, dict) and set(r) == _KEYS for r in rows)
