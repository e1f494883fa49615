"""Marks of the drop map, told apart by shape alone: drop, base, landing place, road end, wires, flights."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from matplotlib.lines import Line2D
from matplotlib.patches import Circle
from matplotlib.path import Path
from numpy.typing import NDArray

from boscage.sheets.features import Sketch
from boscage.sheets.labels import Spot
from boscage.sheets.mapdraw import put_text
from boscage.sheets.page import Box, Page
from boscage.sheets.shapes import array_path, clip, draw_line, line_path, pieces
from boscage.sheets.style import GREY, INK, LAYER_ORDER, PAPER, LineLook, TextStyle
from boscage.sheets.typeset import Fitted

NUMBER_MM = 4.8
SQUARE = Path(np.array([(-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1)], dtype=float), closed=True)
TRIANGLE = Path(np.array([(-1.1, -0.9), (1.1, -0.9), (0, 1.1), (-1.1, -0.9)], dtype=float), closed=True)
DISC = Path.unit_circle()
CROSS_MM, MARK_MM, LANDING_MM = 2.4, 3.4, 3.9
ORDER = LAYER_ORDER["site"] + 0.3
NAME = TextStyle(size_pt=8.0, bold=True, align="center", valign="center", backing=True)
SMALL_NAME = TextStyle(size_pt=7.0, align="center", valign="center", backing=True)
_LETTER = TextStyle(size_pt=7.5, bold=True, align="center", valign="center")
_ASIDE_MM = 0.75
_ARROW_MM = (3.2, 1.35)
FLIGHT_DASHES: tuple[tuple[float, ...], ...] = ((), (6.0, 2.0), (2.4, 1.5), (8.0, 1.6, 1.8, 1.6), (1.2, 1.2))
_WIRE = (LineLook(colour=PAPER, width_pt=4.2), LineLook(width_pt=1.9))
_WIRE_EVERY_MM, _WIRE_HALF_MM = 3.4, 1.25


def flight_looks(number: int) -> tuple[LineLook, ...]:
    """Passes of a flight's line; flights differ by their dashes."""
    dashes = FLIGHT_DASHES[(number - 1) % len(FLIGHT_DASHES)]
    return LineLook(colour=PAPER, width_pt=3.6), LineLook(width_pt=1.7, dashes=dashes)


def draw_number(page: Page, x: float, y: float, number: int) -> None:
    """A drop's number in a dark disc, its middle at (x, y)."""
    page.figure.add_artist(Circle((x, y), NUMBER_MM / 2, fc=INK, lw=0, transform=page.transform))
    style = TextStyle(size_pt=9.5 if number < 10 else 8.0, bold=True, colour=PAPER, align="center")
    page.text(x, y + style.size_pt * 0.128, str(number), style)


def draw_drop(sketch: Sketch, place: tuple[float, float], *, is_own: bool) -> None:
    """A heavy cross where the load comes down; a thin one for a drop of another front."""
    half = CROSS_MM * sketch.frame.metres_per_mm * (1.0 if is_own else 0.7)
    x, y = place
    arms = [np.array([(x - half, y - half * s), (x + half, y + half * s)]) for s in (-1, 1)]
    width = 3.0 if is_own else 1.4
    looks = (LineLook(colour=PAPER, width_pt=width + 2.0), LineLook(width_pt=width))
    draw_line(sketch.axes, array_path(arms), looks, ORDER)
    size = 2 * CROSS_MM * (1.0 if is_own else 0.7)
    sketch.placer.take(*sketch.frame.to_mm(x, y), size, size)


def draw_point(sketch: Sketch, path: Path, place: tuple[float, float], size_mm: float, *, fill: str) -> None:
    """A point mark; labels stay off it."""
    sketch.axes.plot(
        [place[0]], [place[1]], ls="none", marker=path, ms=size_mm / 25.4 * 72, mfc=fill,
        mec=PAPER if fill == INK else INK, mew=1.1, zorder=ORDER, scalex=False, scaley=False,
    )  # fmt: skip
    sketch.placer.take(*sketch.frame.to_mm(*place), size_mm + 0.6, size_mm + 0.6)


