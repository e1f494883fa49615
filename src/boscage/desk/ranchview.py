"""The ranch view: the layers with what is doubtful or missing, the hard stops, and a form for every key of the plan."""

from __future__ import annotations

import datetime as dt
import tomllib
from html import escape
from typing import Any

from PySide6.QtCore import QSignalBlocker
from PySide6.QtWidgets import (
    QComboBox,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QScrollArea,
    QTextBrowser,
    QVBoxLayout,
    QWidget,
)

from boscage.desk.hub import Desk
from boscage.desk.palettes import LOOKS
from boscage.model.desk import Opened
from boscage.model.options import OptionRow
from boscage.model.plan import SECTIONS, describe_plan

DEFAULT = "the default"
NOT_HERE = ("points", "table")
"""Kinds that a line of text serves badly: they are edited in the file."""


class RanchView(QWidget):
    """What the ranch's data come to, and the plan as a form."""

    name = "ranch"
    title = "Ranch"
    shortcut = "Ctrl+2"

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self.page = QTextBrowser(self)
        self.page.setOpenLinks(False)
        self.page.setAccessibleName("Layers and hard stops of the ranch")
        self.section = QComboBox(self)
        self.section.setAccessibleName("Section of the plan")
        self.section.addItems(list(SECTIONS))
        self.section.currentTextChanged.connect(self._show_section)
        self._fields: dict[tuple[str, ...], QWidget] = {}
        self._form = QVBoxLayout()
        inner = QWidget()
        inner.setLayout(self._form)
        area = QScrollArea(self)
        area.setWidgetResizable(True)
        area.setFrameShape(QScrollArea.Shape.NoFrame)
        area.setWidget(inner)
        right = QVBoxLayout()
        label = QLabel("&Plan", self)
        label.setBuddy(self.section)
        label.setProperty("role", "head")
        top = QHBoxLayout()
        top.addWidget(label)
        top.addWidget(self.section, 1)
        self.note = QLabel("Enter takes a value. An empty line takes the key out: it then has its default.", self)
        self.note.setWordWrap(True)
        self.note.setProperty("role", "quiet")
        right.addLayout(top)
        right.addWidget(self.note)
        right.addWidget(area, 1)
        layout = QHBoxLayout(self)
        layout.addWidget(self.page, 1)
        layout.addLayout(right, 1)
        desk.planOpened.connect(lambda _: self._show())
        desk.planChanged.connect(self._show_again)
        desk.unitsChanged.connect(lambda _: self._show_page())
        desk.paletteChanged.connect(lambda _: self._show_page())
        self._show()

    def field(self, *key: str) -> QWidget:
        """The widget of a key of the section that is shown."""
        return self._fields[key]

    def shown(self) -> None:
        """Take the keyboard."""
        self.section.setFocus()

    def _show(self) -> None:
        self._show_page()
        self._show_section(self.section.currentText())

    def _show_again(self) -> None:
        self._show_page()
        self._fill()

    def _show_page(self) -> None:
        opened = self._desk.opened
        self.page.setHtml("<p>No plan is open.</p>" if opened is None else self._html(opened))

    def _html(self, opened: Opened) -> str:
        printer, look = self._desk.printer, LOOKS[self._desk.palette]

        def head(text: str) -> str:
            return f'<p style="margin-top:10px; background:{look.band}"><b>{escape(text)}</b></p>'

        parts = [
            head(opened.ranch),
            f"<p>{printer.area(opened.ranch_ha)} in all; permission on {printer.area(opened.granted_ha)}; left after "
            f"hard stops {printer.area(opened.open_ha)}.</p>",
            f"<p>{opened.cells:,} cells of {printer.length(opened.cell_m)}; at most {opened.count} sites, "
            f"{printer.length(opened.spacing_m)} apart at least; counted on {opened.date}; {escape(opened.crs)}.</p>",
            head("Layers"),
        ]
        for layer in opened.layers:
            state = layer.state.upper() if layer.state != "usable" else layer.state
            doubts = "".join(f"<br/>{escape(d)}" for d in layer.doubts)
            parts.append(f"<p><b>{escape(layer.title)}</b>: {state}. {escape(layer.read)}{doubts}</p>")
        parts.append(head("Hard stops"))
        for stop in opened.stops:
            if not stop.applied:
                parts.append(f"<p><b>{escape(stop.title)}</b>: NOT APPLIED. {escape(stop.reason)} "
                             "That is not the same as none.</p>")  # fmt: skip
                continue
            law = "; ".join(t for t in (stop.rule, stop.citation) if t)
            parts.append(
                f"<p><b>{escape(stop.title)}</b>: {printer.area(stop.hectares)} ruled out. {escape(stop.reason)}<br/>"
                f'<span style="color:{look.quiet}">{escape(law)}</span></p>'
            )
        parts += [head("Notes"), *(f"<p>{escape(n)}</p>" for n in opened.notes or ("None.",))]
        return "<style>p { margin: 2px 0 4px 0; }</style>" + "".join(parts)

    # the form

    def _show_section(self, section: str) -> None:
        while (item := self._form.takeAt(0)) is not None:
            if item.widget() is not None:
                item.widget().hide()
                item.widget().deleteLater()
        self._fields.clear()
        for row in describe_plan()[section]:
            self._form.addWidget(self._row(row))
        self._form.addStretch(1)
        self._fill()

    def _row(self, row: OptionRow) -> QWidget:
        key = tuple(row.key.split("."))
        box = QWidget(self)
        layout = QVBoxLayout(box)
        layout.setContentsMargins(0, 2, 0, 4)
        layout.setSpacing(1)
        line = QHBoxLayout()
        label = QLabel(key[-1], box)
        label.setProperty("role", "head")
        line.addWidget(label, 1)
        field = self._widget(key, row, box)
        line.addWidget(field, 1)
        layout.addLayout(line)
        unit = f" In {row.info.unit}." if row.info.unit else ""
        words = QLabel(f"{row.info.help}{unit} {row.kind[:1].upper()}{row.kind[1:]}; default {row.default}.", box)
        words.setWordWrap(True)
        words.setProperty("role", "quiet")
        layout.addWidget(words)
        label.setBuddy(field)
        field.setAccessibleName(row.key)
        field.setAccessibleDescription(row.info.help)
        self._fields[key] = field
        return box

    def _widget(self, key: tuple[str, ...], row: OptionRow, parent: QWidget) -> QWidget:
        words = row.info.choices if row.kind == "text" else ("true", "false") if row.kind == "true or false" else ()
        if words:
            combo = QComboBox(parent)
            combo.addItem(DEFAULT, None)
            for word in words:
                combo.addItem(word, word if row.kind == "text" else word == "true")
            combo.currentIndexChanged.connect(lambda _: self._set(key, combo.currentData()))
            return combo
        line = QLineEdit(parent)
        line.setPlaceholderText(row.default)
        if row.kind in NOT_HERE or row.kind.startswith("list"):
            line.setReadOnly(True)
            line.setToolTip("A list or table: change it in the plan file.")
        line.editingFinished.connect(lambda: self._typed(key, row.kind, line))
        return line

    def _table(self) -> dict[str, Any]:
        edits = self._desk.edits
        return tomllib.loads(edits.held.text.text) if edits is not None else {}

    def _value(self, key: tuple[str, ...]) -> Any:
        table: Any = self._table()
        for name in key:
            table = table.get(name) if isinstance(table, dict) else None
        return table

    def _fill(self) -> None:
        """Show what the plan holds now."""
        for key, field in self._fields.items():
            value = self._value(key)
            with QSignalBlocker(field):
                field.setEnabled(self._desk.edits is not None)
                if isinstance(field, QComboBox):
                    field.setCurrentIndex(max(0, field.findData(value)))
                elif isinstance(field, QLineEdit):
                    field.setText("" if value is None else _plain(value))

    def _typed(self, key: tuple[str, ...], kind: str, line: QLineEdit) -> None:
        if line.isReadOnly():
            return
        text = line.text().strip()
        was = self._value(key)
        if text == ("" if was is None else _plain(was)):
            return
        self._set(key, parsed(text, kind) if text else None)

    def _set(self, key: tuple[str, ...], value: Any) -> None:
        edits = self._desk.edits
        if edits is None or value == self._value(key):
            return
        edits.set_key(key, value)
        self._fill()


def parsed(text: str, kind: str) -> Any:
    """What was typed, as the plan holds it; what cannot be read as its kind stays text, which the plan then refuses.

    >>> parsed("12", "whole number"), parsed("300m", "length"), parsed("twelve", "whole number")
    (12, '300m', 'twelve')
    """
    try:
        if kind == "whole number":
            return int(text)
        if kind == "number":
            return float(text)
        if kind == "date":
            return dt.date.fromisoformat(text)
    except ValueError:
        return text
    return text


def _plain(value: Any) -> str:
    return value.isoformat() if isinstance(value, dt.date) else str(value)
