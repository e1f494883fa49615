"""The back of a rig sheet: steps, gear, loads, cautions; and the page of a place where no ring fits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from boscage.model.rig import NoRing
from boscage.model.rig_plan import RigPlan
from boscage.sheets import rigtables, rigtext
from boscage.sheets.flow import Block, Placed, draw_all, gap, heading, height_of, loud, pair, paragraph, pour
from boscage.sheets.page import Box, Page
from boscage.sheets.rigframe import RigJob, draw_name, draw_rig_foot
from boscage.sheets.rigground import ground_blocks
from boscage.sheets.running import draw_plain_head
from boscage.sheets.sheet import HEAD_MM, Sheet, columns_of
from boscage.sheets.style import BODY, FAINT, AreaLook, LineLook, TextStyle
from boscage.sheets.typeset import Fitted, wrap

_CAUTION_PAD_MM, _LEAST_ROOM_MM = 3.0, 20.0


def back_sheets(job: RigJob, plan: RigPlan, carried: Sequence[Block]) -> list[Sheet]:
    """The back, and further pages only when one cannot take everything."""
    body = job.body()
    cautions = _caution_box(body)
    first = Box(body.x, body.y + HEAD_MM, body.width, cautions.y - 2.0 - body.y - HEAD_MM)
    wide, rest_wide = pour(carried, [first])
    top = first.y + (height_of([p.block for p in wide[0]]) + 2.5 if carried else 0.0)
    boxes = columns_of(Box(body.x, body.y, body.width, first.bottom - body.y), 2, top=top)
    poured = [pour(blocks, [box]) for blocks, box in zip(_columns(job, plan, boxes[0]), boxes, strict=True)]
    on_back = [*wide[0], *[p for filled, _ in poured for p in filled[0]]]

    def draw(page: Page) -> None:
        draw_plain_head(page, body, f"{job.result.name}: rigging", job.result.ranch or "")
        draw_all(page, on_back)
        _draw_cautions(page, cautions)
        draw_rig_foot(page, job)

    left = [b for _, rest in poured for b in Block.opening(rest)]
    return [Sheet("back", draw, job.result.name), *_further(job, _Left(wide=rest_wide, narrow=left))]


@dataclass(frozen=True, kw_only=True)
class _Left:
    """Blocks for further pages: of a page's width and of a column's width."""

    wide: Sequence[Block]
    narrow: Sequence[Block]


def _further(job: RigJob, left: _Left) -> list[Sheet]:
    body = job.body()
    pages: list[Sheet] = []
    wide, narrow = list(left.wide), list(left.narrow)
    while wide or narrow:
        whole = Box(body.x, body.y + HEAD_MM, body.width, body.height - HEAD_MM)
        placed, wide = pour(Block.opening(wide), [whole])
        top = whole.y + height_of([p.block for p in placed[0]]) + (2.5 if placed[0] else 0.0)
        shown = [*placed[0]]
        if not wide and body.bottom - top > _LEAST_ROOM_MM:
            filled, narrow = pour(Block.opening(narrow), columns_of(body, 2, top=top))
            shown += [p for part in filled for p in part]
        pages.append(_page(job, shown))
    return pages


def _page(job: RigJob, placed: Sequence[Placed]) -> Sheet:
    def draw(page: Page) -> None:
        draw_plain_head(page, job.body(), f"{job.result.name}, continued", job.result.ranch or "")
        draw_all(page, placed)
        draw_rig_foot(page, job)

    return Sheet("further", draw, job.result.name)


def _columns(job: RigJob, plan: RigPlan, box: Box) -> tuple[list[Block], list[Block]]:
    """What to do at the left, what it takes at the right.

    The steps are set larger where there is room, and the notes stand in the column that has room for them.
    """
    tape, width = job.tape, box.width
    under = [
        gap(2.0), *rigtables.without_table(plan, width), gap(2.0), *rigtext.stems_inside(plan, tape, width)
    ]  # fmt: skip
    large, small = (
        [*rigtext.steps(plan, tape, width, style), *under] for style in (TextStyle(size_pt=9.0), BODY)
    )  # fmt: skip
    right = [
        *rigtables.gear_table(plan, tape, width), gap(2.0), *rigtext.loads(plan, tape, width), gap(2.0),
        *ground_blocks(plan, tape, width),
    ]  # fmt: skip
    notes = [gap(2.0), *rigtext.notes(plan, width)]
    ways = (
        (large, [*right, *notes]), ([*large, *notes], right), ([*small, *notes], right), (small, [*right, *notes]),
    )  # fmt: skip
    fitting = next((way for way in ways if max(map(height_of, way)) <= box.height), None)
    return _split([*small, *notes], right, box) if fitting is None else fitting


def _split(left: list[Block], right: list[Block], box: Box) -> tuple[list[Block], list[Block]]:
    """What the left column has no room for goes on under the right one."""
    _, rest = pour(left, [Box(0.0, 0.0, box.width, box.height)])
    kept = left[: len(left) - len(rest)]
    return kept, [*right, gap(2.0), *Block.opening(rest)] if rest else right


def _cautions(width: float) -> list[list[Fitted]]:
    half = (width - 4 * _CAUTION_PAD_MM) / 2
    fitted = [Fitted(lines=tuple(wrap(t, half - 3.2, BODY)), style=BODY) for t in rigtext.CAUTIONS]
    middle = (len(fitted) + 1) // 2
    return [fitted[:middle], fitted[middle:]]


def _caution_box(body: Box) -> Box:
    height = max(sum(f.height_mm + 0.8 for f in part) for part in _cautions(body.width)) + 6.4
    return Box(body.x, body.bottom - height, body.width, height)


def _draw_cautions(page: Page, box: Box) -> None:
    page.area(box, AreaLook(outline=LineLook(width_pt=0.9)))
    page.text(box.x + _CAUTION_PAD_MM, box.y + 4.0, "Cautions", TextStyle(size_pt=8.5, bold=True))
    half = (box.width - 4 * _CAUTION_PAD_MM) / 2
    for k, part in enumerate(_cautions(box.width)):
        x, top = box.x + _CAUTION_PAD_MM + k * (half + 2 * _CAUTION_PAD_MM), box.y + 5.2
        for caution in part:
            middle = top + BODY.line_mm * 0.48
            page.line((x + 0.2, x + 1.8), (middle, middle), LineLook(width_pt=1.2))
            top = page.lines(x + 3.2, top, caution) + 0.8


def no_ring_sheets(job: RigJob, none: NoRing) -> list[Sheet]:
    """The page of a place where no ring fits: why, what comes nearest, what was asked for."""
    body = job.body()
    blocks = _no_ring_blocks(job, none, body.width)
    top = body.y + 24.0
    filled, rest = pour(blocks, [Box(body.x, top, body.width, body.bottom - top)])

    def draw(page: Page) -> None:
        draw_name(page, Box(body.x, body.y, body.width, 20.0), job)
        page.line((body.x, body.right), (top - 3.0, top - 3.0), LineLook(width_pt=1.2))
        draw_all(page, filled[0])
        end = max((p.y + p.block.height_mm for p in filled[0]), default=top)
        _draw_ruled(page, Box(body.x, end + 4.0, body.width, body.bottom - end - 4.0))
        draw_rig_foot(page, job)

    return [Sheet("none", draw, job.result.name), *_further(job, _Left(wide=rest, narrow=[]))]


def _no_ring_blocks(job: RigJob, none: NoRing, width: float) -> list[Block]:
    tape, asked = job.tape, none.options
    big = TextStyle(size_pt=11.0)
    rows = [
        ("Top rope", f"{tape.stock(asked.perimeter_m)}; {100 * asked.gather:g} % of it may be gathered"),
        ("Contacts", f"at least {asked.contacts}"),
        ("Least dbh", tape.thick(asked.min_dbh_m)),
        ("Reach", f"a corner up to {tape.far(asked.reach_m)} off the bark"),
        ("Posts", "allowed" if asked.posts else "not allowed"),
        ("Looked at", f"{none.tried.stems} stems, {none.tried.usable} of them usable, {none.tried.rings} closed rings"),
    ]
    return [
        *loud("No ring fits the trees here.", width), gap(1.0),
        heading("Why", width), *paragraph(none.reason, width, big), gap(2.0),
        heading("The nearest miss", width), *paragraph(none.nearest_miss, width, big), gap(2.0),
        heading("What was asked for", width), *[pair(a, b, width) for a, b in rows], gap(3.0),
        heading("Seen on the spot", width),
    ]  # fmt: skip


def _draw_ruled(page: Page, box: Box) -> None:
    y = box.y + 6.0
    while y < box.bottom:
        page.line((box.x, box.right), (y, y), LineLook(colour=FAINT, width_pt=0.6))
        y += 9.0


def rig_notes_sheet(job: RigJob) -> Sheet:
    """A ruled page that keeps the next front on a page of odd number."""

    def draw(page: Page) -> None:
        body = job.body()
        y = draw_plain_head(page, body, "Notes", job.result.ranch or "")
        _draw_ruled(page, Box(body.x, y, body.width, body.bottom - y))
        draw_rig_foot(page, job)

    return Sheet("notes", draw)
