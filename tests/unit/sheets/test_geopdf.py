"""Each map on a page becomes a viewport that says where it is, and nothing else in the file changes."""

import datetime as dt
import io
import re
from pathlib import Path

import numpy as np
import pytest
from pypdf import PdfReader
from pyproj import CRS, Geod, Transformer
from rig_plans import DATE, made_result

from boscage.sheets import pdf
from boscage.sheets.field_sheets import compose_pages
from boscage.sheets.geopdf import georeference
from boscage.sheets.page import Box, Page
from boscage.sheets.pdf import own_settings, write_pdf
from boscage.sheets.rig_sheet import compose_rig_pages, print_rig_sheets
from boscage.values import Bounds

UTM, TEXAS = "EPSG:32615", "EPSG:32139"
CUSTOM = (
    "+proj=lcc +lat_0=31.1 +lon_0=-99.4 +lat_1=30.2 +lat_2=32.3 +x_0=400000 +y_0=250000 +datum=NAD83 +units=m +type=crs"
)
ALTERNATIVE = "+proj=lcca +lat_0=36 +lon_0=-92 +datum=WGS84 +type=crs"
PARIS = "EPSG:27572"
PLACES = {
    UTM: Bounds(520_000.0, 4_003_000.0, 528_000.0, 4_010_000.0),
    TEXAS: Bounds(830_000.0, 3_120_000.0, 836_000.0, 3_126_000.0),
    CUSTOM: Bounds(401_000.0, 251_000.0, 405_000.0, 256_000.0),
    CRS(CUSTOM).to_wkt(): Bounds(401_000.0, 251_000.0, 405_000.0, 256_000.0),
    ALTERNATIVE: Bounds(-9_000.0, 11_000.0, -5_000.0, 14_750.0),
    "EPSG:6350": Bounds(290_000.0, 1_420_000.0, 291_000.0, 1_421_500.0),
    "EPSG:32615+5703": Bounds(520_000.0, 4_003_000.0, 520_300.0, 4_003_200.0),
}
"""Texas Central: NAD 83 state plane, metres. EPSG:6350: Albers. Custom ones have no code; one of them has no
form in the more common WKT; the last has heights."""
BOX = Box(20.0, 30.0, 160.0, 150.0)
SMALL = Box(20.0, 200.0, 60.0, 40.0)
TOP_PT = {"letter": 792.0, "a4": 297.0 / 25.4 * 72.0}
DAY = dt.date(2026, 11, 21)


def page_with(*maps: tuple[Box, Bounds, str], paper: str = "letter", number: int = 1, of: int = 1) -> Page:
    page = Page(paper, number=number, of=of)
    page.text(20.0, 20.0, "A page of the Dunnock Hollow Ranch")
    for box, bounds, crs in maps:
        axes = page.map_axes(box, bounds, crs)
        axes.set_xlim(bounds.west, bounds.east)
        axes.set_ylim(bounds.south, bounds.north)
        axes.plot([bounds.west, bounds.east], [bounds.south, bounds.north])
    return page


def written(pages: list[Page], target: Path) -> PdfReader:
    with own_settings():
        write_pdf(pages, target, title="Title", date=DAY)
    return PdfReader(target)


def views(reader: PdfReader, index: int = 0) -> list:
    return [v.get_object() for v in reader.pages[index].get("/VP", [])]


def numbers(entry) -> np.ndarray:
    return np.array([float(v) for v in entry]).reshape(-1, 2)


def ground(view) -> np.ndarray:
    """The corners in the CRS that the file itself states, (4, 2) metres."""
    stated = CRS.from_wkt(str(view["/Measure"]["/GCS"]["/WKT"]))
    lat, lon = numbers(view["/Measure"]["/GPTS"]).T
    return np.column_stack(Transformer.from_crs(stated.geodetic_crs, stated, always_xy=True).transform(lon, lat))


def corners(b: Bounds) -> np.ndarray:
    return np.array([(b.west, b.south), (b.west, b.north), (b.east, b.north), (b.east, b.south)])


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_the_viewport_is_the_map_on_the_paper(tmp_path, paper):
    (view,) = views(written([page_with((BOX, PLACES[UTM], UTM), paper=paper)], tmp_path / "a.pdf"))
    left, bottom, right, top = (float(v) for v in view["/BBox"])
    per_mm = 72.0 / 25.4
    assert (left, right) == pytest.approx((20.0 * per_mm, 180.0 * per_mm), abs=0.01)
    assert (TOP_PT[paper] - top, TOP_PT[paper] - bottom) == pytest.approx((30.0 * per_mm, 180.0 * per_mm), abs=0.01)


