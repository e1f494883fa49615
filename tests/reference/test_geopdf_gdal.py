"""Printed maps lie where they should: by GDAL's own PDF reader, and by a plain parse where GDAL is not there.

The outside authority is GDAL's PDF driver (`gdalinfo`, `gdal_translate` of Debian's gdal-bin; 3.6.2 when this was
written) with its own reading of ISO 32000 geospatial measures. Where it is not on the machine those tests are skipped,
and the plain parse, which knows neither GDAL nor the library that wrote the file, is held against the same places.
"""

from __future__ import annotations

import csv
import datetime as dt
import json
import math
import re
import shutil
import subprocess
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
import rasterio
import tiny_ranch as tiny
from paper import stroked
from pypdf import PdfReader
from pyproj import CRS, Transformer

from boscage.cli.main import main
from boscage.sheets.page import Box, Page
from boscage.sheets.pdf import own_settings, write_pdf
from boscage.values import Bounds

PT_PER_MM = 72.0 / 25.4
GDAL_M = 1.0
"""The most that GDAL may be off, metres; it comes out at millimetres."""
PLAIN_M = 0.05
LCC = (
    "+proj=lcc +lat_0=31.1 +lon_0=-99.4 +lat_1=30.2 +lat_2=32.3 +x_0=400000 +y_0=250000 +datum=NAD83 +units=m +type=crs"
)
CASES = {
    "utm": ("EPSG:32615", Bounds(520_000.0, 4_003_000.0, 528_000.0, 4_010_500.0)),
    "south": ("EPSG:32755", Bounds(690_000.0, 6_090_000.0, 690_800.0, 6_090_750.0)),
    "state plane": ("EPSG:32139", Bounds(830_000.0, 3_120_000.0, 836_400.0, 3_126_000.0)),
    "albers": ("EPSG:6350", Bounds(290_000.0, 1_420_000.0, 291_600.0, 1_421_500.0)),
    "no code": (CRS(LCC).to_wkt(), Bounds(401_000.0, 251_000.0, 405_000.0, 254_750.0)),
    "no common form": (
        "+proj=lcca +lat_0=36 +lon_0=-92 +datum=WGS84 +type=crs",
        Bounds(-9_000.0, 11_000.0, -5_000.0, 14_750.0),
    ),
    "wide": ("EPSG:32614", Bounds(560_000.0, 3_400_000.0, 640_000.0, 3_475_000.0)),
}
"""CRS and ground of a map. Texas Central (metres) lies a few degrees off its meridian, so that north is well turned."""
BOX, SMALL = Box(25.0, 40.0, 160.0, 150.0), Box(25.0, 200.0, 48.0, 45.0)
LINE_PT = 3.21
SPOT = (0.3, 0.2)
"""A dark square on each map: its middle as shares of width and height from the lower left corner."""


def near(bounds: Bounds) -> Bounds:
    """The ground of the small map on the same page: elsewhere, and at another scale."""
    return Bounds(bounds.west + 90.0, bounds.south + 70.0, bounds.west + 90.0 + 320.0, bounds.south + 70.0 + 300.0)


def draw(page: Page, box: Box, bounds: Bounds, crs: str) -> None:
    """A map with its diagonal and a dark square drawn by ground coordinates."""
    axes = page.map_axes(box, bounds, crs)
    axes.set_xlim(bounds.west, bounds.east)
    axes.set_ylim(bounds.south, bounds.north)
    x, y = bounds.west + SPOT[0] * bounds.width, bounds.south + SPOT[1] * bounds.height
    half = 0.02 * bounds.width
    axes.fill([x - half, x + half, x + half, x - half], [y - half, y - half, y + half, y + half], color="black", lw=0)
    far = (bounds.east - 0.1 * bounds.width, bounds.north - 0.1 * bounds.height)
    axes.plot([x, far[0]], [y, far[1]], color="#cccccc", lw=LINE_PT, solid_capstyle="butt", zorder=0.5)


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Files of three pages: a small map before a large one, no map, the small map alone."""
    made = {}
    for name, (crs, bounds) in CASES.items():
        pages = [Page("letter", number=n, of=3) for n in (1, 2, 3)]
        draw(pages[0], SMALL, near(bounds), crs)
        draw(pages[0], BOX, bounds, crs)
        pages[1].text(30.0, 30.0, "no map here")
        draw(pages[2], SMALL, near(bounds), crs)
        made[name] = tmp_path_factory.mktemp("maps") / "maps.pdf"
        with own_settings():
            write_pdf(pages, made[name], title="Maps", date=dt.date(2026, 11, 21))
    return made


@pytest.fixture(scope="module")
def sheets(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The output of a real run: the tiny ranch in Arkansas North, metres (Lambert, NAD 83)."""
    plan = tiny.build(tmp_path_factory.mktemp("ranch"), tiny.Variant())
    text = plan.read_text(encoding="utf-8").replace("[ranch]\n", '[ranch]\ncrs = "EPSG:26951"\n')
    plan.write_text(text.replace("count = 5", "count = 2"), encoding="utf-8")
    assert main(["scout", str(plan)]) == 0
    return plan.parent / "out"


