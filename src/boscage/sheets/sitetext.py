"""The text of a site's page: coordinates, factor bars, hazards, reasons, what holds the net."""

from __future__ import annotations

from boscage.model.results import FactorReading, Hazard, Place, Site
from boscage.sheets.evidencewords import standing_words
from boscage.sheets.flow import Block, bullets, gap, heading, pair, paragraph, set_lines
from boscage.sheets.furniture import crs_words
from boscage.sheets.page import Box, Page
from boscage.sheets.style import BODY, BOLD, FAINT, GREY, SMALL, AreaLook, LineLook, TextStyle
from boscage.sheets.typeset import Fitted, fit, wrap
from boscage.values import Printer

_POINTS = (
    "N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW",
)  # fmt: skip
_SUPPORT = {"trees": "trees hold the ring", "hybrid": "trees and posts together", "posts": "posts, no trees"}


def compass_point(bearing_deg: float) -> str:
    """The nearest of sixteen compass points.

    >>> compass_point(350.0), compass_point(22.5), compass_point(-90.0)
    ('N', 'NNE', 'W')
    """
    return _POINTS[round(bearing_deg % 360.0 / 22.5) % 16]


def coordinates(site: Site, crs: str, printer: Printer, width: float) -> list[Block]:
    """The place in every form, and which point it is."""
    place = site.place
    big = fit(place.ddm, width, TextStyle(size_pt=13.0, bold=True), lines=2, floor_pt=9.0)
    height = "no terrain data" if site.elevation_m is None else printer.height(site.elevation_m)
    rows = [
        ("Decimal degrees", place.decimal),
        ("USNG", place.usng),
        ("Grid", _grid_words(place)),
        ("Grid's CRS", crs_words(crs)),
        ("Datum", f"{place.datum} (degrees, USNG)"),
        ("Elevation", height),
    ]
    return [
        heading("Which point: middle of the ring", width),
        *set_lines(big),
        gap(0.6),
        *[pair(name, value, width) for name, value in rows],
        gap(1.6),
    ]


def _grid_words(place: Place) -> str:
    east, north = (f"{round(v):,}".replace(",", " ") for v in (place.x_m, place.y_m))
    return f"{east} m E   {north} m N"


def factor_bars(site: Site, width: float) -> list[Block]:
    """A bar and a sentence for each factor, and the share of the weight that had data."""
    title = heading("What makes the score", width)
    blocks = [title]
    for reading in site.readings:
        blocks += _bar(reading, width, title)
    share = f"{site.data_share * 100:.0f} % of the weight rests on data."
    if any(r.value is None for r in site.readings):
        share += " Dashed: unknown, not zero."
    return [*blocks, *paragraph(share, width, BODY), gap(1.2)]


def _bar(reading: FactorReading, width: float, again: Block) -> list[Block]:
    name = fit(reading.title, width * 0.40, BOLD, lines=2)
    sentence = Fitted(lines=tuple(wrap(reading.sentence, width, BODY)), style=BODY)
    bar_x, bar_width = width * 0.42, width * 0.30
    label = f"no data, weight {reading.weight:g}"
    if reading.value is not None:
        label = f"{reading.value * 100:.0f}, adds {reading.points:.0f} points"
    words = fit(label, width * 0.26, TextStyle(size_pt=7.5))

    def draw(page: Page, x: float, y: float) -> None:
        page.lines(x, y, name)
        bar = Box(x + bar_x, y + 0.7, bar_width, 2.6)
        if reading.value is None:
            page.area(bar, AreaLook(outline=LineLook(colour=GREY, width_pt=0.7, dashes=(2.0, 1.6))))
        else:
            filled = min(max(reading.value, 0.0), 1.0) * bar_width
            page.area(Box(bar.x, bar.y, filled, bar.height), AreaLook(fill="#5a5a5a"))
            page.area(bar, AreaLook(outline=LineLook(width_pt=0.7)))
        page.text(bar.right + 1.5, y + BODY.ascent_mm, words.lines[0], words.style)

    row = Block(
        height_mm=max(name.height_mm, BODY.line_mm) + 0.5, draw=draw, keep_next=bool(sentence.lines), again=again
    )
    return [row, *set_lines(sentence, again=again), gap(0.9)]


def hazards(site: Site, printer: Printer, width: float) -> list[Block]:
    """The nearest thing of each kind: distance, direction, detail, source; what is missing said loudly."""
    title = heading("Nearest hazards, from the middle of the ring", width)
    if not site.hazards:
        return [title, *paragraph("NOT MAPPED: no hazard layer was given. Look on the ground.", width, BOLD)]
    return [title, *[b for h in site.hazards for b in _hazard(h, printer, width, title)], gap(1.2)]


def _hazard(hazard: Hazard, printer: Printer, width: float, again: Block) -> list[Block]:
    known = hazard.distance_m is not None
    name = _name(hazard.title, width * 0.35)
    where = "NOT MAPPED: look"
    if hazard.distance_m is not None:
        toward = "" if hazard.bearing_deg is None else f"  {compass_point(hazard.bearing_deg)}"
        where = f"{printer.length(hazard.distance_m)}{toward}"
    split = 0.62 if known else 0.72
    middle = fit(where, width * (split - 0.37), BOLD)
    detail = Fitted(lines=tuple(wrap(hazard.detail, width * (1 - split), BODY)), style=BODY)
    source = Fitted(lines=tuple(wrap(hazard.source, width, SMALL)), style=SMALL)

    def draw(page: Page, x: float, y: float) -> None:
        page.line((x, x + width), (y, y), LineLook(colour=FAINT, width_pt=0.6))
        page.lines(x, y + 0.3, name)
        page.lines(x + width * 0.36, y + 0.3, middle)
        page.lines(x + width * split, y + 0.3, detail)

    height = max(name.height_mm, detail.height_mm, BODY.line_mm) + 0.4
    row = Block(height_mm=height, draw=draw, keep_next=bool(source.lines), again=again)
    return [row, *set_lines(source, again=again), gap(0.5)]


def _name(title: str, width: float) -> Fitted:
    """One line where the type need not shrink much for it, else two."""
    once = fit(title, width, BOLD, floor_pt=7.0)
    return fit(title, width, BOLD, lines=2) if once.cut else once


def reasons(site: Site, width: float) -> list[Block]:
    """Why the site is where it is in the ranking, and how firm its rank is."""
    title = heading("Why here", width)
    given = site.why or ("no reason given",)
    blocks = [title]
    if site.standing is not None:
        blocks += paragraph(standing_words(site.standing), width, BOLD, again=title)
    return [*blocks, *bullets(given, width, again=title), gap(1.2)]


def flags(site: Site, width: float) -> list[Block]:
    """What nobody must miss; nothing without any."""
    if not site.flags:
        return []
    title = heading("Flags", width)
    return [title, *bullets(site.flags, width, BOLD, again=title), gap(1.2)]


def cameras_near(site: Site, width: float) -> list[Block]:
    """What cameras near the site saw; nothing without any."""
    if not site.seen_by:
        return []
    title = heading("Cameras near", width)
    return [title, *bullets(site.seen_by, width, again=title), gap(1.2)]


def support(site: Site, width: float) -> list[Block]:
    """What is expected to hold the ring."""
    title = heading("What can hold the ring", width)
    words = _SUPPORT.get(site.support, site.support)
    blocks = [title, *paragraph(f"Expected: {words}.", width, BOLD, again=title)]
    blocks += paragraph(site.support_note, width, BODY, again=title)
    return [*blocks, gap(1.2)]

