"""A tiny ranch whose right answer is known by construction, in any position, CRS and unit.

Everything is defined in a local frame in metres (u east, v north, 0..3000) and carried into the target CRS, where
rasters are sampled cell by cell. Thicket A is the right answer: deep cover, fresh sign, soft ground, near the creek,
with permission and away from everything. The decoys lack one thing each; E and F beat A in every factor but E has no
permission and F is inside a dwelling's setback.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd
import numpy as np
import rasterio
import shapely
from numpy.typing import NDArray
from pyproj import Transformer
from rasterio.transform import from_origin
from shapely.affinity import rotate, translate

UTM = "EPSG:32615"
ORIGIN = (525_000.0, 4_005_000.0)
SIZE = 3000.0
A = (1900.0, 1900.0)
STALE = (700.0, 1900.0)
OPEN = (1900.0, 700.0)
HARD = (700.0, 700.0)
REFUSED = (2700.0, 1300.0)
HOUSE = (1300.0, 1300.0)
THICKET_M = 130.0
DATE = "2026-11-21"


@dataclass(frozen=True)
class Variant:
    """How the ranch is turned and written."""

    degrees: float = 0.0
    crs: str = UTM
    feet: bool = False

    @property
    def name(self) -> str:
        return f"{self.degrees:g}deg-{self.crs.replace(':', '')}{'-feet' if self.feet else ''}"


def place(variant: Variant, u: float, v: float) -> tuple[float, float]:
    """East and north in UTM of a local place."""
    point = _moved(shapely.Point(u, v), variant)
    return point.x, point.y


def build(folder: Path, variant: Variant) -> Path:
    """Write the ranch's layers and plan; returns the plan."""
    folder.mkdir(parents=True, exist_ok=True)
    left, right = shapely.box(0, 0, 2400, SIZE), shapely.box(2400, 0, SIZE, SIZE)
    _vector(folder / "parcels.gpkg", variant, [left, right], parcel=["West", "East"], owner=["Owner A", "Owner B"],
            access=["granted", "refused"])  # fmt: skip
    creek = shapely.LineString([(0, 2150), (SIZE, 2150)])
    _vector(folder / "water.gpkg", variant, [creek, shapely.LineString([(0, 1050), (SIZE, 1050)])])
    road = shapely.LineString([(0, 100), (2390, 100)])
    track = shapely.LineString([(1300, 100), (1300, 2900)])
    _vector(folder / "tracks.gpkg", variant, [road, track], **{"class": ["road", "track"]})
    _vector(folder / "dwellings.gpkg", variant, [shapely.Point(HOUSE[0] + 90, HOUSE[1])])
    _soils(folder, variant)
    _sign(folder, variant)
    _rasters(folder, variant)
    return _plan(folder, variant)


def _moved(shape: shapely.Geometry, variant: Variant) -> shapely.Geometry:
    turned = rotate(shape, variant.degrees, origin=(SIZE / 2, SIZE / 2))
    return translate(turned, *ORIGIN)


def _vector(path: Path, variant: Variant, shapes: list[shapely.Geometry], **columns: list[str]) -> None:
    moved = [_moved(shapely.segmentize(s, 50.0), variant) for s in shapes]
    gpd.GeoDataFrame(columns, geometry=moved, crs=UTM).to_crs(variant.crs).to_file(path)


def _soils(folder: Path, variant: Variant) -> None:
    hard = shapely.Point(HARD).buffer(400)
    rest = shapely.box(-200, -200, SIZE + 200, SIZE + 200).difference(hard)
    gpd.GeoDataFrame(
        {"resistance_mpa": [7.5, 1.0], "depth_cm": [12.0, 150.0], "rock_pct": [80.0, 5.0]},
        geometry=[_moved(hard, variant), _moved(rest, variant)], crs=UTM,
    ).to_crs(variant.crs).to_file(folder / "soils.gpkg")  # fmt: skip


def _sign(folder: Path, variant: Variant) -> None:
    spread = [(0, 0), (40, 20), (-30, 35), (25, -45), (-50, -15), (10, 60)]
    rows = []
    for centre, day, times in ((A, "2026-11-20", 1), (HARD, "2026-11-20", 1), (OPEN, "2026-11-20", 1),
                               (STALE, "2026-06-01", 4), (REFUSED, "2026-11-21", 2),
                               (HOUSE, "2026-11-21", 2)):  # fmt: skip
        for n in range(times):
            rows += [(*place(variant, centre[0] + du + 7 * n, centre[1] + dv), day) for du, dv in spread]
    lon, lat = Transformer.from_crs(UTM, "EPSG:4326", always_xy=True).transform(*np.array([r[:2] for r in rows]).T)
    lines = [f"{x:.7f},{y:.7f},track,{r[2]}" for x, y, r in zip(lon, lat, rows, strict=True)]
    (folder / "sign.csv").write_text("lon,lat,kind,date\n" + "\n".join(lines) + "\n", encoding="utf-8")


