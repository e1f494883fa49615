"""Whole jobs for the window: which function does each, and what came of it in sentences."""

from __future__ import annotations

import shutil
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from importlib import import_module
from pathlib import Path
from typing import Any

from boscage.errors import InputError
from boscage.exports.staging import STATE_FOLDER
from boscage.model.desk_answers import JobDone, JobRequest
from boscage.pipeline.progress import Progress

JOBS: Mapping[str, str] = {
    "check": "boscage.pipeline.check:check", "scout": "boscage.pipeline.scout:scout",
    "rig": "boscage.pipeline.rig:rig_plan", "pack": "boscage.pipeline.pack:pack",
    "drop": "boscage.pipeline.drop:drop", "report": "boscage.pipeline.report:report",
    "share": "boscage.pipeline.share:share",
}  # fmt: skip
TAKES_SITES = ("rig", "pack", "drop", "share")
TAKES_PROGRESS = ("scout", "rig", "pack", "drop", "report", "share")
OPTIONS: Mapping[str, tuple[str, ...]] = {
    "scout": ("sheets", "fresh"), "share": ("masked",), "report": ("owner", "exact"),
}  # fmt: skip
LEFT_OVER_S = 3600.0


def run_job(verb: str, request: JobRequest, progress: Progress) -> JobDone:
    """Run one job to its end; its files are there whole or not at all.

    Raises:
        InputError: There is no such job or option, it cannot be loaded, or what it works on is wrong.
    """
    begun = time.perf_counter()
    if verb not in JOBS:
        raise InputError(f"there is no job {verb}", expected=f"one of {', '.join(JOBS)}", field="job")
    allowed = OPTIONS.get(verb, ())
    for name in request.options:
        if name not in allowed:
            raise InputError(f"the job {verb} has no option {name}", expected=", ".join(allowed) or "none", field=name)
    out = Path(request.out) if request.out else Path(request.plan).expanduser().parent / "out"
    sweep(out, time.time())
    before = _stamps(out)
    more: dict[str, Any] = _asked(verb, request.options)
    more |= {"progress": progress} if verb in TAKES_PROGRESS else {}
    named = (request.sites,) if verb in TAKES_SITES else ()
    result = _load(verb)(request.plan, *named, out=out, **more)
    files = tuple(name for name, stamp in _stamps(out).items() if before.get(name) != stamp)
    return JobDone(
        verb=verb, folder=str(out), files=files, fits=_fits(result),
        sentences=_SAID.get(verb, _said_plainly)(result), wall_s=time.perf_counter() - begun,
    )  # fmt: skip


def _asked(verb: str, options: Mapping[str, Any]) -> dict[str, Any]:
    """The options of a job as its function takes them."""
    if verb != "report":
        return dict(options)
    from boscage.model.report import ReportAsk

    return {"ask": ReportAsk(**options)}


def _load(verb: str) -> Callable[..., Any]:
    """The function of a job.

    Raises:
        InputError: It is not part of this installation.
    """
    module, name = JOBS[verb].split(":")
    try:
        made: Callable[..., Any] = getattr(import_module(module), name)
    except (ModuleNotFoundError, AttributeError) as error:
        if isinstance(error, ModuleNotFoundError) and error.name != module:
            raise
        raise InputError(
            f"the job {verb} is not part of this installation", mend="install the program again from its wheel"
        ) from None
    return made


def sweep(out: Path, moment: float) -> None:
    """Take away what runs that were killed an hour ago and longer have left unfinished."""
    state = out / STATE_FOLDER
    left = [*state.glob("staging-*"), *state.glob("*/*.part")]
    for path in left:
        with suppress(OSError):
            if moment - path.stat().st_mtime > LEFT_OVER_S:
                if path.is_dir():
                    shutil.rmtree(path, ignore_errors=True)
                else:
                    path.unlink()


def _stamps(out: Path) -> dict[str, tuple[int, int]]:
    """What tells each file from the one that stood in its place before, by its name in the folder."""
    state = out / STATE_FOLDER
    files = [p for p in sorted(out.rglob("*")) if p.is_file() and state not in p.parents]
    return {p.relative_to(out).as_posix(): (p.stat().st_ino, p.stat().st_mtime_ns) for p in files}


def _fits(result: Any) -> bool:
    return any(result) if isinstance(result, list) else bool(result)


def _said_of_check(result: Any) -> tuple[str, ...]:
    states = [r.state for r in result.reports]
    words = ", ".join(f"{states.count(s)} {s}" for s in ("usable", "doubtful", "wrong", "missing"))
    return (f"Layers: {words}.", *(r.error for r in result.errors), *result.notes)


def _said_of_scout(result: Any) -> tuple[str, ...]:
    if not result.sites:
        return (result.reason, *result.notes)
    first = result.sites[0]
    count = f"{len(result.sites)} site{'s' if len(result.sites) != 1 else ''} ranked"
    return (f"{count}; first {first.site}, score {first.score}.", *_outcomes(result.choices), *result.notes)


def _outcomes(choices: Sequence[Any]) -> list[str]:
    return [c.sentence for c in choices if c.sentence]


def _said_of_rig(results: Any) -> tuple[str, ...]:
    lines = []
    for result in results:
        if result.plan is None:
            none = result.none
            told = "" if none is None else f" {none.reason} {none.nearest_miss}"
            lines.append(f"{result.name}: no ring fits.{told}")
        else:
            ring = result.plan.ring
            lines.append(f"{result.name}: {ring.support}, score {ring.score:.0f}, {len(ring.contacts)} contacts.")
    return tuple(lines)


def _said_of_pack(result: Any) -> tuple[str, ...]:
    trips = result.pack.trips
    return (f"{trips} trip{'s' if trips != 1 else ''}.", *result.pack.notes)


def _said_of_drop(result: Any) -> tuple[str, ...]:
    found = [f"{d.site}: drop point {d.place.ddm} {d.place.datum}." for d in result.drops]
    return (*found, *(f"{n.site}: no drop point. {n.reason}" for n in result.none), *result.notes)


def _said_plainly(result: Any) -> tuple[str, ...]:
    return tuple(getattr(result, "notes", ()))


_SAID: Mapping[str, Callable[[Any], tuple[str, ...]]] = {
    "check": _said_of_check, "scout": _said_of_scout, "rig": _said_of_rig, "pack": _said_of_pack,
    "drop": _said_of_drop,
}  # fmt: skip
