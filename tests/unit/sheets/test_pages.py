"""The written file: everything that must be said is there, and the file is what a printer needs."""

import datetime as dt
import re
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from boscage.sheets.field_sheets import plan_sheets, print_field_sheets

LONG = (
    "Żabia Łąka and the Upper Dunnock Hollow timber, pasture, creek bottom, ridge top, glade and old homestead "
    "tracts that are held together under one name which is far too long for any sheet of paper ever"
).ljust(200, ".")
BARE = {
    "sites": 1, "bare": True, "note": None,
    "missing": ("tracks", "water", "dwellings", "power_lines", "no_go", "sign", "soils", "terrain"),
}  # fmt: skip


def written(made: Any, target: Path) -> PdfReader:
    print_field_sheets(made.result, made.overview, made.closeups, target)
    return PdfReader(target)


def flat(text: str) -> str:
    return re.sub(r"\s+", " ", text)


def word_pages(reader: PdfReader) -> list[str]:
    return [flat(page.extract_text()) for page in reader.pages]


@pytest.fixture(scope="module")
def plain(make, tmp_path_factory):
    made = make(sites=3)
    target = tmp_path_factory.mktemp("plain") / "field_sheets.pdf"
    return made, target, written(made, target)


def test_overview_says_what_it_must(plain):
    reader = plain[2]
    first, second = word_pages(reader)[:2]
    for words in (
        "Dunnock Hollow Ranch", "2026-11-21", "page 1 of 13", "Ranked sites: 3", "DH-01", "Creek bottom", "EPSG:32615",
        "true north 0.2° west", "declination ____", "NOT MAPPED: power lines",
    ):  # fmt: skip
        assert words in first, words
    assert re.search(r"1:\d\d,\d00 \(1 in = 0\.\d\d mi\)", first)
    for words in (
        "NEAR A POWER LINE: STOP NOT APPLIED", "That is NOT the same as none", "CHECK AGAIN", "2025-01-15",
        "common practice, no source", "251 ac", "POWER LINES: not given. NOT the same as none", "2026-08-02",
        "doubtful", "Soils are missing", "canopy cover 23 %",
    ):  # fmt: skip
        assert words in second, words


def test_front_says_what_it_must(plain):
    made, _, reader = plain
    front = word_pages(reader)[2]
    site = made.result.sites[0]
    for words in (
        "DH-01", "rank", "of 3", "score", "84", "of 100", "Creek bottom", "Dunnock Hollow Land", "page 3 of 13",
        flat(site.place.ddm), flat(site.place.decimal), "15S WA 21234 08152", "521 145 m E 4 008 210 m N", "WGS 84",
        "1,025 ft", "middle of the ring", "1:2,500 (1 in = 208 ft)", "no data, weight 1", "92 % of the weight",
        "NOT MAPPED: look", "0.6 mi SSW", "house 1", "Why here", "trees hold the ring", "Flags",
        "Printed for 2026-11-21", "Invented data for examples",
    ):  # fmt: skip
        assert words in front, words
    for reason in site.why:
        assert reason in front


def test_back_has_its_blanks_and_cautions(plain):
    back = word_pages(plain[2])[3]
    for words in (
        "Date", "Time (24 h)", "Observer", "tree no.", "species", "dbh", "sound: y / n", "bearing (magnetic)",
        "distance", "Stakes tested", "held: y / n", "Fresh sign", "age: A B C D", "Photo numbers", "Phone signal",
        "Radio", "Power lines looked for", "Permission checked", "Declination used", "local law", "dead tops",
        "Disease", "licensed practice", "1:24,000",
    ):  # fmt: skip
        assert words in back, words


def test_no_finding_is_called_by_the_two_words_and_no_score_has_decimals(plain):
    for page in word_pages(plain[2]):
        assert re.search(r"\b(safe|clear)\b", page, re.IGNORECASE) is None
        assert re.search(r"\d\.\d+ of 100", page) is None
    assert all(str(s.exact_score) not in word_pages(plain[2])[0] for s in plain[0].result.sites)


def test_each_front_is_on_an_odd_page(plain, make):
    for wishes in ({"sites": 3}, {"sites": 3, "whys": 40}):
        made = make(**wishes)
        kinds = [sheet.kind for sheet in plan_sheets(made.result, made.overview, made.closeups)]
        fronts = [k for k, kind in enumerate(kinds) if kind == "front"]
        assert len(fronts) == 3
        assert all(k % 2 == 0 for k in fronts)
        assert all(kinds[k + 1 : k + 3] == ["back", "way"] for k in fronts)


