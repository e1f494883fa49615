"""What stands beside the drawing of a ring: which place, figures, what can be done, the table of stems."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QFormLayout,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from boscage.desk.rigchanges import TYPED
from boscage.desk.stemtable import StemTable

LIST_WORDS = "Typed list, tape and compass (Ctrl+T)"
BUTTONS = {
    "out": ("Leave &out", "Del", "Leave the chosen tree out of the search, or take it back in"),
    "bad": ("&Bad tree", "B", "The tree stands there and holds nothing: dead, leaning, rotten; again: it is good"),
    "undo": ("Undo", "Ctrl+Z", "Take the last change back"),
    "redo": ("Redo", "Ctrl+Y", "Make it again"),
    "all": ("All &back", "", "Take every tree back in"),
    "fit": ("&Fit", "0", "Fit the ring to the drawing; + and - zoom, arrows and N, P choose trees"),
    "sheets": ("&Sheets", "F4", "The printed sheets of this site"),
    "save": ("Save &list", "", "Save the typed list as a stem list"),
    "load": ("Open l&ist", "", "Show a stem list as if it had been typed"),
}


class RingPanel(QWidget):
    """The panel."""

    placePicked = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.places = QComboBox()
        self.places.setAccessibleName("Place")
        self.places.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.places.activated.connect(lambda n: self.placePicked.emit(self.places.itemData(n)))
        self.table = StemTable()
        self.declination = QLineEdit()
        self.declination.setPlaceholderText("not stated")
        self.declination.setMaximumWidth(110)
        self.buttons: dict[str, QPushButton] = {}
        self.chosen, self.sentences = QLabel(), QLabel()
        self._figures = QFormLayout()
        self._declined = QLabel("&Declination, ° east:")
        self._lay_out()
        self.set_typed(False)
        self.set_undo(False, False, False)

    def _lay_out(self) -> None:
        place = QHBoxLayout()
        label = QLabel("&Place:")
        label.setBuddy(self.places)
        place.addWidget(label)
        place.addWidget(self.places, 1)
        grid = QGridLayout()
        grid.setSpacing(4)
        for n, (name, (words, keys, tip)) in enumerate(BUTTONS.items()):
            button = QPushButton(f"{words} ({keys})" if keys else words)
            button.setToolTip(tip)
            button.setAutoDefault(False)
            button.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
            self.buttons[name] = button
            grid.addWidget(button, n // 3, n % 3)
        self._declined.setBuddy(self.declination)
        declined = QHBoxLayout()
        declined.addWidget(self._declined)
        declined.addWidget(self.declination)
        declined.addStretch(1)
        self.sentences.setWordWrap(True)
        self.sentences.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.sentences.setAccessibleName("What to know of this ring")
        self._figures.setHorizontalSpacing(14)
        self._figures.setVerticalSpacing(2)
        box = QVBoxLayout(self)
        box.setContentsMargins(8, 8, 8, 8)
        for part in (place, self._figures, self.chosen, grid, declined):
            box.addWidget(part) if isinstance(part, QWidget) else box.addLayout(part)
        box.addWidget(self.table, 1)
        box.addWidget(self.sentences)

    def set_places(self, sites: Sequence[str], place: str) -> None:
        """Offer the ranked sites and the typed list."""
        self.places.clear()
        for site in sites:
            self.places.addItem(f"Site {site}", site)
        self.places.addItem(LIST_WORDS, TYPED)
        self.places.setCurrentIndex(self.places.findData(place))

    def set_typed(self, typed: bool) -> None:
        """Show what belongs to a typed list, or what belongs to a site."""
        for widget in (self._declined, self.declination, self.buttons["save"]):
            widget.setVisible(typed)
        self.buttons["sheets"].setEnabled(not typed)

    def set_undo(self, undo: bool, redo: bool, changed: bool) -> None:
        """Say what can be undone, redone, taken back."""
        for name, can in (("undo", undo), ("redo", redo), ("all", changed)):
            self.buttons[name].setEnabled(can)

    def show_figures(self, rows: Sequence[tuple[str, str]]) -> None:
        """Show figures by name."""
        while self._figures.rowCount():
            self._figures.removeRow(0)
        for name, figure in rows:
            shown = QLabel(figure)
            shown.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
            shown.setAccessibleName(name)
            font = shown.font()
            font.setBold(True)
            shown.setFont(font)
            self._figures.addRow(f"{name}:", shown)

    def figure(self, name: str) -> str:
        """A figure as shown, or ''."""
        for row in range(self._figures.rowCount()):
            item = self._figures.itemAt(row, QFormLayout.ItemRole.FieldRole)
            widget = item.widget() if item is not None else None
            if isinstance(widget, QLabel) and widget.accessibleName() == name:
                return widget.text()
        return ""

    def show_chosen(self, stem: str) -> None:
        """Say which tree is chosen."""
        self.chosen.setText(f"Chosen: tree {stem}" if stem else "No tree is chosen: click one, or press N.")

    def say(self, words: str) -> None:
        """Show sentences under the table."""
        self.sentences.setText(words)