def boundary(b: Bounds) -> np.ndarray:
    return np.array([(b.west, b.south), (b.west, b.north), (b.east, b.north), (b.east, b.south)])


# GDAL


def gdal_or_skip() -> None:
    if shutil.which("gdalinfo") is None or shutil.which("gdal_translate") is None:
        pytest.skip("gdalinfo and gdal_translate are not on this machine (Debian: gdal-bin)")
    formats = subprocess.run(["gdalinfo", "--formats"], capture_output=True, text=True, check=True).stdout
    if not re.search(r"^\s*PDF -[^(]*\(r", formats, re.MULTILINE):
        pytest.skip("this machine's GDAL was built without a reader for PDF")


@dataclass(frozen=True)
class Told:
    """What GDAL says of a page.

    Attributes:
        crs: None where it finds no place.
        transform: x, y of the page's upper left corner and their change a pixel.
        neatline: The outline of the map, (n, 2) metres.
        per_mm: Pixels a millimetre, across and down; GDAL takes whole pixels, so that the two may differ.
    """

    crs: CRS | None
    transform: list[float]
    neatline: np.ndarray
    per_mm: tuple[float, float]

    def ground(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        """The ground under a place on the paper, mm from its upper left corner."""
        col, row, t = x_mm * self.per_mm[0], y_mm * self.per_mm[1], self.transform
        return t[0] + col * t[1] + row * t[2], t[3] + col * t[4] + row * t[5]


def ask_gdal(path: Path, page: int) -> Told:
    told = json.loads(
        subprocess.run(
            ["gdalinfo", "-json", "--config", "GDAL_PDF_DPI", "300", f"PDF:{page}:{path}"],
            capture_output=True, text=True, check=True,
        ).stdout
    )  # fmt: skip
    wkt = told.get("coordinateSystem", {}).get("wkt", "")
    line = re.findall(r"(-?[\d.]+) (-?[\d.]+)", told.get("metadata", {}).get("", {}).get("NEATLINE", ""))
    paper = PdfReader(path).pages[page - 1].mediabox
    across, down = (
        told["size"][0] / (float(paper.width) / PT_PER_MM),
        told["size"][1] / (float(paper.height) / PT_PER_MM),
    )
    neatline = np.array(line, dtype=float).reshape(-1, 2)
    return Told(CRS.from_wkt(wkt) if wkt else None, told.get("geoTransform", []), neatline, (across, down))


def same_crs(told: CRS, stated: str) -> bool:
    """Whether two systems are one: by code, or by what they make of a place to a tenth of a millimetre."""
    own = CRS(stated)
    if own.to_epsg() is not None:
        return told.to_epsg() == own.to_epsg()
    base = own.geodetic_crs.ellipsoid, told.geodetic_crs.ellipsoid
    if (base[0].semi_major_metre, base[0].inverse_flattening) != (base[1].semi_major_metre, base[1].inverse_flattening):
        return False
    lons, lats = [-100.0, -96.0, -92.0], [30.0, 33.0, 36.0]
    at = [np.array(Transformer.from_crs(c.geodetic_crs, c, always_xy=True).transform(lons, lats)) for c in (own, told)]
    return bool(np.abs(at[0] - at[1]).max() < 1e-4)


def outline_off(told: Told, bounds: Bounds) -> float:
    """The farthest of GDAL's outline from the nearest corner of the ground, and the other way round, metres."""
    gaps = np.hypot(*(told.neatline[:, None, :] - boundary(bounds)[None, :, :]).transpose(2, 0, 1))
    return float(max(gaps.min(axis=1).max(), gaps.min(axis=0).max()))


@pytest.mark.parametrize("name", CASES)
def test_gdal_places_the_largest_map_of_a_page(printed: dict[str, Path], name: str) -> None:
    gdal_or_skip()
    crs, bounds = CASES[name]
    told = ask_gdal(printed[name], 1)
    assert told.crs is not None and same_crs(told.crs, crs)
    assert outline_off(told, bounds) < GDAL_M
    assert math.dist(told.ground(BOX.x, BOX.y), (bounds.west, bounds.north)) < GDAL_M
    assert math.dist(told.ground(BOX.right, BOX.bottom), (bounds.east, bounds.south)) < GDAL_M
    middle = (bounds.west + bounds.width / 2, bounds.south + bounds.height / 2)
    assert math.dist(told.ground(BOX.x + BOX.width / 2, BOX.y + BOX.height / 2), middle) < 0.2, "no bulge in the middle"


@pytest.mark.parametrize("name", CASES)
def test_gdal_places_each_page_by_itself(printed: dict[str, Path], name: str) -> None:
    gdal_or_skip()
    crs, bounds = CASES[name]
    assert ask_gdal(printed[name], 2).crs is None and ask_gdal(printed[name], 2).neatline.size == 0
    told = ask_gdal(printed[name], 3)
    assert told.crs is not None and same_crs(told.crs, crs)
    assert outline_off(told, near(bounds)) < GDAL_M
    assert math.dist(told.ground(SMALL.x, SMALL.y), (near(bounds).west, near(bounds).north)) < GDAL_M


def test_gdal_places_a_map_that_is_given_in_degrees(tmp_path: Path) -> None:
    """A CRS that counts grads from Paris: the file states WGS 84, and GDAL's outline lies on the same ground."""
    bounds, page = Bounds(600_000.0, 2_200_000.0, 601_600.0, 2_201_500.0), Page("letter")
    draw(page, BOX, bounds, "EPSG:27572")
    with own_settings():
        write_pdf([page], tmp_path / "a.pdf", title="Map", date=dt.date(2026, 11, 21))
    gdal_or_skip()
    told = ask_gdal(tmp_path / "a.pdf", 1)
    assert told.crs is not None and told.crs.to_epsg() == 4326
    x, y = Transformer.from_crs("EPSG:4326", "EPSG:27572", always_xy=True).transform(*told.neatline.T)
    assert outline_off(replace(told, neatline=np.column_stack([x, y])), bounds) < GDAL_M


@pytest.mark.parametrize("name", ["utm", "state plane", "no code"])
def test_gdal_finds_what_is_drawn_where_it_was_drawn(printed: dict[str, Path], name: str, tmp_path: Path) -> None:
    """The page as GDAL paints it: the dark square's middle, by GDAL's own georeferencing, within half a pixel."""
    gdal_or_skip()
    bounds = CASES[name][1]
    subprocess.run(
        ["gdal_translate", "-q", "--config", "GDAL_PDF_DPI", "150", f"PDF:1:{printed[name]}", str(tmp_path / "a.tif")],
        check=True,
    )
    with rasterio.open(tmp_path / "a.tif") as file:
        dark = (file.read().max(axis=0) < 60).astype(float)
        rows, cols = np.nonzero(dark)
        transform = file.transform
    large = rows < (SMALL.y - 2.0) / 25.4 * 150.0
    x, y = transform * (float(cols[large].mean()) + 0.5, float(rows[large].mean()) + 0.5)
    goal = (bounds.west + SPOT[0] * bounds.width, bounds.south + SPOT[1] * bounds.height)
    assert large.sum() > 500
    assert math.dist((x, y), goal) < 0.5 * transform.a


def test_gdal_places_the_sheets_of_a_real_run(sheets: Path) -> None:
    gdal_or_skip()
    check_sheets(sheets, [outline_of(sheets / "field_sheets.pdf", n) for n in pages_with_maps(sheets)])


def outline_of(path: Path, page: int) -> tuple[np.ndarray, int | None, float]:
    """Outline in metres, code and width on the paper in mm that GDAL finds on a page."""
    told = ask_gdal(path, page)
    assert told.crs is not None
    metres_per_mm = told.transform[1] * told.per_mm[0]
    return told.neatline, told.crs.to_epsg(), float(np.ptp(told.neatline[:, 0])) / metres_per_mm


def pages_with_maps(out: Path) -> list[int]:
    return [n for n, page in enumerate(plain_pages((out / "field_sheets.pdf").read_bytes()), start=1) if page]


def check_sheets(out: Path, found: list[tuple[np.ndarray, int | None, float]]) -> None:
    """The maps of a run against its `scout.json`: a site in the middle of its map at 1:2,500, all on the overview."""
    told = json.loads((out / "scout.json").read_text(encoding="utf-8"))
    assert told["crs"] == "EPSG:26951" and {code for _, code, _ in found} == {26951}
    (west, south), (east, north) = found[0][0].min(axis=0), found[0][0].max(axis=0)
    assert len(told["sites"]) == 2
    for site in told["sites"]:
        assert west < site["x_m"] < east and south < site["y_m"] < north
        own = [
            (
                math.dist(0.5 * (line.min(axis=0) + line.max(axis=0)), (site["x_m"], site["y_m"])),
                np.ptp(line[:, 0]) / mm,
            )
            for line, _, mm in found
        ]
        assert any(off < GDAL_M and scale == pytest.approx(2.5, abs=0.001) for off, scale in own), "1:2,500"


def test_gdal_places_a_ring_of_stems_with_longitude_and_latitude(tmp_path: Path) -> None:
    gdal_or_skip()
    told = ringed(tmp_path, ("lon", "lat"))
    found = ask_gdal(tmp_path / "out" / "rig_sheet.pdf", 1)
    assert found.crs is not None and found.crs.to_epsg() == 32615
    check_ring(told, found.neatline)


# The same without GDAL


@dataclass(frozen=True)
class View:
    """One viewport as it stands in the file."""

    box: np.ndarray
    unit: np.ndarray
    degrees: np.ndarray
    wkt: str
    code: int | None

    def ground(self, x_pt: float, y_pt: float) -> np.ndarray:
        """The ground under a place on the page, points from its lower left corner, by a plane through the corners."""
        share = (np.array((x_pt, y_pt)) - self.box[0]) / (self.box[1] - self.box[0])
        ones = np.ones((len(self.unit), 1))
        plane, *_ = np.linalg.lstsq(np.hstack([self.unit, ones]), self.corners(), rcond=None)
        return np.array((*share, 1.0)) @ plane

    def corners(self) -> np.ndarray:
        stated = CRS.from_wkt(self.wkt)
        lat, lon = self.degrees.T
        return np.column_stack(Transformer.from_crs(stated.geodetic_crs, stated, always_xy=True).transform(lon, lat))


def plain_pages(whole: bytes) -> list[list[View]]:
    """The viewports of each page, by nothing but the file's text; the first is GDAL's."""
    objects = {int(n): body for n, body in re.findall(rb"(?:^|\n)(\d+) 0 obj\b(.*?)\nendobj", whole, re.DOTALL)}
    (kids,) = re.findall(rb"/Type /Pages\b.*?/Kids \[([^\]]*)\]|/Kids \[([^\]]*)\][^\[]*/Type /Pages", whole, re.DOTALL)
    return [_views(objects, objects[int(n)]) for n in re.findall(rb"(\d+) 0 R", b" ".join(kids))]


def _views(objects: dict[int, bytes], page: bytes) -> list[View]:
    if b"/VP" not in page:
        return []
    columns = [re.findall(key + rb" \[([^\]]*)\]", page) for key in (rb"/BBox", rb"/LPTS", rb"/GPTS")]
    systems = [objects[int(n)] for n in re.findall(rb"/GCS (\d+) 0 R", page)]
    assert len(systems) == len(columns[0]) == page.count(b"/Subtype /GEO") > 0
    found = []
    for box, unit, degrees, system in zip(*columns, systems, strict=True):
        pairs = [np.array([float(v) for v in text.split()]).reshape(-1, 2) for text in (box, unit, degrees)]
        (text,) = re.findall(rb"/WKT \((.*?)\)\s", system, re.DOTALL)
        wkt = re.sub(rb"\\([0-7]{3})", lambda m: bytes([int(m[1], 8)]), text).decode("ascii")
        code = re.findall(rb"/EPSG (\d+)", system)
        found.append(View(*pairs, wkt, int(code[0]) if code else None))
    return found


@pytest.mark.parametrize("name", CASES)
def test_a_plain_parse_gives_the_ground_of_every_map(printed: dict[str, Path], name: str) -> None:
    crs, bounds = CASES[name]
    first, second, third = plain_pages(printed[name].read_bytes())
    assert [len(first), len(second), len(third)] == [2, 0, 1]
    for view, ground in ((first[0], bounds), (first[1], near(bounds)), (third[0], near(bounds))):
        assert np.abs(view.corners() - boundary(ground)).max() < PLAIN_M
        assert same_crs(CRS.from_wkt(view.wkt), crs) or CRS(view.code or 0) == CRS(crs)
        assert view.code == CRS(crs).to_epsg()


@pytest.mark.parametrize("name", CASES)
def test_a_line_on_the_page_runs_where_it_was_drawn(printed: dict[str, Path], name: str) -> None:
    """The ends of the line as the page's content has them, through the viewport, back on the ground."""
    reader = PdfReader(printed[name])
    bounds = CASES[name][1]
    lines = stroked(reader, reader.pages[0], LINE_PT)
    views = plain_pages(printed[name].read_bytes())[0]
    assert len(lines) == len(views) == 2
    for line, view, ground in zip(lines, (views[1], views[0]), (near(bounds), bounds), strict=True):
        start = (ground.west + SPOT[0] * ground.width, ground.south + SPOT[1] * ground.height)
        end = (ground.east - 0.1 * ground.width, ground.north - 0.1 * ground.height)
        paper_m = ground.width / (np.ptp(view.box[:, 0])) * 0.001
        for place, goal in zip(line[[0, -1]] * PT_PER_MM, (start, end), strict=True):
            assert math.dist(view.ground(*place), goal) < PLAIN_M + paper_m, "a thousandth of a point more"


def test_a_plain_parse_places_the_sheets_of_a_real_run(sheets: Path) -> None:
    pages = plain_pages((sheets / "field_sheets.pdf").read_bytes())
    views = [page[0] for page in pages if page]
    check_sheets(sheets, [(v.corners(), v.code, float(np.ptp(v.box[:, 0])) / PT_PER_MM) for v in views])


def ringed(folder: Path, columns: tuple[str, str]) -> dict:
    """A ring of six trees near the tiny ranch, as `boscage rig` tells it."""
    middle = (527_300.0, 4_005_200.0)
    to = Transformer.from_crs("EPSG:32615", "EPSG:4326", always_xy=True)
    with (folder / "stems.csv").open("w", newline="", encoding="utf-8") as file:
        rows = csv.writer(file)
        rows.writerow(["stem", "dbh_cm", *columns])
        for k in range(6):
            x, y = 2.9 * math.cos(k * math.pi / 3), 2.9 * math.sin(k * math.pi / 3)
            at = to.transform(middle[0] + x, middle[1] + y) if columns[0] == "lon" else (x, y)
            rows.writerow([k + 1, 30, *(f"{v:.9f}" for v in at)])
    assert main(["rig", "--stems", str(folder / "stems.csv"), "--perimeter", "60ft"]) == 0
    return json.loads((folder / "out" / "rig.json").read_text(encoding="utf-8"))


def check_ring(told: dict, outline: np.ndarray) -> None:
    """The drawing holds every trunk, and its middle is the ring's to a metre or two."""
    trunks = np.array([(c["stem_x_m"], c["stem_y_m"]) for c in told["contacts"]])
    low, high = outline.min(axis=0), outline.max(axis=0)
    assert (trunks > low).all() and (trunks < high).all()
    assert np.hypot(*(0.5 * (low + high) - trunks.mean(axis=0))) < 2.5
    assert (high - low).max() < 40.0


def test_a_plain_parse_places_a_ring_whose_stems_have_a_place_and_no_other(tmp_path: Path) -> None:
    told = ringed(tmp_path, ("lon", "lat"))
    front = plain_pages((tmp_path / "out" / "rig_sheet.pdf").read_bytes())[0]
    assert len(front) == 1 and front[0].code == 32615
    check_ring(told, front[0].corners())
    ringed(tmp_path, ("x_m", "y_m"))
    assert b"/VP" not in (tmp_path / "out" / "rig_sheet.pdf").read_bytes()
