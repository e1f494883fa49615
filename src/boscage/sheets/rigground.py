"""The ground on a rig sheet: one line for the front, the whole answer for the back."""

from __future__ import annotations

from boscage.model.rig_plan import RigPlan
from boscage.model.soil import APRON_STAKES, ApronKind, StakeAnswer
from boscage.sheets.flow import Block, heading, paragraph
from boscage.sheets.groundwords import (
    TEST_FIRST,
    depth_words,
    flood_words,
    resistance_words,
    rock_words,
    verdict_words,
)
from boscage.sheets.rigwords import RigTape
from boscage.sheets.style import SMALL

NOT_ASKED = "Ground: not looked at. Test a stake before anything hangs on it."
_PLURALS = {"weight": "bags of stones or soil"}


def ground_fact(plan: RigPlan, tape: RigTape) -> str:
    """The ground in one line."""
    soil = plan.soil
    if soil is None:
        return NOT_ASKED
    known = resistance_words(soil.resistance_mpa, soil.error_ln, tape.printer)
    return f"Ground ({soil.moisture}): {known}. Posts: {verdict_words(soil.posts.verdict)}. {TEST_FIRST}"


def stake_words(plan: RigPlan) -> str:
    """How many stakes of which kind lie on the apron.

    Where nobody knows which kind holds, both are named.
    """
    count = len(plan.stakes)
    kinds: tuple[ApronKind, ...] = ("stake",) if plan.soil is None else (plan.soil.apron.kind, *plan.soil.apron.also)
    words = [_PLURALS.get(k, APRON_STAKES[k].title + ("" if count == 1 else "s")) for k in kinds]
    return f"{count} {' or '.join(words)}"


def picket_words(pickets: StakeAnswer | None) -> str:
    """What a line to the ground is made fast to.

    >>> picket_words(None)
    'ground stake'
    """
    if pickets is None:
        return "ground stake"
    if pickets.holdfast is None:
        return "ground: TEST"
    times = "" if pickets.count == 1 else f"{pickets.count} x "
    what = "picket" if pickets.holdfast.pickets == 1 else "pickets"
    return f"{times}{what} {pickets.holdfast.name}" if pickets.pickets > 1 else "1 picket"


def ground_blocks(plan: RigPlan, tape: RigTape, width: float) -> list[Block]:
    """All that the soil map and the readings say of the place."""
    title, soil = heading("Ground", width), plan.soil
    if soil is None:
        return [title, *paragraph(NOT_ASKED, width)]
    unit = "no map unit" if soil.unit is None else f"{soil.unit.name or soil.unit.symbol} ({soil.unit.symbol})"
    basis = "nothing known" if soil.basis == "nothing" else f"from {soil.basis}"
    about = (
        f"{unit}, {basis}; nothing hard mapped above {depth_words(soil.hard_cm, tape.printer)}; rock fragments "
        f"{rock_words(soil.rock_pct)}; flooding {flood_words(soil.flood_class)}."
    )
    blocks = [title, *paragraph(about, width, bullet=True)]
    for text in (f"Posts: {verdict_words(soil.posts.verdict)}. {soil.posts.why}", f"Apron: {soil.apron.why}"):
        blocks += paragraph(text, width, bullet=True)
    whys = {s.tie.pickets.why for s in plan.supports if s.tie is not None and s.tie.pickets is not None}
    for why in sorted(whys):
        blocks += paragraph(f"Lines to the ground: {why}", width, bullet=True)
    if any(s.tie is not None and s.tie.pickets is not None and s.tie.pickets.holdfast for s in plan.supports):
        blocks += paragraph(_PICKETS, width, SMALL)
    return [*blocks, *paragraph(soil.assumption, width, SMALL)]


_PICKETS = (
    "Pickets: wood, 3 in (8 cm) thick and 5 ft (1.5 m) long, driven 3 ft (90 cm), leaning 15 degrees back from "
    "the pull; 1-1 is one behind another, lashed head to foot; 3-2-1 is three, two and one, the three nearest the pull."
)