def draw_lettered(sketch: Sketch, place: tuple[float, float], letter: str) -> None:
    """A landing place: a letter in a ring."""
    draw_point(sketch, DISC, place, LANDING_MM, fill=PAPER)
    put_text(sketch, *sketch.frame.to_mm(*place), letter, _LETTER)


def label_beside(sketch: Sketch, place: tuple[float, float], words: str, size_mm: float, style: TextStyle) -> bool:
    """Words beside a mark, or a little farther off with a line to it; whether there was room."""
    fitted = Fitted(lines=(words,), style=style)
    at = sketch.frame.to_mm(*place)
    width, height = fitted.width_mm + 1.0, fitted.height_mm + 0.2
    spot = sketch.placer.beside(*at, width, height, off_mm=size_mm / 2 + 0.6)
    if spot is None:
        spot = _farther(sketch, at, width, height)
        if spot is None:
            return False
        leader = np.array([place, sketch.frame.to_ground(spot.x, spot.y)])
        looks = (LineLook(colour=PAPER, width_pt=2.0), LineLook(width_pt=0.8))
        draw_line(sketch.axes, array_path([leader]), looks, ORDER - 0.1)
    put_text(sketch, spot.x, spot.y, words, style)
    return True


def _farther(sketch: Sketch, at: tuple[float, float], width: float, height: float) -> Spot | None:
    """A free rectangle some way off, the nearest first."""
    turns = np.arange(0.0, 2 * np.pi, np.pi / 12)
    spots = [
        (at[0] + r * np.cos(t) + np.sign(np.cos(t)) * width / 2, at[1] + r * np.sin(t))
        for r in np.arange(4.0, 40.0, 2.0) for t in turns
    ]  # fmt: skip
    return sketch.placer.place(spots, width, height)


def aside(line: NDArray[np.float64], sketch: Sketch) -> NDArray[np.float64]:
    """A straight line moved to its right, so that the way out and the way back stand side by side."""
    along = line[-1] - line[0]
    far = float(np.hypot(*along))
    if far == 0.0:
        return line
    right = np.array([along[1], -along[0]]) / far
    return np.asarray(line + right * _ASIDE_MM * sketch.frame.metres_per_mm)


def draw_leg(sketch: Sketch, line: NDArray[np.float64], number: int) -> tuple[float, float] | None:
    """One leg with an arrow head; the answer is the place of the head on the paper, or None off the map."""
    seen = clip([shapely.LineString(aside(line, sketch))], sketch.frame)
    parts = sorted(pieces(seen[0], "LineString"), key=lambda g: -g.length)
    if not parts:
        return None
    draw_line(sketch.axes, line_path(seen), flight_looks(number), LAYER_ORDER["way_in"])
    own = _inside(parts[0], sketch)
    if own is None:
        return None
    middle = own.interpolate(0.55, normalized=True)
    _draw_head(sketch, np.array([middle.x, middle.y]), line[-1] - line[0])
    return sketch.frame.to_mm(middle.x, middle.y)


def _inside(line: shapely.LineString, sketch: Sketch) -> shapely.LineString | None:
    b = sketch.frame.bounds
    parts = pieces(shapely.intersection(line, shapely.box(b.west, b.south, b.east, b.north)), "LineString")
    return max(parts, key=lambda g: g.length) if parts else None


def _draw_head(sketch: Sketch, at: NDArray[np.float64], along: NDArray[np.float64]) -> None:
    mm = sketch.frame.metres_per_mm
    unit = along / max(float(np.hypot(*along)), 1e-9)
    side = np.array([-unit[1], unit[0]])
    long, half = _ARROW_MM
    tip, foot = at + unit * long / 2 * mm, at - unit * long / 2 * mm
    corners = np.array([tip, foot + side * half * mm, foot - side * half * mm])
    sketch.axes.fill(*corners.T, fc=INK, ec=PAPER, lw=0.5, zorder=LAYER_ORDER["way_in"] + 0.3)


