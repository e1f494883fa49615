"""Everything that is known of a place, in words; what is not known is said."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QTextBrowser, QVBoxLayout, QWidget

from boscage.desk.hub import Desk
from boscage.desk.palettes import LOOKS, Look
from boscage.model.desk_answers import PlaceAnswer, StopHere
from boscage.model.results import FactorReading, Hazard
from boscage.values import Printer

EMPTY = "No place is chosen. Click the map, or move the cross with the arrow keys and press Space."
DATUM = "WGS 84"
ACCESS_WORDS = {
    "granted": "granted", "refused": "REFUSED", "unknown": "NOT KNOWN: that is not the same as granted",
    "": "outside every parcel: nobody's permission is known",
}  # fmt: skip
POINTS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")
CELLS = 10


class PlaceView(QWidget):
    """What is known of the place that was asked for.

    Signals:
        addAsked, rejectAsked: East and north of the place.
    """

    addAsked = Signal(float, float)
    rejectAsked = Signal(float, float)

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self.answer: PlaceAnswer | None = None
        self.title = QLabel("Place", self)
        self.title.setProperty("role", "head")
        self.page = QTextBrowser(self)
        self.page.setOpenLinks(False)
        self.page.setAccessibleName("What is known of the place")
        self.page.setTextInteractionFlags(
            Qt.TextInteractionFlag.TextBrowserInteraction | Qt.TextInteractionFlag.TextSelectableByKeyboard
        )
        self.add_button, self.reject_button = QPushButton("Add as a site…", self), QPushButton("Reject…", self)
        self.add_button.setToolTip("Rank this place too, under a name that you give it (A)")
        self.reject_button.setToolTip("Rank nothing near this place; the reason is asked for")
        self.add_button.clicked.connect(lambda: self._act(self.addAsked))
        self.reject_button.clicked.connect(lambda: self._act(self.rejectAsked))
        buttons = QHBoxLayout()
        for button in (self.add_button, self.reject_button):
            button.setEnabled(False)
            buttons.addWidget(button)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(8, 6, 8, 6)
        layout.setSpacing(3)
        layout.addWidget(self.title)
        layout.addWidget(self.page)
        layout.addLayout(buttons)
        desk.paletteChanged.connect(lambda _: self._show())
        desk.unitsChanged.connect(lambda _: self._show())
        desk.planOpened.connect(lambda _: self.set_answer(None))
        desk.planClosed.connect(lambda: self.set_answer(None))
        self._show()

    def set_answer(self, answer: PlaceAnswer | None) -> None:
        """Tell of another place; the same place told of again keeps where it was read."""
        same = answer is not None and self.answer is not None and (
            (answer.x_m, answer.y_m) == (self.answer.x_m, self.answer.y_m)
        )  # fmt: skip
        self.answer = answer
        for button in (self.add_button, self.reject_button):
            button.setEnabled(answer is not None)
        at = self.page.verticalScrollBar().value()
        self._show()
        self.page.verticalScrollBar().setValue(at if same else 0)

    def _show(self) -> None:
        look = LOOKS[self._desk.palette]
        if self.answer is None:
            self.page.setHtml(f"<p>{EMPTY}</p>")
        else:
            self.page.setHtml(place_html(self.answer, self._desk.printer, look))

    def _act(self, signal: object) -> None:
        if self.answer is not None:
            signal.emit(self.answer.x_m, self.answer.y_m)  # type: ignore[attr-defined]


def place_html(answer: PlaceAnswer, printer: Printer, look: Look) -> str:
    """The page of a place."""
    said = [f"No score: {answer.score_note}" if answer.score is None else f"Score {answer.score:.0f} of 100"]
    if answer.stops:
        said[0] += " by its factors alone; RULED OUT by a hard stop"
    if answer.nearest_site and answer.nearest_m is not None:
        near = "at this place" if answer.nearest_m < 1.0 else f"{printer.length(answer.nearest_m)} away"
        said.append(f"Nearest ranked site: {answer.nearest_site}, {near}")
    parts = [
        _head(said[0], look), *(_line(s) for s in said[1:]), _head("Where", look), _where(answer, printer, look),
        _head("Hard stops", look), *_stops(answer.stops, answer.not_applied, look),
        _head("Factors", look), _factors(answer.readings, look),
        _head("Who sees it", look), *_told(answer.seen, asked=answer.has_ways),
        _head("The way in", look), *_told(answer.way, asked=answer.has_ways),
        _head("Ground", look), *_told(answer.ground, asked=True),
        _head("Trees", look), *_told((answer.support,) if answer.support else (), asked=True),
        _head("Keep away from", look), *_hazards(answer.hazards, printer),
    ]  # fmt: skip
    return f"<style>p {{ margin: 2px 0 5px 0; }} td {{ padding: 1px 7px 1px 0; }}</style>{''.join(parts)}"


def _head(text: str, look: Look) -> str:
    return f'<p style="margin-top:9px; background:{look.band}"><b>{escape(text)}</b></p>'


def _line(text: str) -> str:
    return f"<p>{escape(text)}</p>"


def _told(sentences: Iterable[str], *, asked: bool) -> list[str]:
    lines = [_line(s) for s in sentences if s]
    return lines or [_line("Nothing is known." if asked else "Not asked for yet.")]


def _where(answer: PlaceAnswer, printer: Printer, look: Look) -> str:
    height = printer.height(answer.elevation_m) if answer.elevation_m is not None else "no data"
    rows = (
        ("Degrees and minutes", answer.ddm), ("Decimal degrees", answer.decimal),
        ("US National Grid", answer.usng), ("Elevation", height),
        ("Parcel", answer.parcel or "none is mapped here"), ("Owner", answer.owner or "not stated"),
        ("Permission", ACCESS_WORDS.get(answer.access, answer.access)),
    )  # fmt: skip
    coordinates, rest = rows[:3], rows[3:]
    lines = [
        f'<p><span style="color:{look.quiet}">{a}, {DATUM}</span><br/>{escape(b).replace(" ", "&nbsp;")}</p>'
        for a, b in coordinates
    ]
    cells = "".join(f'<tr><td style="color:{look.quiet}">{a}</td><td>{escape(b)}</td></tr>' for a, b in rest)
    return f"{''.join(lines)}<table>{cells}</table>"


def _stops(stops: Sequence[StopHere], not_applied: Sequence[str], look: Look) -> list[str]:
    lines = []
    for stop in stops:
        where = "" if stop.where == "here" else " (at the middle of its cell)"
        law = [p for p in (stop.rule, stop.citation, f"checked {stop.checked}" if stop.checked else "") if p]
        stale = " CHECKED MORE THAN A YEAR AGO: look it up again." if stop.stale else ""
        said = f"{'; '.join(law) or 'No rule stands behind it.'}{stale}"
        lines.append(
            f"<p><b>{escape(stop.title)}{where}.</b> {escape(stop.reason)}<br/>"
            f'<span style="color:{look.quiet}">{escape(said)}</span></p>'
        )
    if not stops:
        lines.append(_line("None of those that were applied reaches here."))
    return [*lines, *(_line(s) for s in not_applied)]


def _factors(readings: Sequence[FactorReading], look: Look) -> str:
    if not readings:
        return _line("Nothing was measured here.")
    rows = []
    for number, r in enumerate(readings, start=1):
        value = "no data" if r.value is None else f"{r.value:.0%}"
        full = 0 if r.value is None else round(CELLS * r.value)
        bar = (
            "".join(f'<td bgcolor="{look.bar if n < full else look.hollow}" width="7"></td>' for n in range(CELLS))
            if r.value is not None else f'<td colspan="{CELLS}">no data</td>'
        )  # fmt: skip
        points = f"{r.points:+.1f} points" if r.value is not None else "adds nothing"
        rows.append(
            f"<p><b>{number} {escape(r.title)}</b>: {value}, weight {r.weight:g}, {points}</p>"
            f'<table cellspacing="1" cellpadding="3"><tr>{bar}</tr></table><p>{escape(r.sentence)}</p>'
        )
    return "".join(rows)


def _hazards(hazards: Sequence[Hazard], printer: Printer) -> list[str]:
    lines = []
    for h in hazards:
        if h.distance_m is None:
            lines.append(_line(f"{h.title}: {h.detail}. {h.source}"))
            continue
        toward = f" {POINTS[round(h.bearing_deg / 45.0) % 8]}" if h.bearing_deg is not None else ""
        detail = f", {h.detail}" if h.detail else ""
        lines.append(_line(f"{h.title}: {printer.length(h.distance_m)}{toward}{detail}. {h.source}"))
    return lines or [_line("No layer of such things is there: what is near is NOT known.")]
