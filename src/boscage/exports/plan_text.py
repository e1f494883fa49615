"""Edits of a plan's text: comments, order, blanks and line ends stay, and a bad edit changes nothing."""

from __future__ import annotations

import difflib
import os
import shutil
import tomllib
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, InlineTable, Item, Table

from boscage.errors import InputError, PlanError
from boscage.model.plan_edits import (
    AddChoice,
    Edit,
    Key,
    PlanText,
    SetKey,
    TakeOut,
    TakeOutChoice,
    choice_table,
    digest,
    edited_table,
    plain_value,
)

_MARK = "\0"
"""Stands where text is put in or cut out; no TOML file can hold it."""


def edit_text(text: str, edits: Sequence[Edit], *, file: str) -> str:
    """The text of a plan after some edits.

    Lines that no edit touches stay as they are, to the last blank. Each edit is held against the same edit of the plain
    tables: what a TOML reader makes of the new text is exactly what was asked for.

    Args:
        text: Valid TOML with any line ends.
        edits: One after the other.
        file: The plan file, for messages.

    Raises:
        PlanError: The text is no TOML, an edit takes out what is not there or puts a table in the place of a value, or
            the plan is written in a way that cannot be edited with the rest kept.
    """
    lines = text.replace("\r\n", "\n")
    try:
        table: Mapping[str, Any] = tomllib.loads(lines)
    except tomllib.TOMLDecodeError as error:
        raise PlanError(f"the text is not valid TOML ({str(error).rstrip('.')})", file=file) from None
    for edit in edits:
        goal = edited_table(table, edit, file=file)
        lines, table = _edited(lines, edit, goal, file), goal
    return _with_line_ends(lines, text)


def write_plan_text(held: PlanText) -> PlanText:
    """Write a plan whole or not at all: to a file beside it, which is then renamed; its permissions stay.

    Raises:
        InputError: The file was changed by somebody else since it was read, or it cannot be written.
    """
    path = Path(held.file).expanduser()
    target = path.resolve() if path.is_symlink() else path
    data = held.data
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        before = target.read_bytes() if target.exists() else b""
        if digest(before) != held.on_disk:
            raise _not_ours(held)
        with part.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if target.exists():
            shutil.copymode(target, part)
        os.replace(part, target)
    except OSError as error:
        raise InputError(
            f"the plan cannot be written: {error.strerror or error}", file=held.file,
            mend="free some space, or check who may write in this folder; the file is as it was",
        ) from error  # fmt: skip
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)
    return replace(held, on_disk=digest(data))


def _not_ours(held: PlanText) -> InputError:
    if not held.on_disk:
        return InputError("there is a file of this name already", file=held.file, mend="choose another name")
    return InputError(
        "the plan was changed by another program since it was opened", file=held.file,
        mend="open it again and repeat the last edits, or save under another name",
    )  # fmt: skip


def _edited(text: str, edit: Edit, goal: Mapping[str, Any], file: str) -> str:
    """The text after one edit, by the first way that gives exactly the goal."""
    for way in (_in_place, _by_library):
        try:
            made = way(text, edit)
            if _alike(tomllib.loads(made), goal):
                return made
        except (TOMLKitError, LookupError, TypeError, ValueError, AttributeError):
            continue
    key = "choices" if isinstance(edit, AddChoice | TakeOutChoice) else ".".join(edit.key)
    raise PlanError(
        "the plan is written in a way in which this cannot be changed with the rest kept",
        mend="change it in a text editor", file=file, field=key,
    )  # fmt: skip


def _alike(one: object, other: object) -> bool:
    """Whether two values are the same, kinds included: 1, 1.0 and true are three. An empty table is none."""
    if isinstance(one, dict) and isinstance(other, Mapping):
        return all(_alike(one.get(n, {}), other.get(n, {})) for n in {*one, *other})
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_alike, one, other))
    return type(one) is type(other) and one == other


def _in_place(text: str, edit: Edit) -> str:
    """Lines put in or cut out; values changed where they stand."""
    doc: Any = tomlkit.parse(text)
    match edit:
        case SetKey(key=key, value=value):
            return _set(doc, text, key, value)
        case TakeOut(key=key):
            parent = _at(doc, key[:-1])
            if isinstance(parent, InlineTable):
                del parent[key[-1]]
                return doc.as_string()
            return _cut(doc, parent[key[-1]])
        case AddChoice(choice=choice):
            block = ["", "[[choices]]", *(_line(n, v, 6) for n, v in choice_table(choice).items())]
            return _insert(doc, _last(doc["choices"][-1]), block) if "choices" in doc else _behind(text, block)
        case TakeOutChoice(row=row):
            return _cut(doc, doc["choices"][row - 1])


