"""The answer on a dropped file, out of what speaks for each layer."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from boscage.errors import InputError
from boscage.model.layers import LayerSpec
from boscage.model.recognised import GUESS, LIKELY, SURE, UNKNOWN, Alternative, Recognised
from boscage.readers.protocol import Request

NOTHING = "nothing speaks for any of the layers"


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """A layer that something may be.

    Attributes:
        points: 3 and more is sure, 2 likely, 1 a guess, less is nothing.
        why: Phrases.
        unit: Unit that the plan must state, or None.
        unit_why: Why this unit, or ''.
        doubts: Sentences.
        columns: Our column names and the file's, where the plan must state them.
    """

    layer: str
    points: float
    why: tuple[str, ...]
    unit: str | None = None
    unit_why: str = ""
    doubts: tuple[str, ...] = ()
    columns: tuple[tuple[str, str], ...] = ()


LOG = Candidate(layer="log", points=4.0, why=("dates, sets and what happened there",))


def made_of(
    path: Path, found: Sequence[Candidate], *, read: str, no: str = "", inner: str | None = None,
    doubts: tuple[str, ...] = (), box: tuple[float, float, float, float] | None = None,
) -> Recognised:  # fmt: skip
    """The answer out of candidates, the likeliest first; those under one point are not counted."""
    held = [c for c in found if c.points >= 1.0]
    if not held:
        return unknown(path, no or NOTHING, read=read, inner=inner, box=box)
    best = held[0]
    level = 0 if best.points >= 3.0 else 1 if best.points >= 2.0 else 2
    close = len(found) > 1 and best.points - found[1].points < 1.0
    others = [c for c in found[1:] if c.points >= (1.0 if level < 2 else 0.5)]
    why = re.sub(r"\s+", " ", ", ".join(best.why))
    return Recognised(
        path=str(path), layer=best.layer, confidence=(SURE, LIKELY, GUESS)[min(2, level + close)],
        why=f"{why[:1].upper()}{why[1:]}.", read=read, inner=inner, columns=dict(best.columns), unit=best.unit,
        unit_why=best.unit_why, doubts=(*doubts, *(f"{d[:1].upper()}{d[1:]}" for d in best.doubts)), box=box,
        alternatives=tuple(Alternative(layer=c.layer, why=", ".join(c.why)) for c in others),
    )  # fmt: skip


def unknown(path: Path, why: str, **more: object) -> Recognised:
    """The answer on what is none of the layers."""
    return Recognised(path=str(path), layer=None, confidence=UNKNOWN, why=f"Not recognised: {why.rstrip('.')}.", **more)  # type: ignore[arg-type]


def request_of(path: Path, layer: str, inner: str | None = None) -> Request:
    """A request for a file that no plan names yet."""
    return Request(layer=layer, path=path, spec=LayerSpec(path=str(path), layer=inner))


def reason_of(error: InputError) -> str:
    """What is wrong and how to mend it, without the file's name."""
    parts = [error.wrong.rstrip("."), *([f"expected {error.expected}"] if error.expected else [])]
    return "; ".join([*parts, *([error.mend.rstrip(".")] if error.mend else [])])
