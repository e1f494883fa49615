"""The first page: a plan out of what is dropped on it, a plan that is there already, or the sample ranch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import (
    QComboBox,
    QFileDialog,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from boscage.desk.hub import Desk
from boscage.model.layers import LAYER_TITLES
from boscage.model.recognised import CANOPY, LAYER_ADDS, REQUIRED, Recognised

LEAVE_OUT = "leave it out"
ENTRY = "boscage.pipeline.desk_first:run_first_worker"
INVITE = "Drop files or folders here: parcels, canopy, terrain, tracks, sign, soils… Each is told by its content."


class FirstPage(QWidget):
    """Makes a plan, or opens one.

    Signals:
        planChosen: Path of a plan to open.
    """

    planChosen = Signal(str)

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self.found: list[Recognised] = []
        self.chosen: list[str | None] = []
        self._cards: list[QWidget] = []
        self.setAcceptDrops(True)
        self._build()
        self._show()

    @property
    def worker(self):
        """The process that looks into files."""
        return self._desk.client.hire("first page", ENTRY)

    def _build(self) -> None:
        title = QLabel("Choose, rig, supply and account for sets, from a ranch's own layers", self)
        title.setProperty("role", "head")
        open_button = QPushButton("Open a plan… (Ctrl+O)", self)
        sample_button = QPushButton("The sample ranch…", self)
        sample_button.setToolTip("Copy Dunnock Hollow Ranch, which is invented, to a folder and open its plan")
        open_button.clicked.connect(self.choose_plan)
        sample_button.clicked.connect(self.choose_sample)
        top = QHBoxLayout()
        top.addWidget(title, 1)
        top.addWidget(open_button)
        top.addWidget(sample_button)
        self.drop_box = QFrame(self)
        self.drop_box.setProperty("role", "card")
        self.drop_words = QLabel(INVITE, self.drop_box)
        self.drop_words.setWordWrap(True)
        self.files_button, self.folder_button = QPushButton("Files…", self.drop_box), QPushButton("Folder…", self)
        self.files_button.clicked.connect(self._choose_files)
        self.folder_button.clicked.connect(self._choose_folder)
        drop = QHBoxLayout(self.drop_box)
        drop.setContentsMargins(14, 14, 14, 14)
        drop.addWidget(self.drop_words, 1)
        drop.addWidget(self.files_button)
        drop.addWidget(self.folder_button)
        self._left, self._left_area = _column(self)
        self._right, self._right_area = _column(self)
        columns = QHBoxLayout()
        columns.addWidget(self._left_area, 3)
        columns.addWidget(self._right_area, 2)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(18, 14, 18, 14)
        layout.setSpacing(10)
        layout.addLayout(top)
        layout.addWidget(self.drop_box)
        layout.addLayout(columns, 1)
        layout.addLayout(self._foot())

    def _foot(self) -> QGridLayout:
        self.name, self.units, self.folder = QLineEdit(self), QComboBox(self), QLineEdit(self)
        self.name.setPlaceholderText("as it is to be printed on every sheet")
        self.units.addItem("US customary (feet, acres, pounds)", "us")
        self.units.addItem("metric", "metric")
        self.folder.setPlaceholderText("by default that of the parcels")
        self.make_button = QPushButton("Make the plan", self)
        self.make_button.setProperty("role", "main")
        self.make_button.clicked.connect(self.make)
        self.why_not = QLabel(self)
        self.why_not.setWordWrap(True)
        self.name.textChanged.connect(lambda _: self._show_ready())
        grid = QGridLayout()
        for row, (words, widget) in enumerate((("&Name of the ranch", self.name), ("&Units", self.units),
                                               ("&Folder of the plan", self.folder))):  # fmt: skip
            label = QLabel(words, self)
            label.setBuddy(widget)
            widget.setAccessibleName(words.replace("&", ""))
            grid.addWidget(label, row, 0)
            grid.addWidget(widget, row, 1)
        grid.addWidget(self.why_not, 0, 2, 2, 1)
        grid.addWidget(self.make_button, 2, 2)
        grid.setColumnStretch(1, 2)
        grid.setColumnStretch(2, 2)
        return grid

    # what was dropped

    def look_into(self, paths: Sequence[str]) -> None:
        """Ask what files and folders are, beside those that are there already."""
        every = list(dict.fromkeys([*(r.path for r in self.found), *paths]))
        known = {(r.path, r.inner): c for r, c in zip(self.found, self.chosen, strict=True) if c != r.layer}
        self.drop_words.setText("Looking into what was dropped…")

        def done(found: tuple[Recognised, ...]) -> None:
            self.found = list(found)
            self.chosen = [known.get((r.path, r.inner), r.layer) for r in found]
            if not self.folder.text():
                land = next((r.path for r in found if r.layer == "parcels"), found[0].path if found else "")
                self.folder.setText(str(Path(land).parent) if land else "")
            self._show()

        def failed(failure) -> None:
            self.drop_words.setText(INVITE)
            self._desk.say(failure.sentence, "error")

        self.worker.ask("recognise", (every,), done, failed)

    def picked(self) -> tuple[Recognised, ...]:
        """What goes into the plan."""
        pairs = zip(self.found, self.chosen, strict=True)
        return tuple(replace(r, layer=c) if c != r.layer else r for r, c in pairs if c is not None)

    def lacking(self) -> str:
        """Why no plan can be made yet, or ''."""
        held = {r.layer for r in self.picked()}
        if not self.found:
            return "Nothing is dropped yet."
        for name in REQUIRED:
            if name not in held:
                return f"Still needed: {LAYER_TITLES[name]}. {LAYER_ADDS[name]}"
        if not held & set(CANOPY):
            return "Still needed: canopy cover or canopy heights."
        return "" if self.name.text().strip() else "Still needed: the ranch's name."

    def make(self) -> None:
        """Write the plan and open it."""
        if self.lacking():
            self._show_ready()
            return
        folder = self.folder.text().strip() or str(Path(self.picked()[0].path).parent)
        self.make_button.setEnabled(False)

        def failed(failure) -> None:
            self._show_ready()
            self._desk.say(failure.sentence, "error")

        units = self.units.currentData()
        self.worker.ask("plan", (folder, self.name.text().strip(), units, self.picked()), self.planChosen.emit, failed)

    def copy_sample(self, folder: str) -> None:
        """Copy the sample ranch to a folder and open its plan."""
        self.worker.ask("sample", (folder,), self.planChosen.emit, lambda f: self._desk.say(f.sentence, "error"))

    # what is shown

    def _show(self) -> None:
        self.drop_words.setText(INVITE if not self.found else "Drop more files or folders here.")
        _empty(self._left)
        _empty(self._right)
        self._left.addWidget(_title("What was dropped" if self.found else "What is needed", self))
        for n, one in enumerate(self.found):
            self._left.addWidget(self._card(n, one))
        if not self.found:
            for name in ("parcels", "canopy_cover", "canopy_height"):
                note = "; one of the two canopy layers is enough" if name != "parcels" else ""
                self._left.addWidget(_layer_row(name, f"needed{note}", self))
        self._left.addStretch(1)
        self._show_missing()
        self._show_ready()

    def _show_missing(self) -> None:
        held = {r.layer for r in self.picked()}
        need = [n for n in REQUIRED if n not in held] + ([] if held & set(CANOPY) else list(CANOPY))
        rest = [n for n in LAYER_ADDS if n not in held and n not in need]
        self._right.addWidget(
            _title("What else would add to the answer" if not self.found else "What is missing", self)
        )
        for name in need if self.found else ():
            self._right.addWidget(_layer_row(name, "needed", self))
        for name in rest if self.found else [n for n in rest if n not in ("parcels", *CANOPY)]:
            self._right.addWidget(_layer_row(name, "", self))
        self._right.addStretch(1)

    def _show_ready(self) -> None:
        lacking = self.lacking()
        self.why_not.setText(lacking)
        self.make_button.setEnabled(not lacking)

    def _card(self, n: int, one: Recognised) -> QFrame:
        card = QFrame(self)
        card.setProperty("role", "card")
        name = Path(one.path).name + (f", layer {one.inner}" if one.inner else "")
        head = QLabel(f"{name}: {one.read}" if one.read else name, card)
        head.setProperty("role", "head")
        head.setWordWrap(True)
        combo = QComboBox(card)
        combo.setAccessibleName(f"What {name} is")
        options = [one.layer, *(a.layer for a in one.alternatives), None]
        for layer in dict.fromkeys(options):
            combo.addItem(LAYER_TITLES.get(layer, layer) if layer else LEAVE_OUT, layer)
        if self.chosen[n] in options:
            combo.setCurrentIndex(list(dict.fromkeys(options)).index(self.chosen[n]))
        combo.currentIndexChanged.connect(lambda _, n=n, c=combo: self._choose(n, c.currentData()))
        remove = QPushButton("Take away", card)
        remove.setAccessibleName(f"Take {name} away")
        remove.clicked.connect(lambda _=False, n=n: self._remove(n))
        top = QHBoxLayout()
        top.addWidget(head, 1)
        top.addWidget(combo)
        top.addWidget(remove)
        layout = QVBoxLayout(card)
        layout.setContentsMargins(10, 7, 10, 7)
        layout.setSpacing(2)
        layout.addLayout(top)
        for text in self._said(n, one):
            label = QLabel(text, card)
            label.setWordWrap(True)
            layout.addWidget(label)
        return card

    def _said(self, n: int, one: Recognised) -> list[str]:
        layer = self.chosen[n]
        if layer is None:
            return [f"{one.why}" if one.layer is None else "Left out of the plan."]
        firm = f"{one.confidence[:1].upper()}{one.confidence[1:]}: " if layer == one.layer else "By your word: "
        why = one.why if layer == one.layer else next((a.why for a in one.alternatives if a.layer == layer), "")
        said = [f"{firm}{why}", f"Adds: {LAYER_ADDS.get(layer, '')}", one.unit_why if one.unit else ""]
        return [s for s in (*said, *(f"Look: {d}" for d in one.doubts)) if s]

    def _choose(self, n: int, layer: str | None) -> None:
        self.chosen[n] = layer
        self._show()

    def _remove(self, n: int) -> None:
        del self.found[n], self.chosen[n]
        self._show()

    # hands

    def choose_plan(self) -> None:
        """Ask for a plan file."""
        path, _ = QFileDialog.getOpenFileName(self, "Open a plan", "", "Plans (*.toml);;All files (*)")
        if path:
            self.planChosen.emit(path)

    def choose_sample(self) -> None:
        """Ask where the sample ranch is to be copied."""
        path = QFileDialog.getExistingDirectory(self, "Folder for the sample ranch")
        if path:
            self.copy_sample(str(Path(path) / "dunnock-hollow"))

    def _choose_files(self) -> None:
        paths, _ = QFileDialog.getOpenFileNames(self, "Layers of the ranch")
        if paths:
            self.look_into(paths)

    def _choose_folder(self) -> None:
        path = QFileDialog.getExistingDirectory(self, "Folder of layers")
        if path:
            self.look_into([path])

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Files may be dropped."""
        if any(url.isLocalFile() for url in event.mimeData().urls()):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """Look into what is dropped; a plan alone is opened."""
        paths = [url.toLocalFile() for url in event.mimeData().urls() if url.isLocalFile()]
        event.acceptProposedAction()
        if len(paths) == 1 and paths[0].endswith(".toml"):
            self.planChosen.emit(paths[0])
        elif paths:
            self.look_into(paths)


def _column(parent: QWidget) -> tuple[QVBoxLayout, QScrollArea]:
    area = QScrollArea(parent)
    area.setWidgetResizable(True)
    area.setFrameShape(QFrame.Shape.NoFrame)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    inner = QWidget(area)
    layout = QVBoxLayout(inner)
    layout.setContentsMargins(0, 0, 8, 0)
    area.setWidget(inner)
    return layout, area


def _title(text: str, parent: QWidget) -> QLabel:
    label = QLabel(text, parent)
    label.setProperty("role", "head")
    return label


def _layer_row(name: str, note: str, parent: QWidget) -> QLabel:
    words = f"<b>{LAYER_TITLES[name]}</b>{f' ({note})' if note else ''}<br/>{LAYER_ADDS[name]}"
    label = QLabel(words, parent)
    label.setWordWrap(True)
    return label


def _empty(layout: QVBoxLayout) -> None:
    while (item := layout.takeAt(0)) is not None:
        if item.widget() is not None:
            item.widget().hide()
            item.widget().deleteLater()
