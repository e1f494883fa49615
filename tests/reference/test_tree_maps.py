"""Trees from canopy heights and lidar against known stems, published windows and open surveys.

A found tree matches a true stem at most 2 m away, one to one, nearest pairs first. True stems count from 5 m of height
on, as trees do; those under another crown count too, and cannot be found from above.
"""

from __future__ import annotations

import csv
import gzip
import math
from pathlib import Path

import laspy
import numpy as np
import pytest
import rasterio
import woods
from rasterio.windows import Window
from scipy.spatial import cKDTree

from boscage.errors import InputError
from boscage.model.layers import LayerReport, LayerSpec
from boscage.model.trees import TreeMap, TreeOptions, estimate_dbh_m
from boscage.readers.point_cloud import PointCloudReader
from boscage.readers.protocol import Request
from boscage.readers.raster_layer import RasterLayer
from boscage.readers.tree_map import canopy_frame, find_trees
from boscage.values import Grid

SAMPLE = Path(__file__).parents[2] / "sample_data"
LIDAR = Path(__file__).parents[1] / "data" / "lidar"
LEAST_M = 5.0


class Held:
    """Canopy heights in memory as a source."""

    report = LayerReport(name="canopy_height", state="usable", read="")

    def __init__(self, canopy: np.ndarray, cell_m: float) -> None:
        self.canopy, self.native_cell_m = canopy, cell_m
        self.grid = Grid("EPSG:32615", 0.0, 0.0, cell_m, *canopy.shape)

    def read(self, grid: Grid, *, smooth: bool = False) -> np.ndarray:
        row, col = round(-grid.north / grid.cell_m), round(grid.west / grid.cell_m)
        return self.canopy[row : row + grid.rows, col : col + grid.cols]


def trees(wood: woods.Wood, **options: object) -> TreeMap:
    source = Held(wood.canopy, wood.cell_m)
    return find_trees(source, source.grid, TreeOptions(**options))  # type: ignore[arg-type]


def found(tree_map: TreeMap) -> np.ndarray:
    return np.column_stack([tree_map.x_m, -tree_map.y_m])


def rivals(wood: woods.Wood) -> dict[str, float]:
    """F1 of fixed windows and of one filter a height class; the best window is picked with the truth in hand."""
    true = wood.points[wood.height_m >= LEAST_M]
    cells = {f"fixed {2 * k + 1}": woods.fixed_window(wood.canopy, k, LEAST_M) for k in (1, 2, 3)}
    cells["by height class"] = woods.by_height_class(wood.canopy, wood.cell_m, LEAST_M)
    return {name: woods.score(woods.places(c, wood.cell_m), true)["f1"] for name, c in cells.items()}


@pytest.fixture(scope="module")
def ranch_wood() -> woods.Wood:
    """400 m square of the sample ranch's northern canopy tile with the stems it was made from."""
    at, side = (300, 300), 400
    with rasterio.open(SAMPLE / "canopy_height" / "upper_creek.tif") as file:
        canopy = file.read(1, window=Window(at[1], at[0], side, side)).astype(np.float32) / 10
        west, north = file.transform.c + at[1], file.transform.f - at[0]
    with gzip.open(SAMPLE / "trees.csv.gz", "rt", encoding="utf-8") as file:
        names = ("x_m", "y_m", "height_m", "crown_radius_m", "dbh_cm")
        rows = [[float(row[name]) for name in names] for row in csv.DictReader(file)]
    table = np.array(rows) - [west, 0.0, 0.0, 0.0, 0.0]
    table[:, 1] = north - table[:, 1]
    table = table[((table[:, :2] > 0) & (table[:, :2] < side)).all(axis=1)]
    return woods.Wood(
        canopy=canopy, cell_m=1.0, points=table[:, :2], height_m=table[:, 2], radius_m=table[:, 3],
        dbh_m=table[:, 4] / 100,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("window", "widths"),
    [
        ("deciduous", (3.3201, 3.9913, 5.1101, 6.6763, 8.6901, 11.1513)),
        ("pines", (3.1654, 3.2002, 3.8555, 5.1312, 7.0275, 9.5443)),
        ("combined", (2.7403, 3.4160, 4.5423, 6.1190, 8.1463, 10.6240)),
    ],
)
def test_published_windows(window: str, widths: tuple[float, ...]) -> None:
    """Popescu and Wynne (2004), PE&RS 70:589-604: diameter in metres for trees of 5, 10, ... 30 m."""
    made = TreeOptions(window=window).window_m(np.arange(5.0, 31.0, 5.0))
    assert made == pytest.approx(widths, abs=1e-4)


def test_window_in_feet_agrees() -> None:
    """The combined window is also published as 8.251 + 0.00274 h**2 in feet (same paper); equal to the last figure."""
    for feet in (20.0, 60.0, 90.0):
        want = (8.251 + 0.00274 * feet**2) * 0.3048
        made = float(TreeOptions(window="combined").window_m(feet * 0.3048))
        assert made == pytest.approx(want, abs=0.00001 * feet**2 * 0.3048)


