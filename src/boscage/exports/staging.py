"""Files written all or none: everything goes to a staging folder first and is renamed into place at the end."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from boscage.errors import InputError

STATE_FOLDER = ".boscage"


@contextmanager
def staged(out: Path, *, outdated: tuple[str, ...] = ()) -> Iterator[Path]:
    """A folder to write a run's files in; on a clean exit each replaces its namesake in `out`, else all are dropped.

    Args:
        out: Where the files are to lie in the end.
        outdated: Files in `out` that a clean exit makes untrue; they are taken away then.

    Raises:
        InputError: `out` is no folder, cannot be made or written, or the disk is full.
    """
    folder: Path | None = None
    try:
        if out.exists() and not out.is_dir():
            raise InputError("it is a file", expected="a folder to write in", mend="name another --out", file=str(out))
        state = out / STATE_FOLDER
        state.mkdir(parents=True, exist_ok=True)
        folder = Path(tempfile.mkdtemp(prefix="staging-", dir=state))
        yield folder
        for path in sorted(folder.iterdir()):
            os.replace(path, out / path.name)
        for name in outdated:
            (out / name).unlink(missing_ok=True)
    except OSError as error:
        if isinstance(error, InputError):
            raise
        reason = error.strerror or str(error)
        raise InputError(
            f"the output cannot be written: {reason}", mend="free some space, or name another folder with --out",
            file=str(out),
        ) from error  # fmt: skip
    finally:
        if folder is not None:
            shutil.rmtree(folder, ignore_errors=True)
            with suppress(OSError):  # it stays where results are kept
                folder.parent.rmdir()
