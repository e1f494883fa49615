"""Numbers, letters and stem ids on a rig plan: none over another, and off the lines where there is room."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

from boscage.model.rig import Point, Stem
from boscage.sheets import rigmarks as marks
from boscage.sheets.labels import Spot
from boscage.sheets.rigplan import RigSketch, sapling_place
from boscage.sheets.rigwords import trunk_of
from boscage.sheets.style import GREY, PAPER, TextStyle
from boscage.sheets.typeset import Fitted, fit, printable, text_width_mm

NUMBER = TextStyle(size_pt=9.5, bold=True, align="center", valign="center")
LETTER = TextStyle(size_pt=10.0, bold=True, align="center", valign="center")
_WORD = TextStyle(size_pt=7.0, bold=True, align="center", valign="center")
_ID = TextStyle(size_pt=6.5, colour=GREY, align="center", valign="center")
_ID_WIDTH_MM = 17.0
_SIDES = ((1, 0), (-1, 0), (0, -1), (0, 1), (0.9, -0.9), (0.9, 0.9), (-0.9, -0.9), (-0.9, 0.9))
_DISC_MM, _LETTER_MM = 5.6, 4.4
_TURNS = (0, 25, -25, 50, -50, 75, -75, 105, -105, 140, -140, 180)


def draw_labels(sketch: RigSketch) -> None:
    """Set all labels, what the crew needs most first."""
    middle = _middle(sketch.plan.ring.outline)
    for contact in sketch.plan.contacts:
        r = 1.2 if contact.stem is None else sketch.radius_mm(contact.stem)
        _number(sketch, trunk_of(contact), middle, r, str(contact.number))
    for support in sketch.plan.supports:
        _letter(sketch, (support.x_m, support.y_m), middle, support.label)
    _word(sketch, sketch.plan.closure, "closure", 3.2)
    own = sketch.plan.pivot_stem
    _word(sketch, sketch.plan.pivot, "pivot", 3.4 if own is None else 4.6)
    _far_ends(sketch)
    named = _named(sketch)
    for stem in _in_order(sketch, named):
        _name(sketch, stem, wanted=stem.stem in named)


def _middle(points: Sequence[Point]) -> Point:
    return sum(p[0] for p in points) / len(points), sum(p[1] for p in points) / len(points)


def _around(sketch: RigSketch, at: Point, middle: Point, offs_mm: Sequence[float]) -> Iterator[Point]:
    """Places round a point in mm, straight away from the middle first, then to its sides."""
    x, y = sketch.frame.to_mm(*at)
    mx, my = sketch.frame.to_mm(*middle)
    out = math.atan2(y - my, x - mx)
    for off in offs_mm:
        for turn in _TURNS:
            angle = out + math.radians(turn)
            yield x + off * math.cos(angle), y + off * math.sin(angle)


def _number(sketch: RigSketch, at: Point, middle: Point, radius_mm: float, text: str) -> None:
    """A contact's number in a disc outside its trunk."""
    off = radius_mm + _DISC_MM / 2 + 0.5
    spot = sketch.placer.place(
        _around(sketch, at, middle, (off, off + 1.5, off + 3.5, off + 6.0)), _DISC_MM, _DISC_MM
    ) or sketch.placer.must_place(*sketch.frame.to_mm(*at), _DISC_MM)
    if spot is None:
        return
    _leader(sketch, at, spot, off + 1.6)
    x, y = sketch.frame.to_ground(spot.x, spot.y)
    sketch.put(marks.disc(_DISC_MM / 2 - 0.2), x, y, marks.DISC, 9.0)
    _put(sketch, spot.x, spot.y, text, NUMBER)


def _letter(sketch: RigSketch, at: Point, middle: Point, text: str) -> None:
    """A built support's letter beside its mark."""
    width = max(_LETTER_MM, text_width_mm(text, LETTER) + 0.8)
    off = 1.3 + width / 2 + 0.3
    spot = sketch.placer.place(
        _around(sketch, at, middle, (off, off + 1.2, off + 3.0)), width, _LETTER_MM
    ) or sketch.placer.must_place(*sketch.frame.to_mm(*at), max(width, _LETTER_MM))
    if spot is not None:
        _leader(sketch, at, spot, off + 2.0)
        _put(sketch, spot.x, spot.y, text, LETTER)


def _leader(sketch: RigSketch, at: Point, spot: Spot, longest_mm: float) -> None:
    """A fine line to a label that had to move away."""
    x, y = sketch.frame.to_mm(*at)
    if math.hypot(spot.x - x, spot.y - y) > longest_mm:
        sketch.line([at, sketch.frame.to_ground(spot.x, spot.y)], marks.FINE, 8.5, mark=False)


def _word(sketch: RigSketch, at: Point, text: str, off_mm: float) -> None:
    width = text_width_mm(text, _WORD) + 1.0
    x, y = sketch.frame.to_mm(*at)
    places = []
    for off in (off_mm, off_mm + 2.5, off_mm + 5.0):
        dx, dy = off + width / 2 - 0.6, off
        places += [
            (x + dx, y), (x - dx, y), (x, y + dy), (x, y - dy), (x + dx * 0.8, y + dy * 0.8),
            (x - dx * 0.8, y + dy * 0.8), (x + dx * 0.8, y - dy * 0.8), (x - dx * 0.8, y - dy * 0.8),
        ]  # fmt: skip
    spot = sketch.placer.place(places, width, 3.4)
    if spot is not None:
        _put(sketch, spot.x, spot.y, text, _WORD)


