"""Hard stops as data: what each stop is called, how far it reaches, who says so and when that was checked."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from boscage.model.options import option
from boscage.values import Length

STOP_TITLES: Mapping[str, str] = {
    "permission": "no permission",
    "no_go": "no-go area",
    "dwelling": "near a dwelling",
    "public_road": "near a public road",
    "parcel_line": "near a parcel line",
    "power_line": "near a power line",
    "water": "water and its edge",
    "steep": "floor too steep",
    "flood": "floods too often",
}
FLOOD_CLASSES = ("none", "very rare", "rare", "occasional", "frequent", "very frequent")
GRADES: Mapping[str, str] = {
    "V": "read in the source",
    "R": "recalled from the source, check before relying on it",
    "C": "common practice, no source",
    "M": "arithmetic",
    "P": "set in the plan",
}
STALE_DAYS = 365


@dataclass(frozen=True, kw_only=True)
class StopOptions:
    """`[stops]`: distances and limits that rule a place out. A distance given here replaces that of the rules."""

    rules: str | None = option(None, help="Rules file (TOML) for this place; replaces the built-in rules it names.")
    dwelling: Length | None = option(None, help="Least distance to a dwelling.", low=0.0, high=20000.0)
    public_road: Length | None = option(None, help="Least distance to a public road.", low=0.0, high=20000.0)
    parcel_line: Length | None = option(
        None,
        help="Least distance to a line between owners or to land without permission, beyond the map's uncertainty.",
        low=0.0,
        high=5000.0,
    )
    parcel_uncertainty: Length = option(
        Length(15.24), help="How far the parcel map's lines may be off.", low=0.0, high=200.0, grade="C"
    )
    power_line: Length | None = option(None, help="Least distance to a power line.", low=0.0, high=5000.0)
    water: Length | None = option(
        None, help="Least distance to the water's edge or a creek's line.", low=0.0, high=5000.0
    )
    steep: float | None = option(None, help="Steepest floor.", unit="%", low=1.0, high=200.0)
    flood: tuple[str, ...] | None = option(
        None, help="Flood classes of the soil layer that rule a place out.", choices=FLOOD_CLASSES
    )
    working_days: int = option(
        30, help="Days from the plan's date in which the set may be up; dated no-go areas count in that time.",
        low=0, high=366, grade="C",
    )  # fmt: skip
    switched_off: tuple[str, ...] = option(
        (), help="Stops that are left out on purpose; the sheets say so.", choices=tuple(STOP_TITLES)
    )


@dataclass(frozen=True, kw_only=True)
class Rule:
    """One rule for one stop."""

    stop: str = option(help="The stop it sets.", choices=tuple(STOP_TITLES))
    distance: Length | None = option(None, help="Least distance.", low=0.0, high=20000.0)
    percent: float | None = option(None, help="Limit in per cent, for `steep`.", low=0.0, high=200.0)
    classes: tuple[str, ...] = option((), help="Classes, for `flood`.", choices=FLOOD_CLASSES)
    place: str = option("anywhere", help="Where it holds.")
    text: str = option(help="The rule in words.")
    citation: str = option(help="Who says so.")
    checked: dt.date = option(help="Day that the citation was last checked.")
    grade: str = option("C", help="How far to trust it.", choices=tuple(GRADES))

    def is_stale(self, day: dt.date) -> bool:
        """Whether the citation was last checked more than a year before the day."""
        return (day - self.checked).days > STALE_DAYS
