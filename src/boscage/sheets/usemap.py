"""The map of use: density of weighted sign in graded patterns, its 50 and 95 % lines, cameras and bait places."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import contourpy
import numpy as np
import shapely
from matplotlib.lines import Line2D
from matplotlib.path import Path
from numpy.typing import NDArray
from scipy import ndimage

from boscage.model.evidence import NOTHING, SIGN
from boscage.model.findings import Evidence
from boscage.model.results import Backdrop, ScoutResult, Site
from boscage.sheets.content import MapKey
from boscage.sheets.features import Sketch
from boscage.sheets.frame import MapFrame
from boscage.sheets.groundmap import GroundPicture, draw_ground_map
from boscage.sheets.labels import Spot
from boscage.sheets.mapdraw import MARK_ORDER, lead_mark, put_text
from boscage.sheets.page import Box, Page
from boscage.sheets.ranchmap import MapPlan
from boscage.sheets.shapes import clip, draw_line, line_path, pieces
from boscage.sheets.style import INK, LAYER_ORDER, LINES, PAPER, TextStyle
from boscage.sheets.typeset import Fitted, fit
from boscage.sheets.usepatterns import USE_PATTERNS
from boscage.values import Grid

PER_KM2 = 1e6
CAMERA = Path(
    [(-1.0, -0.6), (-0.45, -0.6), (-0.3, -1.0), (0.3, -1.0), (0.45, -0.6), (1.0, -0.6), (1.0, 0.8), (-1.0, 0.8),
     (-1.0, -0.6), (-0.4, 0.1), (0.0, 0.5), (0.4, 0.1), (0.0, -0.3), (-0.4, 0.1)],
    [Path.MOVETO, *[Path.LINETO] * 7, Path.CLOSEPOLY, Path.MOVETO, *[Path.LINETO] * 3, Path.CLOSEPOLY],
)  # fmt: skip
BAIT = Path([(0, 1), (1, 0), (0, -1), (-1, 0), (0, 1)], [Path.MOVETO, *[Path.LINETO] * 3, Path.CLOSEPOLY])
_HIGH, _MIDDLE, _LOW, _TRACE, _LOOKED, _NOT_LOOKED = range(6)
_TRACE_SHARE = 0.1
_BAND_MM = 1.2
_MARK_MM, _BAIT_MM, _NAME_MM = 3.2, 5.0, 27.0
_NAME = TextStyle(size_pt=6.0, bold=True, align="center", valign="center", backing=True)
_SHARE = TextStyle(size_pt=7.5, bold=True, align="center", valign="center", backing=True)
_LEAST_LINE_MM = 14.0
_ISOPLETHS = {0.5: "half", 0.95: "most"}


@dataclass(frozen=True, kw_only=True)
class Levels:
    """Densities per square kilometre from which ground is of high, middle and low use; NaN where there are none."""

    high: float
    middle: float
    low: float

    @classmethod
    def of(cls, evidence: Evidence) -> Levels:
        """From the isopleths: high inside that of half of use, low down to that of 95 %, the middle between them."""
        by_share = {round(i.share, 4): i.level * PER_KM2 for i in evidence.isopleths}
        high, low = by_share.get(0.5, math.nan), by_share.get(0.95, math.nan)
        return cls(high=high, middle=math.sqrt(high * low), low=low)


@dataclass(frozen=True, kw_only=True)
class Mark:
    """A camera or a bait place on the map.

    Attributes:
        label: What is written beside it.
        kind: `camera`, `camera_bait` or `bait`.
    """

    x_m: float
    y_m: float
    label: str
    kind: str


def use_classes(evidence: Evidence, grid: Grid, frame: MapFrame) -> NDArray[np.intp]:
    """(rows, cols) index into `USE_PATTERNS`.

    Searched ground without sign is widened to a millimetre on the paper, over ground of less than low use alone.
    """
    density, levels = evidence.density, Levels.of(evidence)
    with np.errstate(invalid="ignore"):
        steps = [density >= v for v in (levels.high, levels.middle, levels.low, levels.low * _TRACE_SHARE)]
    classes = np.select(steps, [_HIGH, _MIDDLE, _LOW, _TRACE], default=_NOT_LOOKED).astype(np.intp)
    if evidence.effort is None:
        return classes
    looked = evidence.effort.looked
    wide = math.ceil(_BAND_MM / 2 * frame.metres_per_mm / grid.cell_m)
    nothing = ndimage.binary_dilation(looked == NOTHING, iterations=wide) if wide > 0 else looked == NOTHING
    classes[(looked == SIGN) & (classes == _NOT_LOOKED)] = _TRACE
    classes[nothing & (classes > _LOW) & (looked != SIGN)] = _LOOKED
    return classes


def bait_cameras(evidence: Evidence) -> dict[int, int]:
    """Index of the camera that stands at each bait place, by the place's; of several of one name each is taken once."""
    free = [k for k, c in enumerate(evidence.cameras) if c.bait is not False]
    free.sort(key=lambda k: not evidence.cameras[k].bait)
    found = {}
    for place, name in enumerate(evidence.bait_names):
        camera = next((k for k in free if evidence.cameras[k].name == name), None)
        if camera is not None:
            found[place] = camera
            free.remove(camera)
    return found


