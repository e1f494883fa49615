"""The ground on a site's back page: every answer is there or on the page that is named, in type that fits."""

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from ground_results import make_answer
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.text import Text
from paper import outside, overlaps, strays, text_boxes
from pypdf import PdfReader

from boscage.sheets.backpage import CAUTIONS, ROW_MM, plan_back
from boscage.sheets.groundblock import plan_ground_block
from boscage.sheets.groundtext import NOTHING, TYPES
from boscage.sheets.page import PAPERS_MM, Box, Page
from boscage.sheets.pdf import own_settings, write_pdf
from boscage.sheets.running import body_box
from boscage.sheets.sitepage import site_sheets
from boscage.sheets.style import FAINT
from boscage.values import Printer

CASES = {
    "plain": {"ground": "full"}, "metric": {"ground": "full", "units": "metric"},
    "us_a4": {"ground": "full", "paper": "a4"}, "readings": {"ground": "readings"},
    "unknown": {"ground": "unknown"}, "unknown_metric": {"ground": "unknown", "units": "metric"},
    "no_pickets": {"ground": "no pickets"}, "no_pull": {"ground": "no pull"}, "none": {"ground": "none"},
    "long": {"ground": "long", "long": True, "whys": 40}, "notes": {"ground": "long", "whys": 12},
    "none_more": {"ground": "none", "whys": 9},
}  # fmt: skip


_LAST: list = []
"""The results last drawn, their pages and, once printed, the pages' texts: tests of one case draw them once."""


def site_pages(made):
    """Front, back, way in and further pages of the first site, numbered from 3."""
    if not _LAST or _LAST[0] is not made:
        _LAST[:] = [made, draw_pages(made)]
    return _LAST[1]


def draw_pages(made):
    site = made.result.sites[0]
    sheets = site_sheets(made.result, site, made.closeups[site.site], made.overview)
    pages = []
    with own_settings():
        for number, sheet in enumerate(sheets, start=3):
            page = Page(made.result.plan.paper, number=number, of=2 + len(sheets))
            sheet.draw(page)
            pages.append((sheet.kind, page))
    return pages


def texts_of(made, target):
    """Text of the pages by kind, in order."""
    pages = site_pages(made)
    if len(_LAST) == 3:
        return _LAST[2]
    with own_settings():
        write_pdf([page for _, page in pages], target, title="t", date=made.result.plan.date)
    read = PdfReader(target).pages
    _LAST.append([(kind, re.sub(r"\s+", " ", p.extract_text())) for (kind, _), p in zip(pages, read, strict=True)])
    return _LAST[2]


def with_answer(made, **own):
    site = made.result.sites[0]
    site = replace(site, ground=replace(site.ground, **own))
    return replace(made, result=replace(made.result, sites=(site,)))


def back_of(made, target):
    return dict(texts_of(made, target))["back"]


@pytest.fixture(scope="module", params=list(CASES))
def case(request, make):
    made = make(sites=1, **CASES[request.param])
    return request.param, made, site_pages(made)


@pytest.fixture(scope="module")
def plain(make, tmp_path_factory):
    made = make(sites=1, ground="full")
    return made, texts_of(made, tmp_path_factory.mktemp("site") / "a.pdf")


def test_no_text_overlaps_or_leaves_its_place(case):
    name, _, pages = case
    with own_settings():
        for kind, page in pages:
            if kind not in ("back", "further"):
                continue
            texts, boxes = text_boxes(page)
            assert overlaps(texts, boxes) == [], name
            assert outside(page, texts, boxes) == [], name
            assert strays(page) == [], name


def test_no_text_lies_on_a_tables_line_or_the_cautions_box(case):
    """Words of the ground keep between the two tables; cautions keep their own box at the foot."""
    name, made, _ = case
    site = made.result.sites[0]
    body = body_box(*PAPERS_MM[made.result.plan.paper])
    back = plan_back(made.result, site, body)
    for placed in back.ground.placed:
        assert placed.y >= back.trees_y + 5 * ROW_MM, name
        assert placed.y + placed.block.height_mm <= back.stakes_y + 1e-6, name
    lower = 7.0 + 3 * ROW_MM + 4.4 + ROW_MM + 3.0
    assert back.stakes_y + lower <= back.spare.bottom + 1e-6, name
    assert back.spare.height > -1e-6, name
    assert (back.spare.height >= 14.0) == bool(back.room), name


def test_nothing_is_cut_and_no_type_is_under_six_points(case):
    name, _, pages = case
    for kind, page in pages:
        if kind not in ("back", "further"):
            continue
        shown = [t for t in page.figure.findobj(Text) if t.get_text().strip()]
        assert min(t.get_fontsize() for t in shown) >= 6.0, name
        if name != "long":
            assert not [t.get_text() for t in shown if "…" in t.get_text()], name