def _by_library(text: str, edit: Edit) -> str:
    """What the library itself does: right for tables written in unusual ways, and less tidy."""
    doc: Any = tomlkit.parse(text)
    match edit:
        case SetKey(key=key, value=value):
            parent = doc
            for name in key[:-1]:
                parent = parent.setdefault(name, tomlkit.table())
            parent[key[-1]] = _item(value)
        case TakeOut(key=key):
            del _at(doc, key[:-1])[key[-1]]
        case AddChoice(choice=choice):
            doc["choices"].append(_item(choice_table(choice)))
        case TakeOutChoice(row=row):
            del doc["choices"][row - 1]
            if not doc["choices"]:
                del doc["choices"]
    return doc.as_string()


def _set(doc: Any, text: str, key: Key, value: object) -> str:
    parent = _at(doc, key[:-1])
    if parent is None:
        head = ".".join(tomlkit.key(name).as_string() for name in key[:-1])
        return _behind(text, ["", f"[{head}]", _line(key[-1], value)])
    if key[-1] in parent or isinstance(parent, InlineTable):
        parent[key[-1]] = _item(value)
        return doc.as_string()
    own = [(k, item) for k, item in parent.value.body if k is not None and not isinstance(item, Table | AoT)]
    if not own:
        return _insert(doc, parent, [_line(key[-1], value)])
    last_key, last = own[-1]
    return _insert(doc, last, [_line(key[-1], value, len(last_key.as_string()) + last_key.sep.index("=") - 1)])


def _at(doc: Any, key: Key) -> Any:
    """The table under a key, or None."""
    for name in key:
        if name not in doc:
            return None
        doc = doc[name]
    return doc


def _item(value: object) -> Item:
    """A value on one line."""
    value = plain_value(value)
    if isinstance(value, Mapping):
        table = tomlkit.inline_table()
        for name, inner in value.items():
            table[name] = _item(inner)
        return table
    return tomlkit.item(value)


def _line(name: str, value: object, width: int = 0) -> str:
    return f"{tomlkit.key(name).as_string().ljust(width)} = {_item(value).as_string()}"


def _behind(text: str, block: Sequence[str]) -> str:
    """The text with lines behind its last one."""
    whole = text if text.endswith("\n") or not text else f"{text}\n"
    return whole + "\n".join(block) + "\n"


def _insert(doc: Any, item: Item, block: Sequence[str]) -> str:
    """The text with lines behind the line, or the header, of an item."""
    item.trivia.trail += _MARK
    before, after = doc.as_string().split(_MARK)
    return _behind(before, block) + after


def _cut(doc: Any, item: Item) -> str:
    """The text without an item: its own lines, its tables' lines, and one of the two blank lines that then meet."""
    item.trivia.indent = _MARK + item.trivia.indent
    _last(item).trivia.trail += _MARK
    before, _, after = doc.as_string().split(_MARK)
    if before.endswith("\n\n") and after[:1] in ("", "\n"):
        before = before[:-1]
    return before + after


def _last(item: Any) -> Any:
    """The last line of an item: of a table that of its last key, else its header."""
    if not isinstance(item, Table):
        return item
    own = [inner for key, inner in item.value.body if key is not None]
    last = own[-1] if own else None
    if isinstance(last, AoT):
        return _last(last[-1])
    return item if last is None else _last(last)


def _with_line_ends(made: str, before: str) -> str:
    """Text with plain line ends given those of the text before.

    Each line that stayed or was changed has its own, each new one the usual.

    Args:
        made: Lines that end with a line feed.
        before: The text as it was, its lines ended one way or the other.
    """
    if "\r\n" not in before:
        return made
    old = before.split("\n")
    ends = ["\r\n" if line.endswith("\r") else "\n" for line in old[:-1]]
    usual = "\r\n" if 2 * ends.count("\r\n") >= len(ends) else "\n"
    new = made.split("\n")
    out = [usual] * len(new)
    match = difflib.SequenceMatcher(None, [line.removesuffix("\r") for line in old], new, autojunk=False)
    for _, start, stop, there, until in match.get_opcodes():
        for n, m in zip(range(start, min(stop, len(ends))), range(there, until), strict=False):
            out[m] = ends[n]
    return "".join(line + end for line, end in zip(new[:-1], out, strict=False)) + new[-1]
