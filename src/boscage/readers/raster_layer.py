"""A raster in the layer's SI unit, what can be doubted about its numbers, and how much of the ranch it covers."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from rasterio.features import geometry_mask

from boscage.model.layers import LayerReport
from boscage.readers.crs import crs_name, crs_text, doubt_shift, swapped
from boscage.readers.digest import digest_of
from boscage.readers.geometry import far_boxes
from boscage.readers.parcels import Ranch
from boscage.readers.protocol import RawRaster, Request
from boscage.values import Grid

HEIGHT_UNITS: Mapping[str, float] = {"m": 1.0, "ft": 0.3048, "us-ft": 1200.0 / 3937.0, "dm": 0.1, "cm": 0.01}
COVER_UNITS: Mapping[str, float] = {"percent": 1.0, "fraction": 100.0}
OWN_WORDS: Mapping[str, str] = {
    "m": "m", "metre": "m", "meter": "m", "metres": "m", "meters": "m", "dm": "dm", "decimetre": "dm",
    "decimeter": "dm", "cm": "cm", "centimetre": "cm", "centimeter": "cm", "ft": "ft", "foot": "ft", "feet": "ft",
    "international foot": "ft", "us-ft": "us-ft", "ftus": "us-ft", "us survey foot": "us-ft", "us foot": "us-ft",
    "us_survey_foot": "us-ft", "foot_us": "us-ft", "%": "percent", "percent": "percent", "per cent": "percent",
    "fraction": "fraction",
}  # fmt: skip
LOOK_CELLS = 1_000_000
TALLEST_M, SHORTEST_M = 60.0, 12.0
STEEPEST, GREATEST_RANGE_M = 0.60, 4000.0
COARSE_COVER_M = 30.0


@dataclass(frozen=True, kw_only=True)
class RasterLayer:
    """A raster layer of the ranch: a `RasterSource`.

    Attributes:
        raw: The open raster.
        factor: From the file's unit to metres, or per cent.
        native_cell_m: Size of the file's own cells in metres on the ground.
        report: What is known of it.
    """

    raw: RawRaster = field(repr=False)
    factor: float
    native_cell_m: float
    report: LayerReport

    def read(self, grid: Grid, *, smooth: bool = False) -> NDArray[np.float32]:
        """Values in metres or per cent on a grid; NaN where there are none.

        Args:
            grid: Any frame in a projected CRS.
            smooth: Bilinear between cell centres instead of the nearest cell.
        """
        values = self.raw.read(grid, smooth=smooth)
        return values if self.factor == 1.0 else values * np.float32(self.factor)


def make_raster(raw: RawRaster, ranch: Ranch, request: Request) -> RasterLayer:
    """A raster layer; its report's state is `missing` when it holds nothing on the ranch.

    Raises:
        InputError: The unit is unknown, the axes look swapped, or the numbers cannot be what the layer says.
    """
    unit, said_unit = _unit(raw, request)
    factor = {**HEIGHT_UNITS, **COVER_UNITS}[unit]
    cell_m = raw.cell_m(ranch.crs)
    said = [*raw.notes, f"cells of {cell_m:.3g} m", said_unit]
    bounds = raw.bounds(ranch.crs)
    finite = all(math.isfinite(v) for v in (bounds.west, bounds.south, bounds.east, bounds.north))
    if not finite or not bounds.overlaps(ranch.bounds):
        _check_swapped(raw, ranch, request)
        doubt = "the layer does not overlap the ranch; check its CRS, or name the right file."
        report = _report(raw, request, said, [doubt], state="missing")
        return RasterLayer(raw=raw, factor=factor, native_cell_m=cell_m, report=report)
    draft = RasterLayer(raw=raw, factor=factor, native_cell_m=cell_m, report=_report(raw, request, said, []))
    look = _look(draft, ranch)
    share = _coverage(look, ranch)
    doubts, state = [*doubt_shift(raw.crs, ranch.crs, ranch.box)], None
    if share == 0.0:
        doubts.append("the layer holds no data on the ranch; name the right file.")
        state = "missing"
    else:
        doubts += _doubt(draft, look, unit, ranch, request)
    state = state or ("doubtful" if doubts else "usable")
    return replace(draft, report=replace(draft.report, state=state, doubts=tuple(doubts), coverage=share))


def _unit(raw: RawRaster, request: Request) -> tuple[str, str]:
    """The unit of the numbers and a phrase that says where it comes from."""
    cover = request.layer == "canopy_cover"
    known = COVER_UNITS if cover else HEIGHT_UNITS
    default = "percent" if cover else "m"
    stated = request.spec.unit
    if stated is not None:
        if stated not in known:
            raise request.error(f"the unit is {stated!r}", expected=" or ".join(f'"{u}"' for u in known), field="unit")
        return stated, f"in {stated} as the plan states"
    own = OWN_WORDS.get((raw.unit or "").strip().lower())
    if own in known:
        return own, f"in {own} as the file states"
    if raw.unit:
        return default, f"{default} assumed (the file's own unit {raw.unit!r} is not known)"
    return default, f"{default} assumed"


def _check_swapped(raw: RawRaster, ranch: Ranch, request: Request) -> None:
    from pyproj import CRS

    own = CRS.from_user_input(raw.crs)
    box = raw.bounds(raw.crs)
    turned = np.array([[box.south, box.west, box.north, box.east]])
    if not far_boxes(turned, ranch.bounds, own, ranch.crs).all():
        raise swapped(request, "the raster lies far away, and at the ranch once x and y are exchanged")


@dataclass(frozen=True, kw_only=True)
class _Look:
    """A thinned view of the raster over the ranch's rectangle, in SI."""

    grid: Grid
    values: NDArray[np.float32]