def camera_marks(evidence: Evidence, sites: Sequence[Site]) -> tuple[list[Mark], list[str]]:
    """A mark for each camera and each bait place, and the numbers of bait places whose spot is not known."""
    at_cameras = bait_cameras(evidence)
    baited = set(at_cameras.values())
    marks = [
        Mark(
            x_m=c.x_m, y_m=c.y_m, label=f"C{k + 1} {c.name}", kind="camera_bait" if c.bait or k in baited else "camera"
        )
        for k, c in enumerate(evidence.cameras)
    ]
    spots: dict[str, tuple[float, float]] = {s.site: (s.place.x_m, s.place.y_m) for s in sites}
    unknown = []
    for k, name in enumerate(evidence.bait_names):
        if k in at_cameras:
            continue
        if name in spots:
            x, y = spots[name]
            marks.append(Mark(x_m=x, y_m=y, label=f"B{k + 1} {name}", kind="bait"))
        else:
            unknown.append(f"B{k + 1}")
    return marks, unknown


def isopleth_lines(evidence: Evidence, grid: Grid) -> Mapping[str, list[NDArray[np.float64]]]:
    """Lines of equal density of the 50 and the 95 % of use, (N, 2) east and north, by name."""
    x = grid.west + (np.arange(grid.cols) + 0.5) * grid.cell_m
    y = grid.north - (np.arange(grid.rows) + 0.5) * grid.cell_m
    if min(grid.shape) < 2 or not np.isfinite(evidence.density).any():
        return {}
    density = np.ma.masked_invalid(evidence.density.astype(np.float64))
    made = contourpy.contour_generator(x, y, density)
    shares = {round(i.share, 4): i.level * PER_KM2 for i in evidence.isopleths}
    return {name: list(made.lines(shares[s])) for s, name in _ISOPLETHS.items() if s in shares}


@dataclass(frozen=True, kw_only=True)
class UseSeen:
    """What the map of use shows.

    Attributes:
        classes: Names of the patterns on it.
        marks: Kinds of marks.
        left_out: Labels that there was no room for, and marks likewise.
    """

    key: MapKey
    classes: frozenset[str]
    marks: frozenset[str]
    left_out: tuple[str, ...]


def draw_use_map(page: Page, result: ScoutResult, overview: Backdrop, plan: MapPlan) -> UseSeen:
    """Draw the map with its grid."""
    evidence = result.evidence
    assert evidence is not None
    classes = use_classes(evidence, result.grid, plan.frame)
    picture = GroundPicture(classes=classes, patterns=USE_PATTERNS, names=True)
    marks, _ = camera_marks(evidence, result.sites)
    lines, left_out = isopleth_lines(evidence, result.grid), []  # type: ignore[var-annotated]
    seen = draw_ground_map(
        page, result, overview, plan, picture, partial(_draw_further, lines=lines, marks=marks, left_out=left_out)
    )
    names = list(USE_PATTERNS)
    inside = [m for m in marks if plan.frame.holds(m.x_m, m.y_m)]
    return UseSeen(
        key=seen.key, classes=frozenset(names[k] for k in np.unique(classes)),
        marks=frozenset(m.kind for m in inside), left_out=tuple(left_out),
    )  # fmt: skip


