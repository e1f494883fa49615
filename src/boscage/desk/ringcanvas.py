"""The drawing of a ring: stems to scale, contacts numbered, built supports, spans; trees are dragged out or chosen."""

from __future__ import annotations

import math
from dataclasses import dataclass

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen, QWheelEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from boscage.desk.ringlook import LOOKS, RingLook
from boscage.desk.ringpaint import paint_drag, paint_ring
from boscage.model.desk_answers import RigAnswer, ShownStem
from boscage.model.rig import Ring
from boscage.values import Printer

MARGIN_PX, LEAST_R_PX, GRAB_PX, BIN_PX = 46.0, 4.0, 14.0, 64.0
ROUND_M = 2.0
"""Ground shown round the ring, so that the nearest trees outside it are seen."""
ARROWS = {Qt.Key.Key_Left: (-1.0, 0.0), Qt.Key.Key_Right: (1.0, 0.0), Qt.Key.Key_Up: (0.0, 1.0),
          Qt.Key.Key_Down: (0.0, -1.0)}  # fmt: skip

OWN_KEYS = {*ARROWS, Qt.Key.Key_Delete, Qt.Key.Key_Backspace, Qt.Key.Key_B, Qt.Key.Key_N, Qt.Key.Key_P,
            Qt.Key.Key_Plus, Qt.Key.Key_Equal, Qt.Key.Key_Minus, Qt.Key.Key_0}  # fmt: skip
NOT_OURS = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier


@dataclass(frozen=True, kw_only=True)
class Sight:
    """What of the ground is on the canvas: its middle and pixels a metre."""

    x_m: float = 0.0
    y_m: float = 0.0
    px_m: float = 20.0