def draw_wires(sketch: Sketch) -> bool:
    """Wires in the data as heavy lines with bars across; whether there are any on the map."""
    shapes = [g for g in sketch.clipped("power_lines") if not g.is_empty]
    lines = [p for g in shapes for p in pieces(g, "LineString")]
    points = [p for g in shapes for p in pieces(g, "Point")]
    mm = sketch.frame.metres_per_mm
    bars = [t for line in lines for t in _bars(line, mm)]
    for p in points:
        bars += [
            np.array([(p.x - 2 * mm, p.y), (p.x + 2 * mm, p.y)]),
            np.array([(p.x, p.y - 2 * mm), (p.x, p.y + 2 * mm)]),
        ]
    order = LAYER_ORDER["way_in"] + 0.4
    draw_line(sketch.axes, line_path(lines), _WIRE, order)
    draw_line(sketch.axes, array_path(bars), _WIRE[1:], order + 0.1)
    sketch.key.shown.discard("power_line")
    for line in lines:
        for along in np.arange(0.0, line.length, 3.0 * mm):
            p = line.interpolate(along)
            sketch.placer.mark(*sketch.frame.to_mm(p.x, p.y), 3.0)
    return bool(lines or points)


def _bars(line: shapely.LineString, mm: float) -> list[NDArray[np.float64]]:
    bars = []
    for along in np.arange(_WIRE_EVERY_MM * mm / 2, line.length, _WIRE_EVERY_MM * mm):
        a, b = line.interpolate(along), line.interpolate(min(along + 0.5 * mm, line.length))
        unit = np.array([b.x - a.x, b.y - a.y])
        size = float(np.hypot(*unit)) or 1.0
        side = np.array([-unit[1], unit[0]]) / size * _WIRE_HALF_MM * mm
        bars.append(np.array([(a.x, a.y) + side, (a.x, a.y) - side]))
    return bars


def point_swatch(page: Page, box: Box, *, path: Path, fill: str, letter: str = "") -> None:
    """A mark in the key."""
    x, y = box.x + box.width / 2, box.y + box.height / 2
    page.figure.add_artist(
        Line2D([x], [y], transform=page.transform, ls="none", marker=path, ms=9.0 if letter else 7.5, mfc=fill,
               mec=INK, mew=0.9)
    )  # fmt: skip
    if letter:
        page.text(x, y + 0.85, letter, TextStyle(size_pt=7.0, bold=True, align="center"))


def cross_swatch(page: Page, box: Box, *, is_own: bool) -> None:
    """The cross of a drop in the key, heavy or thin."""
    x, y = box.x + box.width / 2, box.y + box.height / 2
    for side in (-1, 1):
        look = LineLook(width_pt=2.4 if is_own else 1.1)
        page.line((x - 1.3, x + 1.3), (y - 1.3 * side, y + 1.3 * side), look)


def line_swatch(page: Page, box: Box, *, looks: Sequence[LineLook], bars: bool = False) -> None:
    """A line in the key, with bars across for a wire."""
    y = box.y + box.height / 2
    for look in looks:
        page.line((box.x, box.right), (y, y), look)
    for share in (0.25, 0.75) if bars else ():
        x = box.x + share * box.width
        page.line((x, x), (y - 1.1, y + 1.1), looks[-1])


def wire_swatch(page: Page, box: Box) -> None:
    """A wire in the key."""
    line_swatch(page, box, looks=_WIRE, bars=True)


def set_swatch(page: Page, box: Box) -> None:
    """The set in the key."""
    at = (box.x + box.width / 2, box.y + box.height / 2)
    page.figure.add_artist(Circle(at, 0.9, fc=PAPER, ec=GREY, lw=1.3, transform=page.transform))