@pytest.mark.parametrize("crs", PLACES, ids=lambda c: c[:20])
def test_the_corners_are_those_of_the_ground(tmp_path, crs):
    (view,) = views(written([page_with((BOX, PLACES[crs], crs))], tmp_path / "a.pdf"))
    assert view["/Measure"]["/GCS"]["/Type"] == "/PROJCS"
    assert np.abs(ground(view) - corners(PLACES[crs])).max() < 0.05
    assert np.abs(numbers(view["/Measure"]["/LPTS"]) - [(0, 0), (0, 1), (1, 1), (1, 0)]).max() == 0.0
    assert np.abs(numbers(view["/Measure"]["/Bounds"]) - [(0, 0), (0, 1), (1, 1), (1, 0)]).max() == 0.0
    own = CRS(crs).sub_crs_list[0] if CRS(crs).is_compound else CRS(crs)
    stated = CRS.from_wkt(str(view["/Measure"]["/GCS"]["/WKT"]))
    there = Transformer.from_crs(own, stated, always_xy=True).transform(*corners(PLACES[crs]).T)
    assert np.abs(np.column_stack(there) - corners(PLACES[crs])).max() < 0.05
    assert view["/Measure"]["/GCS"].get("/EPSG") == own.to_epsg()


def test_a_system_is_stated_in_a_form_that_gives_it_back(tmp_path):
    """The more common form, Esri's, has no word for an alternative Lambert cone: there GDAL's form is taken."""
    pages = [page_with((BOX, PLACES[CUSTOM], CUSTOM), number=1), page_with((BOX, PLACES[ALTERNATIVE], ALTERNATIVE))]
    reader = written(pages, tmp_path / "a.pdf")
    esri, other = (str(views(reader, k)[0]["/Measure"]["/GCS"]["/WKT"]) for k in (0, 1))
    assert 'GEOGCS["GCS_' in esri and 'PROJECTION["Lambert_Conformal_Conic"]' in esri
    assert 'EXTENSION["PROJ4","+proj=lcca' in other


def test_corners_are_written_to_a_hundredth_of_a_millimetre(tmp_path):
    written([page_with((BOX, PLACES[TEXAS], TEXAS))], tmp_path / "a.pdf")
    (listed,) = re.findall(rb"/GPTS \[([^\]]*)\]", (tmp_path / "a.pdf").read_bytes())
    assert all(re.fullmatch(r"-?\d+\.\d{10}", v) for v in listed.decode().split())


def test_the_structure_is_that_of_the_standard(tmp_path):
    reader = written([page_with((BOX, PLACES[UTM], UTM))], tmp_path / "a.pdf")
    (view,) = views(reader)
    measure, system = view["/Measure"], view["/Measure"]["/GCS"]
    assert (view["/Type"], measure["/Type"], measure["/Subtype"]) == ("/Viewport", "/Measure", "/GEO")
    assert (system["/EPSG"], str(system["/WKT"])[:8]) == (32615, 'PROJCS["')
    assert str(system["/WKT"]).isascii()
    adobe = reader.trailer["/Root"]["/Extensions"]["/ADBE"]
    assert (adobe["/BaseVersion"], adobe["/ExtensionLevel"]) == ("/1.7", 3)
    assert reader.pdf_header == "%PDF-1.7"
    north, south = numbers(measure["/GPTS"])[1], numbers(measure["/GPTS"])[0]
    assert 36.0 < south[0] < north[0] < 37.0 and -93.0 < south[1] < -92.0


