"""The window's two workers, each a process of its own: one answers questions on the map, one runs whole jobs.

A request is `(number, verb, arguments)`, an answer `(number, kind, payload)`. Kinds are

- `progress`: (step, done, total);
- `done`: what was asked for;
- `failed`: a `boscage.model.desk_answers.Failure`;
- `dropped`: None; the request was withdrawn, or a later one took its place.

Each request gets one of the last three, in no fixed order. The map worker serves questions in the order asked, before
any tile. Of tiles the latest asked for comes first; `tiles` asks for all that are wanted now, (number, TileRequest)
each, the most wanted first, and drops those that wait and are not among them. `withdraw` takes numbers of requests that
nobody waits for any more. These two have no answer of their own. A worker ends when its connection does, or with
`close`.

Both answer what the sheets will print and how the checks stand as well (`EXTRAS`).

Cancelling is killing: the window ends the process and starts another. Outputs are staged, so nothing is half written.

Nothing heavy is imported before a worker runs, so that the window can name its entry points.
"""

from __future__ import annotations

import inspect
import os
import signal
import threading
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING, Any

from boscage.errors import BoscageError, InputError

if TYPE_CHECKING:
    from multiprocessing.connection import Connection

    from boscage.pipeline.desk_session import Session
    from boscage.pipeline.progress import Progress

PROGRESS, DONE, FAILED, DROPPED = "progress", "done", "failed", "dropped"
TILE, TILES, WITHDRAW, CLOSE = "tile", "tiles", "withdraw", "close"
QUESTIONS = ("open", "units", "view", "legend", "rank", "steadiness", "place", "rig", "rig_list")
LATEST_ONLY = ("view", "rank", "steadiness", "place", "rig", "rig_list")
"""Of these only the last one waiting is answered: the window asks again at every move of a hand."""
EXTRAS: Mapping[str, str] = {
    "pages": "boscage.pipeline.desk_views:PageDesk.pages", "page": "boscage.pipeline.desk_views:PageDesk.page",
    "print": "boscage.pipeline.desk_views:print_pages", "clock": "boscage.pipeline.desk_clock:CheckClock.clock",
}  # fmt: skip
"""Further verbs: a function, or a method of an object that is made once a worker."""
MOST_TILES = 512
TELL_EVERY_S = 0.1
BACKGROUND = 5


class _Gone(Exception):
    """The other end of the connection is gone."""


@dataclass(frozen=True, kw_only=True)
class _Request:
    """One request as it came."""

    number: int
    verb: str
    arguments: tuple[Any, ...]


