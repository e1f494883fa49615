"""How long work tells how far it is."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[str, int, int], None]
"""Called with the name of the step, how much of it is done, and how much there is."""


def silent(step: str, done: int, total: int) -> None:
    """Report nothing."""