def test_several_maps_a_page_stand_by_size_and_pages_keep_their_own(tmp_path):
    near = Bounds(522_000.0, 4_004_000.0, 522_600.0, 4_004_400.0)
    pages = [
        page_with((SMALL, near, UTM), (BOX, PLACES[UTM], UTM), number=1, of=4),
        page_with(number=2, of=4),
        page_with((BOX, PLACES[TEXAS], TEXAS), number=3, of=4),
        page_with((SMALL, PLACES[UTM], UTM), number=4, of=4),
    ]
    reader = written(pages, tmp_path / "a.pdf")
    assert [len(views(reader, k)) for k in range(4)] == [2, 0, 1, 1]
    assert "/VP" not in reader.pages[1]
    first, second = views(reader)
    assert [str(v["/Name"]) for v in (first, second)] == ["Map 1", "Map 2"]
    assert np.abs(ground(first) - corners(PLACES[UTM])).max() < 0.05
    assert np.abs(ground(second) - corners(near)).max() < 0.05
    assert np.abs(ground(views(reader, 2)[0]) - corners(PLACES[TEXAS])).max() < 0.05
    same = {v["/Measure"].raw_get("/GCS").idnum for k in (0, 3) for v in views(reader, k)}
    assert len(same) == 1, "a CRS is stored once"


def unreferenced(pages: list[Page], target: Path, monkeypatch) -> bytes:
    with monkeypatch.context() as patch:
        patch.setattr(pdf, "georeference", lambda whole, maps: whole)
        written(pages, target)
    return target.read_bytes()


def test_a_file_without_maps_is_left_as_it_is(tmp_path, monkeypatch):
    plain = unreferenced([page_with()], tmp_path / "plain.pdf", monkeypatch)
    written([page_with()], tmp_path / "a.pdf")
    assert (tmp_path / "a.pdf").read_bytes() == plain
    assert b"/VP" not in plain and plain.startswith(b"%PDF-1.4")


def test_nothing_drawn_and_no_property_changes(tmp_path, monkeypatch):
    make = lambda: [page_with((BOX, PLACES[UTM], UTM), number=1, of=2), page_with(number=2, of=2)]  # noqa: E731
    before = PdfReader(io.BytesIO(unreferenced(make(), tmp_path / "plain.pdf", monkeypatch)))
    after = written(make(), tmp_path / "a.pdf")
    assert dict(after.metadata) == dict(before.metadata)
    assert after.metadata["/Title"] == "Title" and after.metadata["/Creator"] == "Boscage"
    for old, new in zip(before.pages, after.pages, strict=True):
        assert new.get_contents().get_data() == old.get_contents().get_data()
        assert new.mediabox == old.mediabox
        fonts = [
            sorted(str(f.get_object()["/BaseFont"]) for f in p["/Resources"]["/Font"].values()) for p in (old, new)
        ]
        assert fonts[0] == fonts[1] != []


def test_same_maps_same_bytes(tmp_path):
    made = set()
    for k in range(3):
        written([page_with((BOX, PLACES[UTM], UTM), (SMALL, PLACES[TEXAS], TEXAS))], tmp_path / f"{k}.pdf")
        made.add((tmp_path / f"{k}.pdf").read_bytes())
    assert len(made) == 1


def test_degrees_that_are_not_from_greenwich_are_given_as_wgs84(tmp_path):
    """Grads from Paris under a projected CRS would be taken for degrees from Greenwich."""
    bounds = Bounds(600_000.0, 2_200_000.0, 602_000.0, 2_202_000.0)
    (view,) = views(written([page_with((BOX, bounds, PARIS))], tmp_path / "a.pdf"))
    system = view["/Measure"]["/GCS"]
    assert (system["/Type"], system["/EPSG"]) == ("/GEOGCS", 4326)
    lat, lon = numbers(view["/Measure"]["/GPTS"]).T
    assert 46.0 < lat.min() < lat.max() < 48.0 and 2.0 < lon.min() < lon.max() < 3.0
    at = np.column_stack(Transformer.from_crs("EPSG:4326", PARIS, always_xy=True).transform(lon, lat))
    assert np.abs(at - corners(bounds)).max() < 0.05


def test_a_map_off_the_earth_gets_no_viewport(tmp_path):
    off = "+proj=ortho +lat_0=36 +lon_0=-92 +datum=WGS84 +type=crs"
    far, near = Bounds(-1e7, -1e7, 1e7, 1e7), Bounds(-1e3, -1e3, 1e3, 1e3)
    reader = written([page_with((BOX, far, off), (SMALL, near, off))], tmp_path / "a.pdf")
    (view,) = views(reader)
    assert np.abs(ground(view) - corners(near)).max() < 0.05


def test_lists_that_do_not_fit_the_pages_are_refused(tmp_path):
    page = page_with((BOX, PLACES[UTM], UTM))
    written([page], tmp_path / "a.pdf")
    whole = (tmp_path / "a.pdf").read_bytes()
    with pytest.raises(ValueError, match=r"shorter|longer"):
        georeference(whole, [page.maps, page.maps])


