"""The step chart of nets: heights as shares, a bound only where not proven, the next net marked."""

import pytest
from evidence_results import make_together
from matplotlib.lines import Line2D
from matplotlib.patches import Circle
from matplotlib.text import Text
from paper import overlaps, text_boxes

from boscage.model.portfolio import CurvePoint
from boscage.sheets.netcurve import BOUND, STEP, draw_curve, next_net_words
from boscage.sheets.page import Box, Page
from boscage.sheets.pdf import own_settings

BOX = Box(20.0, 30.0, 92.0, 62.0)


def curve_of(make, *, limit=False):
    made = make(sites=5)
    return make_together(made.result.sites, made.overview.vectors["parcels"].union_all(), limit=limit).curve


def drawn(curve, nets=3):
    page = Page("letter")
    with own_settings():
        draw_curve(page, BOX, curve, nets)
    return page


def lines(page, look):
    return [
        line for line in page.figure.findobj(Line2D)
        if line.get_linewidth() == look.width_pt and bool(look.dashes) == (line.get_linestyle() != "-")
    ]  # fmt: skip


def test_steps_are_as_high_as_shares(make):
    curve = curve_of(make)
    steps = [float(line.get_ydata()[0]) for line in lines(drawn(curve), STEP)]
    whole = drawn((CurvePoint(nets=1, share=1.0, added=1.0, bound=1.0, ending="optimal"),
                   CurvePoint(nets=2, share=0.0, added=0.0, bound=0.0, ending="optimal")))  # fmt: skip
    top, bottom = (float(line.get_ydata()[0]) for line in lines(whole, STEP))
    assert [(bottom - y) / (bottom - top) for y in steps] == pytest.approx([p.share for p in curve])


def test_a_bound_only_where_it_is_not_proven(make):
    assert lines(drawn(curve_of(make)), BOUND) == []
    page = drawn(curve_of(make, limit=True))
    bounds = sorted(float(line.get_ydata()[0]) for line in lines(page, BOUND))
    steps = [float(line.get_ydata()[0]) for line in lines(page, STEP)]
    assert len(bounds) == 3  # two nets not proven, and the key
    assert bounds[0] < steps[3]
    assert bounds[1] < steps[2]


def test_the_nets_there_are_and_the_next_are_marked(make):
    page = drawn(curve_of(make))
    dots = [c for c in page.figure.findobj(Circle) if c.center[1] < BOX.bottom - 15.0]
    assert len(dots) == 2
    there, further = sorted(dots, key=lambda c: c.center[0])
    assert there.get_facecolor()[0] < 0.2
    assert further.get_facecolor()[0] > 0.9
    names = {t.get_text(): t.get_position()[0] for t in page.figure.findobj(Text)}
    assert there.center[0] == pytest.approx(names["3"])
    assert further.center[0] == pytest.approx(names["4"])


def test_the_next_net_in_words(make):
    curve = curve_of(make)
    assert next_net_words(curve, 3) == "One more net (4) would add 7.9 points, to 71.0 %."
    assert next_net_words(curve, 4) == "What one more net would add is not known."
    assert "not proven; no choice covers more than 74.0 %" in next_net_words(curve_of(make, limit=True), 3)


@pytest.mark.parametrize("nets", [1, 12, 60, 200])
def test_any_number_of_nets_fits(nets):
    curve = tuple(
        CurvePoint(nets=k, share=k / (nets + 3), added=1 / (nets + 3), bound=1.0, ending="time limit")
        for k in range(1, nets + 2)
    )
    page = drawn(curve, nets)
    with own_settings():
        texts, boxes = text_boxes(page)
    assert overlaps(texts, boxes) == []
    mm = boxes[:, 2]
    assert mm.max() <= BOX.right + 1.0
