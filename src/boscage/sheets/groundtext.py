"""The ground at one site, as the crew reads it on the spot: soil, posts, stakes, guys, burial, what to bring."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from boscage.model.results import Site
from boscage.model.soil import APRON_STAKES, GroundAnswer, StakeAnswer
from boscage.sheets.flow import Block, gap, heading, loud
from boscage.sheets.groundwords import (
    ASSUMED,
    NOT_KNOWN,
    counted,
    depth_words,
    flood_words,
    part_words,
    resistance_words,
    rock_words,
    verdict_words,
)
from boscage.sheets.page import Page
from boscage.sheets.rigwords import RigTape
from boscage.sheets.style import GREY, LABEL, TextStyle
from boscage.sheets.typeset import Fitted, fit, wrap
from boscage.values import Printer

NOTHING = "Ground: no soil map and no readings. Test a stake."
_LABEL_MM, _GAP_MM, _TOGETHER_MM = 10.5, 0.7, 16.0
_BASIS = {
    "map": "from the soil map alone", "map and readings": "from the soil map and readings",
    "readings": "from readings alone, no soil map", "nothing": "from nothing: no soil map and no readings reach here",
}  # fmt: skip


@dataclass(frozen=True)
class GroundType:
    """Type sizes of the block, points: what is answered, why, and the assumption."""

    answer_pt: float
    why_pt: float
    small_pt: float


TYPES = (GroundType(7.5, 7.5, 6.5), GroundType(7.5, 7.0, 6.5), GroundType(7.0, 6.5, 6.0), GroundType(6.5, 6.0, 6.0))
"""From the largest that is wanted to the smallest that is set."""


def ground_head(width: float) -> Block:
    """The heading above the block."""
    return heading("The ground here", width)


def missing(width: float) -> list[Block]:
    """One loud line where nothing is known at all."""
    return loud(NOTHING, width)


def ground_blocks(answer: GroundAnswer, printer: Printer, width: float, sizes: GroundType) -> list[Block]:
    """The block without its heading, for a column of that width in mm."""
    strong, plain = TextStyle(size_pt=sizes.answer_pt, bold=True), TextStyle(size_pt=sizes.answer_pt)
    why = TextStyle(size_pt=sizes.why_pt)
    items = (
        ("Soil", _soil(answer, printer, strong, plain)),
        ("Posts", [(_posts(answer, printer), strong), (answer.posts.why, why)]),
        ("Apron", [(_apron(answer), strong), (answer.apron.why, why)]),
        ("Guy", _guy(answer.stakes, printer, strong, why)),
        ("Burial", [(_burial(answer), strong), (" ".join(answer.burial.why), why)]),
        ("Bring", [(" ".join(answer.bring) or f"{_first_upper(NOT_KNOWN)}.", plain)]),
    )  # fmt: skip
    return [b for label, texts in items for b in labelled(label, texts, width)]


def assumption_blocks(answer: GroundAnswer, width: float, sizes: GroundType) -> list[Block]:
    """The rule that the answers rest on, word for word, across the whole body."""
    small = TextStyle(size_pt=sizes.small_pt, colour=GREY)
    return labelled("Rule", [(f"{ASSUMED}: {answer.assumption}", small)], width)


def note_blocks(answer: GroundAnswer, width: float, sizes: GroundType) -> list[Block]:
    """What was filled in or held to a bound; nothing without any."""
    return labelled("Notes", [(_sentences(answer.notes), TextStyle(size_pt=sizes.small_pt, colour=GREY))], width)


def labelled(label: str, texts: Sequence[tuple[str, TextStyle]], width: float) -> list[Block]:
    """Paragraphs behind a label, a block a line: short ones stay together, long ones go on under the label again."""
    lines = [(line, style) for text, style in texts for line in wrap(text, width - _LABEL_MM, style)]
    if not lines:
        return []
    again = replace(_line(label, "", LABEL), keep_next=True)
    blocks = [_line(label, *lines[0]), *[_line("", text, style, again=again) for text, style in lines[1:]]]
    together = sum(b.height_mm for b in blocks) <= _TOGETHER_MM
    last = len(blocks) - 1
    kept = [replace(b, keep_next=k < last and (together or k == 0)) for k, b in enumerate(blocks)]
    return [*kept, gap(_GAP_MM)]


def _line(label: str, text: str, style: TextStyle, *, again: Block | None = None) -> Block:
    name = fit(label, _LABEL_MM - 1.0, LABEL)

    def draw(page: Page, x: float, y: float) -> None:
        if label:
            page.text(x, y + style.ascent_mm, name.lines[0], name.style)
        if text:
            page.lines(x + _LABEL_MM, y, Fitted(lines=(text,), style=style))

    return Block(height_mm=style.line_mm, draw=draw, again=again)


def _soil(answer: GroundAnswer, printer: Printer, strong: TextStyle, plain: TextStyle) -> list[tuple[str, TextStyle]]:
    name = f"{answer.unit.name} ({answer.unit.symbol})" if answer.unit else "No map unit here"
    figure = f"Resistance {resistance_words(answer.resistance_mpa, answer.error_ln, printer)}, {answer.moisture} ground"
    hard, rock = f"depth to a hard layer {NOT_KNOWN}", f"rock fragments {NOT_KNOWN}"
    if math.isfinite(answer.hard_cm):
        hard = f"hard layer at {depth_words(answer.hard_cm, printer)} or deeper on most of it"
    if math.isfinite(answer.rock_pct):
        rock = f"rock fragments up to {rock_words(answer.rock_pct)}"
    facts = (hard, rock, f"flooding {flood_words(answer.flood_class)}")
    basis = _BASIS.get(answer.basis, answer.basis)
    if answer.unit is not None and answer.named_share < 1.0:
        basis += f"; {part_words(answer.named_share)} of the ground is named"
    texts = [(f"{name}. {figure}.", strong), (f"{_first_upper('; '.join(facts))}; {basis}.", plain)]
    if math.isfinite(answer.stopped_cm):
        stopped = depth_words(answer.stopped_cm, printer)
        texts.append((f"A probe close by was STOPPED at {stopped}.", strong))
    return texts


def _posts(answer: GroundAnswer, printer: Printer) -> str:
    posts = answer.posts
    reaches = f"depth that a post reaches: {NOT_KNOWN}"
    if math.isfinite(posts.depth_cm):
        reaches = f"a post reaches {depth_words(posts.depth_cm, printer)} on most of it"
        if math.isfinite(posts.most_cm) and posts.most_cm - posts.depth_cm >= 1.0:
            reaches += f", at the very most {depth_words(posts.most_cm, printer)}"
    return f"{_upper(posts.verdict)}: {reaches}."


def _burial(answer: GroundAnswer) -> str:
    """The verdict; a yes says that it is the soil's alone, for wells, water and the law are not in it."""
    own = ", as far as the soil goes" if answer.burial.verdict == "yes" else ""
    return f"{_upper(answer.burial.verdict)}{own}."


