"""Intermediate arrays kept beside the outputs, so that a second run reuses what has not changed."""

from __future__ import annotations

import hashlib
import os
import zipfile
from collections.abc import Mapping
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from boscage.exports.staging import STATE_FOLDER


def key_of(*facts: object) -> str:
    """Name of a stored result: a hash over everything that it depends on.

    >>> key_of("cover", 30.0) == key_of("cover", 30.0), key_of("cover", 30.0) == key_of("cover", 31.0)
    (True, False)
    """
    return hashlib.blake2b("\x1f".join(repr(fact) for fact in facts).encode(), digest_size=16).hexdigest()


class Store:
    """Arrays by key in a folder; entries that a run did not touch are dropped when it ends.

    A missing, broken or foreign entry is never an error: it is computed again.
    """

    def __init__(self, out: Path, *, fresh: bool = False) -> None:
        self._folder = out / STATE_FOLDER / "layers"
        self._fresh = fresh
        self._touched: set[str] = set()
        self.reused = 0
        self.made = 0

    def get(self, key: str) -> dict[str, NDArray[np.generic]] | None:
        """The arrays stored under a key, or None."""
        self._touched.add(key)
        path = self._folder / f"{key}.npz"
        if self._fresh or not path.exists():
            return None
        try:
            with path.open("rb") as file, np.load(file, allow_pickle=False) as held:
                arrays = {name: held[name] for name in held.files}
        except (OSError, ValueError, EOFError, KeyError, zipfile.BadZipFile):
            return None
        self.reused += 1
        return arrays

    def put(self, key: str, arrays: Mapping[str, NDArray[np.generic]]) -> None:
        """Store arrays; where the disk is full or not writable nothing is stored and nothing is said."""
        self._touched.add(key)
        self.made += 1
        part = self._folder / f"{key}.{os.getpid()}.part"
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            with part.open("wb") as file:
                np.savez(file, allow_pickle=False, **arrays)
            os.replace(part, self._folder / f"{key}.npz")
        except OSError:
            part.unlink(missing_ok=True)

    def prune(self) -> None:
        """Drop the entries that this run neither read nor wrote."""
        if not self._folder.is_dir():
            return
        for path in self._folder.iterdir():
            if path.stem.split(".")[0] not in self._touched:
                path.unlink(missing_ok=True)
