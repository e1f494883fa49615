"""What moved since the run before, how firm the ranks are, and where the weights come from."""

from __future__ import annotations

import math

from boscage.model.findings import Move
from boscage.model.results import ScoutResult
from boscage.model.weights import CONSISTENT, Weighting
from boscage.sheets.evidencewords import kept_ranks, rank_words, signed
from boscage.sheets.flow import Block, Column, gap, heading, loud, paragraph, table
from boscage.sheets.groundwords import NOT_KNOWN
from boscage.sheets.rankingtable import firm_title, firm_words, with_bars
from boscage.sheets.style import SMALL, TextStyle

NO_RUN_BEFORE = "There was no run before to compare with: whether ranks moved is not known."
NO_MOVE = "No place changed its rank."
NOT_FIRM = "How firm the ranks are was not worked out."
_CELL, _STRONG = TextStyle(size_pt=7.5), TextStyle(size_pt=7.5, bold=True)


def move_blocks(result: ScoutResult, width: float) -> list[Block]:
    """A row for each place that moved."""
    title = heading("What moved since the run before, and why", width)
    if result.moves is None:
        return [title, *paragraph(NO_RUN_BEFORE, width), gap(1.5)]
    if not result.moves:
        return [title, *paragraph(NO_MOVE, width), gap(1.5)]
    fixed = (13.0, 17.0, 26.0, 26.0, 16.0)
    titles = ("now", "before", "place", "place before", "points", "why")
    widths = (*fixed, width - sum(fixed))
    columns = [
        Column(title=t, width_mm=w, style=_STRONG if t in ("now", "place") else _CELL)
        for t, w in zip(titles, widths, strict=True)
    ]
    return [*table(columns, [_move_row(m) for m in result.moves], title=title), gap(2.0)]


def _move_row(move: Move) -> tuple[str, ...]:
    now = "out" if move.rank is None else str(move.rank)
    before = "new" if move.was_rank is None else str(move.was_rank)
    points = NOT_KNOWN if math.isnan(move.points) else signed(move.points)
    return (now, before, move.site or "ranked no more", move.was_site or "not ranked", points, move.why)


def firm_blocks(result: ScoutResult, width: float) -> list[Block]:
    """How firm each rank is."""
    first = result.steadiness.first if result.steadiness else None
    title = heading("How firm the ranks are", width)
    if not any(s.standing is not None for s in result.sites):
        return [title, *paragraph(NOT_FIRM, width), gap(1.5)]
    fixed = (14.0, 34.0, 14.0, 40.0)
    titles = ("rank", "site", "score", firm_title(first), "in nine draws of ten")
    widths = (*fixed, width - sum(fixed))
    columns = [
        Column(title=t, width_mm=w, style=_STRONG if t in ("rank", "site") else _CELL)
        for t, w in zip(titles, widths, strict=True)
    ]
    rows = [
        (rank_words(s.rank, s.standing), s.site, str(s.score), "",
         NOT_KNOWN if s.standing is None else kept_ranks(s.standing)) for s in result.sites
    ]  # fmt: skip
    blocks = with_bars(table(columns, rows, title=title), [s.standing for s in result.sites], sum(fixed[:3]))
    return [*blocks, gap(0.8), *paragraph(firm_words(result), width, SMALL), gap(2.0)]


def weight_blocks(result: ScoutResult, width: float) -> list[Block]:
    """Basis, weights, consistency, and the comparison that hurts most."""
    weighting = result.weighting
    title = heading("Where the weights come from", width)
    if weighting is None:
        return [title, *paragraph("Where the weights come from is not stated.", width)]
    names = {r.name: r.title for s in result.sites for r in s.readings}
    parts = [f"{names.get(n, n)} {100 * w:.0f} %" for n, w in weighting.weights.items()]
    blocks = [title, *paragraph(f"{_basis(weighting)} {'; '.join(parts)}.", width)]
    worst = weighting.worst
    if worst is not None:
        first, second = names.get(worst.first, worst.first), names.get(worst.second, worst.second)
        blocks += loud(
            f"CONSISTENCY RATIO ABOVE {CONSISTENT:.2f}: the comparisons contradict one another. The one that hurts "
            f"most is {first} against {second}, stated as {times(worst.stated)}; the others suggest "
            f"{times(worst.fitting)}, which gives a ratio of {worst.ratio_without:.3f}.",
            width,
        )
    for note in () if weighting.random_index else weighting.notes:  # those of a table say what is said above
        blocks += paragraph(note, width, bullet=True)
    return blocks


def _basis(weighting: Weighting) -> str:
    if not weighting.random_index:
        return f"Basis: {weighting.basis}; there is no consistency to test."
    index = f"random index of {weighting.random_index}"
    return f"Basis: {weighting.basis}. Consistency ratio {weighting.ratio:.3f}, {index}."


def times(value: float) -> str:
    """A ratio as people say it.

    >>> times(3.0), times(0.2)
    ('3', '1/5')
    """
    return f"{value:.3g}" if value >= 1.0 else f"1/{1.0 / value:.3g}"
