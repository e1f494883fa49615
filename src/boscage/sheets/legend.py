"""The legend of a map: only what is on it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

from matplotlib.lines import Line2D
from matplotlib.patches import Circle
from matplotlib.path import Path

from boscage.sheets.content import MapKey
from boscage.sheets.page import Box, Page
from boscage.sheets.setmarks import draw_chosen_swatch
from boscage.sheets.style import (
    AREAS,
    CANOPY_TINTS,
    COVER_STEPS_PERCENT,
    FLOOR_PT,
    GATE_BAR_MM,
    GATE_GAP_MM,
    HEIGHT_STEPS_M,
    INK,
    LINES,
    PAPER,
    PERMISSION_LETTERS,
    AreaLook,
    LineLook,
    TextStyle,
)
from boscage.sheets.symbols import DWELLING, SIGN_HALF_MM, sign_paths
from boscage.sheets.typeset import fit
from boscage.values import Printer

ROW_MM = 4.3
_SWATCH_MM = 8.0
_TEXT = TextStyle(size_pt=6.5)
_WORDS = {
    "way_vehicle": "way in by vehicle",
    "way_atv": "way in by ATV",
    "way_foot": "way in on foot",
    "granted": f"{PERMISSION_LETTERS['granted']}: permission granted",
    "refused": f"{PERMISSION_LETTERS['refused']}: permission refused",
    "unknown": f"{PERMISSION_LETTERS['unknown']}: permission unknown",
    "ruled_out": "ruled out",
    "no_go": "no-go area",
    "pond": "pond",
    "creek": "creek",
    "creek_dry": "creek, runs dry",
    "road": "road",
    "track": "track",
    "trail": "trail",
    "fence": "fence",
    "power_line": "power line",
    "way_in": "way in",
    "reach": "reach of a chosen set",
    "use_half": "line round 50 % of use",
    "use_most": "line round 95 % of use",
}
_GATE_WORDS = {"gate": "gate", "gate_locked": "gate, locked"}


@dataclass(frozen=True)
class Entry:
    """One row of a legend: its words and what draws the swatch in a box."""

    words: str
    draw: Callable[[Page, Box], None]


def entries(key: MapKey, printer: Printer) -> list[Entry]:
    """Rows for what a map shows, in a fixed order."""
    rows = []
    if "ring" in key.shown:
        rows.append(Entry("ring, to scale", draw_ring_swatch))
    if "site" in key.shown:
        rows.append(Entry("ranked site", _disc))
    if "chosen" in key.shown:
        rows.append(Entry("chosen set", draw_chosen_swatch))
    rows += [Entry(w, _swatch(n)) for n, w in _WORDS.items() if n in key.shown]
    rows += [Entry(w, partial(_gate, locked=n == "gate_locked")) for n, w in _GATE_WORDS.items() if n in key.shown]
    if "dwelling" in key.shown:
        rows.append(Entry("dwelling", partial(_marker, path=DWELLING)))
    rows += [
        Entry(f"sign: {kind}", partial(_marker, path=path))
        for kind, path in sign_paths().items()
        if kind in key.sign_kinds
    ]
    if key.sign_kinds:
        rows.append(Entry("3 days, 14 days, older", _ages))
    if key.contour_interval_m is not None:
        rows.append(Entry(f"contours every {_interval(key.contour_interval_m, printer)}", _contours))
    return rows + _canopy(key, printer)


def _interval(metres: float, printer: Printer) -> str:
    return f"{metres / 0.3048:g} ft" if printer.units == "us" else f"{metres:g} m"


def _canopy(key: MapKey, printer: Printer) -> list[Entry]:
    """One row of four tints, from open ground to closed canopy, and one for ground without data."""
    unknown = [Entry("canopy not known", _unknown)] if key.canopy_unknown else []
    if key.canopy == "height":
        unit = "ft" if printer.units == "us" else "m"
        steps = [f"{h / 0.3048:.0f}" if printer.units == "us" else f"{h:g}" for h in HEIGHT_STEPS_M]
        return [Entry(f"canopy 0 {' '.join(steps)} {unit}+", _tints), *unknown]
    if key.canopy == "cover":
        steps = [f"{s:.0f}" for s in COVER_STEPS_PERCENT]
        return [Entry(f"cover 0 {' '.join(steps)} %+", _tints), *unknown]
    return []


def draw_legend(page: Page, box: Box, rows: list[Entry], *, columns: int, least_pt: float = FLOOR_PT) -> None:
    """Set rows column by column in a box, closer together when there are many; no type under `least_pt`."""
    style = replace(_TEXT, size_pt=max(_TEXT.size_pt, least_pt))
    per_column = max(1, -(-len(rows) // columns))
    pitch = min(ROW_MM, box.height / per_column)
    width = box.width / columns
    for k, row in enumerate(rows):
        column, line = divmod(k, per_column)
        x, y = box.x + column * width, box.y + line * pitch
        high = min(2.9, pitch - 0.8)
        row.draw(page, Box(x, y + (pitch - high) / 2, _SWATCH_MM - 1.5, high))
        words = fit(row.words, width - _SWATCH_MM - 1.0, style, lines=1, floor_pt=least_pt)
        page.text(x + _SWATCH_MM, y + pitch / 2 + words.style.size_pt * 0.13, words.lines[0], words.style)


def _swatch(name: str) -> Callable[[Page, Box], None]:
    def draw(page: Page, box: Box) -> None:
        if name in AREAS:
            page.area(box, AREAS[name])
            return
        middle = box.y + box.height / 2
        for look in LINES[name]:
            page.line((box.x, box.right), (middle, middle), look)
        if name == "power_line":
            for share in (0.25, 0.75):
                x = box.x + share * box.width
                page.line((x, x), (middle - 0.9, middle + 0.9), LINES[name][-1])
        if name == "fence":
            for share in (0.2, 0.8):
                x = box.x + share * box.width
                for rise in (-0.6, 0.6):
                    page.line((x - 0.6, x + 0.6), (middle - rise, middle + rise), LINES[name][-1])

    return draw


def _gate(page: Page, box: Box, *, locked: bool) -> None:
    """A gate on a track."""
    middle, x = box.y + box.height / 2, box.x + box.width / 2
    half, gap = min(GATE_BAR_MM, box.height) / 2, GATE_GAP_MM / 2
    for look in LINES["track"]:
        for start, end in ((box.x, x - gap), (x + gap, box.right)):
            page.line((start, end), (middle, middle), look)
    for look in LINES["gate"]:
        for at in (x - gap, x + gap):
            page.line((at, at), (middle - half, middle + half), look)
        if locked:
            page.line((x - gap, x + gap), (middle, middle), look)


def _tints(page: Page, box: Box) -> None:
    width = box.width / len(CANOPY_TINTS)
    for step, (red, green, blue) in enumerate(CANOPY_TINTS):
        own = Box(box.x + step * width, box.y, width, box.height)
        page.area(own, AreaLook(fill=f"#{red:02x}{green:02x}{blue:02x}", outline=LineLook(width_pt=0.3)))
        for k in range(0 if step < 2 else step):
            x, y = own.x + (0.6 if k % 2 else 1.2), own.y + (k + 0.7) * box.height / (step + 0.4)
            page.line((x, x + 0.2), (y, y), LineLook(colour="#60705a", width_pt=0.5))


def _unknown(page: Page, box: Box) -> None:
    page.area(box, AreaLook(hatch="\\\\\\\\", hatch_colour="#b0b0b0", outline=LineLook(width_pt=0.3)))


def _marker(page: Page, box: Box, *, path: Path, fill: str = INK, share: float = 0.5) -> None:
    page.figure.add_artist(
        Line2D(
            [box.x + share * box.width],
            [box.y + box.height / 2],
            transform=page.transform,
            ls="none",
            marker=path,
            ms=2 * SIGN_HALF_MM / 25.4 * 72,
            mfc=fill,
            mec=INK,
            mew=0.6,
        )
    )


def _ages(page: Page, box: Box) -> None:
    for share, fill in ((0.15, INK), (0.5, "#a8a8a8"), (0.85, PAPER)):
        _marker(page, box, path=sign_paths()["rooting"], fill=fill, share=share)


def _disc(page: Page, box: Box) -> None:
    at = (box.x + box.width / 2, box.y + box.height / 2)
    page.figure.add_artist(Circle(at, 1.4, fc=PAPER, ec=INK, lw=1.1, transform=page.transform))


def draw_ring_swatch(page: Page, box: Box) -> None:
    """A ring with the arms that point at it."""
    x, y = box.x + box.width / 2, box.y + box.height / 2
    page.figure.add_artist(Circle((x, y), 0.9, fc="none", ec=INK, lw=1.1, transform=page.transform))
    for i, j in ((1, 0), (-1, 0), (0, 1), (0, -1)):
        page.line((x + i * 1.3, x + i * 2.0), (y + j * 1.2, y + j * 1.6), LineLook(width_pt=1.0))


def _contours(page: Page, box: Box) -> None:
    for dy, name in ((0.9, "contour"), (2.0, "contour_index")):
        page.line((box.x, box.right), (box.y + dy, box.y + dy), LINES[name][0])