def _far_ends(sketch: RigSketch) -> None:
    """Where a line leaves the frame, the tree that it runs to."""
    for support in sketch.plan.supports:
        if support.label not in sketch.cut or support.tie is None:
            continue
        start = sapling_place(sketch.plan, support) or (support.x_m, support.y_m)
        x, y = sketch.frame.to_mm(*start)
        end = sketch.frame.to_mm(support.tie.x_m, support.tie.y_m)
        to = "stake" if support.tie.stem is None else f"stem {support.tie.stem}"
        fitted = fit(f"to {to}, {sketch.tape.far(support.tie.length_m)}", 32.0, _ID, lines=3)
        width, height = fitted.width_mm + 1.0, fitted.height_mm + 0.4
        along = [k / 40 for k in range(40, 0, -1)]
        ways = [(x + (end[0] - x) * t, y + (end[1] - y) * t) for t in along]
        dx, dy = width / 2 + 1.2, height / 2 + 1.2
        asides = ((dx, 0), (-dx, 0), (0, dy), (0, -dy), (dx, dy), (-dx, dy), (dx, -dy), (-dx, -dy))
        places = [(px + ax, py + ay) for px, py in ways for ax, ay in asides]
        spot = _bare_spot(sketch, places, width, height)
        if spot is not None:
            _set(sketch, spot, fitted)


def _named(sketch: RigSketch) -> set[str]:
    """Ids that the tables of supports and of stems inside send the reader to."""
    plan = sketch.plan
    ids = {s.stem for s in plan.supports if s.stem} | {s.tie.stem for s in plan.supports if s.tie and s.tie.stem}
    return ids | {s.stem for s in plan.inside}


def _in_order(sketch: RigSketch, named: set[str]) -> list[Stem]:
    """Stems in the frame: those named first, then the others from the pivot outward."""
    px, py = sketch.plan.pivot
    seen = [s for s in sketch.plan.nearby if sketch.frame.holds(s.x_m, s.y_m)]
    return sorted(seen, key=lambda s: (s.stem not in named, math.hypot(s.x_m - px, s.y_m - py), s.stem))


def _name(sketch: RigSketch, stem: Stem, *, wanted: bool) -> None:
    """A stem's id beside its trunk, whole or not at all, over no line; farther off where the tables name the stem."""
    fitted = _id_lines(stem.stem)
    width, height = fitted.width_mm + 0.8, fitted.height_mm + 0.2
    offs = (0.5, 1.3, 2.2, 4.0, 6.0, 8.0) if wanted else (0.5, 1.3, 2.2)
    spot = _bare_spot(sketch, _beside(sketch, stem, (width, height), offs), width, height)
    if spot is None:
        sketch.unnamed += 1
        return
    x, y = sketch.frame.to_mm(stem.x_m, stem.y_m)
    gap_x, gap_y = abs(spot.x - x) - width / 2, abs(spot.y - y) - height / 2
    if max(gap_x, gap_y) > sketch.radius_mm(stem) + 2.5:
        sketch.line([(stem.x_m, stem.y_m), sketch.frame.to_ground(spot.x, spot.y)], marks.FINE, 8.5, mark=False)
    _set(sketch, spot, fitted)


def _bare_spot(sketch: RigSketch, places: Iterable[Point], width: float, height: float) -> Spot | None:
    """The first place that covers neither a label nor a line, taken; or none."""
    for x, y in places:
        if sketch.placer.bare((x - width / 2, y - height / 2, x + width / 2, y + height / 2)):
            sketch.placer.take(x, y, width, height)
            return Spot(x, y)
    return None


def _beside(sketch: RigSketch, stem: Stem, size: tuple[float, float], offs: Sequence[float]) -> list[Point]:
    """Middles of a label round a trunk, sides first, then a little farther off."""
    x, y = sketch.frame.to_mm(stem.x_m, stem.y_m)
    places = []
    for off in offs:
        dx, dy = (sketch.radius_mm(stem) + off + 0.5 * side for side in size)
        places += [(x + i * dx, y + j * dy) for i, j in _SIDES]
        places += [(x + i * size[0] / 3, y + j * dy) for i, j in ((1, -1), (-1, -1), (1, 1), (-1, 1))]
    return places


def _id_lines(text: str) -> Fitted:
    """An id on one line, or broken once at the sign nearest its middle."""
    shown = printable(text)
    if text_width_mm(shown, _ID) <= _ID_WIDTH_MM:
        return Fitted(lines=(shown,), style=_ID)
    cuts = [k + 1 for k, sign in enumerate(shown[:-1]) if sign in "-_/. "] or [len(shown) // 2]
    cut = min(cuts, key=lambda k: abs(k - len(shown) / 2))
    return Fitted(lines=(shown[:cut].rstrip(), shown[cut:].lstrip()), style=_ID)


def _set(sketch: RigSketch, spot: Spot, fitted: Fitted) -> None:
    top = spot.y - fitted.height_mm / 2
    for k, line in enumerate(fitted.lines):
        _put(sketch, spot.x, top + (k + 0.5) * fitted.style.line_mm, line, fitted.style)


def _put(sketch: RigSketch, x_mm: float, y_mm: float, text: str, style: TextStyle) -> None:
    x, y = sketch.frame.to_ground(x_mm, y_mm)
    ground = {"boxstyle": "square,pad=0.05", "fc": PAPER, "ec": "none", "alpha": 0.8}
    sketch.axes.text(
        x, y, printable(text), fontsize=style.size_pt, color=style.colour, weight="bold" if style.bold else "normal",
        ha="center", va="center_baseline", bbox=None if style is NUMBER else ground, zorder=10.0,
        family="DejaVu Sans", parse_math=False, clip_on=True,
    )  # fmt: skip
