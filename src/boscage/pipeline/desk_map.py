"""Pictures of the map: what a tile or a view is painted from, gathered at the scale that it needs."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from boscage.errors import InputError
from boscage.model.desk import (
    LEAST_SCALE,
    MOST_SCALE,
    PALETTES,
    TILE_PX,
    LayerSwitches,
    LegendRow,
    Pixels,
    TileRequest,
    TileScheme,
    ViewFrame,
    ViewRequest,
)
from boscage.model.results import Backdrop, ScoutResult
from boscage.pipeline.desk_features import Cutter, Pieces
from boscage.pipeline.desk_overview import Pyramid, RasterOverview, forget_others, make_overview
from boscage.pipeline.progress import Progress
from boscage.pipeline.ranch import Ranch
from boscage.readers.tree_map import canopy_frame
from boscage.sheets.content import MapContent
from boscage.sheets.relief import contour_interval_m
from boscage.sheets.screen import ScreenContent, draw_picture, map_pixels
from boscage.sheets.screenground import Field, ScreenGround
from boscage.sheets.screenlegend import legend_pixels
from boscage.values import Grid

SHOWN_BY: Mapping[str, tuple[str, ...]] = {
    "parcels": ("parcels",), "tracks": ("tracks", "gates"), "fences": ("fences",), "water": ("water",),
    "hazards": ("dwellings", "power_lines", "no_go"), "sign": ("sign",),
}  # fmt: skip
"""Layers that a switch shows."""
NAMELESS = ("tracks", "fences", "power_lines")
"""Layers whose features have no names on a map, and which names may lie over."""
CONTOUR_GAP_PX, STEEP_SHARE = 12.0, 0.8
GROUND_MARGIN_M = 600.0
HELD_TILES = 400
MOST_STOP_POINTS, STOP_CELL_PX = 20_000, 0.5
STOPS = "stops"


class MapPainter:
    """Paints one ranch.

    Args:
        ranch: As opened.
        out: Folder of the run's outputs, where overviews are kept.
        progress: Told while overviews are made.
    """

    def __init__(self, ranch: Ranch, out: Path, progress: Progress) -> None:
        self._ranch = ranch
        scene, layers = ranch.scene, ranch.layers
        self.scheme = TileScheme.over(layers.ranch.padded(GROUND_MARGIN_M), layers.crs)
        self._cutters = {name: Cutter.of_frame(v.frame, self.scheme) for name, v in layers.vectors.items()}
        self._cutters[STOPS] = Cutter(Pieces(shapes=_joined_stops(ranch)), self.scheme)
        self._cover = _pyramid(scene.surface("cover"), scene.grid)
        self._elevation = _pyramid(scene.surface("elevation"), scene.grid)
        ruled_out = (ranch.stopped & scene.granted).astype(np.float32)
        self._stopped = Pyramid(Field(grid=scene.grid, values=ruled_out))
        self._heights = self._overview("canopy_height", out, progress, is_height=True)
        self._terrain = self._overview("terrain", out, progress, is_height=False)
        forget_others(out, [o for o in (self._heights, self._terrain) if o is not None])
        self._steep = _steepness(scene.surface("slope"), scene.ranch)
        self._score: tuple[int, Pyramid] | None = None
        self._tiles: OrderedDict[tuple[TileRequest, int], Pixels] = OrderedDict()

    def _overview(self, name: str, out: Path, progress: Progress, *, is_height: bool) -> RasterOverview | None:
        """The overview of a raster with cells finer than the scoring grid's; None where the grid's own surface does."""
        source: Any = self._ranch.layers.rasters.get(name)
        if source is None or (not is_height and source.native_cell_m > self._ranch.scene.grid.cell_m / 2.0):
            return None
        area = self._ranch.layers.ranch.padded(GROUND_MARGIN_M)
        whole = canopy_frame(source, self._ranch.layers.crs, area)
        if whole.rows < 2 or whole.cols < 2:
            return None
        return make_overview(
            source, whole, out, is_height=is_height, progress=lambda d, t: progress(f"overview of {name}", d, t)
        )

    def tile(self, request: TileRequest, result: ScoutResult, ranking: int) -> Pixels:
        """One tile; the score is that of a ranking.

        Raises:
            InputError: There is no such tile, palette or scale.
        """
        shown = ranking if request.switches.score else 0
        at = (request, shown)
        if at in self._tiles:
            self._tiles.move_to_end(at)
            return self._tiles[at]
        most = 2**request.zoom
        if not (0 <= request.zoom < self.scheme.zooms and 0 <= request.col < most and 0 <= request.row < most):
            raise InputError(f"there is no tile {request.zoom}/{request.col}/{request.row}", field="tile")
        scale = round(_checked(request.palette, request.scale) * 128) / 128
        bounds = self.scheme.bounds(request.zoom, request.col, request.row)
        metres_per_px = self.scheme.metres_per_px(request.zoom)
        frame = ViewFrame(
            x_m=(bounds.west + bounds.east) / 2.0, y_m=(bounds.south + bounds.north) / 2.0,
            metres_per_px=metres_per_px, width_px=TILE_PX, height_px=TILE_PX,
        )  # fmt: skip
        held = self._content(
            request, frame, result, ranking, lambda cutter: cutter.tile(request.zoom, request.col, request.row)
        )
        made = as_pixels(map_pixels(frame, held, part="ground", scale=scale), shown)
        self._tiles[at] = made
        if len(self._tiles) > HELD_TILES:
            self._tiles.popitem(last=False)
        return made

    def view(self, request: ViewRequest, result: ScoutResult, ranking: int) -> Pixels:
        """A whole view in one picture.

        Raises:
            InputError: There is no such palette, part or scale, or the view is empty.
        """
        return as_pixels(self._view(request, result, ranking)[0], ranking)

    def legend(self, request: ViewRequest, result: ScoutResult, ranking: int) -> tuple[LegendRow, ...]:
        """The legend of what a view shows."""
        _, key = self._view(request, result, ranking)
        switches = request.switches
        has_score = switches.score and bool(np.isfinite(result.score).any())
        rows = legend_pixels(
            key, units=request.units, palette=request.palette, has_score=has_score, scale=request.scale
        )
        return tuple(LegendRow(words=words, swatch=as_pixels(image, ranking)) for words, image in rows)

    def _view(self, request: ViewRequest, result: ScoutResult, ranking: int) -> tuple[NDArray[np.uint8], Any]:
        frame = request.frame
        if request.part not in ("all", "ground", "over"):
            raise InputError(f"the part is {request.part!r}", expected="all, ground or over", field="part")
        if frame.width_px < 1 or frame.height_px < 1 or not frame.metres_per_px > 0.0:
            raise InputError("the view is empty", expected="at least one pixel and some ground", field="frame")
        scale = _checked(request.palette, request.scale)
        held = self._content(
            request, frame, result, ranking, lambda cutter: cutter.over(frame.bounds, frame.metres_per_px)
        )
        return draw_picture(frame, held, part=request.part, scale=scale)

    def _content(
        self, request: TileRequest | ViewRequest, frame: ViewFrame, result: ScoutResult, ranking: int,
        pieces: Callable[[Cutter], Pieces],
    ) -> ScreenContent:  # fmt: skip
        """What a picture is painted from."""
        switches, plan = request.switches, self._ranch.plan
        over = isinstance(request, ViewRequest) and request.part == "over"
        shown = [n for switch, names in SHOWN_BY.items() if getattr(switches, switch) for n in names]
        shown = [n for n in shown if not over or n not in NAMELESS]
        vectors = {n: pieces(self._cutters[n]) for n in shown if n in self._cutters}
        focus = request.focus if isinstance(request, ViewRequest) else ""
        content = MapContent(
            backdrop=Backdrop(grid=self._ranch.scene.grid, date=plan.date, vectors=vectors),
            sites=result.sites if switches.sites else (), units=request.units, ring_radius_m=plan.net.radius_m,
            focus=next((s for s in result.sites if s.site == focus), None), names=switches.names,
            sets=result.together.sets if result.together else (), parcels=switches.parcels, sign=switches.sign,
        )  # fmt: skip
        painted = self._paints_stops(frame.metres_per_px)
        stops = pieces(self._cutters[STOPS]).shapes if switches.stops and not over and not painted else ()
        ground = self._ground(switches, frame, request.units, self._scores(result, ranking), over=over)
        return ScreenContent(content=content, ground=ground, stops=list(stops), palette=request.palette)

    def _paints_stops(self, metres_per_px: float) -> bool:
        """Whether ruled-out ground is painted cell by cell: where its outlines are long and its cells hardly show."""
        cell_m = self._ranch.scene.grid.cell_m
        return self._cutters[STOPS].points > MOST_STOP_POINTS and metres_per_px > STOP_CELL_PX * cell_m

    def _scores(self, result: ScoutResult, ranking: int) -> Pyramid:
        if self._score is None or self._score[0] != ranking:
            self._score = (ranking, Pyramid(Field(grid=result.grid, values=result.score)))
        return self._score[1]

    def _ground(
        self, switches: LayerSwitches, frame: ViewFrame, units: str, score: Pyramid, *, over: bool
    ) -> ScreenGround:
        """Fields under a picture; for what lies over the tiles only a coarse elevation, for the heights of lines."""
        bounds, metres_per_px = frame.bounds, frame.metres_per_px
        relief = self._terrain or self._elevation
        contour = self._contour_m(metres_per_px, units) if switches.contours and relief is not None else None
        if over:
            wanted = relief is not None and contour is not None and switches.names
            return ScreenGround(
                elevation=relief.window(bounds, 2.0 * metres_per_px) if wanted and relief else None, contour_m=contour
            )
        canopy = (self._heights if switches.heights else self._cover) if switches.canopy else None
        wants_relief = switches.relief or contour is not None
        return ScreenGround(
            score=score.window(bounds, metres_per_px) if switches.score else None,
            stopped=(
                self._stopped.window(bounds, metres_per_px)
                if switches.stops and self._paints_stops(metres_per_px) else None
            ),
            canopy=None if canopy is None else canopy.window(bounds, metres_per_px), is_height=switches.heights,
            elevation=relief.window(bounds, metres_per_px) if relief is not None and wants_relief else None,
            is_shaded=switches.relief, contour_m=contour, origin=(self.scheme.west, self.scheme.north),
        )  # fmt: skip

    def _contour_m(self, metres_per_px: float, units: str) -> float:
        """The least of the usual intervals that leaves room between lines on steep ground; the same on every tile."""
        return contour_interval_m(16.0 * self._steep * CONTOUR_GAP_PX * metres_per_px, units)


def _checked(palette: str, scale: float) -> float:
    if palette not in PALETTES:
        raise InputError(f"there is no palette {palette}", expected=f"one of {', '.join(PALETTES)}", field="palette")
    if not LEAST_SCALE <= scale <= MOST_SCALE:
        raise InputError(f"the scale is {scale:g}", expected=f"{LEAST_SCALE:g} to {MOST_SCALE:g}", field="scale")
    return scale


def as_pixels(image: NDArray[np.uint8], ranking: int) -> Pixels:
    """An image as it is sent."""
    return Pixels(width_px=image.shape[1], height_px=image.shape[0], data=image.tobytes(), ranking=ranking)


def _pyramid(values: NDArray[np.float32] | None, grid: Grid) -> Pyramid | None:
    return None if values is None else Pyramid(Field(grid=grid, values=values))


def _joined_stops(ranch: Ranch) -> NDArray[Any]:
    """Ground that is ruled out by any stop but permission, in parts."""
    areas = [s.geometry for s in ranch.stops if s.name != "permission" and not s.geometry.is_empty]
    whole = shapely.union_all(areas)
    return np.array([p for p in shapely.get_parts(whole) if p.geom_type == "Polygon"], dtype=object)


def _steepness(slope: NDArray[np.float32] | None, here: NDArray[np.bool_]) -> float:
    """Tangent of the slope that four fifths of the ranch keep under; a tenth where nothing is known."""
    if slope is None:
        return 0.1
    step = max(1, int(np.sqrt(slope.size / 250_000)))
    some = slope[::step, ::step][here[::step, ::step]]
    some = some[np.isfinite(some)]
    return max(0.01, float(np.quantile(some, STEEP_SHARE))) if some.size else 0.1
