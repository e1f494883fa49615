"""Rasters: values against rasterio's own reading and warping, units, no data, tiles, and what is doubted."""

from __future__ import annotations

import numpy as np
import pytest
import rasterio
from rasterio.enums import Resampling
from rasterio.transform import Affine, from_origin
from rasterio.warp import reproject

from boscage.errors import CrsError, LayerError
from boscage.readers.raster import _equal
from boscage.values import Grid

CRS = "EPSG:32615"
WEST, NORTH = 520_000.0, 4_008_000.0


def heights(rng: np.random.Generator, rows: int = 200, cols: int = 400) -> np.ndarray:
    return np.round(rng.random((rows, cols)) * 25.0, 1).astype("float32")


@pytest.fixture
def rng() -> np.random.Generator:
    return np.random.default_rng(7)


def canopy(folder, spec: str = ""):
    folder.layers["canopy_height"] = f'{{ path = "h.tif"{spec} }}'
    return folder.read().rasters["canopy_height"]


def gdals(path, grid: Grid, resampling: Resampling) -> np.ndarray:
    """GDAL's own warp of a file onto a grid with an exact transformer."""
    out = np.full(grid.shape, np.nan, "float32")
    with rasterio.open(path) as file:
        reproject(
            rasterio.band(file, 1), out, dst_transform=Affine(*grid.geotransform), dst_crs=grid.crs,
            dst_nodata=np.nan, resampling=resampling, tolerance=0.0,
        )  # fmt: skip
    return out


def test_aligned_windows_are_the_files_own_numbers(folder, rng) -> None:
    values = heights(rng)
    values[3, 5], values[4, 6], values[5, 7] = -9999.0, np.inf, -3.4e38
    folder.raster("h.tif", values, 5.0, nodata=-9999.0, tiled=True, blockxsize=64, blockysize=64, compress="deflate")
    layer = canopy(folder)
    grid = Grid(CRS, WEST - 50.0, NORTH + 25.0, 5.0, 60, 70)
    got = layer.read(grid)
    expected = np.full((60, 70), np.nan, "float32")
    expected[5:, 10:] = np.where(np.isfinite(values) & (values > -9000.0), values, np.nan)[:55, :60]
    np.testing.assert_array_equal(got, expected)
    assert got.dtype == np.float32 and layer.native_cell_m == pytest.approx(5.0)


@pytest.mark.parametrize("crs", ["EPSG:32616", "EPSG:26915", "EPSG:5070", "EPSG:4326", "EPSG:3433"])
def test_other_systems_agree_with_gdals_exact_warp(folder, rng, crs: str) -> None:
    """The oracle is GDAL's warper with an exact transformer (tolerance 0) on the same grid, nearest cell.

    The two may differ where a place falls within rounding of the border of two cells; 1 in 1,000 is allowed.
    """
    cell = {"EPSG:4326": 0.00005, "EPSG:3433": 16.0}.get(crs, 5.0)
    from pyproj import Transformer

    x, y = Transformer.from_crs(CRS, crs, always_xy=True).transform(WEST - 100.0, NORTH + 100.0)
    folder.raster("h.tif", heights(rng, 300, 450), cell, crs=crs, west=x, north=y, nodata=-9999.0)
    layer = canopy(folder)
    grid = Grid(CRS, WEST + 3.3, NORTH - 7.1, 4.0, 150, 130)
    expected = gdals(folder.path / "h.tif", grid, Resampling.nearest)
    got = layer.read(grid)
    assert np.isfinite(got).mean() > 0.5
    same = (got == expected) | (np.isnan(got) & np.isnan(expected))
    assert same.mean() > 0.999


