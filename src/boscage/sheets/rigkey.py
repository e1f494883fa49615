"""Beside a rig plan: which way is north, the scale, what the marks mean, how the netting lies."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial

import numpy as np
from matplotlib.patches import PathPatch
from matplotlib.path import Path

from boscage.model.rig_plan import ApronBand, RigPlan
from boscage.sheets import rigmarks as marks
from boscage.sheets.frame import MapFrame
from boscage.sheets.furniture import draw_scale_bars, draw_words
from boscage.sheets.legend import Entry, draw_legend
from boscage.sheets.page import Box, Page
from boscage.sheets.rigplan import RigSketch
from boscage.sheets.rigwords import RigTape, bearing_zero_deg, true_north_deg
from boscage.sheets.style import GREY, LABEL, AreaLook, LineLook, TextStyle

APRON_MM, _TALL_APRON_MM, _TALL_MM = 37.0, 46.0, 126.0
_LEAST_TURN_DEG, _SHOWN_TURN_DEG = 0.05, 12.0
_SHAFT_MM = 13.0
_NAME = TextStyle(size_pt=7.0, bold=True, align="center")
_SMALL = TextStyle(size_pt=6.5)
_PROFILE_SCALES = (25.0, 40.0, 50.0, 75.0, 100.0, 125.0, 150.0, 200.0, 300.0, 500.0)


def stamp(page: Page, path: Path, x: float, y: float, look: AreaLook | LineLook) -> None:
    """Draw a mark given in millimetres, y upward, at a place on the page."""
    place = marks.moved(Path(np.asarray(path.vertices) * (1.0, -1.0), path.codes), x, y)
    line = look if isinstance(look, LineLook) else look.outline or LineLook(width_pt=0.0)
    fill = "none" if isinstance(look, LineLook) else look.fill
    page.figure.add_artist(
        PathPatch(
            place, facecolor=fill, edgecolor=line.colour, lw=line.width_pt, transform=page.transform,
            ls=(0, line.dashes) if line.dashes else "-", joinstyle="round",
        )
    )  # fmt: skip


def draw_side(page: Page, box: Box, sketch: RigSketch) -> None:
    """North, scale, legend and the netting, one under another."""
    plan = sketch.plan
    _draw_north(page, box, plan)
    y = box.y + 21.0
    draw_scale_bars(page, box.x, y, box.width - 4.0, sketch.frame, sketch.tape.units)
    y = draw_words(page, box.x, y + 13.2, box.width, _scale_lines(sketch)) + 1.0
    rows = legend_rows(sketch)
    apron_mm = _TALL_APRON_MM if box.height >= _TALL_MM else APRON_MM
    legend = Box(box.x, y + 3.6, box.width, box.bottom - apron_mm - y - 4.6)
    page.text(box.x, y + 2.2, "Marks", LABEL)
    page.line((box.x, box.right), (y + 3.0, y + 3.0), LineLook(width_pt=0.5))
    draw_legend(page, legend, rows, columns=2)
    draw_apron(page, Box(box.x, box.bottom - apron_mm, box.width, apron_mm), plan, sketch.tape)


def scale_words(scale: float, tape: RigTape) -> str:
    """`1:75 (1 in = 6.25 ft)`; one inch or one centimetre exactly.

    >>> scale_words(75.0, RigTape("us")), scale_words(125.0, RigTape("metric"))
    ('1:75 (1 in = 6.25 ft)', '1:125 (1 cm = 1.25 m)')
    """
    per = f"1 in = {scale / 12.0:.4g} ft" if tape.is_us else f"1 cm = {scale / 100.0:g} m"
    return f"1:{scale:g} ({per})"


def _scale_lines(sketch: RigSketch) -> list[str]:
    cell = f"{sketch.grid_m / 0.3048:g} ft" if sketch.tape.is_us else f"{sketch.grid_m:g} m"
    lines = [
        f"{scale_words(sketch.frame.scale, sketch.tape)}, trunks to scale, saplings not",
        f"Grid {cell}, counted from the pivot",
    ]
    if sketch.unnamed:
        lines.append(f"No room for the ids of {sketch.unnamed} stems: see the stem list")
    return lines


def _draw_north(page: Page, box: Box, plan: RigPlan) -> None:
    x, y = box.x + 8.0, box.y + 17.5
    up = "N" if plan.crs is None else "GN"
    _arrow(page, x, y, 0.0, LineLook(width_pt=1.2))
    page.text(x, y - _SHAFT_MM - 1.0, up, _NAME)
    words = _north_lines(plan)
    zero, true = bearing_zero_deg(plan), true_north_deg(plan)
    if plan.declination_stated and zero is not None and abs(zero) >= _LEAST_TURN_DEG:
        _side_arrow(page, x, y, zero, "MN")
    elif plan.crs is not None and true is not None and abs(true) >= _LEAST_TURN_DEG:
        _side_arrow(page, x, y, true, "TN")
    draw_words(page, box.x + 19.0, box.y + 1.5, box.width - 19.0, words)


def _side_arrow(page: Page, x: float, y: float, azimuth_deg: float, name: str) -> None:
    """An arrow at its own side, drawn wide enough to be seen."""
    shown = math.copysign(max(abs(azimuth_deg), _SHOWN_TURN_DEG), azimuth_deg)
    _arrow(page, x, y, shown, LineLook(width_pt=0.7))
    far = _SHAFT_MM * 0.86
    out = math.copysign(3.6, shown)
    angle = math.radians(shown)
    page.text(x + far * math.sin(angle) + out, y - far * math.cos(angle) + 0.8, name, _NAME)


def _arrow(page: Page, x: float, y: float, azimuth_deg: float, look: LineLook) -> None:
    angle = math.radians(azimuth_deg)
    tip = (x + _SHAFT_MM * math.sin(angle), y - _SHAFT_MM * math.cos(angle))
    page.line((x, tip[0]), (y, tip[1]), look)
    for side in (-18.0, 18.0):
        back = angle + math.radians(180.0 + side)
        end = (tip[0] + 3.0 * math.sin(back), tip[1] - 3.0 * math.cos(back))
        page.line((tip[0], end[0]), (tip[1], end[1]), LineLook(width_pt=look.width_pt + 0.4))


def _north_lines(plan: RigPlan) -> list[str]:
    zero, true = bearing_zero_deg(plan), true_north_deg(plan)
    lines = ["N: north of the stem list is up" if plan.crs is None else "GN: grid north is up"]
    if zero is None or true is None:
        return [*lines, "other norths: not worked out"]
    if plan.declination_stated:
        lines.append(f"MN: magnetic north, {_aside(zero)}")
    if plan.crs is not None:
        lines.append(f"TN: true north, {_aside(true)}")
    if not plan.declination_stated:
        lines.append("magnetic north: not stated")
    return lines


def _aside(azimuth_deg: float) -> str:
    if abs(azimuth_deg) < _LEAST_TURN_DEG:
        return "the same"
    return f"{abs(azimuth_deg):.1f}° {'east' if azimuth_deg > 0 else 'west'} of it"


def legend_rows(sketch: RigSketch) -> list[Entry]:
    """A row for each kind of mark that was drawn, in a fixed order."""
    rows = [Entry("contact number", _disc_sample)]
    rows += [
        Entry(marks.STEM_TITLES[k], partial(_trunk_sample, kind=k)) for k in marks.STEM_TITLES if k in sketch.shown
    ]
    lines: tuple[tuple[str, str, LineLook], ...] = (
        ("strap", "strap", marks.STRAP), ("ring", "top rope", marks.RING), ("chord", "contact to contact", marks.CHORD),
    )  # fmt: skip
    shown = {*sketch.shown, "ring"}
    rows += [Entry(words, partial(_line_sample, look=look)) for key, words, look in lines if key in shown]
    kinds = {"post": "post", "sapling": "guyed sapling", "high_rope": "high rope", "guy_line": "guy line"}
    rows += [Entry(w, partial(_support_sample, kind=k)) for k, w in kinds.items() if _is_support(sketch, k)]
    rest: tuple[tuple[str, str, Callable[[Page, Box], None]], ...] = (
        ("guy_stake", "guy stake", partial(_mark_sample, path=marks.GUY_STAKE, width_pt=1.8)),
        ("stake", "apron stakes", _stake_sample),
        ("closure", "closure", _closure_sample),
        ("pivot", "pivot", partial(_mark_sample, path=marks.moved(marks.pivot_path(0.2), 0, 0, 0.55), width_pt=1.3)),
    )
    return rows + [Entry(words, draw) for key, words, draw in rest if key in sketch.shown]


def _is_support(sketch: RigSketch, kind: str) -> bool:
    """A sapling that only stands there is no built support."""
    if kind == "post" and any(c.stem is None for c in sketch.plan.contacts):
        return True
    return any(s.kind == kind for s in sketch.plan.supports)


def _middle(box: Box) -> tuple[float, float]:
    return box.x + box.width / 2, box.y + box.height / 2


def _disc_sample(page: Page, box: Box) -> None:
    stamp(page, marks.disc(1.35), *_middle(box), marks.DISC)


def _trunk_sample(page: Page, box: Box, *, kind: str) -> None:
    x, y = _middle(box)
    r = 0.8 if kind == "thin" else 1.1
    stamp(page, marks.trunk_path(r, kind), x, y, marks.TRUNKS[kind])
    over = marks.stem_strokes().get(kind)
    if over is not None:
        stamp(page, marks.moved(over, 0.0, 0.0, r * 0.9), x, y, marks.STROKE)


def _line_sample(page: Page, box: Box, *, look: LineLook) -> None:
    _, y = _middle(box)
    page.line((box.x, box.right), (y, y), look)


def _support_sample(page: Page, box: Box, *, kind: str) -> None:
    x, y = _middle(box)
    if kind != "post":
        page.line((box.x, box.right), (y, y), marks.TIE_LOOKS[kind])
    stamp(page, marks.support_paths()[kind], x, y, marks.INK_MARK)


def _mark_sample(page: Page, box: Box, *, path: Path, width_pt: float) -> None:
    stamp(page, path, *_middle(box), LineLook(width_pt=width_pt))


def _stake_sample(page: Page, box: Box) -> None:
    x, y = _middle(box)
    page.line((box.x, box.right), (y, y), marks.APRON)
    stamp(page, marks.STAKE, x, y, marks.STROKE)


def _closure_sample(page: Page, box: Box) -> None:
    x, y = _middle(box)
    for low, high in ((box.x, x - 1.1), (x + 1.1, box.right)):
        page.line((low, high), (y, y), marks.RING)
    for at in (x - 1.1, x + 1.1):
        page.line((at, at), (y - 1.4, y + 1.4), LineLook(width_pt=1.5))


def draw_apron(page: Page, box: Box, plan: RigPlan, tape: RigTape) -> None:
    """The netting from the side, to scale, and the band for the stakes under it."""
    page.text(box.x, box.y + 2.2, "Netting from the side, inside at the right", LABEL)
    page.line((box.x, box.right), (box.y + 3.0, box.y + 3.0), LineLook(width_pt=0.5))
    frame = _profile_scale(plan, box)
    left, ground = box.x + 7.0, box.y + 5.5 + plan.net.height_m / frame.metres_per_mm
    _draw_netting(page, left, ground, plan, frame)
    _draw_band(page, Box(left, ground, box.right - left, 0.0), plan.apron, frame, tape)
    height = f"{tape.far(plan.net.height_m)}"
    style = TextStyle(size_pt=6.5, align="center", rotation_deg=90.0)
    page.text(left - 4.2, (ground + box.y + 5.5) / 2, height, style)
    words = f"1:{frame.scale:g}"
    page.text(box.right, box.y + 7.5, words, TextStyle(size_pt=6.5, align="right", colour=GREY))


def _profile_scale(plan: RigPlan, box: Box) -> MapFrame:
    far = max([plan.apron.far_m, *[p[0] for p in plan.apron.profile]]) * 1.15
    least = max(far / (box.width - 9.0), plan.net.height_m / (box.height - 20.0)) * 1000.0
    scale = next((s for s in _PROFILE_SCALES if s >= least), math.ceil(least / 100.0) * 100.0)
    return MapFrame.centred(0.0, 0.0, scale=scale, width_mm=box.width, height_mm=box.height)


def _draw_netting(page: Page, left: float, ground: float, plan: RigPlan, frame: MapFrame) -> None:
    per = frame.metres_per_mm
    top = ground - plan.net.height_m / per
    page.line((left - 2.2, left - 2.2), (top, ground), LineLook(colour=GREY, width_pt=0.6))
    for y in (top, ground):
        page.line((left - 2.8, left - 1.6), (y, y), LineLook(colour=GREY, width_pt=0.6))
    if plan.apron.profile:
        xs = [left + x / per for x, _ in plan.apron.profile]
        ys = [ground - y / per for _, y in plan.apron.profile]
        page.line(xs, ys, LineLook(width_pt=1.4))
        stamp(page, marks.polygon((-0.5, 0.4), (0.5, 0.4), (0.0, -2.2)), xs[-1], ground, AreaLook(fill="#111111"))
    stamp(page, marks.disc(0.8), left, top, marks.TRUNKS["contact"])


def _draw_band(page: Page, line: Box, band: ApronBand, frame: MapFrame, tape: RigTape) -> None:
    """Too near, between, too far; the recommended place is ticked."""
    per, y = frame.metres_per_mm, line.y
    page.line((line.x - 3.0, line.right), (y, y), LineLook(width_pt=0.8))
    near, best, far = (line.x + v / per for v in (band.near_m, band.best_m, band.far_m))
    bar = y + 2.6
    page.area(Box(line.x, bar, near - line.x, 1.6), AreaLook(hatch="/////", outline=LineLook(width_pt=0.5)))
    page.area(Box(near, bar, far - near, 1.6), AreaLook(outline=LineLook(width_pt=0.5)))
    if line.right > far:
        page.area(Box(far, bar, line.right - far, 1.6), AreaLook(fill="#555555", outline=LineLook(width_pt=0.5)))
    page.line((best, best), (bar - 0.7, bar + 2.3), LineLook(width_pt=1.8))
    rows = (
        f"Stakes from under the top rope: best {tape.far(band.best_m)}",
        f"nearer than {tape.far(band.near_m)}: too near, it bunches (hatched)",
        f"farther than {tape.far(band.far_m)}: too far, it cannot reach (dark)",
    )
    draw_words(page, line.x - 7.0, bar + 2.6, line.right - line.x + 7.0, list(rows))
