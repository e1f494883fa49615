"""From a plan file to a `Plan`."""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from boscage.errors import PlanError
from boscage.model.plan import Plan, plan_from_table

_LINE = re.compile(r"\(at line (\d+), column (\d+)\)")


def read_plan(path: str | Path, *, today: dt.date | None = None) -> Plan:
    """Read a plan file.

    Args:
        path: The TOML file; UTF-8, a byte order mark is allowed.
        today: The day that ages are counted from where the plan states none; by default the present day.

    Raises:
        PlanError: There is no such file, it is a folder, it is not UTF-8, its TOML is broken, or a key is wrong.
    """
    table = read_toml(path, what="plan")
    folder = str(Path(path).expanduser().parent)
    return plan_from_table(table, file=str(path), folder=folder, today=today or dt.date.today())


def read_toml(path: str | Path, *, what: str, shown: str | None = None) -> Mapping[str, Any]:
    """Read a TOML file into plain tables.

    Args:
        path: The file.
        what: What it is to people, for messages: `plan` or `rules file`.
        shown: The path as the user wrote it, for messages.

    Raises:
        PlanError: There is no such file, it is a folder, it is not UTF-8, or its TOML is broken.
    """
    file, real = shown or str(path), Path(path).expanduser()
    if real.is_dir():
        inside = sorted(p.name for p in real.glob("*.toml"))
        mend = f"name the file inside it: {', '.join(inside)}" if inside else f"name the {what} itself"
        raise PlanError("this is a folder", expected=f"a {what} (TOML)", mend=mend, file=file)
    try:
        text = real.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        near = sorted(p.name for p in real.parent.glob("*.toml")) if real.parent.is_dir() else []
        mend = f"the folder holds {', '.join(near)}" if near else "check the name and the folder"
        raise PlanError(f"there is no such {what}", mend=mend, file=file) from None
    except UnicodeDecodeError as error:
        raise PlanError(
            f"the byte at place {error.start + 1} is not UTF-8", expected="a text file in UTF-8",
            mend="save it again as UTF-8 in a text editor", file=file,
        ) from None  # fmt: skip
    except OSError as error:
        raise PlanError(f"the {what} cannot be read ({error.strerror})", file=file) from None
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _syntax(str(error), text, file) from None


def _syntax(message: str, text: str, file: str) -> PlanError:
    """The error for broken TOML: the line, what stands there, and what is usually wrong with such a line."""
    match = _LINE.search(message)
    lines = text.splitlines()
    number = int(match.group(1)) if match else max(1, len(lines))
    line = lines[number - 1].strip() if 0 < number <= len(lines) else ""
    found = _LINE.sub("", message).strip().rstrip(".")
    found = found[:1].lower() + found[1:]
    return PlanError(
        f"line {number} is not valid TOML ({found}): {line}" if line else f"line {number} is not valid TOML ({found})",
        mend=_hint(message, line),
        file=file,
    )


def _hint(message: str, line: str) -> str:
    lower = message.lower()
    if "overwrite" in lower or "twice" in lower or "redefine" in lower or "already" in lower:
        return "the same key or table stands twice; keep one of them"
    if "\\" in line:
        return r"write paths with forward slashes, or in single quotes: 'C:\maps\parcels.gpkg'"
    if line.count('"') % 2 or line.count("'") % 2:
        return "look for a missing quotation mark on this line or the one above"
    if line.count("[") != line.count("]") or line.count("{") != line.count("}"):
        return "look for a missing bracket on this line or the one above"
    if "invalid value" in lower or "expected newline" in lower:
        return 'put words, paths and lengths in quotation marks, such as perimeter = "60ft"'
    return "look for a missing quotation mark, bracket or equals sign on this line or the one above"
