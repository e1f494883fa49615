"""GIS outputs: GeoPackage and GeoTIFF, the same bytes for the same inputs."""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import geopandas as gpd
import numpy as np
import pyogrio
import rasterio
import shapely
from numpy.typing import NDArray
from pyogrio.errors import DataLayerError, DataSourceError, FeatureError
from rasterio.errors import RasterioError
from rasterio.transform import Affine

from boscage.model.journey import Journey
from boscage.model.results import ScoutResult
from boscage.values import Grid


def write_sites_gpkg(target: Path, result: ScoutResult) -> None:
    """`sites.gpkg`: layers `sites` (points), `stops` (polygons with their reasons) and `ways` (lines).

    Where sites are chosen together, `together` holds their circles (polygons).
    """
    names = list(result.factor_weights)
    rows = []
    for site in result.sites:
        values = {r.name: np.nan if r.value is None else r.value for r in site.readings}
        rows.append(
            {"site": site.site, "rank": site.rank, "score": site.score, "parcel": site.parcel, "owner": site.owner,
             "support": site.support, "data_share": site.data_share, "lon": site.place.lon, "lat": site.place.lat,
             "ddm": site.place.ddm, "usng": site.place.usng, **{n: values.get(n, np.nan) for n in names},
             "why": " ".join(site.why), "flags": " ".join(site.flags)}
        )  # fmt: skip
    columns = [
        "site",
        "rank",
        "score",
        "parcel",
        "owner",
        "support",
        "data_share",
        "lon",
        "lat",
        "ddm",
        "usng",
    ]
    points = [shapely.Point(s.place.x_m, s.place.y_m) for s in result.sites]
    frame = gpd.GeoDataFrame(rows, columns=[*columns, *names, "why", "flags"], geometry=points, crs=result.grid.crs)
    write_layer(target, "sites", frame, "Point", result.plan.date.isoformat())
    applied = [stop for stop in result.stops if stop.applied]
    table = {
        "stop": [s.name for s in applied],
        "reason": [s.title for s in applied],
        "hectares": [s.hectares for s in applied],
        "distance_m": [np.nan if s.distance_m is None else s.distance_m for s in applied],
        "rule": [s.rule.text if s.rule else "" for s in applied],
        "citation": [s.rule.citation if s.rule else "" for s in applied],
        "checked": [s.rule.checked.isoformat() if s.rule else "" for s in applied],
        "grade": [s.rule.grade if s.rule else "" for s in applied],
        "note": [s.note for s in applied],
    }
    shapes = [shapely.MultiPolygon(shapely.get_parts(s.geometry).tolist()) for s in applied]
    stops = gpd.GeoDataFrame(table, geometry=shapes, crs=result.grid.crs)
    write_layer(target, "stops", stops, "MultiPolygon", result.plan.date.isoformat())
    write_layer(target, "ways", _ways_frame(result), "LineString", result.plan.date.isoformat())
    if result.together is not None:
        write_layer(target, "together", _together_frame(result), "MultiPolygon", result.plan.date.isoformat())


def _together_frame(result: ScoutResult) -> gpd.GeoDataFrame:
    """The circles of the sites chosen together, clipped to land with permission."""
    sets = [] if result.together is None else result.together.sets
    shapes = [shapely.MultiPolygon(shapely.get_parts(s.circle).tolist()) for s in sets]
    table = {
        "site": [s.site for s in sets], "rank": [s.rank for s in sets], "crew": [s.crew for s in sets],
        "alone_share": [s.alone_share for s in sets],
    }  # fmt: skip
    return gpd.GeoDataFrame(table, geometry=shapes, crs=result.grid.crs)


def _ways_frame(result: ScoutResult) -> gpd.GeoDataFrame:
    """Every leg of the way in and out of every site, lines in the direction of travel."""
    rows = []
    for site in result.sites:
        if not isinstance(site.journey, Journey):
            continue
        for direction, legs in (("in", site.journey.inward), ("out", site.journey.outward)):
            for number, leg in enumerate(legs, start=1):
                line = leg.line if len(leg.line) > 1 else np.repeat(leg.line, 2, axis=0)
                rows.append(
                    {"site": site.site, "direction": direction, "leg": number, "kind": leg.kind,
                     "minutes": leg.minutes, "distance_m": leg.distance_m, "climb_m": leg.climb_m,
                     "geometry": shapely.LineString(line)}
                )  # fmt: skip
    columns = ["site", "direction", "leg", "kind", "minutes", "distance_m", "climb_m", "geometry"]
    return gpd.GeoDataFrame(rows, columns=columns, geometry="geometry", crs=result.grid.crs)


@contextmanager
def _driver_faults() -> Iterator[None]:
    """Turn what the drivers raise when a file cannot be written, each in its own class, into an `OSError`."""
    try:
        yield
    except (DataSourceError, DataLayerError, FeatureError, RasterioError) as error:
        raise OSError(str(error)) from error


def write_layer(target: Path, layer: str, frame: gpd.GeoDataFrame, kind: str, day: str) -> None:
    """Write one layer of a GeoPackage, its clock set to the start of a day."""
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": f"{day}T00:00:00.000Z"})
    try:
        with _driver_faults(), warnings.catch_warnings():
            warnings.filterwarnings("ignore", "'crs' was not provided")
            pyogrio.write_dataframe(frame, target, layer=layer, driver="GPKG", geometry_type=kind)
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})


def write_layers(target: Path, layers: Mapping[str, gpd.GeoDataFrame], day: str) -> None:
    """Write frames of any geometry as layers of one GeoPackage, in their order."""
    for name, frame in layers.items():
        kinds = {k for k in frame.geom_type.unique() if k is not None}
        single = {k.removeprefix("Multi") for k in kinds}
        kind = kinds.pop() if len(kinds) == 1 else f"Multi{single.pop()}" if len(single) == 1 else "Unknown"
        shapes = frame.geometry
        if kind.startswith("Multi"):
            shapes = gpd.GeoSeries([_multi(g) for g in frame.geometry], crs=frame.crs)
        write_layer(target, name, frame.set_geometry(shapes), kind, day)


def _multi(shape: shapely.Geometry) -> shapely.Geometry:
    makers = {"Point": shapely.MultiPoint, "LineString": shapely.MultiLineString, "Polygon": shapely.MultiPolygon}
    maker = makers.get(shape.geom_type)
    return shape if maker is None else maker([shape])


def write_geotiff(target: Path, values: NDArray[np.float32], grid: Grid, *, tags: dict[str, str]) -> None:
    """One float32 band, tiled and deflated, NaN as nodata."""
    profile = {
        "driver": "GTiff", "dtype": "float32", "count": 1, "height": grid.rows, "width": grid.cols, "crs": grid.crs,
        "transform": Affine(*grid.geotransform), "nodata": np.nan, "tiled": True, "blockxsize": 256, "blockysize": 256,
        "compress": "deflate", "predictor": 3,
    }  # fmt: skip
    kept = values.astype(np.float32)
    with _driver_faults():
        with rasterio.open(target, "w", **profile) as file:
            file.write(kept, 1)
            file.update_tags(**tags)
        with rasterio.open(target) as file:
            if not np.array_equal(file.read(1), kept, equal_nan=True):
                raise OSError("what was written does not read back: the disk may be full")
