"""A window's workers without processes: the same functions, answered by the event loop one at a time."""

from __future__ import annotations

import os
from collections import deque
from pathlib import Path
from typing import Any

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtCore import QTimer

from boscage.desk.hub import Desk
from boscage.model.desk_answers import SiteEdits
from boscage.pipeline import desk_rig
from boscage.pipeline.desk_clock import CheckClock
from boscage.pipeline.desk_session import Session
from boscage.pipeline.desk_views import PageDesk, print_pages
from boscage.pipeline.desk_worker import failure_of


class NearClient:
    """What `boscage.desk.client.Client` offers to views.

    Attributes:
        asked: Verb and argument of every question.
        held: Whether answers wait until `let_go`.
    """

    def __init__(self, session: Session | None = None) -> None:
        self.session, self.asked = session, []
        self.held = False
        self._pages, self._clock = PageDesk(), CheckClock()
        self._waiting: deque[tuple[Any, ...]] = deque()

    def ask(self, verb: str, arguments: Any, done: Any, failed: Any = None, *, progress: Any = None,
            job: bool = False) -> int:  # fmt: skip
        self.asked.append((verb, arguments[0]))
        self._waiting.append((verb, arguments, done, failed))
        if not self.held:
            QTimer.singleShot(0, self._next)
        return len(self.asked)

    def let_go(self, order: tuple[int, ...]) -> None:
        """Answer the waiting questions in another order."""
        waiting, self._waiting = list(self._waiting), deque()
        for n in order:
            self._answer(*waiting[n])

    def _next(self) -> None:
        if self._waiting:
            self._answer(*self._waiting.popleft())

    def _answer(self, verb: str, arguments: Any, done: Any, failed: Any) -> None:
        try:
            answer = self._work(verb)(*arguments)
        except Exception as error:
            failed(failure_of(error))
            return
        done(answer)

    def _work(self, verb: str) -> Any:
        own = {"pages": self._pages.pages, "page": self._pages.page, "print": print_pages, "clock": self._clock.clock}
        if verb in own:
            return own[verb]
        if verb == "rig_list" and self.session is None:
            return desk_rig.rig_list
        assert self.session is not None
        return getattr(self.session, verb)


def near_desk(plan: Path | None, *, is_open: bool = True) -> Desk:
    """A desk on a plan with a ranking, or with the plan's path alone where nothing is to be opened."""
    session = Session.open(plan) if plan is not None and is_open else None
    desk = Desk(NearClient(session))
    if session is not None:
        desk.set_opened(session.opened())
        desk.set_ranking(session.rank(SiteEdits()))
    return desk
