"""What the window's first page asks for, in a process of its own: dropped files, a new plan, the sample ranch."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from boscage.errors import InputError

if TYPE_CHECKING:
    from multiprocessing.connection import Connection

    from boscage.model.recognised import Recognised
    from boscage.pipeline.progress import Progress

PLAN = "plan.toml"
VERBS = ("recognise", "plan", "sample")


def run_first_worker(connection: Connection) -> None:
    """Answer the first page until the connection ends; messages are those of `boscage.pipeline.desk_worker`.

    Verbs and their arguments: `recognise` (paths), `plan` (folder, name, units, what was recognised), `sample`
    (folder).
    """
    from boscage.pipeline.desk_worker import DONE, FAILED, PROGRESS, failure_of

    try:
        while True:
            number, verb, arguments = connection.recv()

            def tell(step: str, done: int, total: int, number: int = number) -> None:
                connection.send((number, PROGRESS, (step, done, total)))

            try:
                kind, payload = DONE, _answer(verb, arguments, tell)
            except Exception as error:
                kind, payload = FAILED, failure_of(error)
            connection.send((number, kind, payload))
    except (EOFError, OSError):
        return


def _answer(verb: str, arguments: tuple[Any, ...], progress: Progress) -> Any:
    if verb == "recognise":
        from boscage.pipeline.desk_plan import try_layers

        return try_layers(arguments[0], progress)
    if verb == "plan":
        return write_new_plan(*arguments)
    if verb == "sample":
        from boscage.pipeline.demo import copy_sample

        return str(copy_sample(Path(arguments[0])))
    raise InputError(f"there is no request {verb}", expected=f"one of {', '.join(VERBS)}", field="request")


def write_new_plan(folder: str, name: str, units: str, found: Sequence[Recognised]) -> str:
    """Write the plan of what was dropped and return its path; a plan that is there already stays.

    Raises:
        InputError: There is a plan in the folder, parcels or canopy are missing or cannot be used, or nothing can be
            written there.
    """
    from boscage.exports.plan_text import write_plan_text
    from boscage.model.plan_edits import PlanText
    from boscage.pipeline.desk_plan import new_plan

    path = Path(folder) / PLAN
    if path.exists():
        raise InputError("there is a plan in this folder already", mend="choose another folder", file=str(path))
    text = new_plan(folder, name, units, found)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            f"the folder cannot be made: {error.strerror or error}", mend="choose another folder", file=str(folder)
        ) from error
    write_plan_text(PlanText(file=str(path), text=text))
    return str(path)
