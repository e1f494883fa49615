"""Dusk: when it gets dark and light at the chosen site, night by night for a week."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from PySide6.QtWidgets import QAbstractItemView, QLabel, QTableWidget, QTableWidgetItem, QVBoxLayout, QWidget

if TYPE_CHECKING:
    from boscage.desk.hub import Desk

NIGHTS = 7
HEADS = ("evening", "sunset", "civil dusk", "civil dawn", "sunrise")


class DuskView(QWidget):
    """The view `dusk`."""

    name = "dusk"
    title = "Dusk"
    shortcut = ""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self.head, self.table = QLabel(), QTableWidget(0, len(HEADS))
        self.table.setHorizontalHeaderLabels(HEADS)
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.setAccessibleName("Dusk and dawn")
        box = QVBoxLayout(self)
        box.addWidget(self.head)
        box.addWidget(self.table)
        desk.siteChosen.connect(self.refresh)
        desk.rankingChanged.connect(self.refresh)
        desk.planClosed.connect(self.refresh)
        self.refresh()

    def shown(self) -> None:
        """Take the keyboard."""
        self.table.setFocus()

    def refresh(self, _: object = None) -> None:
        """Show the nights from the plan's date on, at the chosen site or the first one."""
        ranking = self._desk.ranking
        site = self._desk.site or (ranking.sites[0] if ranking is not None and ranking.sites else None)
        self.table.setRowCount(0)
        if site is None or self._desk.opened is None:
            self.head.setText("No site is ranked.")
            return
        from boscage.airlift.sun import daylight

        zone, words = self._zone()
        first = dt.date.fromisoformat(self._desk.opened.date)
        self.head.setText(f"Site {site.site}, {site.ddm}. Times in {words}, on a level horizon: hills darken earlier.")
        for n in range(NIGHTS):
            day = first + dt.timedelta(days=n)
            evening = daylight(day, site.lat, site.lon)
            morning = daylight(day + dt.timedelta(days=1), site.lat, site.lon)
            times = (evening.sunset, evening.civil_dusk, morning.civil_dawn, morning.sunrise)
            cells = [day.isoformat(), *(f"{t.astimezone(zone):%H:%M}" if t is not None else "none" for t in times)]
            self.table.insertRow(n)
            for col, cell in enumerate(cells):
                self.table.setItem(n, col, QTableWidgetItem(cell))

    def _zone(self) -> tuple[dt.tzinfo, str]:
        edits = self._desk.edits
        name = edits.held.plan.ranch.zone if edits is not None else None
        return (ZoneInfo(name), name) if name else (dt.UTC, "UTC")
