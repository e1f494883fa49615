"""Land: what armed sets covered, and damage on the same transects before and after."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import shapely


@dataclass(frozen=True, kw_only=True)
class Parcel:
    """One parcel as the coverage needs it.

    Attributes:
        parcel, owner: As in the parcel layer, or ''.
        access: `granted`, `refused` or `unknown`.
        shape: Polygon in the ranch's CRS, metres.
    """

    parcel: str
    owner: str
    access: str
    shape: shapely.Geometry


@dataclass(frozen=True, kw_only=True)
class CoveredParcel:
    """What of one granted parcel was covered.

    Attributes:
        hectares: Of the parcel.
        covered_ha: Within the radius of a set with an armed night.
        covered_share: Of the parcel, 0..1.
        hectare_nights: Covered hectares, each night's own ground added up; ground that two sets cover on one night
            counts once.
    """

    parcel: str
    owner: str
    hectares: float
    covered_ha: float
    covered_share: float
    hectare_nights: float

    @property
    def mean_nights(self) -> float:
        """Armed nights that a covered hectare saw on average, 0 without any."""
        return self.hectare_nights / self.covered_ha if self.covered_ha > 0.0 else 0.0


@dataclass(frozen=True, kw_only=True)
class CoveredOwner:
    """The parcels of one owner together; ground in two of them counts once."""

    owner: str
    hectares: float
    covered_ha: float
    covered_share: float
    hectare_nights: float


@dataclass(frozen=True, kw_only=True)
class Covered:
    """Land within a stated radius of sets with an armed night, clipped to land with permission.

    Attributes:
        radius_m: Of the circles.
        covered_ha: Of granted land; parcels that lie over one another count once.
        granted_ha: Of all granted land.
        hectare_nights: As for a parcel.
        parcels: Every granted parcel, covered or not, in the order given.
        owners: In order of first appearance.
        beyond_ha: Of the circles that is not granted land and is not counted.
        sites: Sets with an armed night whose place is known.
        unplaced: Sets with an armed night whose place is not known: their land is missing here.
        shape: The covered ground, for maps.
        notes: Sentences.
    """

    radius_m: float
    covered_ha: float
    granted_ha: float
    hectare_nights: float
    parcels: tuple[CoveredParcel, ...]
    owners: tuple[CoveredOwner, ...]
    beyond_ha: float
    sites: tuple[str, ...]
    unplaced: tuple[str, ...]
    shape: shapely.Geometry
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Transect:
    """One transect as walked on one day.

    Attributes:
        transect: Its name.
        surveyed: Length walked in metres, or area looked at in square metres.
        damaged: Of it, in the same unit.
        unit: `m` for line intercept, `m2` for area damaged over area surveyed.
        date: Day walked, or None.
        observer: Or ''.
    """

    transect: str
    surveyed: float
    damaged: float
    unit: str = "m"
    date: dt.date | None = None
    observer: str = ""


@dataclass(frozen=True, kw_only=True)
class Share:
    """A share of damaged ground with its interval, 0..1; the interval is NaN from one transect."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class DamageChange:
    """Damage on the same transects before and after.

    Attributes:
        transects: How many.
        surveyed: All together, in `unit`.
        before, after: Damaged share of what was surveyed.
        change: After less before; negative for less damage. NaN interval from one transect.
        level: Of the intervals.
        notes: Sentences.
    """

    transects: int
    surveyed: float
    unit: str
    before: Share
    after: Share
    change: Share
    level: float
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class NoComparison:
    """Before and after cannot be compared, and why."""

    reason: str

    def __bool__(self) -> bool:
        return False
