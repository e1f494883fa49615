"""The map: tiles of the worker's on a canvas that is painted from what is there, at once, whatever is on its way."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from PySide6.QtCore import QPointF, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import (
    QColor,
    QHelpEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPixmap,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QToolTip, QWidget

from boscage.desk.hub import Desk
from boscage.desk.mapmarks import (
    Mark,
    draw_centre,
    draw_marks,
    draw_place,
    draw_scale,
    mark_at,
    marks_of,
    radius_px,
)
from boscage.desk.palettes import LOOKS
from boscage.desk.tiles import Tile, TileStore, Version, image_of, tile_rect
from boscage.model.desk import LayerSwitches, Opened, Pixels, TileRequest, ViewFrame, ViewRequest
from boscage.model.desk_answers import Failure, PlaceAnswer, RankAnswer

ASK_MS, OVER_MS, RANKED_MS = 20, 160, 220
"""How long the view has to keep still before tiles, and names over them, are asked for; and after a new ranking."""
STEP_PX, WHEEL_STEP = 80, 120.0
DRAG_PX = 4
MARGIN = 1.06


@dataclass(frozen=True, kw_only=True)
class Over:
    """Names and heights over the tiles, and the view that they were made for."""

    frame: ViewFrame
    pixmap: QPixmap


class MapView(QWidget):
    """The ranch, with pan, zoom, sites and one place that was asked for.

    Signals:
        placeAsked: East and north that were clicked.
        pointed: East and north under the cursor.
        menuAsked: East, north, the `Mark` there or None, and where on the screen.
        siteAsked: A site's name: chosen with a double click.
    """

    placeAsked = Signal(float, float)
    pointed = Signal(float, float)
    menuAsked = Signal(float, float, object, object)
    siteAsked = Signal(str)
    tilesArrived = Signal()

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self.switches = LayerSwitches()
        self.store = TileStore()
        self.frame = ViewFrame(x_m=0.0, y_m=0.0, metres_per_px=1.0, width_px=1, height_px=1)
        self._opened: Opened | None = None
        self._before: ViewFrame | None = None
        self._marks: tuple[Mark, ...] = ()
        self._place: PlaceAnswer | None = None
        self._over: Over | None = None
        self._flying: dict[Tile, tuple[int, Version]] = {}
        self._pressed: QPointF | None = None
        self._dragged = self._is_whole = self._is_still = False
        self._generation = 0
        self._tile_timer, self._over_timer = (QTimer(self, singleShot=True) for _ in range(2))
        self._tile_timer.timeout.connect(self._ask_tiles)
        self._over_timer.timeout.connect(self._ask_over)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setMinimumSize(320, 240)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setAccessibleName("Map of the ranch")
        self.setAccessibleDescription("Arrow keys move, plus and minus zoom, Space tells of the place at the cross.")
        desk.planOpened.connect(self.set_opened)
        desk.planClosed.connect(lambda: self.set_opened(None))
        desk.rankingChanged.connect(self.set_ranking)
        desk.siteChosen.connect(lambda _: self.update())
        desk.unitsChanged.connect(lambda _: self._changed())
        desk.paletteChanged.connect(lambda _: self._changed())

    # what is shown

    @property
    def is_settled(self) -> bool:
        """Whether every tile of the view is there and none is out."""
        return not self._flying and not self._tile_timer.isActive() and not self._wanted()

    def set_opened(self, opened: Opened | None) -> None:
        """Show another ranch, or none."""
        self._generation += 1
        for number, _ in self._flying.values():
            self._desk.client.withdraw(number)
        self._flying.clear()
        self.store.clear()
        self._before = self.frame if self._opened is not None else self._before
        self._opened, self._over, self._place, self._marks = opened, None, None, ()
        if opened is not None:
            self.show_all()
        self.update()

    def set_ranking(self, answer: RankAnswer) -> None:
        """Show a ranking: its sites at once, its score when the tiles come."""
        self._marks = marks_of(answer)
        self._tile_timer.start(RANKED_MS)
        self.update()

    def set_switches(self, switches: LayerSwitches) -> None:
        """Show other layers."""
        self.switches = switches
        self._changed()

    def set_place(self, answer: PlaceAnswer | None) -> None:
        """Mark the place that was asked for."""
        self._place = answer
        self.update()

    def _changed(self) -> None:
        self._over = None
        self._tile_timer.start(ASK_MS)
        self._over_timer.start(OVER_MS)
        self.update()

    # moving about

    def show_all(self) -> None:
        """The whole ranch."""
        if self._opened is not None:
            bounds = self._opened.bounds
            scale = max(bounds.width / max(self.width(), 1), bounds.height / max(self.height(), 1)) * MARGIN
            self.look_at((bounds.west + bounds.east) / 2.0, (bounds.south + bounds.north) / 2.0, scale)
            self._is_whole = True

    def look_again(self) -> None:
        """Look at the ground that was looked at before the ranch was opened anew."""
        if self._before is not None:
            self.look_at(self._before.x_m, self._before.y_m, self._before.metres_per_px)

    def look_at(self, x_m: float, y_m: float, metres_per_px: float | None = None) -> None:
        """Bring a place into the middle, at a scale or the one that is.

        The ranch's middle stays within reach, however far the hand goes.
        """
        scale = self.frame.metres_per_px if metres_per_px is None else metres_per_px
        if self._opened is not None:
            scheme, bounds = self._opened.scheme, self._opened.bounds
            whole = max(bounds.width / max(self.width(), 1), bounds.height / max(self.height(), 1)) * MARGIN
            scale = min(max(scale, scheme.metres_per_px(scheme.zooms - 1)), 2.0 * whole)
            x_m = min(max(x_m, bounds.west), bounds.east)
            y_m = min(max(y_m, bounds.south), bounds.north)
        self._is_whole = self._is_still = False
        self.frame = ViewFrame(
            x_m=x_m, y_m=y_m, metres_per_px=scale, width_px=max(self.width(), 1), height_px=max(self.height(), 1)
        )
        self._tile_timer.start(ASK_MS)
        self._over_timer.start(OVER_MS)
        self.update()

    def pan(self, right_px: float, down_px: float) -> None:
        """Move the view."""
        scale = self.frame.metres_per_px
        self.look_at(self.frame.x_m + right_px * scale, self.frame.y_m - down_px * scale)

    def zoom(self, steps: float, at: QPointF | None = None) -> None:
        """Zoom in, or out below 0; two steps halve the ground under a pixel. The place under the cursor stays."""
        at = at or QPointF(self.width() / 2, self.height() / 2)
        x, y = self.frame.to_ground(at.x(), at.y())
        self.look_at(self.frame.x_m, self.frame.y_m, self.frame.metres_per_px * 2.0 ** (-steps / 2.0))
        scale = self.frame.metres_per_px
        self.look_at(x - (at.x() - self.width() / 2) * scale, y + (at.y() - self.height() / 2) * scale)

    # asking for pictures

    def _version(self) -> Version:
        ranking = self._desk.ranking.ranking if self._desk.ranking is not None and self.switches.score else 0
        return Version(
            switches=replace(self.switches, sites=False, names=False), palette=self._desk.palette,
            units=self._desk.printer.units, scale=min(max(self.devicePixelRatioF(), 1.0), 4.0), ranking=ranking,
        )  # fmt: skip

    def visible(self) -> tuple[Tile, ...]:
        """Tiles of the view, those nearest its middle first."""
        if self._opened is None:
            return ()
        scheme = self._opened.scheme
        zoom = scheme.zoom_for(self.frame.metres_per_px * (1 + 1e-6))
        return tuple((zoom, col, row) for col, row in scheme.tiles(zoom, self.frame.bounds))

    def _wanted(self) -> list[Tile]:
        """Tiles that the view lacks in their present looks."""
        version = self._version()
        return [t for t in self.visible() if not self.store.is_fresh(t, version)]

    def _ask_tiles(self) -> None:
        """Ask for what is missing, the middle last, as the worker takes the latest first; withdraw the rest."""
        if self._opened is None or not self.isVisible():
            return
        version, wanted = self._version(), self._wanted()
        if self._opened.scheme.zooms > 0 and self.store.pixmap((0, 0, 0)) is None:
            wanted.append((0, 0, 0))
        for tile, (number, asked) in list(self._flying.items()):
            if tile not in wanted or asked != version:
                self._desk.client.withdraw(number)
                del self._flying[tile]
        for tile in reversed(wanted):
            if tile not in self._flying:
                self._ask_tile(tile, version)

    def _ask_tile(self, tile: Tile, version: Version) -> None:
        generation = self._generation
        request = TileRequest(
            zoom=tile[0], col=tile[1], row=tile[2], switches=version.switches, palette=version.palette,
            units=version.units, scale=version.scale,
        )  # fmt: skip

        def done(pixels: Pixels) -> None:
            if generation == self._generation:
                self._flying.pop(tile, None)
                made = image_of(pixels, opaque=True)
                made.setDevicePixelRatio(1.0)
                self.store.put(tile, version, made)
                self.update(tile_rect(self._opened.scheme, tile, *self._corner()).toAlignedRect())
                if not self._flying:
                    self.tilesArrived.emit()

        def failed(failure: Failure) -> None:
            if generation == self._generation:
                self._flying.pop(tile, None)
                self._desk.say(failure.sentence, "error")

        def dropped() -> None:
            self._flying.pop(tile, None)

        self._flying[tile] = (self._desk.client.ask("tile", (request,), done, failed, dropped=dropped), version)

    def _ask_over(self) -> None:
        """Ask for names and heights over the tiles, once the view keeps still; it is drawn finer from then on."""
        if not self._is_still:
            self._is_still = True
            self.update()
        if self._opened is None or not self.isVisible() or not self.switches.names:
            return
        generation, frame = self._generation, self.frame
        request = ViewRequest(
            frame=frame, part="over", switches=replace(self.switches, sites=False), palette=self._desk.palette,
            units=self._desk.printer.units, scale=min(max(self.devicePixelRatioF(), 1.0), 4.0),
        )  # fmt: skip

        def done(pixels: Pixels) -> None:
            if generation == self._generation and self.switches.names:
                self._over = Over(frame=frame, pixmap=image_of(pixels, opaque=False))
                self.update()

        self._desk.client.ask("view", (request,), done)

    # painting

    def _corner(self) -> tuple[float, float, float]:
        bounds = self.frame.bounds
        return bounds.west, bounds.north, self.frame.metres_per_px

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint from what is there; nothing is asked or awaited here."""
        look = LOOKS[self._desk.palette]
        painter = QPainter(self)
        painter.setClipRect(event.rect())
        painter.fillRect(event.rect(), QColor(look.window))
        if self._opened is None:
            return
        self._paint_tiles(painter, QRectF(event.rect()))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._paint_over(painter)
        if self._place is not None:
            draw_place(painter, self.frame, self._place.x_m, self._place.y_m, self._place.way_line)
        if self.switches.sites:
            painter.save()
            draw_marks(painter, self._marks, self.frame, self._desk.chosen, look)
            painter.restore()
        draw_scale(painter, self.frame, self._desk.printer.units, look)
        if self.hasFocus():
            draw_centre(painter, self.frame)

    def _paint_tiles(self, painter: QPainter, dirty: QRectF) -> None:
        assert self._opened is not None, "a ranch is open"
        west, north, scale = self._corner()
        for tile in self.visible():
            rect = tile_rect(self._opened.scheme, tile, west, north, scale)
            left, top = round(rect.left()), round(rect.top())
            rect = QRectF(left, top, round(rect.right()) - left, round(rect.bottom()) - top)
            if not rect.intersects(dirty):
                continue
            held = self.store.pixmap(tile)
            if held is not None:
                scaled = held.width() != round(rect.width() * self.devicePixelRatioF())
                painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform, scaled and self._is_still)
                painter.drawPixmap(rect, held, QRectF(held.rect()))
                continue
            painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform, False)
            for pixmap, part, fills in self.store.stand_ins(tile):
                target = QRectF(
                    rect.left() + fills.left() * rect.width(), rect.top() + fills.top() * rect.height(),
                    fills.width() * rect.width(), fills.height() * rect.height(),
                )  # fmt: skip
                painter.drawPixmap(target, pixmap, part)

    def _paint_over(self, painter: QPainter) -> None:
        if self._over is None or not self.switches.names:
            return
        bounds, scale = self._over.frame.bounds, self.frame.metres_per_px
        x, y = self.frame.to_px(bounds.west, bounds.north)
        if self._over.frame.metres_per_px == scale:
            target = QRectF(round(x), round(y), self._over.frame.width_px, self._over.frame.height_px)
            painter.drawPixmap(target, self._over.pixmap, QRectF(self._over.pixmap.rect()))

    # hands

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep the middle."""
        if self._is_whole:
            self.show_all()
        else:
            self.look_at(self.frame.x_m, self.frame.y_m)

    def showEvent(self, event: object) -> None:
        """Ask for what was not asked for while nobody saw it."""
        self._tile_timer.start(ASK_MS)
        self._over_timer.start(OVER_MS)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """A press begins a pan or a click."""
        self.setFocus(Qt.FocusReason.MouseFocusReason)
        if event.button() == Qt.MouseButton.LeftButton:
            self._pressed, self._dragged = event.position(), False

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Pan while pressed; tell what is under the cursor."""
        at = event.position()
        if self._pressed is not None:
            gap = at - self._pressed
            if self._dragged or math.hypot(gap.x(), gap.y()) > DRAG_PX:
                self._dragged, self._pressed = True, at
                self.pan(-gap.x(), -gap.y())
        self.pointed.emit(*self.frame.to_ground(at.x(), at.y()))

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """A click on a site chooses it; any click asks for the place."""
        if event.button() != Qt.MouseButton.LeftButton or self._pressed is None:
            return
        pressed, self._pressed = self._pressed, None
        if not self._dragged and self._opened is not None:
            mark = self.mark_under(pressed)
            if mark is not None and mark.name:
                self._desk.choose(mark.name)
            at = (mark.x_m, mark.y_m) if mark is not None else self.frame.to_ground(pressed.x(), pressed.y())
            self.placeAsked.emit(*at)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """A double click brings a site, or a place, nearer."""
        mark = self.mark_under(event.position())
        if mark is not None and mark.name:
            self.siteAsked.emit(mark.name)
        else:
            self.zoom(2, event.position())

    def mark_under(self, at: QPointF) -> Mark | None:
        """The mark at a pixel place."""
        return mark_at(self._marks, self.frame, at.x(), at.y(), 1.3 * radius_px(self.font()))

    def contextMenuEvent(self, event: object) -> None:
        """Ask for what can be done here; by the keyboard at the cross."""
        by_mouse = event.reason() == event.Reason.Mouse  # type: ignore[attr-defined]
        at = QPointF(event.pos()) if by_mouse else QPointF(self.width() / 2, self.height() / 2)  # type: ignore[attr-defined]
        mark = self.mark_under(at)
        x, y = (mark.x_m, mark.y_m) if mark is not None else self.frame.to_ground(at.x(), at.y())
        self.menuAsked.emit(x, y, mark, self.mapToGlobal(at.toPoint()))

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Zoom about the cursor."""
        turned = event.angleDelta().y() / WHEEL_STEP
        if turned:
            self.zoom(turned, event.position())
        event.accept()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Move and zoom by keys."""
        far = 4 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1
        key, moves = event.key(), {
            Qt.Key.Key_Left: (-1, 0), Qt.Key.Key_Right: (1, 0), Qt.Key.Key_Up: (0, -1), Qt.Key.Key_Down: (0, 1),
        }  # fmt: skip
        if key in moves:
            self.pan(far * STEP_PX * moves[key][0], far * STEP_PX * moves[key][1])
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal, Qt.Key.Key_Minus):
            self.zoom(-1 if key == Qt.Key.Key_Minus else 1)
        elif key in (Qt.Key.Key_Home, Qt.Key.Key_0):
            self.show_all()
        elif key in (Qt.Key.Key_Space, Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.placeAsked.emit(self.frame.x_m, self.frame.y_m)
        else:
            super().keyPressEvent(event)

    def focusInEvent(self, event: object) -> None:
        """Show the cross."""
        self.update()

    def focusOutEvent(self, event: object) -> None:
        """Hide the cross."""
        self.update()

    def event(self, event: object) -> bool:
        """Tell of a mark under the cursor."""
        if isinstance(event, QHelpEvent):
            mark = self.mark_under(QPointF(event.pos()))
            QToolTip.showText(event.globalPos(), mark.words if mark is not None else "", self)
            return True
        return super().event(event)  # type: ignore[arg-type]
