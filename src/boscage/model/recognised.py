"""What a dropped file or folder is taken for, how firmly and why; and what each layer adds to the answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

SURE, LIKELY, GUESS, UNKNOWN = "recognised", "probably", "a guess", "not recognised"
LAYER_ADDS: Mapping[str, str] = {
    "parcels": "Whose land it is and where there is permission; the ranch's extent. Nothing is ranked without it.",
    "canopy_cover": "Where trees close over a place: cover for the animals, and whether trees can hold a ring.",
    "canopy_height": "Single trees and the rings that they hold; gaps for a drop; how far trees reach to a power line. "
    "Cover is counted from it where there is no cover raster.",
    "terrain": "Slope and bumps of the floor, the way in, who can look in, wet bottoms.",
    "tracks": "How close a vehicle comes, the carry that is left, and the setback from public roads.",
    "gates": "Where driving in starts, and the gates on the way in.",
    "fences": "What stands across the way in.",
    "dwellings": "The setback from houses, and who looks out of them.",
    "water": "How far water is, the strip along it that is ruled out, and crossings on the way in.",
    "power_lines": "The setback from power lines; without it nobody is warned of a wire.",
    "no_go": "Ground that is out of bounds, always or on dates.",
    "soils": "Whether stakes, posts and a spade go in, and how often the ground floods.",
    "sign": "Where animals have been, and how long ago.",
    "probes": "What the ground really takes at places: it corrects the soil map round them.",
    "searched": "Where somebody looked: nothing found there differs from nobody looked.",
    "cameras": "Visits by hour and night, groups and their size, and which sites have animals near.",
    "stems": "Trees measured on the ground: the exact ring and the gear for it.",
    "log": "What happened at the sets: the report to the landowner and the check clock.",
}
REQUIRED = ("parcels",)
CANOPY = ("canopy_cover", "canopy_height")


@dataclass(frozen=True, kw_only=True)
class Alternative:
    """Another layer that a file may be, and what speaks for it."""

    layer: str
    why: str


@dataclass(frozen=True, kw_only=True)
class Recognised:
    """One thing that was dropped.

    Attributes:
        path: The file or folder as it was given.
        layer: The plan's key, or None where it is not recognised.
        confidence: `recognised`, `probably`, `a guess` or `not recognised`.
        why: One sentence: what in the content speaks for it, or why it is not recognised.
        read: One phrase on what is there, such as `11 polygons`.
        inner: Layer inside the file, or several joined by a comma, where it holds more than one.
        columns: Our column name to the file's, where the plan must state it.
        unit: Unit of the numbers where the plan must state it, or None.
        unit_why: Why this unit, a sentence, or ''.
        doubts: Sentences on what may be wrong, each with what to do.
        alternatives: Other layers that it may be, the likeliest first.
        box: West, south, east, north in degrees on WGS 84, or None where that is not known.
    """

    path: str
    layer: str | None
    confidence: str
    why: str
    read: str = ""
    inner: str | None = None
    columns: Mapping[str, str] = field(default_factory=dict)
    unit: str | None = None
    unit_why: str = ""
    doubts: tuple[str, ...] = ()
    alternatives: tuple[Alternative, ...] = ()
    box: tuple[float, float, float, float] | None = None

    def __bool__(self) -> bool:
        return self.layer is not None

    @property
    def adds(self) -> str:
        """What it adds to the answer, or ''."""
        return LAYER_ADDS[self.layer] if self.layer else ""


@dataclass(frozen=True, kw_only=True)
class MissingLayer:
    """A layer that nothing dropped gives.

    Attributes:
        layer: The plan's key.
        adds: What it would add.
        required: Whether there is no answer without it.
    """

    layer: str
    adds: str
    required: bool
