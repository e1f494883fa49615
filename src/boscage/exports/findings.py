"""What a run finds beside the ranking, as JSON. Metric; unknown is null; people are in none of it."""

from __future__ import annotations

from typing import Any

from boscage.exports.ground import known
from boscage.model.evidence import Effort
from boscage.model.findings import CameraFound, Evidence, Move, Standing, Together
from boscage.model.groups import Group
from boscage.model.portfolio import BaitSpacing, NoPortfolio, Portfolio
from boscage.model.weights import SteadinessOptions, Weighting


def standing_row(standing: Standing | None) -> dict[str, Any] | None:
    """How firm a site's rank is."""
    if standing is None:
        return None
    return {
        "label": standing.label, "first_share": round(standing.first_share, 4), "low_rank": standing.low_rank,
        "high_rank": standing.high_rank,
    }  # fmt: skip


def steadiness_table(options: SteadinessOptions | None) -> dict[str, Any] | None:
    """What was drawn."""
    return None if options is None else dict(vars(options))


def weighting_table(weighting: Weighting | None) -> dict[str, Any] | None:
    """Where the weights come from."""
    if weighting is None:
        return None
    worst = weighting.worst
    return {
        "basis": weighting.basis, "weights": {n: round(w, 6) for n, w in weighting.weights.items()},
        "consistency_ratio": round(weighting.ratio, 4), "random_index": weighting.random_index or None,
        "worst": None if worst is None else {
            "first": worst.first, "second": worst.second, "stated": round(worst.stated, 4),
            "fitting": round(worst.fitting, 4), "ratio_without": round(worst.ratio_without, 4),
        },
        "notes": list(weighting.notes),
    }  # fmt: skip


def move_rows(moves: tuple[Move, ...] | None) -> list[dict[str, Any]] | None:
    """What moved since the run before; None without one."""
    if moves is None:
        return None
    return [
        {"site": m.site or None, "rank": m.rank, "was_site": m.was_site or None, "was_rank": m.was_rank,
         "points": known(m.points, 2), "why": m.why}
        for m in moves
    ]  # fmt: skip


def evidence_table(evidence: Evidence | None) -> dict[str, Any] | None:
    """What sign and cameras say of the ranch."""
    if evidence is None:
        return None
    width = evidence.bandwidth
    return {
        "signs": dict(evidence.classes), "bandwidth_m": None if width is None else round(width.metres, 2),
        "bandwidth_rule": None if width is None else width.rule,
        "isopleths": [{"share": i.share, "hectares": round(i.hectares, 2)} for i in evidence.isopleths],
        "searched": _effort_row(evidence.effort), "cameras": [_camera_row(c) for c in evidence.cameras],
        "groups": [_group_row(g) for g in evidence.groups], "bait": _bait_table(evidence.bait, evidence.bait_names),
        "camera_standard": evidence.version or None, "bad_rows": list(evidence.bad_rows),
        "people_rows_left_out": evidence.people, "notes": list(evidence.notes),
    }  # fmt: skip


def _effort_row(effort: Effort | None) -> dict[str, Any] | None:
    if effort is None:
        return None
    return {"walked_m": round(effort.walked_m, 1), "looked_ha": round(effort.looked_ha, 2)}


def _camera_row(camera: CameraFound) -> dict[str, Any]:
    use = camera.use
    return {
        "camera": camera.name, "deployment": use.deployment, "x_m": round(camera.x_m, 2), "y_m": round(camera.y_m, 2),
        "visits": use.visits, "nights": round(use.nights, 3), "visits_a_night": known(use.visits_per_night, 4),
        "last_days": known(camera.last_days, 1), "largest": use.largest, "by_hour": list(use.by_hour),
        "bait_used": camera.bait, "end_is_assumed": camera.end_is_assumed,
    }  # fmt: skip


def _group_row(group: Group) -> dict[str, Any]:
    return {
        "group": group.name, "is_named": group.is_named, "members": dict(group.members), "least": group.least,
        "most": group.most, "nights_seen": [n.night.isoformat() for n in group.nights], "boar_visits": group.boars,
        "nights_test": {"passed": group.test.passed, "running": group.test.running, "wanted": group.test.wanted,
                        "why": group.test.why},
        "deployments": list(group.deployments),
    }  # fmt: skip


def _bait_table(bait: BaitSpacing | None, names: tuple[str, ...]) -> dict[str, Any] | None:
    if bait is None:
        return None
    return {
        "places": [
            {"place": name, "nearest": None if p.nearest is None else names[p.nearest],
             "nearest_m": known(p.nearest_m, 1), "state": p.state, "outside_share": known(p.outside_share, 4),
             "own_ha": known(p.own_ha, 1)}
            for name, p in zip(names, bait.places, strict=True)
        ],
        "reached_ha": known(bait.reached_ha, 1), "unreached_ha": known(bait.unreached_ha, 1),
        "expected_places": list(bait.expected), "notes": list(bait.notes),
    }  # fmt: skip


def together_table(together: Together | None) -> dict[str, Any] | None:
    """Which sites together."""
    if together is None:
        return None
    options = together.options
    asked = {
        "nets": options.nets, "crews": options.crews, "hours": options.hours, "check_minutes": options.check_minutes,
        "radius_m": round(options.radius.m, 2), "spacing_m": round(options.spacing.m, 2),
    }  # fmt: skip
    chosen = together.chosen
    if isinstance(chosen, NoPortfolio):
        return {"asked": asked, "sites": [], "reason": chosen.reason, "sentences": list(together.sentences)}
    return {
        "asked": asked, "sites": [s.site for s in together.sets], "share": round(chosen.share, 6),
        "greedy_share": round(chosen.greedy_share, 6), "ending": chosen.ending, "gap": round(chosen.gap, 8),
        "covered_ha": round(together.covered_ha, 2),
        "alone": [{"site": s.site, "share": round(s.alone_share, 6)} for s in together.sets],
        "rounds": [
            {"crew": n, "sites": [together.names[s] for s in r.sites], "minutes": round(r.minutes, 1),
             "is_shortest": r.is_shortest}
            for n, r in enumerate(chosen.rounds, start=1)
        ],
        "curve": [
            {"nets": p.nets, "share": round(p.share, 6), "added": round(p.added, 6), "bound": round(p.bound, 6),
             "ending": p.ending}
            for p in together.curve
        ],
        "alternatives": _alternatives(chosen, together.names),
        "not_checkable": [together.names[s] for s in chosen.left_out], "sentences": list(together.sentences),
    }  # fmt: skip


def _alternatives(chosen: Portfolio, names: tuple[str, ...]) -> list[dict[str, Any]]:
    return [{"out": names[a.out], "into": names[a.into], "share": round(a.share, 6)} for a in chosen.alternatives]
