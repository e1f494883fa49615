"""Parts of `report.json` that are tables of their own; the clock stands in `check.json` too."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from typing import Any

from boscage.model.ledger import ANIMAL_CLASSES
from boscage.model.ledger_clock import CheckOptions, ClockReport
from boscage.model.ledger_effort import CaptureNight, GroupsTaken, Rate
from boscage.model.ledger_land import DamageChange, NoComparison, Share
from boscage.model.ledger_removal import Removal
from boscage.model.report import DamageFound, NextStep, SetLine, UseShare
from boscage.values import Bounds


def known(value: float, digits: int = 4) -> float | None:
    """A number, null for NaN and for no upper end."""
    return round(value, digits) if math.isfinite(value) else None


def rate_table(rate: Rate) -> dict[str, Any]:
    """A rate with its interval."""
    return {
        "events": rate.events, "exposure": known(rate.exposure, 3), "value": known(rate.value), "low": known(rate.low),
        "high": known(rate.high), "level": rate.level,
    }  # fmt: skip


def night_row(night: CaptureNight) -> dict[str, Any]:
    """All captures of one set in one night."""
    return {
        "site": night.site, "night": night.night.isoformat(), "groups": list(night.groups),
        **dict(zip(ANIMAL_CLASSES, night.counts, strict=True)), "total": night.animals,
        "minutes_to_approach": known(night.minutes_to_approach, 0),
        "minutes_to_finish": known(night.minutes_to_finish, 0), "days_from_bait": known(night.days_from_bait, 0),
    }  # fmt: skip


def set_row(line: SetLine) -> dict[str, Any]:
    """One set; its place in an exact copy, its square in a masked one."""
    place = {"square": _box(line.square)} if math.isnan(line.x_m) else {
        "x_m": round(line.x_m, 2), "y_m": round(line.y_m, 2), "parcel": line.parcel}  # fmt: skip
    return {
        "site": line.site, "first": line.first.isoformat(), "last": line.last.isoformat(),
        "prebait_nights": line.prebait, "open_nights": line.open, "armed_nights": line.armed, "checks": line.checks,
        "capture_nights": line.events, "animals": line.animals, "nontargets": line.nontargets,
        "hours": known(line.hours, 2), "armed_nights_without_a_look": line.unchecked, "state": line.state or None,
        "places": line.places, **place,
    }  # fmt: skip


def _box(square: Bounds | None) -> list[float] | None:
    return None if square is None else [square.west, square.south, square.east, square.north]


def group_rows(found: GroupsTaken) -> list[dict[str, Any]]:
    """Every group with who is missing."""
    return [
        {"group": g.group, "known": g.known, "taken": g.taken, "boars_apart": g.boars_apart, "missing": g.missing,
         "missing_by_class": dict(g.missing_by_class), "state": g.state,
         "counted": g.night.isoformat() if g.night else None, "source": g.source or None}
        for g in found.groups
    ]  # fmt: skip


def camera_rows(groups: Sequence[tuple[str, int, dt.date]]) -> list[dict[str, Any]]:
    """Groups that cameras saw and no group of the log is said to be."""
    return [{"group": name, "most": most, "last": night.isoformat()} for name, most, night in groups]


def share_table(share: UseShare | None) -> dict[str, Any] | None:
    """Use within the covered land from sign of some days."""
    if share is None:
        return None
    return {
        "begin": share.begin.isoformat(), "end": share.end.isoformat(), "signs": share.signs,
        "share": known(share.share, 3),
    }  # fmt: skip


def damage_table(found: DamageFound) -> dict[str, Any]:
    """Damage and sign before and after, or why they cannot be compared."""
    change = found.change
    out: dict[str, Any] = {"compared": isinstance(change, DamageChange), "reason": None}
    if isinstance(change, NoComparison):
        out["reason"] = change.reason
    if isinstance(change, DamageChange):
        out |= {
            "transects": change.transects, "surveyed": round(change.surveyed, 2), "unit": change.unit,
            "before": _interval(change.before), "after": _interval(change.after), "change": _interval(change.change),
            "level": change.level, "notes": list(change.notes),
        }  # fmt: skip
    sign = found.sign
    out["sign_per_km"] = sign and {"before": rate_table(sign.before), "after": rate_table(sign.after)}
    out["days"] = [None if d is None else [d[0].isoformat(), d[1].isoformat()] for d in found.days]
    return {**out, "notes": [*out.get("notes", []), *found.notes]}


def _interval(share: Share) -> dict[str, Any]:
    return {"value": known(share.value), "low": known(share.low), "high": known(share.high)}


def removal_table(found: Removal) -> dict[str, Any]:
    """Whether an estimate is supported; `estimate` is of animals before the first pass, `left` after the last."""
    made, left = found.estimate, found.left or (math.nan, math.nan, math.nan)
    return {
        "fit": found.fit, "reasons": list(found.reasons),
        "tests": [{"test": t.name, "passed": t.passed, "text": t.text} for t in found.tests],
        "method": made.method if made else None, "estimate": known(made.number, 1) if made else None,
        "low": known(made.low, 1) if made else None, "high": known(made.high, 1) if made else None,
        "left": known(left[0], 1), "left_low": known(left[1], 1), "left_high": known(left[2], 1),
        "caveat": found.caveat or None,
    }  # fmt: skip


def clock_table(clock: ClockReport, rule: CheckOptions, zone: str) -> dict[str, Any]:
    """The clock of checks: the rule, what is due, what was late, armed nights without a look."""
    return {
        "now": clock.now.isoformat(timespec="minutes"), "zone": zone,
        "rule": {
            "hours": rule.hours, "attended": rule.attended, "method": rule.method, "classed_by": rule.classed_by,
            "place": rule.place, "text": rule.words, "citation": rule.citation, "checked": rule.checked.isoformat(),
            "grade": rule.grade, "stale": rule.is_stale(clock.now.date()),
        },
        "due": [
            {"site": d.site, "due": d.due.isoformat(timespec="minutes"),
             "due_latest": d.due_latest.isoformat(timespec="minutes"), "state": d.state, "last_row": d.last_row,
             "last_night": d.last_night.isoformat()}
            for d in clock.due
        ],
        "late": [
            {"site": g.site, "from_row": g.from_row, "to_row": g.to_row, "least_hours": round(g.least_hours, 2),
             "most_hours": round(g.most_hours, 2)}
            for g in clock.gaps if g.kept is False
        ],
        "intervals": clock.intervals, "intervals_unknown": clock.intervals_unknown,
        "armed_nights": clock.armed_nights,
        "without_a_look": [{"site": site, "night": night.isoformat()} for site, night in clock.unchecked],
        "notes": list(clock.notes),
    }  # fmt: skip


def step_row(step: NextStep) -> dict[str, Any]:
    """What is to be done, by whom, until when."""
    return {
        "what": step.what, "who": step.who, "by": step.by.isoformat() if step.by else None, "urgent": step.urgent,
    }  # fmt: skip
