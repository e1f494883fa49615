"""The front of a rig sheet: the drawing, and the tables to lay the ring out with tape and compass."""

from __future__ import annotations

from dataclasses import dataclass

from boscage.model.rig_plan import RigPlan
from boscage.sheets import rigtables, rigtext
from boscage.sheets.flow import Block, Placed, draw_all, gap, height_of, paragraph, pour
from boscage.sheets.page import Box, Page
from boscage.sheets.rigframe import CARD_MM, RigJob, draw_cards, draw_name, draw_rig_foot
from boscage.sheets.rigkey import draw_side
from boscage.sheets.riglabels import draw_labels
from boscage.sheets.rigplan import draw_rig, rig_frame
from boscage.sheets.rigwords import RigTape, share_words
from boscage.sheets.style import INK, SMALL, AreaLook, LineLook, TextStyle
from boscage.sheets.typeset import Fitted, wrap

_SIDE_MM, _GUTTER_MM = 60.0, 3.0
_LEAST_PLAN_MM, _MOST_PLAN_MM = 112.0, 150.0
_HEAD_MM = 20.5
_FACT = TextStyle(size_pt=8.0)
_MORE_MM, _UNDER_MM = 3.4, 2.2


@dataclass(frozen=True, kw_only=True)
class RigFront:
    """A front, laid out.

    Attributes:
        plan_box: The drawing.
        fact_lines: Sentences under the head.
        placed: Blocks of the tables.
        rest: Blocks that the back has to take.
    """

    job: RigJob
    plan: RigPlan
    body: Box
    fact_lines: Fitted
    plan_box: Box
    placed: list[Placed]
    rest: list[Block]


def plan_front(job: RigJob, plan: RigPlan) -> RigFront:
    """Lay out the front: the drawing gives way to the tables down to its least height."""
    body, tape = job.body(), job.tape
    lines = [line for text in rigtext.facts(plan, tape) for line in wrap(text, body.width, _FACT)]
    fact_lines = Fitted(lines=tuple(lines), style=_FACT)
    top = body.y + _HEAD_MM + 1.4 + fact_lines.height_mm + 1.4
    room_mm = body.bottom - top - _UNDER_MM
    here, back = _shared_out(plan, tape, body.width, room_mm - _LEAST_PLAN_MM)
    height = min(max(room_mm - height_of(here) - (_MORE_MM if back else 0.0), _LEAST_PLAN_MM), _MOST_PLAN_MM)
    plan_box = Box(body.x, top, body.width - _SIDE_MM - _GUTTER_MM, height)
    start = plan_box.bottom + _UNDER_MM
    filled, rest = pour(here, [Box(body.x, start, body.width, body.bottom - start)])
    return RigFront(
        job=job, plan=plan, body=body, fact_lines=fact_lines, plan_box=plan_box, placed=filled[0],
        rest=Block.opening([*rest, *back]),
    )  # fmt: skip


def _shared_out(plan: RigPlan, tape: RigTape, width: float, most_mm: float) -> tuple[list[Block], list[Block]]:
    """What stands under the drawing, and what the back takes: built supports go there together or not at all."""
    notes = paragraph(rigtext.table_notes(plan, tape), width, SMALL)
    contacts = [*rigtables.contact_table(plan, tape, width), gap(0.6), *notes]
    supports = rigtables.support_table(plan, tape, width)
    whole = [*contacts, gap(1.6), *supports]
    if height_of(whole) <= most_mm:
        return whole, []
    filled, rest = pour(contacts, [Box(0.0, 0.0, width, most_mm - _MORE_MM)])
    kept = [p.block for p in filled[0]]
    return kept, [*Block.opening(rest), *([gap(1.6)] if rest else []), *supports]


def cards(plan: RigPlan) -> list[tuple[str, str, str]]:
    """What a glance should give."""
    words = {"trees": "trees", "hybrid": "trees, posts", "posts": "posts"}[plan.ring.support]
    held = plan.steadiness
    return [
        ("score", str(round(plan.ring.score)), "of 100"),
        ("roundness", share_words(plan.ring.roundness), "of a circle"),
        ("contacts", str(len(plan.contacts)), words),
        ("built", str(len(plan.supports)), "supports"),
        ("still holds", "?" if held is None else share_words(held.holds_share), "of tries"),
    ]


def draw_front(page: Page, front: RigFront) -> None:
    """Draw the front."""
    job, plan, body = front.job, front.plan, front.body
    shown = cards(plan)
    room = body.width - len(shown) * (CARD_MM[0] + 2.0) - 3.0
    draw_name(page, Box(body.x, body.y, room, _HEAD_MM), job)
    draw_cards(page, body.right, body.y, shown)
    y = body.y + _HEAD_MM
    page.line((body.x, body.right), (y, y), LineLook(width_pt=1.2))
    page.lines(body.x, y + 1.4, front.fact_lines)
    frame = rig_frame(plan, front.plan_box.width, front.plan_box.height)
    box, crs = front.plan_box, plan.crs  # a grid of the stem list's own has no place on the ground
    sketch = draw_rig(page.map_axes(box, frame.bounds, crs) if crs else page.axes(box), frame, plan, job.tape)
    draw_labels(sketch)
    page.area(front.plan_box, AreaLook(outline=LineLook(colour=INK, width_pt=0.9)))
    side = Box(front.plan_box.right + _GUTTER_MM, front.plan_box.y, _SIDE_MM, front.plan_box.height)
    draw_side(page, side, sketch)
    draw_all(page, front.placed)
    if front.rest:
        style = TextStyle(size_pt=7.0, italic=True, align="right")
        page.text(body.right, body.bottom - 0.3, f"further tables: page {page.number + 1}", style)
    draw_rig_foot(page, job)
