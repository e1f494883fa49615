"""The written rig sheets: what must be said is there, in black and white, small, and the same bytes each time."""

import datetime as dt
import hashlib
import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import matplotlib
import pytest
from paper import operations
from pypdf import PdfReader
from rig_plans import DATE, NOTE, made_miss, made_result

from boscage.model.rig_plan import RigResult
from boscage.sheets.rig_sheet import plan_rig_sheets, print_rig_sheets
from boscage.sheets.rigtext import CAUTIONS

PRINT_ONE = """
import sys
sys.path.insert(0, sys.argv[1])
from pathlib import Path
from rig_plans import DATE, made_result
from boscage.sheets.rig_sheet import print_rig_sheets
print_rig_sheets([made_result()], Path(sys.argv[2]), date=DATE)
"""


def written(results, target: Path, **given) -> PdfReader:
    print_rig_sheets(results, target, **{"date": DATE, **given})
    return PdfReader(target)


def word_pages(reader: PdfReader) -> list[str]:
    return [re.sub(r"\s+", " ", page.extract_text()) for page in reader.pages]


@pytest.fixture(scope="module")
def plain(tmp_path_factory):
    return written([made_result()], tmp_path_factory.mktemp("plain") / "rig_sheet.pdf")


def test_front_says_what_it_must(plain):
    front = word_pages(plain)[0]
    for words in (
        "DH-01", "Dunnock Hollow Ranch", "2026-11-21", "page 1 of 2", NOTE, "score", "of 100", "91 %", "of a circle",
        "The same trees still hold a ring in 465 of 500 tries", "93 %", "Declination used: 0.6° west", "1:100",
        "Grid 5 ft", "10 ft", "4 m", "060.5°", "10.6 ft", "9.4 in", "18.4 ft from 3", "9.2 ft to 2, a", "make 8.8 ft",
        "guyed sapling 70", "high rope", "stem 41, 9.8 ft up", "stem 40, foot", "34°", "best 5.0 ft", "too near",
        "too far", "9 stakes", "closure", "pivot", "Feet and tenths", "mag. bearing",
    ):  # fmt: skip
        assert words in front, words
    assert re.search(r"\d\.\d of 100", front) is None


def test_score_is_a_whole_number_from_the_plan(plain):
    """Hexagon: roundness pi sqrt(3) / 6 = 0.9069 (isoperimetric quotient); 3 built supports cost 9 points."""
    assert " 82 of 100" in word_pages(plain)[0]
    assert round(made_result().plan.ring.score, 1) == pytest.approx(100 * (3.14159265 * 3**0.5 / 6) - 9, abs=0.06)


def test_back_has_gear_loads_steps_fallbacks_and_cautions(plain):
    back = word_pages(plain)[1]
    for words in (
        "page 2 of 2", "Gear", "net with its top rope", "50 lb", "All gear together: 74 lb", "not known",
        "Loads: planning figures, not a rating", "49 lbf", "friction 0.2", "If a tree turns out bad",
        "no ring fits without this tree", "Stems inside the ring: they stay, never cut", "100 (tree, 3.1 in)",
        "2 turns",
        "mouth of each hook down", "both ends of the net in one tie", "snug", "at mid-span",
        "Stakes come last: 9 stakes, 5.0 ft in from under the top rope; as drawn, where the ring is narrow, down to 3",
        "Walk round once", "open the net at the closure", "With every corner at the bark: score 71",
        "stem list creek.csv",
    ):  # fmt: skip
        assert words in back, words
    for caution in CAUTIONS:
        assert caution in back


def test_no_finding_is_called_by_the_two_words(plain, tmp_path):
    pages = [*word_pages(plain), *word_pages(written([made_miss()], tmp_path / "a.pdf"))]
    for page in pages:
        assert re.search(r"\b(safe|clear)\b", page, re.IGNORECASE) is None


def test_metric_sheet_has_metres_with_two_decimals(tmp_path):
    """Trunks 1 and 3 stand 120 degrees apart, 3.22 m and 3.25 m off: sqrt(a^2 + b^2 + ab) = 5.60 m (law of cosines)."""
    front, back = word_pages(written([made_result(units="metric", paper="a4")], tmp_path / "a.pdf"))[:2]
    for words in ("3.22 m", "24 cm", "2.44 m", "1 cm = 1 m", "Grid 1 m", "5.60 m from 3"):
        assert words in front, words
    assert "220 N" in back
    assert "22.7 kg" in back or "23 kg" in back
    assert "Feet and tenths" not in front


@pytest.mark.parametrize(("paper", "size_mm"), [("letter", (215.9, 279.4)), ("a4", (210.0, 297.0))])
def test_paper_size(tmp_path, paper, size_mm):
    """Letter is 8.5 by 11 in (ANSI/ASME Y14.1 size A); A4 is 210 by 297 mm (ISO 216)."""
    reader = written([made_result(paper=paper), made_miss(paper=paper)], tmp_path / "a.pdf")
    for page in reader.pages:
        box = page.mediabox
        assert (float(box.width) / 72 * 25.4, float(box.height) / 72 * 25.4) == pytest.approx(size_mm, abs=0.02)


def test_a_place_without_a_ring_has_its_nearest_miss(tmp_path):
    reader = written([made_miss()], tmp_path / "a.pdf")
    (page,) = word_pages(reader)
    miss = made_miss()
    for words in ("No ring fits", miss.none.reason, miss.none.nearest_miss, "DH-02", "60 ft", "at least 5", "41 stems"):
        assert words in page, words


