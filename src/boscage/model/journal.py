"""What a journal of edits gives back, and why a plan cannot be opened a second time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, kw_only=True)
class Replay:
    """What a journal held when it was opened.

    Attributes:
        edits: The edits that were kept and not saved, in their order, as they were given.
        fits: Whether the plan file is still the one that they were made on; False: look at them before using any.
        said: Sentences for people: what was found, what was dropped and why.
    """

    edits: tuple[Mapping[str, Any], ...] = ()
    fits: bool = True
    said: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.edits)


@dataclass(frozen=True, kw_only=True)
class OpenElsewhere:
    """A plan that somebody has open; false as a truth value.

    Attributes:
        reason: One sentence: who has it open, since when, and what to do.
        host: Name of the machine.
        process: Its number there.
    """

    reason: str
    host: str
    process: int

    def __bool__(self) -> bool:
        return False
