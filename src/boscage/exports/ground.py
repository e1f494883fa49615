"""The ground as JSON: what one place allows, and what is known of the ranch. Metric; unknown is null, never 0."""

from __future__ import annotations

import math
from typing import Any

from boscage.model.ground import GroundField
from boscage.model.soil import GroundAnswer, Shares, StakeAnswer


def answer_row(answer: GroundAnswer | None) -> dict[str, Any] | None:
    """What the ground allows at one place; None where there is neither soil map nor reading."""
    if answer is None:
        return None
    unit, posts, apron, burial = answer.unit, answer.posts, answer.apron, answer.burial
    return {
        "unit": None if unit is None else {"symbol": unit.symbol, "name": unit.name, "source": unit.source},
        "basis": answer.basis, "moisture": answer.moisture, "resistance_mpa": known(answer.resistance_mpa),
        "error_ln": known(answer.error_ln), "named_share": known(answer.named_share),
        "hard_cm": known(answer.hard_cm, 1), "rock_pct": known(answer.rock_pct, 1), "flood_class": answer.flood_class,
        "stopped_cm": known(answer.stopped_cm, 1),
        "posts": {"answer": posts.verdict, "depth_cm": known(posts.depth_cm, 1), "shares": _shares(posts.shares),
                  "why": posts.why},
        "pickets": pickets_row(answer.stakes),
        "apron": {"stake": apron.kind, "times": round(apron.times, 3), "also": list(apron.also), "why": apron.why},
        "burial": {"answer": burial.verdict, "shares": _shares(burial.shares), "why": list(burial.why)},
        "bring": list(answer.bring), "assumption": answer.assumption, "notes": list(answer.notes),
    }  # fmt: skip


def pickets_row(stakes: StakeAnswer | None) -> dict[str, Any] | None:
    """The pickets that hold a pull; None where no pull was asked for."""
    if stakes is None:
        return None
    return {
        "pull_n": round(stakes.pull_n, 1), "holdfast": None if stakes.holdfast is None else stakes.holdfast.name,
        "count": stakes.count, "pickets": stakes.pickets, "factor": round(stakes.factor, 3),
        "holds_n": round(stakes.holds_n, 1), "why": stakes.why,
    }  # fmt: skip


def ground_table(field: GroundField | None) -> dict[str, Any] | None:
    """What is known of the ranch's ground; None where there is neither soil map nor reading."""
    if field is None:
        return None
    return {
        "moisture": field.moisture, "assumption": field.assumption, "rule": field.rule or None,
        "left_out": field.left_out or None, "readings": sum(p.readings for p in field.places),
        "places": len(field.places), "notes": list(field.notes),
        "units": [
            {"symbol": r.symbol, "name": r.name, "hectares": round(r.hectares, 2), "named_share": known(r.named_share),
             "resistance_mpa": known(r.resistance_mpa), "error_ln": known(r.error_ln), "hard_cm": known(r.depth_cm, 1),
             "rock_pct": known(r.rock_pct, 1), "flood_class": r.flood_class, "posts": r.posts, "burial": r.burial}
            for r in field.rows
        ],
    }  # fmt: skip


def _shares(shares: Shares) -> dict[str, float]:
    return {name: round(value, 3) for name, value in vars(shares).items()}


def known(value: float, digits: int = 3) -> float | None:
    """A number, or None for NaN."""
    return None if math.isnan(value) else round(value, digits)
