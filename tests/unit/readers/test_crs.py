"""The working CRS: chosen, refused, and held against the numbers. Codes are those of the EPSG register."""

from __future__ import annotations

import math

import pytest
from pyproj import CRS

from boscage.errors import CrsError
from boscage.readers.crs import choose_crs, crs_text, same_crs, scale_at, utm_code

LON, LAT = -92.7, 36.2


@pytest.mark.parametrize(
    ("lon", "lat", "code"),
    [
        # Zone numbers by the definition: zone 1 runs from 180 W to 174 W, six degrees each (NGA.SIG.0012, section 7)
        (-180.0, 1.0, 32601), (-174.0, 1.0, 32602), (-93.0, 36.2, 32615), (-90.0, 36.2, 32616), (179.9, -1.0, 32760),
        (0.0, 0.0, 32631),
    ],
)  # fmt: skip
def test_utm_zone(lon: float, lat: float, code: int) -> None:
    assert utm_code(lon, lat) == f"EPSG:{code}"
    assert CRS.from_epsg(code).utm_zone is not None


def test_default_is_the_utm_zone_of_the_parcels() -> None:
    assert choose_crs(None, LON, LAT, file="p") == ("EPSG:32615", "the UTM zone of the parcels")


@pytest.mark.parametrize("code", ["EPSG:32615", "EPSG:26915", "EPSG:6344", "EPSG:5070"])
def test_metric_systems_that_fit_are_taken(code: str) -> None:
    assert choose_crs(code, LON, LAT, file="p") == (code, "stated in the plan")


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("EPSG:999999", "the CRS EPSG:999999 is unknown"),
        ("nonsense", "the CRS nonsense is unknown"),
        ("EPSG:4326", r"EPSG:4326 \(WGS 84\) counts in degrees"),
        ("EPSG:4978", "is not projected"),
        ("EPSG:3433", r"EPSG:3433 \(.*Arkansas North.*\) counts in US survey foot, not metres"),
        ("EPSG:3857", r"EPSG:3857 .* come out 1\.24 times too long"),
        ("EPSG:32610", r"times too long|does not reach"),
        ("EPSG:2048", "do not run east and north"),
    ],
)
def test_systems_that_do_not_fit_are_refused_with_the_mend(code: str, said: str) -> None:
    with pytest.raises(CrsError, match=said) as caught:
        choose_crs(code, LON, LAT, file="plan.toml")
    assert 'write crs = "EPSG:32615"' in str(caught.value)
    assert str(caught.value).startswith("plan.toml, field ranch.crs: ") and "\n" not in str(caught.value)


def test_scale_of_web_mercator_is_the_secant_of_the_latitude() -> None:
    """On a sphere the scale is 1 / cos(latitude); the ellipsoid changes it by under 0.7 % (Snyder 1987, eq. 7-6)."""
    assert scale_at(CRS.from_epsg(3857), LON, LAT) == pytest.approx(1.0 / math.cos(math.radians(LAT)), rel=0.007)


def test_scale_of_utm_on_its_central_meridian() -> None:
    """0.9996 by definition (Snyder 1987, p. 57)."""
    assert scale_at(CRS.from_epsg(32615), -93.0, LAT) == pytest.approx(0.9996, abs=2e-6)


def test_text_and_sameness() -> None:
    assert crs_text(CRS.from_wkt(CRS.from_epsg(26915).to_wkt("WKT1_ESRI"))) == "EPSG:26915"
    assert crs_text(None) == ""
    assert same_crs("EPSG:26915+5703", "EPSG:26915")
    assert not same_crs("EPSG:26915", "EPSG:32615")


def test_parcels_in_web_mercator_make_true_hectares(bare, shapes) -> None:
    """Squares of 100 ha drawn in UTM, written in EPSG:3857, must come back as 100 ha and not as 154."""
    bare.parcels(crs="EPSG:3857")
    bare.raster("cover.tif", __import__("numpy").full((100, 200), 50, "uint8"))
    bare.layers["canopy_cover"] = '"cover.tif"'
    found = bare.read()
    assert found.crs == "EPSG:32615" and found.crs_reason == "the UTM zone of the parcels"
    assert found.vectors["parcels"].frame.area.tolist() == pytest.approx([1e6, 1e6], rel=1e-6)
    assert found.vectors["parcels"].report.crs == "EPSG:3857"


