"""The operator's choices held against the ground: which places are ranked as pinned or added, what is kept out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from boscage.model.choices import ChoiceOutcome, PlacedChoice
from boscage.model.results import Site, StopArea
from boscage.model.scene import RingField, Scene
from boscage.siting.land import Land
from boscage.siting.ranking import Peak
from boscage.values import Grid, Printer

REJECT_SHARE = 0.5
"""Of `sites.spacing`: how far round a rejected place nothing is ranked."""


@dataclass(frozen=True, kw_only=True)
class Chosen:
    """What the choices come to before the ranking.

    Attributes:
        peaks: Pinned and added places that are ranked, `chosen` set to their row in the plan.
        outcomes: One for each choice in the plan's order; those of `peaks` still without name and rank.
        apart: (N, 3): east, north, and the distance in metres that every other ranked place keeps from there.
    """

    peaks: tuple[Peak, ...]
    outcomes: tuple[ChoiceOutcome, ...]
    apart: NDArray[np.float64]


def weigh_choices(
    placed: Sequence[PlacedChoice], score: NDArray[np.float32], scene: Scene, land: Land,
    stops: Sequence[StopArea], walk_m: float,
) -> Chosen:  # fmt: skip
    """Which pinned and added places may be ranked, each at its own place with its own score.

    A place is ruled out within half of `sites.spacing` of a rejected one, off the parcels, inside any hard stop, on
    land without permission, or where too little of the score rests on data. Stops are held against the place itself,
    not against the middle of its cell.

    Args:
        placed: The plan's choices.
        score: (rows, cols) 0..100 before anything is ruled out; NaN where there are too few data.
        scene: Its grid, rings and plan.
        land: The parcels by permission.
        stops: The hard stops as found.
        walk_m: How far from a place mapped trees may stand to count as its ring.
    """
    spacing = scene.plan.sites.spacing.m
    reach = REJECT_SHARE * spacing
    rejected = [p for p in placed if p.choice.choice == "reject"]
    peaks, outcomes = [], []
    for one in placed:
        known = _score_at(one, score, scene.grid)
        if one.choice.choice == "reject":
            outcomes.append(_rejected(one, known, reach, scene))
            continue
        names, why = _ruled_out(one, rejected, scene, land, stops)
        if not why and known is None:
            why = "too little of the score rests on data there (sites.least_data)"
        state = "ruled out" if why else "ranked"
        sentence = f"{_named(one)}: {one.choice.told()}. NOT RANKED: {why}." if why else ""
        outcomes.append(ChoiceOutcome(placed=one, state=state, sentence=sentence, stops=names, score=known))
        if known is not None and not why:
            peaks.append(_peak(one, known, scene, walk_m))
    apart = [(p.x_m, p.y_m, spacing) for p in peaks] + [(p.x_m, p.y_m, reach) for p in rejected if _is_placed(p)]
    return Chosen(peaks=tuple(peaks), outcomes=tuple(outcomes), apart=np.array(apart, dtype=float).reshape(-1, 3))


def rings_apart(rings: RingField | None, apart: NDArray[np.float64]) -> RingField | None:
    """The rings whose middles keep their distance from every place of `apart`."""
    if rings is None or not len(apart):
        return rings
    kept = np.ones(len(rings.x_m), dtype=bool)
    for x_m, y_m, least_m in apart:
        kept &= np.hypot(rings.x_m - x_m, rings.y_m - y_m) >= least_m
    return replace(
        rings, x_m=rings.x_m[kept], y_m=rings.y_m[kept], score=rings.score[kept], contacts=rings.contacts[kept],
        built_supports=rings.built_supports[kept],
    )  # fmt: skip


def with_choices(
    sites: Sequence[Site], peaks: Sequence[Peak], chosen: Chosen, spacing_m: float, printer: Printer
) -> tuple[tuple[Site, ...], tuple[ChoiceOutcome, ...]]:
    """The sites that say which of them were chosen by hand, and what became of every choice.

    Args:
        sites: In rank order.
        peaks: The place that each was made from.
        chosen: What `weigh_choices` found.
        spacing_m: Least distance between two sites that the program finds itself.
        printer: In the plan's units.
    """
    by_row = {o.placed.row: o for o in chosen.outcomes}
    told = []
    for site, peak in zip(sites, peaks, strict=True):
        if peak.chosen is None:
            told.append(site)
            continue
        outcome = by_row[peak.chosen]
        by_row[peak.chosen] = _ranked(outcome, site)
        said = outcome.placed.choice.told(named=True)
        first = f"{said[:1].upper()}{said[1:]}."
        flags = _too_near(site, sites, spacing_m, printer)
        told.append(replace(site, why=(first, *site.why), flags=(*flags, *site.flags)))
    return tuple(told), tuple(by_row[o.placed.row] for o in chosen.outcomes)


def _ranked(outcome: ChoiceOutcome, site: Site) -> ChoiceOutcome:
    told = outcome.placed.choice.told()
    sentence = f"{_named(outcome.placed)}: {told}. Ranked {site.rank} as {site.site}, score {site.score}."
    return replace(outcome, site=site.site, rank=site.rank, sentence=sentence)


def _rejected(one: PlacedChoice, known: float | None, reach_m: float, scene: Scene) -> ChoiceOutcome:
    around = f" and nothing within {Printer(scene.plan.ranch.units).length(reach_m)} of it" if reach_m > 0 else ""
    sentence = f"{_named(one)}: {one.choice.told()}. This place is not ranked{around}."
    return ChoiceOutcome(placed=one, state="rejected", sentence=sentence, score=known)


def _named(one: PlacedChoice) -> str:
    """What people call the place: its name, or its row in the plan."""
    return one.choice.site or f"Choice {one.row}"


def _is_placed(one: PlacedChoice) -> bool:
    return math.isfinite(one.x_m) and math.isfinite(one.y_m)


def _score_at(one: PlacedChoice, score: NDArray[np.float32], grid: Grid) -> float | None:
    """The score of the cell that holds a place; None off the grid and where there is none."""
    if not _is_placed(one):
        return None
    row, col = grid.index(one.x_m, one.y_m)
    known = float(score[row, col]) if grid.holds(row, col) else math.nan
    return None if math.isnan(known) else known


def _ruled_out(
    one: PlacedChoice, rejected: Sequence[PlacedChoice], scene: Scene, land: Land, stops: Sequence[StopArea]
) -> tuple[tuple[str, ...], str]:
    """The hard stops that rule a place out, and why it is not ranked; '' where nothing speaks against it."""
    here = shapely.Point(one.x_m, one.y_m) if _is_placed(one) else None
    if here is None or not land.ranch.intersects(here):
        return (), "it lies on none of the parcels"
    hit = [s for s in stops if s.applied and s.geometry.intersects(here)]
    reasons = [_stop_words(s) for s in hit]
    if not land.granted.intersects(here) and all(s.name != "permission" for s in hit):
        reasons.append("no permission")
    reach = REJECT_SHARE * scene.plan.sites.spacing.m
    for other in rejected:
        away = math.hypot(other.x_m - one.x_m, other.y_m - one.y_m)
        if away < reach:
            printer = Printer(scene.plan.ranch.units)
            reasons.append(f"it is {printer.length(away)} from {_named(other)}, {other.choice.told()}")
    return tuple(s.name for s in hit), "; ".join(reasons)


def _stop_words(stop: StopArea) -> str:
    rule = f" ({stop.rule.text.rstrip('. ')}; {stop.rule.citation.rstrip('. ')})" if stop.rule is not None else ""
    return f"{stop.title}{rule}"


def _peak(one: PlacedChoice, known: float, scene: Scene, walk_m: float) -> Peak:
    """The place as it is, with the score of the best ring of mapped trees within a walk, if there is one."""
    row, col = scene.grid.index(one.x_m, one.y_m)
    ring = None
    if scene.rings is not None:
        near = np.hypot(scene.rings.x_m - one.x_m, scene.rings.y_m - one.y_m) <= walk_m
        ring = float(scene.rings.score[near].max()) if near.any() else None
    return Peak(row=row, col=col, x_m=one.x_m, y_m=one.y_m, score=known, ring_score=ring, chosen=one.row)


def _too_near(site: Site, sites: Sequence[Site], spacing_m: float, printer: Printer) -> tuple[str, ...]:
    """A warning where another chosen place is nearer than the spacing: the program itself keeps it."""
    flags = []
    for other in sites:
        away = math.hypot(other.place.x_m - site.place.x_m, other.place.y_m - site.place.y_m)
        if other is not site and away < spacing_m:
            flags.append(
                f"Only {printer.length(away)} from {other.site}, nearer than sites.spacing: both were "
                "pinned or added by hand."
            )
    return tuple(flags)
