"""The plan that is open: taken, read by the worker, saved, read again, given free."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QObject, Signal

from boscage.desk.edits import Edits
from boscage.desk.hub import Desk
from boscage.desk.saybar import SayBar
from boscage.errors import BoscageError
from boscage.model.desk import Opened
from boscage.model.desk_answers import Failure
from boscage.model.journal import OpenElsewhere
from boscage.pipeline.desk_held import HeldPlan, hold_plan

LATER = "Some of this takes effect when the plan is saved (Ctrl+S): the ranch is then read again."


class Plans(QObject):
    """One plan at a time.

    Signals:
        taken: A plan was taken and is being read.
        failed: It could not be read; there is none now.
        opened: The ranch is there.
        readAgain: The ranch was read again.
        changed: What is edited or saved is another.
    """

    taken = Signal()
    failed = Signal()
    opened = Signal()
    readAgain = Signal()
    changed = Signal()

    def __init__(self, desk: Desk, bar: SayBar, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._desk, self._bar = desk, bar
        self._opening: HeldPlan | None = None

    @property
    def is_opening(self) -> bool:
        """Whether a plan is taken whose ranch is not there yet."""
        return self._opening is not None

    def open(self, path: str) -> bool:
        """Take a plan and have its ranch opened; False where it cannot be taken, which is said."""
        if self._is_here(path):
            self._desk.say("This plan is open already, in this window.")
            return False
        try:
            held = hold_plan(Path(path))
        except BoscageError as error:
            self._desk.say(str(error), "error")
            return False
        if isinstance(held, OpenElsewhere):
            self._desk.say(held.reason, "error")
            return False
        self.leave()
        self._opening = held
        self.taken.emit()
        self._ask(held)
        return True

    def _is_here(self, path: str) -> bool:
        here = self._desk.plan or (Path(self._opening.text.file) if self._opening is not None else None)
        return here is not None and here.resolve() == Path(path).resolve()

    def _ask(self, held: HeldPlan) -> None:
        def done(opened: Opened) -> None:
            if held is self._opening:
                self._done(held, opened)

        def failed(failure: Failure) -> None:
            if held is self._opening:
                self._opening = None
                held.close(keep=True)
                self._desk.say(failure.sentence, "error")
                self.failed.emit()

        self._desk.client.ask("open", (held.text.file, ""), done, failed)

    def _done(self, held: HeldPlan, opened: Opened) -> None:
        self._opening = None
        edits = self._desk.edits = Edits(held, self)
        edits.changed.connect(self._edited)
        edits.savedChanged.connect(lambda _: self.changed.emit())
        edits.refused.connect(lambda sentence: self._desk.say(sentence, "error"))
        self._desk.set_opened(opened)
        self.opened.emit()
        if held.note:
            self._desk.say(held.note)
        if held.replay:
            self._offer(edits)
        elif held.replay.said:
            self._desk.say(" ".join(held.replay.said))

    def _offer(self, edits: Edits) -> None:
        """Offer the edits that a former window left behind."""

        def take_up(_: str) -> None:
            for sentence in edits.take_up_former():
                self._desk.say(sentence)

        words = " ".join(edits.held.replay.said)
        let_go = ("Let them go", lambda _: edits.let_go_former())
        self._bar.ask(f"{words} Make them again?", [("Make them again", take_up), let_go], line=False)

    def leave(self) -> None:
        """Give the plan free that is open; its unsaved edits stay in its journal."""
        if self._opening is not None:
            self._opening.close(keep=True)
            self._opening = None
        edits = self._desk.edits
        if edits is not None:
            if not edits.is_saved:
                name = Path(edits.held.text.file).name
                self._desk.say(f"The unsaved edits of {name} are kept and offered when it is opened again.")
            edits.close(keep=not edits.is_saved)
            self._desk.edits = None
            edits.deleteLater()
        self._desk.set_opened(None)

    def read_again(self) -> None:
        """Read the plan file and its layers again; edits stay."""
        edits = self._desk.edits
        if self._opening is not None:
            self._ask(self._opening)
        if edits is None:
            return

        def done(opened: Opened) -> None:
            if edits is self._desk.edits:
                edits.needs_reading = not edits.is_saved and edits.needs_reading
                edits.changed.disconnect()
                edits.changed.connect(self._edited)
                self._desk.set_opened(opened)
                self._desk.set_units(edits.held.plan.ranch.units)
                self.readAgain.emit()

        self._desk.client.ask(
            "open", (edits.held.text.file, ""), done, lambda f: self._desk.say(f.sentence, "error")
        )  # fmt: skip

    def save(self) -> bool:
        """Save the plan; where the worker rests on what was changed, it reads it again."""
        edits = self._desk.edits
        if edits is None or not edits.save():
            return False
        self.changed.emit()
        self._desk.planChanged.emit()
        self._desk.say(f"Saved: {Path(edits.held.text.file).name}.", "done")
        if edits.needs_reading:
            self.read_again()
        return True

    def step(self, what: str) -> None:
        """Undo or make again (`undo`, `redo`)."""
        if self._desk.edits is not None:
            getattr(self._desk.edits.stack, what)()

    def _edited(self) -> None:
        edits = self._desk.edits
        if edits is None:
            return
        self._desk.set_units(edits.held.plan.ranch.units)
        self.changed.emit()
        self._desk.planChanged.emit()
        if edits.needs_reading and not edits.is_saved:
            self._desk.say(LATER)
