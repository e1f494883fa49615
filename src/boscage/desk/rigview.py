"""The ring of a site, or of a list as it is typed: trees are left out or marked bad, and the next best ring appears."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QEvent, Qt, QTimer
from PySide6.QtGui import QKeyEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import QFileDialog, QSplitter, QStackedWidget, QVBoxLayout, QWidget

from boscage.desk.asking import Latest
from boscage.desk.hub import Desk
from boscage.desk.rigchanges import TYPED, Drafts, RigChange, RigHistory
from boscage.desk.ringcanvas import RingCanvas
from boscage.desk.ringlook import LOOKS
from boscage.desk.ringpanel import RingPanel
from boscage.desk.ringwords import figures, reason, remark, thick
from boscage.desk.sheetpane import SheetPane
from boscage.desk.stemlists import read_list, write_list
from boscage.desk.stemtable import TYPED as TYPED_COLUMNS
from boscage.model.desk_answers import Failure, RigAnswer, RigListRequest, RigRequest
from boscage.model.report import counted
from boscage.model.rig import NoRing, Ring

TYPING_MS, MOST_PANEL_PX = 120, 760
SITE_SHARE, TYPED_SHARE = 0.38, 0.48
"""A list is fitted again when nothing was typed for this long."""


class RigView(QWidget):
    """The view `rig`.

    Delete leaves the chosen tree out, B marks it bad, the same again takes it back. The ring of the trees that are left
    is the exact best one: it comes from the map worker, and the latest answer wins.
    """

    name = "rig"
    title = "Rig"
    shortcut = "Ctrl+2"

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self._fit, self._compare = Latest(desk, self), Latest(desk, self)
        self.drafts = Drafts()
        self.place = ""
        self.answer: RigAnswer | None = None
        self._best: dict[object, Ring | NoRing | None] = {}
        self.canvas, self.panel = RingCanvas(), RingPanel()
        self.sheets = SheetPane(desk, "rig")
        self._stack = QStackedWidget()
        self._lay_out()
        self._connect()
        self._typing = QTimer(self, singleShot=True, interval=TYPING_MS)
        self._typing.timeout.connect(self._ask)
        self._repaint()
        self._opened()

    # making

    def _lay_out(self) -> None:
        split = self._split = QSplitter(Qt.Orientation.Horizontal)
        split.addWidget(self.canvas)
        split.addWidget(self.panel)
        split.setStretchFactor(0, 3)
        split.setStretchFactor(1, 2)
        split.setChildrenCollapsible(False)
        self.panel.setMaximumWidth(MOST_PANEL_PX)
        self._stack.addWidget(split)
        self._stack.addWidget(self.sheets)
        box = QVBoxLayout(self)
        box.setContentsMargins(0, 0, 0, 0)
        box.addWidget(self._stack)

    def _connect(self) -> None:
        desk, panel, canvas, table = self._desk, self.panel, self.canvas, self.panel.table
        desk.planOpened.connect(self._opened)
        desk.planClosed.connect(self._opened)
        desk.rankingChanged.connect(self._ranked)
        desk.siteChosen.connect(self._site_chosen)
        desk.unitsChanged.connect(self._units_changed)
        desk.paletteChanged.connect(self._repaint)
        for source in (canvas, table):
            source.leftOut.connect(self.leave_out)
            source.markedBad.connect(self.mark_bad)
        canvas.chosen.connect(table.choose)
        canvas.chosen.connect(self._tell_chosen)
        table.stemChosen.connect(canvas.choose)
        table.stems.edited.connect(self._typed)
        panel.declination.textEdited.connect(lambda _: self._typed())
        panel.placePicked.connect(self.show_place)
        actions: dict[str, Callable[[], object]] = {
            "out": lambda: self.leave_out(canvas.stem), "bad": lambda: self.mark_bad(canvas.stem), "undo": self.undo,
            "redo": self.redo, "all": self.all_back, "fit": canvas.fit, "sheets": self.show_sheets,
            "save": self.save_list, "load": self.load_list,
        }  # fmt: skip
        for name, call in actions.items():
            panel.buttons[name].clicked.connect(lambda _=False, call=call: call())
        for keys, call in (("Ctrl+T", self.type_list), ("F4", self.show_sheets)):
            QShortcut(
                QKeySequence(keys), self, activated=call, context=Qt.ShortcutContext.WidgetWithChildrenShortcut
            )  # fmt: skip

    # the plan and its places

    def shown(self) -> None:
        """Ask for the ring of the chosen site, and take the keyboard."""
        if not self.place:
            self._first_place()
        if self.answer is None and self.place:
            self._ask()
        (self.panel.table if self.place == TYPED else self.canvas).setFocus()

    def _opened(self, _: object = None) -> None:
        self._fit.forget()
        self._compare.forget()
        self._best.clear()
        self.drafts = Drafts.beside(self._desk.plan)
        self.place, self.answer = "", None
        self.canvas.show_answer(None, fit=True)
        self.panel.set_places(self._sites(), self.place)
        self._first_place()

    def _sites(self) -> tuple[str, ...]:
        return tuple(s.site for s in self._desk.ranking.sites) if self._desk.ranking is not None else ()

    def _first_place(self) -> None:
        sites = self._sites()
        if self._desk.chosen in sites or sites:
            self.show_place(self._desk.chosen if self._desk.chosen in sites else sites[0])

    def _ranked(self, _: object) -> None:
        sites = self._sites()
        self._best.clear()
        self.panel.set_places(sites, self.place)
        if self.place != TYPED:
            self.show_place(self.place if self.place in sites else (sites[0] if sites else ""), again=True)

    def _site_chosen(self, site: str) -> None:
        if site in self._sites() and self.place != TYPED:
            self.show_place(site)

    def show_place(self, place: str, *, again: bool = False) -> None:
        """Show the ring of a ranked site, or of the typed list."""
        if place == self.place and not again:
            return
        self.place, self.answer = place, None
        self.canvas.sentence = "Fitting the ring …" if place else "No site is ranked."
        self.canvas.show_answer(None, fit=True)
        self.panel.set_places(self._sites(), place)
        self.panel.set_typed(place == TYPED)
        stems = self.panel.table.stems
        self._share(TYPED_SHARE if place == TYPED else SITE_SHARE)
        if place == TYPED:
            stems.reset(self.drafts.columns or self._columns(), self.drafts.rows, typed=True)
            self.panel.declination.setText(self.drafts.declination)
        else:
            stems.reset(("stem", "dbh"), (), typed=False)
            self._desk.choose(place) if place else None
        self.panel.table.widths()
        self.panel.table.scrollToTop()
        if place and (self.isVisible() or place == TYPED):
            self._ask()

    def _share(self, panel: float) -> None:
        """Give the panel its share of the width: a list that is typed needs more."""
        wide = max(self.width(), 900)
        self._split.setSizes([round(wide * (1.0 - panel)), round(wide * panel)])

    def type_list(self) -> None:
        """Go to the typed list, the cursor in the first cell that is still to be typed."""
        self._stack.setCurrentIndex(0)
        self.show_place(TYPED)
        self.panel.table.start_typing()

    def show_sheets(self) -> None:
        """Go to the printed sheets of the site, and back."""
        on = self._stack.currentIndex() == 0 and self.place not in ("", TYPED)
        self._stack.setCurrentIndex(1 if on else 0)
        if on:
            self.sheets.choose_sites((self.place,))
            self.sheets.shown()
        else:
            self.canvas.setFocus()

    # changes

    @property
    def history(self) -> RigHistory:
        """The changes at the place that is shown."""
        return self.drafts.at(self.place)

    def leave_out(self, stem: str) -> None:
        """Leave a tree out, or take it back in."""
        if stem and self.place:
            self._change(self.history.now.toggled_out(stem))

    def mark_bad(self, stem: str) -> None:
        """Mark a tree as holding nothing, or as good again."""
        if stem and self.place:
            self._change(self.history.now.toggled_bad(stem))

    def all_back(self) -> None:
        """Take every tree back in; can be undone."""
        if self.place:
            self._change(RigChange())

    def undo(self) -> None:
        """Take the last change back."""
        if self.place and self.history.undo():
            self._changed()

    def redo(self) -> None:
        """Make the change that was taken back again."""
        if self.place and self.history.redo():
            self._changed()

    def _change(self, state: RigChange) -> None:
        self.history.change(state)
        self._changed()

    def _changed(self) -> None:
        self._keep()
        self._ask()

    def _typed(self) -> None:
        stems = self.panel.table.stems
        self.drafts.columns, self.drafts.rows = stems.columns, stems.filled()
        self.drafts.declination = self.panel.declination.text().strip()
        self._keep()
        self._typing.start()

    def _keep(self) -> None:
        if not self.drafts.keep() and self.drafts.fault:
            self._desk.say(self.drafts.fault, "error")

    # asking

    def _request(self, change: RigChange) -> RigRequest | RigListRequest:
        if self.place != TYPED:
            return RigRequest(site=self.place, removed=change.removed, bad=change.bad)
        stems = self.panel.table.stems
        return RigListRequest(
            columns=stems.columns, rows=stems.filled(), declination_deg=_number(self.panel.declination.text()),
            removed=change.removed, bad=change.bad,
        )  # fmt: skip

    def _ask(self) -> None:
        """Ask for the ring of the trees as they are now."""
        self._typing.stop()
        if self._desk.opened is None and self.place != TYPED:
            return
        asked = self._request(self.history.now)
        verb = "rig_list" if isinstance(asked, RigListRequest) else "rig"
        self.panel.say("Fitting the ring …")
        self._fit.ask(verb, asked, self._answered, self._failed)

    def _answered(self, answer: RigAnswer) -> None:
        first = self.answer is None or self.answer.ring is None
        self.answer = answer
        key = self._key()
        if self.history.now.is_none:
            self._best[key] = answer.ring
        elif key not in self._best:
            bare = self._request(RigChange())
            verb = "rig_list" if isinstance(bare, RigListRequest) else "rig"
            self._compare.ask(verb, bare, lambda found: self._compared(key, found), lambda _: None)
        self.canvas.sentence = reason(answer)
        self.canvas.show_answer(answer, fit=first)
        self._fill_table(answer)
        self._tell()

    def _key(self) -> object:
        """What the best ring of all trees depends on."""
        if self.place != TYPED:
            return self.place
        stems = self.panel.table.stems
        return stems.columns, stems.filled(), self.panel.declination.text()

    def _compared(self, key: object, answer: RigAnswer) -> None:
        self._best[key] = answer.ring
        self._tell()

    def _failed(self, failure: Failure) -> None:
        self.canvas.sentence = failure.sentence
        self.canvas.show_answer(None, fit=False)
        self.panel.say(failure.sentence)

    def _fill_table(self, answer: RigAnswer) -> None:
        """The stems of a site, or what each row of a typed list counts for."""
        table, ring = self.panel.table, answer.ring if isinstance(answer.ring, Ring) else None
        words = {s.stem.stem: remark(s, ring) for s in answer.stems}
        if self.place != TYPED:
            rows = [(s.stem.stem, thick(s.stem.dbh_m, self._desk.printer)) for s in answer.stems]
            if [tuple(r) for r in table.stems.rows] != rows:
                table.stems.reset(("stem", "dbh"), rows, typed=False)
                table.widths()
            table.stems.remark([words[r[0]] for r in rows], set())
            table.choose(self.canvas.stem)
            return
        faults = {f.row - 1: f.sentence for f in answer.faults if f.row}
        said = [faults.get(n) or words.get(r[0].strip(), "") for n, r in enumerate(table.stems.rows)]
        table.stems.remark([s[s.find(": ") + 2 :] if n in faults else s for n, s in enumerate(said)], set(faults))

    def _tell(self) -> None:
        """Figures, and the sentences that go with them."""
        answer = self.answer
        if answer is None:
            return
        best = self._best.get(self._key())
        self.panel.show_figures(figures(answer.ring, best, self._desk.printer) if answer.ring is not None else [])
        lines = [f"Trees: {answer.source}."] if answer.stems else []
        lines += [f.sentence for f in answer.faults if not f.row]
        rows = sum(1 for f in answer.faults if f.row)
        if rows:
            lines.append(f"{counted(rows, 'row')} left out, marked !: the ring is that of the others.")
        if answer.mapped and answer.stems:
            lines.append("Seen from above: measure before you carry.")
        change = self.history.now
        if not change.is_none:
            lines.append(f"Left out: {', '.join(change.removed) or 'none'}. Bad: {', '.join(change.bad) or 'none'}.")
            lines.append("The printed sheets know nothing of this; a saved list does.")
        self.panel.say("\n".join([*lines, *answer.doubts]))
        self.panel.set_undo(bool(self.history.done), bool(self.history.undone), not change.is_none)

    def _tell_chosen(self, stem: str) -> None:
        self.panel.show_chosen(stem)

    # looks, lists, keys

    def _columns(self) -> tuple[str, ...]:
        return TYPED_COLUMNS[self._desk.printer.units]

    def _units_changed(self, _: str) -> None:
        if self.place == TYPED and not self.drafts.rows:
            self.panel.table.stems.reset(self._columns(), (), typed=True)
        self._repaint()
        if self.answer is not None:
            self._fill_table(self.answer)
            self._tell()

    def _repaint(self, _: object = None) -> None:
        self.canvas.printer, self.canvas.look = self._desk.printer, LOOKS[self._desk.palette]
        self.canvas.update()

    def save_list(self, path: str = "") -> None:
        """Save the typed list as a stem list: bad trees as dead, trees left out not at all."""
        path = path or QFileDialog.getSaveFileName(self, "Save stem list", "stems.csv", "Stem list (*.csv)")[0]
        if not path or self.place != TYPED:
            return
        stems, change = self.panel.table.stems, self.history.now
        try:
            write_list(Path(path), stems.columns, stems.filled(), change)
        except OSError as error:
            self._desk.say(f"{path} cannot be written: {error.strerror or error}.", "error")
            return
        self._desk.say(f"Written: {path}. boscage rig --stems takes it.", "done")

    def load_list(self, path: str = "") -> None:
        """Show a stem list as if it had been typed."""
        path = path or QFileDialog.getOpenFileName(self, "Open stem list", "", "Stem list (*.csv *.txt *.tsv)")[0]
        if not path:
            return
        try:
            self.drafts.columns, self.drafts.rows = read_list(Path(path))
        except (OSError, ValueError) as error:
            self._desk.say(f"{path} cannot be read as a stem list: {error}.", "error")
            return
        self.drafts.places.pop(TYPED, None)
        self._keep()
        self.show_place(TYPED, again=True)

    def event(self, event: QEvent) -> bool:
        """Undo and redo belong to the ring while the ring has the keyboard."""
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent) and _is_undo(event):
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Undo and redo."""
        if event.matches(QKeySequence.StandardKey.Undo):
            self.undo()
        elif _is_undo(event):
            self.redo()
        else:
            super().keyPressEvent(event)


def _is_undo(event: QKeyEvent) -> bool:
    keys = QKeySequence.StandardKey
    redo = QKeySequence(event.keyCombination()) == QKeySequence("Ctrl+Y")
    return event.matches(keys.Undo) or event.matches(keys.Redo) or redo


def _number(text: str) -> float | None:
    """A number as typed, or None."""
    try:
        return float(text.strip().replace(",", "."))
    except ValueError:
        return None
