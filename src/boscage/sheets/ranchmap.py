"""The ranch on one map: its frame, its legend beside or below it, and the furniture that goes with them."""

from __future__ import annotations

from dataclasses import dataclass

from boscage.model.results import Backdrop, ScoutResult
from boscage.sheets.content import MapKey
from boscage.sheets.frame import MapFrame, fitting_scale
from boscage.sheets.furniture import (
    TICK_ROOM_MM,
    crs_words,
    draw_north,
    draw_scale_bars,
    draw_words,
    north_words,
    scale_words,
)
from boscage.sheets.page import Box, Page
from boscage.values import Bounds

SIDE_MM, STRIP_MM = 42.0, 31.0
SIDE_FURNITURE_MM, STRIP_FURNITURE_MM = 44.0, 62.0
PACKED_FURNITURE_MM = 37.0
_BAR_MM, _NORTH_MM = 60.0, 16.0


@dataclass(frozen=True, kw_only=True)
class MapPlan:
    """Where a map, its legend and its furniture stand.

    Attributes:
        beside: Whether the legend stands beside the map, not below it.
    """

    frame: MapFrame
    map_box: Box
    legend_box: Box
    beside: bool

    @property
    def bottom(self) -> float:
        """Below map and legend, mm."""
        return max(self.map_box.bottom, self.legend_box.bottom)


@dataclass(frozen=True, kw_only=True)
class LegendRoom:
    """Room that a legend needs, mm: its width beside a map and least height there, its height below one."""

    side_mm: float = SIDE_MM
    least_mm: float = 0.0
    strip_mm: float = STRIP_MM


def plan_map(backdrop: Backdrop, room: Box, legend: LegendRoom) -> MapPlan:
    """Legend beside or below the map, whichever gives the larger scale; beside on a tie."""
    extent = _extent(backdrop)
    pad = 0.01 * max(extent.width, extent.height)
    extent = extent.padded(pad)
    tick = TICK_ROOM_MM
    side = (room.width - legend.side_mm - tick, room.height - tick)
    strip = (room.width - tick, room.height - tick - legend.strip_mm)
    beside = fitting_scale(extent, *side) <= fitting_scale(extent, *strip)
    width, height = side if beside else strip
    scale = fitting_scale(extent, width, height)
    frame = _frame(backdrop, extent, scale, (width, height))
    map_box = Box(room.x + tick, room.y + tick, frame.width_mm, frame.height_mm)
    if beside:
        high = max(frame.height_mm, legend.least_mm - tick)
        box = Box(map_box.right + 4.0, map_box.y, room.right - map_box.right - 4.0, high)
    else:
        box = Box(room.x, map_box.bottom + 2.0, room.width, legend.strip_mm - 2.0)
    return MapPlan(frame=frame, map_box=map_box, legend_box=box, beside=beside)


def _extent(backdrop: Backdrop) -> Bounds:
    """The parcels' bounds, or the whole backdrop."""
    parcels = backdrop.vectors.get("parcels")
    whole = backdrop.grid.bounds
    if parcels is None or len(parcels) == 0:
        return whole
    west, south, east, north = (float(v) for v in parcels.total_bounds)
    own = Bounds(max(west, whole.west), max(south, whole.south), min(east, whole.east), min(north, whole.north))
    return own if own.width > 0 and own.height > 0 else whole


def _frame(backdrop: Backdrop, extent: Bounds, scale: float, most_mm: tuple[float, float]) -> MapFrame:
    """The frame round an extent, as large as the paper allows without leaving the backdrop."""
    whole, per_mm = backdrop.grid.bounds, scale / 1000.0
    width = min(most_mm[0], max(whole.width, extent.width) / per_mm)
    height = min(most_mm[1], max(whole.height, extent.height) / per_mm)
    half_x, half_y = width * per_mm / 2, height * per_mm / 2
    x, y = (extent.west + extent.east) / 2, (extent.south + extent.north) / 2
    x = min(max(x, whole.west + half_x), max(whole.east - half_x, whole.west + half_x))
    y = min(max(y, whole.south + half_y), max(whole.north - half_y, whole.south + half_y))
    return MapFrame.centred(x, y, scale=scale, width_mm=width, height_mm=height)


def left_out_words(key: MapKey) -> tuple[str, ...]:
    """A line on the sites that a map had no room for, if there are any."""
    ranks = ", ".join(map(str, key.sites_left_out))
    return (f"no room on the map for rank {ranks}",) if ranks else ()


@dataclass(frozen=True, kw_only=True)
class Furniture:
    """Scale bars, north and words that stand beside or below a map of the ranch.

    Attributes:
        scale, grid: Lines on scale and grid.
        extra: Lines behind them.
    """

    frame: MapFrame
    units: str
    convergence_deg: float | None
    scale: str
    grid: str
    extra: tuple[str, ...] = ()

    @classmethod
    def of(cls, result: ScoutResult, backdrop: Backdrop, frame: MapFrame, extra: tuple[str, ...] = ()) -> Furniture:
        """What belongs to a frame."""
        units = result.plan.ranch.units
        return cls(
            frame=frame, units=units, scale=scale_words(frame.scale, units),
            grid=f"Grid: {crs_words(backdrop.grid.crs)}", extra=extra,
            convergence_deg=result.sites[0].place.convergence_deg if result.sites else None,
        )  # fmt: skip

    def draw_beside(self, page: Page, x: float, y: float, width: float) -> None:
        """One under another: bars, north, words; `SIDE_FURNITURE_MM` high."""
        north = north_words(self.convergence_deg)
        draw_scale_bars(page, x, y, min(width, _BAR_MM), self.frame, self.units)
        draw_north(page, x + 6.0, y + 14.0, self.convergence_deg)
        draw_words(page, x + 14.0, y + 17.0, width - 14.0, north)
        draw_words(page, x, y + 31.0, width, [self.scale, self.grid, *self.extra])

    def draw_below(self, page: Page, right: float, y: float, width: float = STRIP_FURNITURE_MM) -> None:
        """Bars and north side by side, words below; up to a right edge. `PACKED_FURNITURE_MM` high at most."""
        x = right - width
        draw_scale_bars(page, x, y, width - _NORTH_MM, self.frame, self.units)
        draw_north(page, right - 6.0, y - 1.0, self.convergence_deg)
        lines = [self.scale, self.grid, *north_words(self.convergence_deg), *self.extra]
        draw_words(page, x, y + 14.0, width, lines)