def test_a_rotated_file_agrees_with_gdals_exact_warp(folder, rng) -> None:
    turned = Affine.translation(WEST + 300.0, NORTH - 40.0) @ Affine.rotation(25.0) @ Affine.scale(5.0, -5.0)
    folder.raster("h.tif", heights(rng, 150, 150), transform=turned, nodata=-9999.0)
    layer = canopy(folder)
    grid = Grid(CRS, WEST + 3.0, NORTH + 400.0, 4.0, 300, 300)
    expected = gdals(folder.path / "h.tif", grid, Resampling.nearest)
    got = layer.read(grid)
    assert 0.2 < np.isfinite(got).mean() < 0.9
    same = (got == expected) | (np.isnan(got) & np.isnan(expected))
    assert same.mean() > 0.999


def test_a_south_up_file_reads_north_up(folder, rng) -> None:
    values = heights(rng, 100, 200)
    south_up = Affine(10.0, 0.0, WEST, 0.0, 10.0, NORTH - 1000.0)
    folder.raster("h.tif", values, transform=south_up)
    got = canopy(folder).read(Grid(CRS, WEST, NORTH, 10.0, 100, 200))
    np.testing.assert_array_equal(got, values[::-1])


def test_smooth_reading_is_exact_on_a_plane_and_between(folder) -> None:
    """Bilinear interpolation reproduces a plane exactly, whatever the grid."""
    cols, rows = np.meshgrid(np.arange(40), np.arange(20))
    x, y = WEST + (cols + 0.5) * 50.0, NORTH - (rows + 0.5) * 50.0
    folder.raster("t.tif", (0.02 * (x - WEST) + 0.05 * (NORTH - y) + 100.0).astype("float32"), 50.0)
    folder.layers["terrain"] = '"t.tif"'
    grid = Grid(CRS, WEST + 101.0, NORTH - 103.0, 7.0, 100, 200)
    got = folder.read().rasters["terrain"].read(grid, smooth=True)
    gx = grid.west + (np.arange(200) + 0.5) * 7.0 - WEST
    gy = NORTH - (grid.north - (np.arange(100) + 0.5) * 7.0)
    np.testing.assert_allclose(got, 0.02 * gx[None, :] + 0.05 * gy[:, None] + 100.0, atol=2e-5)


def test_smooth_reading_of_another_system_agrees_with_gdals_bilinear(folder, rng) -> None:
    from scipy.ndimage import gaussian_filter

    z = (200.0 + 300.0 * gaussian_filter(rng.random((120, 160)), 3.0)).astype("float32")
    from pyproj import Transformer

    x, y = Transformer.from_crs(CRS, "EPSG:32616", always_xy=True).transform(WEST - 300.0, NORTH + 300.0)
    folder.raster("t.tif", z, 20.0, crs="EPSG:32616", west=x, north=y, nodata=-9999.0)
    folder.layers["terrain"] = '"t.tif"'
    grid = Grid(CRS, WEST + 200.0, NORTH - 200.0, 10.0, 100, 110)
    expected = gdals(folder.path / "t.tif", grid, Resampling.bilinear)
    got = folder.read().rasters["terrain"].read(grid, smooth=True)
    # GDAL's bilinear kernel is stretched where the target cells are coarser; here they are finer, so the two agree.
    np.testing.assert_allclose(got, expected, atol=0.02)


@pytest.mark.parametrize("block", [7, 33, 250])
@pytest.mark.parametrize("crs", [CRS, "EPSG:32616"])
@pytest.mark.parametrize("smooth", [False, True])
def test_pieces_of_a_grid_equal_the_whole(folder, rng, crs: str, smooth: bool, block: int) -> None:
    from pyproj import Transformer

    x, y = Transformer.from_crs(CRS, crs, always_xy=True).transform(WEST - 100.0, NORTH + 100.0)
    folder.raster("h.tif", heights(rng, 250, 350), 6.0, crs=crs, west=x, north=y, nodata=-9999.0)
    layer = canopy(folder)
    grid = Grid(CRS, WEST, NORTH, 10.0, 100, 120)  # the centres fall on cell borders when the cells are 6 m and offset
    whole = layer.read(grid, smooth=smooth)
    parts = np.full(grid.shape, np.nan, "float32")
    for row in range(0, 100, block):
        for col in range(0, 120, block):
            part = grid.window(row, col, block, block)
            parts[row : row + part.rows, col : col + part.cols] = layer.read(part, smooth=smooth)
    if smooth:
        np.testing.assert_allclose(parts, whole, rtol=0, atol=1e-5)
    else:
        np.testing.assert_array_equal(parts, whole)


