"""From a ranch to its ranked sites, each with its reasons: for a run, and again at once when weights change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from boscage.airlift.coordinates import place_at
from boscage.model.layers import LayerReport
from boscage.model.results import FactorReading, Hazard, Place, ScoutResult, Site
from boscage.model.soil import GroundAnswer
from boscage.pipeline.ground import answers_at
from boscage.pipeline.ranch import Ranch
from boscage.readers.choice_places import place_choices
from boscage.siting.choices import Chosen, rings_apart, weigh_choices, with_choices
from boscage.siting.ranking import Peak, find_peaks, settle_on_rings
from boscage.siting.scoring import open_score, weighted_score
from boscage.siting.sites import (
    data_share,
    expected_support,
    explain,
    find_flags,
    find_hazards,
    ground_flags,
    read_factors,
    typical_points,
)
from boscage.values import Printer

SETTLE_M = 20.0


@dataclass(frozen=True, kw_only=True)
class PlaceFacts:
    """What holds at a place whatever the weights."""

    place: Place
    hazards: tuple[Hazard, ...]
    ground: GroundAnswer | None
    parcel: str
    owner: str


class PlaceBook:
    """Facts of places of one ranch, each looked up once."""

    def __init__(self, ranch: Ranch) -> None:
        self._ranch = ranch
        self._reports: dict[str, LayerReport] = {r.name: r for r in ranch.layers.reports}
        self._held: dict[tuple[float, float], PlaceFacts] = {}

    def facts(self, points: Sequence[tuple[float, float]]) -> list[PlaceFacts]:
        """Facts of each place; points are east and north."""
        new = [p for p in dict.fromkeys(points) if p not in self._held]
        ranch = self._ranch
        answers = answers_at(ranch.inputs.ground, ranch.layers, ranch.plan, new)
        for point, ground in zip(new, answers, strict=True):
            self._held[point] = self._look_up(point, ground)
        return [self._held[p] for p in points]

    def _look_up(self, point: tuple[float, float], ground: GroundAnswer | None) -> PlaceFacts:
        scene, land = self._ranch.scene, self._ranch.land
        place = place_at(*point, scene.grid.crs)
        hazards: tuple[Hazard, ...] = ()
        if not land.granted.is_empty:  # else there is no line of permission to measure to, and no site either
            hazards = find_hazards(scene, land, point, self._reports, place.convergence_deg)
        parcel, owner = land.parcel_at(*point)
        return PlaceFacts(place=place, hazards=hazards, ground=ground, parcel=parcel, owner=owner)


def rank_ranch(ranch: Ranch, book: PlaceBook | None = None) -> ScoutResult:
    """Score every cell, pick the sites and explain each.

    Args:
        ranch: With the weights to be used.
        book: Facts of places that were looked up before.
    """
    plan, scene = ranch.plan, ranch.scene
    score, peaks, chosen = _pick_places(ranch)
    sites = _make_sites(ranch, peaks, book or PlaceBook(ranch))
    told = with_choices(sites, peaks, chosen, plan.sites.spacing.m, Printer(plan.ranch.units))
    result = ScoutResult(
        plan=plan, grid=scene.grid, score=score, stopped=ranch.stopped, stops=ranch.stops, sites=told[0],
        choices=told[1], reports=ranch.layers.reports, ranch_ha=ranch.land.ranch_ha, granted_ha=ranch.land.granted_ha,
        open_ha=int(ranch.open_cells.sum()) * scene.grid.cell_ha, notes=_notes(ranch),
        factor_weights={r.factor.name: r.options.weight for r in ranch.rated}, ground=scene.ground,
    )  # fmt: skip
    return result if result.sites else replace(result, reason=_nearest_miss(ranch, result))


def _pick_places(ranch: Ranch) -> tuple[NDArray[np.float32], list[Peak], Chosen]:
    """The score, the places to be ranked, best first, and what the operator's choices come to."""
    plan, scene = ranch.plan, ranch.scene
    placed = place_choices(plan.choices, scene.grid.crs)
    everywhere = _score(ranch, np.ones(scene.grid.shape, dtype=bool)) if placed else np.empty((0, 0), np.float32)
    chosen = weigh_choices(placed, everywhere, scene, ranch.land, ranch.stops, SETTLE_M)
    score = _score(ranch, ranch.open_cells)
    spacing_m = plan.sites.spacing.m
    count = plan.sites.count - len(chosen.peaks)
    peaks = find_peaks(score, scene.grid, count=count, spacing_m=spacing_m, apart=chosen.apart)
    rings = rings_apart(scene.rings, chosen.apart)
    if rings is not None:
        peaks = settle_on_rings(peaks, rings, score, scene.grid, walk_m=SETTLE_M, spacing_m=spacing_m)
    return score, sorted([*chosen.peaks, *peaks], key=lambda p: -p.score), chosen


