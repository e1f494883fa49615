"""The window's side of its two workers: questions go out, answers come back by the event loop, nothing ever waits."""

from __future__ import annotations

import multiprocessing
import queue
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from importlib import import_module
from multiprocessing.connection import Connection
from typing import Any

from PySide6.QtCore import QObject, QSocketNotifier, QTimer, Signal

from boscage.model.desk_answers import Failure

MAP, JOB = "map", "job"
WORKERS = {
    MAP: "boscage.pipeline.desk_worker:run_map_worker", JOB: "boscage.pipeline.desk_worker:run_job_worker",
}  # fmt: skip
POLL_MS = 15
WITHDRAW = "withdraw"
MOST_AT_ONCE = 8
"""Answers taken in one turn of the event loop, so that a flood of tiles never holds it up."""
DIED = "the worker process stopped"

Done = Callable[[Any], None]


def work(entry: str, connection: Connection) -> None:
    """What a worker process runs; everything heavy is imported here, never in the window's process."""
    module, name = entry.split(":")
    getattr(import_module(module), name)(connection)


@dataclass(kw_only=True)
class Asked:
    """A question that is out."""

    verb: str
    done: Done | None
    failed: Done | None
    progress: Done | None
    dropped: Callable[[], None] | None


class Worker(QObject):
    """One worker process and the questions that it has.

    A worker that dies is said and started again once between two answers; its questions fail.

    Args:
        name: For messages.
        entry: What the process runs, `module:function`; it takes its end of a connection.
        parent: Of the object.
    """

    died = Signal(str)
    progressed = Signal(str, object)
    idle = Signal()
    busy = Signal(str)
    restarted = Signal()

    def __init__(self, name: str, entry: str, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.name, self._entry = name, entry
        self._count = 0
        self._asked: dict[int, Asked] = {}
        self._deaths = 0
        self._process: Any = None
        self._connection: Connection | None = None
        self._outgoing: queue.SimpleQueue[Any] = queue.SimpleQueue()
        self._watch: QObject | None = None

    @property
    def process_id(self) -> int | None:
        """Number of the process, or None while none runs."""
        return self._process.pid if self._process is not None else None

    @property
    def open_questions(self) -> tuple[str, ...]:
        """Verbs of the questions without an answer yet."""
        return tuple(a.verb for a in self._asked.values())

    def start(self) -> None:
        """Start the process."""
        context = multiprocessing.get_context("spawn")
        here, there = context.Pipe()
        self._process = context.Process(
            target=work, args=(self._entry, there), daemon=True, name=f"boscage-{self.name}"
        )
        self._process.start()
        there.close()
        self._connection, self._outgoing = here, queue.SimpleQueue()
        threading.Thread(target=_send_all, args=(here, self._outgoing), daemon=True).start()
        if sys.platform == "win32":
            timer = QTimer(self)
            timer.timeout.connect(self._take)
            timer.start(POLL_MS)
            self._watch = timer
        else:
            notifier = QSocketNotifier(here.fileno(), QSocketNotifier.Type.Read, self)
            notifier.activated.connect(self._take)
            self._watch = notifier

    def ask(
        self, verb: str, arguments: tuple[Any, ...], done: Done | None = None, failed: Done | None = None, *,
        progress: Done | None = None, dropped: Callable[[], None] | None = None,
    ) -> int:  # fmt: skip
        """Send a question; returns its number.

        Args:
            verb: What is asked.
            arguments: What that verb takes.
            done: Called with the answer.
            failed: Called with a `Failure`.
            progress: Called with (step, done, total) while it works.
            dropped: Called where a later question took its place.
        """
        if self._connection is None:
            self.start()
        self._count += 1
        was_idle = not self._asked
        self._asked[self._count] = Asked(verb=verb, done=done, failed=failed, progress=progress, dropped=dropped)
        self._outgoing.put((self._count, verb, arguments))
        if was_idle:
            self.busy.emit(verb)
        return self._count

    def drop(self, number: int) -> bool:
        """Want an answer no more; whether it was still out."""
        if self._asked.pop(number, None) is None:
            return False
        if self._connection is not None:
            self._outgoing.put((0, WITHDRAW, ((number,),)))
        if not self._asked:
            self.idle.emit()
        return True

    def stop(self) -> None:
        """End the process and forget its questions."""
        self._asked.clear()
        self._shut()
        if self._process is not None:
            self._process.terminate()
            self._process.join(1.0)
            if self._process.is_alive():
                self._process.kill()
                self._process.join(1.0)
            self._process = None

    def _shut(self) -> None:
        if isinstance(self._watch, QTimer):
            self._watch.stop()
        elif isinstance(self._watch, QSocketNotifier):
            self._watch.setEnabled(False)
        if self._watch is not None:
            self._watch.deleteLater()
            self._watch = None
        self._outgoing.put(None)
        if self._connection is not None:
            with suppress(OSError):
                self._connection.close()
            self._connection = None

    def _take(self) -> None:
        """Take what has arrived."""
        for _ in range(MOST_AT_ONCE):
            try:
                if self._connection is None or not self._connection.poll():
                    return
                number, kind, payload = self._connection.recv()
            except (EOFError, OSError):
                self._lost()
                return
            self._answered(number, kind, payload)

    def _answered(self, number: int, kind: str, payload: Any) -> None:
        asked = self._asked.get(number)
        if asked is None:
            return
        if kind == "progress":
            self.progressed.emit(asked.verb, payload)
            if asked.progress is not None:
                asked.progress(payload)
            return
        del self._asked[number]
        self._deaths = 0
        if kind == "dropped":
            if asked.dropped is not None:
                asked.dropped()
        elif (call := asked.done if kind == "done" else asked.failed) is not None:
            call(payload)
        if not self._asked:
            self.idle.emit()

    def _lost(self) -> None:
        """The process is gone: say so, fail its questions, and start it again unless it dies at once every time."""
        self._shut()
        if self._process is not None:
            self._process.join(0.2)
            self._process = None
        self._deaths += 1
        lost, self._asked = list(self._asked.values()), {}
        verbs = ", ".join(sorted({a.verb for a in lost})) or "nothing"
        again = self._deaths <= 1
        end = "It was started again." if again else "It is started again with the next question."
        if again:
            self.start()
        self.died.emit(f"The {self.name} worker stopped unexpectedly while it worked on {verbs}. {end}")
        for asked in lost:
            if asked.failed is not None:
                asked.failed(Failure(sentence=f"No answer on {asked.verb}: {DIED}.", is_fault=True))
        self.idle.emit()
        if again:
            self.restarted.emit()


def _send_all(connection: Connection, outgoing: queue.SimpleQueue[Any]) -> None:
    """Send what is put in the queue, in a thread of its own: a pipe that is full holds up nobody else."""
    while (message := outgoing.get()) is not None:
        try:
            connection.send(message)
        except (OSError, ValueError):
            return


class Client(QObject):
    """Both workers.

    Signals:
        progressed: Worker, verb, payload.
        died: A sentence.
    """

    progressed = Signal(str, str, object)
    died = Signal(str)
    mapRestarted = Signal()
    busyChanged = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._workers: dict[str, Worker] = {}
        self.map, self.job = (self.hire(name, entry) for name, entry in WORKERS.items())
        self.map.restarted.connect(self.mapRestarted)

    def hire(self, name: str, entry: str) -> Worker:
        """A worker of this name, started with its first question; there is one of a name.

        Args:
            name: For messages.
            entry: `module:function` that serves the worker's end of a connection.
        """
        if name not in self._workers:
            worker = self._workers[name] = Worker(name, entry, self)
            worker.progressed.connect(lambda verb, payload: self.progressed.emit(name, verb, payload))
            worker.died.connect(self.died)
            worker.busy.connect(lambda _: self.busyChanged.emit())
            worker.idle.connect(self.busyChanged)
        return self._workers[name]

    def start(self) -> None:
        """Start both processes."""
        self.map.start()
        self.job.start()

    def ask(
        self, verb: str, arguments: tuple[Any, ...], done: Done | None = None, failed: Done | None = None, *,
        progress: Done | None = None, dropped: Callable[[], None] | None = None, job: bool = False,
    ) -> int:  # fmt: skip
        """Ask the map worker, or the job worker; see `Worker.ask`."""
        worker = self.job if job else self.map
        return worker.ask(verb, arguments, done, failed, progress=progress, dropped=dropped)

    def withdraw(self, number: int) -> None:
        """Want the answer of a question to the map worker no more."""
        self.map.drop(number)

    def cancel_job(self) -> tuple[str, ...]:
        """End the job that runs; returns the verbs that were under way."""
        verbs = self.job.open_questions
        self.job.stop()
        self.job.start()
        self.busyChanged.emit()
        return verbs

    def stop(self) -> None:
        """End every process."""
        for worker in self._workers.values():
            worker.stop()
