"""The written sheet on the ground: everything that must be said is there, on every paper and in both units."""

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.text import Text
from paper import outside, overlaps, strays, text_boxes
from pypdf import PdfReader

from boscage.sheets.field_sheets import plan_sheets
from boscage.sheets.groundpage import plan_ground
from boscage.sheets.groundwords import class_limits
from boscage.sheets.page import Page
from boscage.sheets.pdf import own_settings, write_pdf
from boscage.sheets.typeset import ELLIPSIS
from boscage.soil.classes import EXCAVATION, RESISTANCE_MPA
from boscage.values import Printer

CASES = {
    "plain": {"field": "full"}, "metric": {"field": "full", "units": "metric"},
    "us_a4": {"field": "full", "paper": "a4"}, "metric_letter": {"field": "full", "units": "metric", "paper": "letter"},
    "no_readings": {"field": "no readings"}, "unknown": {"field": "unknown", "units": "metric"},
    "many": {"field": "many", "sites": 14, "close": True}, "wide": {"field": "full", "wide": True},
    "wide_metric": {"field": "no readings", "wide": True, "units": "metric"}, "long": {"field": "full", "long": True},
    "bare": {"field": "full", "bare": True, "missing": ("tracks", "dwellings", "water", "power_lines")},
    "no_site": {"field": "full", "sites": 0},
}  # fmt: skip


def ground_pages(made):
    sheets = plan_ground(made.result, made.overview)
    pages = []
    with own_settings():
        for number, sheet in enumerate(sheets, start=3):
            page = Page(made.result.plan.paper, number=number, of=2 + len(sheets))
            sheet.draw(page)
            pages.append(page)
    return pages


def texts_of(made, target):
    pages = ground_pages(made)
    with own_settings():
        write_pdf(pages, target, title="t", date=made.result.plan.date)
    return [re.sub(r"\s+", " ", p.extract_text()) for p in PdfReader(target).pages]


def with_field(made, **own):
    return replace(made, result=replace(made.result, ground=replace(made.result.ground, **own)))


@pytest.fixture(scope="module", params=list(CASES))
def case(request, make):
    made = make(**{"sites": 2, **CASES[request.param]})
    return request.param, made, ground_pages(made)


@pytest.fixture(scope="module")
def plain(make, tmp_path_factory):
    made = make(sites=3, field="full")
    return made, texts_of(made, tmp_path_factory.mktemp("ground") / "a.pdf")


def test_no_text_overlaps_or_leaves_its_place(case):
    name, _, pages = case
    with own_settings():
        for page in pages:
            texts, boxes = text_boxes(page)
            assert len(texts) > 20
            assert overlaps(texts, boxes) == [], name
            assert outside(page, texts, boxes) == [], name
            assert strays(page) == [], name


def test_maps_legends_and_foot_stay_apart(case):
    """Maps and swatches never share ground, and all stand above the foot."""
    name, _, pages = case
    for page in pages:
        boxes = np.array([a.get_position().extents for a in page.figure.axes]).reshape(-1, 4)
        boxes = boxes * np.tile([page.width_mm, page.height_mm], 2)
        assert (boxes[:, 1] > 16.0).all(), name
        for k in range(len(boxes)):
            rest = boxes[k + 1 :]
            across = np.minimum(boxes[k, 2], rest[:, 2]) - np.maximum(boxes[k, 0], rest[:, 0])
            along = np.minimum(boxes[k, 3], rest[:, 3]) - np.maximum(boxes[k, 1], rest[:, 1])
            assert not ((across > 0.1) & (along > 0.1)).any(), name


def test_no_text_stands_on_a_map_from_outside(case):
    """Words of legends, headings and tables keep off the maps; only the maps' own names and figures lie there."""
    name, _, pages = case
    with own_settings():
        texts, boxes = text_boxes(pages[0])
    own = {t.get_text() for a in pages[0].figure.axes for t in a.texts}
    frames = [a.get_position().extents for a in pages[0].figure.axes if len(a.patches) > 3]
    assert len(frames) == 2
    for left, low, right, high in np.array(frames) * np.tile([pages[0].width_mm, pages[0].height_mm], 2):
        over = (boxes[:, 0] < right - 0.1) & (boxes[:, 2] > left + 0.1)
        over &= (boxes[:, 1] < high - 0.1) & (boxes[:, 3] > low + 0.1)
        assert {texts[int(k)] for k in np.flatnonzero(over)} <= own, name