def _apron(answer: GroundAnswer) -> str:
    titles = " and ".join(APRON_STAKES[kind].title for kind in (answer.apron.kind, *answer.apron.also))
    if answer.apron.times > 1.0:
        return f"{_first_upper(titles)}, {answer.apron.times:.2g} for each that firm ground takes."
    return f"{_first_upper(titles)}, as many as firm ground takes."


def _guy(
    stakes: StakeAnswer | None, printer: Printer, strong: TextStyle, why: TextStyle
) -> list[tuple[str, TextStyle]]:
    if stakes is None:
        return [(f"Pickets {NOT_KNOWN}: no pull was asked for.", strong)]
    pull = RigTape(printer.units).force(stakes.pull_n)
    if stakes.holdfast is None:
        return [(f"NO PICKETS for a pull of {pull}.", strong), (stakes.why, why)]
    holds = RigTape(printer.units).force(stakes.holds_n)
    groups = counted(stakes.count, "holdfast", "holdfasts")
    words = f"{groups} of {stakes.holdfast.name} ({counted(stakes.pickets, 'picket', 'pickets')})"
    return [(f"{words}: {holds} here by published figures, for a pull of {pull}.", strong), (stakes.why, why)]


def _sentences(texts: Sequence[str]) -> str:
    return " ".join(f"{_first_upper(t.rstrip('. '))}." for t in texts)


def _upper(verdict: str) -> str:
    return verdict_words(verdict).upper()


def _first_upper(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def expected_stake(site: Site, printer: Printer) -> str:
    """Depth that the map or the readings let one expect, for the table of stakes tested."""
    if site.ground is None:
        return NOT_KNOWN
    return depth_words(site.ground.posts.depth_cm, printer)
