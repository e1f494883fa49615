"""A stem list as a file: cells as they are typed, read into the table and written from it."""

from __future__ import annotations

import csv
import os
from collections.abc import Sequence
from pathlib import Path

from boscage.desk.rigchanges import RigChange

Rows = tuple[tuple[str, ...], ...]
KIND, DEAD, TREE = "kind", "dead", "tree"


def read_list(path: Path) -> tuple[tuple[str, ...], Rows]:
    """Column names and cells of a CSV with commas, semicolons or tabs; what they mean is for the worker to say.

    Raises:
        OSError: The file cannot be read.
        ValueError: It is no text, or holds no row.
    """
    lines = path.read_text(encoding="utf-8-sig").splitlines()
    if not lines:
        raise ValueError("it is empty")
    mark = max(",;\t", key=lines[0].count)
    head, *rows = csv.reader(lines, delimiter=mark)
    wide = len(head)
    return tuple(h.strip() for h in head), tuple(tuple((*r, *[""] * wide)[:wide]) for r in rows)


def write_list(path: Path, columns: Sequence[str], rows: Sequence[Sequence[str]], change: RigChange) -> None:
    """Write a list as it stands: bad trees as dead, trees left out and empty rows not at all; whole or not at all.

    Raises:
        OSError: The file cannot be written.
    """
    kept = [list(r) for r in rows if any(r) and r[0] not in change.removed]
    head = list(columns)
    if change.bad and KIND not in head:
        head.append(KIND)
        kept = [[*r, TREE] for r in kept]
    if KIND in head:
        at = head.index(KIND)
        for row in kept:
            row[at] = DEAD if row[0] in change.bad else row[at]
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with part.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file, lineterminator="\n").writerows([head, *kept])
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
