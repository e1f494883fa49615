"""Edits kept on disk the moment they are made, so that a crash loses at most the last one.

The journal lies in `.boscage` beside the outputs, or beside the plan. Each line is a JSON object with a check sum of
its own; the first says which plan, and which bytes of it, the edits were made on. It is there only while edits are
unsaved.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from boscage.errors import InputError
from boscage.exports.staging import STATE_FOLDER
from boscage.model.journal import Replay

VERSION = 1


def state_path(folder: Path, plan: str, ending: str) -> Path:
    """Where something is kept for one plan: `.boscage/desk.ENDING`, with the plan's name where it is no `plan.toml`.

    >>> state_path(Path("out"), "plan.toml", "journal").as_posix(), state_path(Path("out"), "b.toml", "lock").as_posix()
    ('out/.boscage/desk.journal', 'out/.boscage/desk.b.lock')
    """
    stem = Path(plan).stem
    return folder / STATE_FOLDER / (f"desk.{ending}" if stem == "plan" else f"desk.{stem}.{ending}")


class Journal:
    """An append-only file of edits.

    Attributes:
        path: The file; it is there only while it holds an edit.
        replay: What it held when it was opened.
    """

    def __init__(self, folder: Path, plan: str, on_disk: str) -> None:
        """Open the journal of a plan and read what it holds.

        Args:
            folder: Where the outputs lie, or the plan's own folder.
            plan: The plan file.
            on_disk: Digest of the plan file as it is now.

        Raises:
            InputError: The file is there and cannot be read.
        """
        self.path = state_path(folder, plan, "journal")
        self._plan, self._on_disk = Path(plan).name, on_disk
        try:
            data = self.path.read_bytes() if self.path.exists() else b""
        except OSError as error:
            raise InputError(
                f"the journal of unsaved edits cannot be read: {error.strerror}", file=str(self.path),
                mend="check who may read it, or take it away",
            ) from error  # fmt: skip
        rows, self._good, dropped = _read_rows(data)
        self.replay = _replay(rows, dropped, on_disk)
        self._count = len(rows)
        if self._count == 0 or (not self.replay and self.replay.fits):
            self._count, self._good = 0, 0

    def append(self, edit: Mapping[str, Any]) -> None:
        """Keep one edit; when this returns, it is on the disk.

        Raises:
            InputError: It cannot be written; the edits kept before it stay.
        """
        self._write([{"edit": dict(edit)}])

    def about_to_save(self, on_disk: str) -> None:
        """Say that the plan is being written with all edits so far in it.

        Should the program stop before `clear`, the edits are not made a second time.

        Args:
            on_disk: Digest that the plan file is going to have.

        Raises:
            InputError: It cannot be written.
        """
        if self._count:
            self._write([{"saved": on_disk}])

    def clear(self, on_disk: str) -> None:
        """Take the journal away after a save.

        Args:
            on_disk: Digest of the plan file as it is now; later edits are made on it.

        Raises:
            InputError: It cannot be taken away.
        """
        try:
            self.path.unlink(missing_ok=True)
        except OSError as error:
            raise InputError(
                f"the journal of saved edits cannot be taken away: {error.strerror}", file=str(self.path),
                mend="check who may write there, and take it away",
            ) from error  # fmt: skip
        self._count, self._good, self._on_disk = 0, 0, on_disk

    def keep_only(self, edits: Sequence[Mapping[str, Any]], on_disk: str) -> None:
        """Put other edits in the place of those kept, all or none: what is left of them after a stop.

        Args:
            edits: In their order.
            on_disk: Digest of the plan file that they are made on.

        Raises:
            InputError: They cannot be written; the journal is as it was.
        """
        part = self.path.with_name(f"{self.path.name}.{os.getpid()}.part")
        rows = [{"journal": VERSION, "plan": self._plan, "on_disk": on_disk}, *({"edit": dict(e)} for e in edits)]
        data = b"".join(_line({"n": n, **row}) for n, row in enumerate(rows, start=1))
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            with part.open("wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            os.replace(part, self.path)
            _sync_folder(self.path.parent)
        except OSError as error:
            with suppress(OSError):
                part.unlink(missing_ok=True)
            raise _not_kept(error, self.path) from error
        self._count, self._good, self._on_disk = len(rows), len(data), on_disk

    def _write(self, rows: list[dict[str, Any]]) -> None:
        if self._count == 0:
            rows = [{"journal": VERSION, "plan": self._plan, "on_disk": self._on_disk}, *rows]
        data = b"".join(_line({"n": self._count + n, **row}) for n, row in enumerate(rows, start=1))
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            fresh = not self.path.exists()
            with self.path.open("ab") as file:
                if file.tell() > self._good:
                    file.truncate(self._good)
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            if fresh:
                _sync_folder(self.path.parent)
        except OSError as error:
            with suppress(OSError):
                os.truncate(self.path, self._good)
            raise _not_kept(error, self.path) from error
        self._count += len(rows)
        self._good += len(data)


def _not_kept(error: OSError, path: Path) -> InputError:
    return InputError(
        f"the last edit is not kept against a crash: {error.strerror or error}", file=str(path),
        mend="free some space or check who may write there, and save the plan now",
    )  # fmt: skip


def _line(row: Mapping[str, Any]) -> bytes:
    """A row with its check sum, as one line.

    Raises:
        ValueError: It holds what JSON cannot.
    """
    return (json.dumps({**row, "sum": _sum(row)}, ensure_ascii=False, allow_nan=False) + "\n").encode("utf-8")


def _sum(row: Mapping[str, Any]) -> str:
    text = json.dumps(row, sort_keys=True, ensure_ascii=True, allow_nan=False)
    return hashlib.blake2b(text.encode(), digest_size=8).hexdigest()


def _read_rows(data: bytes) -> tuple[list[dict[str, Any]], int, int]:
    """Whole rows up to the first that is not, the bytes that they take, and how many lines are left over."""
    rows: list[dict[str, Any]] = []
    good = 0
    lines = data.split(b"\n")
    for line in lines[:-1]:
        row = _row(line, len(rows) + 1)
        if row is None:
            break
        rows.append(row)
        good += len(line) + 1
    left = len(lines) - 1 - len(rows) + (1 if lines[-1] else 0)
    return rows, good, left


def _row(line: bytes, number: int) -> dict[str, Any] | None:
    try:
        row = json.loads(line)
        kept = row.pop("sum")
        whole = row["n"] == number and _sum(row) == kept and (number > 1) == ("journal" not in row)
    except (ValueError, KeyError, TypeError, AttributeError):
        return None
    return row if whole else None


def _replay(rows: list[dict[str, Any]], dropped: int, on_disk: str) -> Replay:
    said = []
    if dropped == 1:
        said.append("The last line of the journal was not whole: the edit in it, the last before the stop, is lost.")
    elif dropped:
        said.append(f"The journal is damaged: {dropped} lines from the first damaged one on are not used.")
    if not rows:
        return Replay(said=tuple(said))
    saved = [n for n, row in enumerate(rows) if "saved" in row]
    if saved and rows[saved[-1]]["saved"] == on_disk:
        rest, fits = rows[saved[-1] + 1 :], True
    else:
        rest, fits = rows, (rows[0]["journal"], rows[0].get("on_disk")) == (VERSION, on_disk)
    edits = tuple(row["edit"] for row in rest if "edit" in row)
    if edits:
        number = "1 edit that was" if len(edits) == 1 else f"{len(edits)} edits that were"
        said.insert(0, f"The program stopped before saving: {number} not in the plan file came out of the journal.")
    if edits and not fits:
        said.append("The plan file was changed since they were made: look at each before it is made again.")
    return Replay(edits=edits, fits=fits or not edits, said=tuple(said))


def _sync_folder(folder: Path) -> None:
    """Put a new file's name on the disk too, where the system can."""
    with suppress(OSError):
        number = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)
