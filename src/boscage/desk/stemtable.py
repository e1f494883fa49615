"""The table beside the ring: the stems of a site to read, or a tape-and-compass list to type, row by row."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QEvent, QModelIndex, QPersistentModelIndex, Qt, Signal
from PySide6.QtGui import QFont, QKeyEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView, QWidget

Index = QModelIndex | QPersistentModelIndex
TYPED = {
    "us": ("stem", "dbh_in", "bearing_deg", "distance_ft"), "metric": ("stem", "dbh_cm", "bearing_deg", "distance_m"),
}  # fmt: skip
"""Columns of a typed list, as the head of a stem list names them."""
HEADS: Mapping[str, str] = {
    "stem": "Stem", "dbh_in": "DBH, in", "dbh_cm": "DBH, cm", "bearing_deg": "Bearing, °",
    "distance_ft": "Distance, ft", "distance_m": "Distance, m", "dbh": "DBH",
}  # fmt: skip
REMARK = "Counts for"


class StemModel(QAbstractTableModel):
    """Cells as typed, with one remark a row.

    A list that can be typed in always has one empty row at its end.
    """

    edited = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.columns: tuple[str, ...] = TYPED["us"]
        self.rows: list[list[str]] = []
        self.typed = False
        self._remarks: list[str] = []
        self._faulty: set[int] = set()

    def reset(self, columns: Sequence[str], rows: Sequence[Sequence[str]], *, typed: bool) -> None:
        """Show other rows."""
        self.beginResetModel()
        self.columns, self.typed = tuple(columns), typed
        self.rows = [list(r) for r in rows]
        self._remarks, self._faulty = [], set()
        if typed:
            self.rows.append(self._empty())
        self.endResetModel()

    def remark(self, remarks: Sequence[str], faulty: set[int]) -> None:
        """Say what each row counts for; the numbers of faulty rows are counted from 0."""
        self._remarks, self._faulty = list(remarks), set(faulty)
        if self.rows:
            self.dataChanged.emit(self.index(0, 0), self.index(len(self.rows) - 1, len(self.columns)))

    def filled(self) -> tuple[tuple[str, ...], ...]:
        """The rows as typed; empty ones at the end are left out."""
        rows = [tuple(r) for r in self.rows]
        while rows and not _is_filled(rows[-1]):
            rows.pop()
        return tuple(rows)

    def row_of(self, stem: str) -> int:
        """The row of a stem, or -1."""
        return next((n for n, r in enumerate(self.rows) if r[0].strip() == stem), -1)

    def _empty(self) -> list[str]:
        return ["" for _ in self.columns]

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        """Rows."""
        return 0 if parent.isValid() else len(self.rows)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        """Columns, the remark last."""
        return 0 if parent.isValid() else len(self.columns) + 1

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """A cell, its remark in words."""
        row, col = index.row(), index.column()
        is_remark = col == len(self.columns)
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.EditRole):
            if is_remark:
                return self._remarks[row] if row < len(self._remarks) else ""
            return self.rows[row][col]
        if role == Qt.ItemDataRole.ToolTipRole and is_remark and row < len(self._remarks):
            return self._remarks[row]
        if role == Qt.ItemDataRole.FontRole and row in self._faulty:
            font = QFont()
            font.setBold(True)
            return font
        if role == Qt.ItemDataRole.TextAlignmentRole and not is_remark and col > 0:
            return int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        return None

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Names of columns; rows in error are marked beside their number."""
        if role != Qt.ItemDataRole.DisplayRole:
            return None
        if orientation == Qt.Orientation.Vertical:
            return f"! {section + 1}" if section in self._faulty else str(section + 1)
        return REMARK if section == len(self.columns) else HEADS.get(self.columns[section], self.columns[section])

    def flags(self, index: Index) -> Qt.ItemFlag:
        """Cells of a typed list are typed in, remarks never."""
        flags = Qt.ItemFlag.ItemIsSelectable | Qt.ItemFlag.ItemIsEnabled
        if self.typed and index.column() < len(self.columns):
            flags |= Qt.ItemFlag.ItemIsEditable
        return flags

    def setData(self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        """Take a cell; a first cell typed in the last row opens a further row and gives the stem the next number."""
        row, col = index.row(), index.column()
        text = " ".join(str(value).split())
        if role != Qt.ItemDataRole.EditRole or self.rows[row][col] == text:
            return False
        self.rows[row][col] = text
        if col > 0 and text and not self.rows[row][0]:
            self.rows[row][0] = self._next()
        if row == len(self.rows) - 1 and _is_filled(self.rows[row]):
            self.beginInsertRows(QModelIndex(), len(self.rows), len(self.rows))
            self.rows.append(self._empty())
            self.endInsertRows()
        self.dataChanged.emit(self.index(row, 0), self.index(row, len(self.columns)))
        self.edited.emit()
        return True

    def take_out(self, row: int) -> None:
        """Take a row out of a typed list."""
        if self.typed and 0 <= row < len(self.rows) - 1:
            self.beginRemoveRows(QModelIndex(), row, row)
            del self.rows[row]
            self.endRemoveRows()
            self.edited.emit()

    def _next(self) -> str:
        numbers = [int(r[0]) for r in self.rows if r[0].isdigit()]
        return str(max(numbers, default=0) + 1)


def _is_filled(row: Sequence[str]) -> bool:
    return any(cell.strip() for cell in row)


class StemTable(QTableView):
    """Tab goes from cell to cell and from the last cell of a row to the diameter of the next."""

    stemChosen = Signal(str)
    leftOut = Signal(str)
    markedBad = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.stems = StemModel(self)
        self.setModel(self.stems)
        self.setAccessibleName("Stems")
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectItems)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(
            QAbstractItemView.EditTrigger.AnyKeyPressed | QAbstractItemView.EditTrigger.EditKeyPressed
            | QAbstractItemView.EditTrigger.DoubleClicked
        )  # fmt: skip
        self.setWordWrap(True)
        self.setTextElideMode(Qt.TextElideMode.ElideNone)
        self.setAlternatingRowColors(True)
        self.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        self.horizontalHeader().setStretchLastSection(True)
        self.selectionModel().currentChanged.connect(self._current)

    def widths(self) -> None:
        """Columns as wide as their heads; the remark has what is left."""
        for col in range(len(self.stems.columns)):
            self.resizeColumnToContents(col)

    def choose(self, stem: str) -> None:
        """Go to the row of a stem, in the column where the cursor is."""
        row = self.stems.row_of(stem) if stem else -1
        if row >= 0 and row != self.currentIndex().row():
            self.setCurrentIndex(self.stems.index(row, max(self.currentIndex().column(), 0)))

    def start_typing(self) -> None:
        """Put the cursor in the first cell that is still to be typed."""
        row = len(self.stems.filled())
        self.setFocus()
        self.setCurrentIndex(self.stems.index(min(row, len(self.stems.rows) - 1), 1 if row else 0))

    def current_stem(self) -> str:
        """The stem of the row where the cursor is, or ''."""
        row = self.currentIndex().row()
        return self.stems.rows[row][0].strip() if 0 <= row < len(self.stems.rows) else ""

    def moveCursor(
        self, action: QAbstractItemView.CursorAction, modifiers: Qt.KeyboardModifier
    ) -> QModelIndex:  # fmt: skip
        """Next and previous pass over the remark; next goes from the last column on to the diameter below."""
        Action = QAbstractItemView.CursorAction
        at, last = self.currentIndex(), len(self.stems.columns) - 1
        if self.stems.typed and at.isValid() and action == Action.MoveNext and at.column() >= last:
            row = min(at.row() + 1, len(self.stems.rows) - 1)
            return self.stems.index(row, 1)
        if self.stems.typed and at.isValid() and action == Action.MovePrevious and at.column() == 0:
            return self.stems.index(max(at.row() - 1, 0), last)
        return super().moveCursor(action, modifiers)

    def event(self, event: QEvent) -> bool:
        """What is typed in a list, and the table's own keys, come before the same keys of the window."""
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent):
            ours = event.key() in (Qt.Key.Key_Delete, Qt.Key.Key_B) or (self.stems.typed and event.text().isprintable())
            if ours and not event.modifiers() & (Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier):
                event.accept()
                return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Delete leaves a stem out, B marks it bad where nothing is typed; Shift+Delete takes the row out."""
        stem, key = self.current_stem(), event.key()
        shift = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        if key == Qt.Key.Key_Delete and shift and self.stems.typed:
            self.stems.take_out(self.currentIndex().row())
        elif key == Qt.Key.Key_Delete and stem:
            self.leftOut.emit(stem)
        elif key == Qt.Key.Key_B and stem and (not self.stems.typed or self.currentIndex().column() > 0):
            self.markedBad.emit(stem)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.stems.typed and self.currentIndex().isValid():
            self.setCurrentIndex(self.moveCursor(QAbstractItemView.CursorAction.MoveNext, event.modifiers()))
        elif key in (Qt.Key.Key_Tab, Qt.Key.Key_Backtab) and not self.stems.typed:
            event.ignore()
        else:
            super().keyPressEvent(event)

    def _current(self, now: QModelIndex, before: QModelIndex) -> None:
        if now.row() != before.row():
            self.stemChosen.emit(self.current_stem())
