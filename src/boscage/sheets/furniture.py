"""What stands round a map: neat line and grid ticks, scale bars, north arrow, the line on scale and datum."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from matplotlib.patches import Polygon
from pyproj import CRS

from boscage.sheets.frame import MapFrame, round_step
from boscage.sheets.page import Box, Page
from boscage.sheets.style import GREY, INK, PAPER, AreaLook, LineLook, TextStyle
from boscage.sheets.typeset import fit

TICK_ROOM_MM = 3.6
_TICK = TextStyle(size_pt=6.0, colour=GREY, align="center")
_SMALL = TextStyle(size_pt=6.5)
_LEAST_TICK_MM = 30.0
_FOOT = 0.3048
_MILE = 1609.344


def draw_grid(page: Page, box: Box, frame: MapFrame) -> None:
    """The neat line, ticks and crosses of the CRS's grid, eastings above and northings at the left."""
    step = round_step(_LEAST_TICK_MM * frame.metres_per_mm)
    b = frame.bounds
    easts = np.arange(math.ceil(b.west / step) * step, b.east, step)
    norths = np.arange(math.ceil(b.south / step) * step, b.north, step)
    thin = LineLook(colour=GREY, width_pt=0.5)
    for east in easts:
        x = box.x + frame.to_mm(east, b.north)[0]
        page.line((x, x), (box.y - 1.0, box.y + 1.6), thin)
        page.line((x, x), (box.bottom - 1.6, box.bottom), thin)
        if box.x + 9 < x < box.right - 9:
            page.text(x, box.y - 1.4, _metres(east, "E"), _TICK)
    for north in norths:
        y = box.y + frame.to_mm(b.west, north)[1]
        page.line((box.x - 1.0, box.x + 1.6), (y, y), thin)
        page.line((box.right - 1.6, box.right), (y, y), thin)
        if box.y + 9 < y < box.bottom - 9:
            style = TextStyle(size_pt=6.0, colour=GREY, align="center", rotation_deg=90.0)
            page.text(box.x - 1.4, y, _metres(north, "N"), style)
    for east in easts:
        for north in norths:
            x, y = frame.to_mm(east, north)
            _cross(page, box.x + x, box.y + y)
    page.area(box, AreaLook(outline=LineLook(colour=INK, width_pt=0.9)))


def _cross(page: Page, x: float, y: float) -> None:
    look = LineLook(colour=GREY, width_pt=0.4)
    page.line((x - 1.0, x + 1.0), (y, y), look)
    page.line((x, x), (y - 1.0, y + 1.0), look)


def _metres(value: float, letter: str) -> str:
    """A grid value with thin groups: 5 12 000 becomes `512 000 mE`."""
    return f"{round(value):,} m{letter}".replace(",", " ")


def draw_scale_bars(page: Page, x: float, y: float, width_mm: float, frame: MapFrame, units: str) -> None:
    """Two bars, one under the other: the plan's units first, the other units below."""
    order = ("us", "metric") if units == "us" else ("metric", "us")
    for row, own in enumerate(order):
        _bar(page, x, y + row * 6.4, width_mm, frame, own)


def bar_length(width_mm: float, frame: MapFrame, units: str) -> tuple[float, float, str]:
    """The longest round bar that fits: its number, the metres in one unit, and the unit."""
    metres = width_mm * frame.metres_per_mm
    if units == "metric":
        unit_m, unit = (1000.0, "km") if metres >= 2000 else (1.0, "m")
    else:
        unit_m, unit = (_MILE, "mi") if metres >= _MILE * 0.75 else (_FOOT, "ft")
    most = metres / unit_m
    power = 10.0 ** math.floor(math.log10(most))
    number = max(s * power for s in (1.0, 2.0, 4.0, 5.0) if s * power <= most)
    return number, unit_m, unit


def _bar(page: Page, x: float, y: float, width_mm: float, frame: MapFrame, units: str) -> None:
    number, unit_m, unit = bar_length(width_mm - 9.0, frame, units)
    long = number * unit_m / frame.metres_per_mm
    x += 2.0
    draw_quarters(page, Box(x, y + 3.0, long, 1.3))
    middle = TextStyle(size_pt=6.5, align="center")
    page.text(x, y + 2.4, "0", middle)
    page.text(x + long / 2, y + 2.4, f"{number / 2:g}", middle)
    page.text(x + long - 1.0, y + 2.4, f"{number:,g} {unit}", _SMALL)


def draw_quarters(page: Page, box: Box) -> None:
    """The four parts of a scale bar, dark and light by turns."""
    wide = box.width / 4
    for k in range(4):
        look = AreaLook(fill=INK if k % 2 == 0 else PAPER, outline=LineLook(width_pt=0.5))
        page.area(Box(box.x + k * wide, box.y, wide, box.height), look)


def draw_north(page: Page, x: float, y: float, convergence_deg: float | None) -> None:
    """Grid north straight up the page, true north at its angle (drawn at least 8 degrees off, the figure beside it).

    Args:
        page: The page.
        x: Middle of the arrow, mm.
        y: Top, mm.
        convergence_deg: Grid north from true north, east positive; None when it was not worked out.
    """
    top, bottom = y + 3.2, y + 15.0
    page.line((x, x), (top, bottom), LineLook(width_pt=1.0))
    head = Polygon([(x, top), (x - 1.3, top + 3.2), (x + 1.3, top + 3.2)], fc=INK, lw=0, transform=page.transform)
    page.figure.add_artist(head)
    page.text(x, y + 2.4, "GN", TextStyle(size_pt=6.5, bold=True, align="center"))
    if convergence_deg is None:
        return
    if abs(convergence_deg) >= 0.05:
        shown = math.copysign(max(abs(convergence_deg), 9.0), convergence_deg)
        dx = -math.sin(math.radians(shown)) * 11.0
        page.line((x, x + dx), (bottom, bottom - 10.6), LineLook(width_pt=0.6))
        place = x + dx + math.copysign(2.6, dx)
        page.text(place, bottom - 10.4, "TN", TextStyle(size_pt=6.0, colour=GREY, align="center"))


def north_words(convergence_deg: float | None) -> list[str]:
    """The arrow in words."""
    lines = ["GN grid north is up"]
    if convergence_deg is None:
        lines.append("true north: not worked out")
    elif abs(convergence_deg) < 0.05:
        lines.append("true north: the same")
    else:
        side = "west" if convergence_deg > 0 else "east"
        lines.append(f"TN true north {abs(convergence_deg):.1f}° {side} of it")
    return [*lines, "declination ________"]


@lru_cache(maxsize=8)
def crs_words(crs: str) -> str:
    """The grid's name: `EPSG:32615, WGS 84 / UTM zone 15N`."""
    name = CRS.from_user_input(crs).name
    return f"{crs}, {name}" if crs.upper().startswith("EPSG") else name


def scale_words(scale: float, units: str) -> str:
    """`1:2,500` with what one inch or one centimetre stands for."""
    if units == "us":
        feet = scale / 12.0
        per = f"1 in = {feet:,.0f} ft" if feet < 2640 else f"1 in = {feet / 5280:.2f} mi"
    else:
        metres = scale / 100.0
        per = f"1 cm = {metres:,.0f} m" if metres < 1000 else f"1 cm = {metres / 1000:g} km"
    return f"1:{scale:,.0f}  ({per})"


def draw_words(page: Page, x: float, y: float, width_mm: float, lines: list[str]) -> float:
    """Small lines under one another; the answer is the y below them."""
    for text in lines:
        y = page.lines(x, y, fit(text, width_mm, _SMALL, lines=2))
    return y