def test_the_back_still_holds_its_blanks_and_cautions(case, tmp_path):
    name, made, _ = case
    text = back_of(made, tmp_path / "a.pdf")
    for words in (
        "Contact trees", "Stakes tested", "expected", "reached", "held: y / n", "ground", "Fresh sign",
        "Declination used", "Change to the plan, and why", "Photo numbers",
    ):  # fmt: skip
        assert words in text, (name, words)
    for caution in CAUTIONS:
        assert caution[:30] in text, name


def test_all_that_the_ground_answers_is_printed(case, tmp_path):
    """On the back, or on a further page that the back names."""
    name, made, _ = case
    answer = made.result.sites[0].ground
    if answer is None:
        return
    texts = texts_of(made, tmp_path / "a.pdf")
    back = dict(texts)["back"]
    whole = " ".join(t for kind, t in texts if kind in ("back", "further"))
    parts = (
        answer.posts.why, answer.apron.why, *answer.burial.why, *answer.bring, answer.assumption,
        *(() if answer.stakes is None else (answer.stakes.why,)), *answer.notes,
    )  # fmt: skip
    for words in parts:
        assert words.rstrip(".") in whole, (name, words)
    if any(w.rstrip(".") not in back for w in parts):
        number = next(k for k, (kind, _) in enumerate(texts, start=3) if kind == "further")
        assert f"more on the ground on page {number}" in back, name
    else:
        assert "more on the ground" not in back, name
    assert f"The project's own assumption: {answer.assumption}" in back, name
    assert "nan" not in whole.lower().replace("dunnan", "")


def test_answers_in_figures(plain):
    """2.2 MPa and 0.45: exp gives 1.40 to 3.45 MPa, 203 to 500 psi; 2,520 lbf is 2 x 1,400 x 0.9."""
    back = dict(plain[1])["back"]
    assert math.exp(math.log(2.2) - 0.45) * 145.03773773 == pytest.approx(203.5, abs=0.1)
    for words in (
        "The ground here", "Dunnock silt loam, 3 to 8 percent slopes (DuB)", "moist ground",
        "Resistance high: 320 psi (likely 200 to 500 psi)", "Hard layer at 31 in or deeper on most of it",
        "rock fragments up to 38 % (very gravelly)", "flooding occasional", "from the soil map and readings",
        "85 % of the ground is named", "STOPPED at 20 in", "DOUBTFUL: a post reaches 14 in on most of it",
        "at the very most 31 in", "Steel pin, 1.5 for each", "2 holdfasts of 1-1 (4 pickets)", "2,520 lbf",
        "for a pull of 450 lbf", "NO.", "To dig: with a pick",
    ):  # fmt: skip
        assert words in back, words
    assert back.count("14 in") >= 4  # the answer, and each row of the table of stakes


def test_metric(make, tmp_path):
    back = back_of(make(sites=1, ground="full", units="metric"), tmp_path / "a.pdf")
    for words in ("2.2 MPa (likely 1.4 to 3.5 MPa)", "79 cm", "STOPPED at 51 cm", "36 cm", "11,210 N", "2,000 N"):
        assert words in back, words


def test_without_any_ground_it_is_said_loudly(make, tmp_path):
    back = back_of(make(sites=1), tmp_path / "a.pdf")
    assert NOTHING == "Ground: no soil map and no readings. Test a stake."
    assert NOTHING in back
    assert back.count("not known") == 3
    assert "The ground here" not in back


def test_nothing_known_is_never_good_news(make, tmp_path):
    back = back_of(make(sites=1, ground="unknown"), tmp_path / "a.pdf")
    for words in (
        "No map unit here", "Resistance not known", "Depth to a hard layer not known", "rock fragments not known",
        "flooding not stated", "no soil map and no readings reach here", "NOT KNOWN: depth that a post reaches",
        "NO PICKETS for a pull of 450 lbf", "Stake and steel pin",
    ):  # fmt: skip
        assert words in back, words
    assert not re.search(r"\bYES\b", back)


@pytest.mark.parametrize("kind", ["full", "readings", "unknown", "no pickets", "no pull", "none"])
def test_the_forbidden_words_are_no_findings(make, tmp_path, kind):
    back = back_of(make(sites=1, ground=kind), tmp_path / "a.pdf")
    assert re.search(r"\b(safe|clear)\b", back, re.IGNORECASE) is None


def test_no_pull_asked_for(make, tmp_path):
    back = back_of(make(sites=1, ground="no pull"), tmp_path / "a.pdf")
    assert "Pickets not known: no pull was asked for." in back


def test_readings_without_a_map(make, tmp_path):
    back = back_of(make(sites=1, ground="readings"), tmp_path / "a.pdf")
    assert "from readings alone, no soil map" in back
    assert "of the ground is named" not in back