def test_a_folder_of_tiles_equals_the_single_file(folder, rng) -> None:
    values = heights(rng, 200, 300)
    folder.raster("h.tif", values, 5.0, nodata=-9999.0)
    for i in range(0, 200, 70):
        for j in range(0, 300, 110):
            part = values[i : i + 70, j : j + 110]
            folder.raster(f"tiles/{i:03d}_{j:03d}.tif", part, 5.0, west=WEST + 5.0 * j, north=NORTH - 5.0 * i)
    single = canopy(folder)
    folder.layers["canopy_height"] = '"tiles"'
    tiled = folder.read().rasters["canopy_height"]
    assert "9 tiles" in tiled.report.read and tiled.report.coverage == pytest.approx(single.report.coverage, abs=0.01)
    for grid in (
        Grid(CRS, WEST - 20.0, NORTH + 20.0, 5.0, 220, 310),
        Grid(CRS, WEST + 1.0, NORTH - 2.0, 3.3, 200, 300),
        Grid("EPSG:26915", WEST + 1.0, NORTH - 2.0, 4.0, 200, 300),
    ):
        for smooth in (False, True):
            np.testing.assert_array_equal(tiled.read(grid, smooth=smooth), single.read(grid, smooth=smooth))


def test_gaps_between_tiles_are_no_data_and_the_first_valid_cell_wins(folder) -> None:
    one, two = np.full((10, 10), 1.0, "float32"), np.full((10, 10), 2.0, "float32")
    one[0, 9] = -1.0
    folder.raster("tiles/a.tif", one, west=WEST, nodata=-1.0)
    folder.raster("tiles/b.tif", two, west=WEST + 90.0, nodata=-1.0)
    folder.raster("tiles/c.tif", two, west=WEST + 300.0, nodata=-1.0)
    folder.layers["canopy_height"] = '"tiles"'
    got = folder.read().rasters["canopy_height"].read(Grid(CRS, WEST, NORTH, 10.0, 10, 40))
    assert got[1, 9] == 1.0 and got[0, 9] == 2.0
    assert np.isnan(got[:, 19:30]).all() and (got[:, 30:] == 2.0).all()


def test_tiles_that_do_not_fit_are_named(folder, rng) -> None:
    folder.raster("tiles/a.tif", heights(rng, 20, 20))
    folder.raster("tiles/b.tif", heights(rng, 20, 20), crs="EPSG:26915")
    folder.layers["canopy_height"] = '"tiles"'
    with pytest.raises(LayerError, match=r"the tile b\.tif is in EPSG:26915 and a\.tif in EPSG:32615"):
        folder.read()


@pytest.mark.parametrize(
    ("unit", "factor"),
    # International foot 0.3048 m and US survey foot 1200/3937 m: NIST Handbook 44, appendix C
    [("m", 1.0), ("ft", 0.3048), ("us-ft", 1200.0 / 3937.0), ("dm", 0.1), ("cm", 0.01)],
)
def test_units_stated_in_the_plan(folder, unit: str, factor: float) -> None:
    values = np.linspace(13.0, 20.0, 20_000).reshape(100, 200).astype("float32") / np.float32(factor)
    folder.raster("h.tif", values)
    layer = canopy(folder, f', unit = "{unit}"')
    got = layer.read(Grid(CRS, WEST, NORTH, 10.0, 100, 200))
    np.testing.assert_allclose(got, np.linspace(13.0, 20.0, 20_000).reshape(100, 200), rtol=1e-6)
    assert f"in {unit} as the plan states" in layer.report.read and layer.report.state == "usable"


