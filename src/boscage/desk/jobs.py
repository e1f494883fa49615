"""Whole jobs from the window: started, followed in the status line, stopped; what came of them is said."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from boscage.desk.hub import Desk
from boscage.desk.saybar import SayBar
from boscage.model.desk_answers import Failure, JobDone, JobRequest

JOB_WORDS: Mapping[str, str] = {
    "check": "Check every layer", "scout": "Rank and print the field sheets", "rig": "Rings and gear of ranked sites",
    "pack": "Load plan", "drop": "Helicopter drop brief", "report": "Report to the landowner",
    "share": "Write the ranch for phones",
}  # fmt: skip
MOST_SAID = 2


class Jobs(QObject):
    """Runs one job after another.

    Signals:
        finished: A `JobDone`.
    """

    finished = Signal(object)

    def __init__(self, desk: Desk, bar: SayBar, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._desk, self._bar = desk, bar

    def run(self, verb: str, options: Mapping[str, bool] | None = None) -> None:
        """Run a job on the plan; where edits are unsaved, ask first.

        Args:
            verb: One of `JOB_WORDS`.
            options: Of the job, as `JobRequest` has them.
        """
        given = dict(options or {})
        edits = self._desk.edits
        if self._desk.plan is None or edits is None:
            self._desk.say("Open a plan first.")
        elif edits.is_saved:
            self._start(verb, given)
        else:
            self._bar.ask(
                "Jobs work on the plan file, and there are edits that are not in it yet.",
                [("Save and run", lambda _: edits.save() and self._start(verb, given)),
                 ("Run without them", lambda _: self._start(verb, given))], line=False,
            )  # fmt: skip

    def stop(self) -> None:
        """Stop what runs; outputs are staged, so that nothing is half written."""
        verbs = self._desk.client.cancel_job()
        if verbs:
            self._desk.say(f"Stopped: {', '.join(verbs)}. The outputs are as they were before.", "note")

    def _start(self, verb: str, options: Mapping[str, bool]) -> None:
        def done(answer: JobDone) -> None:
            name = Path(answer.folder).name
            files = ", ".join(answer.files[:4]) + (" …" if len(answer.files) > 4 else "")
            said = " ".join(answer.sentences[:MOST_SAID])
            self._desk.say(
                f"{said} Written to {name}: {files or 'nothing'}.".strip(), "done" if answer.fits else "note"
            )
            self.finished.emit(answer)

        def failed(failure: Failure) -> None:
            self._desk.say(failure.sentence, "error")

        request = JobRequest(plan=str(self._desk.plan), out=str(self._desk.out), options=options)
        self._desk.client.ask(verb, (request,), done, failed, job=True)
