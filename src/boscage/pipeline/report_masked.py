"""The copy of a report that may be shared: coarse squares for places, rounded land, no coordinates or people in words.

A masked result holds no exact place, so nothing that is drawn or written from it can give one away.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any

import shapely

from boscage.ledger.covered import circle
from boscage.ledger.masking import Hider, coarse_square, middle_of, three_figures
from boscage.model.ledger_land import Covered, CoveredOwner, CoveredParcel
from boscage.model.report import ReportResult, SetLine, square_side
from boscage.pipeline.report_inputs import ReportInputs
from boscage.values import Bounds

Place = tuple[float, float]
EVERYWHERE_M = 1e6
_OF_THE_LAND = ("plan", "covered", "pieces", "owner", "nights", "crs", "zone")


def finished(result: ReportResult, inputs: ReportInputs, *, exact: bool) -> ReportResult:
    """The result as it may be written: masked, or exact where that was asked for.

    Also in an exact copy for one owner the circles of sets on other people's land stand round squares.
    """
    blur = _Blur(inputs, result.owner)
    drawn = blur.drawn(exact=exact)
    granted = [p for p in inputs.land if p.access == "granted" and (not result.owner or p.owner == result.owner)]
    shape = shapely.intersection(drawn, shapely.union_all([p.shape for p in granted]))
    result = replace(
        result, covered=replace(result.covered, shape=shape), blur_m=blur.most_m,
        pieces=tuple(shapely.intersection(shape, p.shape) for p in granted),
    )  # fmt: skip
    if not exact:
        result = replace(
            result, masked=True, covered=_rounded(result.covered), sets=tuple(blur.hidden(s) for s in result.sets)
        )
    return _without_words(result, inputs)


class _Blur:
    """Squares for places; `most_m` is the farthest that a set can lie from the middle of a square that was drawn."""

    def __init__(self, inputs: ReportInputs, owner: str) -> None:
        self.inputs, self.owner = inputs, owner
        granted = [p for p in inputs.land if p.access == "granted"]
        self.own = shapely.union_all([p.shape for p in granted if not owner or p.owner == owner])
        self.other = shapely.union_all([p.shape for p in granted if owner and p.owner != owner])
        shapely.prepare([self.own, self.other])
        self.squares: dict[tuple[int, int, int], Bounds] = {}
        self.most_m = 0.0

    def square(self, place: Place) -> Bounds:
        """The square for a place; off land with permission it is the plan's own."""
        side = square_side(self.inputs.plan)
        around = [k for k, g in enumerate((self.own, self.other)) if shapely.intersects_xy(g, *place)]
        which = around[0] if around else -1
        key = (math.floor(place[0] / side), math.floor(place[1] / side), which)
        if key not in self.squares:
            land = (self.own, self.other, shapely.Point(place).buffer(EVERYWHERE_M))[which]
            self.squares[key] = coarse_square(*place, side, land)
        return self.squares[key]

    def drawn(self, *, exact: bool) -> Any:
        """All circles together, round the places or round the middles of squares."""
        middles: dict[Place, None] = {}
        for stay in self.inputs.book.stays:
            if stay.state != "armed" or not stay.nights or math.isnan(stay.x_m):
                continue
            place = (stay.x_m, stay.y_m)
            if exact and (not self.owner or shapely.intersects_xy(self.own, *place)):
                middles[place] = None
                continue
            square = self.square(place)
            self.most_m = max(self.most_m, math.hypot(square.width, square.height) / 2.0)
            middles[middle_of(square)] = None
        return shapely.union_all([circle(*m, self.inputs.plan.report.radius.m) for m in middles])

    def hidden(self, line: SetLine) -> SetLine:
        """A set with its square for its place."""
        square = None if math.isnan(line.x_m) else self.square((line.x_m, line.y_m))
        return replace(line, x_m=math.nan, y_m=math.nan, parcel="", square=square)


def _rounded(covered: Covered) -> Covered:
    """Covered land to three figures: exact areas and a radius would give the middles of circles."""

    def line(held: Any) -> Any:
        return replace(
            held, covered_ha=min(three_figures(held.covered_ha), held.hectares),
            covered_share=round(held.covered_share, 2), hectare_nights=three_figures(held.hectare_nights),
        )  # fmt: skip

    parcels: Sequence[CoveredParcel] = [line(p) for p in covered.parcels]
    owners: Sequence[CoveredOwner] = [line(o) for o in covered.owners]
    return replace(
        covered, covered_ha=min(three_figures(covered.covered_ha), covered.granted_ha),
        hectare_nights=three_figures(covered.hectare_nights),
        beyond_ha=three_figures(covered.beyond_ha), parcels=tuple(parcels), owners=tuple(owners),
    )  # fmt: skip


def _without_words(result: ReportResult, inputs: ReportInputs) -> ReportResult:
    """Every text of the result gone through, but for the plan's own and the names of parcels and owners."""
    owners = {p.owner for p in inputs.land}
    people = {r.person for r in inputs.log.rows} | {t.walked.observer for t in inputs.transects or ()}
    hider, land = Hider(people - owners, places=not result.masked), result.covered
    kept = {f.name: hider.every(getattr(result, f.name)) for f in fields(result) if f.name not in _OF_THE_LAND}
    land = replace(land, **{n: hider.every(getattr(land, n)) for n in ("sites", "unplaced", "notes")})
    return replace(result, covered=land, **kept)