class RingCanvas(QWidget):
    """A drawing of the last answer, to scale."""

    chosen = Signal(str)
    leftOut = Signal(str)
    markedBad = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setAccessibleName("Ring")
        self.answer: RigAnswer | None = None
        self.stem = ""
        self.printer = Printer("us")
        self.look: RingLook = LOOKS["standard"]
        self.sentence = ""
        self._sight: Sight | None = None
        self._drag: QPointF | None = None
        self._pan: tuple[QPointF, Sight] | None = None
        self._moved = False

    def minimumSizeHint(self) -> QSize:
        """Room for a ring that can be read."""
        return QSize(360, 320)

    def show_answer(self, answer: RigAnswer | None, *, fit: bool) -> None:
        """Draw another answer.

        Args:
            answer: What to draw, or None.
            fit: Whether the drawing is fitted to it anew.
        """
        self.answer = answer
        if answer is None or self.stem not in {s.stem.stem for s in answer.stems}:
            self.choose("")
        if fit:
            self._sight = None
        self.setAccessibleDescription(self.words())
        self.update()

    def words(self) -> str:
        """What the drawing shows, for who cannot see it."""
        ring = self.ring
        if ring is None:
            return self.sentence or "No ring."
        names = ", ".join(c.stem.stem if c.stem is not None else "post" for c in ring.contacts)
        return f"Ring of {len(ring.contacts)} contacts, counter-clockwise: {names}."

    @property
    def ring(self) -> Ring | None:
        """The ring, or None."""
        ring = self.answer.ring if self.answer is not None else None
        return ring if isinstance(ring, Ring) else None

    def choose(self, stem: str) -> None:
        """Choose a stem, or none with ''."""
        if stem != self.stem:
            self.stem = stem
            self.chosen.emit(stem)
            self.update()

    def fit(self) -> None:
        """Fit ring and nearest trees to the canvas."""
        self._sight = None
        self.update()

    def zoom(self, factor: float, at: QPointF | None = None) -> None:
        """Zoom about a place of the canvas, or its middle."""
        sight = self.seen()
        at = at or QPointF(self.width() / 2.0, self.height() / 2.0)
        x, y = self.to_ground(at)
        px = min(max(sight.px_m * factor, 2.0), 600.0)
        self._sight = Sight(
            x_m=x - (at.x() - self.width() / 2.0) / px, y_m=y + (at.y() - self.height() / 2.0) / px, px_m=px
        )  # fmt: skip
        self.update()

    def to_px(self, x_m: float, y_m: float) -> QPointF:
        """Canvas place of a place on the ground."""
        s = self.seen()
        return QPointF(self.width() / 2.0 + (x_m - s.x_m) * s.px_m, self.height() / 2.0 - (y_m - s.y_m) * s.px_m)

    def to_ground(self, at: QPointF) -> tuple[float, float]:
        """Ground under a place of the canvas."""
        s = self.seen()
        return s.x_m + (at.x() - self.width() / 2.0) / s.px_m, s.y_m - (at.y() - self.height() / 2.0) / s.px_m

    def stem_at(self, at: QPointF) -> str:
        """The stem under a place of the canvas, or ''."""
        best, found = math.inf, ""
        for shown in self.answer.stems if self.answer is not None else ():
            middle = self.to_px(shown.stem.x_m, shown.stem.y_m)
            away = math.hypot(middle.x() - at.x(), middle.y() - at.y()) - self.radius(shown)
            if away <= GRAB_PX and away < best:
                best, found = away, shown.stem.stem
        return found

    def seen(self) -> Sight:
        """What is on the canvas: the ring with some ground round it, else all stems."""
        if self._sight is not None:
            return self._sight
        ring, points = self.ring, [(0.0, 0.0)]
        pad = 1.0
        if ring is not None:
            points, pad = list(ring.outline), ROUND_M
        elif self.answer is not None and self.answer.stems:
            points = [(s.stem.x_m, s.stem.y_m) for s in self.answer.stems]
        xs, ys = [p[0] for p in points], [p[1] for p in points]
        wide, high = max(xs) - min(xs) + 2 * pad, max(ys) - min(ys) + 2 * pad
        px = min((self.width() - 2 * MARGIN_PX) / wide, (self.height() - 2 * MARGIN_PX) / high)
        made = Sight(x_m=(max(xs) + min(xs)) / 2.0, y_m=(max(ys) + min(ys)) / 2.0, px_m=min(max(px, 2.0), 160.0))
        return made

    def radius(self, shown: ShownStem) -> float:
        """Of a trunk in pixels, never too small to see."""
        return max(shown.stem.radius_m * self.seen().px_m, LEAST_R_PX)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw everything."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), self.look.ground)
        paint_ring(self, painter)
        if self._drag is not None and self._moved:
            paint_drag(self, painter, self._drag)
        if self.hasFocus():
            painter.setPen(QPen(self.look.chosen, 2.0))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(QRectF(self.rect()).adjusted(1.0, 1.0, -1.0, -1.0))

    def bin(self) -> QRectF:
        """The strip in which a tree that is let go is left out."""
        return QRectF(0.0, self.height() - BIN_PX, self.width(), BIN_PX)

    # hands

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Choose the stem under the pointer and take hold of it, or else of the ground."""
        self.setFocus(Qt.FocusReason.MouseFocusReason)
        self._moved = False
        found = self.stem_at(event.position())
        self.choose(found)
        if found:
            self._drag = event.position()
        else:
            self._pan = (event.position(), self.seen())

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Carry the stem, or move the ground."""
        if self._drag is not None:
            self._moved = self._moved or (event.position() - self._drag).manhattanLength() > 6.0
            if self._moved:
                self._drag = event.position()
                self.update()
        elif self._pan is not None:
            start, sight = self._pan
            by = event.position() - start
            self._sight = Sight(x_m=sight.x_m - by.x() / sight.px_m, y_m=sight.y_m + by.y() / sight.px_m,
                                px_m=sight.px_m)  # fmt: skip
            self.update()
        else:
            found = self.stem_at(event.position())
            self.setCursor(Qt.CursorShape.OpenHandCursor if found else Qt.CursorShape.ArrowCursor)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Leave the stem out where it was let go in the strip or off the canvas."""
        at, stem = event.position(), self.stem
        dragged = self._drag is not None and self._moved
        self._drag, self._pan, self._moved = None, None, False
        if dragged and stem and (self.bin().contains(at) or not QRectF(self.rect()).contains(at)):
            self.leftOut.emit(stem)
        self.update()

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Zoom about the pointer."""
        self.zoom(1.2 ** (event.angleDelta().y() / 120.0), event.position())

    def event(self, event: QEvent) -> bool:
        """The drawing's own keys come before the same keys of the window."""
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent) and _is_own(event):
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Arrows go from tree to tree, N and P along the contacts; Delete leaves out, B marks bad; + - 0 zoom."""
        key = event.key()
        if key in ARROWS:
            self._step(*ARROWS[Qt.Key(key)])
        elif key in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace) and self.stem:
            self.leftOut.emit(self.stem)
        elif key == Qt.Key.Key_B and self.stem:
            self.markedBad.emit(self.stem)
        elif key in (Qt.Key.Key_N, Qt.Key.Key_P):
            self._along(1 if key == Qt.Key.Key_N else -1)
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self.zoom(1.25)
        elif key == Qt.Key.Key_Minus:
            self.zoom(0.8)
        elif key == Qt.Key.Key_0:
            self.fit()
        elif key == Qt.Key.Key_Escape and self.stem:
            self.choose("")
        else:
            super().keyPressEvent(event)

    def _step(self, east: float, north: float) -> None:
        """The nearest tree that way, twice as far counted sideways; the first contact where none is chosen."""
        stems = self.answer.stems if self.answer is not None else ()
        here = next((s.stem for s in stems if s.stem.stem == self.stem), None)
        if here is None:
            self._along(1)
            return
        best, found = math.inf, ""
        for shown in stems:
            dx, dy = shown.stem.x_m - here.x_m, shown.stem.y_m - here.y_m
            ahead, aside = dx * east + dy * north, abs(dx * north - dy * east)
            if shown.stem.stem != here.stem and ahead > 0.0 and ahead >= 0.5 * aside and ahead + 2.0 * aside < best:
                best, found = ahead + 2.0 * aside, shown.stem.stem
        if found:
            self.choose(found)

    def _along(self, by: int) -> None:
        """The next contact that is a tree, or any stem where there is no ring."""
        names = [c.stem.stem for c in self.ring.contacts if c.stem is not None] if self.ring is not None else []
        names = names or [s.stem.stem for s in (self.answer.stems if self.answer is not None else ())]
        if names:
            at = names.index(self.stem) + by if self.stem in names else (0 if by > 0 else -1)
            self.choose(names[at % len(names)])


def _is_own(event: QKeyEvent) -> bool:
    return event.key() in OWN_KEYS and not event.modifiers() & NOT_OURS
