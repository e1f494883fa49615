"""What the window asks of its workers, and what they answer: small frozen values that can be sent between processes."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from boscage.values import Bounds

TILE_PX = 256
TILE_DPI = 128
"""Pixels of a tile to an inch of the sheets' looks at scale 1; hatches meet where tiles do, as 256 is twice that."""
PALETTES = ("standard", "contrast", "deuteran")
LEAST_SCALE, MOST_SCALE = 0.5, 4.0
FINEST_M = 0.125
"""Metres under one pixel at the finest zoom, at most."""


@dataclass(frozen=True, kw_only=True)
class ViewFrame:
    """What of the ranch a rectangle of the screen shows.

    Attributes:
        x_m, y_m: Its middle, east and north in the ranch's CRS.
        metres_per_px: Ground under one pixel.
        width_px, height_px: In pixels before scaling.
    """

    x_m: float
    y_m: float
    metres_per_px: float
    width_px: int
    height_px: int

    @property
    def bounds(self) -> Bounds:
        """The ground in it."""
        half_x, half_y = self.width_px * self.metres_per_px / 2.0, self.height_px * self.metres_per_px / 2.0
        return Bounds(self.x_m - half_x, self.y_m - half_y, self.x_m + half_x, self.y_m + half_y)

    def to_ground(self, x_px: float, y_px: float) -> tuple[float, float]:
        """East and north under a pixel place, counted from the upper left corner.

        >>> ViewFrame(x_m=100.0, y_m=50.0, metres_per_px=2.0, width_px=100, height_px=50).to_ground(0.0, 0.0)
        (0.0, 100.0)
        """
        bounds = self.bounds
        return bounds.west + x_px * self.metres_per_px, bounds.north - y_px * self.metres_per_px

    def to_px(self, x_m: float, y_m: float) -> tuple[float, float]:
        """Pixel place of a place on the ground."""
        bounds = self.bounds
        return (x_m - bounds.west) / self.metres_per_px, (bounds.north - y_m) / self.metres_per_px


@dataclass(frozen=True, kw_only=True)
class TileScheme:
    """How the ranch is cut into tiles: zoom 0 holds it in one tile, each further zoom halves the ground under a pixel.

    Attributes:
        crs: The ranch's CRS.
        west, north: Upper left corner of the tile (0, 0) of every zoom, metres.
        coarsest_m: Metres under a pixel at zoom 0, a power of two.
        zooms: How many zooms there are.
    """

    crs: str
    west: float
    north: float
    coarsest_m: float
    zooms: int

    @classmethod
    def over(cls, bounds: Bounds, crs: str) -> TileScheme:
        """The scheme for a stretch of ground.

        >>> made = TileScheme.over(Bounds(500_003.0, 4_000_000.0, 510_000.0, 4_010_000.0), "EPSG:32615")
        >>> made.coarsest_m, made.zooms, made.metres_per_px(made.zooms - 1)
        (64.0, 10, 0.125)
        """
        coarsest = max(2.0 ** math.ceil(math.log2(max(bounds.width, bounds.height) / TILE_PX)), FINEST_M)
        zooms = round(math.log2(coarsest / FINEST_M)) + 1
        whole = max(coarsest, 1.0)
        west, north = math.floor(bounds.west / whole) * whole, math.ceil(bounds.north / whole) * whole
        spare = max(bounds.east - west, north - bounds.south) > TILE_PX * coarsest
        if spare:
            return cls(crs=crs, west=west, north=north, coarsest_m=2.0 * coarsest, zooms=zooms + 1)
        return cls(crs=crs, west=west, north=north, coarsest_m=coarsest, zooms=zooms)

    def metres_per_px(self, zoom: int) -> float:
        """Metres under a pixel."""
        return self.coarsest_m / 2.0**zoom

    def zoom_for(self, metres_per_px: float) -> int:
        """The coarsest zoom that is not coarser than a view, else the finest there is."""
        zoom = math.ceil(math.log2(self.coarsest_m / metres_per_px) - 1e-9)
        return min(max(zoom, 0), self.zooms - 1)

    def bounds(self, zoom: int, col: int, row: int) -> Bounds:
        """The ground of a tile."""
        side = TILE_PX * self.metres_per_px(zoom)
        west, north = self.west + col * side, self.north - row * side
        return Bounds(west, north - side, west + side, north)

    def tiles(self, zoom: int, bounds: Bounds) -> tuple[tuple[int, int], ...]:
        """(col, row) of the tiles that show any of a stretch of ground, those nearest its middle first."""
        side = TILE_PX * self.metres_per_px(zoom)
        most = 2**zoom
        cols = _touched((bounds.west - self.west) / side, (bounds.east - self.west) / side, most)
        rows = _touched((self.north - bounds.north) / side, (self.north - bounds.south) / side, most)
        x = ((bounds.west + bounds.east) / 2.0 - self.west) / side - 0.5
        y = (self.north - (bounds.north + bounds.south) / 2.0) / side - 0.5
        found = [(col, row) for row in rows for col in cols]
        return tuple(sorted(found, key=lambda t: (math.hypot(t[0] - x, t[1] - y), t)))


