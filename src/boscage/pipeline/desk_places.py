"""Everything that is known of one place of a ranch."""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from dataclasses import replace

import shapely

from boscage.model.desk import StopRow
from boscage.model.desk_answers import PlaceAnswer, StopHere
from boscage.model.journey import Journey, Load
from boscage.model.results import FactorReading, Site, StopArea
from boscage.pipeline.desk_ways import Guide
from boscage.pipeline.desk_words import ground_sentences, not_applied, sight_sentences, stop_reason, way_sentences
from boscage.pipeline.ranch import Ranch
from boscage.pipeline.ranking import PlaceBook, elevation_at
from boscage.pipeline.ways import SAME_PLACE_M
from boscage.siting.ranking import Peak
from boscage.siting.sites import data_share, expected_support, read_factors
from boscage.values import Printer

HERE, MIDDLE = "here", "the middle of the cell"
OFF_GRID = "This place lies off the scoring grid: nothing was measured here."
Loads = Sequence[tuple[float, float, float]]


class PlaceTeller:
    """Answers on places of one ranch."""

    def __init__(self, ranch: Ranch) -> None:
        self._ranch = ranch
        self._printer = Printer(ranch.plan.ranch.units)
        self._book = PlaceBook(ranch)
        self._guide = Guide(ranch.scene)
        self._missing = tuple(r.name for r in ranch.layers.reports if r.state == "missing")

    def use_units(self, units: str) -> None:
        """Tell in `us` or `metric` units from now on."""
        self._printer = Printer(units)

    def place(
        self, x_m: float, y_m: float, *, rated: Ranch, sites: Sequence[Site], loads: Loads, with_ways: bool
    ) -> PlaceAnswer:
        """Tell of a place.

        Args:
            x_m, y_m: East and north.
            rated: The ranch with the weights of the ranking that is shown.
            sites: Of that ranking.
            loads: East, north and kilograms of the gear lists that are there.
            with_ways: Whether the way in and who sees it are asked for; the first time takes longer.
        """
        begun = time.perf_counter()
        ranch, grid = self._ranch, self._ranch.scene.grid
        facts = self._book.facts([(x_m, y_m)])[0]
        row, col = grid.index(x_m, y_m)
        on_grid = grid.holds(row, col)
        peak = Peak(row=row, col=col, x_m=x_m, y_m=y_m, score=math.nan)
        readings = read_factors(rated.rated, peak, self._printer) if on_grid else ()
        score, note = self._score(readings)
        near = min(sites, key=lambda s: math.hypot(s.place.x_m - x_m, s.place.y_m - y_m), default=None)
        answer = PlaceAnswer(
            x_m=x_m, y_m=y_m, decimal=facts.place.decimal, ddm=facts.place.ddm, usng=facts.place.usng,
            parcel=facts.parcel, owner=facts.owner, access=self._access(x_m, y_m),
            stops=self._stops(x_m, y_m), not_applied=tuple(not_applied(s) for s in ranch.stops if not s.applied),
            readings=readings, score=score, score_note=note,
            elevation_m=elevation_at(ranch, row, col) if on_grid else None, hazards=facts.hazards,
            ground=ground_sentences(facts.ground, self._printer),
            support=expected_support(ranch.scene, peak, facts.ground)[1] if on_grid else "",
            nearest_site=near.site if near else "",
            nearest_m=math.hypot(near.place.x_m - x_m, near.place.y_m - y_m) if near else None,
        )  # fmt: skip
        if with_ways:
            answer = self._with_ways(answer, rated, loads, on_grid=on_grid)
        return replace(answer, wall_ms=1e3 * (time.perf_counter() - begun))

    def _with_ways(self, answer: PlaceAnswer, rated: Ranch, loads: Loads, *, on_grid: bool) -> PlaceAnswer:
        if not on_grid:
            return replace(answer, has_ways=True, way=(OFF_GRID,), seen=(OFF_GRID,))
        x, y = answer.x_m, answer.y_m
        names = {r.factor.name for r in rated.rated}
        journey = self._guide.journey(rated.rated, x, y, self._load(x, y, loads))
        exposure = self._guide.exposure(rated.rated, x, y)
        told = {"missing": self._missing, "printer": self._printer}
        line = journey.line if isinstance(journey, Journey) and journey.inward else ()
        return replace(
            answer, has_ways=True, way=way_sentences(journey, asked="access" in names, **told),
            seen=sight_sentences(exposure, asked="concealment" in names, **told),
            way_line=tuple((float(p[0]), float(p[1])) for p in line),
        )  # fmt: skip

    def _load(self, x_m: float, y_m: float, loads: Loads) -> Load:
        """The gear list made for a place, else the net alone."""
        gaps = [(math.hypot(x - x_m, y - y_m), mass) for x, y, mass in loads]
        gap, mass = min(gaps, default=(math.inf, 0.0))
        if gap <= SAME_PLACE_M:
            return Load(mass_kg=mass, note="gear list of this place")
        return Load(mass_kg=self._ranch.plan.net.mass.kg, note="net alone; no gear list of this place yet")

    def _score(self, readings: Sequence[FactorReading]) -> tuple[float | None, str]:
        """The score that the readings add up to, or why there is none."""
        if not readings:
            return None, OFF_GRID
        share, least = data_share(readings), self._ranch.plan.sites.least_data
        if all(r.value is None for r in readings):
            return None, "No factor has data here."
        if share < least - 1e-6:
            return None, f"Only {share:.0%} of the weight has data here; sites.least_data asks for {least:.0%}."
        return sum(r.points for r in readings), ""

    def _access(self, x_m: float, y_m: float) -> str:
        parcels = self._ranch.land.parcels
        hits = parcels["access"][parcels.intersects(shapely.Point(x_m, y_m))].tolist()
        strict = [a for a in ("refused", "unknown", "granted") if a in hits]
        return strict[0] if strict else ""

    def _stops(self, x_m: float, y_m: float) -> tuple[StopHere, ...]:
        grid = self._ranch.scene.grid
        row, col = grid.index(x_m, y_m)
        here, middle = shapely.Point(x_m, y_m), shapely.Point(*grid.centre(row, col))
        on_grid = grid.holds(row, col)
        found = []
        for stop in self._ranch.stops:
            if stop.geometry.intersects(here):
                found.append(self._stop_here(stop, HERE))
            elif on_grid and stop.geometry.intersects(middle):
                found.append(self._stop_here(stop, MIDDLE))
        return tuple(found)

    def _stop_here(self, stop: StopArea, where: str) -> StopHere:
        row = stop_row(stop, self._printer)
        return StopHere(
            name=row.name, title=row.title, reason=row.reason, where=where, rule=row.rule, citation=row.citation,
            checked=row.checked, grade=row.grade, stale=row.stale,
        )  # fmt: skip


def stop_row(stop: StopArea, printer: Printer) -> StopRow:
    """A hard stop with its rule, in short."""
    rule = stop.rule
    said = {} if rule is None else {
        "rule": rule.text, "citation": rule.citation, "checked": rule.checked.isoformat(), "grade": rule.grade,
    }  # fmt: skip
    return StopRow(
        name=stop.name, title=stop.title, reason=stop_reason(stop, printer), applied=stop.applied, stale=stop.stale,
        hectares=stop.hectares, **said,
    )  # fmt: skip