def test_one_figure_where_least_and_most_agree(make, tmp_path):
    made = make(sites=1, ground="full")
    posts = replace(made.result.sites[0].ground.posts, verdict="yes", depth_cm=130.0, most_cm=130.0)
    back = back_of(with_answer(made, posts=posts, stopped_cm=math.nan), tmp_path / "a.pdf")
    assert "YES: a post reaches 51 in on most of it." in back
    assert "at the very most" not in back
    assert "STOPPED" not in back


def test_a_yes_to_burial_is_the_soils_alone(make, tmp_path):
    """Wells, streams and the law are not in the answer."""
    made = make(sites=1, ground="full")
    burial = replace(made.result.sites[0].ground.burial, verdict="yes")
    back = back_of(with_answer(made, burial=burial), tmp_path / "a.pdf")
    assert "YES, as far as the soil goes." in back
    assert "as far as the soil goes" not in back_of(made, tmp_path / "b.pdf")


def test_longer_texts_take_smaller_type_and_then_a_further_page():
    """One answer with ever longer reasons: heights never pass the room, and the type never grows."""
    answer, room = make_answer(kind="full"), 55.0
    sizes, left = [], []
    for letters in range(0, 900, 60):
        own = replace(answer, notes=(), posts=replace(answer.posts, why="stony " * (letters // 6)))
        block = plan_ground_block(own, Printer("us"), Box(12.0, 100.0, 192.0, room))
        assert block.height_mm <= room + 1e-6
        assert all(p.y + p.block.height_mm <= 100.0 + room for p in block.placed)
        lines = [p.block.height_mm for p in block.placed if not p.block.is_gap][1:]
        sizes.append(max(lines))
        left.append(bool(block.rest))
    assert (np.diff(sizes) <= 1e-9).all()
    assert sizes[0] > sizes[-1]
    assert not left[0]
    assert left[-1]
    assert (np.diff(np.array(left, dtype=int)) >= 0).all()
    assert [t.answer_pt for t in TYPES] == sorted((t.answer_pt for t in TYPES), reverse=True)


def test_notes_go_on_before_any_answer():
    answer = make_answer(kind="long")
    block = plan_ground_block(answer, Printer("us"), Box(12.0, 100.0, 192.0, 62.0))
    page = Page("letter")
    for placed in block.placed:
        placed.block.draw(page, placed.x, placed.y)
    drawn = " ".join(t.get_text() for t in page.figure.findobj(Text))
    assert "not looked at here" in drawn
    assert "40 to 60 kW tractor" in drawn
    assert "Bulk density" not in drawn
    assert block.rest


def test_rows_to_write_on_stay_high_and_empty(case):
    """Seven millimetres and more for a row: common practice for gloved hands, no source."""
    name, made, pages = case
    assert ROW_MM >= 7.0
    back = plan_back(made.result, made.result.sites[0], body_box(*PAPERS_MM[made.result.plan.paper]))
    page = dict(pages)["back"]
    with own_settings():
        texts, boxes = text_boxes(page)
    top, low = back.stakes_y + 7.0, back.stakes_y + 7.0 + 3 * ROW_MM
    inside = (page.height_mm - boxes[:, 3] > top - 0.1) & (page.height_mm - boxes[:, 1] < low + 0.1)
    assert len({texts[int(k)] for k in np.flatnonzero(inside)}) == 1, name  # the depth expected, in every row
    assert inside.sum() == 3
    assert page.figure.findobj(Rectangle)


def test_what_is_left_of_a_further_page_is_ruled_below_the_text(make):
    page = dict(site_pages(make(sites=1, ground="long", whys=12)))["further"]
    body = body_box(page.width_mm, page.height_mm)
    lines = [line for line in page.figure.findobj(Line2D) if line.get_color() == FAINT]
    ruled = [line.get_ydata()[0] for line in lines if np.ptp(line.get_xdata()) > 0.9 * body.width]
    with own_settings():
        texts, boxes = text_boxes(page)
    lowest = max(page.height_mm - b[1] for t, b in zip(texts, boxes, strict=True) if "texture" in t)
    assert len(ruled) > 5
    assert lowest < min(ruled) < max(ruled) < body.bottom


def test_a_site_takes_no_more_pages_than_before(make):
    """With notes that fit, front, back and way in; a further page takes the place of the ruled one."""
    for wishes in ({"ground": "full", "units": "metric"}, {"ground": "none"}):
        assert [kind for kind, _ in site_pages(make(sites=1, **wishes))] == ["front", "back", "way"]
    kinds = [kind for kind, _ in site_pages(make(sites=1, ground="long", whys=12))]
    assert kinds == ["front", "back", "way", "further"]
