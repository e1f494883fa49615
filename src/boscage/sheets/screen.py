"""The map and the sheets on a screen: drawn by the same hand as on paper, into pixels.

`map_pixels` paints the ground itself (`sheets.screenground`) and has `sheets.mapdraw.draw_map` draw the features over
it. A figure's axes would take most of the time of a small picture, so features are drawn on a `Slate` in their place.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any, cast

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg, RendererAgg
from matplotlib.backends.backend_pdf import FigureCanvasPdf
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.text import Text
from matplotlib.transforms import Affine2D
from numpy.typing import NDArray

from boscage.model.desk import TILE_DPI, ViewFrame
from boscage.sheets import mapdraw
from boscage.sheets.content import MapContent, MapKey
from boscage.sheets.features import Sketch
from boscage.sheets.frame import MapFrame
from boscage.sheets.page import Page
from boscage.sheets.pdf import own_settings
from boscage.sheets.relief import Contours
from boscage.sheets.screencolours import COLOURS, ScreenColours
from boscage.sheets.screenground import ScreenGround, draw_lines, paint_ground, trace_lines
from boscage.sheets.shapes import area_path, clip, draw_area, pieces
from boscage.sheets.style import AREAS, LAYER_ORDER
from boscage.values import Bounds

OVER_ORDER = LAYER_ORDER["site"] - 0.5
"""What is drawn from here on up lies over the tiles."""
_EDGE_PX = 40.0  # marks that stand this near outside a picture still reach into it
_OUTLINED_MM = 1.0
_MOST_OUTLINED = 6000
"""Vertices of ruled-out areas up to which they are outlined; finding their wide parts takes long with more."""


@dataclass(frozen=True, kw_only=True)
class ScreenContent:
    """What a picture of the map shows.

    Attributes:
        content: Features, names and sites; its own ground and stops are not drawn.
        ground: What is under them.
        stops: Shapely areas that are ruled out, apart from permission, which the parcels show; none where the ground
            has them painted.
        palette: One of `boscage.model.desk.PALETTES`.
    """

    content: MapContent
    ground: ScreenGround = field(default_factory=ScreenGround)
    stops: Sequence[Any] = ()
    palette: str = "standard"


def map_pixels(frame: ViewFrame, shown: ScreenContent, *, part: str = "all", scale: float = 1.0) -> NDArray[np.uint8]:
    """Draw a map frame; (rows, cols, 4) red, green, blue, opacity.

    Args:
        frame: The ground and the size in pixels.
        shown: What to draw.
        part: `ground` without names and sites, `over` these alone on a clear ground, or `all`.
        scale: Device pixels per pixel.
    """
    return draw_picture(frame, shown, part=part, scale=scale)[0]


def draw_picture(
    frame: ViewFrame, shown: ScreenContent, *, part: str, scale: float
) -> tuple[NDArray[np.uint8], MapKey]:  # fmt: skip
    """As `map_pixels`, with what the picture turned out to show."""
    colours = COLOURS[shown.palette]
    shape = round(frame.height_px * scale), round(frame.width_px * scale)
    paper = paper_frame(frame.bounds, frame.metres_per_px)
    with own_settings():
        slate = Slate(frame.bounds, shape, TILE_DPI * scale, colours)
        key = _draw_features(slate, frame, shown, part)
        if part == "over":
            return slate.pixels(least_order=OVER_ORDER), key
        under = paint_ground(shown.ground, paper, shape, colours, scale)
        over = slate.pixels(most_order=OVER_ORDER if part == "ground" else np.inf)
    return laid_over(over, under), key


def paper_frame(bounds: Bounds, metres_per_px: float) -> MapFrame:
    """Ground as a frame of the sheets, `TILE_DPI` pixels to the inch."""
    mm_per_px = 25.4 / TILE_DPI
    width, height = (side / metres_per_px * mm_per_px for side in (bounds.width, bounds.height))
    return MapFrame(bounds, metres_per_px / mm_per_px * 1000.0, width, height)


def laid_over(over: NDArray[np.uint8], under: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """A picture with opacity laid over one without."""
    share = over[..., 3:].astype(np.uint16)
    mixed = over[..., :3] * share + under * (255 - share) + 127
    out = np.empty(over.shape, dtype=np.uint8)
    out[..., :3] = mixed // 255
    out[..., 3] = 255
    return out


def _draw_features(slate: Slate, frame: ViewFrame, shown: ScreenContent, part: str) -> MapKey:
    """Have the sheets draw features, with stops and contours of the content; marks just outside reach in."""
    edge = _EDGE_PX * frame.metres_per_px if part == "ground" else 0.0
    paper = paper_frame(frame.bounds.padded(edge), frame.metres_per_px)
    contours = trace_lines(shown.ground, paper)
    names = shown.content.names and part != "ground"
    content = replace(shown.content, ground=False, names=names, stops=())
    if part == "ground":
        content = replace(content, sites=(), focus=None, sets=())

    def overlay(sketch: Sketch) -> None:
        if part != "over":
            _draw_stops(sketch, shown.stops)
            if contours is not None:
                draw_lines(sketch.axes, contours, sketch.frame)
        if names and contours is not None:
            _label(sketch, contours)
        if contours is not None:
            sketch.key.contour_interval_m = contours.interval_m

    key = mapdraw.draw_map(cast(Axes, slate), paper, content, overlay)
    ground = shown.ground
    if ground.canopy is not None:
        key.canopy = "height" if ground.is_height else "cover"
    if ground.stopped is not None:
        key.shown.add("ruled_out")
    key.has_relief = ground.elevation is not None and ground.is_shaded
    return key


def _draw_stops(sketch: Sketch, stops: Sequence[Any]) -> None:
    """Ruled-out ground as `features.draw_stops` draws it, from areas that are joined already."""
    inside = [g for g in clip(stops, sketch.frame) if not g.is_empty]
    if not inside:
        return
    look, order = AREAS["ruled_out"], LAYER_ORDER["ruled_out"]
    draw_area(sketch.axes, area_path(inside), replace(look, outline=None), order)
    sketch.key.shown.add("ruled_out")
    if sum(shapely.get_num_coordinates(inside)) > _MOST_OUTLINED:
        return
    thin = _OUTLINED_MM / 2 * sketch.frame.metres_per_mm
    parts = [p for g in inside for p in pieces(g, "Polygon")]
    wide = shapely.buffer(shapely.buffer(parts, -thin, quad_segs=2), thin, quad_segs=4)
    draw_area(sketch.axes, area_path(wide), replace(look, hatch=""), order)


def _label(sketch: Sketch, contours: Contours) -> None:
    """Heights along contours, where there is room, by the sheets' own rules."""
    mapdraw.label_contours(sketch, contours)


