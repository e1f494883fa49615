"""The readers on open data. Sources, licences and published values: README.txt in each folder of tests/data."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import rasterio
import shapely
from pyproj import Geod
from scipy.ndimage import minimum_filter

from boscage.errors import CrsError, LayerError
from boscage.model.layers import LayerSet
from boscage.readers.layers import read_layers
from boscage.readers.plan_file import read_plan
from boscage.readers.raster import RasterReader
from boscage.readers.surfaces import make_surfaces
from boscage.readers.table import TableReader
from boscage.readers.vector import VectorReader
from boscage.values import Grid

DATA = Path(__file__).parents[1] / "data"
READERS = (RasterReader(), TableReader(), VectorReader())


def read(folder: Path, parcels: gpd.GeoDataFrame, *, crs: str = "", **layers: str) -> LayerSet:
    """Read layers on a ranch made of the given polygons, all granted; canopy cover is made up where not given."""
    parcels.assign(access="granted").to_file(folder / "parcels.gpkg")
    lines = ['[ranch]\nname = "Open data"\ndate = 2026-11-21', f'crs = "{crs}"' if crs else "", "[layers]"]
    lines += ['parcels = "parcels.gpkg"']
    if not {"canopy_cover", "canopy_height"} & set(layers):
        box = parcels.to_crs(parcels.estimate_utm_crs()).total_bounds
        transform = rasterio.transform.from_bounds(*box, 20, 20)
        with rasterio.open(
            folder / "cover.tif", "w", driver="GTiff", height=20, width=20, count=1, dtype="uint8",
            crs=parcels.estimate_utm_crs().to_wkt(), transform=transform,
        ) as out:  # fmt: skip
            out.write((np.arange(400) % 100).astype("uint8").reshape(20, 20), 1)
        layers["canopy_cover"] = '"cover.tif"'
    lines += [f"{name} = {spec}" for name, spec in layers.items()]
    (folder / "plan.toml").write_text("\n".join(lines) + "\n")
    return read_layers(read_plan(folder / "plan.toml"), READERS)


def test_web_mercator_plots_come_out_in_true_hectares(tmp_path: Path) -> None:
    """27.894 ha geodesic against 67.722 ha taken as planar; UTM's scale squared is within 0.1 % of 1 there."""
    plots = gpd.read_file(DATA / "parcels" / "bubenec_plots.fgb")
    assert plots.area.sum() / 1e4 == pytest.approx(67.722, abs=0.001)
    geod = Geod(ellps="WGS84")
    assert sum(abs(geod.geometry_area_perimeter(g)[0]) for g in plots.to_crs(4326).geometry) / 1e4 == pytest.approx(
        27.894, abs=0.001
    )
    found = read(tmp_path, plots)
    frame = found.vectors["parcels"].frame
    assert found.crs == "EPSG:32633" and len(frame) == 407
    assert frame.area.sum() / 1e4 == pytest.approx(27.894, rel=0.001)


def test_web_mercator_as_the_ranchs_crs_is_refused_with_the_true_factor(tmp_path: Path) -> None:
    """The root of 67.722 / 27.894 is 1.558: lengths in EPSG:3857 there are 1.56 times too long."""
    plots = gpd.read_file(DATA / "parcels" / "bubenec_plots.fgb")
    with pytest.raises(CrsError, match=r"come out 1\.56 times too long.*EPSG:32633"):
        read(tmp_path, plots, crs="EPSG:3857")


def around(path: Path) -> gpd.GeoDataFrame:
    """A ranch round a recorded track."""
    west, south, east, north = gpd.read_file(path, layer="tracks").total_bounds
    return gpd.GeoDataFrame(geometry=[shapely.box(west - 0.01, south - 0.01, east + 0.01, north + 0.01)], crs=4326)


@pytest.mark.parametrize(
    ("name", "length_m"), [("Mojstrovka", 2700.6), ("cerknicko-jezero", 4580.1), ("korita-zbevnica", 14913.7)]
)
def test_recorded_tracks_have_their_length(tmp_path: Path, name: str, length_m: float) -> None:
    """gpxpy measures on a sphere, which differs from the ellipsoid by up to 0.5 %; UTM's scale by up to 0.1 %."""
    path = DATA / "gpx" / f"{name}.gpx"
    layer = read(tmp_path, around(path), water=f'"{path}"').vectors["water"]
    assert layer.frame.length.sum() == pytest.approx(length_m, rel=0.006)
    assert "GPX tracks and routes" in layer.report.read


def test_an_empty_segment_does_no_harm(tmp_path: Path) -> None:
    path = DATA / "gpx" / "track-with-empty-segment.gpx"
    found = read(tmp_path, around(path), water=f'"{path}"')
    assert found.vectors["water"].frame.length.sum() > 0.0


def test_osm_driving_ways(tmp_path: Path) -> None:
    """171 ways, 44.67 km by pyrosm; they lie on UTM zone 35's central meridian, where the scale is 0.9996."""
    path = DATA / "osm" / "test_driving.fgb"
    ranch = gpd.GeoDataFrame(geometry=[shapely.box(*gpd.read_file(path).total_bounds)], crs=4326)
    frame = read(tmp_path, ranch, water=f'"{path}"').vectors["water"].frame
    assert len(frame) == 171
    assert frame.length.sum() / 0.9996 / 1000.0 == pytest.approx(44.67, abs=0.03)
    with pytest.raises(LayerError, match=r"there is no column class \(the columns are id, highway\)"):
        read(tmp_path, ranch, tracks=f'"{path}"')
    with pytest.raises(LayerError, match=r"field class: the value is '\w+'; expected road, track or trail"):
        read(tmp_path, ranch, tracks=f'{{ path = "{path}", columns = {{ class = "highway" }} }}')


