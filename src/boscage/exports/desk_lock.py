"""One plan, one window: a file beside the journal says who has the plan open."""

from __future__ import annotations

import datetime as dt
import json
import os
import socket
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from boscage.errors import InputError
from boscage.exports.journal import state_path
from boscage.model.journal import OpenElsewhere

_FAR = 1 << 30
"""Byte that is locked while the file is read and written; far behind its content."""


@dataclass(frozen=True, kw_only=True)
class PlanLock:
    """A plan that is open here and nowhere else.

    Attributes:
        path: The lock file.
        note: A sentence where a lock left behind was taken over, or ''.
    """

    path: Path
    note: str
    own: str

    def release(self) -> None:
        """Give the plan free, if it is still ours."""
        with suppress(OSError, InputError), _held(self.path) as file:
            if file.read().decode("utf-8", "replace") == self.own:
                self.path.unlink(missing_ok=True)


def take_lock(folder: Path, plan: str, *, now: dt.datetime | None = None) -> PlanLock | OpenElsewhere:
    """Take a plan for this process.

    A lock whose process is gone from this machine is taken over, and said. One of another machine is not: nobody here
    can know whether that window is still open.

    Args:
        folder: Where the outputs lie, or the plan's own folder.
        plan: The plan file.
        now: The time, for the sentence that others read; by default the present, UTC.

    Raises:
        InputError: The lock file cannot be written.
    """
    path = state_path(folder, plan, "lock")
    since = (now or dt.datetime.now(dt.UTC)).strftime("%Y-%m-%d %H:%M UTC")
    own = json.dumps({
        "host": socket.gethostname(), "process": os.getpid(), "started": process_start(os.getpid()), "since": since,
        "plan": Path(plan).name,
    })  # fmt: skip
    with _held(path) as file:
        data = file.read()
        other = _parsed(data)
        if other is not None and _is_open(other):
            return OpenElsewhere(reason=_sentence(plan, other, path), host=other["host"], process=other["process"])
        file.seek(0)
        file.truncate()
        file.write(own.encode("utf-8"))
        file.flush()
        os.fsync(file.fileno())
    return PlanLock(path=path, note=_taken_over(data, other), own=own)


def _taken_over(data: bytes, other: dict[str, Any] | None) -> str:
    if other is not None:
        return (
            f"A lock of process {other['process']}, which is gone, was taken over: the window that had this plan open "
            f"since {other['since']} did not close in order."
        )
    return "A damaged lock was taken over." if data.strip() else ""


def _sentence(plan: str, other: dict[str, Any], path: Path) -> str:
    name = Path(plan).name
    if other["host"] != socket.gethostname():
        return (
            f"{name} is open on {other['host']} since {other['since']} (process {other['process']}); close it there, "
            f"or take {path} away if that window is gone."
        )
    who = "in this window" if other["process"] == os.getpid() else f"in another window (process {other['process']})"
    return f"{name} is open {who} since {other['since']}; close it there first."


def _parsed(data: bytes) -> dict[str, Any] | None:
    """What a lock file says, or None where it says nothing that can be read."""
    try:
        held = json.loads(data)
        kinds = {"host": str, "process": int, "started": str, "since": str}
        return held if all(isinstance(held[name], kind) for name, kind in kinds.items()) else None
    except (ValueError, KeyError, TypeError):
        return None


def _is_open(other: dict[str, Any]) -> bool:
    """Whether the process that wrote a lock still runs, as far as this machine can know."""
    if other["host"] != socket.gethostname():
        return True
    if not process_runs(other["process"]):
        return False
    start = process_start(other["process"])
    return not start or not other["started"] or start == other["started"]


def process_runs(process: int) -> bool:
    """Whether there is a process of this number on this machine."""
    if sys.platform == "win32":
        import ctypes

        limited, running = 0x1000, 259
        handle = ctypes.windll.kernel32.OpenProcess(limited, False, process)
        if not handle:
            return False
        code = ctypes.c_ulong()
        ctypes.windll.kernel32.GetExitCodeProcess(handle, ctypes.byref(code))
        ctypes.windll.kernel32.CloseHandle(handle)
        return code.value == running
    if process <= 0 or _stat(process)[:1] in (["Z"], ["X"]):  # a dead one that nobody has taken note of
        return False
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except PermissionError:
        return True
    return True


def process_start(process: int) -> str:
    """When a process started, as text that no later process of the same number has; '' where the system does not say.

    On Linux the boot's own name and the clock ticks since it (proc(5), /proc/PID/stat, field 22).
    """
    try:
        boot = Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
        return f"{boot} {_stat(process)[19]}"
    except (OSError, IndexError):
        return ""


def _stat(process: int) -> list[str]:
    """Fields 3 and on of /proc/PID/stat: state first, start time at place 19; empty where there are none."""
    try:
        text = Path(f"/proc/{process}/stat").read_text(encoding="utf-8", errors="replace")
    except OSError:
        return []
    return text.rpartition(")")[2].split()


@contextmanager
def _held(path: Path) -> Iterator[IO[bytes]]:
    """The lock file, open and closed to every other process for the moment.

    Raises:
        InputError: It cannot be opened or written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        while True:
            with os.fdopen(os.open(path, os.O_RDWR | os.O_CREAT, 0o666), "r+b") as file:
                _lock(file)
                if _is_same(file, path):  # it may have been taken away while this waited
                    yield file
                    return
    except OSError as error:
        raise InputError(
            f"nothing can be written that says the plan is open: {error.strerror or error}", file=str(path),
            mend="check who may write in this folder",
        ) from error  # fmt: skip


def _is_same(file: IO[bytes], path: Path) -> bool:
    try:
        return os.path.samestat(os.fstat(file.fileno()), os.stat(path))
    except FileNotFoundError:
        return False


def _lock(file: IO[bytes]) -> None:
    """Wait until no other process holds the file; it is given free when it is closed."""
    if sys.platform == "win32":
        import msvcrt

        file.seek(_FAR)
        msvcrt.locking(file.fileno(), msvcrt.LK_LOCK, 1)
        file.seek(0)
        return
    import fcntl

    fcntl.flock(file.fileno(), fcntl.LOCK_EX)
