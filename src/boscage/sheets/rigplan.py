"""The drawing of a rig plan: what stands, the ring, what holds it, at an exact round scale."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from matplotlib.axes import Axes
from matplotlib.path import Path
from numpy.typing import NDArray

from boscage.model.rig import Point, Stem
from boscage.model.rig_plan import BuiltSupport, RigPlan
from boscage.sheets import rigmarks as marks
from boscage.sheets.frame import MapFrame
from boscage.sheets.labels import Placer
from boscage.sheets.rigwords import FOOT_M, RigTape, trunk_of
from boscage.sheets.shapes import draw_area, draw_line
from boscage.sheets.style import PAPER, AreaLook, LineLook
from boscage.values import Bounds

RIG_SCALES = (20, 25, 50, 75, 100, 125, 150, 200, 250, 300, 400, 500, 750, 1000)
_EDGE_MM, _END_MM = 8.0, 3.0
_LEAST_CELL_MM = 6.0
_GIVE_WAY = 1.34
"""How much smaller the ring may get so that the far ends of all lines show."""
_MARK_EVERY_MM = 1.6


@dataclass(kw_only=True)
class RigSketch:
    """A drawing in the making.

    Attributes:
        axes: In metres of the plan's own grid.
        frame: Scale and bounds.
        plan: What is drawn.
        tape: Units.
        placer: Room for labels, mm.
        shown: Keys of what was drawn, for the legend.
        unnamed: Stems for whose ids there was no room.
        grid_m: Side of the grid's squares.
        cut: Labels of supports whose line runs out of the frame.
    """

    axes: Axes
    frame: MapFrame
    plan: RigPlan
    tape: RigTape
    placer: Placer
    shown: set[str] = field(default_factory=set)
    unnamed: int = 0
    grid_m: float = 1.0
    cut: list[str] = field(default_factory=list)

    def put(self, path: Path, x_m: float, y_m: float, look: AreaLook | LineLook, order: float) -> None:
        """Draw a mark given in millimetres at a place on the ground."""
        own = marks.moved(path, x_m, y_m, self.frame.metres_per_mm)
        if isinstance(look, LineLook):
            draw_line(self.axes, own, (look,), order)
        else:
            draw_area(self.axes, own, look, order)

    def line(self, points: Sequence[Point], look: LineLook, order: float, *, mark: bool = True) -> None:
        """Draw a line through places on the ground; labels keep off it where they can."""
        draw_line(self.axes, Path(np.asarray(points, dtype=float)), (look,), order)
        if mark:
            self.keep_off(points)

    def keep_off(self, points: Sequence[Point]) -> None:
        """Mark a line, so that labels cover it only for want of another place."""
        spots = [self.frame.to_mm(x, y) for x, y in points]
        for (x0, y0), (x1, y1) in itertools.pairwise(spots):
            steps = max(1, math.ceil(math.hypot(x1 - x0, y1 - y0) / _MARK_EVERY_MM))
            for k in range(steps + 1):
                self.placer.mark(x0 + (x1 - x0) * k / steps, y0 + (y1 - y0) * k / steps, 0.9)

    def radius_mm(self, stem: Stem) -> float:
        """A trunk's radius on paper."""
        return max(stem.radius_m / self.frame.metres_per_mm, marks.LEAST_TRUNK_MM)


def rig_frame(plan: RigPlan, width_mm: float, height_mm: float) -> MapFrame:
    """The largest round scale that shows the ring and, where they are not far off, the ends of all lines."""
    near, ends = _ring_points(plan), _tie_points(plan)
    near_scale, wide_scale = (_scale(near, e, width_mm, height_mm) for e in ([], ends))
    if wide_scale > _GIVE_WAY * near_scale:
        ends, wide_scale = [], near_scale
    b = _padded(near, ends, wide_scale)
    middle = (0.5 * (b.west + b.east), 0.5 * (b.south + b.north))
    return MapFrame.centred(*middle, scale=wide_scale, width_mm=width_mm, height_mm=height_mm)


def _scale(near: Sequence[Point], ends: Sequence[Point], width_mm: float, height_mm: float) -> float:
    """The largest round scale at which points fit on the paper with room for labels."""
    for scale in itertools.chain(RIG_SCALES, itertools.count(1500, 500)):
        b = _padded(near, ends, scale)
        if b.width <= width_mm * scale / 1000.0 + 1e-9 and b.height <= height_mm * scale / 1000.0 + 1e-9:
            return float(scale)
    raise AssertionError("the scales have no end")


