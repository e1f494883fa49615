"""Options: frozen keyword-only dataclasses whose field metadata drives plan keys, help, docs and forms.

A field is declared with `option(...)`. `read_options` builds the dataclass from a table of plain values as a plan
file holds it, checks every value, and raises `PlanError` naming file and key. `describe` lists the metadata.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import difflib
import math
import types
import typing
from collections.abc import Mapping, Sequence
from dataclasses import MISSING, dataclass, field, fields
from typing import Any, TypeVar

from boscage.errors import PlanError, UnitError
from boscage.values import Length, Mass

T = TypeVar("T")

ValuePoints = tuple[tuple[float, float], ...]


@dataclass(frozen=True, kw_only=True)
class OptionInfo:
    """What is known of one option beside its type.

    Attributes:
        help: One sentence for people.
        unit: Unit of the number as written, where the type does not say it.
        low: Least allowed value (in SI for lengths and masses), or None.
        high: Greatest allowed value, or None.
        choices: Allowed words, or empty.
        grade: Where a default comes from: V read in its source, R recalled, C common practice, M arithmetic, or ''.
    """

    help: str
    unit: str = ""
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()
    grade: str = ""


def option(default: Any = MISSING, *, factory: Any = MISSING, **info: Any) -> Any:
    """A dataclass field with `OptionInfo` metadata; without a default the key is required."""
    metadata = {"option": OptionInfo(**info)}
    if factory is not MISSING:
        return field(default_factory=factory, metadata=metadata)
    return field(default=default, metadata=metadata)


def read_options(cls: type[T], table: object, *, file: str, key: str) -> T:
    """Build an options dataclass from a plan table.

    Args:
        cls: The dataclass, every field made with `option`.
        table: What the plan holds under `key`.
        file: The plan file, for messages.
        key: Dotted key of the table, for messages.

    Raises:
        PlanError: The table is no table, a key is unknown or missing, or a value has the wrong type, unit or range.
    """
    if not isinstance(table, Mapping):
        raise PlanError(f"{key} is {_shown(table)}", expected=f"a table [{key}]", file=file, field=key)
    known = {f.name: f for f in fields(cls)}  # type: ignore[arg-type]
    for name in table:
        if name not in known:
            raise unknown_key(name, known, file=file, key=key)
    hints = typing.get_type_hints(cls)
    made: dict[str, Any] = {}
    for name, item in known.items():
        where = f"{key}.{name}" if key else name
        if name in table:
            made[name] = _convert(table[name], hints[name], item.metadata["option"], file, where)
        elif item.default is MISSING and item.default_factory is MISSING:
            info: OptionInfo = item.metadata["option"]
            raise PlanError("the key is missing", expected=info.help.rstrip("."), file=file, field=where)
    try:
        return cls(**made)
    except PlanError:
        raise
    except ValueError as error:
        raise PlanError(str(error).rstrip("."), file=file, field=key) from error


def unknown_key(name: str, known: typing.Iterable[str], *, file: str, key: str) -> PlanError:
    """The error for a key that does not exist, with the nearest one that does."""
    near = difflib.get_close_matches(name, list(known), n=1)
    hint = f"did you mean {near[0]}?" if near else f"the keys here are {', '.join(sorted(known))}"
    return PlanError("there is no such key", mend=hint, file=file, field=f"{key}.{name}" if key else name)


@dataclass(frozen=True, kw_only=True)
class OptionRow:
    """One option as the reference page, the help and the window's form show it."""

    key: str
    kind: str
    default: str
    info: OptionInfo


def describe(cls: type, key: str) -> list[OptionRow]:
    """The options of a dataclass in the order they are declared."""
    hints = typing.get_type_hints(cls)
    rows = []
    for item in fields(cls):
        if item.default is MISSING and item.default_factory is MISSING:
            default = "required"
        else:
            value = item.default if item.default is not MISSING else item.default_factory()  # type: ignore[misc]
            default = _plain(value)
        where = f"{key}.{item.name}" if key else item.name
        rows.append(OptionRow(key=where, kind=_kind(hints[item.name]), default=default, info=item.metadata["option"]))
    return rows


_KINDS: dict[Any, str] = {
    str: "text", int: "whole number", float: "number", bool: "true or false", dt.date: "date",
    Length: "length", Mass: "mass", ValuePoints: "points",
}  # fmt: skip


def _kind(hint: Any) -> str:
    base = _strip_none(hint)
    if base in _KINDS:
        return _KINDS[base]
    if typing.get_origin(base) is tuple:
        return f"list of {_kind(typing.get_args(base)[0])}s"
    if typing.get_origin(base) is Mapping:
        return "table"
    return getattr(base, "__name__", str(base)).lower()


def _plain(value: Any) -> str:
    if value is None:
        return "none"
    if isinstance(value, Length | Mass):
        return f"{value.m:g} m" if isinstance(value, Length) else f"{value.kg:.4g} kg"
    if isinstance(value, Mapping):
        return str({k: _plain(v) if isinstance(v, Length | Mass) else v for k, v in value.items()})
    if isinstance(value, tuple):
        return "[" + ", ".join(_plain(v) for v in value) + "]"
    if isinstance(value, bool):
        return str(value).lower()
    return f"{value:g}" if isinstance(value, float) else (f'"{value}"' if isinstance(value, str) else str(value))


