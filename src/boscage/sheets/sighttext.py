"""Who sees a set, in words and figures."""

from __future__ import annotations

import math

from boscage.model.exposure import NOT_KNOWN, Exposure, Sighting
from boscage.model.layers import LAYER_TITLES
from boscage.model.results import ScoutResult
from boscage.sheets.flow import Block, gap, loud, paragraph
from boscage.sheets.sitetext import compass_point
from boscage.sheets.style import BODY, TextStyle
from boscage.sheets.waytable import NOTE, Card, Column, Row, cards, table
from boscage.values import Printer

NOT_ASKED = "Who sees it was not worked out in this run, so it is not known: the factor `concealment` is left out."
NOBODY = "No sampled place sees it."
_BIG = TextStyle(size_pt=11.0, bold=True)
_FIXED = (6.0, 17.0, 17.0, 15.5, 16.0)


def looks_words(looks: float) -> str:
    """Sightings a day with no more figures than they deserve.

    >>> [looks_words(v) for v in (0.0, 0.03, 0.34, 3.44, 34.4, 344.0)]
    ['0', 'under 0.1', '0.3', '3.4', '34', '340']
    """
    if not math.isfinite(looks):
        return "not known"
    if 0.0 < looks < 0.1:
        return "under 0.1"
    if looks < 9.95:
        return f"{looks:.1f}" if looks else "0"
    return f"{round(looks, 1 - math.floor(math.log10(looks))):,.0f}"


def share_words(share: float) -> str:
    """Share of sight left, per cent.

    >>> share_words(0.344), share_words(0.002), share_words(1.0)
    ('34 %', 'under 1 %', '100 %')
    """
    if not math.isfinite(share):
        return "not known"
    return "under 1 %" if 0.0 < share < 0.01 else f"{share * 100:.0f} %"


def sight_blocks(exposure: Exposure | None, result: ScoutResult, width: float) -> list[Block]:
    """The part of the page on who sees the set, without its heading, for a column of that width in mm."""
    if exposure is None:
        return paragraph(NOT_KNOWN if "concealment" in result.factor_weights else NOT_ASKED, width, _BIG)
    reach = Printer(result.plan.ranch.units).length(exposure.radius_m)
    lacking = _not_mapped(result)
    blocks = loud(lacking, width) if lacking else []
    if len(exposure.watchers) == 0:
        text = f"No road, track, dwelling or parcel line is mapped within {reach}: no line of sight was looked along."
        return [*paragraph(text, width, _BIG), *paragraph("That is NOT the same as none.", width, _BIG), *blocks]
    if exposure.worst:
        blocks = [_figures(exposure, width), gap(1.6), *_worst(exposure, result, width), *blocks]
    else:
        some = exposure.net_looks > 0.0 or exposure.activity_looks > 0.0
        figures = [_figures(exposure, width), gap(1.6)] if some else []
        blocks = [*paragraph(NOBODY, width, _BIG), *figures, *blocks]
    count = len(exposure.watchers)
    places = f"{count} sampled places" if count > 1 else "one sampled place"
    caution = (
        f"Only mapped roads, tracks, dwellings and parcel lines within {reach} were looked at, at {places}. People "
        "elsewhere, and on ways that are not mapped, are not counted."
    )
    return [*blocks, *paragraph(caution, width, BODY)]


def _figures(exposure: Exposure, width: float) -> Block:
    items = (
        Card(label="the net's top", value=looks_words(exposure.net_looks), note="expected sightings a day"),
        Card(label="the crew at the set", value=looks_words(exposure.activity_looks), note="expected sightings a day"),
    )
    return cards(items, width)


def _worst(exposure: Exposure, result: ScoutResult, width: float) -> list[Block]:
    printer = Printer(result.plan.ranch.units)
    titles = ("seen from (number on the map)", "distance", "direction", "sight left", "sightings a day")
    widths = (width - sum(_FIXED), *_FIXED[1:])
    columns = [Column(title="", width_mm=_FIXED[0])]
    columns += [Column(title=t, width_mm=w) for t, w in zip(titles, widths, strict=True)]
    rows = [Row(cells=_cells(k, s, printer)) for k, s in enumerate(exposure.worst, start=1)]
    note = (
        "Sight left: what a person at the place has of an open view of the net's top. At 100 % nothing is in "
        "between; leaves, stems and ground take the rest. Direction and distance are from the set."
    )  # fmt: skip
    return [*table(columns, rows), gap(0.8), *paragraph(note, width, NOTE), gap(0.6)]


def _cells(number: int, seen: Sighting, printer: Printer) -> tuple[str, ...]:
    who = f"{seen.kind}: {seen.name}" if seen.name else seen.kind
    toward = compass_point(seen.bearing_deg)
    return str(number), who, printer.length(seen.distance_m), toward, share_words(seen.share), looks_words(seen.looks)


def _not_mapped(result: ScoutResult) -> str:
    """A loud line where people's places are not mapped, or ''."""
    lacking = [LAYER_TITLES[name] for name in ("tracks", "dwellings") if name in result.missing_layers]
    if not lacking:
        return ""
    return f"NOT MAPPED: {', '.join(lacking)}. Who looks from there is not counted. NOT the same as nobody."