def _local(variant: Variant, x: NDArray[np.float64], y: NDArray[np.float64]) -> tuple[NDArray, NDArray]:
    """Local u, v of places given in the variant's CRS."""
    if variant.crs != UTM:
        x, y = Transformer.from_crs(variant.crs, UTM, always_xy=True).transform(x, y)
    a = math.radians(-variant.degrees)
    dx, dy = x - ORIGIN[0] - SIZE / 2, y - ORIGIN[1] - SIZE / 2
    return dx * math.cos(a) - dy * math.sin(a) + SIZE / 2, dx * math.sin(a) + dy * math.cos(a) + SIZE / 2


def _cover(u: NDArray[np.float64], v: NDArray[np.float64]) -> NDArray[np.float64]:
    cover = np.full(u.shape, 8.0)
    for (cu, cv), high in ((A, 90.0), (STALE, 90.0), (HARD, 90.0), (REFUSED, 100.0), (HOUSE, 100.0)):
        cover[np.hypot(u - cu, v - cv) < THICKET_M] = high
    return cover


def _rasters(folder: Path, variant: Variant) -> None:
    corners = shapely.get_coordinates(_moved(shapely.box(-150, -150, SIZE + 150, SIZE + 150), variant))
    if variant.crs != UTM:
        corners = np.column_stack(Transformer.from_crs(UTM, variant.crs, always_xy=True).transform(*corners.T))
    (west, south), (east, north) = corners.min(axis=0), corners.max(axis=0)
    cell = (north - south) / round((corners[:, 1].max() - corners[:, 1].min()) / _ten_metres(variant))
    cols, rows = math.ceil((east - west) / cell), math.ceil((north - south) / cell)
    x = west + (np.arange(cols) + 0.5) * cell
    y = north - (np.arange(rows) + 0.5) * cell
    u, v = _local(variant, *np.meshgrid(x, y))
    cover = _cover(u, v)
    per_metre = 1 / 0.3048 if variant.feet else 1.0
    _raster(folder / "canopy_cover.tif", cover, (west, north, cell), variant)
    _raster(folder / "canopy_height.tif", cover * 0.2 * per_metre, (west, north, cell), variant)
    _raster(folder / "terrain.tif", (300 + 0.02 * u + 0.01 * v) * per_metre, (west, north, cell), variant)


def _ten_metres(variant: Variant) -> float:
    return 10.0 if variant.crs == UTM else 10.0 / 111_000.0 if variant.crs == "EPSG:4326" else 10.0 / 0.3048


def _raster(path: Path, values: NDArray[np.float64], frame: tuple[float, float, float], variant: Variant) -> None:
    west, north, cell = frame
    profile = {"driver": "GTiff", "height": values.shape[0], "width": values.shape[1], "count": 1, "dtype": "float32",
               "crs": variant.crs, "transform": from_origin(west, north, cell, cell), "nodata": -9999.0}  # fmt: skip
    with rasterio.open(path, "w", **profile) as file:
        file.write(values.astype(np.float32), 1)


def _plan(folder: Path, variant: Variant) -> Path:
    unit = "ft" if variant.feet else "m"
    plan = folder / "plan.toml"
    plan.write_text(
        f"""[ranch]
name = "Tiny Ranch"
date = {DATE}
units = "{"us" if variant.feet else "metric"}"

[layers]
parcels = "parcels.gpkg"
canopy_cover = "canopy_cover.tif"
canopy_height = {{ path = "canopy_height.tif", unit = "{unit}" }}
terrain = {{ path = "terrain.tif", unit = "{unit}" }}
tracks = "tracks.gpkg"
dwellings = "dwellings.gpkg"
water = "water.gpkg"
soils = "soils.gpkg"
sign = "sign.csv"

[sites]
count = 5
spacing = "200m"

[stops]
dwelling = "300m"
public_road = "100m"
""",
        encoding="utf-8",
    )
    return plan
