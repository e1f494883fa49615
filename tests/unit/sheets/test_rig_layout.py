"""Rig sheets: nothing overlaps and nothing leaves its place, whatever the ids, contacts, built supports and stems."""

from typing import Any

import pytest
from paper import outside, overlaps, strays, text_boxes
from rig_plans import made_miss, made_result

from boscage.sheets.page import Page
from boscage.sheets.pdf import own_settings
from boscage.sheets.rig_sheet import compose_rig_pages

VARIANTS: dict[str, dict[str, Any]] = {
    "plain": {},
    "metric": {"units": "metric", "paper": "a4", "crs": "EPSG:32615", "convergence_deg": 0.4, "posts": 1, "odd": True},
    "few": {"contacts": 3, "built": 0, "stems": 0, "steady": None, "date": None, "note": None, "notes": 0},
    "most": {"contacts": 14, "built": 10, "stems": 60, "long_ids": True, "radius_m": 6.0, "guy_m": 7.0, "notes": 8},
    "tight": {"contacts": 14, "built": 10, "stems": 60, "long_ids": True, "radius_m": 2.8, "paper": "a4"},
    "long": {"name": "creek-bottom-plot-W2", "long_ids": True, "stated": False, "pivot_stem": True, "built": 6},
    "ends": {"guy_m": 12.0, "built": 10, "units": "metric"},
    "posts": {"contacts": 7, "posts": 7, "built": 0, "paper": "a4"},
    "notes": {"notes": 60},
}  # fmt: skip


@pytest.fixture(scope="module", params=[*VARIANTS, "miss"])
def pages(request):
    if request.param == "miss":
        results = [made_miss(), made_miss("a-place-of-20-letters", units="metric", paper="a4")]
    else:
        results = [made_result(**VARIANTS[request.param])]
    with own_settings():
        yield list(compose_rig_pages(results, None))


def test_no_text_overlaps_or_leaves_its_place(pages):
    counted = 0
    for sheet, page in pages:
        texts, boxes = text_boxes(page)
        counted += len(texts)
        assert overlaps(texts, boxes) == [], sheet.kind
        assert outside(page, texts, boxes) == [], sheet.kind
        assert strays(page) == [], sheet.kind
    assert counted > 25


def test_nothing_reaches_into_the_foot(pages):
    """What flows ends above the rule over the foot, 15.6 mm from the paper's lower edge."""
    for _, page in pages:
        texts, boxes = text_boxes(page)
        straddling = [t for t, b in zip(texts, boxes, strict=True) if b[1] < 15.4 < b[3]]
        assert straddling == []


def test_no_text_is_smaller_than_its_floor(pages):
    """Body 8 pt where it flows, 6 pt for the smallest label."""
    from matplotlib.text import Text

    for _, page in pages:
        assert min(t.get_fontsize() for t in page.figure.findobj(Text) if t.get_text().strip()) >= 6.0


def test_the_checks_see_what_is_wrong():
    page = Page("letter")
    page.text(50, 50, "one text")
    page.text(55, 51, "another text")
    page.text(150, 80, "a text that runs over the edge of the paper, and then some way further")
    texts, boxes = text_boxes(page)
    assert overlaps(texts, boxes) == [("one text", "another text")]
    assert outside(page, texts, boxes) == [texts[2]]