def test_areas_of_published_polygons(tmp_path: Path) -> None:
    """gorillas: 1,987.4 ha in its own CRS; meuse.area: 496.48 ha in the Dutch grid, whose scale is 0.9999 there."""
    gorillas = gpd.read_file(DATA / "gorillas" / "boundary.fgb")
    assert read(tmp_path, gorillas).vectors["parcels"].frame.area.sum() / 1e4 == pytest.approx(1987.4, abs=0.05)
    meuse = gpd.read_file(DATA / "meuse" / "area_river.fgb")
    meuse = meuse[meuse["name"] == "meuse.area"]
    (tmp_path / "m").mkdir()
    own = read(tmp_path / "m", meuse, crs="EPSG:28992")
    assert own.vectors["parcels"].frame.area.sum() / 1e4 == pytest.approx(496.48, abs=0.005)
    utm = read(tmp_path / "m", meuse)
    assert utm.crs == "EPSG:32631"
    assert utm.vectors["parcels"].frame.area.sum() / 1e4 == pytest.approx(496.48, rel=0.002)


def test_slope_surface_equals_the_published_slope(tmp_path: Path) -> None:
    """The slope raster of the gorillas data is Horn's slope in degrees of its elevation raster.

    It has 20,381 cells whose eight neighbours have data too.
    """
    boundary = gpd.read_file(DATA / "gorillas" / "boundary.fgb")
    paths = {n: DATA / "gorillas" / f"{n}.tif" for n in ("elevation", "slopeangle")}
    found = read(tmp_path, boundary, terrain=f'"{paths["elevation"]}"')
    with rasterio.open(paths["slopeangle"]) as file:
        published, t = file.read(1).astype("float64"), file.transform
    with rasterio.open(paths["elevation"]) as file:
        elevation = file.read(1)
    grid = Grid("EPSG:32632", t.c, t.f, t.a, *published.shape)
    slope = make_surfaces(found, grid, ring_radius_m=2.9)["slope"].values
    both = np.isfinite(slope) & np.isfinite(published)
    assert both.sum() == minimum_filter(np.isfinite(elevation), size=3, mode="constant").sum() == 20_381
    np.testing.assert_allclose(np.degrees(np.arctan(slope[both])), published[both], atol=2e-5)


def spain(folder: Path) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(geometry=[shapely.box(348_000, 4_598_000, 350_000, 4_602_000)], crs="EPSG:25830")


def test_canopy_tiles_with_their_no_data(tmp_path: Path) -> None:
    """Two neighbouring tiles as a folder against rasterio reading each; no data 255 in 0.1525 % of the southern one."""
    tiles = tmp_path / "tiles"
    tiles.mkdir()
    parts = {}
    for name in ("348_4600_2017_fcc5m.tif", "348_4602_2017_fcc5m.tif"):
        (tiles / name).write_bytes((DATA / "canopy_rasters" / name).read_bytes())
        with rasterio.open(tiles / name) as file:
            parts[name] = file.read(1, masked=True).astype("float32").filled(np.nan)
    found = read(tmp_path, spain(tmp_path), crs="EPSG:25830", canopy_cover='"tiles"')
    got = found.rasters["canopy_cover"].read(Grid("EPSG:25830", 348_000.0, 4_602_000.0, 10.0, 400, 200))
    np.testing.assert_array_equal(got, np.vstack([parts["348_4602_2017_fcc5m.tif"], parts["348_4600_2017_fcc5m.tif"]]))
    assert np.isnan(got).sum() == 61  # 0.001525 x 40,000
    report = found.rasters["canopy_cover"].report
    assert report.coverage == pytest.approx(1.0 - 61 / 80_000, abs=1e-6)
    assert report.state == "usable" and "2 tiles" in report.read


def test_canopy_heights_with_no_data_and_half_of_the_ranch(tmp_path: Path) -> None:
    path = DATA / "canopy_rasters" / "348_4600_2017_alt95.tif"
    found = read(tmp_path, spain(tmp_path), crs="EPSG:25830", canopy_height=f'"{path}"')
    layer = found.rasters["canopy_height"]
    values = layer.read(Grid("EPSG:25830", 348_000.0, 4_600_000.0, 10.0, 200, 200))
    assert np.nanmax(values) == pytest.approx(26.81, abs=1e-4) and np.nanmin(values) == 0.0  # by rasterio
    assert layer.report.coverage == pytest.approx((40_000 - 61) / 80_000, abs=1e-6)


def test_a_raster_that_states_no_crs_as_its_authors_publish_it(tmp_path: Path) -> None:
    with rasterio.open(DATA / "canopy_rasters" / "348_4600_2017_fcc5m.tif") as file:
        values, profile = file.read(1), file.profile
    profile.update(crs=None)
    with rasterio.open(tmp_path / "bare.tif", "w", **profile) as out:
        out.write(values, 1)
    with pytest.raises(CrsError, match=r"bare\.tif, layer canopy_cover: the file states no CRS"):
        read(tmp_path, spain(tmp_path), canopy_cover='"bare.tif"')
    found = read(tmp_path, spain(tmp_path), canopy_cover='{ path = "bare.tif", crs = "EPSG:25830" }')
    assert found.rasters["canopy_cover"].report.crs == "EPSG:25830"


def test_cover_over_a_hundred_is_refused(tmp_path: Path) -> None:
    """The raster holds codes up to 127, which are no per cent."""
    path = DATA / "canopy_rasters" / "348_4602_2017_cob050_200cm.tif"
    with pytest.raises(LayerError, match="the greatest canopy cover is 127 %; expected at most 100 %"):
        read(tmp_path, spain(tmp_path), canopy_cover=f'"{path}"')
