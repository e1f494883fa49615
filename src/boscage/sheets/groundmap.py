"""Maps of the ground: a pattern by cell under parcels, ways, water and sites, and the places that were probed."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
import shapely
from matplotlib.lines import Line2D
from matplotlib.path import Path
from numpy.typing import NDArray

from boscage.model.ground import GroundField, ReadPlace
from boscage.model.results import Backdrop, ScoutResult
from boscage.model.soil import VERDICTS
from boscage.sheets.content import MapContent, MapKey
from boscage.sheets.features import Sketch
from boscage.sheets.frame import MapFrame
from boscage.sheets.furniture import draw_grid
from boscage.sheets.groundpatterns import POSTS_PATTERNS, RESISTANCE_PATTERNS, Pattern, paint
from boscage.sheets.labels import Spot
from boscage.sheets.mapdraw import MARK_ORDER, draw_map, lead_mark, put_text
from boscage.sheets.page import Box, Page
from boscage.sheets.ranchmap import MapPlan
from boscage.sheets.shapes import area_path, draw_area, draw_line, line_path
from boscage.sheets.style import (
    AREAS,
    IMAGE_DPI,
    INK,
    LAYER_ORDER,
    PAPER,
    PERMISSION_LETTERS,
    AreaLook,
    LineLook,
    TextStyle,
)
from boscage.sheets.typeset import Fitted
from boscage.soil.classes import RESISTANCE_MPA
from boscage.values import Grid, Printer

PROBE = Path([(-1, 1), (1, 1), (0, -1), (-1, 1)], [Path.MOVETO, Path.LINETO, Path.LINETO, Path.CLOSEPOLY])
STOPPED = Path(
    [(-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1), (-1, -1), (1, 1), (-1, 1), (1, -1)],
    [Path.MOVETO, *[Path.LINETO] * 3, Path.CLOSEPOLY, Path.MOVETO, Path.LINETO, Path.MOVETO, Path.LINETO],
)
_PROBE_MM = 2.2
_VALUE = TextStyle(size_pt=6.0, bold=True, align="center", valign="center", backing=True)
_DRAWN = ("parcels", "tracks", "water")
_OFF = -1


@dataclass(frozen=True, kw_only=True)
class GroundPicture:
    """What one map shows by cell.

    Attributes:
        classes: (rows, cols) on the ranch's grid, index into `patterns`.
        names: Whether parcels and water are named.
        places: Places with readings that are marked.
    """

    classes: NDArray[np.intp]
    patterns: Mapping[str, Pattern]
    names: bool
    places: Sequence[ReadPlace] = ()


def resistance_picture(field: GroundField) -> GroundPicture:
    """Penetration resistance class by cell, with the places that were probed."""
    bounds = [low for low, _ in RESISTANCE_MPA[1:]]
    known = np.isfinite(field.resistance_mpa)
    classes = np.digitize(np.where(known, field.resistance_mpa, 0.0), bounds)
    return GroundPicture(
        classes=np.where(known, classes, len(RESISTANCE_MPA)), patterns=RESISTANCE_PATTERNS, names=True,
        places=field.places,
    )  # fmt: skip


def posts_picture(field: GroundField) -> GroundPicture:
    """The answer on posts by cell."""
    return GroundPicture(classes=field.posts.astype(np.intp), patterns=POSTS_PATTERNS, names=False)


def post_areas(field: GroundField, grid: Grid, ranch_ha: float) -> dict[str, tuple[float, float]]:
    """Hectares and share of the ranch by answer on posts; what no cell answers is unknown."""
    cells = {v: float((field.posts == k).sum()) * grid.cell_ha for k, v in enumerate(VERDICTS) if v != "unknown"}
    whole = max(ranch_ha, sum(cells.values()))
    cells["unknown"] = whole - sum(cells.values())
    return {v: (ha, ha / whole if whole else 0.0) for v, ha in cells.items()}


def unknown_share(field: GroundField, grid: Grid, ranch_ha: float) -> float:
    """Share of the ranch without a figure for its resistance."""
    known = float(np.isfinite(field.resistance_mpa).sum()) * grid.cell_ha
    return 1.0 - min(1.0, known / ranch_ha) if ranch_ha > 0.0 else 1.0


def class_image(picture: GroundPicture, grid: Grid, backdrop: Backdrop, frame: MapFrame) -> NDArray[np.uint8]:
    """The image for a frame: the cell under each pixel, bare paper off the parcels."""
    rows, cols = (round(mm / 25.4 * IMAGE_DPI) for mm in (frame.height_mm, frame.width_mm))
    b = frame.bounds
    x = b.west + (np.arange(cols) + 0.5) * b.width / cols
    y = b.north - (np.arange(rows) + 0.5) * b.height / rows
    col = np.floor((x - grid.west) / grid.cell_m).astype(np.intp)
    row = np.floor((grid.north - y) / grid.cell_m).astype(np.intp)
    on_grid = ((row >= 0) & (row < grid.rows))[:, None] & ((col >= 0) & (col < grid.cols))[None, :]
    last = len(picture.patterns) - 1
    cells = picture.classes[np.clip(row, 0, grid.rows - 1)[:, None], np.clip(col, 0, grid.cols - 1)[None, :]]
    classes = np.where(on_grid, cells, last)
    parcels = backdrop.vectors.get("parcels")
    if parcels is not None and len(parcels):
        ranch = shapely.union_all(shapely.make_valid(parcels.geometry.to_numpy()))
        shapely.prepare(ranch)
        classes = np.where(shapely.contains_xy(ranch, *np.meshgrid(x, y)), classes, _OFF)
    return paint(classes, picture.patterns)


def draw_ground_map(
    page: Page,
    result: ScoutResult,
    backdrop: Backdrop,
    plan: MapPlan,
    picture: GroundPicture,
    further: Callable[[Sketch], None] | None = None,
) -> Seen:
    """Draw one map with its grid, and what a sheet draws further on it; the answer is what is on it."""
    bare = replace(backdrop, vectors={k: v for k, v in backdrop.vectors.items() if k in _DRAWN})
    content = MapContent(
        backdrop=bare, sites=result.sites, units=result.plan.ranch.units, ring_radius_m=result.plan.net.radius_m,
        ground=False, parcels=False, sign=False, contours=False, names=picture.names,
    )  # fmt: skip
    image = class_image(picture, result.grid, backdrop, plan.frame)
    unnamed: list[ReadPlace] = []
    key = draw_map(
        page.map_axes(plan.map_box, plan.frame.bounds, backdrop.grid.crs), plan.frame, content,
        partial(_overlay, image=image, places=picture.places, unnamed=unnamed, further=further),
    )  # fmt: skip
    draw_grid(page, plan.map_box, plan.frame)
    return Seen(key=key, unnamed=len(unnamed))


@dataclass(frozen=True, kw_only=True)
class Seen:
    """What a map shows, and how many probed places it had no room to write the figure of."""

    key: MapKey
    unnamed: int


def _overlay(
    sketch: Sketch,
    *,
    image: NDArray[np.uint8],
    places: Sequence[ReadPlace],
    unnamed: list[ReadPlace],
    further: Callable[[Sketch], None] | None,
) -> None:
    b = sketch.frame.bounds
    sketch.axes.imshow(
        image, extent=(b.west, b.east, b.south, b.north), interpolation="none", aspect="auto",
        zorder=LAYER_ORDER["image"],
    )  # fmt: skip
    creeks = line_path(sketch.clipped("water"))
    if creeks is not None:
        draw_line(sketch.axes, creeks, (LineLook(colour=PAPER, width_pt=2.2),), LAYER_ORDER["creek"] - 0.05)
    _draw_parcels(sketch)
    inside = [p for p in places if sketch.frame.holds(p.x_m, p.y_m)]
    inside.sort(key=lambda p: np.isnan(p.stopped_cm))  # where it was stopped has the first claim on room
    spots = [_draw_probe(sketch, p) for p in inside]
    printer = Printer(sketch.content.units)
    named = [s is not None and _name_probe(sketch, p, s, printer) for p, s in zip(inside, spots, strict=True)]
    unnamed += [p for p, done in zip(inside, named, strict=True) if not done]
    if further is not None:
        further(sketch)


def outline_of(state: str) -> AreaLook:
    """How a parcel's line is drawn on the ground's maps: by permission, without the hatch that would hide patterns."""
    return replace(AREAS[state], hatch="", cased=True)


def _draw_parcels(sketch: Sketch) -> None:
    access = [a.strip().lower() for a in sketch.column("parcels", "access", "unknown")]
    states = [a if a in PERMISSION_LETTERS else "unknown" for a in access]
    for state in PERMISSION_LETTERS:
        shapes = [g for g, own in zip(sketch.clipped("parcels"), states, strict=True) if own == state]
        path = area_path(shapes)
        if path is not None:
            draw_area(sketch.axes, path, outline_of(state), LAYER_ORDER["permission"])
            sketch.key.shown.add(state)


def _draw_probe(sketch: Sketch, place: ReadPlace) -> Spot | None:
    """The mark at its place, or beside what stands there already with a line to the place; None on a full map."""
    stopped = bool(np.isfinite(place.stopped_cm))
    spot = lead_mark(sketch, (place.x_m, place.y_m), _PROBE_MM)
    if spot is None:
        return None
    x, y = sketch.frame.to_ground(spot.x, spot.y)
    sketch.axes.plot([x], [y], ls="none", scalex=False, scaley=False, zorder=MARK_ORDER, **probe_look(stopped))
    sketch.key.shown.add("probe_stopped" if stopped else "probe")
    return spot


def probe_look(stopped: bool) -> dict[str, object]:
    """Marker of a place with readings: a dark wedge, or a crossed box where the probe was stopped."""
    size = _PROBE_MM / 25.4 * 72
    if stopped:
        return {"marker": STOPPED, "ms": size, "mfc": PAPER, "mec": INK, "mew": 0.9}
    return {"marker": PROBE, "ms": size, "mfc": INK, "mec": PAPER, "mew": 0.6}


def draw_probe_swatch(page: Page, box: Box, *, stopped: bool) -> None:
    """The marker in a legend."""
    x, y = box.x + box.width / 2, box.y + box.height / 2
    page.figure.add_artist(Line2D([x], [y], transform=page.transform, ls="none", **probe_look(stopped)))  # type: ignore[arg-type]


def value_words(place: ReadPlace, printer: Printer) -> str:
    """The figure beside a mark: the resistance read, or that all readings lie deeper than a post."""
    return "deeper" if np.isnan(place.resistance_mpa) else printer.pressure(place.resistance_mpa)


def _name_probe(sketch: Sketch, place: ReadPlace, mark: Spot, printer: Printer) -> bool:
    """Set the figure beside its mark where there is room."""
    name = Fitted(lines=(value_words(place, printer),), style=_VALUE)
    width, height = name.width_mm + 0.8, name.height_mm + 0.4
    spot = sketch.placer.beside(mark.x, mark.y, width, height, off_mm=_PROBE_MM / 2 + 0.1)
    if spot is None:
        return False
    put_text(sketch, spot.x, spot.y, name.lines[0], name.style)
    return True
