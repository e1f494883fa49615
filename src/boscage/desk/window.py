"""The window: rooms to the left, what they show beside them, one bar of sentences, one line of progress."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path
from typing import Any

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QCloseEvent, QFont, QKeySequence
from PySide6.QtWidgets import (
    QApplication,
    QButtonGroup,
    QDialog,
    QHBoxLayout,
    QLabel,
    QMainWindow,
    QProgressBar,
    QPushButton,
    QStackedWidget,
    QTextBrowser,
    QVBoxLayout,
    QWidget,
)

from boscage.desk.client import Client
from boscage.desk.firstpage import FirstPage
from boscage.desk.hub import Desk
from boscage.desk.jobs import JOB_WORDS, Jobs
from boscage.desk.mapdesk import MapDesk
from boscage.desk.menus import UNITS_WORDS, Menus
from boscage.desk.palettes import LOOKS, qt_palette, style_sheet
from boscage.desk.plans import Plans
from boscage.desk.saybar import SayBar
from boscage.desk.viewplugins import ViewEntry, list_views, make_view
from boscage.desk.words import keys_html
from boscage.model.desk import PALETTES, Opened

NAME = "Boscage"
CLOCK = "boscage.desk.clockbar:ClockBar"
VERB_WORDS = {"open": "Opening the ranch", "pages": "Laying out pages", "print": "Printing", "rank": "Ranking",
              "recognise": "Looking into files", "sample": "Copying the sample ranch"}  # fmt: skip
LEAST_PT, MOST_PT = 6.0, 28.0


class Window(QMainWindow):
    """The desktop window on one plan, or on the first page without one."""

    def __init__(self, client: Client | None = None, views: tuple[ViewEntry, ...] | None = None) -> None:
        super().__init__()
        self.client = client or Client(self)
        self.desk = Desk(self.client, self)
        self.bar = SayBar(self)
        self.jobs = Jobs(self.desk, self.bar, self)
        self.plans = Plans(self.desk, self.bar, self)
        self.first = FirstPage(self.desk, self)
        self.map_desk = MapDesk(self.desk, self.bar, self)
        self._usual_pt = QApplication.font().pointSizeF()
        self._busy_timer = QTimer(self, singleShot=True)
        self._busy_timer.timeout.connect(self._show_busy)
        self._closing = False
        self._rooms = QButtonGroup(self)
        self.stack = QStackedWidget(self)
        self._strip = QWidget(self)
        self._strip_box = QVBoxLayout(self._strip)
        self._build()
        self._connect()
        self._add_views(list_views() if views is None else views)
        self.menus = Menus(self)
        self._show_room(0)
        self._paint_all()
        self._title()

    # how it is built

    def _build(self) -> None:
        self.setMinimumSize(900, 560)
        self.resize(1280, 720)
        self._strip_box.setContentsMargins(0, 6, 0, 6)
        self._strip_box.setSpacing(2)
        self._strip_box.addStretch(1)
        self._outer = QStackedWidget(self)
        rooms = QWidget(self)
        across = QHBoxLayout(rooms)
        across.setContentsMargins(0, 0, 0, 0)
        across.setSpacing(0)
        across.addWidget(self._strip)
        across.addWidget(self.stack, 1)
        self._outer.addWidget(self.first)
        self._outer.addWidget(rooms)
        middle = QWidget(self)
        down = QVBoxLayout(middle)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(0)
        down.addWidget(self.bar)
        down.addWidget(self._outer, 1)
        self.clock = self._clock()
        if self.clock is not None:
            down.addWidget(self.clock)
        self.setCentralWidget(middle)
        self._build_status()

    def _build_status(self) -> None:
        self.doing, self.progress = QLabel(self), QProgressBar(self)
        self.progress.setMaximumWidth(220)
        self.progress.setTextVisible(False)
        self.progress.setAccessibleName("How far the work is")
        self.stop_button = QPushButton("Stop (Ctrl+.)", self)
        self.stop_button.clicked.connect(self.jobs.stop)
        line = self.statusBar()
        line.setSizeGripEnabled(False)
        line.addWidget(self.doing, 1)
        line.addPermanentWidget(self.progress)
        line.addPermanentWidget(self.stop_button)
        self.progress.hide()
        self.stop_button.hide()

    def _clock(self) -> QWidget | None:
        """The clock of checks at the foot; where it cannot be made, that is said and the window goes on."""
        module, name = CLOCK.split(":")
        try:
            made: QWidget = getattr(import_module(module), name)(self.desk, self)
        except Exception as error:
            self.desk.say(f"The clock of checks cannot be shown: {type(error).__name__}: {error}.", "error")
            return None
        activated = getattr(made, "activated", None)
        if activated is not None:
            activated.connect(lambda: self.show_view("log"))
        return made

    def _connect(self) -> None:
        self.desk.said.connect(self.bar.say)
        self.desk.paletteChanged.connect(lambda _: self._paint_all())
        self.desk.unitsChanged.connect(self._units_changed)
        self.first.planChosen.connect(self.open_plan)
        self.plans.taken.connect(self._plan_taken)
        self.plans.failed.connect(self._plan_failed)
        self.plans.opened.connect(self._plan_opened)
        self.plans.readAgain.connect(self._back_to_view)
        self.plans.changed.connect(self._title)
        self.client.died.connect(self._died)
        self.client.mapRestarted.connect(self.plans.read_again)
        self.client.progressed.connect(self._progressed)
        self.client.busyChanged.connect(self._busy_changed)
        self._rooms.idClicked.connect(self._show_room)

    def _add_views(self, entries: tuple[ViewEntry, ...]) -> None:
        self._views: dict[str, int] = {}
        self._taken: set[str] = set()
        self._add_room("map", "Map", "Ctrl+1", self.map_desk)
        for entry in entries:
            widget, fault = make_view(entry, self.desk)
            if fault:
                self.desk.say(fault, "error")
            self._add_room(entry.name, entry.title, entry.shortcut, widget)

    def _add_room(self, name: str, title: str, shortcut: str, widget: QWidget) -> None:
        number = self.stack.addWidget(widget)
        self._views[name] = number
        button = QPushButton(title, self._strip)
        button.setCheckable(True)
        button.setProperty("role", "room")
        button.setAccessibleName(f"View: {title}")
        key = shortcut if shortcut and shortcut not in self._taken else f"Ctrl+{number + 1}"
        if key not in self._taken and number < 9:
            self._taken.add(key)
            button.setShortcut(QKeySequence(key))
            button.setToolTip(f"{title} ({key})")
        self._rooms.addButton(button, number)
        self._strip_box.insertWidget(self._strip_box.count() - 1, button)

    # rooms

    def show_view(self, name: str) -> None:
        """Show a view by its name."""
        if name in self._views:
            self._show_room(self._views[name])

    def view(self, name: str) -> QWidget:
        """A view by its name."""
        return self.stack.widget(self._views[name])

    @property
    def is_first(self) -> bool:
        """Whether the first page is shown."""
        return self._outer.currentIndex() == 0

    def show_first(self) -> None:
        """Show the first page; the plan stays open."""
        self._outer.setCurrentIndex(0)

    def _show_room(self, number: int) -> None:
        self._rooms.button(number).setChecked(True)
        self.stack.setCurrentIndex(number)
        if self.desk.opened is not None or self.plans.is_opening:
            self._outer.setCurrentIndex(1)
        shown = getattr(self.stack.currentWidget(), "shown", None)
        if callable(shown):
            try:
                shown()
            except Exception as error:
                title = self._rooms.button(number).text()
                self.desk.say(f"The view {title} failed: {type(error).__name__}: {error}.", "error")

    def next_part(self, by: int) -> None:
        """Give the keyboard to the next part of what is shown."""
        parts: list[QWidget] = [self._rooms.checkedButton()]
        if self.stack.currentIndex() == 0:
            weights = self.map_desk.ranking.weights
            parts += [self.map_desk.place.page, self.map_desk.map, self.map_desk.ranking.list, weights]
        else:
            parts.append(self.stack.currentWidget())
        parts += [self.bar] if not self.bar.isHidden() else []
        here = next((n for n, p in enumerate(parts) if p is not None and (p.hasFocus() or _holds_focus(p))), 0)
        target = parts[(here + by) % len(parts)]
        inner = target if target.focusPolicy() != Qt.FocusPolicy.NoFocus else _first_inside(target)
        inner.setFocus(Qt.FocusReason.ShortcutFocusReason)

    # plans

    def open_plan(self, path: str) -> bool:
        """Take a plan and open its ranch; False where it cannot be taken, which is said."""
        taken = self.plans.open(path)
        if not taken and self.desk.opened is not None and self.desk.plan == Path(path):
            self._outer.setCurrentIndex(1)
        return taken

    def save(self) -> bool:
        """Save the plan; False where it could not be, which is said."""
        return self.plans.save()

    def _plan_taken(self) -> None:
        self._outer.setCurrentIndex(1)
        self._title()

    def _plan_failed(self) -> None:
        self._outer.setCurrentIndex(0)
        self._title()

    def _plan_opened(self) -> None:
        self._title()
        if self.stack.currentIndex() == 0 and not self.is_first:
            self.map_desk.shown()

    def _back_to_view(self) -> None:
        """Look at the same ground as before the ranch was read again."""
        self.map_desk.map.look_again()

    def _title(self) -> None:
        edits, opened = self.desk.edits, self.desk.opened
        unsaved = edits is not None and not edits.is_saved
        name = f"{opened.ranch} · {Path(opened.plan).name}[*] · {NAME}" if opened is not None else f"[*]{NAME}"
        self.setWindowTitle(name)
        self.setWindowModified(unsaved)
        if hasattr(self, "menus"):
            stack = edits.stack if edits is not None else None
            undo = stack.undoText() if stack is not None and stack.canUndo() else ""
            redo = stack.redoText() if stack is not None and stack.canRedo() else ""
            self.menus.show_edits(unsaved=unsaved, undo=undo, redo=redo)

    # looks

    def set_units(self, units: str) -> None:
        """Show other units at once; the plan, whose sheets follow it, gets them as an edit."""
        edits = self.desk.edits
        if edits is not None and edits.held.plan.ranch.units != units:
            edits.set_key(("ranch", "units"), units, f"units: {UNITS_WORDS[units]}")
        else:
            self.desk.set_units(units)
        self.menus.tick()

    def other_units(self) -> None:
        """US customary or metric."""
        self.set_units("metric" if self.desk.printer.units == "us" else "us")

    def _units_changed(self, units: str) -> None:
        if hasattr(self, "menus"):
            self.menus.tick()
        opened = self.desk.opened
        if opened is None or opened.units == units:
            return

        def done(answer: Opened) -> None:
            if self.desk.opened is not None and self.desk.opened.plan == answer.plan:
                self.desk.opened = answer
                self.desk.planChanged.emit()
                self.map_desk.ranking.rank_soon()
                self.map_desk.ask_again()

        self.client.ask("units", (units,), done, lambda f: self.desk.say(f.sentence, "error"))

    def next_palette(self) -> None:
        """Show the next palette."""
        self.desk.set_palette(PALETTES[(PALETTES.index(self.desk.palette) + 1) % len(PALETTES)])

    def _paint_all(self) -> None:
        look = LOOKS[self.desk.palette]
        QApplication.setPalette(qt_palette(look))
        self.setStyleSheet(style_sheet(look))
        if hasattr(self, "menus"):
            self.menus.tick()

    def scale_text(self, by: float) -> None:
        """Make all text larger or smaller; 0 brings it back."""
        font = QFont(QApplication.font())
        size = self._usual_pt if by == 0.0 else font.pointSizeF() * by
        font.setPointSizeF(min(max(size, LEAST_PT), MOST_PT))
        QApplication.setFont(font)
        for widget in (self, *self.findChildren(QWidget)):
            widget.setFont(font)
        self.map_desk.fit_text()
        self.map_desk.ranking.refresh()

    def show_keys(self) -> QDialog:
        """All keys, in a window beside this one that holds up nothing."""
        page = QDialog(self)
        page.setWindowTitle("Keys")
        page.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        text = QTextBrowser(page)
        text.setHtml(keys_html())
        text.setAccessibleName("Keys")
        QVBoxLayout(page).addWidget(text)
        page.resize(620, 640)
        page.show()
        return page

    # work under way

    def _progressed(self, worker: str, verb: str, payload: Any) -> None:
        step, done, total = payload
        self.doing.setText(f"{VERB_WORDS.get(verb, JOB_WORDS.get(verb, verb))}: {step}")
        self.progress.setRange(0, max(0, int(total)))
        self.progress.setValue(int(done))
        self.progress.setVisible(total > 1)

    def _died(self, sentence: str) -> None:
        self.desk.say(sentence, "error")

    def _busy_changed(self) -> None:
        self._busy_timer.start(0)

    def _show_busy(self) -> None:
        jobs = self.client.job.open_questions
        self.stop_button.setVisible(bool(jobs))
        slow = [v for v in self.client.map.open_questions if v == "open"]
        if not jobs and not slow:
            self.doing.setText("")
            self.progress.hide()
        elif not self.doing.text():
            verb = (*jobs, *slow)[0]
            self.doing.setText(f"{VERB_WORDS.get(verb, JOB_WORDS.get(verb, verb))}: begun")

    def closeEvent(self, event: QCloseEvent) -> None:
        """Close; unsaved edits are asked for once, and kept where nobody answers."""
        edits = self.desk.edits
        if edits is not None and not edits.is_saved and not self._closing:
            self._closing = True
            event.ignore()
            self.bar.ask(
                "There are edits that are not in the plan file yet.",
                [("Save and close", lambda _: self._save_and_close()),
                 ("Close; offer them the next time", lambda _: self.close())], line=False,
            )  # fmt: skip
            return
        for n in range(self.stack.count()):
            closed = getattr(self.stack.widget(n), "closed", None)
            if callable(closed):
                closed()
        if self.desk.edits is not None or self.plans.is_opening:
            self.plans.leave()
        self.client.stop()
        event.accept()

    def _save_and_close(self) -> None:
        if self.save():
            self.close()
        else:
            self._closing = False


def _holds_focus(widget: QWidget) -> bool:
    focus = QApplication.focusWidget()
    return focus is not None and widget.isAncestorOf(focus)


def _first_inside(widget: QWidget) -> QWidget:
    """The first widget inside that takes the keyboard, or the widget."""
    for inner in widget.findChildren(QWidget):
        if inner.focusPolicy() & Qt.FocusPolicy.TabFocus and inner.isVisibleTo(widget) and inner.isEnabled():
            return inner
    return widget