def _score(ranch: Ranch, open_cells: NDArray[np.bool_]) -> NDArray[np.float32]:
    return open_score(
        [r.measure.values for r in ranch.rated], [r.options.weight for r in ranch.rated], open_cells,
        least_data=ranch.plan.sites.least_data,
    )  # fmt: skip


def _notes(ranch: Ranch) -> tuple[str, ...]:
    """What the factors say of the whole ranch, and which have no data anywhere."""
    notes = [note for r in ranch.rated for note in r.measure.notes]
    blind = [r.factor.title.lower() for r in ranch.rated if is_blind(r.measure.values, ranch.scene.ranch)]
    return (*notes, *([f"No data anywhere for: {', '.join(blind)}. These factors do not count."] if blind else []))


def is_blind(values: NDArray[np.float32], here: NDArray[np.bool_]) -> bool:
    """Whether a field has no data on any of some cells."""
    return not any((here[row] & ~np.isnan(values[row])).any() for row in range(values.shape[0]))


def _nearest_miss(ranch: Ranch, result: ScoutResult) -> str:
    """Why no place is left, and what comes nearest to being one."""
    area = Printer(ranch.plan.ranch.units).area
    if result.granted_ha == 0:
        return "No parcel has granted access: nothing may be ranked. Ask for permission first."
    if result.open_ha == 0:
        widest = max((s for s in result.stops if s.name != "permission"), key=lambda s: s.hectares)
        return (
            f"Hard stops rule out every cell of the {area(result.granted_ha)} with permission; "
            f"the widest is '{widest.title}' with {area(widest.hectares)}. Check its rule or its layer."
        )
    if not np.isnan(result.score).all():
        return (
            f"{area(result.open_ha)} are left after the hard stops, and the places chosen by hand keep every one out: "
            "take a rejected place out of the plan, or lower sites.spacing."
        )
    weights = [r.options.weight for r in ranch.rated]
    _, share = weighted_score([r.measure.values for r in ranch.rated], weights, least_data=0.0)
    best = float(share[ranch.open_cells].max())
    return (
        f"{area(result.open_ha)} are left after the hard stops, but no place has data for enough of the score: "
        f"the best has {best:.0%} of the weight and sites.least_data asks for {ranch.plan.sites.least_data:.0%}. "
        "Add layers, or lower sites.least_data."
    )


def _make_sites(ranch: Ranch, peaks: Sequence[Peak], book: PlaceBook) -> tuple[Site, ...]:
    printer = Printer(ranch.plan.ranch.units)
    width = max(2, len(str(len(peaks))))
    names = [f"{ranch.plan.prefix}-{n:0{width}d}" for n in range(1, len(peaks) + 1)]
    readings = [read_factors(ranch.rated, peak, printer) for peak in peaks]
    typical = typical_points(readings)
    facts = book.facts([(p.x_m, p.y_m) for p in peaks])
    sites = []
    for n, (peak, reading) in enumerate(zip(peaks, readings, strict=True)):
        after = (names[n + 1], readings[n + 1]) if n + 1 < len(peaks) else None
        sites.append(_make_site(ranch, (names[n], n + 1), peak, (reading, explain(reading, typical, after)), facts[n]))
    return tuple(sites)


def _make_site(
    ranch: Ranch, named: tuple[str, int], peak: Peak, read: tuple[tuple[FactorReading, ...], tuple[str, ...]],
    facts: PlaceFacts,
) -> Site:  # fmt: skip
    """One site from its name and rank, its peak, what the factors say with the reasons, and the facts of its place."""
    readings, why = read
    support, support_note = expected_support(ranch.scene, peak, facts.ground)
    flood = (facts.ground.flood_class if facts.ground else None) or ""
    return Site(
        site=named[0], rank=named[1], score=round(peak.score), exact_score=peak.score, place=facts.place,
        parcel=facts.parcel, owner=facts.owner, readings=readings, data_share=data_share(readings), support=support,
        support_note=support_note, why=why, hazards=facts.hazards, elevation_m=elevation_at(ranch, peak.row, peak.col),
        ground=facts.ground,
        flags=(
            *find_flags(facts.hazards, readings, flood),
            *ground_flags(support, peak.ring_score is not None, facts.ground),
        ),
    )  # fmt: skip


def elevation_at(ranch: Ranch, row: int, col: int) -> float | None:
    """Elevation of a cell, metres, or None where the terrain has none."""
    surface = ranch.scene.surface("elevation")
    return None if surface is None or np.isnan(surface[row, col]) else float(surface[row, col])