def test_diameter_from_height_and_crown() -> None:
    """Jucker et al. (2017), Global Change Biology 23:177-190: dbh cm = a (h x crown width)**b exp(s**2 / 2).

    Coefficients as in the function dbh of the R package itcSegment: 0.557, 0.809, 0.056 for all trees; 0.367, 0.887 and
    0.861, 0.755 for broadleaf and conifer trees of the temperate mixed forests of North America.
    """
    h, r = np.array([10.0, 20.0, 30.0]), np.array([1.5, 3.0, 5.0])
    groups = {"any": (0.557, 0.809, 0.056), "broadleaf": (0.367, 0.887, 0.0), "conifer": (0.861, 0.755, 0.0)}
    for group, (a, b, s) in groups.items():
        want = [a * (x * 2 * y) ** b * math.exp(s**2 / 2) / 100 for x, y in zip(h, r, strict=True)]
        assert estimate_dbh_m(h, r, group) == pytest.approx(want, rel=1e-12)


def test_sample_ranch(ranch_wood: woods.Wood) -> None:
    """Measured when written: F1 0.60, precision 0.98, recall 0.43, and 0.91 of the trees over 20 m."""
    true = ranch_wood.points[ranch_wood.height_m >= LEAST_M]
    made = trees(ranch_wood)
    got = woods.score(found(made), true)
    assert got["f1"] > max(rivals(ranch_wood).values())
    assert got["precision"] > 0.95 and got["recall"] > 0.38
    assert got["median_error_m"] < 0.15
    pairs = woods.match(found(made), true)
    height = ranch_wood.height_m[ranch_wood.height_m >= LEAST_M]
    tall = np.flatnonzero(height >= 20.0)
    assert np.isin(tall, pairs).mean() > 0.85


def test_crowns_and_diameters_on_the_sample_ranch(ranch_wood: woods.Wood) -> None:
    """The rays measure crowns nearer the truth than half the published window does; diameters within about a sixth."""
    big = ranch_wood.height_m >= LEAST_M
    made = trees(ranch_wood)
    pairs = woods.match(found(made), ranch_wood.points[big])
    hit = pairs >= 0
    radius, dbh = ranch_wood.radius_m[big][pairs[hit]], ranch_wood.dbh_m[big][pairs[hit]]
    by_rays = np.abs(made.crown_radius_m[hit] - radius).mean()
    by_window = np.abs(TreeOptions(window="combined").window_m(made.height_m[hit]) / 2 - radius).mean()
    assert by_rays < 0.6 < by_window
    assert np.abs(made.dbh_m[hit] - dbh).mean() < 0.07
    assert abs((made.dbh_m[hit] - dbh).mean()) < 0.03


@pytest.mark.parametrize(("seed", "per_ha"), [(101, 200), (102, 400), (103, 600), (104, 800)])
def test_woods_of_one_metre_cells(seed: int, per_ha: int) -> None:
    """Clustered woods that the window was not fitted to: never below the best fixed window or the filter by class."""
    wood = woods.grow(seed, per_ha)
    got = woods.score(found(trees(wood)), wood.points[wood.height_m >= LEAST_M])
    assert got["f1"] >= max(rivals(wood).values())
    assert got["precision"] > 0.9


def test_woods_of_half_metre_cells() -> None:
    """On fine cells the best fixed window comes close: over four woods together it is not better."""
    cases = [(107, 300, 0.15), (108, 600, 0.15), (109, 800, 0.3), (110, 500, 0.6)]
    grown = [woods.grow(seed, per_ha, cell_m=0.5, rough_m=rough) for seed, per_ha, rough in cases]
    ours = [woods.score(found(trees(w)), w.points[w.height_m >= LEAST_M])["f1"] for w in grown]
    others = [rivals(w) for w in grown]
    assert np.mean(ours) >= max(np.mean([o[name] for o in others]) for name in others[0])
    assert np.min(np.array(ours) - [o["by height class"] for o in others]) > 0.05


def test_the_published_window_finds_fewer_and_surer_trees(ranch_wood: woods.Wood) -> None:
    true = ranch_wood.points[ranch_wood.height_m >= LEAST_M]
    close, combined = (woods.score(found(trees(ranch_wood, window=w)), true) for w in ("close", "combined"))
    assert combined["recall"] < close["recall"] and combined["precision"] > close["precision"]


def raw_survey(name: str, layer: str = "canopy_height", **spec: object):
    request = Request(layer=layer, path=LIDAR / name, spec=LayerSpec(path=name, **spec))  # type: ignore[arg-type]
    return PointCloudReader().read(request)