def _padded(near: Sequence[Point], ends: Sequence[Point], scale: float) -> Bounds:
    """Bounds of points with the paper that their labels need round them."""
    boxes = [_bounds(near).padded(_EDGE_MM * scale / 1000.0)]
    boxes += [_bounds(ends).padded(_END_MM * scale / 1000.0)] if ends else []
    return Bounds(
        min(b.west for b in boxes),
        min(b.south for b in boxes),
        max(b.east for b in boxes),
        max(b.north for b in boxes),
    )


def _bounds(points: Sequence[Point]) -> Bounds:
    at = np.asarray(points, dtype=float)
    low, high = at.min(axis=0), at.max(axis=0)
    return Bounds(float(low[0]), float(low[1]), float(high[0]), float(high[1]))


def _ring_points(plan: RigPlan) -> list[Point]:
    """Ring, trunks of its contacts, pivot."""
    points = [*plan.ring.outline, plan.pivot]
    for contact in plan.contacts:
        x, y = trunk_of(contact)
        r = 0.0 if contact.stem is None else contact.stem.radius_m
        points += [(x - r, y - r), (x + r, y + r)]
    return points


def _tie_points(plan: RigPlan) -> list[Point]:
    return [(s.tie.x_m, s.tie.y_m) for s in plan.supports if s.tie is not None]


def draw_rig(axes: Axes, frame: MapFrame, plan: RigPlan, tape: RigTape) -> RigSketch:
    """Draw everything but the labels.

    Returns:
        The drawing, for the labels and the legend.
    """
    b = frame.bounds
    axes.set_xlim(b.west, b.east)
    axes.set_ylim(b.south, b.north)
    placer = Placer(frame.width_mm, frame.height_mm, edge_mm=1.0)
    sketch = RigSketch(axes=axes, frame=frame, plan=plan, tape=tape, placer=placer)
    _draw_grid(sketch)
    _draw_ring(sketch)
    _draw_stakes(sketch)
    _draw_stems(sketch)
    _draw_contacts(sketch)
    for support in plan.supports:
        _draw_support(sketch, support)
    _draw_closure(sketch)
    _draw_pivot(sketch)
    return sketch


def _draw_grid(sketch: RigSketch) -> None:
    """Squares counted from the pivot."""
    b, (px, py) = sketch.frame.bounds, sketch.plan.pivot
    steps = [5 * FOOT_M, 10 * FOOT_M, 20 * FOOT_M] if sketch.tape.is_us else [1.0, 2.0, 5.0]
    per_mm = sketch.frame.metres_per_mm
    cell = next((s for s in steps if s / per_mm >= _LEAST_CELL_MM), steps[-1])
    sketch.grid_m = cell
    for k in range(math.ceil((b.west - px) / cell), math.floor((b.east - px) / cell) + 1):
        sketch.line([(px + k * cell, b.south), (px + k * cell, b.north)], marks.GRID, 0.0, mark=False)
    for k in range(math.ceil((b.south - py) / cell), math.floor((b.north - py) / cell) + 1):
        sketch.line([(b.west, py + k * cell), (b.east, py + k * cell)], marks.GRID, 0.0, mark=False)


def _draw_ring(sketch: RigSketch) -> None:
    corners = [(c.x_m, c.y_m) for c in sketch.plan.ring.contacts]
    outline = list(sketch.plan.ring.outline)
    if len(outline) > len(corners):
        sketch.line([*corners, corners[0]], marks.CHORD, 2.0)
        sketch.shown.add("chord")
    draw_line(sketch.axes, marks.polygon(*outline), (marks.RING,), 3.0)
    sketch.keep_off([*outline, outline[0]])


def _draw_stakes(sketch: RigSketch) -> None:
    stakes = [(s.x_m, s.y_m) for s in sketch.plan.stakes]
    if len(stakes) > 2:
        sketch.line([*stakes, stakes[0]], marks.APRON, 2.2)
    for x, y in stakes:
        sketch.put(marks.STAKE, x, y, marks.STROKE, 2.3)
        sketch.placer.mark(*sketch.frame.to_mm(x, y), 1.8)
    if stakes:
        sketch.shown.add("stake")


def _draw_stems(sketch: RigSketch) -> None:
    """Stems that are no contacts, trunks to scale."""
    held = {c.stem.stem for c in sketch.plan.contacts if c.stem is not None}
    least = sketch.plan.ring.options.min_dbh_m
    for stem in sketch.plan.nearby:
        if stem.stem in held or not sketch.frame.holds(stem.x_m, stem.y_m):
            continue
        kind, r = marks.stem_kind(stem, least), sketch.radius_mm(stem)
        draw_trunk(sketch, (stem.x_m, stem.y_m), r, kind)
        sketch.shown.add(kind)


