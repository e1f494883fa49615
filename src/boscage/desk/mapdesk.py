"""The first view: the place to the left, the map in the middle, the ranking to the right; pins and rejections."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import fields, replace

from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QAction, QKeySequence, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QMenu, QSplitter, QToolButton, QVBoxLayout, QWidget

from boscage.desk.hub import Desk
from boscage.desk.mapmarks import REJECTED, RULED_OUT, Mark
from boscage.desk.mapview import MapView
from boscage.desk.placeview import PlaceView
from boscage.desk.ranking import RankingPanel
from boscage.desk.saybar import SayBar
from boscage.model.choices import ChoiceOutcome
from boscage.model.desk import LayerSwitches
from boscage.model.desk_answers import Failure, PlaceAnswer, RankedSite
from boscage.pipeline.desk_held import degrees_at
from boscage.values import Bounds, format_ddm

SWITCH_WORDS = {
    "score": "Score", "stops": "Hard stops", "canopy": "Canopy", "heights": "Canopy heights instead of cover",
    "relief": "Relief", "contours": "Contours", "parcels": "Parcels", "tracks": "Roads and tracks",
    "fences": "Fences", "water": "Water", "hazards": "Dwellings, power lines, no-go areas", "sign": "Sign",
    "names": "Names", "sites": "Sites",
}  # fmt: skip
NEAR_M = 400.0
LEAST_WIDTH = 900


class MapDesk(QWidget):
    """Map, ranking and place together."""

    def __init__(self, desk: Desk, bar: SayBar, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk, self._bar = desk, bar
        self._place_serial = 0
        self.map, self.ranking, self.place = MapView(desk, self), RankingPanel(desk, self), PlaceView(desk, self)
        self.under = QLabel(self)
        self.under.setAccessibleName("Place under the cursor")
        self.layers_button = QToolButton(self)
        self.layers_button.setText("Layers (L)")
        self.layers_button.setShortcut(QKeySequence("L"))
        self.layers_button.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.layers_menu = self._layers_menu()
        self.layers_button.setMenu(self.layers_menu)
        foot = QHBoxLayout()
        foot.setContentsMargins(6, 2, 6, 2)
        foot.addWidget(self.layers_button)
        foot.addWidget(self.under, 1)
        middle = QWidget(self)
        column = QVBoxLayout(middle)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.map, 1)
        column.addLayout(foot)
        self.split = QSplitter(Qt.Orientation.Horizontal, self)
        for widget, stretch in ((self.place, 2), (middle, 6), (self.ranking, 3)):
            self.split.addWidget(widget)
            self.split.setStretchFactor(self.split.count() - 1, stretch)
        self.split.setChildrenCollapsible(False)
        self.fit_text()
        self.split.setSizes([290, 580, 340])
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.split)
        self._connect()

    def _connect(self) -> None:
        self.map.placeAsked.connect(self.ask_place)
        self.map.pointed.connect(self._tell_under)
        self.map.menuAsked.connect(self._menu)
        self.map.siteAsked.connect(self.go_to)
        self.ranking.siteAsked.connect(self.go_to)
        self.ranking.pinAsked.connect(self.pin)
        self.ranking.rejectAsked.connect(self.reject)
        self.ranking.takeBackAsked.connect(self.take_back)
        self.place.addAsked.connect(self.add_at)
        self.place.rejectAsked.connect(lambda x, y: self.reject_at(x, y, ""))
        self._desk.siteChosen.connect(self._site_chosen)
        self._desk.planClosed.connect(self.under.clear)
        self._desk.rankingChanged.connect(lambda _: self._score_again())

    def _layers_menu(self) -> QMenu:
        menu = QMenu("Layers", self)
        for item in fields(LayerSwitches):
            action = menu.addAction(SWITCH_WORDS[item.name])
            action.setCheckable(True)
            action.setChecked(bool(getattr(LayerSwitches(), item.name)))
            action.toggled.connect(lambda on, name=item.name: self._switch(name, on))
        return menu

    def _switch(self, name: str, on: bool) -> None:
        self.map.set_switches(replace(self.map.switches, **{name: on}))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Fit the columns anew."""
        super().resizeEvent(event)
        self.fit_text()

    def fit_text(self) -> None:
        """Give the columns the width that their text needs, as large as it is."""
        wide = self.fontMetrics().horizontalAdvance("0")
        for widget, letters, share in ((self.place, 32, 0.28), (self.ranking, 38, 0.32)):
            widget.setMinimumWidth(int(min(letters * wide, share * max(self.width(), LEAST_WIDTH))))

    def shown(self) -> None:
        """Take the keyboard."""
        self.map.setFocus()

    # places

    def ask_place(self, x_m: float, y_m: float) -> None:
        """Ask for everything that is known of a place: first what is known at once, then the way in and who sees it."""
        if self._desk.opened is None:
            return
        self._place_serial += 1
        serial = self._place_serial

        def failed(failure: Failure) -> None:
            if serial == self._place_serial:
                self._desk.say(failure.sentence, "error")

        def whole(answer: PlaceAnswer) -> None:
            if serial == self._place_serial:
                self._tell(answer)

        def first(answer: PlaceAnswer) -> None:
            if serial == self._place_serial:
                self._tell(answer)
                self._desk.client.ask("place", (x_m, y_m, True), whole, failed)

        self.place.title.setText("Place: asking")
        self._desk.client.ask("place", (x_m, y_m, False), first, failed)
        self._desk.placeAsked.emit(x_m, y_m)

    def ask_again(self) -> None:
        """Ask for the same place again, such as in other units."""
        answer = self.place.answer
        if answer is not None:
            self.ask_place(answer.x_m, answer.y_m)

    def _score_again(self) -> None:
        """The place under the new weights; the way in and who sees it stay as they are."""
        held = self.place.answer
        if held is None:
            return
        serial = self._place_serial

        def done(answer: PlaceAnswer) -> None:
            if serial == self._place_serial and self.place.answer is not None:
                old = self.place.answer
                self._tell(replace(answer, has_ways=old.has_ways, way=old.way, seen=old.seen, way_line=old.way_line))

        self._desk.client.ask("place", (held.x_m, held.y_m, False), done)

    @staticmethod
    def name_of(answer: PlaceAnswer) -> str:
        """What a place is called in a few letters: the site on it, else its parcel."""
        if answer.nearest_site and answer.nearest_m is not None and answer.nearest_m < 1.0:
            return answer.nearest_site
        return answer.parcel or "outside every parcel"

    def _tell(self, answer: PlaceAnswer) -> None:
        self.place.title.setText(f"Place: {self.name_of(answer)}")
        self.place.set_answer(answer)
        self.map.set_place(answer)

    def _tell_under(self, x_m: float, y_m: float) -> None:
        degrees = self.degrees(x_m, y_m)
        if degrees is not None:
            self.under.setText(f"{'  '.join(format_ddm(degrees[1], degrees[0]))}  WGS 84")

    def degrees(self, x_m: float, y_m: float) -> tuple[float, float] | None:
        """Longitude and latitude of a place, or None without a plan."""
        if self._desk.opened is None:
            return None
        lon, lat = degrees_at(x_m, y_m, self._desk.opened.crs)
        return (lon, lat) if math.isfinite(lon) and math.isfinite(lat) else None

    # sites

    def _site_chosen(self, name: str) -> None:
        site = self._desk.site
        if name and site is not None:
            if not self.map.frame.bounds.overlaps(_around(site)):
                self.map.look_at(site.x_m, site.y_m)
            self.ask_place(site.x_m, site.y_m)

    def go_to(self, name: str) -> None:
        """Bring a site into the middle, near enough to see its trees."""
        site = self._named(name)
        if site is not None:
            self._desk.choose(name)
            across = NEAR_M / max(1, min(self.map.width(), self.map.height()))
            self.map.look_at(site.x_m, site.y_m, min(self.map.frame.metres_per_px, across))

    def step(self, by: int) -> None:
        """Choose the next site in rank order, or the one before."""
        sites = self._desk.ranking.sites if self._desk.ranking is not None else ()
        if sites:
            at = next((n for n, s in enumerate(sites) if s.site == self._desk.chosen), -1 if by > 0 else 0)
            self._desk.choose(sites[(at + by) % len(sites)].site)

    def _named(self, name: str) -> RankedSite | None:
        sites = self._desk.ranking.sites if self._desk.ranking is not None else ()
        return next((s for s in sites if s.site == name), None)

    def pin(self, name: str) -> None:
        """Pin a site, or let a pinned one go."""
        site, edits = self._named(name), self._desk.edits
        if site is None or edits is None:
            return
        if site.by_hand:
            self._desk.say(f"{name} was added by hand and keeps its place already.")
            return
        held = edits.choice_near(site.lon, site.lat) if site.pinned else None
        if held is not None:
            edits.take_back(held)
        else:
            edits.pin(site.site, site.lon, site.lat)

    def reject(self, name: str) -> None:
        """Reject a site; the reason is asked for."""
        site = self._named(name)
        if site is not None:
            self.reject_at(site.x_m, site.y_m, site.site)

    def reject_at(self, x_m: float, y_m: float, name: str) -> None:
        """Reject a place; the reason is asked for in the bar."""
        at, edits = self.degrees(x_m, y_m), self._desk.edits
        site = self._named(name)
        if site is not None:
            at = (site.lon, site.lat)
        if at is None or edits is None:
            return
        lon, lat = at
        what = name or "this place"
        self._bar.ask(
            f"Why is {what} rejected?", [("Reject", lambda reason: edits.reject(name, lon, lat, reason))], line=True,
            hint="in a few words; it is printed",
        )  # fmt: skip

    def add_at(self, x_m: float, y_m: float) -> None:
        """Add a place as a site; its name is asked for in the bar."""
        at, edits = self.degrees(x_m, y_m), self._desk.edits
        if at is None or edits is None:
            return
        lon, lat = at
        self._bar.ask(
            f"What is the place at {'  '.join(format_ddm(lat, lon))} called?",
            [("Add", lambda name: edits.add(name, lon, lat))], line=True, hint="the name that people know it by",
        )  # fmt: skip

    def add_here(self) -> None:
        """Add the place that was asked for, or the one at the cross."""
        answer = self.place.answer
        self.add_at(*((answer.x_m, answer.y_m) if answer is not None else (self.map.frame.x_m, self.map.frame.y_m)))

    def take_back(self, outcome: ChoiceOutcome) -> None:
        """Take a choice back, after asking."""
        edits, choice = self._desk.edits, outcome.placed.choice
        if edits is not None:
            self._bar.ask(
                f"Take this back: {choice.told(named=True)}?", [("Take it back", lambda _: edits.take_back(choice))],
                line=False,
            )  # fmt: skip

    def _menu(self, x_m: float, y_m: float, mark: Mark | None, where: QPoint) -> None:
        """What can be done at a place."""
        if self._desk.opened is None:
            return
        menu = self.place_menu(x_m, y_m, mark)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        menu.popup(where)

    def place_menu(self, x_m: float, y_m: float, mark: Mark | None) -> QMenu:
        """The menu of a place or of the mark on it."""
        menu = QMenu(self)

        def entry(words: str, call: Callable[[], object]) -> QAction:
            action = menu.addAction(words)
            action.triggered.connect(lambda _=False: call())
            return action

        entry("What is known of this place", lambda: self.ask_place(x_m, y_m))
        site = self._named(mark.name) if mark is not None and mark.name else None
        if site is not None:
            self._desk.choose(site.site)
            entry(f"Bring {site.site} into the middle", lambda: self.go_to(site.site))
            if not site.by_hand:
                entry(f"Let {site.site} go again" if site.pinned else f"Pin {site.site}", lambda: self.pin(site.site))
            entry(f"Reject {site.site}…", lambda: self.reject(site.site))
        if mark is not None and (mark.kind in (REJECTED, RULED_OUT) or (site is not None and site.by_hand)):
            at = self.degrees(x_m, y_m)
            choice = self._desk.edits.choice_near(*at) if at is not None and self._desk.edits is not None else None
            if choice is not None:
                entry(f"Take back: {choice.told()}", lambda: self._desk.edits.take_back(choice))  # type: ignore[union-attr]
        if mark is None:
            entry("Add this place as a site…", lambda: self.add_at(x_m, y_m))
            entry("Reject this place…", lambda: self.reject_at(x_m, y_m, ""))
            entry("Bring this place into the middle", lambda: self.map.look_at(x_m, y_m))
        return menu


def _around(site: RankedSite) -> Bounds:
    return Bounds(site.x_m, site.y_m, site.x_m, site.y_m).padded(0.1)
