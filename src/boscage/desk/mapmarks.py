"""What is drawn over the map: sites, the place that was asked for, scale bar, north."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QPainter, QPainterPath, QPen, QPolygonF

from boscage.desk.palettes import Look
from boscage.model.desk import ViewFrame
from boscage.model.desk_answers import RankAnswer

RANKED, PINNED, BY_HAND, REJECTED, RULED_OUT = "ranked", "pinned", "added by hand", "rejected", "ruled out"
KIND_WORDS: Mapping[str, str] = {
    RANKED: "disc: ranked", PINNED: "square: pinned", BY_HAND: "diamond: added by hand", REJECTED: "cross: rejected",
    RULED_OUT: "triangle: pinned or added, and ruled out",
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Mark:
    """A place of the ranking.

    Attributes:
        name: Of the site; '' for a place without one.
        text: Drawn in the mark.
        kind: One of `KIND_WORDS`.
        words: For the tip.
    """

    name: str
    text: str
    kind: str
    x_m: float
    y_m: float
    words: str


def marks_of(ranking: RankAnswer | None) -> tuple[Mark, ...]:
    """Marks of a ranking, the best drawn last."""
    if ranking is None:
        return ()
    made = [
        Mark(name="", text="", kind=REJECTED, x_m=o.placed.x_m, y_m=o.placed.y_m, words=o.sentence)
        for o in ranking.rejected
    ]  # fmt: skip
    made += [
        Mark(name="", text="!", kind=RULED_OUT, x_m=o.placed.x_m, y_m=o.placed.y_m, words=o.sentence)
        for o in ranking.ruled_out
    ]  # fmt: skip
    for site in reversed(ranking.sites):
        kind = BY_HAND if site.by_hand else PINNED if site.pinned else RANKED
        words = f"{site.site}: rank {site.rank}, score {site.score:.0f}, {kind}"
        made.append(Mark(name=site.site, text=str(site.rank), kind=kind, x_m=site.x_m, y_m=site.y_m, words=words))
    return tuple(m for m in made if math.isfinite(m.x_m) and math.isfinite(m.y_m))


def radius_px(font: QFont) -> float:
    """Half the width of a mark: grows with the window's text."""
    return max(10.0, 1.1 * (font.pointSizeF() if font.pointSizeF() > 0 else 9.0))


def mark_at(marks: Sequence[Mark], frame: ViewFrame, x_px: float, y_px: float, reach_px: float) -> Mark | None:
    """The mark under a pixel place, the nearest where several are."""
    gaps = [(math.hypot(p[0] - x_px, p[1] - y_px), m) for m in marks for p in [frame.to_px(m.x_m, m.y_m)]]
    gap, mark = min(gaps, key=lambda g: g[0], default=(math.inf, None))
    return mark if gap <= reach_px else None


def draw_marks(painter: QPainter, marks: Sequence[Mark], frame: ViewFrame, chosen: str, look: Look) -> None:
    """Draw every mark; the chosen one last and reversed, so that it shows in grey too."""
    radius = radius_px(painter.font())
    font = QFont(painter.font())
    font.setBold(True)
    painter.setFont(font)
    for mark in sorted(marks, key=lambda m: bool(m.name) and m.name == chosen):
        x, y = frame.to_px(mark.x_m, mark.y_m)
        if -radius <= x <= frame.width_px + radius and -radius <= y <= frame.height_px + radius:
            _draw_mark(painter, mark, QPointF(x, y), radius, is_chosen=bool(mark.name) and mark.name == chosen)


def _draw_mark(painter: QPainter, mark: Mark, at: QPointF, radius: float, *, is_chosen: bool) -> None:
    shape = mark_shape(mark.kind, at, radius)
    dark, light = QColor("#101010"), QColor("#ffffff")
    if mark.kind == REJECTED:
        for colour, width in ((light, 6.0), (dark, 2.5)):
            painter.setPen(QPen(colour, width))
            painter.drawPath(shape)
        return
    if is_chosen:
        painter.setPen(QPen(light, 3.0))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawPath(mark_shape(mark.kind, at, radius + 5.0))
        painter.setPen(QPen(dark, 2.0))
        painter.drawPath(mark_shape(mark.kind, at, radius + 4.0))
    painter.setPen(QPen(light, 4.0))
    painter.drawPath(shape)
    painter.setPen(QPen(dark, 2.0))
    painter.setBrush(QBrush(dark if is_chosen else light))
    painter.drawPath(shape)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(light if is_chosen else dark)
    box = QRectF(at.x() - 2 * radius, at.y() - radius, 4 * radius, 2 * radius)
    painter.drawText(box, Qt.AlignmentFlag.AlignCenter, mark.text)