def test_an_unknown_crs_is_refused_and_leaves_no_file(tmp_path):
    with pytest.raises(ValueError, match="the CRS EPSG:999999 of a map is unknown"):
        written([page_with((BOX, PLACES[UTM], "EPSG:999999"))], tmp_path / "a.pdf")
    assert list(tmp_path.iterdir()) == []


def test_the_middle_is_where_it_should_be_even_on_a_wide_map(tmp_path):
    """The corners span a rectangle in the CRS itself; in degrees alone the middle of 60 km is metres off."""
    wide = Bounds(500_000.0, 3_980_000.0, 560_000.0, 4_040_000.0)
    (view,) = views(written([page_with((BOX, wide, UTM))], tmp_path / "a.pdf"))
    assert np.abs(ground(view).mean(axis=0) - (530_000.0, 4_010_000.0)).max() < 0.05
    lat, lon = numbers(view["/Measure"]["/GPTS"]).mean(axis=0)
    true = Transformer.from_crs(UTM, "EPSG:4326", always_xy=True).transform(530_000.0, 4_010_000.0)
    assert Geod(ellps="WGS84").inv(lon, lat, *true)[2] > 5.0


def on_ground(page: Page) -> set[tuple[float, ...]]:
    """Axes that count in a CRS, by place on the page in mm and limits; drawings and diagrams start near 0."""
    found = set()
    for axes in page.figure.axes:
        (west, east), (south, north) = axes.get_xlim(), axes.get_ylim()
        if min(abs(west), abs(east)) < 1e4 or min(abs(south), abs(north)) < 1e4:
            continue
        at = axes.get_position()
        place = (
            at.x0 * page.width_mm,
            (1 - at.y1) * page.height_mm,
            at.width * page.width_mm,
            at.height * page.height_mm,
        )
        found.add(tuple(round(float(v), 3) for v in (*place, west, south, east, north)))
    return found


def remembered(page: Page) -> set[tuple[float, ...]]:
    return {
        tuple(round(v, 3) for v in (m.box.x, m.box.y, m.box.width, m.box.height,
                                    m.bounds.west, m.bounds.south, m.bounds.east, m.bounds.north))
        for m in page.maps
    }  # fmt: skip


def test_every_map_of_the_field_sheets_is_remembered_as_it_is_drawn(make):
    made, kinds = make(sites=4, field="full", ground="full", found="full"), {}
    with own_settings():
        for sheet, page in compose_pages(made.result, made.overview, made.closeups):
            assert remembered(page) == on_ground(page), sheet.kind
            assert {m.crs for m in page.maps} <= {UTM}
            for m in page.maps:
                across, down = m.bounds.width / m.box.width, m.bounds.height / m.box.height
                assert across == pytest.approx(down, rel=1e-9), "one scale both ways"
            kinds.setdefault(sheet.kind, []).append(len(page.maps))
    assert kinds["overview"] == [1] and kinds["front"] == kinds["back"] == [1] * 4 and kinds["way"] == [2] * 4
    assert sum(kinds["ground"]) == sum(kinds["evidence"]) == 2, "resistance and posts; use and sets together"
    assert sum(sum(v) for k, v in kinds.items() if k in ("rules", "notes")) == 0


def test_a_rig_drawing_has_a_place_only_where_its_stems_have(tmp_path):
    with own_settings():
        known = [p for _, p in compose_rig_pages([made_result(crs=UTM)], DATE)]
        own = [p for _, p in compose_rig_pages([made_result()], DATE)]
    assert [len(p.maps) for p in known][:2] == [1, 0]
    assert [len(p.maps) for p in own] == [0] * len(own)
    drawn, placed = known[0].figure.axes[0], known[0].maps[0]
    assert drawn.get_xlim() == (placed.bounds.west, placed.bounds.east)
    assert drawn.get_ylim() == (placed.bounds.south, placed.bounds.north)
    at = drawn.get_position()
    assert at.x0 * known[0].width_mm == pytest.approx(placed.box.x)
    assert (1 - at.y1) * known[0].height_mm == pytest.approx(placed.box.y)
    print_rig_sheets([made_result()], tmp_path / "own.pdf", date=DATE)
    assert b"/VP" not in (tmp_path / "own.pdf").read_bytes()