def test_missing_crs_names_file_and_key(bare, shapes) -> None:
    bare.parcels(crs=None, file="parcels.shp")
    bare.layers["canopy_cover"] = '"none.tif"'
    said = r'parcels\.shp, layer parcels: the file states no CRS.*crs = "EPSG:\.\.\."'
    with pytest.raises(CrsError, match=said):
        bare.read()


def test_stated_crs_fills_the_gap_but_never_overrules(folder, shapes) -> None:
    folder.vector("t.shp", [shapes.line((0, 0), (300, 400))], None, **{"class": ["track"]})
    folder.layers["tracks"] = '{ path = "t.shp", crs = "EPSG:32615" }'
    assert folder.read().vectors["tracks"].frame.length.tolist() == pytest.approx([500.0])
    folder.layers["parcels"] = '{ path = "parcels.gpkg", crs = "EPSG:26915" }'
    with pytest.raises(CrsError, match="the plan states EPSG:26915 and the file says EPSG:32615"):
        folder.read()
    folder.layers["parcels"] = '{ path = "parcels.gpkg", crs = "EPSG:1" }'
    with pytest.raises(CrsError, match="the CRS EPSG:1 is unknown"):
        folder.read()


def test_degrees_in_a_projected_system(folder) -> None:
    import geopandas as gpd
    import shapely

    line = shapely.LineString([(-92.78, 36.2), (-92.77, 36.2)])
    gpd.GeoDataFrame({"class": ["track"]}, geometry=[line], crs="EPSG:32615").to_file(folder.path / "t.gpkg")
    folder.layers["tracks"] = '"t.gpkg"'
    with pytest.raises(CrsError, match=r"\(-92\.78, 36\.2\) look like degrees, but the CRS EPSG:32615 counts in metre"):
        folder.read()


def test_metres_in_a_geographic_system(folder, shapes) -> None:
    import geopandas as gpd

    line = shapes.line((0, 0), (9, 9))
    gpd.GeoDataFrame({"class": ["track"]}, geometry=[line], crs="EPSG:4326").to_file(folder.path / "t.gpkg")
    folder.layers["tracks"] = '"t.gpkg"'
    with pytest.raises(CrsError, match="are no degrees, but the CRS EPSG:4326 counts in degrees"):
        folder.read()


@pytest.mark.parametrize(("lon", "lat"), [(-92.7, 36.2), (-84.3, 35.1)])
def test_swapped_parcels_are_caught(bare, lon: float, lat: float) -> None:
    import geopandas as gpd
    import shapely

    box = shapely.box(lat, lon, lat + 0.01, lon + 0.01)
    frame = gpd.GeoDataFrame({"access": ["granted"]}, geometry=[box], crs="EPSG:4326")
    frame.to_file(bare.path / "p.gpkg")
    bare.layers |= {"parcels": '"p.gpkg"', "canopy_cover": '"c.tif"'}
    with pytest.raises(CrsError, match=r"p\.gpkg, layer parcels: the axes look swapped"):
        bare.read()


def test_nad27_is_doubted_where_its_shift_grids_are_not_there(bare, shapes) -> None:
    """NAD27 to WGS 84 by three parameters is good to about 7 m there (accuracy field of the EPSG register)."""
    import numpy as np
    from pyproj.datadir import get_data_dir

    if list(__import__("pathlib").Path(get_data_dir()).glob("us_noaa_conus*")):
        pytest.skip("the shift grids are installed")
    bare.parcels(crs="EPSG:26715")
    bare.raster("cover.tif", np.arange(20000, dtype="uint8").reshape(100, 200) % 100)
    bare.layers["canopy_cover"] = '"cover.tif"'
    assert any("NAD27" in d or "26715" in d for d in bare.read().vectors["parcels"].report.doubts)


def test_places_that_no_system_can_express_are_errors(folder, shapes) -> None:
    from boscage.errors import LayerError

    (folder.path / "sign.csv").write_text(f"x,y,kind\n{shapes.west},{shapes.north},rub\n1e30,1e30,rub\n")
    folder.layers["sign"] = '{ path = "sign.csv", crs = "EPSG:26915" }'
    with pytest.raises(LayerError, match="row 2: the place cannot be expressed in the ranch's CRS EPSG:32615"):
        folder.read()
