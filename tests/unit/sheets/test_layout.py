"""Nothing overlaps, nothing leaves the paper or the map, whatever the names, the sites and the layers."""

from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text

from boscage.sheets.field_sheets import compose_pages
from boscage.sheets.page import Page
from boscage.sheets.pdf import own_settings
from boscage.sheets.style import TextStyle

VARIANTS: dict[str, dict[str, Any]] = {
    "plain": {"sites": 2},
    "metric": {"sites": 2, "units": "metric"},
    "many": {"sites": 14, "close": True, "bare": True},
    "long": {"sites": 1, "long": True, "whys": 40},
    "none": {"sites": 0, "reason": "Hard stops rule out every cell of the land with permission."},
    "empty": {
        "sites": 1, "bare": True, "note": None,
        "missing": ("tracks", "water", "dwellings", "power_lines", "no_go", "sign", "soils", "terrain"),
    },
    "wide": {"sites": 1, "wide": True},
}  # fmt: skip
LEAST_EDGE_MM = 4.0


def text_boxes(page: Page) -> tuple[list[str], np.ndarray]:
    """Every text on a page with its rectangle in mm: left, bottom, right, top."""
    renderer = FigureCanvasAgg(page.figure).get_renderer()
    texts = [t for t in page.figure.findobj(Text) if t.get_visible() and t.get_text().strip()]
    boxes = [t.get_window_extent(renderer).extents for t in texts]
    return [t.get_text() for t in texts], np.array(boxes).reshape(-1, 4) / 72 * 25.4


def overlaps(texts: list[str], boxes: np.ndarray, *, slack_mm: float = 0.1) -> list[tuple[str, str]]:
    """Pairs of texts whose rectangles share more than a sliver."""
    found = []
    for k in range(len(texts)):
        rest = boxes[k + 1 :]
        across = np.minimum(boxes[k, 2], rest[:, 2]) - np.maximum(boxes[k, 0], rest[:, 0])
        along = np.minimum(boxes[k, 3], rest[:, 3]) - np.maximum(boxes[k, 1], rest[:, 1])
        both = (across > slack_mm) & (along > slack_mm)
        found += [(texts[k], texts[k + 1 + int(j)]) for j in np.flatnonzero(both)]
    return found


def outside(page: Page, texts: list[str], boxes: np.ndarray) -> list[str]:
    """Texts that come nearer to the paper's edge than a printer can print."""
    low, high = LEAST_EDGE_MM, np.array([page.width_mm, page.height_mm]) - LEAST_EDGE_MM
    bad = (boxes[:, :2] < low).any(axis=1) | (boxes[:, 2:] > high).any(axis=1)
    return [texts[int(k)] for k in np.flatnonzero(bad)]


def strays(page: Page) -> list[str]:
    """Texts of a map that leave the map."""
    renderer = FigureCanvasAgg(page.figure).get_renderer()
    found = []
    for axes in page.figure.axes:
        frame = axes.get_window_extent(renderer)
        for text in axes.texts:
            own = text.get_window_extent(renderer)
            if own.x0 < frame.x0 or own.x1 > frame.x1 or own.y0 < frame.y0 or own.y1 > frame.y1:
                found.append(text.get_text())
    return found


@pytest.fixture(params=list(VARIANTS))
def pages(request: pytest.FixtureRequest, make: Callable[..., Any]) -> Iterator[Any]:
    made = make(**VARIANTS[request.param])
    with own_settings():
        yield compose_pages(made.result, made.overview, made.closeups)


def test_no_text_overlaps_or_leaves_its_place(pages):
    counted = 0
    for sheet, page in pages:
        texts, boxes = text_boxes(page)
        counted += len(texts)
        assert overlaps(texts, boxes) == [], sheet
        assert outside(page, texts, boxes) == [], sheet
        assert strays(page) == [], sheet
    assert counted > 80


def test_the_checks_see_what_is_wrong():
    page = Page("letter")
    page.text(50, 50, "one text")
    page.text(55, 51, "another text")
    page.text(150, 80, "a text that runs over the edge of the paper, and then some way further")
    texts, boxes = text_boxes(page)
    assert overlaps(texts, boxes) == [("one text", "another text")]
    assert outside(page, texts, boxes) == [texts[2]]


def test_a_box_measured_agrees_with_a_box_drawn():
    from boscage.sheets.typeset import text_width_mm

    page = Page("a4")
    style, words = TextStyle(size_pt=11.0, bold=True), "Dunnock Hollow Ranch, Żabia Łąka"
    with own_settings():
        page.text(20, 20, words, style)
        _, boxes = text_boxes(page)
    assert boxes[0, 2] - boxes[0, 0] == pytest.approx(text_width_mm(words, style), rel=0.02)