def test_each_place_starts_on_an_odd_page():
    sheets = [s for _, s in plan_rig_sheets([made_miss(), made_result(), made_result(notes=60), made_miss()], DATE)]
    starts = [k for k, s in enumerate(sheets) if s.kind in ("front", "none")]
    assert len(starts) == 4
    assert all(k % 2 == 0 for k in starts)
    assert all(sheets[k + 1].kind == "back" for k in starts if sheets[k].kind == "front")
    assert [s.kind for s in sheets][:2] == ["none", "notes"]


def test_what_has_no_room_goes_on_and_nothing_is_lost(tmp_path):
    result = made_result(contacts=14, built=10, stems=60, long_ids=True, notes=60, radius_m=6.0)
    pages = word_pages(written([result], tmp_path / "a.pdf"))
    whole = " ".join(pages)
    assert "further tables: page 2" in pages[0]
    for contact in result.plan.contacts:
        assert contact.stem.stem in pages[0]
    for support in result.plan.supports:
        if support.tie is not None and support.tie.stem is not None:
            assert f"stem {support.tie.stem}" in pages[1]
    assert all(f"Note {k}:" in whole for k in range(60))
    assert "…" not in whole


def test_ids_of_twenty_letters_are_printed_whole(tmp_path):
    result = made_result(long_ids=True, name="creek-bottom-plot-W2")
    front = word_pages(written([result], tmp_path / "a.pdf"))[0]
    assert "creek-bottom-plot-W2" in front
    assert all(c.stem.stem in front for c in result.plan.contacts)


def test_missing_things_are_said(tmp_path):
    bare = made_result(steady=None, date=None, note=None, stated=False, declination_deg=0.0, built=0, stems=0)
    pages = word_pages(written([bare], tmp_path / "a.pdf", date=None))
    for words in (
        "date not stated", "Plan date: not stated", "not worked out", "Declination not stated: 0 used",
        "None: trees alone carry the ring", "magnetic north: not stated",
    ):  # fmt: skip
        assert words in pages[0], words
    assert "None on the stem list; look, the list may lack some" in pages[1]
    assert "mag. bearing" not in pages[0]
    assert not any("2000" in page for page in pages)


def test_pages_are_lines_only_grey_and_small(tmp_path):
    target = tmp_path / "a.pdf"
    reader = written([made_result(contacts=14, built=10, stems=60, long_ids=True), made_miss()], target)
    assert target.stat().st_size / len(reader.pages) < 200_000
    greys = 0
    for page in reader.pages:
        shared = page["/Resources"].get("/XObject", {})
        assert all(x.get_object()["/Subtype"] != "/Image" for x in shared.values())
        for operands, operator in operations(reader, page):
            assert operator not in (b"k", b"K", b"sc", b"SC", b"scn", b"SCN") or len(operands) == 1
            if operator in (b"rg", b"RG"):
                assert float(operands[0]) == float(operands[1]) == float(operands[2])
            greys += operator in (b"g", b"G")
    assert greys > 20


def test_dates_in_the_file_come_from_the_caller(plain):
    info = plain.metadata
    assert info.creation_date.date() == info.modification_date.date() == dt.date(2026, 11, 21)
    assert info.title == "Rig sheets, Dunnock Hollow Ranch"


def test_same_bytes_whatever_the_hash_seed_and_the_settings(tmp_path):
    target, digests = tmp_path / "there.pdf", set()
    support = Path(__file__).parents[2] / "support"
    subprocess.run(
        [sys.executable, "-c", PRINT_ONE, str(support), str(target)], check=True,
        env={**os.environ, "PYTHONHASHSEED": "12"},
    )  # fmt: skip
    digests.add(hashlib.sha256(target.read_bytes()).hexdigest())
    with matplotlib.rc_context({"font.size": 20, "pdf.fonttype": 3, "lines.linewidth": 9}):
        print_rig_sheets([made_result()], tmp_path / "here.pdf", date=DATE)
    digests.add(hashlib.sha256((tmp_path / "here.pdf").read_bytes()).hexdigest())
    assert len(digests) == 1


def test_neither_ring_nor_reason_is_refused_and_nothing_is_written(tmp_path):
    with pytest.raises(ValueError, match="neither a ring nor a reason"):
        print_rig_sheets([RigResult(name="x", plan=None)], tmp_path / "a.pdf", date=DATE)
    assert list(tmp_path.iterdir()) == []


def test_no_place_at_all_gives_a_page_that_says_so(tmp_path):
    (page,) = word_pages(written([], tmp_path / "a.pdf"))
    assert "nothing to rig" in page


def test_progress_counts_the_pages(tmp_path):
    seen = []
    print_rig_sheets([made_result()], tmp_path / "a.pdf", date=DATE, progress=lambda a, b: seen.append((a, b)))
    assert seen == [(1, 2), (2, 2)]


def test_a_tree_that_no_stock_strap_fits_is_told_to_be_made_up(tmp_path):
    result = made_result()
    plan = result.plan
    long = tuple(replace(c, strap_stock_m=None, strap_m=12.0) for c in plan.contacts)
    reader = written([replace(result, plan=replace(plan, contacts=long))], tmp_path / "a.pdf")
    assert word_pages(reader)[0].count("make 39.4 ft") == 6