@pytest.mark.parametrize(
    ("wishes", "size_mm"),
    [({"units": "us"}, (215.9, 279.4)), ({"units": "metric"}, (210.0, 297.0)),
     ({"units": "us", "paper": "a4"}, (210.0, 297.0))],
)  # fmt: skip
def test_paper_size(make, tmp_path, wishes, size_mm):
    """Letter is 8.5 by 11 in (ANSI/ASME Y14.1 size A); A4 is 210 by 297 mm (ISO 216)."""
    reader = written(make(sites=0, reason="Nothing is left.", **wishes), tmp_path / "a.pdf")
    for page in reader.pages:
        box = page.mediabox
        assert (float(box.width) / 72 * 25.4, float(box.height) / 72 * 25.4) == pytest.approx(size_mm, abs=0.02)


def test_no_site_gives_the_overview_with_the_reason(make, tmp_path):
    reason = "Hard stops rule out every cell of the land with permission."
    reader = written(make(sites=0, reason=reason), tmp_path / "a.pdf")
    first = word_pages(reader)[0]
    assert "No site can be ranked" in first
    assert reason in first
    assert len(reader.pages) == 2


def test_long_names_are_printed_whole(make, tmp_path):
    reader = written(make(sites=1, long=True, whys=40), tmp_path / "a.pdf")
    pages = word_pages(reader)
    assert pages[0].count(LONG) == 3  # the title, the parcel, the note
    fronts = [p for p in pages if "Which point: middle of the ring" in p]
    assert fronts[0].count(LONG) >= 3
    whole = " ".join(pages)
    assert whole.count("so the group can come up under cover all the way.") == 10
    further = next(k for k, p in enumerate(pages) if "DH-01, continued" in p)
    assert "Why here" in pages[further]
    assert f"more on page {further + 1}" in fronts[0]


def test_missing_layers_are_said(make, tmp_path):
    reader = written(make(**BARE), tmp_path / "a.pdf")
    first, second, front = word_pages(reader)[:3]
    for title in ("ROADS AND TRACKS", "WATER", "DWELLINGS", "POWER LINES", "NO-GO AREAS", "SIGN", "SOILS", "TERRAIN"):
        assert f"{title}: not given. NOT the same as none." in second
    assert "NOT MAPPED: terrain, roads and tracks, dwellings" in first
    assert "no terrain and no canopy layer" in front


def test_fonts_are_embedded_truetype(plain):
    fonts = {}
    for page in plain[2].pages:
        for font in page["/Resources"]["/Font"].values():
            own = font.get_object()
            fonts[own["/BaseFont"]] = own
    assert fonts
    for name, font in fonts.items():
        inner = font["/DescendantFonts"][0].get_object() if "/DescendantFonts" in font else font
        assert inner["/Subtype"] in ("/CIDFontType2", "/TrueType"), name
        assert "/FontFile2" in inner["/FontDescriptor"].get_object(), name
        assert "DejaVuSans" in name


def test_images_are_indexed_and_pages_small(plain):
    _, target, reader = plain
    total = 0
    for page in reader.pages:
        used = set(re.findall(rb"/(\w+) Do", page.get_contents().get_data()))
        shared = {k[1:].encode(): v.get_object() for k, v in page["/Resources"].get("/XObject", {}).items()}
        images = [shared[k] for k in used if shared[k]["/Subtype"] == "/Image"]
        assert all(x["/ColorSpace"][0] == "/Indexed" for x in images)
        content = page["/Contents"].get_object()
        assert len(content._data) + sum(len(x._data) for x in images) < 400_000
        total += len(images)
    assert total == 10  # the overview; a front, a way in and its sight lines for each of three sites
    assert target.stat().st_size / len(reader.pages) < 400_000


def test_dates_in_the_file_come_from_the_plan(plain):
    info = plain[2].metadata
    assert info.creation_date.date() == info.modification_date.date() == dt.date(2026, 11, 21)
    assert info.title == "Field sheets, Dunnock Hollow Ranch"


def test_a_site_without_closeup_is_refused_and_nothing_is_written(make, tmp_path):
    made = make(sites=2)
    with pytest.raises(ValueError, match="closeups lacks DH-02"):
        print_field_sheets(made.result, made.overview, {"DH-01": made.closeups["DH-01"]}, tmp_path / "a.pdf")
    assert list(tmp_path.iterdir()) == []


def test_progress_counts_the_pages(make, tmp_path):
    made, seen = make(sites=1), []
    print_field_sheets(
        made.result, made.overview, made.closeups, tmp_path / "a.pdf", progress=lambda a, b: seen.append((a, b))
    )
    assert seen == [(k, 5) for k in range(1, 6)]