def _look(layer: RasterLayer, ranch: Ranch) -> _Look:
    box = ranch.bounds
    cell_m = max(layer.native_cell_m, math.sqrt(box.width * box.height / LOOK_CELLS))
    grid = Grid.covering(box, cell_m=cell_m, crs=ranch.crs)
    return _Look(grid=grid, values=layer.read(grid))


def _coverage(look: _Look, ranch: Ranch) -> float:
    """Share of the parcels' cells that have data."""
    from affine import Affine

    inside = geometry_mask(
        [ranch.ground], out_shape=look.grid.shape, transform=Affine(*look.grid.geotransform), invert=True
    )
    if not inside.any():
        centre = shapely.point_on_surface(ranch.ground)
        inside[look.grid.index(centre.x, centre.y)] = True
    return float(np.isfinite(look.values[inside]).mean())


def _doubt(layer: RasterLayer, look: _Look, unit: str, ranch: Ranch, request: Request) -> list[str]:
    values = look.values[np.isfinite(look.values)]
    low, high = float(values.min()), float(values.max())
    doubts = []
    if values.size > 1 and low == high:
        doubts.append(f"every cell has the value {low:g}; check that this is the right file.")
    if request.layer == "canopy_cover":
        doubts += _doubt_cover(low, high, unit, layer, request)
    elif request.layer == "canopy_height":
        doubts += _doubt_height(low, values, unit)
    else:
        doubts += _doubt_terrain(low, high, layer, ranch, request)
    return doubts


def _doubt_cover(low: float, high: float, unit: str, layer: RasterLayer, request: Request) -> list[str]:
    if high > 100.5:
        mend = (
            'state unit = "percent"' if unit == "fraction" else
            f"if {high:g} stands for no data, write it into the file as its nodata value"
        )  # fmt: skip
        raise request.error(f"the greatest canopy cover is {high:g} %", expected="at most 100 %", mend=mend)
    if low < -0.5:
        raise request.error(
            f"the least canopy cover is {low:g} %", expected="0 % or more",
            mend=f"if {low:g} stands for no data, write it into the file as its nodata value",
        )  # fmt: skip
    doubts = []
    if unit == "percent" and 0.0 < high <= 1.0:
        doubts.append(f'the greatest canopy cover is {high:g} %: are the numbers fractions? state unit = "fraction".')
    if layer.native_cell_m > COARSE_COVER_M * 1.01:
        doubts.append(f"the cells are coarse ({layer.native_cell_m:.0f} m): single sites do not show; use finer data.")
    return doubts


def _doubt_height(low: float, values: NDArray[np.float32], unit: str) -> list[str]:
    tallest = float(np.quantile(values, 0.999))
    doubts = []
    if unit == "m" and tallest > TALLEST_M:
        doubts.append(f'the tallest canopy is {tallest:.0f} m: are the heights in feet? state unit = "ft".')
    if unit in ("ft", "us-ft") and 0.0 < tallest < SHORTEST_M:
        doubts.append(f'the tallest canopy is {tallest:.1f} m after the change from feet: state unit = "m"?')
    if low < -0.5:
        doubts.append(f"the least canopy height is {low:g} m, below the ground; if it means no data, mark it so.")
    return doubts


def _doubt_terrain(low: float, high: float, layer: RasterLayer, ranch: Ranch, request: Request) -> list[str]:
    if low < -500.0 or high > 9000.0:
        odd = low if low < -500.0 else high
        raise request.error(
            f"an elevation is {odd:g} m", expected="-500 m to 9,000 m",
            mend=f"if {odd:g} stands for no data, write it into the file as its nodata value, else state the unit",
        )  # fmt: skip
    if high - low > GREATEST_RANGE_M:
        return [f'the ranch spans {high - low:,.0f} m of height: are the elevations in feet? state unit = "ft".']
    slope = _median_slope(layer, ranch)
    if slope > STEEPEST:
        return [f"half of the ground is steeper than {100 * slope:.0f} %: are the elevations in feet? state the unit."]
    return []


def _median_slope(layer: RasterLayer, ranch: Ranch) -> float:
    """Median tangent of the slope in the middle of the ranch at the file's own cell; 0 where there are no data."""
    place = shapely.point_on_surface(ranch.ground)
    side, cell_m = 400, layer.native_cell_m
    west, north = place.x - side / 2 * cell_m, place.y + side / 2 * cell_m
    z = layer.read(Grid(ranch.crs, west, north, cell_m, side, side), smooth=True)
    down, across = np.gradient(z.astype(np.float64), cell_m)
    tangent = np.hypot(down, across)
    held = tangent[np.isfinite(tangent)]
    return float(np.median(held)) if held.size else 0.0


def _report(
    raw: RawRaster, request: Request, said: list[str], doubts: list[str], *, state: str = "usable"
) -> LayerReport:
    date: dt.date | None = request.spec.date or raw.date
    return LayerReport(
        name=request.layer,
        state=state,
        read="; ".join(said),
        coverage=0.0,
        date=date,
        doubts=tuple(doubts),
        source=request.spec.source or "",
        crs=crs_name(crs_text(raw.crs)),
        digest=digest_of(request.path),
    )
