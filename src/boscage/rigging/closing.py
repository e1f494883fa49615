"""Where the two ends of the net meet.

The closure is put on the first contact in walking order that is a tree: it stands firm, needs nothing built, and
one strap there takes both ends. Only where every contact is a post and some span has no built support is it put on
the post at the start of the shortest such span, where the netting is easiest to lace; else on post 1.
"""

from __future__ import annotations

from dataclasses import dataclass

from boscage.model.rig import Point, Ring


@dataclass(frozen=True, kw_only=True)
class Closure:
    """Its place on the ring and words for it; `on_tree` says whether a tree holds it."""

    place: Point
    text: str
    on_tree: bool


def choose_closure(ring: Ring) -> Closure:
    """The closure of a ring whose first contact is contact 1."""
    for number, contact in enumerate(ring.contacts, start=1):
        if contact.stem is not None:
            words = (
                f"At contact {number} (stem {contact.stem.stem}). Both ends of the net are caught in the same tie "
                "there, and the slack is gathered at it."
            )
            return Closure(place=(contact.x_m, contact.y_m), text=words, on_tree=True)
    bare = [s for s in ring.spans if not s.supports]
    k = min(bare, key=lambda s: (s.length_m, s.first)).first if bare else 0
    contact = ring.contacts[k]
    words = f"At post {k + 1}. Both ends of the net are caught in the same tie there, and the slack is gathered at it."
    return Closure(place=(contact.x_m, contact.y_m), text=words, on_tree=False)
