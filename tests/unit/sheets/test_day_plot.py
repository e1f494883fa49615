"""Dials of visits by hour: midnight at the top, clockwise, areas as the visits."""

import math

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.lines import Line2D
from matplotlib.patches import Circle, Wedge
from matplotlib.text import Text

from boscage.sheets.dayplot import draw_day_plot, sector_radii
from boscage.sheets.page import Page
from boscage.sheets.pdf import own_settings


def darkest(by_hour):
    """Direction of the ink on the page, degrees clockwise from straight up."""
    page = Page("letter")
    with own_settings():
        draw_day_plot(page, 100.0, 100.0, 20.0, by_hour)
        for artist in page.figure.findobj(Circle):
            artist.set_visible(False)
        for text in page.figure.findobj(Text):
            text.set_visible(False)
        for line in page.figure.findobj(Line2D):
            line.set_visible(False)
        canvas = FigureCanvasAgg(page.figure)
        canvas.draw()
    grey = np.asarray(canvas.buffer_rgba())[..., 0]
    rows, cols = np.nonzero(grey < 200)
    mm = 25.4 / 72.0
    return math.degrees(math.atan2(cols.mean() * mm - 100.0, 100.0 - rows.mean() * mm)) % 360.0


@pytest.mark.parametrize("hour", [0, 5, 11, 12, 18, 23])
def test_an_hour_points_where_a_clock_of_24_hours_points(hour):
    by_hour = [0] * 24
    by_hour[hour] = 3
    assert abs((darkest(by_hour) - 15.0 * (hour + 0.5) + 180.0) % 360.0 - 180.0) < 3.0


def test_areas_are_as_visits():
    page = Page("letter")
    by_hour = [4, 1, 0] + [2] * 21
    draw_day_plot(page, 100.0, 100.0, 10.0, by_hour)
    wedges = page.figure.findobj(Wedge)
    assert len(wedges) == 23
    areas = [w.r**2 for w in wedges]
    assert areas[0] / areas[1] == pytest.approx(4.0)
    assert max(w.r for w in wedges) == pytest.approx(10.0)
    assert all(w.theta2 - w.theta1 == pytest.approx(15.0) for w in wedges)


def test_no_visit_draws_no_sector():
    assert sector_radii([0] * 24, 10.0) == [0.0] * 24
    assert sector_radii([], 10.0) == []


def test_hours_are_named_round_the_dial():
    page = Page("letter")
    draw_day_plot(page, 100.0, 100.0, 10.0, [1] * 24)
    at = {t.get_text(): t.get_position() for t in page.figure.findobj(Text)}
    assert at["0"][1] < 90.0 < 110.0 < at["12"][1]
    assert at["18"][0] < 90.0 < 110.0 < at["6"][0]
