"""Evidence and sets together: what moved and why, use, cameras, groups, bait, which sites together, the weights."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from boscage.model.findings import Evidence
from boscage.model.portfolio import Portfolio
from boscage.model.results import Backdrop, ScoutResult
from boscage.sheets.baittext import bait_blocks
from boscage.sheets.cameratext import camera_blocks
from boscage.sheets.firmtext import firm_blocks, move_blocks, weight_blocks
from boscage.sheets.flow import Block, gap, heading, loud, paragraph
from boscage.sheets.grouptext import group_blocks
from boscage.sheets.mapblock import MapKeyed, map_block, room_below
from boscage.sheets.page import Box, Page
from boscage.sheets.running import body_box
from boscage.sheets.setsmap import sets_map
from boscage.sheets.setstext import NOT_WORKED_OUT, lead_blocks, sets_blocks
from boscage.sheets.sheet import HEAD_MM, Sheet, flowing_sheets
from boscage.sheets.usekey import use_map
from boscage.sheets.usemap import camera_marks
from boscage.values import Printer

TITLE = "Evidence and sets together"
NO_EVIDENCE = "NO SIGN AND NO CAMERAS are in the plan: use of the ranch is not known."
AGES: Mapping[str, str] = {"A": "under a day old", "B": "1 to 3 days", "C": "4 to 14 days", "D": "older"}
_LEAST_MAP_MM, _MOST_MAP_MM = 120.0, 200.0


def plan_evidence(result: ScoutResult, overview: Backdrop) -> list[Sheet]:
    """The page or pages; none where there is neither evidence, nor moves, nor firmness, nor sets together."""
    is_firm = any(s.standing is not None for s in result.sites)
    if result.evidence is None and result.moves is None and result.together is None and not is_firm:
        return []
    blank = Page(result.plan.paper)
    body = body_box(blank.width_mm, blank.height_mm)
    box = Box(body.x, body.y + HEAD_MM, body.width, body.height - HEAD_MM)
    blocks = move_blocks(result, box.width)
    blocks += _evidence(result, overview, box, blocks)
    blocks += _together(result, overview, box, blocks)
    blocks += [gap(3.0), *firm_blocks(result, box.width), *weight_blocks(result, box.width)]
    kind = Sheet("evidence", lambda page: None)
    head = (TITLE, f"{result.plan.ranch.name}, plan of {result.plan.date.isoformat()}")
    return flowing_sheets(result, blocks, head, columns=1, sheet=kind, later=f"{TITLE}, continued")


def _evidence(result: ScoutResult, overview: Backdrop, box: Box, above: list[Block]) -> list[Block]:
    """Map of use, cameras, groups, bait."""
    evidence, printer = result.evidence, Printer(result.plan.ranch.units)
    if evidence is None:
        return [heading("Use of the ranch", box.width), *loud(NO_EVIDENCE, box.width), gap(2.0)]
    lead = [heading("Use of the ranch: weighted fresh sign, visits of cameras counted in", box.width),
            *_said(evidence, printer, box.width)]  # fmt: skip
    marks, _ = camera_marks(evidence, result.sites)
    blocks = lead
    if marks or evidence.effort is not None or np.isfinite(evidence.density).any():
        blocks = _with_map(result, overview, use_map(result, overview), box, (above, lead))
    for note in evidence.notes:
        blocks += paragraph(note, box.width, bullet=True)
    blocks += [gap(2.0), *camera_blocks(evidence, box.width), *group_blocks(evidence, box.width)]
    return [*blocks, *bait_blocks(result, box.width)]


def _said(evidence: Evidence, printer: Printer, width: float) -> list[Block]:
    """Signs by age, how wide the kernel is, whether anybody looked."""
    classes = "; ".join(f"{AGES.get(c, 'age not known')} ({c}): {n}" for c, n in evidence.classes.items())
    parts = [f"Signs by age: {classes or 'none'}."]
    if evidence.bandwidth is not None:
        note = f" {evidence.bandwidth.note}" if evidence.bandwidth.note else ""
        parts.append(f"Bandwidth {printer.length(evidence.bandwidth.metres)}, rule: {evidence.bandwidth.rule}.{note}")
    blocks = paragraph(" ".join(parts), width)
    if not np.isfinite(evidence.density).any():
        blocks += loud("NEITHER SIGN NOR CAMERAS: use is not known.", width)
    if evidence.effort is None:
        blocks += loud("NO SEARCHED LINE is in the plan: ground without sign is unknown, NOT ground without animals.",
                       width)  # fmt: skip
    else:
        for note in evidence.effort.notes:
            blocks += paragraph(note, width, bullet=True)
    return blocks


def _together(result: ScoutResult, overview: Backdrop, box: Box, above: list[Block]) -> list[Block]:
    """Sets together: what is covered, the map, tables, rounds."""
    together, printer = result.together, Printer(result.plan.ranch.units)
    title = heading("Sites together", box.width)
    if together is None:
        return [title, *paragraph(NOT_WORKED_OUT, box.width)]
    lead = [title, *lead_blocks(together, printer, box.width)]
    if not isinstance(together.chosen, Portfolio):
        return [*lead, *sets_blocks(result, together, box.width)]
    keyed = sets_map(result, overview, together)
    return [*_with_map(result, overview, keyed, box, (above, lead)), *sets_blocks(result, together, box.width)]


def _with_map(
    result: ScoutResult, overview: Backdrop, keyed: MapKeyed, box: Box, text: tuple[list[Block], list[Block]]
) -> list[Block]:
    """Text that leads to a map and the map below it: in the room left on the page, or on a page of their own."""
    above, lead = text
    left = room_below([*above, *lead], box)
    if left < _LEAST_MAP_MM:
        left = box.height - sum(b.height_mm for b in lead)
        lead = _kept(lead)
    height = min(left, _MOST_MAP_MM)
    block = map_block(result, overview, keyed, Box(box.x, 0.0, box.width, height - 2.0))
    return [*lead, block]


def _kept(blocks: list[Block]) -> list[Block]:
    """Blocks that stay together with what follows them."""
    return [replace(b, keep_next=True) for b in blocks]