def test_no_words_of_ours_are_cut(case):
    name, _, pages = case
    for page in pages:
        cut = [t.get_text() for t in page.figure.findobj(Text) if ELLIPSIS in t.get_text()]
        if name == "long":
            cut = [t for t in cut if "Dunnock Hollow" not in t and "homestead tracts" not in t and "ridge top" not in t]
        assert cut == [], name


def test_the_maps_are_large_enough_to_use(case):
    """At least 110 mm along the longer side for the upper, 70 for the lower."""
    name, _, pages = case
    sides = []
    for axes in pages[0].figure.axes:
        if len(axes.patches) > 3:
            box = axes.get_position()
            sides.append(max(box.width * pages[0].width_mm, box.height * pages[0].height_mm))
    assert sides[0] >= 110.0, name
    assert sides[1] >= 70.0, name


def test_the_sheet_says_what_it_must(plain):
    made, (first, second) = plain
    for words in (
        "The ground", "Dunnock Hollow Ranch, plan of 2026-11-21", "page 3 of 4", "36 readings at 12 places",
        "the probe stopped at 3 of them", "NOT KNOWN on", "NOT the same as soft ground", "Test a stake before anything",
        "penetration resistance from the surface to the depth of a post, moist ground", "Whether posts can be driven",
        "1:50,000 (1 in = 0.79 mi)", "EPSG:32615", "GN grid north is up", "true north 0.2° west", "declination ____",
        "yes", "doubtful", "not known", "probe: value read", "probe stopped: value read", "permission refused",
        "ranked site", "creek", "pond", "road", "deeper", "Classes of the Soil Survey Manual",
        "On both maps; probes on the upper",
    ):  # fmt: skip
        assert words in first, words
    for words in (
        "Map units: 5", "Dunnock silt loam, 3 to 8 percent slopes", "How it was made", "moist ground",
        made.result.ground.rule[1:], made.result.ground.left_out, made.result.ground.assumption,
        "The project's own assumption: Assumed", *made.result.ground.notes, "Test a stake before anything hangs on it",
        "Ask for buried lines to be marked before driving or digging", "811", "local law, wells and water decide",
        "USDA Handbook 18", "page 4 of 4",
    ):  # fmt: skip
        assert words in second, words


def test_areas_and_shares_are_printed(plain):
    """One acre is 0.40468564 ha (NIST SP 811, appendix B.8)."""
    made, (first, _) = plain
    field, cell = made.result.ground, made.result.grid.cell_ha
    for index in (0, 1, 2):
        hectares = (field.posts == index).sum() * cell
        acres = f"{round(hectares / 0.40468564, -1):,.0f} ac"
        assert f"{acres}, {100 * hectares / made.result.ranch_ha:.0f} % of the ranch" in first


@pytest.mark.parametrize("units", ["us", "metric"])
def test_legend_has_each_class_of_the_manual_with_its_limits(make, tmp_path, units):
    """Bounds 0.01, 0.1, 1, 2, 4, 8 MPa (Soil Survey Manual, chapter 3); 1 MPa is 145.04 psi (NIST SP 811)."""
    first, _ = texts_of(make(sites=1, field="full", units=units), tmp_path / "a.pdf")
    limits = {
        "us": ("under 1.45 psi", "1.45 to 14.5 psi", "14.5 to 145 psi", "145 to 290 psi", "290 to 580 psi",
               "580 to 1,160 psi", "1,160 psi and more"),
        "metric": ("under 0.01 MPa", "0.01 to 0.1 MPa", "0.1 to 1 MPa", "1 to 2 MPa", "2 to 4 MPa", "4 to 8 MPa",
                   "8 MPa and more"),
    }[units]  # fmt: skip
    assert tuple(class_limits(Printer(units)).values()) == limits
    for (_, name), words in zip(RESISTANCE_MPA, limits, strict=True):
        assert f"{name} {words}" in first
    for words in EXCAVATION.values():
        assert words in first


def test_table_gives_class_range_and_rock_by_the_manuals_word(plain):
    """exp(ln m -+ error): 1.2 MPa and 0.5 is 0.73 to 1.98 MPa, 106 to 287 psi; 46 % is very gravelly (manual)."""
    text = plain[1][1]
    low, high = 1.2 * math.exp(-0.5) * 145.03773773, 1.2 * math.exp(0.5) * 145.03773773
    assert f"moderate: 170 psi (likely {round(low, -1):.0f} to {round(high, -1):.0f} psi)" in text
    for words in (
        "DuB", "2,220 ac", "46 % (very gravelly)", "63 % (extremely gravelly)", "29 % (gravelly)", "60 in", "frequent",
        "80 %", "very high: 700 psi", "not stated", "RkF", "doubtful",
    ):  # fmt: skip
        assert words in text, words


