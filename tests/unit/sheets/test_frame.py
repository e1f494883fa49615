"""Exact scale, bars, ticks, north."""

import numpy as np
import pytest
from matplotlib.patches import Rectangle

from boscage.sheets.backpage import ROW_MM
from boscage.sheets.content import MapContent
from boscage.sheets.frame import ROUND_SCALES, MapFrame, fitting_scale
from boscage.sheets.furniture import bar_length, crs_words, draw_north, north_words, scale_words
from boscage.sheets.mapdraw import draw_map
from boscage.sheets.page import Page
from boscage.sheets.sitepage import plan_front, site_frame
from boscage.values import Bounds


def test_a_hundred_metres_are_forty_millimetres_at_the_sites_scale(make):
    """1:2,500 means 100 m / 2,500 = 40 mm on paper (definition of a representative fraction)."""
    made = make(sites=1, bare=True)
    site = made.result.sites[0]
    box = plan_front(made.result, site, "EPSG:32615").map_box
    page = Page("letter")
    axes = page.axes(box)
    draw_map(axes, site_frame(site, box), MapContent(backdrop=made.closeups[site.site], focus=site))
    x, y = site.place.x_m, site.place.y_m
    ends = axes.transData.transform([(x, y), (x + 100, y), (x, y + 100)]) / 72 * 25.4
    assert ends[1] - ends[0] == pytest.approx([40.0, 0.0], abs=1e-6)
    assert ends[2] - ends[0] == pytest.approx([0.0, 40.0], abs=1e-6)
    middle = np.array([box.x + box.width / 2, page.height_mm - box.y - box.height / 2])
    assert ends[0] == pytest.approx(middle, abs=1e-6)


def test_paper_and_ground_are_inverse():
    frame = MapFrame.centred(500_000, 4_000_000, scale=24_000, width_mm=150, height_mm=100)
    assert frame.bounds.width == pytest.approx(3600)
    assert frame.to_ground(*frame.to_mm(500_123, 4_000_456)) == pytest.approx((500_123, 4_000_456))
    assert frame.to_mm(500_000, 4_000_000) == pytest.approx((75, 50))


@pytest.mark.parametrize("side", [200.0, 5_999.0, 6_001.0, 44_000.0, 140_000.0])
def test_fitting_scale_is_the_least_that_fits(side):
    scale = fitting_scale(Bounds(0, 0, side, side / 2), 150.0, 120.0)
    assert side / scale * 1000 <= 150.0 + 1e-9
    smaller = [s for s in ROUND_SCALES if s < scale]
    assert not smaller or side / max(smaller) * 1000 > 150.0


def test_scale_bar_is_round_and_true():
    frame = MapFrame.centred(0, 0, scale=2500, width_mm=100, height_mm=100)
    number, unit_m, unit = bar_length(40.0, frame, "us")
    assert (number, unit) == (200.0, "ft")
    assert unit_m == 0.3048
    assert bar_length(40.0, frame, "metric")[::2] == (100.0, "m")


def test_one_inch_in_feet():
    """1:24,000 is 2,000 ft to the inch and 1:25,000 is 250 m to the centimetre: arithmetic."""
    assert scale_words(24_000, "us") == "1:24,000  (1 in = 2,000 ft)"
    assert scale_words(25_000, "metric") == "1:25,000  (1 cm = 250 m)"


def test_true_north_lies_on_the_other_side_of_the_convergence():
    """Positive convergence: grid north lies east of true north, so true north lies west of grid north."""
    assert north_words(1.24)[1] == "TN true north 1.2° west of it"
    assert north_words(-1.24)[1] == "TN true north 1.2° east of it"
    assert north_words(0.01)[1] == "true north: the same"
    assert "not worked out" in north_words(None)[1]
    for convergence, side in ((1.24, -1), (-1.24, 1)):
        page = Page("a4")
        draw_north(page, 100.0, 50.0, convergence)
        tips = [a.get_xdata()[1] for a in page.figure.findobj() if hasattr(a, "get_xdata")]
        assert np.sign(tips[1] - 100.0) == side


def test_crs_has_code_and_name():
    assert crs_words("EPSG:32615") == "EPSG:32615, WGS 84 / UTM zone 15N"


def test_a_tick_box_and_rows_to_write_on_are_large_enough():
    """Seven millimetres and more for a row: common practice for gloved hands, no source."""
    assert ROW_MM >= 7.0
    page = Page("a4")
    page.tick_box(10, 20)
    (square,) = page.figure.findobj(Rectangle, include_self=False)[-1:]
    assert square.get_height() >= 4.0
