"""Land covered by armed sets: circles of a stated radius, clipped to land with permission. Never 'the ranch'."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from boscage.errors import InputError
from boscage.model.ledger import Book, Stay
from boscage.model.ledger_land import Covered, CoveredOwner, CoveredParcel, Parcel
from boscage.model.report import counted, listed

HECTARE = 10_000.0
QUARTER = 64
"""Sides of a circle's polygon in each quarter; the polygon has the circle's own area."""
Disc = tuple[str, float, float]


def circle(x_m: float, y_m: float, radius_m: float) -> shapely.Polygon:
    """A polygon of 256 sides with the area of the circle; nowhere more than 0.01 % of the radius off it."""
    turn = math.tau / (4 * QUARTER)
    return shapely.Point(x_m, y_m).buffer(radius_m * math.sqrt(turn / math.sin(turn)), quad_segs=QUARTER)


def cover_land(book: Book, parcels: Sequence[Parcel], radius_m: float) -> Covered:
    """Granted land within the radius of sets with at least one armed night, by parcel and owner.

    Weighted by time: for every night the ground within the radius of the sets armed on it, each hectare once, added up.

    Raises:
        InputError: The radius is not over 0.
    """
    if not radius_m > 0.0:
        raise InputError(f"the radius is {radius_m:g} m", expected="a length over 0")
    armed = [s for s in book.stays if s.state == "armed" and s.nights > 0]
    placed = [s for s in armed if not math.isnan(s.x_m)]
    sites = tuple(dict.fromkeys(s.site for s in placed))
    unplaced = tuple(dict.fromkeys(s.site for s in armed if math.isnan(s.x_m)))
    discs = {d: circle(d[1], d[2], radius_m) for d in dict.fromkeys(_disc(s) for s in placed)}
    whole = shapely.union_all(list(discs.values()))
    spells = [(shapely.union_all([discs[d] for d in on]), nights) for on, nights in _spells(placed)]
    ground = _Ground(whole=whole, spells=spells)
    granted = [p for p in parcels if p.access == "granted"]
    land = shapely.union_all([p.shape for p in granted])
    covered_ha, nights = ground.of(land)
    return Covered(
        radius_m=radius_m, covered_ha=covered_ha, granted_ha=land.area / HECTARE, hectare_nights=nights,
        parcels=tuple(_parcel(p, ground) for p in granted), owners=_owners(granted, ground),
        beyond_ha=max(0.0, whole.area / HECTARE - covered_ha), sites=sites, unplaced=unplaced,
        shape=shapely.intersection(whole, land), notes=_notes(sites, unplaced, granted, parcels),
    )  # fmt: skip


@dataclass(kw_only=True)
class _Ground:
    """Covered ground.

    Attributes:
        whole: All of it.
        spells: Ground covered on the same nights, with how many nights.
    """

    whole: shapely.Geometry
    spells: Sequence[tuple[shapely.Geometry, int]]

    def of(self, land: shapely.Geometry) -> tuple[float, float]:
        """Covered hectares and hectare-nights of a piece of land."""
        shapely.prepare(land)
        covered = float(shapely.area(shapely.intersection(self.whole, land))) / HECTARE
        if covered == 0.0:
            return 0.0, 0.0
        areas = shapely.area(shapely.intersection(np.array([g for g, _ in self.spells], dtype=object), land))
        return covered, math.fsum(a * n for a, (_, n) in zip(areas.tolist(), self.spells, strict=True)) / HECTARE


def _disc(stay: Stay) -> Disc:
    return stay.site, stay.x_m, stay.y_m


def _spells(stays: Sequence[Stay]) -> list[tuple[tuple[Disc, ...], int]]:
    """Sets armed together, and on how many nights exactly these were."""
    turns: dict[dt.date, list[tuple[Disc, int]]] = {}
    for stay in stays:
        turns.setdefault(stay.first, []).append((_disc(stay), 1))
        turns.setdefault(stay.until, []).append((_disc(stay), -1))
    on: dict[Disc, int] = {}
    lengths: dict[tuple[Disc, ...], int] = {}
    last = None
    for night in sorted(turns):
        if on and last is not None:
            key = tuple(sorted(on))
            lengths[key] = lengths.get(key, 0) + (night - last).days
        for disc, step in turns[night]:
            on[disc] = on.get(disc, 0) + step
        on = {d: n for d, n in on.items() if n}
        last = night
    return list(lengths.items())


def _parcel(parcel: Parcel, ground: _Ground) -> CoveredParcel:
    covered, nights = ground.of(parcel.shape)
    hectares = parcel.shape.area / HECTARE
    return CoveredParcel(
        parcel=parcel.parcel, owner=parcel.owner, hectares=hectares, covered_ha=covered,
        covered_share=min(1.0, covered / hectares) if hectares > 0.0 else 0.0, hectare_nights=nights,
    )  # fmt: skip


def _owners(granted: Sequence[Parcel], ground: _Ground) -> tuple[CoveredOwner, ...]:
    out = []
    for owner in dict.fromkeys(p.owner for p in granted):
        land = shapely.union_all([p.shape for p in granted if p.owner == owner])
        covered, nights = ground.of(land)
        hectares = land.area / HECTARE
        share = min(1.0, covered / hectares) if hectares > 0.0 else 0.0
        out.append(
            CoveredOwner(owner=owner, hectares=hectares, covered_ha=covered, covered_share=share, hectare_nights=nights)
        )
    return tuple(out)


def _notes(
    sites: Sequence[str], unplaced: Sequence[str], granted: Sequence[Parcel], parcels: Sequence[Parcel]
) -> tuple[str, ...]:
    notes = []
    if not sites and not unplaced:
        notes.append("no set had an armed night, so no land counts as covered.")
    if unplaced:
        notes.append(f"armed sets without a place: {listed(unplaced)}; their land is missing from the figures.")
    if not granted:
        notes.append("no parcel has its access granted, so no land counts as covered.")
    elif len(granted) < len(parcels):
        notes.append(f"{counted(len(parcels) - len(granted), 'parcel')} without granted access left out.")
    return tuple(notes)