@pytest.mark.parametrize(("word", "unit"), [("feet", "ft"), ("US survey foot", "us-ft"), ("metre", "m"), ("dm", "dm")])
def test_the_files_own_unit_is_used_and_said(folder, rng, word: str, unit: str) -> None:
    folder.raster("h.tif", heights(rng, 100, 200) + 50.0, units=word)
    assert f"in {unit} as the file states" in canopy(folder).report.read
    assert "in cm as the plan states" in canopy(folder, ', unit = "cm"').report.read


def test_the_unit_of_a_compound_systems_heights(folder, rng) -> None:
    """EPSG:6360 is NAVD88 height in US survey feet."""
    folder.raster("t.tif", heights(rng, 100, 200) + 900.0, crs="EPSG:26915+6360")
    folder.layers["terrain"] = '"t.tif"'
    layer = folder.read().rasters["terrain"]
    assert "in us-ft as the file states" in layer.report.read and layer.report.crs == "EPSG:26915"


def test_an_unknown_unit_is_an_error(folder, rng) -> None:
    folder.raster("h.tif", heights(rng))
    with pytest.raises(LayerError, match=r"field unit: the unit is 'yards'; expected \"m\" or \"ft\""):
        canopy(folder, ', unit = "yards"')
    folder.layers["canopy_height"] = '"h.tif"'
    folder.layers["canopy_cover"] = '{ path = "cover.tif", unit = "m" }'
    with pytest.raises(LayerError, match=r"expected \"percent\" or \"fraction\""):
        folder.read()


def test_fractions(folder) -> None:
    values = np.linspace(0.0, 1.0, 20_000).reshape(100, 200).astype("float32")
    folder.raster("cover.tif", values)
    assert "are the numbers fractions?" in folder.read().rasters["canopy_cover"].report.doubts[0]
    folder.layers["canopy_cover"] = '{ path = "cover.tif", unit = "fraction" }'
    layer = folder.read().rasters["canopy_cover"]
    assert layer.read(Grid(CRS, WEST, NORTH, 10.0, 100, 200)).max() == pytest.approx(100.0)
    assert layer.report.state == "usable"


def test_scale_and_offset_of_integers(folder) -> None:
    raw = np.array([[0, 100], [250, 65535]], "uint16")
    folder.raster("h.tif", np.kron(raw, np.ones((50, 100), "uint16")), nodata=65535, scales=0.1, offsets=-1.0)
    got = canopy(folder).read(Grid(CRS, WEST, NORTH, 500.0, 2, 4))[:, ::2]
    np.testing.assert_allclose(got, [[-1.0, 9.0], [24.0, np.nan]], rtol=1e-6)


def test_masks_inside_the_file(folder, rng) -> None:
    values = heights(rng, 100, 200)
    mask = np.full((100, 200), 255, "uint8")
    mask[:50] = 0
    folder.raster("h.tif", values, mask=mask)
    got = canopy(folder).read(Grid(CRS, WEST, NORTH, 10.0, 100, 200))
    assert np.isnan(got[:50]).all() and (got[50:] == values[50:]).all()


def test_one_band_of_several_is_said(folder, rng) -> None:
    values = heights(rng, 100, 200)
    folder.raster("h.tif", values, more=[values + 1.0, values + 2.0])
    layer = canopy(folder)
    assert "band 1 of 3" in layer.report.read
    assert (layer.read(Grid(CRS, WEST, NORTH, 10.0, 100, 200)) == values).all()


def test_the_files_date(folder, rng) -> None:
    folder.raster("h.tif", heights(rng), tags={"TIFFTAG_DATETIME": "2025:02:18 10:11:12"})
    assert canopy(folder).report.date.isoformat() == "2025-02-18"
    assert canopy(folder, ", date = 2024-01-01").report.date.isoformat() == "2024-01-01"


