"""What is left if a contact tree turns out to be bad: the best ring without it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from boscage.model.rig import NoRing, Ring, RingOptions, Stem

Fit = Callable[[Sequence[Stem], RingOptions], Ring | NoRing]


@dataclass(frozen=True, kw_only=True)
class Fallback:
    """The best ring without one tree; the score is None where there is none."""

    score: float | None
    stems: tuple[str, ...] = ()
    built: int = 0


def without_each(ring: Ring, stems: Sequence[Stem], fit: Fit) -> tuple[Fallback, ...]:
    """For each contact the best ring without its tree, under the same rules; for a post the ring itself.

    Args:
        ring: The ring.
        stems: All stems that it was fitted to.
        fit: Fits a ring to stems.
    """
    return tuple(
        _named(ring) if c.stem is None else _named(fit([s for s in stems if s.stem != c.stem.stem], ring.options))
        for c in ring.contacts
    )


def _named(found: Ring | NoRing) -> Fallback:
    if isinstance(found, NoRing):
        return Fallback(score=None)
    held = tuple(c.stem.stem for c in found.contacts if c.stem is not None)
    return Fallback(score=found.score, stems=held, built=found.built_supports)