def test_survey_in_feet_against_the_nearest_ground_return() -> None:
    """autzen_trim.laz spans 6.155 ha and its tallest return is 33.06 m above the nearest ground return.

    Read as metres the area would be 66.3 ha and the tree 108 m.
    """
    file = laspy.read(LIDAR / "autzen_trim.laz")
    x, y, z = (np.asarray(v) * 0.3048 for v in (file.x, file.y, file.z))
    ground = np.asarray(file.classification) == 2
    _, near = cKDTree(np.column_stack([x[ground], y[ground]])).query(np.column_stack([x, y]))
    tallest = float((z - z[ground][near]).max())
    assert np.ptp(x) * np.ptp(y) / 1e4 == pytest.approx(6.155, abs=5e-4)
    assert tallest == pytest.approx(33.06, abs=0.005)
    raw = raw_survey("autzen_trim.laz")
    assert raw.unit == "ft"
    assert float(np.nanmax(raw.lattice.values)) * 0.3048 == pytest.approx(tallest, abs=0.15)
    assert raw.cell_m("EPSG:32610") == pytest.approx(1.0, abs=0.001)
    box = raw.bounds(raw.crs)
    assert box.width * box.height * 0.3048**2 / 1e4 == pytest.approx(6.155, abs=0.055)  # up to a cell more at each edge


def test_trees_of_the_survey_in_feet() -> None:
    """The tallest tree found has the survey's greatest height; the rough crowns do not fall into their branches."""
    raw = raw_survey("autzen_trim.laz")
    layer = RasterLayer(
        raw=raw, factor=0.3048, native_cell_m=raw.cell_m("EPSG:32610"),
        report=LayerReport(name="canopy_height", state="usable", read=""),
    )  # fmt: skip
    made = find_trees(layer, canopy_frame(layer, "EPSG:32610"))
    values = raw.lattice.values
    close = find_trees(layer, canopy_frame(layer, "EPSG:32610"), TreeOptions(window="close"))
    assert len(made) < 0.6 * len(close)
    assert made.height_m.max() == pytest.approx(float(np.nanmax(values)) * 0.3048, abs=0.01)
    box, top = raw.bounds("EPSG:32610"), np.argmax(made.height_m)
    assert box.west < made.x_m[top] < box.west + 0.4 * box.width
    assert any("canopy heights are missing" in doubt for doubt in made.doubts)
    assert any("the canopy is rough" in doubt for doubt in made.doubts)


def test_ground_without_classes_against_the_classed_ground(tmp_path: Path) -> None:
    """The filter of the lowest returns against the survey's own ground: within 0.1 m (root mean square)."""
    file = laspy.read(LIDAR / "autzen_trim.laz")
    known = raw_survey("autzen_trim.laz", "terrain").lattice
    rows = np.floor((known.transform.f - np.asarray(file.y)) / -known.transform.e).astype(int)
    cols = np.floor((np.asarray(file.x) - known.transform.c) / known.transform.a).astype(int)
    ground = np.asarray(file.classification) == 2
    file.classification = np.ones(len(file.points), np.uint8)
    file.write(tmp_path / "plain.laz")
    request = Request(layer="terrain", path=tmp_path / "plain.laz", spec=LayerSpec(path="plain.laz"))
    raw = PointCloudReader().read(request)
    assert any("does not class the ground" in note for note in raw.notes)
    apart = (raw.lattice.values - known.values)[rows[ground], cols[ground]] * 0.3048
    assert math.sqrt((apart**2).mean()) < 0.1


def test_survey_in_us_feet_with_buildings() -> None:
    """60 x 40 US survey feet in Nebraska; no cell of roof alone counts as canopy."""
    raw = raw_survey("nebraska_us_feet.laz")
    assert raw.unit == "us-ft" and "heights in us-ft as the file states" in raw.notes
    assert raw.cell_m("EPSG:26914") == pytest.approx(0.5, abs=0.001)
    file = laspy.read(LIDAR / "nebraska_us_feet.laz")
    x, y, code = np.asarray(file.x), np.asarray(file.y), np.asarray(file.classification)
    t = raw.lattice.transform
    cells = np.floor((t.f - y) / -t.e).astype(int) * raw.lattice.shape[1] + np.floor((x - t.c) / t.a).astype(int)
    roof = np.setdiff1d(cells[code == 6], cells[code != 6])
    assert len(roof) > 20
    assert (raw.lattice.values.ravel()[roof] == 0.0).all()


def test_survey_in_metres() -> None:
    """A French piece (EPSG:2154), flown on 13 June 2021 by its GPS times; its own class 65 is left out."""
    raw = raw_survey("france_metres.laz")
    assert (raw.crs, raw.unit, str(raw.date)) == ("EPSG:2154", "m", "2021-06-13")
    assert any(note.startswith("539 returns left out") for note in raw.notes)
    assert float(np.nanmax(raw.lattice.values)) < 40.0


def test_survey_without_crs_and_too_sparse() -> None:
    with pytest.raises(InputError, match="states no CRS"):
        raw_survey("simple.laz")
    with pytest.raises(InputError, match=r"too sparse: 0\.\d+ returns on a square metre \(1,065 in all\)"):
        raw_survey("simple.laz", crs="EPSG:2994")
