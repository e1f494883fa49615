"""Looks: the one table of colours, widths, dashes, hatches and type sizes that maps, legends and pages share.

Every look differs from its neighbours by line, hatch, letter or shape, never by colour alone, so that a sheet
printed in black and white still reads.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

INK = "#111111"
GREY = "#4a4a4a"
PALE = "#9c9c9c"
FAINT = "#d4d4d4"
BLUE = "#2a587c"
BROWN = "#8a7a62"
PAPER = "#ffffff"

MM_PER_PT = 25.4 / 72.0
LINE_FACTOR = 1.22
BODY_PT = 8.0
SMALL_PT = 6.5
FLOOR_PT = 6.0
IMAGE_DPI = 150

RC: Mapping[str, Any] = {
    "pdf.fonttype": 42,
    "pdf.compression": 9,
    "font.family": ["DejaVu Sans"],
    "text.hinting": "none",
    "text.parse_math": False,
    "hatch.linewidth": 0.45,
    "path.simplify": True,
    "path.simplify_threshold": 0.08,
    "figure.dpi": 72.0,
    "image.composite_image": False,
}


@dataclass(frozen=True, kw_only=True)
class TextStyle:
    """How a piece of text is set.

    Attributes:
        size_pt: Type size in points.
        align: `left`, `center` or `right` of the given place.
        valign: `baseline`, `top`, `center` or `bottom`.
        rotation_deg: Counter-clockwise.
        backing: Whether a white ground is laid under the text.
    """

    size_pt: float = BODY_PT
    bold: bool = False
    italic: bool = False
    colour: str = INK
    align: str = "left"
    valign: str = "baseline"
    rotation_deg: float = 0.0
    backing: bool = False

    @property
    def line_mm(self) -> float:
        """Distance from one baseline to the next, mm."""
        return self.size_pt * MM_PER_PT * LINE_FACTOR

    @property
    def ascent_mm(self) -> float:
        """Distance from the top of a line to its baseline, mm."""
        return self.size_pt * MM_PER_PT * 0.93


BODY = TextStyle()
BOLD = TextStyle(bold=True)
SMALL = TextStyle(size_pt=SMALL_PT, colour=GREY)
LABEL = TextStyle(size_pt=SMALL_PT, colour=GREY, bold=True)


@dataclass(frozen=True, kw_only=True)
class LineLook:
    """One pass of a line: colour, width in points, dashes in points (empty: solid)."""

    colour: str = INK
    width_pt: float = 0.8
    dashes: tuple[float, ...] = ()
    cap: Literal["butt", "round"] = "butt"


THIN = LineLook()


@dataclass(frozen=True, kw_only=True)
class AreaLook:
    """An area: fill (or none), hatch and its colour, outline; cased: a white line lies under the outline."""

    fill: str = "none"
    hatch: str = ""
    hatch_colour: str = GREY
    outline: LineLook | None = None
    cased: bool = False


LINES: Mapping[str, tuple[LineLook, ...]] = {
    "road": (LineLook(width_pt=2.7), LineLook(colour=PAPER, width_pt=1.4)),
    "track": (LineLook(colour=PAPER, width_pt=2.0), LineLook(width_pt=1.0, dashes=(5.0, 1.6))),
    "trail": (LineLook(colour=PAPER, width_pt=1.6), LineLook(width_pt=0.8, dashes=(1.6, 1.4))),
    "creek": (LineLook(colour=BLUE, width_pt=1.0),),
    "creek_dry": (LineLook(colour=BLUE, width_pt=0.9, dashes=(6.0, 1.4, 1.0, 1.4, 1.0, 1.4)),),
    "power_line": (LineLook(colour=PAPER, width_pt=2.4), LineLook(width_pt=0.9)),
    "fence": (LineLook(width_pt=0.55),),
    "gate": (LineLook(colour=PAPER, width_pt=3.0), LineLook(width_pt=1.5)),
    "contour": (LineLook(colour=BROWN, width_pt=0.35),),
    "contour_index": (LineLook(colour=BROWN, width_pt=0.75),),
    "reach": (LineLook(colour=PAPER, width_pt=1.9), LineLook(width_pt=0.75, dashes=(3.6, 2.4))),
    "use_half": (LineLook(colour=PAPER, width_pt=3.8), LineLook(width_pt=1.9)),
    "use_most": (LineLook(colour=PAPER, width_pt=3.2), LineLook(width_pt=1.4, dashes=(2.2, 1.1))),
    "way_in": (
        LineLook(colour=PAPER, width_pt=3.4, cap="round"),
        LineLook(width_pt=2.4, dashes=(0.01, 3.6), cap="round"),
    ),
    "way_vehicle": (
        LineLook(colour=PAPER, width_pt=6.2),
        LineLook(width_pt=4.8),
        LineLook(colour=PAPER, width_pt=2.4),
    ),
    "way_atv": (LineLook(colour=PAPER, width_pt=4.6), LineLook(width_pt=3.0, dashes=(3.0, 1.0))),
    "way_foot": (
        LineLook(colour=PAPER, width_pt=4.6, cap="round"),
        LineLook(width_pt=3.0, dashes=(0.01, 2.1), cap="round"),
    ),
}

AREAS: Mapping[str, AreaLook] = {
    "granted": AreaLook(outline=LineLook(width_pt=1.3)),
    "refused": AreaLook(
        cased=True, hatch="xxx", hatch_colour=PALE, outline=LineLook(width_pt=1.5, dashes=(7.0, 2.0, 1.2, 2.0))
    ),
    "unknown": AreaLook(cased=True, hatch="..", hatch_colour=GREY, outline=LineLook(width_pt=1.3, dashes=(1.2, 1.8))),
    "ruled_out": AreaLook(
        hatch="//",
        hatch_colour="#6f6f6f",
        outline=LineLook(colour="#6f6f6f", width_pt=0.5, dashes=(2.0, 1.2)),
    ),
    "no_go": AreaLook(hatch="||", hatch_colour=GREY, outline=LineLook(width_pt=1.1, dashes=(4.0, 1.2, 1.2, 1.2))),
    "pond": AreaLook(fill="#cfdde6", hatch="----", hatch_colour=BLUE, outline=LineLook(colour=BLUE, width_pt=0.8)),
}

# A gate: length of its two bars across the way, and between them, mm.
GATE_BAR_MM, GATE_GAP_MM = 3.0, 1.5

PERMISSION_LETTERS: Mapping[str, str] = {"granted": "G", "refused": "NO", "unknown": "?"}

# Canopy, from open ground to closed: tints that darken step by step, and the spacing in pixels of the dots
# printed over the two densest (0: no dots).
CANOPY_TINTS = ((252, 250, 244), (233, 239, 224), (218, 228, 206), (203, 216, 191))
CANOPY_DOTS = (0, 0, 11, 7)
NO_CANOPY_TINT = (250, 250, 250)
COVER_STEPS_PERCENT = (20.0, 50.0, 75.0)
HEIGHT_STEPS_M = (2.0, 8.0, 16.0)
SHADE_LEVELS = 6

LAYER_ORDER: Mapping[str, float] = {
    "image": 0.0, "contour": 2.0, "ruled_out": 3.0, "pond": 3.5, "creek": 3.6, "permission": 4.0, "no_go": 4.3,
    "parcel_line": 4.6, "fence": 4.8, "tracks": 5.0, "power_line": 6.0,
    "isopleth": 6.4, "reach": 6.5, "way_in": 7.0, "gate": 7.5, "sign": 8.0,
    "dwelling": 8.2, "site": 9.0, "label": 10.0,
}  # fmt: skip
