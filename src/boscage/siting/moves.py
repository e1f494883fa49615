"""What moved since the run before, and why."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from boscage.model.findings import Move
from boscage.model.results import Site

SAME_PLACE_M = 60.0
"""Two ranked places no farther apart are taken to be one: common practice, no source."""
LEAST_POINTS = 0.5
TOLD = 3


@dataclass(frozen=True, kw_only=True)
class Ranked:
    """One place of a ranking.

    Attributes:
        points: Points of 100 that each factor adds.
        titles: What people call the factors.
    """

    site: str
    rank: int
    x_m: float
    y_m: float
    score: float
    points: Mapping[str, float]
    titles: Mapping[str, str]


def ranked(sites: Sequence[Site]) -> tuple[Ranked, ...]:
    """The places of a ranking, without what they rest on."""
    return tuple(
        Ranked(
            site=s.site, rank=s.rank, x_m=round(s.place.x_m, 2), y_m=round(s.place.y_m, 2),
            score=round(s.exact_score, 4), points={r.name: round(r.points, 4) for r in s.readings},
            titles={r.name: r.title.lower() for r in s.readings},
        )
        for s in sites
    )  # fmt: skip


def find_moves(before: Sequence[Ranked], now: Sequence[Ranked]) -> tuple[Move, ...]:
    """Places whose rank changed, came or went: by their rank now, then by that before.

    A place is the same where the nearest of the other ranking lies within `SAME_PLACE_M`; each is taken once, the
    nearest pairs first.
    """
    pairs = _pairs(before, now)
    moves = []
    for k, place in enumerate(now):
        old = before[pairs[k]] if k in pairs else None
        if old is None:
            why = f"New among the ranked sites, with {place.score:.0f} of 100."
            moves.append(_move(place, None, math.nan, why))
        elif old.rank != place.rank:
            moves.append(_move(place, old, place.score - old.score, _why(old, place)))
    gone = [b for k, b in enumerate(before) if k not in pairs.values()]
    for old in gone:
        why = "Ranked no more: it was ruled out, moved, or others of the same stretch are better now."
        moves.append(
            Move(site="", rank=None, was_site=old.site, was_rank=old.rank, points=math.nan, why=why)
        )  # fmt: skip
    return tuple(moves)


def _move(place: Ranked, old: Ranked | None, points: float, why: str) -> Move:
    return Move(
        site=place.site, rank=place.rank, was_site="" if old is None else old.site,
        was_rank=None if old is None else old.rank, points=points, why=why,
    )  # fmt: skip


def _pairs(before: Sequence[Ranked], now: Sequence[Ranked]) -> dict[int, int]:
    """Index now -> index before."""
    near = sorted(
        (math.hypot(n.x_m - b.x_m, n.y_m - b.y_m), i, k) for i, n in enumerate(now) for k, b in enumerate(before)
    )  # fmt: skip
    found: dict[int, int] = {}
    for away, i, k in near:
        if away <= SAME_PLACE_M and i not in found and k not in found.values():
            found[i] = k
    return found


def _why(old: Ranked, new: Ranked) -> str:
    """The factors whose points changed most, or that others changed."""
    names = [*new.points, *[n for n in old.points if n not in new.points]]
    titles = {**old.titles, **new.titles}
    gaps = [(new.points.get(n, 0.0) - old.points.get(n, 0.0), titles[n]) for n in names]
    told = sorted((g for g in gaps if abs(g[0]) >= LEAST_POINTS), key=lambda g: (-abs(g[0]), g[1]))[:TOLD]
    if not told:
        return "Its own score hardly changed; others went up or down round it."
    return "Points: " + ", ".join(f"{title} {gap:+.0f}" for gap, title in told) + "."
