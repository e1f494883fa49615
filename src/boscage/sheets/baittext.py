"""Bait places against the published spacing: each with its nearest neighbour, and the land beyond reach of any."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from boscage.model.findings import Evidence
from boscage.model.portfolio import BaitOptions, BaitPlace, BaitSpacing
from boscage.model.results import ScoutResult
from boscage.sheets.evidencewords import known_share
from boscage.sheets.flow import Block, Column, gap, heading, loud, paragraph, table
from boscage.sheets.groundwords import NOT_KNOWN, counted
from boscage.sheets.style import SMALL, TextStyle
from boscage.sheets.usemap import bait_cameras, camera_marks
from boscage.values import Printer

NO_BAIT = "NO BAIT PLACES are written down: whether bait is spaced well is not known."
SOURCE = "Snow and VerCauteren (2019), Crop Prot. 124:104835"
_CELL, _STRONG = TextStyle(size_pt=7.0), TextStyle(size_pt=7.0, bold=True)
_FIXED = (9.0, 19.0, 15.0, 18.0, 20.0, 30.0, 30.0)
_SHOWN_GAPS, _KEPT = 6, 3


def bait_blocks(result: ScoutResult, width: float) -> list[Block]:
    """Everything on bait."""
    evidence, limits, printer = result.evidence, result.plan.bait, Printer(result.plan.ranch.units)
    assert evidence is not None, "asked only where there is evidence"
    is_published = (limits.least, limits.most) == (BaitOptions().least, BaitOptions().most)
    spaced = f"{printer.length(limits.least.m)} to {printer.length(limits.most.m)}"
    whose = "published" if is_published else "plan's"
    title = f"Bait places against the {whose} spacing of {spaced}"
    if evidence.bait is None:
        return [heading(title, width), *loud(NO_BAIT, width), gap(2.0)]
    _, unmapped = camera_marks(evidence, result.sites)
    head, *rows = _table(evidence, unmapped, printer, width, title)
    kept = [replace(b, keep_next=k + 1 < len(rows)) for k, b in enumerate(rows[:_KEPT])]
    blocks = [head, *kept, *rows[_KEPT:], gap(1.0)]
    blocks += paragraph(f"Published: {SOURCE}.", width, SMALL)
    for note in evidence.bait.notes:
        blocks += paragraph(note, width, bullet=True)
    if unmapped:
        blocks += paragraph(f"Not on the map, no camera or site has the name: {', '.join(unmapped)}.", width)
    return [*blocks, *_land(evidence.bait, printer, width), gap(2.0)]


def _table(evidence: Evidence, unmapped: Sequence[str], printer: Printer, width: float, title: str) -> list[Block]:
    heads = ("no.", "place", "on the map", "nearest", "distance", "state", "off permitted land", "own land in reach")
    widths = (_FIXED[0], width - sum(_FIXED), *_FIXED[1:])
    columns = [
        Column(title=t, width_mm=w, style=_STRONG if t in ("no.", "place", "state") else _CELL)
        for t, w in zip(heads, widths, strict=True)
    ]
    assert evidence.bait is not None, "asked only where bait is written down"
    cameras = bait_cameras(evidence)
    marks = [f"C{cameras[k] + 1}" if k in cameras else f"B{k + 1}" for k in range(len(evidence.bait.places))]
    rows = [
        _row((k, _name(k, evidence.bait_names), "not on it" if mark in unmapped else mark), place, printer)
        for k, (mark, place) in enumerate(zip(marks, evidence.bait.places, strict=True))
    ]
    return table(columns, rows, title=heading(title, width))


def _row(named: tuple[int, str, str], place: BaitPlace, printer: Printer) -> tuple[str, ...]:
    index, name, mark = named
    distance = NOT_KNOWN if math.isnan(place.nearest_m) else printer.length(place.nearest_m)
    nearest = "none" if place.nearest is None else f"B{place.nearest + 1}"
    own = NOT_KNOWN if math.isnan(place.own_ha) else printer.area(place.own_ha)
    state = place.state if place.state == "spaced" else place.state.upper()
    return (f"B{index + 1}", name, mark, nearest, distance, state, known_share(place.outside_share), own)


def _name(index: int, names: tuple[str, ...]) -> str:
    return names[index] if index < len(names) else "no name"


def _land(spacing: BaitSpacing, printer: Printer, width: float) -> list[Block]:
    """Land beyond reach of any bait place, and its widest stretches."""
    if math.isnan(spacing.unreached_ha):
        return paragraph("Land beyond reach of bait: not known.", width)
    reached, beyond = printer.area(spacing.reached_ha), printer.area(spacing.unreached_ha)
    blocks = paragraph(f"Land with permission in reach of bait: {reached}; beyond reach of any: {beyond}.", width)
    shown = [
        f"{printer.area(float(ha))} round {_metres(east)} m E, {_metres(north)} m N"
        for east, north, ha in spacing.gaps[:_SHOWN_GAPS]
    ]
    if shown:
        left = len(spacing.gaps) - len(shown)
        rest = f"; {counted(left, 'further one', 'further ones')}" if left else ""
        blocks += paragraph(f"Stretches beyond reach, widest first: {'; '.join(shown)}{rest}.", width)
    return blocks


def _metres(value: float) -> str:
    return f"{round(value):,}".replace(",", " ")
