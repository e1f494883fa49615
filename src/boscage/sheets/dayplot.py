"""Visits by hour on a dial: 24 sectors with midnight at the top; the area of a sector is its number of visits."""

from __future__ import annotations

import math
from collections.abc import Sequence

from matplotlib.patches import Circle, Wedge

from boscage.sheets.page import Page
from boscage.sheets.style import GREY, INK, PALE, LineLook, TextStyle

HOURS = 24
_FILL = "#6a6a6a"
_HOUR = TextStyle(size_pt=6.0, colour=GREY, align="center", valign="center")
_HOUR_MM = 2.6


def sector_radii(by_hour: Sequence[int], radius: float) -> list[float]:
    """Radius of each sector, so that areas are as the visits and the largest fills the dial.

    >>> sector_radii([0, 1, 4], 10.0)
    [0.0, 5.0, 10.0]
    """
    most = max(by_hour, default=0)
    return [radius * math.sqrt(n / most) if most else 0.0 for n in by_hour]


def draw_day_plot(page: Page, x: float, y: float, radius: float, by_hour: Sequence[int]) -> None:
    """Draw the dial round a middle, mm; hours run clockwise."""
    for k, long in enumerate(sector_radii(by_hour, radius)):
        if long > 0.0:
            begin = 360.0 / HOURS * k - 90.0
            page.figure.add_artist(
                Wedge((x, y), long, begin, begin + 360.0 / HOURS, fc=_FILL, ec=INK, lw=0.4, transform=page.transform)
            )
    for share, width in ((1.0, 0.7), (math.sqrt(0.5), 0.3)):
        page.figure.add_artist(Circle((x, y), radius * share, fc="none", ec=PALE, lw=width, transform=page.transform))
    for quarter in range(4):
        angle = math.radians(90.0 * quarter - 90.0)
        across, down = math.cos(angle), math.sin(angle)
        page.line((x + across * radius, x + across * (radius + 1.0)), (y + down * radius, y + down * (radius + 1.0)),
                  LineLook(width_pt=0.6))  # fmt: skip
        page.text(x + across * (radius + _HOUR_MM), y + down * (radius + _HOUR_MM), str(6 * quarter), _HOUR)
