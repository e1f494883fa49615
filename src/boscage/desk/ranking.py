"""The ranking: sites with their bars, weights by hand, what moved, what was decided."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QItemSelectionModel, QModelIndex, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QListView, QPushButton, QSplitter, QVBoxLayout, QWidget

from boscage.desk.edits import Edits
from boscage.desk.hub import Desk
from boscage.desk.siterows import ROW_ROLE, Row, RowDelegate, SiteRows, left_of, rows_of, slots
from boscage.desk.weightbox import WeightBox
from boscage.model.desk import Opened
from boscage.model.desk_answers import Failure, RankAnswer, RankedSite, SiteEdits

RANK_MS, STEADY_MS = 40, 700
"""How long after a change the ranking is asked for, and how long after a ranking how firm it is."""
FROM_TABLE = "The plan's comparisons give the weights; a weight that is moved here stands in the place of theirs."


class SlotHead(QWidget):
    """Numbers of the factors over their slots, with their names where there is room; the weights have the same."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self.site: RankedSite | None = None
        self.scroll = 0

    def set_site(self, site: RankedSite | None) -> None:
        """Take widths from a site's weights."""
        self.site = site
        names = "\n".join(f"{n} {b.title}" for n, b in enumerate(site.bars, start=1)) if site is not None else ""
        self.setToolTip(names)
        self.setFixedHeight(self.fontMetrics().height() + 4)
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the names, cut to their slots."""
        if self.site is None:
            return
        painter, metrics = QPainter(self), self.fontMetrics()
        left = left_of(metrics.height()) + 1
        width = self.width() - left - 9 - self.scroll
        for n, (bar, (at, wide)) in enumerate(zip(self.site.bars, slots(self.site, left, width), strict=True), start=1):
            room = QRectF(at, 0, wide - 3, self.height())
            whole = f"{n} {bar.title}"
            text = whole if metrics.horizontalAdvance(whole) <= room.width() else str(n)
            painter.drawText(room, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, text)


class SiteList(QListView):
    """The list; letters and arrows are left to it, Enter asks for the site."""

    asked = Signal(str)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter brings the site nearer on the map."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            row = self.currentIndex().data(ROW_ROLE)
            if isinstance(row, Row) and row.site is not None:
                self.asked.emit(row.site.site)
            return
        super().keyPressEvent(event)


class RankingPanel(QWidget):
    """The ranking and its weights.

    Signals:
        siteAsked: A site's name: show it.
        pinAsked, rejectAsked: A site's name.
        takeBackAsked: A `ChoiceOutcome` that is to be taken back.
        ranked: A ranking arrived.
    """

    siteAsked = Signal(str)
    pinAsked = Signal(str)
    rejectAsked = Signal(str)
    takeBackAsked = Signal(object)
    ranked = Signal(object)

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self._edits: Edits | None = None
        self._moving: dict[str, float] = {}
        self._before: RankAnswer | None = None
        self._serial = 0
        self._timer, self._steady_timer = (QTimer(self, singleShot=True) for _ in range(2))
        self._timer.timeout.connect(self._rank)
        self._steady_timer.timeout.connect(self._ask_steadiness)
        self.rows = SiteRows(self)
        self._build()
        desk.planOpened.connect(self._opened)
        desk.planClosed.connect(self._closed)
        desk.siteChosen.connect(self._select)
        desk.paletteChanged.connect(lambda _: self.list.viewport().update())

    def _build(self) -> None:
        self.title = QLabel("Ranking", self)
        self.title.setProperty("role", "head")
        self.note = QLabel(self)
        self.note.setWordWrap(True)
        self.note.setProperty("role", "quiet")
        self.head = SlotHead(self._desk, self)
        self.list = SiteList(self)
        self.list.setModel(self.rows)
        self.list.setItemDelegate(RowDelegate(self._desk, self.list))
        self.list.setVerticalScrollMode(QListView.ScrollMode.ScrollPerPixel)
        self.list.setResizeMode(QListView.ResizeMode.Adjust)
        self.list.setAccessibleName("Ranked sites")
        self.list.asked.connect(self.siteAsked)
        self.list.doubleClicked.connect(self._double_clicked)
        self.list.selectionModel().currentChanged.connect(self._current_changed)
        self.weights = WeightBox(self)
        self.weights.moved.connect(self._weight_moved)
        self.weights.settled.connect(self._weight_settled)
        self.pin_button, self.reject_button = QPushButton("Pin (P)", self), QPushButton("Reject… (R)", self)
        self.pin_button.setToolTip("Keep the chosen site in the ranking, or let it go again")
        self.reject_button.setToolTip("Rank nothing near the chosen site any more; the reason is asked for")
        self.pin_button.clicked.connect(lambda: self._act(self.pinAsked))
        self.reject_button.clicked.connect(lambda: self._act(self.rejectAsked))
        buttons = QHBoxLayout()
        for button in (self.pin_button, self.reject_button):
            button.setEnabled(False)
            buttons.addWidget(button)
        top, foot = QWidget(self), QWidget(self)
        above, below = QVBoxLayout(top), QVBoxLayout(foot)
        for layout in (above, below):
            layout.setContentsMargins(0, 0, 0, 0)
            layout.setSpacing(3)
        for widget in (self.title, self.note, self.head, self.list):
            above.addWidget(widget)
        above.addLayout(buttons)
        weights_title = QLabel("Weights", self)
        weights_title.setProperty("role", "head")
        below.addWidget(weights_title)
        below.addWidget(self.weights)
        self.split = QSplitter(Qt.Orientation.Vertical, self)
        self.split.addWidget(top)
        self.split.addWidget(foot)
        self.split.setStretchFactor(0, 5)
        self.split.setStretchFactor(1, 3)
        self.split.setChildrenCollapsible(False)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(8, 6, 8, 6)
        outer.addWidget(self.split)

    # what is shown

    def _opened(self, opened: Opened) -> None:
        self._edits, self._before, self._moving = self._desk.edits, None, {}
        self.weights.set_factors(opened.factors, FROM_TABLE if opened.weights_from != "ratios" else "")
        self.rows.set_rows(())
        self.title.setText("Ranking: being worked out")
        if self._edits is not None:
            self._edits.changed.connect(self._edited)
        self.rank_soon()

    def _closed(self) -> None:
        self._serial += 1
        self._edits = None
        self.rows.set_rows(())

    def _edited(self) -> None:
        self._moving = {}
        self.rank_soon()

    def rank_soon(self) -> None:
        """Ask for the ranking, once a hand that moves has moved on."""
        if not self._timer.isActive():
            self._timer.start(RANK_MS)

    def edits(self) -> SiteEdits:
        """What is ranked by: what is held, with what a hand moves just now over it."""
        held = self._edits.site_edits() if self._edits is not None else SiteEdits()
        opened = self._desk.opened
        plan = {f.name: f.weight for f in opened.factors} if opened is not None else {}
        return replace(held, weights={**plan, **held.weights, **self._moving} if opened is not None else {})

    def _rank(self) -> None:
        if self._desk.opened is None:
            return
        self._serial += 1
        serial = self._serial
        self._steady_timer.stop()

        def done(answer: RankAnswer) -> None:
            if serial == self._serial:
                self.show_answer(answer)
                self._steady_timer.start(STEADY_MS)

        def failed(failure: Failure) -> None:
            if serial == self._serial:
                self._desk.say(failure.sentence, "error")

        self._desk.client.ask("rank", (self.edits(),), done, failed)

    def _ask_steadiness(self) -> None:
        serial = self._serial

        def done(answer: RankAnswer) -> None:
            if serial == self._serial and self._desk.ranking is not None:
                self.show_answer(answer, is_same=True)

        self._desk.client.ask("steadiness", (self.edits(),), done, lambda f: self._desk.say(f.sentence, "error"))

    def show_answer(self, answer: RankAnswer, *, is_same: bool = False) -> None:
        """Show a ranking; the same one with more known of it keeps what moved."""
        before = self._before if is_same else self._desk.ranking
        self._before = before
        self._desk.set_ranking(answer)
        self.rows.set_rows(rows_of(answer, before))
        self.head.set_site(answer.sites[0] if answer.sites else None)
        self.head.scroll = self.list.verticalScrollBar().sizeHint().width()
        count = len(answer.sites)
        self.title.setText(f"Ranking: {count} site{'s' if count != 1 else ''}")
        said = [answer.reason] if answer.reason else []
        new = [r.site.site for r in self.rows.rows if r.site is not None and r.moved_words == "new"]
        if new:
            said.append(f"New since the last change: {', '.join(new)}.")
        self.note.setText(" ".join(said))
        self.note.setVisible(bool(said))
        self.weights.set_weights({**answer.weights, **self._moving})
        self.weights.set_numbers([b.name for b in answer.sites[0].bars] if answer.sites else [])
        names = {s.site for s in answer.sites}
        if self._desk.chosen and self._desk.chosen not in names:
            self._desk.choose("")
        self._select(self._desk.chosen)
        self.ranked.emit(answer)

    def refresh(self) -> None:
        """Lay the rows out anew, such as for larger text."""
        self.head.set_site(self.head.site)
        self.list.scheduleDelayedItemsLayout()

    # hands

    def _weight_moved(self, factor: str, weight: float) -> None:
        self._moving[factor] = weight
        self.rank_soon()

    def _weight_settled(self, factor: str, weight: float) -> None:
        self._moving.pop(factor, None)
        same = abs(self.edits().weights.get(factor, 0.0) - weight) < 1e-6
        if same or self._edits is None or not self._edits.set_weight(factor, weight):
            self.rank_soon()

    def _current_changed(self, index: QModelIndex) -> None:
        row = index.data(ROW_ROLE) if index.isValid() else None
        site = row.site if isinstance(row, Row) else None
        for button in (self.pin_button, self.reject_button):
            button.setEnabled(site is not None)
        if site is not None:
            self._desk.choose(site.site)

    def _select(self, site: str) -> None:
        row = self.rows.row_of(site) if site else -1
        model = self.list.selectionModel()
        if row < 0:
            model.clear()
            for button in (self.pin_button, self.reject_button):
                button.setEnabled(False)
        elif self.list.currentIndex().row() != row or not model.hasSelection():
            index = self.rows.index(row, 0)
            model.setCurrentIndex(index, QItemSelectionModel.SelectionFlag.ClearAndSelect)
            self.list.scrollTo(index)

    def _double_clicked(self, index: QModelIndex) -> None:
        row = index.data(ROW_ROLE)
        if row.site is not None:
            self.siteAsked.emit(row.site.site)
        elif row.outcome is not None:
            self.takeBackAsked.emit(row.outcome)

    def _act(self, signal: object) -> None:
        if self._desk.chosen:
            signal.emit(self._desk.chosen)  # type: ignore[attr-defined]
