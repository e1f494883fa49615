"""The ranking as a table: each site with how firm its rank is, and below it what was drawn, chosen and moved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from boscage.model.findings import Move, Standing
from boscage.model.layers import LAYER_TITLES
from boscage.model.results import ScoutResult
from boscage.sheets.evidencewords import drawn_words, known_percent, move_words, rank_words, together_words
from boscage.sheets.flow import Block, Column, gap, heading, loud, paragraph, table
from boscage.sheets.page import Box, Page
from boscage.sheets.style import BOLD, SMALL, AreaLook, LineLook, TextStyle

FIRST_FILL, LIGHT_FILL = "#3c3c3c", "#c4c4c4"
_FIXED, _FIRM_FIXED = (10.0, 20.0, 13.0, 34.0), (10.0, 18.0, 12.0, 28.0)
_FIRM_MM, _BAR_MM, _BAR_HIGH_MM = 28.0, 13.0, 2.5
_SHARES = TextStyle(size_pt=6.5)
_SHOWN_MOVES = 2


def ranking(result: ScoutResult, width: float) -> list[Block]:
    """The table of sites, or why there is none."""
    if not result.sites:
        reason = result.reason or "no reason was given"
        return [heading("No site can be ranked", width), *loud(reason, width), *_below(result, width)]
    is_firm = any(s.standing is not None for s in result.sites)
    first = result.steadiness.first if result.steadiness else None
    *left, parcel = _FIRM_FIXED if is_firm else _FIXED
    fixed = [*left, *([_FIRM_MM] if is_firm else []), parcel]
    titles = ["rank", "site", "score", *([firm_title(first)] if is_firm else []), "parcel"]
    columns = [
        Column(title=t, width_mm=w, style=BOLD if t in ("rank", "site", "score") else TextStyle(),
               lines=2 if t == "site" else None)
        for t, w in zip(titles, fixed, strict=True)
    ]  # fmt: skip
    reason = "main reason (all of them on the site's own page)"
    style = TextStyle(size_pt=7.0) if is_firm else TextStyle()
    columns.append(Column(title=reason, width_mm=width - sum(fixed), lines=2, style=style))
    rows = [
        (rank_words(s.rank, s.standing), s.site, f"{s.score}", *([""] if is_firm else []), s.parcel,
         s.why[0] if s.why else "no reason given") for s in result.sites
    ]  # fmt: skip
    title = heading(f"Ranked sites: {len(rows)} (score out of 100)", width)
    blocks = table(columns, rows, title=title)
    if is_firm:
        blocks = with_bars(blocks, [s.standing for s in result.sites], sum(fixed[:3]))
    return [*blocks, gap(1.0), *_below(result, width)]


def firm_title(first: int | None) -> str:
    """Title of the column with bars."""
    return "first, then first few" if first is None else f"first, first {first}"


def with_bars(blocks: Sequence[Block], standings: Sequence[Standing | None], at_mm: float) -> list[Block]:
    """A table, its head first, with a bar of firmness in each row at a distance from its left edge."""
    head, *rows = blocks

    def barred(block: Block, standing: Standing | None) -> Block:
        inner = block.draw

        def draw(page: Page, x: float, y: float) -> None:
            inner(page, x, y)
            draw_firmness(page, x + at_mm, y + 0.75, standing)

        return replace(block, draw=draw)

    return [head, *(barred(b, s) for b, s in zip(rows, standings, strict=True))]


def draw_firmness(page: Page, x: float, y: float, standing: Standing | None) -> None:
    """Share of draws in which a site is first, dark, and among the first few, light; both in figures behind it."""
    if standing is None:
        page.text(x, y + 2.1, "not known", _SHARES)
        return
    bar = Box(x, y, _BAR_MM, _BAR_HIGH_MM)
    for share, fill in ((standing.first_share, LIGHT_FILL), (standing.top_rank_share, FIRST_FILL)):
        page.area(Box(x, y, _BAR_MM * min(max(share, 0.0), 1.0), _BAR_HIGH_MM), AreaLook(fill=fill))
    page.area(bar, AreaLook(outline=LineLook(width_pt=0.5)))
    words = f"{known_percent(standing.top_rank_share)}, {known_percent(standing.first_share)} %"
    page.text(bar.right + 1.0, y + 2.1, words, _SHARES)


def firm_words(result: ScoutResult) -> str:
    """What the bars show."""
    first = "first few" if result.steadiness is None else f"first {result.steadiness.first}"
    tied = ""
    if any(s.standing is not None and "=" in s.standing.label for s in result.sites):
        tied = " Sites with '=' could as well be swapped; discs on the maps number the rows."
    return (
        f"Bar: share of draws in which a site is first (dark) and among the {first} (light). "
        f"{drawn_words(result.steadiness)}{tied}"
    )


def _below(result: ScoutResult, width: float) -> list[Block]:
    """Lines under the table: what was drawn, which sets together, what moved, what is not mapped."""
    blocks = []
    if any(s.standing is not None for s in result.sites):
        blocks += paragraph(firm_words(result), width, SMALL)
    if result.together is not None:
        blocks += paragraph(together_words(result.together), width, BOLD)
    if result.moves:
        blocks += paragraph(changed_words(result.moves), width)
    return [*blocks, *_not_mapped(result, width)]


def changed_words(moves: Sequence[Move]) -> str:
    """The first moves since the run before; the rest stands on the evidence sheet."""
    shown = "; ".join(move_words(m) for m in moves[:_SHOWN_MOVES])
    left = len(moves) - _SHOWN_MOVES
    rest = f"; {left} more on the evidence sheet" if left > 0 else ""
    return f"Changed since the run before: {shown}{rest}."


def _not_mapped(result: ScoutResult, width: float) -> list[Block]:
    """A loud line on the layers that are missing; the full account follows on the next page."""
    names = [LAYER_TITLES.get(n, n) for n in result.missing_layers]
    if not names:
        return paragraph("Rules and data: next page.", width, SMALL)
    text = f"NOT MAPPED: {', '.join(names)}. That is NOT the same as none. Look on the ground. See the next page."
    return loud(text, width)
