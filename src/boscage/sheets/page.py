"""One printed page: a figure addressed in millimetres from its top left corner."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import FigureCanvasPdf
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.text import Text
from matplotlib.transforms import Affine2D

from boscage.sheets.style import BODY, INK, THIN, AreaLook, LineLook, TextStyle
from boscage.sheets.typeset import Fitted, printable
from boscage.values import Bounds

PAPERS_MM = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}


@dataclass(frozen=True)
class PageMap:
    """Where a map stands on a page, and the ground that fills it.

    Attributes:
        box: The map's rectangle on the page.
        bounds: Ground in metres of the CRS.
        crs: Such as `EPSG:32615`.
    """

    box: Box
    bounds: Bounds
    crs: str


@dataclass(frozen=True)
class Box:
    """An upright rectangle on the page: left edge, top edge, width and height, mm, y downward."""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """Right edge, mm."""
        return self.x + self.width

    @property
    def bottom(self) -> float:
        """Bottom edge, mm."""
        return self.y + self.height


class Page:
    """A page being drawn.

    Args:
        paper: `letter` or `a4`, upright.
        number: The page's number, from 1.
        of: How many pages there are.
    """

    def __init__(self, paper: str, *, number: int = 1, of: int = 1) -> None:
        self.width_mm, self.height_mm = PAPERS_MM[paper]
        self.paper, self.number, self.of = paper, number, of
        self.maps: list[PageMap] = []
        self.figure = Figure(figsize=(self.width_mm / 25.4, self.height_mm / 25.4), dpi=72)
        FigureCanvasPdf(self.figure)
        flip = Affine2D().scale(1, -1).translate(0, self.height_mm).scale(1 / 25.4)
        self.transform = flip + self.figure.dpi_scale_trans

    def text(self, x: float, y: float, text: str, style: TextStyle = BODY) -> Text:
        """Set one line of text."""
        artist = Text(
            x, y, printable(text), transform=self.transform, fontsize=style.size_pt, color=style.colour,
            weight="bold" if style.bold else "normal", style="oblique" if style.italic else "normal",
            ha=style.align, va=style.valign, rotation=style.rotation_deg, rotation_mode="anchor",
            family="DejaVu Sans", parse_math=False, zorder=20,
        )  # fmt: skip
        self.figure.add_artist(artist)
        return artist

    def lines(self, x: float, y: float, fitted: Fitted) -> float:
        """Set fitted lines with the top of the first at y; the answer is the y below the last."""
        for text in fitted.lines:
            self.text(x, y + fitted.style.ascent_mm, text, replace(fitted.style, valign="baseline"))
            y += fitted.style.line_mm
        return y

    def line(self, xs: Sequence[float], ys: Sequence[float], look: LineLook = THIN) -> None:
        """Draw a line through points in mm."""
        dashes: Any = (0, look.dashes) if look.dashes else "-"
        self.figure.add_artist(
            Line2D(
                xs,
                ys,
                transform=self.transform,
                color=look.colour,
                lw=look.width_pt,
                ls=dashes,
                dash_capstyle=look.cap,
                solid_capstyle="butt",
            )
        )

    def area(self, box: Box, look: AreaLook) -> None:
        """Draw a rectangle."""
        place: dict[str, Any] = {"xy": (box.x, box.y), "width": box.width, "height": box.height}
        place["transform"] = self.transform
        if look.fill != "none":
            self.figure.add_artist(Rectangle(**place, facecolor=look.fill, linewidth=0))
        if look.hatch:
            self.figure.add_artist(
                Rectangle(**place, facecolor="none", edgecolor=look.hatch_colour, hatch=look.hatch, linewidth=0)
            )
        if look.outline:
            line = look.outline
            self.figure.add_artist(
                Rectangle(
                    **place,
                    facecolor="none",
                    edgecolor=line.colour,
                    lw=line.width_pt,
                    ls=(0, line.dashes) if line.dashes else "-",
                )
            )

    def tick_box(self, x: float, y: float, *, size_mm: float = 4.0) -> None:
        """Draw an empty square to tick, its top left corner at (x, y)."""
        self.area(Box(x, y, size_mm, size_mm), AreaLook(outline=LineLook(colour=INK, width_pt=0.8)))

    def blank(self, x: float, y: float, width_mm: float) -> None:
        """Draw a line to write on, at height y."""
        self.line((x, x + width_mm), (y, y), LineLook(width_pt=0.6))

    def axes(self, box: Box) -> Axes:
        """Bare axes that fill a box exactly."""
        axes = self.figure.add_axes(
            (box.x / self.width_mm, 1 - box.bottom / self.height_mm,
             box.width / self.width_mm, box.height / self.height_mm)
        )  # fmt: skip
        axes.set_axis_off()
        return axes

    def map_axes(self, box: Box, bounds: Bounds, crs: str) -> Axes:
        """Bare axes for a map, of which the page remembers the ground, so that the PDF can say where it is."""
        self.maps.append(PageMap(box, bounds, crs))
        return self.axes(box)