def draw_trunk(sketch: RigSketch, at: Point, radius_mm: float, kind: str) -> None:
    """One trunk, with the lines over it that tell its kind."""
    sketch.put(marks.trunk_path(radius_mm, kind), *at, marks.TRUNKS[kind], 4.0)
    over = marks.stem_strokes().get(kind)
    if over is not None:
        sketch.put(marks.moved(over, 0.0, 0.0, max(radius_mm, 0.8)), *at, marks.STROKE, 4.2)
    sketch.placer.mark(*sketch.frame.to_mm(*at), 2 * radius_mm + 0.4)


def _draw_contacts(sketch: RigSketch) -> None:
    for contact in sketch.plan.contacts:
        if contact.stem is None:
            sketch.put(marks.support_paths()["post"], contact.x_m, contact.y_m, marks.INK_MARK, 6.0)
            sketch.placer.mark(*sketch.frame.to_mm(contact.x_m, contact.y_m), 2.6)
            sketch.shown.add("post")
            continue
        at = trunk_of(contact)
        if contact.standoff_m > 0.0:
            sketch.line([at, (contact.x_m, contact.y_m)], marks.STRAP, 3.5)
            sketch.shown.add("strap")
        draw_trunk(sketch, at, sketch.radius_mm(contact.stem), "contact")
        sketch.shown.add("contact")


def _draw_support(sketch: RigSketch, support: BuiltSupport) -> None:
    at = (support.x_m, support.y_m)
    start = sapling_place(sketch.plan, support) or at
    if start != at:
        sketch.line([at, start], marks.STRAP, 3.4)
    if support.tie is not None:
        end = (support.tie.x_m, support.tie.y_m)
        sketch.line([start, end], marks.TIE_LOOKS.get(support.kind, marks.GUY), 3.2)
        if not sketch.frame.holds(*end):
            sketch.cut.append(support.label)
        elif support.tie.stem is None:
            sketch.put(marks.GUY_STAKE, *end, LineLook(width_pt=1.8), 5.0)
            sketch.placer.mark(*sketch.frame.to_mm(*end), 2.6)
            sketch.shown.add("guy_stake")
    sketch.put(marks.support_paths()[support.kind], *at, marks.INK_MARK, 6.0)
    sketch.placer.mark(*sketch.frame.to_mm(*at), 3.0)
    sketch.shown.add(support.kind)


def sapling_place(plan: RigPlan, support: BuiltSupport) -> Point | None:
    """Where the sapling of a built support stands, if that is what it is."""
    if support.kind != "sapling":
        return None
    return next(((s.x_m, s.y_m) for s in plan.nearby if s.stem == support.stem), None)


def _draw_closure(sketch: RigSketch) -> None:
    """A gap in the ring with a bar across each end."""
    x, y = sketch.plan.closure
    ways = _ways(np.asarray(sketch.plan.ring.outline), np.array([x, y]))
    inner = 1.3 * sketch.frame.metres_per_mm
    gap = [(x + inner * ways[0, 0], y + inner * ways[0, 1]), (x, y), (x + inner * ways[1, 0], y + inner * ways[1, 1])]
    sketch.line(gap, LineLook(colour=PAPER, width_pt=3.4), 3.1, mark=False)
    sketch.put(marks.closure_bars(ways), x, y, LineLook(width_pt=1.5), 5.5)
    sketch.placer.mark(*sketch.frame.to_mm(x, y), 4.0)
    sketch.shown.add("closure")


def _ways(outline: NDArray[np.float64], at: NDArray[np.float64]) -> NDArray[np.float64]:
    """(2, 2) unit vectors from a place on the ring along it, back and forth."""
    after = np.roll(outline, -1, axis=0)
    run = after - outline
    share = np.clip(((at - outline) * run).sum(axis=1) / np.maximum((run**2).sum(axis=1), 1e-12), 0.0, 1.0)
    off = np.hypot(*(outline + run * share[:, None] - at).T)
    k = int(np.argmin(off))
    back = outline[k - 1] if share[k] < 1e-6 else outline[k]
    forth = after[(k + 1) % len(after)] if share[k] > 1 - 1e-6 else after[k]
    ways = np.array([back - at, forth - at])
    return ways / np.maximum(np.hypot(*ways.T)[:, None], 1e-12)


def _draw_pivot(sketch: RigSketch) -> None:
    own = next((s for s in sketch.plan.nearby if s.stem == sketch.plan.pivot_stem), None)
    r = 0.4 if own is None else sketch.radius_mm(own)
    x, y = sketch.plan.pivot
    if own is None:
        sketch.put(marks.disc(0.5), x, y, marks.TRUNKS["contact"], 5.8)
    sketch.put(marks.pivot_path(r), x, y, LineLook(width_pt=1.3), 5.9)
    sketch.placer.mark(*sketch.frame.to_mm(x, y), 2 * r + 4.4)
    sketch.shown.add("pivot")