def _touched(first: float, last: float, most: int) -> range:
    return range(max(0, math.floor(first)), min(most, math.ceil(last)))


@dataclass(frozen=True, kw_only=True)
class LayerSwitches:
    """What the map shows.

    Attributes:
        heights: Canopy heights where they are mapped, in place of canopy cover.
        hazards: Dwellings, power lines and no-go areas.
        names: Names, and heights of contours; drawn over the view, not on tiles.
        sites: Ranked sites; drawn over the view too.
    """

    score: bool = True
    stops: bool = True
    canopy: bool = True
    heights: bool = False
    relief: bool = True
    contours: bool = True
    parcels: bool = True
    tracks: bool = True
    fences: bool = True
    water: bool = True
    hazards: bool = True
    sign: bool = True
    names: bool = True
    sites: bool = True


@dataclass(frozen=True, kw_only=True)
class TileRequest:
    """One tile of the map.

    Attributes:
        zoom, col, row: Of the scheme.
        palette: One of `PALETTES`.
        units: `us` or `metric`, for the interval of contours.
        scale: Device pixels per pixel; the tile has `TILE_PX` times that a side, to the nearest multiple of 1/128.
    """

    zoom: int
    col: int
    row: int
    switches: LayerSwitches = LayerSwitches()
    palette: str = "standard"
    units: str = "us"
    scale: float = 1.0


@dataclass(frozen=True, kw_only=True)
class ViewRequest:
    """A whole view in one picture.

    Attributes:
        part: `over` is what lies over the tiles (names, heights of contours, ranked sites) on a clear ground; `ground`
            is what tiles show; `all` is both.
        focus: Name of the site whose ring is drawn to scale, or ''.
    """

    frame: ViewFrame
    part: str = "over"
    switches: LayerSwitches = LayerSwitches()
    palette: str = "standard"
    units: str = "us"
    scale: float = 1.0
    focus: str = ""


@dataclass(frozen=True, kw_only=True)
class Pixels:
    """A picture: rows from the top, four bytes a pixel (red, green, blue, opacity, not premultiplied).

    Attributes:
        ranking: Number of the ranking whose score and sites it shows.
    """

    width_px: int
    height_px: int
    data: bytes = field(repr=False)
    ranking: int = 0


@dataclass(frozen=True, kw_only=True)
class LegendRow:
    """One row of the legend: its words and its picture."""

    words: str
    swatch: Pixels


@dataclass(frozen=True, kw_only=True)
class FactorRow:
    """A factor that may take part.

    Attributes:
        unit: Of its value function's input.
        weight: The plan's; 0 leaves it out.
        is_known: Whether it has data anywhere on the ranch; None where it has not been measured.
    """

    name: str
    title: str
    unit: str
    weight: float
    is_known: bool | None


@dataclass(frozen=True, kw_only=True)
class LayerRow:
    """A layer of the plan: its report in short."""

    name: str
    title: str
    state: str
    read: str
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class StopRow:
    """A hard stop, of the ranch or at a place.

    Attributes:
        reason: How far it reaches and what to know, one sentence; '' for none.
        applied: Whether there were data to apply it. Not applied is not the same as none.
        rule, citation, checked, grade: Of the rule behind it; '' where none was needed.
        stale: Whether the rule was checked more than a year before the plan's date.
        hectares: Ground ruled out on the ranch.
    """

    name: str
    title: str
    reason: str
    applied: bool
    rule: str = ""
    citation: str = ""
    checked: str = ""
    grade: str = ""
    stale: bool = False
    hectares: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Opened:
    """A ranch as opened.

    Attributes:
        plan: Path of the plan file.
        bounds: Of the parcels.
        scheme: How it is cut into tiles.
        factors: Those of the ranking and those left out, by name.
        weights_from: `ratios`, or `comparison table` where the plan's comparisons give the weights.
        open_ha: Left after permission and hard stops.
        cells: Cells of the scoring grid; cell_m is their side.
    """

    plan: str
    ranch: str
    units: str
    date: str
    crs: str
    bounds: Bounds
    scheme: TileScheme
    factors: tuple[FactorRow, ...]
    weights_from: str
    layers: tuple[LayerRow, ...]
    stops: tuple[StopRow, ...]
    ranch_ha: float
    granted_ha: float
    open_ha: float
    cells: int
    cell_m: float
    ring_radius_m: float
    count: int
    spacing_m: float
    notes: tuple[str, ...] = ()


Weights = Mapping[str, float]
"""Weight of each factor by name; a factor that is absent keeps the plan's, 0 leaves it out."""
