"""The store of results as the window's worker reads it: arrays stay on the disk and are brought in where looked at."""

from __future__ import annotations

import os
import struct
import zipfile
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np
from numpy.lib import format as npy
from numpy.typing import NDArray

from boscage.exports.store import Store

LEAST_BYTES = 1 << 20
_LOCAL_HEAD = 30
_CAN_MAP = os.name == "posix"  # elsewhere a mapped file cannot be replaced by a later run


class MappedStore(Store):
    """A store whose large arrays are mapped, not read: what is written to one stays in this process."""

    def __init__(self, out: Path) -> None:
        super().__init__(out)
        self.folder = out

    def put(self, key: str, arrays: Mapping[str, NDArray[np.generic]]) -> None:
        """Store arrays; where they cannot be written nothing is stored and nothing is said."""
        with suppress(OSError):
            super().put(key, arrays)

    def get(self, key: str) -> dict[str, NDArray[np.generic]] | None:
        """The arrays stored under a key, or None."""
        path = self._folder / f"{key}.npz"
        if not _CAN_MAP or not path.exists() or path.stat().st_size < LEAST_BYTES:
            return super().get(key)
        try:
            held = map_arrays(path)
        except (OSError, ValueError, EOFError, KeyError, zipfile.BadZipFile, struct.error):
            return None
        self._touched.add(key)
        self.reused += 1
        return held


def map_arrays(path: Path) -> dict[str, NDArray[Any]]:
    """The arrays of an uncompressed `.npz` file by name, large ones mapped copy-on-write.

    Raises:
        OSError, ValueError, EOFError, KeyError, BadZipFile, struct.error: The file is broken or of another kind.
    """
    found: dict[str, NDArray[Any]] = {}
    with zipfile.ZipFile(path) as archive, path.open("rb") as file:
        for info in archive.infolist():
            name = info.filename.removesuffix(".npy")
            if info.file_size < LEAST_BYTES or info.compress_type != zipfile.ZIP_STORED:
                with archive.open(info) as stream:
                    found[name] = npy.read_array(stream, allow_pickle=False)
                continue
            file.seek(info.header_offset)
            head = file.read(_LOCAL_HEAD)
            name_bytes, extra_bytes = struct.unpack("<HH", head[26:30])
            file.seek(info.header_offset + _LOCAL_HEAD + name_bytes + extra_bytes)
            found[name] = _mapped(file, path, info.file_size)
    return found


def _mapped(file: Any, path: Path, size: int) -> NDArray[Any]:
    """The array that begins where a file stands."""
    start = file.tell()
    version = npy.read_magic(file)
    read = npy.read_array_header_1_0 if version == (1, 0) else npy.read_array_header_2_0
    shape, is_fortran, dtype = read(file)
    if dtype.hasobject or file.tell() - start + int(np.prod(shape)) * dtype.itemsize != size:
        raise ValueError("not an array of plain numbers")
    order = "F" if is_fortran else "C"
    held = np.memmap(path, dtype=dtype, mode="c", offset=file.tell(), shape=shape, order=order)
    return np.asarray(held)
