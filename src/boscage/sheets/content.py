"""What a map is asked to show, and what it turned out to show."""

from __future__ import annotations

from dataclasses import dataclass, field

from boscage.model.findings import ChosenSet
from boscage.model.results import Backdrop, Site, StopArea
from boscage.sheets.style import FLOOR_PT


@dataclass(frozen=True, kw_only=True)
class MapContent:
    """What to draw.

    Attributes:
        backdrop: Arrays and features.
        stops: Ground that is ruled out.
        sites: Ranked sites; each is drawn with its rank.
        focus: The site whose ring, cross and way in are drawn to scale, or None.
        units: `us` or `metric`, for contour intervals.
        ring_radius_m: Radius of the ring, metres.
        ground: Whether relief, canopy and contours are drawn under the features.
        parcels: Whether parcels are drawn, hatched by permission.
        sign: Whether sign is drawn.
        contours: Whether contours are drawn on the ground.
        names: Whether parcels, no-go areas and water are named.
        least_pt: Smallest type of the names, points.
        sets: Sites chosen together; each has a second ring, and its reach is drawn.
    """

    backdrop: Backdrop
    stops: tuple[StopArea, ...] = ()
    sites: tuple[Site, ...] = ()
    focus: Site | None = None
    units: str = "us"
    ring_radius_m: float = 3.0
    ground: bool = True
    parcels: bool = True
    sign: bool = True
    contours: bool = True
    names: bool = True
    least_pt: float = FLOOR_PT
    sets: tuple[ChosenSet, ...] = ()


@dataclass(kw_only=True)
class MapKey:
    """What a map shows, for its legend.

    Attributes:
        shown: Keys of the looks that appear.
        sign_kinds: Kinds of sign that appear.
        contour_interval_m: Height between contours, or None without them.
        canopy: `cover`, `height`, or `` for none.
        canopy_unknown: Whether part of the map has no canopy data.
        has_relief: Whether relief is shaded.
        sites_left_out: Ranks of sites in the frame for which there was no room.
    """

    shown: set[str] = field(default_factory=set)
    sign_kinds: set[str] = field(default_factory=set)
    contour_interval_m: float | None = None
    canopy: str = ""
    canopy_unknown: bool = False
    has_relief: bool = False
    sites_left_out: list[int] = field(default_factory=list)
