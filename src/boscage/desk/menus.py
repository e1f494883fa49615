"""The window's menus and keys."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, Qt
from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QMenu, QWidget

from boscage.desk.jobs import JOB_WORDS
from boscage.desk.palettes import PALETTE_TITLES

if TYPE_CHECKING:
    from boscage.desk.window import Window

UNITS_WORDS = {"us": "US customary", "metric": "Metric"}


class Menus(QObject):
    """Everything that can be done, by menu and by key.

    Attributes:
        save, undo, redo: Actions that are there only at times.
    """

    def __init__(self, window: Window) -> None:
        super().__init__(window)
        self._window = window
        bar = window.menuBar()
        plan, edit, show, run, help_menu = (bar.addMenu(t) for t in ("&Plan", "&Edit", "&Show", "&Run", "&Help"))
        self._fill_plan(plan)
        self._fill_edit(edit)
        self._fill_show(show)
        for verb, words in JOB_WORDS.items():
            self._entry(run, words, "", lambda verb=verb: window.jobs.run(verb))
        run.addSeparator()
        self._entry(run, "Stop the job that runs", "Ctrl+.", window.jobs.stop)
        self._entry(help_menu, "Keys", "F1", window.show_keys)
        self._entry(help_menu, "Put the bar of sentences away", "Esc", window.bar.put_away)
        self.tick()

    def _fill_plan(self, menu: QMenu) -> None:
        window = self._window
        self._entry(menu, "First page: make a plan", "Ctrl+N", window.show_first)
        self._entry(menu, "Open…", "Ctrl+O", window.first.choose_plan)
        self.save = self._entry(menu, "Save", "Ctrl+S", window.save)
        self._entry(menu, "Read the plan and its layers again", "Ctrl+R", window.plans.read_again)
        menu.addSeparator()
        self._entry(menu, "Close the window", "Ctrl+Q", window.close)

    def _fill_edit(self, menu: QMenu) -> None:
        window, site = self._window, self._window.map_desk
        self.undo = self._entry(menu, "Undo", "Ctrl+Z", lambda: window.plans.step("undo"))
        self.redo = self._entry(menu, "Make again", "Ctrl+Shift+Z", lambda: window.plans.step("redo"))
        menu.addSeparator()
        for words, key, call in (
            ("Pin the chosen site, or let it go", "P", lambda: site.pin(window.desk.chosen)),
            ("Reject the chosen site…", "R", lambda: site.reject(window.desk.chosen)),
            ("Add the place as a site…", "A", site.add_here),
            ("Next site", "N", lambda: site.step(1)), ("Site before", "B", lambda: site.step(-1)),
        ):  # fmt: skip
            self._entry(menu, words, key, call, only_in=site)

    def _fill_show(self, menu: QMenu) -> None:
        window = self._window
        self._units = self._choices(menu, UNITS_WORDS, window.set_units)
        self._entry(menu, "The other units", "Ctrl+U", window.other_units)
        menu.addSeparator()
        self._palettes = self._choices(menu, PALETTE_TITLES, window.desk.set_palette)
        self._entry(menu, "The next palette", "Ctrl+H", window.next_palette)
        menu.addSeparator()
        larger = self._entry(menu, "Larger text", "Ctrl++", lambda: window.scale_text(1.1))
        larger.setShortcuts([QKeySequence("Ctrl++"), QKeySequence("Ctrl+=")])
        self._entry(menu, "Smaller text", "Ctrl+-", lambda: window.scale_text(1 / 1.1))
        self._entry(menu, "Text at its usual size", "Ctrl+0", lambda: window.scale_text(0.0))
        menu.addSeparator()
        self._entry(menu, "Next part", "F6", lambda: window.next_part(1))
        self._entry(menu, "Part before", "Shift+F6", lambda: window.next_part(-1))

    def tick(self) -> None:
        """Mark the units and the palette that are shown."""
        desk = self._window.desk
        for group, value in ((self._units, desk.printer.units), (self._palettes, desk.palette)):
            for action in group.actions():
                action.setChecked(action.data() == value)

    def show_edits(self, *, unsaved: bool, undo: str, redo: str) -> None:
        """Say what can be saved, undone and made again."""
        self.save.setEnabled(unsaved)
        for action, word, text in ((self.undo, "Undo", undo), (self.redo, "Make again", redo)):
            action.setEnabled(bool(text))
            action.setText(f"{word}: {text}" if text else word)

    def _entry(
        self, menu: QMenu, words: str, key: str, call: Callable[[], Any], *, only_in: QWidget | None = None
    ) -> QAction:
        """An action; a key that is a letter serves only in its part, so that other views may have it too."""
        action = QAction(words, self._window)
        if key:
            action.setShortcut(QKeySequence(key))
        if only_in is not None:
            action.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            only_in.addAction(action)
        action.triggered.connect(lambda _=False: call())
        menu.addAction(action)
        return action

    def _choices(self, menu: QMenu, words: Mapping[str, str], call: Callable[[str], Any]) -> QActionGroup:
        group = QActionGroup(self._window)
        for name, text in words.items():
            action = menu.addAction(text)
            action.setCheckable(True)
            action.setData(name)
            action.triggered.connect(lambda _=False, name=name: call(name))
            group.addAction(action)
        return group
