"""Digests of inputs, so that results can say what they were made from and unchanged work can be reused."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from pathlib import Path

BLOCK_BYTES = 1 << 20
RASTER_SIDES = frozenset({".aux.xml", ".tfw", ".tifw", ".ovr", ".msk", ".prj", ".hdr"})
SIDES: Mapping[str, frozenset[str]] = {
    ".shp": frozenset({".shx", ".dbf", ".prj", ".cpg", ".qpj"}),
    ".tab": frozenset({".dat", ".map", ".id", ".ind"}),
    ".mif": frozenset({".mid"}),
}


def digest_of(path: str | Path) -> str:
    """BLAKE2b digest (128 bits, hexadecimal) of the content of a file or folder, read piece by piece.

    A folder counts with everything in it, by relative name and content. A file counts with its side files: those of
    the same name with an ending such as .dbf, .prj or .tfw. Dates and the path itself do not count.

    Raises:
        OSError: Something cannot be read.
    """
    path = Path(path)
    total = hashlib.blake2b(digest_size=16)
    for name, file in _members(path):
        total.update(name.encode("utf-8", "surrogateescape") + b"\0")
        with file.open("rb") as stream:
            own = hashlib.blake2b(digest_size=16)
            while block := stream.read(BLOCK_BYTES):
                own.update(block)
        total.update(own.digest())
    return total.hexdigest()


def _members(path: Path) -> Iterable[tuple[str, Path]]:
    """Names that count and the files they stand for, in a fixed order."""
    if path.is_dir():
        found = sorted((p.relative_to(path).as_posix(), p) for p in path.rglob("*") if p.is_file())
        return found
    sides = SIDES.get(path.suffix.lower(), RASTER_SIDES)
    beside = sorted((_ending(p, path), p) for p in path.parent.iterdir() if p != path and _ending(p, path) in sides)
    return [("", path), *beside]


def _ending(other: Path, path: Path) -> str:
    """What follows the file's name, with or without its own ending, in the name of another; '' if it is another."""
    for own in (path.name, path.stem):
        if other.name.startswith(f"{own}."):
            return other.name[len(own) :].lower()
    return ""
