"""Gates and fences: what their columns must hold, and gate codes kept out of the program."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

from boscage.errors import LayerError
from boscage.readers.columns import cell, listed, objects, plain, read_word
from boscage.readers.protocol import Request

if TYPE_CHECKING:
    import geopandas

    Frame = geopandas.GeoDataFrame

GATE_KINDS = ("entry", "inner")
GATE_STATES = ("open", "closed", "locked")
_GATE_COLUMNS = ("name", "kind", "state", "note")
_CODE_WORDS = ("code", "combo", "combination", "keypad", "password")
_CODE_IN_TEXT = re.compile(rf"(?i)(?:{'|'.join(_CODE_WORDS)})|\bpin\W{{0,3}}\d{{3}}")
_DIGITS_ALONE = re.compile(r"^[\W_]*(?:\d[\W_]*){3,}$")


def gate_rules(frame: Frame, request: Request, day: dt.date) -> list[str]:
    """Check and normalise gates in place: `name`, `kind`, `state`, `note`, '' where nothing is said.

    Every other column is dropped, so that no gate code is kept under whatever name.

    Raises:
        LayerError: A kind or a state is none of ours, or the plan takes a column from one that holds gate codes.
    """
    _refuse_code_columns(request)
    for name in [c for c in frame.columns if c not in (*_GATE_COLUMNS, "row", "geometry")]:
        del frame[name]
    doubts = []
    for name in ("name", "note"):
        doubts += _hide_codes(frame, name)
    frame["kind"] = _words(frame, "kind", GATE_KINDS, request)
    frame["state"] = _words(frame, "state", GATE_STATES, request)
    if (frame["kind"] == "entry").any():
        return doubts
    doubts.append(
        "no gate is of the kind entry, so it is not known where driving in starts; write entry in the column kind of "
        "each gate that leads in from outside."
    )
    blank = frame["row"][frame["kind"] == ""]
    if len(blank):
        doubts.append(f"gates without a kind: {len(blank)} (rows {listed(blank)}); they count as inner; fill in kind.")
    return doubts


def fence_rules(frame: Frame, request: Request, day: dt.date) -> list[str]:
    """Make the text columns `name`, `kind`, `note` of fences in place, '' where nothing is said."""
    for name in ("name", "kind", "note"):
        given = frame[name] if name in frame.columns else [""] * len(frame)
        frame[name] = objects(cell(v) for v in given)
    return []


def count_gates(frame: Frame) -> str:
    """How many gates are of which kind, which are locked, and of how many the state is not known."""
    kinds = [(int((frame["kind"] == k).sum()), k or "of no kind") for k in (*GATE_KINDS, "")]
    parts = [", ".join(f"{n} {words}" for n, words in kinds if n)]
    locked = frame[frame["state"] == "locked"]
    if len(locked):
        names = [name or f"row {row}" for name, row in zip(locked["name"], locked["row"], strict=True)]
        parts.append(f"{len(locked)} locked ({listed(names)})")
    unsaid = int((frame["state"] == "").sum())
    if unsaid:
        parts.append(f"{unsaid} of unknown state")
    return "; ".join(parts)


def _refuse_code_columns(request: Request) -> None:
    for ours, theirs in request.spec.columns.items():
        if any(word in plain(theirs) for word in _CODE_WORDS) or plain(theirs) == "pin":
            raise request.error(
                f"the plan takes {ours} from the column {theirs}, and gate codes are never read",
                mend="take it out of columns", field=f"columns.{ours}",
            )  # fmt: skip


def _hide_codes(frame: Frame, field: str) -> list[str]:
    """Blank texts that look like a gate code: a word such as code with a digit, or for notes digits alone."""
    given = [cell(v) for v in frame[field]] if field in frame.columns else [""] * len(frame)
    secret = [
        (_CODE_IN_TEXT.search(text) is not None and any(c.isdigit() for c in text))
        or (field == "note" and _DIGITS_ALONE.match(text) is not None)
        for text in given
    ]
    frame[field] = objects("" if hidden else text for text, hidden in zip(given, secret, strict=True))
    rows = frame["row"][secret]
    if not len(rows):
        return []
    return [f"what looks like a gate code in {field}: {len(rows)} (rows {listed(rows)}); left out; take it out too."]


def _words(frame: Frame, field: str, words: Sequence[str], request: Request) -> object:
    """A column as our words, '' for an empty cell."""
    given = frame[field] if field in frame.columns else [""] * len(frame)
    out = []
    for row, value in zip(frame["row"], given, strict=True):
        word = read_word(value, words)
        if word is None:
            raise _bad_word(request, int(row), field, value, words)
        out.append(word)
    return objects(out)


def _bad_word(request: Request, row: int, field: str, value: object, words: Sequence[str]) -> LayerError:
    """The error for a word that is none of ours; digits are hidden, since they may be a gate code."""
    shown = re.sub(r"\d", "#", cell(value))
    return request.error(
        f"the value is {shown!r}", expected=f"{', '.join(words[:-1])} or {words[-1]}, or an empty cell",
        mend="correct the cell, or rename the column if it holds something else", row=row, field=field,
    )  # fmt: skip
