"""What the canvas of a ring draws: run and chords, stems by what they count for, contacts, a bar to measure by."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPen, QPolygonF

from boscage.desk.ringwords import far
from boscage.model.desk_answers import RigAnswer, ShownStem
from boscage.model.rig import Contact, Ring

if TYPE_CHECKING:
    from boscage.desk.ringcanvas import RingCanvas

BAR_PX = 110.0
ON_THE_TREE_PX = 9.0


def paint_ring(canvas: RingCanvas, painter: QPainter) -> None:
    """Draw the answer that a canvas shows."""
    RingPainter(canvas, painter).paint()


def paint_drag(canvas: RingCanvas, painter: QPainter, at: QPointF) -> None:
    """Draw the tree that is carried, and where it can be let go."""
    RingPainter(canvas, painter).carried(at)


class RingPainter:
    """One drawing of one canvas."""

    def __init__(self, canvas: RingCanvas, painter: QPainter) -> None:
        self._canvas, self._painter, self._look = canvas, painter, canvas.look

    def paint(self) -> None:
        """Draw all of it."""
        canvas = self._canvas
        if canvas.ring is not None:
            self._run(canvas.ring)
        if canvas.answer is not None:
            self._stems(canvas.answer)
        if canvas.ring is not None:
            self._corners(canvas.ring)
        self._furniture()

    def carried(self, at: QPointF) -> None:
        """Draw the tree that is carried, and the strip where it is left out."""
        painter, strip = self._painter, self._canvas.bin()
        painter.setPen(QPen(self._look.gone, 2.0, Qt.PenStyle.DashLine))
        painter.setBrush(self._look.ground)
        painter.drawRect(strip.adjusted(2, 2, -2, -2))
        painter.setFont(self._font(1.0, bold=True))
        painter.drawText(strip, Qt.AlignmentFlag.AlignCenter, "let go here, or off the canvas, to leave the tree out")
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(self._look.chosen, 2.0))
        painter.drawEllipse(at, 14.0, 14.0)
        painter.drawText(at + QPointF(18.0, 5.0), self._canvas.stem)

    def _run(self, ring: Ring) -> None:
        """The finished ring, the chords from contact to contact, and their lengths inside."""
        painter, to_px = self._painter, self._canvas.to_px
        painter.setPen(QPen(self._look.ring, 3.0))
        painter.setBrush(self._look.net)
        painter.drawPolygon(QPolygonF([to_px(x, y) for x, y in ring.outline]))
        chords = QPolygonF([to_px(c.x_m, c.y_m) for c in ring.contacts])
        painter.setPen(QPen(self._look.faint, 1.0, Qt.PenStyle.DashLine))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawPolygon(chords)
        middle = chords.boundingRect().center()
        painter.setFont(self._font(0.95))
        painter.setPen(self._look.ink)
        for span in ring.spans:
            first, second = (to_px(ring.contacts[i].x_m, ring.contacts[i].y_m) for i in (span.first, span.second))
            at = (first + second) / 2.0
            towards = middle - at
            long = max(math.hypot(towards.x(), towards.y()), 1.0)
            self._centred(at + towards * (22.0 / long), far(span.length_m, self._canvas.printer))

    def _stems(self, answer: RigAnswer) -> None:
        canvas, painter, ring = self._canvas, self._painter, self._canvas.ring
        held = {c.stem.stem for c in ring.contacts if c.stem is not None} if ring is not None else set()
        painter.setFont(self._font(0.85))
        for shown in answer.stems:
            at, radius = canvas.to_px(shown.stem.x_m, shown.stem.y_m), canvas.radius(shown)
            if not canvas.rect().adjusted(-40, -40, 40, 40).contains(at.toPoint()):
                continue
            self._stem(shown, at, is_contact=shown.stem.stem in held)
            is_chosen = shown.stem.stem == canvas.stem
            painter.setPen(self._look.ink)
            if shown.stem.stem not in held:
                side = radius + (ON_THE_TREE_PX if is_chosen else 4.0)
                painter.drawText(at + QPointF(side, -side), shown.stem.stem)
            if is_chosen:
                painter.setPen(QPen(self._look.chosen, 2.5))
                painter.setBrush(Qt.BrushStyle.NoBrush)
                side = radius + ON_THE_TREE_PX - 2.0
                painter.drawRect(QRectF(at.x() - side, at.y() - side, 2 * side, 2 * side))

    def _stem(self, shown: ShownStem, at: QPointF, *, is_contact: bool) -> None:
        """A full disc can hold the ring, an empty one is too thin, a dotted one is no tree, a crossed one is bad."""
        painter, look, radius = self._painter, self._look, self._canvas.radius(shown)
        if shown.state in ("bad", "removed", "no tree"):
            self._no_holder(shown, at)
            return
        painter.setPen(QPen(look.contact if is_contact else look.ink, 1.4))
        fill = look.contact if is_contact else look.faint
        painter.setBrush(look.ground if shown.state == "thin" else fill)
        painter.drawEllipse(at, radius, radius)

    def _no_holder(self, shown: ShownStem, at: QPointF) -> None:
        """Two strokes through a bad tree, one through a tree left out."""
        painter, radius, is_bad = self._painter, self._canvas.radius(shown), shown.state == "bad"
        ink = self._look.faint if shown.state == "no tree" else self._look.gone
        painter.setPen(QPen(ink, 1.6, Qt.PenStyle.SolidLine if is_bad else Qt.PenStyle.DotLine))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawEllipse(at, radius, radius)
        if shown.state == "no tree":
            return
        side = max(radius, 6.0)
        painter.setPen(QPen(ink, 2.2))
        painter.drawLine(at + QPointF(-side, -side), at + QPointF(side, side))
        if is_bad:
            painter.drawLine(at + QPointF(-side, side), at + QPointF(side, -side))

    def _corners(self, ring: Ring) -> None:
        """Built supports as squares, corners as small rings, posts as diamonds; contacts with number and stem."""
        painter, to_px = self._painter, self._canvas.to_px
        painter.setPen(QPen(self._look.support, 2.0))
        painter.setBrush(self._look.ground)
        for x, y in ring.supports:
            at = to_px(x, y)
            painter.drawRect(QRectF(at.x() - 5.0, at.y() - 5.0, 10.0, 10.0))
        middle = QPolygonF([to_px(c.x_m, c.y_m) for c in ring.contacts]).boundingRect().center()
        for number, contact in enumerate(ring.contacts, start=1):
            corner = to_px(contact.x_m, contact.y_m)
            painter.setPen(QPen(self._look.ring, 1.5))
            painter.setBrush(self._look.ground)
            if contact.stem is None:
                sides = ((0, -7), (7, 0), (0, 7), (-7, 0))
                painter.drawPolygon(QPolygonF([corner + QPointF(x, y) for x, y in sides]))
            else:
                painter.drawEllipse(corner, 3.5, 3.5)
            self._number(number, contact, middle)

    def _number(self, number: int, contact: Contact, middle: QPointF) -> None:
        """A contact's number and tree, on the far side of the trunk."""
        canvas, painter, stem = self._canvas, self._painter, contact.stem
        trunk = canvas.to_px(contact.x_m, contact.y_m) if stem is None else canvas.to_px(stem.x_m, stem.y_m)
        radius = 8.0 if stem is None else max(stem.radius_m * canvas.seen().px_m, 4.0)
        radius += ON_THE_TREE_PX if stem is not None and stem.stem == canvas.stem else 0.0
        words = f"{number}: {'post' if stem is None else stem.stem}"
        out = trunk - middle
        long = max(math.hypot(out.x(), out.y()), 1.0)
        painter.setFont(self._font(1.05, bold=True))
        wide = QFontMetricsF(painter.font()).horizontalAdvance(words) / 2.0
        painter.setPen(self._look.ink)
        self._centred(trunk + out * ((radius + 12.0 + wide * abs(out.x()) / long) / long), words)

    def _furniture(self) -> None:
        """A bar to measure by, north, and the sentence where there is no ring."""
        canvas, painter = self._canvas, self._painter
        painter.setFont(self._font(0.9))
        is_us, px_m = canvas.printer.units == "us", canvas.seen().px_m
        unit = 0.3048 if is_us else 1.0
        step = max([n for n in (1, 2, 5, 10, 20, 50, 100) if n * unit * px_m <= 1.6 * BAR_PX], default=1)
        left, right, y = 16.0, 16.0 + step * unit * px_m, canvas.height() - 18.0
        painter.setPen(QPen(self._look.ink, 2.0))
        painter.drawLine(QPointF(left, y), QPointF(right, y))
        for x in (left, right):
            painter.drawLine(QPointF(x, y - 5), QPointF(x, y + 5))
        painter.drawText(QPointF(right + 8.0, y + 5), f"{step} {'ft' if is_us else 'm'}")
        top = QPointF(canvas.width() - 24.0, 16.0)
        painter.setBrush(self._look.ink)
        painter.drawPolygon(QPolygonF([top, top + QPointF(6, 16), top + QPointF(0, 12), top + QPointF(-6, 16)]))
        self._centred(top + QPointF(0, 26), "N")
        if canvas.ring is None and canvas.sentence:
            box = QRectF(16.0, 12.0, canvas.width() - 72.0, canvas.height() / 3.0)
            painter.setFont(self._font(1.1, bold=True))
            painter.drawText(box, Qt.AlignmentFlag.AlignTop | Qt.TextFlag.TextWordWrap, canvas.sentence)

    def _font(self, share: float, *, bold: bool = False) -> QFont:
        font = QFont(self._canvas.font())
        font.setPointSizeF(max(font.pointSizeF(), 9.0) * share)
        font.setBold(bold)
        return font

    def _centred(self, at: QPointF, words: str) -> None:
        """Words about a place, kept on the canvas, with ground under them so that no line runs through."""
        canvas, painter = self._canvas, self._painter
        box = QFontMetricsF(painter.font()).boundingRect(words)
        box.moveCenter(at)
        box.moveLeft(min(max(box.left(), 4.0), canvas.width() - box.width() - 4.0))
        box.moveTop(min(max(box.top(), 2.0), canvas.height() - box.height() - 2.0))
        under = QColor(self._look.ground)
        under.setAlpha(190)
        painter.fillRect(box.adjusted(-2, 0, 2, 0), under)
        painter.drawText(box.adjusted(-2, 0, 2, 0), Qt.AlignmentFlag.AlignCenter, words)
