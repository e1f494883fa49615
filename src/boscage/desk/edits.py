"""What is decided in the window: weights, pins, rejections, places added, keys of the plan. All of it can be undone."""

from __future__ import annotations

import datetime as dt
import tomllib
from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QUndoCommand, QUndoStack

from boscage.errors import BoscageError
from boscage.model.choices import SAME_PLACE_M, Choice, apart_m
from boscage.model.desk_answers import SiteEdits
from boscage.model.plan_edits import AddChoice, Edit, Key, PlanText, SetKey, TakeOut, TakeOutChoice
from boscage.pipeline.desk_held import HeldPlan

UNDECIDED = "First say whether the edits of the former window are made again or let go."
RANKING_KEYS = ("weight",)


class Edits(QObject):
    """Edits of one plan.

    Signals:
        changed: Something was edited, undone or made again; what the ranking rests on may be another.
        savedChanged: Whether anything is unsaved.
        refused: A plain sentence: an edit was wrong, or could not be kept.
    """

    changed = Signal()
    savedChanged = Signal(bool)
    refused = Signal(str)

    def __init__(self, held: HeldPlan, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.held = held
        self.stack = QUndoStack(self)
        self.needs_reading = False
        """Whether a key was saved or edited that the worker takes up only when the plan is read again."""

    # what is held

    @property
    def is_saved(self) -> bool:
        """Whether the disk holds every edit."""
        return self.held.is_saved

    @property
    def choices(self) -> tuple[Choice, ...]:
        """Places pinned, rejected or added."""
        return self.held.plan.choices

    def weights(self) -> dict[str, float]:
        """Weights that the plan states, by factor."""
        return {n: float(t["weight"]) for n, t in self.held.plan.factors.items() if "weight" in t}

    def site_edits(self) -> SiteEdits:
        """What the worker ranks by."""
        return SiteEdits(weights=self.weights(), choices=self.choices)

    # edits

    def set_weight(self, factor: str, weight: float) -> bool:
        """Give a factor another weight."""
        return self.set_key(("factors", factor, "weight"), round(weight, 4), f"weight of {factor}")

    def set_key(self, key: Key, value: Any, words: str = "") -> bool:
        """Give a key of the plan a value; None takes it out."""
        edit: Edit = TakeOut(key=key) if value is None else SetKey(key=key, value=value)
        return self.push([edit], words or ".".join(key))

    def pin(self, site: str, lon: float, lat: float) -> bool:
        """Keep a place in the ranking."""
        return self._choose(Choice(site=site or None, at=(lon, lat), choice="pin", date=dt.date.today()), f"pin {site}")

    def reject(self, site: str, lon: float, lat: float, reason: str) -> bool:
        """Rank nothing near a place any more."""
        made = self._made(site=site or None, at=(lon, lat), choice="reject", reason=reason, date=dt.date.today())
        return made is not None and self._choose(made, f"reject {site or 'the place'}")

    def add(self, site: str, lon: float, lat: float) -> bool:
        """Rank a place that the program did not find."""
        made = self._made(site=site, at=(lon, lat), choice="add", date=dt.date.today())
        return made is not None and self._choose(made, f"add {site}")

    def take_back(self, choice: Choice) -> bool:
        """Take a choice out of the plan."""
        rows = [n for n, c in enumerate(self.choices, start=1) if c == choice]
        return bool(rows) and self.push([TakeOutChoice(row=rows[0])], f"take back: {choice.told()}")

    def choice_near(self, lon: float, lat: float) -> Choice | None:
        """The choice that stands at a place, or None."""
        here = Choice(at=(lon, lat), choice="pin")
        return next((c for c in self.choices if apart_m(c, here) < SAME_PLACE_M), None)

    def push(self, edits: Sequence[Edit], words: str) -> bool:
        """Make edits as one step; False where they are refused, which is said."""
        if self.held.replay:
            self.refused.emit(UNDECIDED)
            return False
        try:
            after = self.held.changed(edits)
        except BoscageError as error:
            self.refused.emit(str(error))
            return False
        if after.text == self.held.text.text:
            return True
        step = _Step(self, self.held.text, after, words)
        self.stack.push(step)
        return step.was_made

    def _made(self, **parts: Any) -> Choice | None:
        try:
            return Choice(**parts)
        except BoscageError as error:
            self.refused.emit(str(error))
            return None

    def _choose(self, choice: Choice, words: str) -> bool:
        """Put a choice in the place of one that stands there."""
        rows = [n for n, c in enumerate(self.choices, start=1) if apart_m(c, choice) < SAME_PLACE_M]
        return self.push([*(TakeOutChoice(row=n) for n in reversed(rows)), AddChoice(choice=choice)], words)

    # the file

    def save(self) -> bool:
        """Write the plan; False where it could not be, which is said."""
        try:
            self.held.save()
        except BoscageError as error:
            self.refused.emit(str(error))
            return False
        self.savedChanged.emit(True)
        return True

    def take_up_former(self) -> tuple[str, ...]:
        """Make the edits of a former window again, as one step that can be undone; sentences on those left out."""
        text, said = self.held.replayed()
        before = self.held.text
        try:
            self.held.take_up(text)
        except BoscageError as error:
            self.refused.emit(str(error))
            return said
        if text.text != before.text:
            self.stack.push(_Step(self, before, text, "the edits of the former window", is_made=True))
            self.needs_reading |= touches_more(before, text)
        self.changed.emit()
        self.savedChanged.emit(self.is_saved)
        return said

    def let_go_former(self) -> None:
        """Let the edits of a former window go."""
        try:
            self.held.forget()
        except BoscageError as error:
            self.refused.emit(str(error))

    def close(self, *, keep: bool) -> None:
        """Give the plan free; unsaved edits stay in the journal where they are to be kept."""
        try:
            self.held.close(keep=keep or bool(self.held.replay))
        except BoscageError as error:
            self.refused.emit(str(error))

    def _move(self, text: PlanText) -> bool:
        """Hold another text; the journal has the step before anybody sees it."""
        before = self.held.text
        try:
            self.held.move_to(text)
        except BoscageError as error:
            self.refused.emit(str(error))
            return False
        self.needs_reading |= touches_more(before, text)
        self.changed.emit()
        self.savedChanged.emit(self.is_saved)
        return True


class _Step(QUndoCommand):
    """One step from a text of the plan to another."""

    def __init__(self, edits: Edits, before: PlanText, after: PlanText, words: str, *, is_made: bool = False) -> None:
        super().__init__(words)
        self._edits, self._before, self._after = edits, before, after
        self._is_made, self.was_made = is_made, is_made

    def redo(self) -> None:
        """Make it."""
        if self._is_made:
            self._is_made = False
            return
        self.was_made = self._edits._move(self._moved(self._after))
        if not self.was_made:
            self.setObsolete(True)

    def undo(self) -> None:
        """Take it back."""
        self._edits._move(self._moved(self._before))

    def _moved(self, text: PlanText) -> PlanText:
        """The text with what is known of the disk now."""
        now = self._edits.held.saved
        return PlanText(file=text.file, text=text.text, bom=text.bom, on_disk=now.on_disk)


def touches_more(before: PlanText, after: PlanText) -> bool:
    """Whether two texts differ in more than weights and choices, which the worker takes up at once."""
    return _rest(before) != _rest(after)


def _rest(text: PlanText) -> dict[str, Any]:
    table = tomllib.loads(text.text)
    table.pop("choices", None)
    factors = table.get("factors", {})
    table["factors"] = {
        n: rest for n, own in factors.items() if (rest := {k: v for k, v in own.items() if k not in RANKING_KEYS})
    }
    if isinstance(table.get("ranch"), dict):
        table["ranch"] = {k: v for k, v in table["ranch"].items() if k != "units"}
    return table