class _Line:
    """The connection to the window."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def take(self, *, wait: bool) -> list[_Request]:
        """The requests that have come; waits for one where asked to.

        Raises:
            _Gone: The window is gone.
        """
        found = []
        try:
            while wait or self._connection.poll():
                found.append(self._read(self._connection.recv()))
                wait = False
        except (EOFError, OSError) as error:
            raise _Gone from error
        return found

    def _read(self, message: Any) -> _Request:
        """A message as a request; what is none keeps a verb that nobody knows."""
        if isinstance(message, tuple) and len(message) == 3 and isinstance(message[0], int):
            number, verb, arguments = message
            if isinstance(verb, str) and isinstance(arguments, tuple):
                return _Request(number=number, verb=verb, arguments=arguments)
            return _Request(number=number, verb=f"{verb!r}", arguments=())
        return _Request(number=-1, verb=f"{message!r:.60}", arguments=())

    def tell(self, number: int, kind: str, payload: Any) -> None:
        """Send an answer.

        Raises:
            _Gone: The window is gone.
        """
        try:
            self._connection.send((number, kind, payload))
        except (EOFError, OSError) as error:
            raise _Gone from error

    def progress(self, number: int) -> Progress:
        """A progress that is told to the window, not too often."""
        told = ["", 0.0]

        def tell(step: str, done: int, total: int) -> None:
            now = time.monotonic()
            if step != told[0] or done >= total or now - float(told[1]) >= TELL_EVERY_S:
                told[:] = [step, now]
                self.tell(number, PROGRESS, (step, done, total))

        return tell

    def answer(self, request: _Request, work: Callable[[], Any]) -> None:
        """Do the work of a request and send what came of it."""
        try:
            payload = work()
        except _Gone:
            raise
        except Exception as error:
            self.tell(request.number, FAILED, failure_of(error))
        else:
            self.tell(request.number, DONE, payload)


class _Extras:
    """What answers `EXTRAS`, imported when first asked."""

    def __init__(self) -> None:
        self._held: dict[str, Any] = {}

    def answer(self, request: _Request, progress: Progress) -> Any:
        """Answer one request.

        Raises:
            InputError: It is not part of this installation, or what was asked is wrong.
        """
        module, name = EXTRAS[request.verb].split(":")
        work = self._found(module, name, request.verb)
        if "progress" in inspect.signature(work).parameters:
            return work(*_checked(request, 1), progress=progress)
        return work(*_checked(request, 1))

    def _found(self, module: str, name: str, verb: str) -> Callable[..., Any]:
        try:
            held: Any = import_module(module)
        except ModuleNotFoundError as error:
            if error.name != module:
                raise
            raise InputError(f"{verb} is not part of this installation", mend="install the program again") from None
        owner, _, method = name.rpartition(".")
        if owner:
            made = self._held.setdefault(owner, None) or getattr(held, owner)()
            self._held[owner] = made
            found: Callable[..., Any] = getattr(made, method)
            return found
        function: Callable[..., Any] = getattr(held, name)
        return function


def failure_of(error: Exception) -> Any:
    """An error as the window shows it: one plain sentence, and where."""
    from boscage.model.desk_answers import Failure

    if isinstance(error, InputError):
        return Failure(
            sentence=str(error), file=str(error.file or ""), layer=error.layer or "", field=error.field or "",
            row=error.row,
        )  # fmt: skip
    if isinstance(error, BoscageError):
        return Failure(sentence=str(error))
    if isinstance(error, MemoryError):
        return Failure(sentence="There is not enough memory for this. A coarser working cell takes less: sites.cell.")
    return Failure(sentence=f"A fault of the program: {type(error).__name__}: {error}.", is_fault=True)


def run_map_worker(connection: Connection) -> None:
    """Answer questions on one ranch until the connection ends.

    Verbs and their arguments: `open` (path of the plan, folder of outputs or ''), `units` (`us` or `metric`), `tile`
    (TileRequest), `tiles` (pairs), `view`, `legend` (ViewRequest), `rank`, `steadiness` (SiteEdits), `place` (east,
    north, whether with ways), `rig` (RigRequest), `rig_list` (RigListRequest), those of `EXTRAS`, `withdraw`
    (numbers), `close`.
    """
    _begin()
    worker = _MapWorker(_Line(connection))
    with suppress(_Gone):
        worker.serve()


def run_job_worker(connection: Connection) -> None:
    """Run jobs, one after another, until the connection ends.

    Verbs are the jobs of `boscage.pipeline.desk_jobs.JOBS`, with a JobRequest as the one argument, those of `EXTRAS`,
    `withdraw` and `close`.
    """
    _begin()
    with suppress(AttributeError, OSError):
        os.nice(BACKGROUND)
    line, extras = _Line(connection), _Extras()
    with suppress(_Gone):
        waiting: list[_Request] = []
        while True:
            waiting += line.take(wait=not waiting)
            waiting = _without_withdrawn(waiting, line)
            if any(r.verb == CLOSE for r in waiting):
                return
            if waiting:
                request = waiting.pop(0)
                line.answer(request, lambda request=request: _run_job(request, line, extras))


def _begin() -> None:
    """An interrupt from the keyboard is the window's to deal with."""
    if threading.current_thread() is threading.main_thread():
        with suppress(ValueError, OSError):
            signal.signal(signal.SIGINT, signal.SIG_IGN)


def _run_job(request: _Request, line: _Line, extras: _Extras) -> Any:
    if request.verb in EXTRAS:
        return extras.answer(request, line.progress(request.number))
    from boscage.model.desk_answers import JobRequest
    from boscage.pipeline.desk_jobs import run_job

    asked = request.arguments[0] if len(request.arguments) == 1 else None
    if not isinstance(asked, JobRequest):
        raise InputError(f"the job {request.verb} has no request", expected="a JobRequest", field="job")
    return run_job(request.verb, asked, line.progress(request.number))


def _without_withdrawn(waiting: list[_Request], line: _Line) -> list[_Request]:
    """What is left to do once withdrawn requests are dropped."""
    numbers = {n for r in waiting if r.verb == WITHDRAW for n in _numbers(r)}
    kept = [r for r in waiting if r.verb != WITHDRAW]
    for request in kept:
        if request.number in numbers:
            line.tell(request.number, DROPPED, None)
    return [r for r in kept if r.number not in numbers]


