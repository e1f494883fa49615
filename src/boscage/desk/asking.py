"""Questions to a worker of which only the latest counts."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QObject

from boscage.desk.hub import Desk
from boscage.model.desk_answers import Failure


class Latest:
    """Asks one kind of thing; an answer to anything but the latest question is passed over.

    Args:
        desk: The window's.
        owner: Nothing is answered once it is gone.
        job: Whether the job worker is asked.
    """

    def __init__(self, desk: Desk, owner: QObject, *, job: bool = False) -> None:
        self._desk, self._job = desk, job
        self._serial = 0
        self.waits = False
        owner.destroyed.connect(self.forget)

    def ask(
        self, verb: str, argument: Any, done: Callable[[Any], None],
        failed: Callable[[Failure], None] | None = None, progress: Callable[[Any], None] | None = None,
    ) -> None:  # fmt: skip
        """Ask; `failed` gets the plain sentence, the bar where there is none."""
        self._serial += 1
        serial, self.waits = self._serial, True

        def answered(payload: Any) -> None:
            if serial == self._serial:
                self.waits = False
                done(payload)

        def went_wrong(payload: Any) -> None:
            if serial != self._serial or payload is None:  # None: a later question took its place
                return
            self.waits = False
            if failed is not None:
                failed(payload)
            else:
                self._desk.say(payload.sentence, "error")

        def told(payload: Any) -> None:
            if serial == self._serial and progress is not None:
                progress(payload)

        self._desk.client.ask(verb, (argument,), answered, went_wrong, progress=told, job=self._job)

    def forget(self, _: object = None) -> None:
        """Want no answer any more."""
        self._serial += 1
        self.waits = False