class Slate:
    """What features are drawn on in place of a figure's axes: it keeps artists and draws them by their order.

    Args:
        bounds: The ground that fills it.
        shape: Rows and columns in pixels.
        dpi: Pixels to an inch of the looks.
        colours: The palette.
    """

    def __init__(self, bounds: Bounds, shape: tuple[int, int], dpi: float, colours: ScreenColours) -> None:
        rows, cols = shape
        across, up = cols / bounds.width, rows / bounds.height
        self._to_px = Affine2D.from_values(across, 0.0, 0.0, up, -bounds.west * across, -bounds.south * up)
        self._figure = Figure(figsize=(cols / dpi, rows / dpi), dpi=dpi)
        self._shape, self._dpi, self._colours = shape, dpi, colours
        self._artists: list[Patch | Line2D | Text] = []

    def set_xlim(self, *limits: float) -> None:
        """The ground is fixed."""

    def set_ylim(self, *limits: float) -> None:
        """The ground is fixed."""

    def add_patch(self, patch: Patch) -> None:
        """Keep a patch given in metres."""
        self._keep(patch)

    def plot(self, x: Sequence[float], y: Sequence[float], *, scalex: bool, scaley: bool, **look: Any) -> None:
        """Keep marks at places in metres."""
        self._keep(Line2D(x, y, **look))

    def text(self, x: float, y: float, text: str, **look: Any) -> None:
        """Keep a line of text at a place in metres."""
        self._keep(Text(x, y, text, **look))

    def _keep(self, artist: Patch | Line2D | Text) -> None:
        recolour(artist, self._colours)
        artist.set_figure(self._figure)
        artist.set_transform(self._to_px)
        self._artists.append(artist)

    def pixels(self, *, least_order: float = -np.inf, most_order: float = np.inf) -> NDArray[np.uint8]:
        """The artists from one order up to below another; (rows, cols, 4), not premultiplied."""
        renderer = RendererAgg(self._shape[1], self._shape[0], self._dpi)
        for artist in sorted(self._artists, key=lambda a: a.get_zorder()):
            if least_order <= artist.get_zorder() < most_order:
                artist.draw(renderer)
        return np.array(renderer.buffer_rgba())


def recolour(artist: Any, colours: ScreenColours) -> None:
    """Give an artist the palette's inks and widths in place of the sheets'."""
    if not colours.inks:
        return
    if isinstance(artist, Text):
        artist.set_color(_ink(artist.get_color(), colours))
    elif isinstance(artist, Line2D):
        artist.set_color(_ink(artist.get_color(), colours))
        artist.set_markeredgecolor(_ink(artist.get_markeredgecolor(), colours))
        artist.set_markerfacecolor(_ink(artist.get_markerfacecolor(), colours))
        artist.set_linewidth(artist.get_linewidth() * colours.widen)
    elif isinstance(artist, Patch):
        artist.set_edgecolor(_ink(artist.get_edgecolor(), colours))
        if artist.get_fill():
            artist.set_facecolor(_ink(artist.get_facecolor(), colours))
        artist.set_linewidth(artist.get_linewidth() * colours.widen)


def _ink(colour: Any, colours: ScreenColours) -> Any:
    """The palette's own colour for one of the sheets'; what is not drawn stays so."""
    if colour == "none" or (not isinstance(colour, str) and len(colour) == 4 and colour[3] == 0.0):
        return colour
    return colours.inks.get(to_hex(colour), colour)


def page_pixels(page: Page, dpi: float) -> NDArray[np.uint8]:
    """Draw a finished page of a sheet; (rows, cols, 4). The page can be printed afterwards all the same."""
    figure = page.figure
    before = figure.get_dpi()
    with own_settings():
        try:
            figure.set_dpi(dpi)
            canvas = FigureCanvasAgg(figure)
            canvas.draw()
            return np.array(canvas.buffer_rgba())
        finally:
            figure.set_dpi(before)
            FigureCanvasPdf(figure)