def mark_shape(kind: str, at: QPointF, radius: float) -> QPainterPath:
    """The outline of a mark: its kind can be told without colour."""
    path = QPainterPath()
    x, y = at.x(), at.y()
    if kind == PINNED:
        side = 0.92 * radius
        path.addRect(QRectF(x - side, y - side, 2 * side, 2 * side))
    elif kind == BY_HAND:
        reach = 1.35 * radius
        path.addPolygon(_closed((x, y - reach), (x + reach, y), (x, y + reach), (x - reach, y)))
    elif kind == RULED_OUT:
        path.addPolygon(
            _closed((x, y - 1.4 * radius), (x + 1.25 * radius, y + radius), (x - 1.25 * radius, y + radius))
        )
    elif kind == REJECTED:
        arm = 0.75 * radius
        for sign in (-1, 1):
            path.moveTo(x - arm, y - sign * arm)
            path.lineTo(x + arm, y + sign * arm)
    else:
        path.addEllipse(at, radius, radius)
    return path


def _closed(*points: tuple[float, float]) -> QPolygonF:
    return QPolygonF([QPointF(*p) for p in (*points, points[0])])


def draw_place(
    painter: QPainter, frame: ViewFrame, x_m: float, y_m: float, line: Sequence[tuple[float, float]]
) -> None:
    """The place that was asked for, and the way in to it."""
    dark, light = QColor("#101010"), QColor("#ffffff")
    if line:
        path = QPolygonF([QPointF(*frame.to_px(*p)) for p in line])
        painter.setPen(QPen(light, 5.0))
        painter.drawPolyline(path)
        painter.setPen(QPen(dark, 2.0, Qt.PenStyle.DashLine))
        painter.drawPolyline(path)
    x, y = frame.to_px(x_m, y_m)
    for colour, width in ((light, 5.0), (dark, 2.0)):
        painter.setPen(QPen(colour, width))
        for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
            painter.drawLine(QPointF(x + 5 * dx, y + 5 * dy), QPointF(x + 15 * dx, y + 15 * dy))


def draw_centre(painter: QPainter, frame: ViewFrame) -> None:
    """Where the keyboard points."""
    x, y = frame.width_px / 2, frame.height_px / 2
    for colour, width in ((QColor("#ffffff"), 3.0), (QColor("#101010"), 1.0)):
        painter.setPen(QPen(colour, width))
        painter.drawLine(QPointF(x - 7, y), QPointF(x + 7, y))
        painter.drawLine(QPointF(x, y - 7), QPointF(x, y + 7))


def scale_step(metres_per_px: float, units: str, most_px: float) -> tuple[float, str]:
    """A round length that fits, in pixels, and its words.

    >>> scale_step(1.0, "metric", 150.0)
    (100.0, '100 m')
    """
    if units == "metric":
        steps = [(1.0, "m"), (1000.0, "km")]
    else:
        steps = [(0.3048, "ft"), (1609.344, "mi")]
    best = (0.0, "")
    for unit_m, word in steps:
        room = most_px * metres_per_px / unit_m
        if room < 1.0 and word in ("km", "mi"):
            continue
        power = 10.0 ** math.floor(math.log10(max(room, 1e-9)))
        number = max(k * power for k in (1.0, 2.0, 5.0) if k * power <= room * (1 + 1e-9))
        best = (number * unit_m / metres_per_px, f"{number:,g} {word}")
    return best


def draw_scale(painter: QPainter, frame: ViewFrame, units: str, look: Look) -> None:
    """Scale bar and north in the lower left corner, on a ground of their own."""
    width, words = scale_step(frame.metres_per_px, units, 150.0)
    metrics = painter.fontMetrics()
    tall = metrics.height() + 18
    box = QRectF(10, frame.height_px - tall - 10, max(width, metrics.horizontalAdvance(words)) + 54, tall)
    ground = QColor(look.base)
    ground.setAlpha(225)
    painter.setPen(QPen(QColor(look.line), look.width))
    painter.setBrush(ground)
    painter.drawRect(box)
    dark = QColor(look.text)
    painter.setPen(dark)
    left, line = box.left() + 40, box.bottom() - 8
    painter.drawText(QPointF(left, line - 6), words)
    painter.setPen(QPen(dark, 2.0))
    painter.drawPolyline([QPointF(left, line - 4), QPointF(left, line), QPointF(left + width, line),
                          QPointF(left + width, line - 4)])  # fmt: skip
    x, top, foot = box.left() + 19, box.top() + 5, box.bottom() - 5
    painter.setPen(QPen(dark, 1.0))
    painter.setBrush(dark)
    tip = metrics.height() * 0.6
    painter.drawPolygon(_closed((x, top), (x + 5, top + tip), (x - 5, top + tip)))
    painter.drawText(QRectF(x - 15, top + tip, 30, foot - top - tip), Qt.AlignmentFlag.AlignCenter, "N")
    painter.setBrush(Qt.BrushStyle.NoBrush)
