"""What the parts of the window share: the opened ranch, its ranking, the chosen site, units, palette, the workers."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from boscage.model.desk import PALETTES, Opened
from boscage.model.desk_answers import RankAnswer, RankedSite
from boscage.values import Printer

if TYPE_CHECKING:
    from boscage.desk.client import Client
    from boscage.desk.edits import Edits


class Desk(QObject):
    """Given to every view.

    Attributes:
        client: The workers: `client.ask(verb, arguments, done, failed)`.
        edits: What was decided and not necessarily saved; None without a plan.
        opened: The ranch as opened, or None.
        ranking: The ranking that is shown, or None.
        chosen: Name of the chosen site, or ''.
        palette: One of `boscage.model.desk.PALETTES`.
        printer: In the units that are shown.
    """

    planOpened = Signal(object)
    """Another plan was opened: its `Opened`. Before that everything about the former one is forgotten."""
    planClosed = Signal()
    planChanged = Signal()
    """Something in the plan was edited, undone or saved."""
    rankingChanged = Signal(object)
    """A new `RankAnswer`."""
    siteChosen = Signal(str)
    placeAsked = Signal(float, float)
    """East and north of a place that somebody clicked."""
    unitsChanged = Signal(str)
    paletteChanged = Signal(str)
    said = Signal(str, str)
    """A plain sentence for the bar, and `error`, `note` or `done`."""

    def __init__(self, client: Client, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.client = client
        self.edits: Edits | None = None
        self.opened: Opened | None = None
        self.ranking: RankAnswer | None = None
        self.chosen = ""
        self.palette = PALETTES[0]
        self.printer = Printer("us")

    @property
    def plan(self) -> Path | None:
        """The plan file, or None."""
        return Path(self.opened.plan) if self.opened is not None else None

    @property
    def out(self) -> Path | None:
        """Where outputs go, or None without a plan."""
        return self.plan.parent / "out" if self.plan is not None else None

    @property
    def site(self) -> RankedSite | None:
        """The chosen site as ranked, or None."""
        sites = self.ranking.sites if self.ranking is not None else ()
        return next((s for s in sites if s.site == self.chosen), None)

    def say(self, sentence: str, kind: str = "note") -> None:
        """Show a sentence in the bar, without stopping anybody."""
        self.said.emit(sentence, kind)

    def choose(self, site: str) -> None:
        """Choose a site everywhere in the window."""
        if site != self.chosen:
            self.chosen = site
            self.siteChosen.emit(site)

    def set_units(self, units: str) -> None:
        """Show `us` or `metric` from now on."""
        if units != self.printer.units:
            self.printer = Printer(units)
            self.unitsChanged.emit(units)

    def set_palette(self, palette: str) -> None:
        """Show another palette from now on."""
        if palette in PALETTES and palette != self.palette:
            self.palette = palette
            self.paletteChanged.emit(palette)

    def set_ranking(self, answer: RankAnswer) -> None:
        """A new ranking was made."""
        self.ranking = answer
        self.rankingChanged.emit(answer)

    def set_opened(self, opened: Opened | None) -> None:
        """Another ranch is open, or none."""
        self.opened, self.ranking, self.chosen = opened, None, ""
        if opened is None:
            self.planClosed.emit()
            return
        self.set_units(opened.units)
        self.planOpened.emit(opened)
