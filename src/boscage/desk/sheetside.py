"""What stands beside printed pages: sites to tick, what a report is limited to, the list of pages."""

from __future__ import annotations

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtWidgets import QCheckBox, QComboBox, QLabel, QListWidget, QListWidgetItem, QVBoxLayout, QWidget

from boscage.model.desk_pages import PageSet

ALL_LAND = "All owners' land"
TAKES_SITES = ("rig", "pack", "drop")


class SheetSide(QWidget):
    """The side of a pane.

    Signals:
        pagePicked: Number from 1.
        sitesTicked: Other sites are ticked than before.
        changed: Something else that the pages depend on.
    """

    pagePicked = Signal(int)
    sitesTicked = Signal()
    changed = Signal()

    def __init__(self, kind: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.kind = kind
        self.page_list, self.site_list, self.owner = QListWidget(), QListWidget(), QComboBox()
        self.exact, self.live = QCheckBox("&Exact places"), QCheckBox("Count checks from no&w")
        self._sites_label, self._pages_label = QLabel("&Sites (space ticks):"), QLabel("Pa&ges:")
        self._name()
        self._lay_out()
        self.live.setChecked(kind == "log")
        self.site_list.itemChanged.connect(lambda _: self.sitesTicked.emit())
        self.page_list.currentRowChanged.connect(lambda row: self.pagePicked.emit(row + 1) if row >= 0 else None)
        self.owner.activated.connect(lambda _: self.changed.emit())
        self.exact.toggled.connect(lambda _: self.changed.emit())
        self.live.toggled.connect(lambda _: self.changed.emit())

    def _name(self) -> None:
        self._sites_label.setBuddy(self.site_list)
        self._pages_label.setBuddy(self.page_list)
        self.site_list.setAccessibleName("Sites")
        self.page_list.setAccessibleName("Pages")
        self.owner.setAccessibleName("Owner")
        self.exact.setToolTip("Exact places of sets, for the operator's own copy; other copies tell squares")
        self.live.setToolTip("Else from noon of the plan's date, where the plan states one")

    def _lay_out(self) -> None:
        box = QVBoxLayout(self)
        box.setContentsMargins(0, 0, 4, 0)
        parts = (self._sites_label, self.site_list, self.owner, self.exact, self.live, self._pages_label)
        for widget in (*parts, self.page_list):
            box.addWidget(widget)
        box.setStretchFactor(self.page_list, 2)
        box.setStretchFactor(self.site_list, 3)
        self.owner.setVisible(self.kind == "report")
        self.exact.setVisible(self.kind == "report")
        self.live.setVisible(self.kind in ("report", "log"))
        self._show_sites(False)

    def _show_sites(self, on: bool) -> None:
        self._sites_label.setVisible(on)
        self.site_list.setVisible(on)

    def ticked(self) -> tuple[str, ...]:
        """Names of the ticked sites."""
        items = [self.site_list.item(n) for n in range(self.site_list.count())]
        return tuple(i.text() for i in items if i.checkState() == Qt.CheckState.Checked)

    def chosen_owner(self) -> str | None:
        """The owner whose land alone is reported on, or None."""
        return self.owner.currentData() if self.kind == "report" else None

    def fill(self, pages: PageSet) -> None:
        """List pages, sites and owners of a set; nobody is told."""
        with QSignalBlocker(self.page_list), QSignalBlocker(self.site_list):
            self.page_list.clear()
            self.page_list.addItems([f"{r.number}  {r.title}" for r in pages.rows])
            self.site_list.clear()
            for name in pages.ranked if self.kind in TAKES_SITES else ():
                item = QListWidgetItem(name)
                item.setFlags(item.flags() | Qt.ItemFlag.ItemIsUserCheckable)
                item.setCheckState(Qt.CheckState.Checked if name in pages.chosen else Qt.CheckState.Unchecked)
                self.site_list.addItem(item)
        self._show_sites(self.site_list.count() > 0)
        chosen = self.owner.currentData()
        self.owner.clear()
        self.owner.addItem(ALL_LAND, None)
        for owner in pages.owners:
            self.owner.addItem(owner, owner)
        self.owner.setCurrentIndex(max(self.owner.findData(chosen), 0))

    def show_page(self, number: int) -> None:
        """Mark a page in the list; nobody is told."""
        with QSignalBlocker(self.page_list):
            self.page_list.setCurrentRow(number - 1)

    def clear(self) -> None:
        """List nothing."""
        for held in (self.page_list, self.site_list, self.owner):
            with QSignalBlocker(held):
                held.clear()
