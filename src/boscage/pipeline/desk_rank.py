"""The ranking again at once when weights or choices change, on what the factors have measured already."""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import replace

from boscage.errors import InputError
from boscage.exports.store import Store
from boscage.model.desk import FactorRow
from boscage.model.desk_answers import RankAnswer, RankedSite, SiteEdits
from boscage.model.options import read_options
from boscage.model.results import ScoutResult, Site
from boscage.pipeline.firmness import with_standing
from boscage.pipeline.progress import Progress, silent
from boscage.pipeline.ranch import Ranch
from boscage.pipeline.ranking import PlaceBook, is_blind, rank_ranch
from boscage.pipeline.scene import measure_all
from boscage.plugins import FACTORS, list_plugins, load_plugin
from boscage.siting.sites import RatedFactor

MOST_WEIGHT = 1000.0


class Ranker:
    """Rankings of one ranch, numbered from 1.

    Attributes:
        ranch: As opened.
        result: The last ranking.
        ranking: Its number.
    """

    def __init__(self, ranch: Ranch, store: Store) -> None:
        self.ranch, self.ranking = ranch, 0
        self._store, self._book = store, PlaceBook(ranch)
        self._rated = {r.factor.name: r for r in ranch.rated}
        self.result: ScoutResult
        self._before: set[tuple[float, float]] = set()
        self.rank(SiteEdits())

    def factors(self) -> tuple[FactorRow, ...]:
        """Every factor that is installed, with the plan's weight."""
        used = {r.factor.name: r for r in self.ranch.rated}
        rows = []
        for name in list_plugins(FACTORS):
            one = self._rated.get(name)
            factor = load_plugin(FACTORS, name) if one is None else one.factor
            rows.append(
                FactorRow(
                    name=name, title=factor.title, unit=factor.unit,
                    weight=used[name].options.weight if name in used else 0.0,
                    is_known=None if one is None else not is_blind(one.measure.values, self.ranch.scene.ranch),
                )
            )  # fmt: skip
        return tuple(rows)

    def rank(self, edits: SiteEdits, progress: Progress = silent) -> RankAnswer:
        """Rank with other weights and choices.

        A factor that the plan leaves out and the edits do not is measured first, which takes its time once.

        Raises:
            InputError: A weight is none, of no factor, or all are 0.
            PluginError: A factor that comes in cannot be loaded.
        """
        begun, used = time.perf_counter(), time.process_time()
        ranch = self.edited(edits, progress)
        self._keep(rank_ranch(ranch, self._book))
        answer = self._answer(self.result)
        return replace(
            answer, cpu_ms=1e3 * (time.process_time() - used), wall_ms=1e3 * (time.perf_counter() - begun)
        )  # fmt: skip

    def steadiness(self, edits: SiteEdits) -> RankAnswer:
        """The ranking with how firm each rank is; it keeps the number of the last one where that was the same."""
        begun, used = time.perf_counter(), time.process_time()
        ranch = self.edited(edits, silent)
        result = rank_ranch(ranch, self._book)
        if _places(result) != _places(self.result) or result.factor_weights != self.result.factor_weights:
            self._keep(result)
        answer = self._answer(with_standing(result, ranch.rated))
        return replace(
            answer, cpu_ms=1e3 * (time.process_time() - used), wall_ms=1e3 * (time.perf_counter() - begun)
        )  # fmt: skip

    def _keep(self, result: ScoutResult) -> None:
        self._before = _places(self.result) if self.ranking else set()
        self.result, self.ranking = result, self.ranking + 1

    def edited(self, edits: SiteEdits, progress: Progress) -> Ranch:
        """The ranch with other weights and choices."""
        weights = self._weights(edits.weights)
        rated = tuple(
            replace(one, options=replace(one.options, weight=weights[name]))
            for name, one in self._measured(weights, progress).items()
        )
        plan = self.ranch.plan
        if edits.choices is not None:
            plan = replace(plan, choices=edits.choices)
        return replace(self.ranch, inputs=replace(self.ranch.inputs, plan=plan), rated=rated)

    def _weights(self, edited: Mapping[str, float]) -> dict[str, float]:
        """Weights over 0 by factor, in the order in which factors are added up."""
        names = list_plugins(FACTORS)
        for name, weight in edited.items():
            if name not in names:
                raise InputError(f"there is no factor {name}", expected=f"one of {', '.join(names)}", field=name)
            if not 0.0 <= weight <= MOST_WEIGHT:
                raise InputError(f"the weight is {weight:g}", expected=f"0 to {MOST_WEIGHT:g}", field=name)
        stated = {r.factor.name: r.options.weight for r in self.ranch.rated}
        weights = {name: float(edited.get(name, stated.get(name, 0.0))) for name in names}
        found = {name: weight for name, weight in weights.items() if weight > 0.0}
        if not found:
            raise InputError("every factor has the weight 0", expected="at least one above 0", field="weights")
        return found

    def _measured(self, weights: Mapping[str, float], progress: Progress) -> dict[str, RatedFactor]:
        """What the factors measured, those that come in new measured now."""
        for name in weights:
            if name not in self._rated:
                self._rated[name] = self._measure(name, progress)
        return {name: self._rated[name] for name in weights}

    def _measure(self, name: str, progress: Progress) -> RatedFactor:
        plan = self.ranch.plan
        factor = load_plugin(FACTORS, name)
        table = {key: value for key, value in plan.factors.get(name, {}).items() if key != "weight"}
        options = read_options(factor.Options, table, file=plan.file, key=f"factors.{name}")
        return measure_all(self.ranch.scene, [(factor, options)], self._store, progress)[0]

    def _answer(self, result: ScoutResult) -> RankAnswer:
        by_site = {o.site: o.placed.choice.choice for o in result.choices if o.site}
        sites = tuple(_ranked(site, by_site.get(site.site, "")) for site in result.sites)
        moved = tuple(s.site for s in sites if self._before and (s.x_m, s.y_m) not in self._before)
        return RankAnswer(
            ranking=self.ranking, sites=sites, weights=dict(result.factor_weights), reason=result.reason,
            rejected=tuple(o for o in result.choices if o.state == "rejected"),
            ruled_out=tuple(o for o in result.choices if o.state == "ruled out"), notes=result.notes, moved=moved,
        )  # fmt: skip


def _places(result: ScoutResult) -> set[tuple[float, float]]:
    return {(s.place.x_m, s.place.y_m) for s in result.sites}


def _ranked(site: Site, choice: str) -> RankedSite:
    place, standing = site.place, site.standing
    firm = {} if standing is None else {
        "label": standing.label, "top_rank_share": standing.top_rank_share, "first_share": standing.first_share,
        "low_rank": standing.low_rank, "high_rank": standing.high_rank,
    }  # fmt: skip
    return RankedSite(
        site=site.site, rank=site.rank, score=site.exact_score, x_m=place.x_m, y_m=place.y_m, lon=place.lon,
        lat=place.lat, ddm=place.ddm, parcel=site.parcel, owner=site.owner, bars=site.readings,
        data_share=site.data_share, support=site.support, support_note=site.support_note, why=site.why,
        flags=site.flags, pinned=choice == "pin", by_hand=choice == "add", **firm,
    )  # fmt: skip
