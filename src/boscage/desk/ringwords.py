"""Figures of a ring in words: what it scores, what holds it, what is lost against the best."""

from __future__ import annotations

from boscage.model.desk_answers import RigAnswer, ShownStem
from boscage.model.rig import NoRing, Ring
from boscage.values import Printer

STATE_WORDS = {
    "usable": "could hold", "thin": "too thin", "no tree": "no tree", "bad": "BAD: holds nothing", "added": "added",
    "removed": "LEFT OUT",
}  # fmt: skip
SUPPORT_WORDS = {"trees": "trees alone", "hybrid": "trees and posts", "posts": "posts"}


def far(metres: float, printer: Printer) -> str:
    """A taped length.

    >>> far(3.048, Printer("us")), far(3.048, Printer("metric"))
    ('10.0 ft', '3.05 m')
    """
    return f"{metres / 0.3048:.1f} ft" if printer.units == "us" else f"{metres:.2f} m"


def thick(metres: float, printer: Printer) -> str:
    """A diameter."""
    return f"{metres / 0.0254:.1f} in" if printer.units == "us" else f"{metres * 100:.0f} cm"


def figures(ring: Ring | NoRing | None, best: Ring | NoRing | None, printer: Printer) -> list[tuple[str, str]]:
    """Rows of name and figure.

    Args:
        ring: Of the trees as they are now.
        best: Of all trees, nothing left out.
        printer: In the units shown.
    """
    if not isinstance(ring, Ring):
        lost = f"all of {best.score:.1f}" if isinstance(best, Ring) else "nothing: there is none of all trees either"
        return [("Ring", "NONE"), ("Lost against the best", lost)]
    longest = max(ring.spans, key=lambda s: s.length_m)
    posts = f", {ring.posts} of them posts" if ring.posts else ""
    return [
        ("Score", f"{ring.score:.1f} of 100"),
        ("Lost against the best", lost_words(ring, best)),
        ("Roundness", f"{ring.roundness:.3f}; finished {ring.finished_roundness:.3f}"),
        ("Held by", f"{SUPPORT_WORDS[ring.support]}, {len(ring.contacts)} contacts"),
        ("Built supports", f"{ring.built_supports}{posts}"),
        ("Perimeter", f"{far(ring.perimeter_m, printer)} of {far(ring.options.perimeter_m, printer)}"),
        ("Longest span", f"{far(longest.length_m, printer)}, contact {longest.first + 1} to {longest.second + 1}"),
    ]


def lost_words(ring: Ring, best: Ring | NoRing | None) -> str:
    """How much lower a ring scores than the best of all trees."""
    if not isinstance(best, Ring):
        return "not compared"
    lost = best.score - ring.score
    if abs(lost) < 0.05:
        return "nothing"
    return f"{lost:.1f} points of {best.score:.1f}" if lost > 0 else f"{-lost:.1f} points higher, with posts"


def remark(shown: ShownStem, ring: Ring | None) -> str:
    """What a stem counts for, in words."""
    contacts = ring.contacts if ring is not None else ()
    for number, contact in enumerate(contacts, start=1):
        if contact.stem is not None and contact.stem.stem == shown.stem.stem:
            return f"contact {number}"
    if shown.state == "no tree":
        return f"{shown.stem.kind}: holds nothing"
    return STATE_WORDS.get(shown.state, shown.state)


def reason(answer: RigAnswer) -> str:
    """Why there is no ring, or ''."""
    if isinstance(answer.ring, NoRing):
        return f"NO RING. {answer.ring.reason} {answer.ring.nearest_miss}"
    if answer.ring is None:
        return "No stems here: no ring can be fitted. Type a tape-and-compass list (Ctrl+T)."
    return ""