def _strip_none(hint: Any) -> Any:
    if typing.get_origin(hint) in (typing.Union, types.UnionType):
        return next(a for a in typing.get_args(hint) if a is not type(None))
    return hint


def _shown(value: object) -> str:
    return f'"{value}"' if isinstance(value, str) else str(value).lower() if isinstance(value, bool) else f"{value}"


def _convert(value: object, hint: Any, info: OptionInfo, file: str, key: str) -> Any:
    hint = _strip_none(hint)
    if hint == ValuePoints:
        return _points(value, file, key)
    if hint in (Length, Mass):
        try:
            made = hint.parse(value)
        except UnitError as error:
            raise PlanError(error.wrong, expected=error.expected, mend=error.mend, file=file, field=key) from error
        _range(made.si, info, "m" if hint is Length else "kg", file, key)
        return made
    if typing.get_origin(hint) is tuple:
        return _sequence(value, hint, info, file, key)
    if typing.get_origin(hint) is Mapping:
        return _mapping(value, hint, info, file, key)
    return _scalar(value, hint, info, file, key)


def _sequence(value: object, hint: Any, info: OptionInfo, file: str, key: str) -> tuple[Any, ...]:
    inner = typing.get_args(hint)
    if isinstance(value, str) or not isinstance(value, Sequence):
        raise PlanError(f"the value is {_shown(value)}", expected=f"a {_kind(hint)}", file=file, field=key)
    if inner[-1] is not Ellipsis and len(value) != len(inner):
        raise PlanError(f"the list has {len(value)} entries", expected=f"{len(inner)}", file=file, field=key)
    return tuple(_convert(v, inner[0], info, file, key) for v in value)


def _mapping(value: object, hint: Any, info: OptionInfo, file: str, key: str) -> Mapping[str, Any]:
    if not isinstance(value, Mapping):
        raise PlanError(f"the value is {_shown(value)}", expected="a table { name = value }", file=file, field=key)
    allowed = info.choices
    for name in value:
        if allowed and name not in allowed:
            raise unknown_key(name, allowed, file=file, key=key)
    inner = dataclasses.replace(info, choices=())
    kind = typing.get_args(hint)[1]
    return types.MappingProxyType({n: _convert(v, kind, inner, file, f"{key}.{n}") for n, v in value.items()})


def _scalar(value: object, hint: Any, info: OptionInfo, file: str, key: str) -> Any:
    right = {
        str: isinstance(value, str),
        bool: isinstance(value, bool),
        int: isinstance(value, int) and not isinstance(value, bool),
        float: isinstance(value, int | float) and not isinstance(value, bool),
        dt.date: isinstance(value, dt.date) and not isinstance(value, dt.datetime),
    }
    if hint in right and not right[hint]:
        example = " such as 2026-11-21, without quotes" if hint is dt.date else ""
        raise PlanError(f"the value is {_shown(value)}", expected=f"a {_kind(hint)}{example}", file=file, field=key)
    if hint in (int, float):
        _range(float(value), info, info.unit, file, key)  # type: ignore[arg-type]
        return hint(value)
    if info.choices and value not in info.choices:
        allowed = " or ".join(f'"{c}"' for c in info.choices)
        raise PlanError(f"the value is {_shown(value)}", expected=allowed, file=file, field=key)
    if hint is str and value == "":
        raise PlanError("the value is empty", expected=info.help.rstrip("."), file=file, field=key)
    return value


def _range(number: float, info: OptionInfo, unit: str, file: str, key: str) -> None:
    low_ok = info.low is None or number >= info.low
    high_ok = info.high is None or number <= info.high
    if math.isnan(number) or not (low_ok and high_ok):
        tail = f" {unit}" if unit else ""
        if info.low is not None and info.high is not None:
            expected = f"{info.low:g} to {info.high:g}{tail}"
        else:
            expected = f"at least {info.low:g}{tail}" if info.low is not None else f"at most {info.high:g}{tail}"
        raise PlanError(f"the value is {number:g}{tail}", expected=expected, file=file, field=key)


def _points(value: object, file: str, key: str) -> ValuePoints:
    """A value function: two or more [input, value] points, inputs rising, values in 0..1."""
    expected = "points such as [[0, 0.0], [60, 1.0]], inputs rising and values from 0 to 1"

    def wrong(text: str) -> PlanError:
        return PlanError(text, expected=expected, file=file, field=key)

    if isinstance(value, str) or not isinstance(value, Sequence) or len(value) < 2:
        raise wrong("the value function has fewer than two points")
    points: list[tuple[float, float]] = []
    for n, pair in enumerate(value, start=1):
        number = isinstance(pair, Sequence) and not isinstance(pair, str) and len(pair) == 2
        if not number or any(isinstance(v, bool) or not isinstance(v, int | float) for v in pair):
            raise wrong(f"point {n} of the value function is {pair}")
        points.append((float(pair[0]), float(pair[1])))
        if not 0.0 <= points[-1][1] <= 1.0:
            raise wrong(f"point {n} of the value function has the value {pair[1]}")
        if len(points) > 1 and not points[-1][0] > points[-2][0]:
            raise wrong(f"point {n} of the value function has the input {pair[0]} after {points[-2][0]:g}")
    return tuple(points)
