"""A plan's text while it is edited, and the edits themselves as values that can be kept and played again."""

from __future__ import annotations

import copy
import datetime as dt
import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from boscage.errors import PlanError
from boscage.model.choices import Choice

Key = tuple[str, ...]
BOM = b"\xef\xbb\xbf"


@dataclass(frozen=True, kw_only=True)
class PlanText:
    """The text of a plan file.

    Attributes:
        file: The plan file as the user wrote it.
        text: With the file's own line ends, without a byte order mark.
        bom: Whether the file begins with a byte order mark.
        on_disk: Digest of the bytes that the file held when it was read or last written; '' for a file not yet there.
    """

    file: str
    text: str
    bom: bool = False
    on_disk: str = ""

    @property
    def data(self) -> bytes:
        """The bytes that a file with this text holds."""
        return (BOM if self.bom else b"") + self.text.encode("utf-8")


@dataclass(frozen=True, kw_only=True)
class SetKey:
    """Give a key a value, such as `("factors", "cover", "weight")` the value 3; missing tables are made.

    Attributes:
        key: From the outermost table inwards.
        value: What TOML can hold: text, number, yes or no, date, list or table of such.
    """

    key: Key
    value: Any


@dataclass(frozen=True, kw_only=True)
class TakeOut:
    """Take a key or a whole table out of the plan; it then has its default."""

    key: Key


@dataclass(frozen=True, kw_only=True)
class AddChoice:
    """Put a choice behind those that are there."""

    choice: Choice


@dataclass(frozen=True, kw_only=True)
class TakeOutChoice:
    """Take out one of `[[choices]]`.

    Attributes:
        row: Counted from 1.
    """

    row: int


Edit = SetKey | TakeOut | AddChoice | TakeOutChoice


def digest(data: bytes) -> str:
    """Digest of a plan file's bytes; '' for an empty or missing file."""
    return hashlib.blake2b(data, digest_size=16).hexdigest() if data else ""


def choice_table(choice: Choice) -> dict[str, Any]:
    """A choice as the plan file holds it: keys that say nothing are left out."""
    table = {
        "site": choice.site, "at": [round(choice.lon, 7), round(choice.lat, 7)], "choice": choice.choice,
        "reason": choice.reason, "date": choice.date,
    }  # fmt: skip
    return {name: value for name, value in table.items() if value is not None}


def edited_table(table: Mapping[str, Any], edit: Edit, *, file: str) -> dict[str, Any]:
    """What the TOML file holds after an edit; the table given stays as it is.

    Raises:
        PlanError: There is no such key or choice to take out, or a value stands where a table would have to be.
    """
    made = copy.deepcopy(dict(table))
    match edit:
        case SetKey(key=key, value=value):
            _inner(made, key[:-1], file, make=True)[key[-1]] = plain_value(value)
        case TakeOut(key=key):
            inner = _inner(made, key[:-1], file, make=False)
            if key[-1] not in inner:
                raise _no_such(key, file)
            del inner[key[-1]]
        case AddChoice(choice=choice):
            made.setdefault("choices", []).append(choice_table(choice))
        case TakeOutChoice(row=row):
            rows = made.get("choices", [])
            if not 1 <= row <= len(rows):
                raise PlanError(
                    f"there is no choice {row}", expected=f"1 to {len(rows)}" if rows else "a plan with choices",
                    file=file, field="choices",
                )  # fmt: skip
            del rows[row - 1]
            if not rows:
                del made["choices"]
    return made


def plain_value(value: object) -> Any:
    """A value as a TOML reader gives it: lists for tuples, plain tables for mappings."""
    if isinstance(value, Mapping):
        return {str(name): plain_value(inner) for name, inner in value.items()}
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [plain_value(inner) for inner in value]
    return value


def _inner(table: dict[str, Any], key: Key, file: str, *, make: bool) -> dict[str, Any]:
    for n, name in enumerate(key, start=1):
        if make:
            table.setdefault(name, {})
        found = table.get(name)
        if found is None:
            raise _no_such(key[:n], file)
        if not isinstance(found, dict):
            raise PlanError(
                f"the value is {found!r}", expected="a table", mend="take it out first", file=file,
                field=".".join(key[:n]),
            )  # fmt: skip
        table = found
    return table


def _no_such(key: Key, file: str) -> PlanError:
    return PlanError("the plan has no such key to take out", file=file, field=".".join(key))


def edit_row(edit: Edit) -> dict[str, Any]:
    """An edit as JSON can hold it; `edit_of` gives it back."""
    match edit:
        case SetKey(key=key, value=value):
            return {"edit": "set", "key": list(key), "value": _packed(plain_value(value))}
        case TakeOut(key=key):
            return {"edit": "take out", "key": list(key)}
        case AddChoice(choice=choice):
            return {"edit": "add choice", "choice": _packed(choice_table(choice))}
        case TakeOutChoice(row=row):
            return {"edit": "take out choice", "row": row}


def edit_of(row: Mapping[str, Any]) -> Edit:
    """The edit that `edit_row` packed.

    Raises:
        ValueError: It is none.
    """
    try:
        match row["edit"]:
            case "set":
                return SetKey(key=tuple(row["key"]), value=_unpacked(row["value"]))
            case "take out":
                return TakeOut(key=tuple(row["key"]))
            case "add choice":
                table = _unpacked(row["choice"])
                return AddChoice(choice=Choice(**{**table, "at": tuple(table["at"])}))
            case "take out choice":
                return TakeOutChoice(row=int(row["row"]))
    except (KeyError, TypeError, ValueError) as error:
        raise ValueError(f"no edit of a plan: {row}") from error
    raise ValueError(f"no edit of a plan: {row}")


def _packed(value: Any) -> Any:
    """Dates as `{"$date": ...}`, which no plan has as a key."""
    if isinstance(value, dict):
        return {name: _packed(inner) for name, inner in value.items()}
    if isinstance(value, list):
        return [_packed(inner) for inner in value]
    return {"$date": value.isoformat()} if isinstance(value, dt.date) else value


def _unpacked(value: Any) -> Any:
    if isinstance(value, dict):
        if set(value) == {"$date"}:
            return dt.date.fromisoformat(value["$date"])
        return {name: _unpacked(inner) for name, inner in value.items()}
    return [_unpacked(inner) for inner in value] if isinstance(value, list) else value
