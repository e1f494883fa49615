"""The words of a rig sheet: facts, loads, steps, stems inside, cautions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from boscage.model.rig import NoRing, Ring, Stem
from boscage.model.rig_plan import RigPlan
from boscage.sheets.flow import Block, gap, heading, pair, paragraph
from boscage.sheets.page import Page
from boscage.sheets.rigground import ground_fact, stake_words
from boscage.sheets.rigwords import RigTape, declination_words, one_or_more, share_words, stem_words
from boscage.sheets.style import BODY, SMALL, TextStyle
from boscage.sheets.typeset import Fitted, wrap

CAUTIONS = (
    "Look up before you tie: dead tops, hung limbs, leaning trees, wires. A wire near the ring ends the set here.",
    "A rope under tension stores force. Stand out of its line and out of the bend. Ease it off, never cut it.",
    "Heights: a ladder on even ground, tied to the tree and held by a second person. Throw a line rather than climb.",
    "Animals in the net charge it. Stay outside, keep a way out, keep dogs and onlookers back.",
    "All figures here are for planning. They are not ratings and prove no rope, strap, tree or stake. Sound each tree.",
    "Whose rules decide: local law, then the land's own rules and the owner's word, then licensed practice. This sheet "
    "grants no permission.",
)


def facts(plan: RigPlan, tape: RigTape) -> list[str]:
    """What the ring is, where the pivot is, how firm the answer is: one sentence each."""
    ring = plan.ring
    pivot = "a mark to be set" if plan.pivot_stem is None else f"stem {plan.pivot_stem}"
    lines = [
        f"Net {tape.stock(ring.options.perimeter_m)} round, top rope {tape.far(plan.net.height_m)} up. Contacts "
        f"joined: {tape.far(ring.perimeter_m)}; finished ring: {tape.far(ring.finished_m)}, "
        f"{share_words(ring.finished_roundness)} round.",
        f"Pivot: {pivot}. {declination_words(plan)}",
        f"Closure: {plan.closure_text.rstrip('.')}.",
    ]
    lines.append(ground_fact(plan, tape))
    if plan.steadiness is None:
        return [*lines, "How firm the answer is against errors of place: not worked out."]
    held = plan.steadiness
    weak = f" Weakest: stem {held.weakest}." if held.weakest else ""
    tries = f"{round(held.holds_share * held.draws)} of {held.draws} tries"
    return [*lines, f"The same trees still hold a ring in {tries} with {held.error}.{weak}"]


def table_notes(plan: RigPlan, tape: RigTape) -> str:
    """How the tables are to be read."""
    feet = " Feet and tenths: 7.5 ft is 7 ft 6 in." if tape.is_us else ""
    stakes = f" Apron: {stake_words(plan)}."
    return (
        f"Bearings to the half degree. Distances run to the trunk's middle, level; the check runs between trunk "
        f"middles, the span from ring corner to ring corner.{feet}{stakes}"
    )


def loads(plan: RigPlan, tape: RigTape, width: float) -> list[Block]:
    """Planning figures of rope, supports and lines, with what they were made from."""
    own, options = plan.loads, plan.options
    unknown = "not known: the rope gives way"
    ties = [s.tie for s in plan.supports if s.tie is not None]
    tensions = [t.tension_n for t in ties if t.tension_n is not None]
    uplifts = [t.uplift_n for t in ties if t.uplift_n is not None]
    rows = [
        ("Top rope set to", tape.force(own.pretension_n)),
        ("Push at mid-span", f"{tape.force(own.push_n)}, on the longest run of {tape.far(own.longest_span_m)}"),
        ("Dip under the push", unknown if own.dip_m is None else tape.printer.small(own.dip_m)),
        ("Rope tension then", unknown if own.push_tension_n is None else tape.force(own.push_tension_n)),
        ("Sag, own weight", f"{tape.printer.small(own.own_sag_m)}, the whole net on the rope"),
        ("Widest run", f"{tape.far(own.widest_span_m)}, to stay over {tape.far(options.least_height.m)}"),
        ("Largest side pull", f"{tape.force(own.largest_pull_n)} on a contact or built support"),
    ]
    if tensions:
        rows.append(("Largest line pull", f"{tape.force(max(tensions))} in a line, at that setting"))
    if uplifts:
        rows.append(("Largest uplift", f"{tape.force(max(uplifts))} at the end of a line"))
    rows.append(("Strap's grip", f"{own.capstan_ratio:.0f} to 1 by {options.turns:g} turns, friction "
                                 f"{options.friction:g}"))  # fmt: skip
    stretch = "none: gives way" if options.stiffness_n == 0 else tape.force(options.stiffness_n)
    rows.append(("Rope stiffness EA", f"{stretch} (assumed)"))
    title = heading("Loads: planning figures, not a rating", width)
    return [title, *[pair(a, b, width, label_mm=29.0) for a, b in rows], gap(0.8)]


def step_texts(plan: RigPlan, tape: RigTape) -> list[str]:
    """Rigging in order, short."""
    turns = f"{plan.options.turns:g} turn{'' if plan.options.turns == 1 else 's'}"
    height = tape.far(plan.net.height_m)
    texts = [
        "Look at each contact tree from all sides and up to its top. Dead, split, hollow or leaning in: use the table "
        "for a bad tree.",
        "From the pivot find each contact by bearing and distance. Tape the check distance. Mark the tree with its "
        "number.",
        f"Strap each contact twice, at {height} and at half that height, {turns} round the trunk. The turns grip the "
        "bark, so that the strap keeps its height and its tail holds little.",
        "Turn the mouth of each hook down, so that netting, cord and cloth do not catch in it.",
        "Hang the top rope from the closure round, 1, 2, 3 and on. Catch both ends of the net in one tie at the "
        "closure.",
        "Draw the net snug to each tree. Leave no gap between wall and trunk.",
    ]
    if plan.supports:
        texts.append("Put up the built supports in the order of their letters, each on its place outside the straight "
                     "line. Tie the lines back and take up the slack by hand.")  # fmt: skip
    texts += [
        f"Bring the top rope to {height} all round. Measure at mid-span, where it hangs lowest, not at the trees.",
        "Lay the apron inward with the curve that it takes by itself. Do not pull it flat.",
        _stake_step(plan, tape),
        "Walk round once and look at each contact, hook, tie, line, mid-span and stake.",
        "Growth in the way: open the net at the closure and go round it. Cut neither net nor stem.",
    ]
    return texts


def _stake_step(plan: RigPlan, tape: RigTape) -> str:
    """How many stakes and how far in; less where the ring is too narrow."""
    best = plan.apron.best_m
    what = "Weights" if plan.soil is not None and plan.soil.apron.kind == "weight" else "Stakes"
    text = f"{what} come last: {stake_words(plan)}, {tape.far(best)} in from under the top rope"
    least = min((s.offset_m for s in plan.stakes), default=best)
    if tape.far(least) != tape.far(best):
        text += f"; as drawn, where the ring is narrow, down to {tape.far(least)}"
    return f"{text}."


def steps(plan: RigPlan, tape: RigTape, width: float, style: TextStyle = BODY) -> list[Block]:
    """The numbered steps."""
    blocks: list[Block] = [heading("Rigging, step by step (good practice, no source)", width)]
    for k, text in enumerate(step_texts(plan, tape), start=1):
        blocks += _numbered(k, text, width, style)
    return blocks


def _numbered(number: int, text: str, width: float, style: TextStyle) -> list[Block]:
    """A step that is never split, its number in front."""
    lines = Fitted(lines=tuple(wrap(text, width - 6.5, style)), style=style)

    def draw(page: Page, x: float, y: float) -> None:
        page.text(x, y + style.ascent_mm, f"{number}.", replace(style, bold=True))
        page.lines(x + 6.5, y, lines)

    return [Block(height_mm=lines.height_mm, draw=draw), gap(0.6)]


def stems_inside(plan: RigPlan, tape: RigTape, width: float) -> list[Block]:
    """Stems that stay inside, and those within reach of the wall."""
    blocks = [heading("Stems inside the ring: they stay, never cut", width)]
    blocks += paragraph(_listed(plan.inside, tape) or "None on the stem list; look, the list may lack some.", width)
    if plan.near_wall:
        text = f"Within arm's reach of the wall, no contacts: {_listed(plan.near_wall, tape)}"
        blocks += paragraph(text, width)
    return blocks


def _listed(stems: Sequence[Stem], tape: RigTape) -> str:
    return f"{'; '.join(stem_words(s, tape) for s in stems)}." if stems else ""


def notes(plan: RigPlan, width: float) -> list[Block]:
    """What the run has to say, and what else the trees would hold."""
    blocks = [heading("Notes on this plan", width)]
    for note in [*plan.notes, *_others(plan.ring)]:
        blocks += paragraph(note, width, bullet=True)
    if plan.stems_source:
        blocks += paragraph(f"Stems: {plan.stems_source}.", width, SMALL)
    return blocks


def _others(ring: Ring) -> list[str]:
    lines = []
    if isinstance(ring.trees_only, Ring):
        only = ring.trees_only
        count = f"{len(only.contacts)} contacts, {only.built_supports} built"
        lines.append(f"Trees alone: score {round(only.score)}, {count}.")
    elif isinstance(ring.trees_only, NoRing):
        lines.append(f"Trees alone hold no ring: {ring.trees_only.nearest_miss}")
    if ring.with_posts is not None:
        lines.append(f"With posts: score {round(ring.with_posts.score)}, {one_or_more(ring.with_posts.posts, 'post')}.")
    if ring.best_at_bark is not None:
        lines.append(f"With every corner at the bark: score {round(ring.best_at_bark)}.")
    return lines