def _draw_further(
    sketch: Sketch, *, lines: Mapping[str, list[NDArray[np.float64]]], marks: Sequence[Mark], left_out: list[str]
) -> None:
    for name, parts in lines.items():
        inside = clip([shapely.LineString(a) for a in parts if len(a) > 1], sketch.frame)
        draw_line(sketch.axes, line_path(inside), LINES[f"use_{name}"], LAYER_ORDER["isopleth"])
        if any(not g.is_empty for g in inside):
            sketch.key.shown.add(f"use_{name}")
    shown = [m for m in marks if sketch.frame.holds(m.x_m, m.y_m)]
    spots = [_draw_mark(sketch, m) for m in shown]
    for mark, spot in zip(shown, spots, strict=True):
        if spot is None or not _name_mark(sketch, mark, spot):
            left_out.append(mark.label.split(" ", 1)[0])
    for name, parts in lines.items():
        _name_lines(sketch, parts, "50 %" if name == "half" else "95 %")


def _draw_mark(sketch: Sketch, mark: Mark) -> Spot | None:
    """The mark at its place, or beside what stands there already with a line to the place; None on a full map."""
    spot = lead_mark(sketch, (mark.x_m, mark.y_m), mark_mm(mark.kind))
    if spot is None:
        return None
    x, y = sketch.frame.to_ground(spot.x, spot.y)
    for look in mark_looks(mark.kind):
        sketch.axes.plot([x], [y], ls="none", scalex=False, scaley=False, zorder=MARK_ORDER, **look)
    return spot


def mark_looks(kind: str) -> list[dict[str, object]]:
    """Markers of a kind, the lowest first: a camera; a camera in a diamond where there is bait; the diamond alone."""
    size = mark_mm(kind) / 25.4 * 72
    diamond = {"marker": BAIT, "ms": size, "mfc": PAPER, "mec": INK, "mew": 1.2}
    if kind == "bait":
        return [diamond]
    if kind == "camera_bait":
        return [diamond, {"marker": CAMERA, "ms": size * 0.48, "mfc": INK, "mec": INK, "mew": 0.2}]
    return [{"marker": CAMERA, "ms": size, "mfc": INK, "mec": PAPER, "mew": 0.7}]


def mark_mm(kind: str) -> float:
    """Width of a mark."""
    return _MARK_MM if kind == "camera" else _BAIT_MM


def draw_mark_swatch(page: Page, box: Box, *, kind: str) -> None:
    """The marker in a legend."""
    x, y = box.x + box.width / 2, box.y + box.height / 2
    for look in mark_looks(kind):
        page.figure.add_artist(Line2D([x], [y], transform=page.transform, ls="none", **look))  # type: ignore[arg-type]


def _name_mark(sketch: Sketch, mark: Mark, spot: Spot) -> bool:
    """Set the whole label beside its mark, or its number alone where there is no room for more."""
    for text in (mark.label, mark.label.split(" ", 1)[0]):
        name = fit(text, _NAME_MM, _NAME)
        width, height = name.width_mm + 0.9, name.height_mm + 0.5
        at = sketch.placer.beside(spot.x, spot.y, width, height, off_mm=mark_mm(mark.kind) / 2 + 0.2)
        if at is not None:
            put_text(sketch, at.x, at.y, name.lines[0], name.style)
            return True
    return False


def _name_lines(sketch: Sketch, parts: Sequence[NDArray[np.float64]], text: str) -> None:
    """The share on each line that is long enough on the paper, where there is room."""
    fitted = Fitted(lines=(text,), style=_SHARE)
    width, height = fitted.width_mm + 1.0, fitted.height_mm + 0.4
    for whole in clip([shapely.LineString(a) for a in parts if len(a) > 1], sketch.frame):
        for line in pieces(whole, "LineString"):
            if line.length < _LEAST_LINE_MM * sketch.frame.metres_per_mm:
                continue
            places = [line.interpolate(t, normalized=True) for t in (0.5, 0.25, 0.75, 0.1, 0.9, 0.4, 0.6)]
            spot = sketch.placer.place([sketch.frame.to_mm(p.x, p.y) for p in places], width, height)
            if spot is not None:
                put_text(sketch, spot.x, spot.y, text, _SHARE)
