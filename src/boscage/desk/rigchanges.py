"""What the operator changed about the trees of one place or list, with undo; kept in a file at once."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

DRAFT = Path(".boscage") / "desk_rings.json"
TYPED = "typed list"


@dataclass(frozen=True, kw_only=True)
class RigChange:
    """Trees left out and trees that hold nothing, by id, in the order in which that was said."""

    removed: tuple[str, ...] = ()
    bad: tuple[str, ...] = ()

    @property
    def is_none(self) -> bool:
        """Whether nothing was changed."""
        return not self.removed and not self.bad

    def toggled_out(self, stem: str) -> RigChange:
        """The stem left out, or back in."""
        return RigChange(removed=_toggled(self.removed, stem), bad=self.bad)

    def toggled_bad(self, stem: str) -> RigChange:
        """The stem marked bad, or good again; one that was left out is back in."""
        return RigChange(removed=tuple(s for s in self.removed if s != stem), bad=_toggled(self.bad, stem))


def _toggled(held: tuple[str, ...], stem: str) -> tuple[str, ...]:
    return tuple(s for s in held if s != stem) if stem in held else (*held, stem)


@dataclass(kw_only=True)
class RigHistory:
    """The changes at one place, one state after another."""

    now: RigChange = field(default_factory=RigChange)
    done: list[RigChange] = field(default_factory=list)
    undone: list[RigChange] = field(default_factory=list)

    def change(self, state: RigChange) -> None:
        """Go to another state."""
        if state != self.now:
            self.done.append(self.now)
            self.now, self.undone = state, []

    def undo(self) -> bool:
        """Go back one state; whether there was one."""
        if not self.done:
            return False
        self.undone.append(self.now)
        self.now = self.done.pop()
        return True

    def redo(self) -> bool:
        """Go forward one state; whether there was one."""
        if not self.undone:
            return False
        self.done.append(self.now)
        self.now = self.undone.pop()
        return True


@dataclass(kw_only=True)
class Drafts:
    """Changes of every place and the typed list of one plan.

    Attributes:
        path: The file; None keeps nothing.
        columns, rows: Of the typed list.
        declination: As typed, or ''.
    """

    path: Path | None = None
    places: dict[str, RigHistory] = field(default_factory=dict)
    columns: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    declination: str = ""
    fault: str = ""

    @classmethod
    def beside(cls, plan: Path | None) -> Drafts:
        """What an earlier window left beside a plan; a file that is not ours counts as none."""
        if plan is None:
            return cls()
        path = plan.parent / DRAFT
        try:
            held = json.loads(path.read_text(encoding="utf-8"))
            places = {n: RigHistory(now=_change(row)) for n, row in held["places"].items()}
            typed: Mapping[str, Any] = held["typed"]
            rows = tuple(tuple(str(c) for c in row) for row in typed["rows"])
            return cls(path=path, places=places, columns=tuple(str(c) for c in typed["columns"]), rows=rows,
                       declination=str(typed["declination"]))  # fmt: skip
        except (OSError, ValueError, KeyError, TypeError, AttributeError):
            return cls(path=path)

    def at(self, place: str) -> RigHistory:
        """The changes at a place."""
        return self.places.setdefault(place, RigHistory())

    def keep(self) -> bool:
        """Write it all beside the plan, whole or not at all; whether that worked."""
        if self.path is None:
            return False
        places = {n: {"removed": h.now.removed, "bad": h.now.bad} for n, h in self.places.items() if not h.now.is_none}
        typed = {"columns": self.columns, "rows": self.rows, "declination": self.declination}
        part = self.path.with_name(f".{self.path.name}.{os.getpid()}.part")
        try:
            self.path.parent.mkdir(exist_ok=True)
            with part.open("w", encoding="utf-8") as file:
                json.dump({"places": places, "typed": typed}, file, indent=1)
                file.flush()
                os.fsync(file.fileno())
            part.replace(self.path)
        except OSError as error:
            with suppress(OSError):
                part.unlink()
            self.fault = f"{self.path} cannot be written: {error.strerror or error}; what you change here is not kept."
            return False
        self.fault = ""
        return True


def _change(row: Mapping[str, Any]) -> RigChange:
    return RigChange(removed=tuple(str(s) for s in row["removed"]), bad=tuple(str(s) for s in row["bad"]))
