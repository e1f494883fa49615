"""The clock of checks in sight: which armed set must be looked at when, and loudly which is overdue."""

from __future__ import annotations

import datetime as dt

from PySide6.QtCore import QFileSystemWatcher, QObject, QPointF, QRectF, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QColor, QFont, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QSizePolicy, QVBoxLayout, QWidget

from boscage.desk.asking import Latest
from boscage.desk.hub import Desk
from boscage.model.desk_answers import Failure
from boscage.model.desk_pages import ClockAnswer, ClockRequest
from boscage.model.ledger_clock import DueCheck

MINUTE_MS, SETTLE_MS = 60_000, 250
SOON_H = 3.0
MOST_SHOWN = 3
WORDS = {"overdue": "OVERDUE", "perhaps overdue": "PERHAPS OVERDUE", "soon": "due soon", "upcoming": "next look"}
NONE_ARMED = "The log has no set armed now."


def standing(due: DueCheck, now: dt.datetime) -> str:
    """`overdue`, `perhaps overdue`, `soon` or `upcoming`."""
    if due.state != "upcoming":
        return due.state
    return "soon" if (due.due - now).total_seconds() <= 3600.0 * SOON_H else "upcoming"


def span_words(span: dt.timedelta) -> str:
    """A span of time in days, hours and minutes.

    >>> span_words(dt.timedelta(days=3, hours=12, minutes=5)), span_words(dt.timedelta(minutes=125))
    ('3 d 12 h', '2 h 05 min')
    """
    minutes = round(abs(span.total_seconds()) / 60.0)
    if minutes >= 24 * 60:
        return f"{minutes // 1440} d {minutes % 1440 // 60} h"
    return f"{minutes // 60} h {minutes % 60:02d} min" if minutes >= 60 else f"{minutes} min"


def due_words(due: DueCheck, now: dt.datetime) -> str:
    """One set in one sentence."""
    state, at = standing(due, now), due.due_latest if due.state == "overdue" else due.due
    stamp = f"{at:%a} {at.day} {at:%b %H:%M}"
    if state == "overdue":
        return f"{WORDS[state]}: {due.site}, a look was due {stamp}, {span_words(now - at)} ago"
    if state == "perhaps overdue":
        return f"{WORDS[state]}: {due.site}, due from {stamp}; the last look has no time written down"
    by = "" if due.time_is_known else " or later: the last look has no time"
    return f"{due.site}: {WORDS[state]} by {stamp}, in {span_words(at - now)}{by}"