def test_nothing_known_is_said_as_such(make, tmp_path):
    made = make(sites=1, field="unknown")
    first, second = texts_of(made, tmp_path / "a.pdf")
    assert "NO READINGS: this is the soil map alone." in first
    assert "NOT KNOWN on 100 % of the ranch: that is NOT the same as soft ground." in first
    assert "100 % of the ranch" in first
    for verdict in ("yes", "doubtful", "no"):
        assert f"{verdict} 0.0 ac, 0 % of the ranch" in first
    assert second.count("not known") >= 2 * 5
    assert "nan" not in (first + second).lower()


def test_no_readings_are_said_twice(make, tmp_path):
    made = make(sites=1, field="no readings")
    first, second = texts_of(made, tmp_path / "a.pdf")
    assert "NO READINGS: this is the soil map alone." in first
    assert "Nothing here was measured on this ranch." in second
    assert "kriging" not in second
    assert "probe" not in first


def test_no_soil_map_but_readings(make, tmp_path):
    made = with_field(make(sites=1, field="full"), rows=(), left_out="", rule="")
    _, second = texts_of(made, tmp_path / "a.pdf")
    assert "NO SOIL MAP" in second
    assert "how they count is not known" in second.lower()
    assert "could not be worked out: not known" in second


def test_sixty_units_flow_on_and_none_is_lost(make, tmp_path):
    made = make(sites=1, field="many")
    pages = texts_of(made, tmp_path / "a.pdf")
    assert len(pages) > 2
    whole = " ".join(pages)
    assert "Map units: 60" in whole
    for row in made.result.ground.rows:
        assert len(re.findall(rf"\b{row.symbol}\b", whole)) >= 1, row.symbol
    for page in pages[1:-1]:
        assert "hard layer rock at most flooding" in page


def test_a_ranch_without_ground_has_no_such_sheet(make):
    made = make(sites=2)
    assert plan_ground(made.result, made.overview) == []
    kinds = [s.kind for s in plan_sheets(made.result, made.overview, made.closeups)]
    assert "ground" not in kinds


@pytest.mark.parametrize("wishes", [{"field": "full"}, {"field": "many"}, {"field": "full", "ground": "long"}])
def test_the_sheet_stands_behind_the_rules_and_fronts_stay_odd(make, wishes):
    made = make(sites=3, **wishes)
    kinds = [s.kind for s in plan_sheets(made.result, made.overview, made.closeups)]
    first = kinds.index("ground")
    assert set(kinds[1:first]) == {"rules"}
    assert set(kinds[first : kinds.index("front")]) <= {"ground", "notes"}
    fronts = [k for k, kind in enumerate(kinds) if kind == "front"]
    assert len(fronts) == 3
    assert all(k % 2 == 0 for k in fronts)


@pytest.mark.parametrize("field", ["full", "no readings", "unknown"])
def test_the_forbidden_words_are_no_findings(make, tmp_path, field):
    for page in texts_of(make(sites=1, field=field, units="metric"), tmp_path / "a.pdf"):
        assert re.search(r"\b(safe|clear)\b", page, re.IGNORECASE) is None
        assert re.search(r"\d (in|psi|ac|lb)\b", page.replace("up to 580 psi, cannot from 1,200 psi", "")) is None


def test_a_note_of_the_ground_is_printed_once(make, tmp_path):
    made = make(sites=1, field="full")
    note = made.result.ground.notes[0]
    made = replace(made, result=replace(made.result, notes=(*made.result.notes, note)))
    sheets = plan_sheets(made.result, made.overview, made.closeups)
    pages = []
    with own_settings():
        for number, sheet in enumerate(sheets, start=1):
            page = Page(made.result.plan.paper, number=number, of=len(sheets))
            if sheet.kind in ("rules", "ground"):
                sheet.draw(page)
                pages.append(page)
        write_pdf(pages, tmp_path / "a.pdf", title="t", date=made.result.plan.date)
    whole = re.sub(r"\s+", " ", " ".join(p.extract_text() for p in PdfReader(tmp_path / "a.pdf").pages))
    assert whole.count(note) == 1
    assert "Soils are missing" in whole
