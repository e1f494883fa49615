"""The views that show what will be printed: pack, drop, field sheets, report, and the log with its clock of checks."""

from __future__ import annotations

from PySide6.QtWidgets import QVBoxLayout, QWidget

from boscage.desk.clockbar import ClockTable
from boscage.desk.hub import Desk
from boscage.desk.sheetpane import SheetPane


class PackView(SheetPane):
    """The view `pack`."""

    name = "pack"
    title = "Pack"
    shortcut = "Ctrl+3"

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk, "pack")


class DropView(SheetPane):
    """The view `drop`."""

    name = "drop"
    title = "Drop"
    shortcut = "Ctrl+4"

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk, "drop")


class ReportView(SheetPane):
    """The view `report`."""

    name = "report"
    title = "Report"
    shortcut = "Ctrl+6"

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk, "report")


class FieldView(SheetPane):
    """The view `sheets`: the field sheets of the ranking."""

    name = "sheets"
    title = "Sheets"
    shortcut = "Ctrl+7"

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk, "field")


class LogView(QWidget):
    """The view `log`: when each armed set must be looked at, and the sheet for whoever does."""

    name = "log"
    title = "Log"
    shortcut = "Ctrl+5"

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.clock, self.sheets = ClockTable(desk), SheetPane(desk, "log")
        box = QVBoxLayout(self)
        box.setContentsMargins(0, 0, 0, 0)
        box.addWidget(self.clock)
        box.addWidget(self.sheets, 1)

    def shown(self) -> None:
        """Count anew, and lay the sheet out."""
        self.clock.refresh()
        self.sheets.shown()