class CheckWatch(QObject):
    """Asks for the clock each minute and when the plan or its log change; one a window or view."""

    answered = Signal(object)
    failed = Signal(str)

    def __init__(self, desk: Desk, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._desk, self._asks = desk, Latest(desk, self)
        self._files = QFileSystemWatcher(self)
        self._files.fileChanged.connect(lambda _: self._settle.start())
        self._files.directoryChanged.connect(lambda _: self._settle.start())
        self._settle = QTimer(self, singleShot=True, interval=SETTLE_MS)
        self._settle.timeout.connect(self.refresh)
        self._minute = QTimer(self, interval=MINUTE_MS)
        self._minute.timeout.connect(self.refresh)
        self._minute.start()
        self.now: dt.datetime | None = None
        desk.planOpened.connect(self.refresh)
        desk.planClosed.connect(self.refresh)
        desk.planChanged.connect(self._settle.start)
        if desk.plan is not None:
            self.refresh()

    def refresh(self, _: object = None) -> None:
        """Ask now."""
        plan = self._desk.plan
        if plan is None:
            self._asks.forget()
            self.answered.emit(None)
            return
        self._asks.ask("clock", ClockRequest(plan=str(plan), now=self.now), self._answered, self._failed)

    def _answered(self, answer: ClockAnswer) -> None:
        self._watch(answer)
        self.answered.emit(answer)

    def _failed(self, failure: Failure) -> None:
        self.failed.emit(f"CHECKS NOT KNOWN. {failure.sentence}")

    def _watch(self, answer: ClockAnswer) -> None:
        """Watch plan and log; a file that is written anew is another one and must be named again."""
        plan = self._desk.plan
        if plan is None:
            return
        paths = {str(plan), str(plan.parent)}
        if answer.log:
            log = plan.parent / answer.log
            paths |= {str(log)} if log.exists() else set()
        held = {*self._files.files(), *self._files.directories()}
        if paths - held:
            self._files.addPaths(sorted(paths - held))
        if held - paths:
            self._files.removePaths(sorted(held - paths))


class Badge(QWidget):
    """A state as a shape: a full triangle with a stroke is overdue, an open one perhaps, a clock face is to come."""

    def __init__(self, state: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.state = state
        self.setAccessibleName(WORDS.get(state, state))
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        """As high as a line of text and a little more."""
        side = round(self.fontMetrics().height() * 1.35)
        return QSize(side, side)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the shape in the ink of the words."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        ink, ground = self.palette().windowText().color(), self.palette().window().color()
        box = QRectF(self.rect()).adjusted(2, 2, -2, -2)
        painter.setPen(QPen(ink, 2.0))
        if "overdue" not in self.state:
            painter.drawEllipse(box)
            middle = box.center()
            painter.drawLine(middle, QPointF(middle.x(), box.top() + 0.2 * box.height()))
            painter.drawLine(middle, QPointF(box.right() - 0.28 * box.width(), middle.y()))
            return
        full = self.state == "overdue"
        painter.setBrush(ink if full else Qt.BrushStyle.NoBrush)
        painter.drawPolygon(QPolygonF([QPointF(box.center().x(), box.top()), box.bottomRight(), box.bottomLeft()]))
        painter.setPen(QPen(ground if full else ink, 2.4))
        x, high = box.center().x(), box.height()
        painter.drawLine(QPointF(x, box.top() + 0.38 * high), QPointF(x, box.top() + 0.66 * high))
        painter.drawPoint(QPointF(x, box.top() + 0.83 * high))


class DueChip(QFrame):
    """One set's next look; an overdue one is inverted, framed and in capitals."""

    def __init__(self, due: DueCheck, now: dt.datetime, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.state = standing(due, now)
        self.badge, self.label = Badge(self.state), QLabel(due_words(due, now))
        self.label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        box = QHBoxLayout(self)
        box.setContentsMargins(8, 3, 10, 3)
        box.setSpacing(6)
        box.addWidget(self.badge)
        box.addWidget(self.label)
        self.setAccessibleName(self.label.text())
        if self.state == "overdue":
            self._invert()
        elif self.state == "perhaps overdue":
            self.setFrameStyle(QFrame.Shape.Box | QFrame.Shadow.Plain)
            self.setLineWidth(3)
        if self.state != "upcoming":
            font = QFont(self.label.font())
            font.setBold(True)
            self.label.setFont(font)

    def _invert(self) -> None:
        palette = self.palette()
        palette.setColor(palette.ColorRole.Window, QColor("#7a0c0c"))
        palette.setColor(palette.ColorRole.WindowText, QColor("#ffffff"))
        self.setAutoFillBackground(True)
        self.setPalette(palette)
        for part in (self.badge, self.label):
            part.setPalette(palette)


class ClockBar(QFrame):
    """A strip of the window: the most pressing sets, always in sight. Enter or a click goes to the log."""

    activated = Signal()

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.watch = CheckWatch(desk, self)
        self.answer: ClockAnswer | None = None
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setAccessibleName("Clock of checks")
        self._box = QHBoxLayout(self)
        self._box.setContentsMargins(8, 2, 8, 2)
        self.watch.answered.connect(self.show_answer)
        self.watch.failed.connect(self.show_words)
        self.show_answer(None)

    def refresh(self) -> None:
        """Count anew."""
        self.watch.refresh()

    def show_answer(self, answer: ClockAnswer | None) -> None:
        """Show how the checks stand; nothing without a plan."""
        self.answer = answer
        self.setVisible(answer is not None)
        if answer is None:
            self._clear()
            return
        if answer.silence or not answer.due:
            self.show_words(f"Checks not known: {answer.silence}" if answer.silence else _none_armed(answer))
            return
        self._clear()
        for due in answer.due[:MOST_SHOWN]:
            self._box.addWidget(DueChip(due, answer.now))
        more = len(answer.due) - MOST_SHOWN
        late = sum(d.state == "overdue" for d in answer.due[MOST_SHOWN:])
        if more > 0:
            self._box.addWidget(QLabel(f"and {more} more{f', {late} OVERDUE' if late else ''}"))
        self._box.addStretch(1)
        stamp = QLabel(f"{answer.now:%H:%M} {answer.zone}")
        self._box.addWidget(stamp)
        self.setAccessibleDescription("; ".join(due_words(d, answer.now) for d in answer.due))

    def show_words(self, words: str) -> None:
        """Show a sentence in place of sets."""
        self._clear()
        self.setVisible(True)
        label = QLabel(words)
        label.setWordWrap(True)
        self._box.addWidget(label, 1)
        self.setAccessibleDescription(words)

    def words(self) -> str:
        """Everything that is shown, in words."""
        return self.accessibleDescription() if self.isVisibleTo(self.parentWidget()) else ""

    def _clear(self) -> None:
        while self._box.count():
            widget = self._box.takeAt(0).widget()
            if widget is not None:
                widget.setParent(None)
                widget.deleteLater()
        self.setAccessibleDescription("")

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Go to the log."""
        self.activated.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Go to the log."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space):
            self.activated.emit()
        else:
            super().keyPressEvent(event)


def _none_armed(answer: ClockAnswer) -> str:
    last = f" Its last row is of {answer.last_night}." if answer.last_night is not None else " It has no row."
    return NONE_ARMED + last


class ClockTable(QWidget):
    """Every armed set with its next look, the rule, and what is not written down."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.watch = CheckWatch(desk, self)
        self._box = QVBoxLayout(self)
        self._box.setContentsMargins(8, 8, 8, 2)
        self._box.setSpacing(4)
        self.watch.answered.connect(self.show_answer)
        self.watch.failed.connect(lambda words: self._fill([QLabel(words)]))

    def refresh(self) -> None:
        """Count anew."""
        self.watch.refresh()

    def show_answer(self, answer: ClockAnswer | None) -> None:
        """Show the clock."""
        if answer is None:
            self._fill([QLabel("No plan is open.")])
            return
        rows: list[QWidget] = [DueChip(d, answer.now) for d in answer.due]
        if answer.silence:
            rows.append(QLabel(f"Checks not known: {answer.silence}"))
        elif not answer.due:
            rows.append(QLabel(_none_armed(answer)))
        words = [f"Counted at {answer.now:%Y-%m-%d %H:%M} {answer.zone}. Rule: {answer.rule}"] if answer.rule else []
        words += [f"{answer.problems} rows of the log are set aside until mended."] if answer.problems else []
        words += [f"{n[:1].upper()}{n[1:]}" for n in answer.notes]
        rows += [QLabel(w) for w in words]
        self._fill(rows)

    def _fill(self, rows: list[QWidget]) -> None:
        while self._box.count():
            widget = self._box.takeAt(0).widget()
            if widget is not None:
                widget.setParent(None)
                widget.deleteLater()
        for row in rows:
            if isinstance(row, QLabel):
                row.setWordWrap(True)
            self._box.addWidget(row, 0, Qt.AlignmentFlag.AlignLeft if isinstance(row, DueChip) else Qt.AlignmentFlag(0))
