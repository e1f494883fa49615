"""Groups of animals as cards: who belongs to it, how many, which nights, and whether the count has held."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from boscage.model.findings import Evidence
from boscage.model.groups import Group
from boscage.sheets.evidencewords import members_words
from boscage.sheets.flow import Block, gap, heading, loud
from boscage.sheets.groundwords import counted
from boscage.sheets.page import Box, Page
from boscage.sheets.style import BODY, BOLD, SMALL, AreaLook, LineLook, TextStyle
from boscage.sheets.typeset import Fitted, wrap

NO_GROUPS = "No group of animals is told apart: how many go together is not known."
_NAME = TextStyle(size_pt=9.5, bold=True)
_GUTTER_MM, _PAD_MM, _SHOWN_NIGHTS = 5.0, 1.8, 6


def group_blocks(evidence: Evidence, width: float) -> list[Block]:
    """A card for each group, two side by side."""
    if not evidence.cameras:
        return []
    title = heading(f"Groups of animals: {len(evidence.groups)}", width)
    if not evidence.groups:
        return [title, *loud(NO_GROUPS, width)]
    places = {c.use.deployment: f"C{k}" for k, c in enumerate(evidence.cameras, start=1)}
    room = (width - _GUTTER_MM) / 2
    cards = [_card(g, places, room) for g in evidence.groups]
    rows = [cards[k : k + 2] for k in range(0, len(cards), 2)]
    return [title, *[b for row in rows for b in (_row(row, room, title), gap(2.0))], gap(1.0)]


def _card(group: Group, places: Mapping[str, str], width: float) -> list[Fitted]:
    """The lines of a card."""
    inner = width - 2 * _PAD_MM
    how = "named by a tag" if group.is_named else "taken as one group: its cameras stand near each other"
    span = str(group.most) if group.least == group.most else f"{group.least} to {group.most}"
    cameras = ", ".join(places.get(d, d) for d in group.deployments)
    test = group.test
    passed = "passed" if test.passed else "NOT PASSED"
    parts = [
        (group.name, _NAME),
        (f"{how}; seen by {cameras}", SMALL),
        (f"{span} at one time", BOLD),
        (f"On the fullest night: {members_words(group.members)}.", BODY),
        (nights_words(group), BODY),
        (f"Same count {counted(test.wanted, 'night', 'nights')} running: {passed}.", BOLD),
        (test.why, BODY),
    ]
    if group.boars:
        visits = counted(group.boars, "visit", "visits")
        parts.append((f"{visits} by boars alone at its cameras, counted for no member.", BODY))
    return [Fitted(lines=tuple(wrap(text, inner, style)), style=style) for text, style in parts]


def nights_words(group: Group) -> str:
    """On how many nights it was seen, and how many each of the last."""
    nights = group.nights
    if not nights:
        return "Seen on no night."
    last = nights[-_SHOWN_NIGHTS:]
    counts = ", ".join(f"{n.night:%m-%d}: {n.size}" for n in last)
    from_to = nights[0].night.isoformat()
    if len(nights) > 1:
        from_to = f"{from_to} to {nights[-1].night.isoformat()}"
    which = "" if len(last) == len(nights) else f"the last {len(last)}: "
    return f"Seen on {counted(len(nights), 'night', 'nights')}, {from_to}; {which}{counts}."


def _row(cards: Sequence[Sequence[Fitted]], width: float, again: Block) -> Block:
    height = max(sum(f.height_mm for f in card) for card in cards) + 2 * _PAD_MM

    def draw(page: Page, x: float, y: float) -> None:
        for k, card in enumerate(cards):
            left = x + k * (width + _GUTTER_MM)
            page.area(Box(left, y, width, height), AreaLook(outline=LineLook(width_pt=0.8)))
            below = y + _PAD_MM
            for fitted in card:
                below = page.lines(left + _PAD_MM, below, fitted)

    return Block(height_mm=height, draw=draw, again=again)