def test_coverage_is_the_share_of_the_parcels(folder, rng) -> None:
    values = heights(rng, 100, 200)
    values[:, 50:] = -1.0
    folder.raster("h.tif", values, nodata=-1.0)
    # 500 m of the ranch's 2,000 m from west to east
    assert canopy(folder).report.coverage == pytest.approx(0.25, abs=0.002)


def test_no_data_on_the_ranch_is_missing(folder, rng) -> None:
    folder.raster("h.tif", np.full((100, 200), -1.0, "float32"), nodata=-1.0)
    folder.layers["canopy_height"] = '"h.tif"'
    found = folder.read()
    report = next(r for r in found.reports if r.name == "canopy_height")
    assert report.state == "missing" and "no data on the ranch" in report.doubts[0] and report.coverage == 0.0
    assert "canopy_height" not in found.rasters


def test_missing_crs_and_missing_place(folder, rng) -> None:
    folder.raster("h.tif", heights(rng), crs=None)
    with pytest.raises(CrsError, match=r'h\.tif, layer canopy_height: the file states no CRS.*crs = "EPSG'):
        canopy(folder)
    assert canopy(folder, ', crs = "EPSG:32615"').report.crs == "EPSG:32615"
    with pytest.warns(rasterio.errors.NotGeoreferencedWarning):
        folder.raster("h.tif", heights(rng), transform=Affine.identity())
    with pytest.raises(LayerError, match="the file has no place on the ground"):
        canopy(folder)


def test_files_that_do_not_open(folder) -> None:
    (folder.path / "h.tif").write_bytes(b"no picture")
    with pytest.raises(LayerError, match=r"h\.tif, layer canopy_height: the file cannot be opened \(") as caught:
        canopy(folder)
    assert str(folder.path) not in str(caught.value) and "\n" not in str(caught.value)
    (folder.path / "empty").mkdir()
    folder.layers["canopy_height"] = '"empty"'
    with pytest.raises(LayerError, match="no reader opens this folder as raster data"):
        folder.read()


def test_a_swapped_raster_is_caught(folder, rng) -> None:
    transform = from_origin(NORTH - 1000.0, WEST + 2000.0, 10.0, 10.0)
    folder.raster("h.tif", heights(rng, 200, 100), transform=transform)
    with pytest.raises(CrsError, match="axes look swapped"):
        canopy(folder)


@pytest.mark.parametrize(
    ("layer", "low", "high", "spec", "said"),
    [
        ("canopy_height", 0.0, 90.0, "", 'the tallest canopy is 90 m: are the heights in feet? state unit = "ft"'),
        ("canopy_height", 0.0, 20.0, ', unit = "ft"', "6.1 m after the change from feet"),
        ("canopy_height", -3.0, 20.0, "", "the least canopy height is -3 m, below the ground"),
        ("canopy_height", 5.0, 5.0, "", "every cell has the value 5"),
        ("terrain", 100.0, 4200.0, "", "the ranch spans 4,100 m of height: are the elevations in feet?"),
        ("terrain", 100.0, 2090.0, "", "half of the ground is steeper than 100 %"),
    ],
)
def test_odd_numbers_are_doubted(folder, layer: str, low: float, high: float, spec: str, said: str) -> None:
    values = np.tile(np.linspace(low, high, 200, dtype="float32"), (100, 1))
    folder.raster("o.tif", values)
    folder.layers[layer] = f'{{ path = "o.tif"{spec} }}'
    report = folder.read().rasters[layer].report
    assert report.state == "doubtful" and said in " ".join(report.doubts)


