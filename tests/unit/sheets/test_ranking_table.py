"""The ranking on the overview: labels, bars of firmness, lines under the table, twelve sites on one page."""

import re
from dataclasses import replace

import pytest
from matplotlib.colors import to_hex
from matplotlib.patches import Circle, PathPatch, Rectangle
from paper import outside, overlaps, strays, text_boxes
from pypdf import PdfReader

from boscage.model.findings import Standing
from boscage.sheets.overview import plan_overview
from boscage.sheets.page import Page
from boscage.sheets.pdf import own_settings, write_pdf
from boscage.sheets.rankingtable import FIRST_FILL, LIGHT_FILL, draw_firmness, ranking
from boscage.sheets.style import LINES


def overview(made):
    sheet, rest = plan_overview(made.result, made.overview)
    page = Page(made.result.plan.paper, number=1, of=9)
    with own_settings():
        sheet.draw(page)
    return page, rest


def words_of(made, target):
    page, _ = overview(made)
    with own_settings():
        write_pdf([page], target, title="t", date=made.result.plan.date)
    return re.sub(r"\s+", " ", PdfReader(target).pages[0].extract_text())


@pytest.fixture(scope="module")
def made(make):
    return make(sites=12, found="full")


@pytest.mark.parametrize(
    "wishes",
    [{}, {"units": "metric"}, {"paper": "a4"}, {"units": "metric", "paper": "letter"}, {"found": "limit"},
     {"found": "no sets"}, {"missing": ()}],
    ids=str,
)  # fmt: skip
def test_twelve_sites_stay_on_one_page(make, wishes):
    page, rest = overview(make(**{"sites": 12, "found": "full", **wishes}))
    assert rest == []
    with own_settings():
        texts, boxes = text_boxes(page)
        assert overlaps(texts, boxes) == []
        assert outside(page, texts, boxes) == []
        assert strays(page) == []


def test_what_does_not_fit_flows_on(make):
    _, rest = overview(make(sites=30, found="full", close=True))
    assert rest


def test_labels_and_lines_under_the_table(made, tmp_path):
    words = words_of(made, tmp_path / "a.pdf")
    for text in (
        "2= DH-02", "2= DH-03", "4 DH-04", "22, 66 %", "first, first 3",
        "share of draws in which a site is first (dark) and among the first 3 (light)", "10,000 draws",
        "weights shaken by 30 %", "value functions bent by 20 %", "Sites with '=' could as well be swapped",
        "Sets together: DH-01, DH-03, DH-04 cover 63.1 % of the use. Proven: no allowed choice covers more",
        "Changed since the run before: DH-01 from 3 to 1 (+6 points); DH-02 from 1 to 2 (-3 points); 3 more on the",
        "chosen set", "reach of a chosen set",
    ):  # fmt: skip
        assert text in words, text
    assert re.search(r"\b(safe|clear)\b", words, re.IGNORECASE) is None


def test_a_limit_is_printed_as_such(make, tmp_path):
    words = words_of(make(sites=12, found="limit"), tmp_path / "a.pdf")
    assert "NOT PROVEN BEST: stopped at the time limit (gap 2.02 %)." in words
    assert "optimal" not in words.lower()


def test_without_anything_further_the_table_is_as_it_was(make, tmp_path):
    words = words_of(make(sites=3), tmp_path / "a.pdf")
    assert "1 DH-01 84 Creek bottom" in words
    for text in ("first, first", "first few", "not known", "draws", "Sets together", "Changed since", "chosen set"):
        assert text not in words


def test_no_tie_says_nothing_of_swapping(made, tmp_path):
    sites = tuple(replace(s, standing=replace(s.standing, label=str(s.rank))) for s in made.result.sites)
    words = words_of(replace(made, result=replace(made.result, sites=sites)), tmp_path / "a.pdf")
    assert "swapped" not in words


def test_a_site_without_standing_is_not_known(made, tmp_path):
    sites = (replace(made.result.sites[0], standing=None), *made.result.sites[1:])
    words = words_of(replace(made, result=replace(made.result, sites=sites)), tmp_path / "a.pdf")
    assert "1 DH-01 84 Creek bottom" in words
    assert "not known" in words


def test_the_bar_is_as_long_as_its_shares():
    page = Page("letter")
    draw_firmness(page, 20.0, 30.0, Standing(label="1", top_rank_share=0.3, first_share=0.8, low_rank=1, high_rank=2))
    filled = {to_hex(p.get_facecolor()): p for p in page.figure.findobj(Rectangle) if p.get_facecolor()[3] > 0}
    whole = max(p.get_width() for p in page.figure.findobj(Rectangle) if p.get_edgecolor()[3] > 0 and p.get_lw() > 0)
    assert filled[FIRST_FILL].get_width() == pytest.approx(0.3 * whole)
    assert filled[LIGHT_FILL].get_width() == pytest.approx(0.8 * whole)
    dark, light = (int(c[1:3], 16) for c in (FIRST_FILL, LIGHT_FILL))
    assert light - dark > 100
    order = page.figure.findobj(Rectangle)
    assert order.index(filled[FIRST_FILL]) > order.index(filled[LIGHT_FILL])


def test_chosen_sites_have_a_second_ring_and_their_reach(made):
    page, _ = overview(made)
    axes = page.figure.axes[0]
    rings = [p for p in axes.patches if isinstance(p, Circle) and p.get_lw() == 2.0]
    discs = [p for p in axes.patches if isinstance(p, Circle) and p.get_lw() == 1.3]
    assert (len(rings), len(discs)) == (3, 12)
    for ring in rings:
        inner = min(discs, key=lambda d: abs(d.center[0] - ring.center[0]) + abs(d.center[1] - ring.center[1]))
        assert inner.center == pytest.approx(ring.center)
        assert ring.radius > 1.2 * inner.radius
    look = LINES["reach"][-1]
    dashed = [
        p for p in axes.patches
        if isinstance(p, PathPatch) and p.get_lw() == look.width_pt and p.get_linestyle() not in ("-", "solid")
    ]  # fmt: skip
    west, east = 520_000.0, 524_200.0
    assert len(dashed) == 3
    for patch in dashed:
        x = patch.get_path().vertices[:, 0]
        assert x.min() >= west - 10.0
        assert x.max() <= east + 10.0


def test_no_site_no_bar(make):
    made = make(sites=0, reason="Nothing is left.")
    assert len(ranking(made.result, 180.0)) > 1
