"""The helicopter drop: where loads come down, legs, sorties, air, daylight; options of the search and its answers."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

FT = 0.3048


@dataclass(frozen=True, kw_only=True)
class Gap:
    """The largest circle of open ground round a place; `reach_m` is how far that place is from the set."""

    x_m: float
    y_m: float
    diameter_m: float
    reach_m: float


@dataclass(frozen=True, kw_only=True)
class WireNote:
    """What is known of wires near a place; never that there are none.

    Attributes:
        distance_m: To the nearest wire in the data, or None where the data hold none or there are no data.
        standing: `flag`, `stop`, `known` (in the data and farther off), `none in data` or `not searched`.
        source, date: Of the data; '' and None where nobody said.
        text: One sentence for people.
    """

    distance_m: float | None
    standing: str
    source: str
    date: dt.date | None
    text: str


@dataclass(frozen=True, kw_only=True)
class DropPoint:
    """Where a load comes down: the gap, never the set.

    Attributes:
        slope_percent: Of a plane through the ground inside the gap; None without ground there.
        elevation_m: Mean of the ground there, or None.
        tallest_near_m: Top of the canopy within `GapOptions.near`; None without data.
        line_m: Suggested length of line; None where the tallest tree is not known.
        unknown_share: Share of the ground within `near` without canopy heights.
        bearing_deg: From the set to the drop point, grid.
        notes: What is not known or was not searched.
    """

    site: str
    gap: Gap
    bearing_deg: float
    slope_percent: float | None
    elevation_m: float | None
    tallest_near_m: float | None
    line_m: float | None
    unknown_share: float
    wires: WireNote
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class NoDrop:
    """No gap that serves, and why; `nearest_miss` is the widest one that was found."""

    site: str
    reason: str
    nearest_miss: Gap | None = None

    def __bool__(self) -> bool:
        return False


@dataclass(frozen=True, kw_only=True)
class HelicopterType:
    """Pad and circle of a landing place, by the published sizes.

    Attributes:
        pad_m: Side of the square that the machine stands on.
        circle_m: Diameter of the circle that must be free of anything over 18 in.
    """

    name: str
    pad_m: float
    circle_m: float


HELICOPTERS: Mapping[str, HelicopterType] = MappingProxyType({
    "1": HelicopterType(name="Type 1", pad_m=30 * FT, circle_m=110 * FT),
    "2": HelicopterType(name="Type 2", pad_m=20 * FT, circle_m=90 * FT),
    "3": HelicopterType(name="Type 3", pad_m=15 * FT, circle_m=75 * FT),
})  # fmt: skip
"""NWCG, 6 Minutes for Safety: Helicopter Landing Zone Selection (November 2020); PMS 510. Grade V."""
LANDING_HEIGHT_M = 18 * 0.0254
APPROACH_SLOPE = 8.0
APPROACH_LENGTH_M = 4000 * FT
APPROACH_END_M = 500 * FT
"""14 CFR 77.23: 8 to 1, 4,000 ft long, 500 ft wide at its end. Grade V."""


@dataclass(frozen=True, kw_only=True)
class Approach:
    """One approach surface against ground and canopy.

    Attributes:
        bearing_deg: From the landing place outward, grid.
        over_m: How far the worst place stands above the surface; negative where all known ground is below it, None
            where nothing is known.
        at_m: Distance of that place.
        known_share: Share of the surface over which heights are known.
    """

    bearing_deg: float
    over_m: float | None
    at_m: float | None
    known_share: float


@dataclass(frozen=True, kw_only=True)
class LandingPlace:
    """A place that the published sizes and the approach surface leave for a look; a screen and no more.

    Attributes:
        slope_percent: Of the ground inside the circle, or None.
        approaches: Every bearing looked at.
    """

    helicopter: HelicopterType
    gap: Gap
    slope_percent: float | None
    approaches: tuple[Approach, ...]

    @property
    def below_surface(self) -> tuple[Approach, ...]:
        """Approaches under which all of the ground is known and stays below the surface."""
        return tuple(a for a in self.approaches if a.over_m is not None and a.over_m <= 0.0 and a.known_share == 1.0)


@dataclass(frozen=True, kw_only=True)
class Leg:
    """One leg of a flight.

    Attributes:
        true_bearing_deg: Initial bearing of the geodesic.
        magnetic_bearing_deg: The same less declination; None where no date or model gives it.
        heading_deg: True heading that holds the track in the wind; None where speed or wind is not stated, or where
            the wind is too strong.
        minutes: At the ground speed stated or worked out; None where neither is known.
    """

    start: str
    end: str
    distance_m: float
    true_bearing_deg: float
    magnetic_bearing_deg: float | None = None
    heading_deg: float | None = None
    ground_speed_kt: float | None = None
    minutes: float | None = None


@dataclass(frozen=True, kw_only=True)
class Load:
    """What hangs on the hook at once, all for one drop."""

    site: str
    mass_kg: float
    items: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Sortie:
    """One flight from the base and back.

    Attributes:
        loads: Indices of the loads, in the order in which they are set down.
        stops: Indices of their drops, in the order flown.
        cost: Of the round, in the unit of the table that it was made from.
    """

    loads: tuple[int, ...]
    stops: tuple[int, ...]
    mass_kg: float
    cost: float


@dataclass(frozen=True, kw_only=True)
class SortiePlan:
    """Sorties that set every load down.

    Attributes:
        cost: Of all rounds.
        is_least: Whether it is proven that no plan costs less.
        over_limit: Indices of loads heavier than the limit, which are never split.
    """

    sorties: tuple[Sortie, ...]
    cost: float
    is_least: bool
    over_limit: tuple[int, ...] = ()


@dataclass(frozen=True, kw_only=True)
class AirDensity:
    """The air at one elevation.

    Attributes:
        pressure_altitude_m: Altitude of the standard atmosphere that has this pressure.
        density_altitude_m: Altitude of the standard atmosphere that has this density; of dry air where no dew
            point is given.
        standard_c: Temperature of the standard atmosphere at the pressure altitude.
    """

    elevation_m: float
    temperature_c: float
    altimeter_hpa: float
    pressure_altitude_m: float
    density_altitude_m: float
    standard_c: float
    dew_point_c: float | None = None


@dataclass(frozen=True, kw_only=True)
class Daylight:
    """Times of one local day, UTC; None where the sun does not pass that height on it."""

    civil_dawn: dt.datetime | None
    sunrise: dt.datetime | None
    noon: dt.datetime
    sunset: dt.datetime | None
    civil_dusk: dt.datetime | None


@dataclass(frozen=True, kw_only=True)
class TerrainLight:
    """When the sun's upper limb comes over the terrain and goes behind it for good, UTC; None where it never does.

    Attributes:
        known_share: Share of the horizon's directions in which the elevation data reach as far as was looked.
    """

    first_sun: dt.datetime | None
    last_sun: dt.datetime | None
    known_share: float


@dataclass(frozen=True, kw_only=True)
class Misread:
    """What a printed coordinate turns into when it is read in another form.

    Attributes:
        written: As it stands on the sheet.
        read_as: The form that it is taken for.
        lat, lon: Where that lands; None where it cannot be read so.
        off_m: How far from the place; None likewise.
        text: What it would be read as, or why it cannot be.
    """

    written: str
    read_as: str
    lat: float | None
    lon: float | None
    off_m: float | None
    text: str