@pytest.mark.parametrize(
    ("layer", "low", "high", "said"),
    [
        ("canopy_cover", 0.0, 255.0, "the greatest canopy cover is 255 %; expected at most 100 %.*nodata value"),
        ("canopy_cover", -1.0, 90.0, "the least canopy cover is -1 %"),
        ("terrain", -9999.0, 300.0, "an elevation is -9999 m"),
        ("terrain", 0.0, 9500.0, "an elevation is 9500 m"),
    ],
)
def test_impossible_numbers_are_errors(folder, layer: str, low: float, high: float, said: str) -> None:
    values = np.tile(np.linspace(low, high, 200, dtype="float32"), (100, 1))
    folder.raster("o.tif", values)
    folder.layers[layer] = '"o.tif"'
    with pytest.raises(LayerError, match=said):
        folder.read()


def test_coarse_cover_is_doubted(folder) -> None:
    folder.raster("cover.tif", np.arange(200, dtype="uint8").reshape(10, 20) % 100, 100.0)
    assert "the cells are coarse (100 m)" in folder.read().rasters["canopy_cover"].report.doubts[0]


def test_a_damaged_file_is_said_when_its_cells_are_read(folder, rng) -> None:
    path = folder.raster("h.tif", heights(rng, 400, 400), 5.0, tiled=True, blockxsize=64, blockysize=64, compress="lzw")
    data = path.read_bytes()
    middle = len(data) // 2
    path.write_bytes(data[:middle] + b"\xff" * 4000 + data[middle + 4000 :])
    with pytest.raises(LayerError, match=r"h\.tif, layer canopy_height: the file is damaged \(.*\); copy it again"):
        canopy(folder).read(Grid(CRS, WEST, NORTH, 5.0, 400, 400))


@pytest.mark.parametrize(
    ("dtype", "number", "hidden"),
    [
        ("uint8", 41.0, [41]),
        ("uint8", -215.0, []),  # would be 41 when wrapped round to a byte
        ("uint8", 41.5, []),
        ("int16", -9999.0, [-9999]),
        ("float32", -3.4028234663852886e38, [-3.4028234663852886e38]),
        ("float32", 0.1, [0.1]),  # the nearest float32, as GDAL compares
        ("float32", np.nan, []),
        ("float32", 1e300, []),
    ],
)
def test_no_data_values_hide_what_they_name_and_nothing_else(dtype: str, number: float, hidden: list[float]) -> None:
    candidates = {"uint8": [0, 41, 42, 241], "int16": [-9999, 0, 41], "float32": [0.0, 0.1, -3.4028234663852886e38]}
    raw = np.array(candidates[dtype], dtype)
    found = _equal(raw, number)
    assert (raw[found].tolist() if found is not None else []) == np.array(hidden, dtype).tolist()


@pytest.mark.parametrize("crs", [CRS, "EPSG:26915"])
@pytest.mark.parametrize("tiled", [False, True])
def test_a_thinned_view_takes_a_cell_near_each_place(folder, crs: str, tiled: bool) -> None:
    """Every native cell holds its own row and column; a view 20 times coarser must hold one near its middle."""
    rows, cols = np.mgrid[0:1000, 0:2000]
    values = (rows * 2000 + cols).astype("float32") / 1e5  # whole numbers up to 2,000,000 survive in float32
    folder.raster("tiles/a.tif", values[:, :900], 1.0, crs=crs)
    folder.raster("tiles/b.tif", values[:, 900:], 1.0, crs=crs, west=WEST + 900.0)
    folder.raster("h.tif", values, 1.0, crs=crs)
    folder.layers["canopy_height"] = '"tiles"' if tiled else '"h.tif"'
    got = folder.read().rasters["canopy_height"].read(Grid(CRS, WEST, NORTH, 20.0, 50, 100))
    number = np.round(got.astype("float64") * 1e5)
    row, col = number // 2000, number % 2000
    assert np.abs(row - (np.arange(50) * 20.0 + 9.5)[:, None]).max() <= 10.5
    assert np.abs(col - (np.arange(100) * 20.0 + 9.5)[None, :]).max() <= 10.5