def _numbers(request: _Request) -> list[int]:
    given = request.arguments[0] if request.arguments else ()
    return [n for n in given if isinstance(n, int)] if isinstance(given, tuple | list | set | frozenset) else []


class _MapWorker:
    """Requests that wait, and the ranch that is open."""

    def __init__(self, line: _Line) -> None:
        self._line = line
        self._extras = _Extras()
        self._session: Session | None = None
        self._questions: list[_Request] = []
        self._tiles: list[_Request] = []

    def serve(self) -> None:
        """Answer until `close`."""
        while True:
            if not self._sort(self._line.take(wait=not self._questions and not self._tiles)):
                return
            if self._questions:
                request = self._questions.pop(0)
            elif self._tiles:
                request = self._tiles.pop()
            else:
                continue
            self._line.answer(request, lambda request=request: self._work(request))

    def _sort(self, new: list[_Request]) -> bool:
        """Put new requests where they wait, and drop what is out of date; False where it is time to close."""
        for request in new:
            if request.verb == CLOSE:
                return False
            if request.verb == WITHDRAW:
                gone = set(_numbers(request))
                self._drop(lambda r, gone=gone: r.number in gone)
                continue
            if request.verb == TILES:
                self._want(request)
                continue
            if request.verb == "open":
                self._drop(lambda r: r.verb in (TILE, *LATEST_ONLY, "legend", "open"))
            if request.verb in LATEST_ONLY:
                self._drop(lambda r, verb=request.verb: r.verb == verb)
            (self._tiles if request.verb == TILE else self._questions).append(request)
        for stale in self._tiles[: max(0, len(self._tiles) - MOST_TILES)]:
            self._drop(lambda r, number=stale.number: r.number == number)
        return True

    def _want(self, request: _Request) -> None:
        """Let these tiles wait and no others."""
        given = request.arguments[0] if request.arguments else ()
        wanted = [p for p in given if isinstance(p, tuple) and len(p) == 2] if isinstance(given, tuple | list) else []
        numbers = {number for number, _ in wanted}
        self._drop(lambda r: r.verb == TILE and r.number not in numbers)
        self._tiles = [_Request(number=n, verb=TILE, arguments=(tile,)) for n, tile in reversed(wanted)]

    def _drop(self, is_stale: Callable[[_Request], bool]) -> None:
        for held in (self._questions, self._tiles):
            for request in [r for r in held if is_stale(r)]:
                held.remove(request)
                self._line.tell(request.number, DROPPED, None)

    def _work(self, request: _Request) -> Any:
        if request.verb == "open":
            return self._open(request)
        if request.verb in EXTRAS:
            return self._extras.answer(request, self._line.progress(request.number))
        if request.verb == "rig_list" and self._session is None:
            from boscage.pipeline.desk_rig import rig_list

            return rig_list(*_checked(request, 1))
        if request.verb != TILE and request.verb not in QUESTIONS:
            known = ", ".join((TILE, TILES, *QUESTIONS, *EXTRAS, WITHDRAW, CLOSE))
            raise InputError(f"there is no request {request.verb}", expected=f"one of {known}", field="request")
        if self._session is None:
            raise InputError("no ranch is open", mend="open a plan first", field=request.verb)
        if request.verb == "place":
            x, y, with_ways = _checked(request, 3)
            return self._session.place(float(x), float(y), with_ways=bool(with_ways))
        if request.verb == "rank":
            return self._session.rank(*_checked(request, 1), self._line.progress(request.number))
        return getattr(self._session, request.verb)(*_checked(request, 1))

    def _open(self, request: _Request) -> Any:
        from pathlib import Path

        from boscage.pipeline.desk_session import Session, plan_of_text

        told = request.arguments if len(request.arguments) == 3 else (*_checked(request, 2), "")
        plan, out, text = told
        self._session = None
        folder = Path(out) if out else None
        held = plan_of_text(str(plan), text) if text else str(plan)
        self._session = Session.open(held, self._line.progress(request.number), out=folder)
        return self._session.opened()


def _checked(request: _Request, count: int) -> tuple[Any, ...]:
    if len(request.arguments) != count:
        raise InputError(
            f"the request {request.verb} has {len(request.arguments)} arguments",
            expected=f"{count}",
            field=request.verb,
        )
    return request.arguments
