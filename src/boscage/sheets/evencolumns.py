"""Blocks in columns of even height."""

from __future__ import annotations

from collections.abc import Sequence

from boscage.sheets.flow import Block, height_of, pour
from boscage.sheets.page import Box

_STEP_MM = 0.5


def columns_between(x: float, right: float, count: int, *, gutter_mm: float) -> list[tuple[float, float]]:
    """Left edge and width of equal columns between two edges, mm."""
    width = (right - x - (count - 1) * gutter_mm) / count
    return [(x + k * (width + gutter_mm), width) for k in range(count)]


def even_height(blocks: Sequence[Block], count: int, *, most_mm: float = float("inf")) -> float | None:
    """Least height, to half a millimetre, at which that many columns hold all blocks, or None where `most_mm` does not.

    No column is ever lower than the highest block.
    """
    if not blocks:
        return 0.0
    height = max(height_of(blocks) / count, *(b.height_mm for b in blocks))
    while height <= most_mm + 1e-9:
        if not pour(blocks, [Box(0.0, 0.0, 1.0, height)] * count)[1]:
            return height
        height += _STEP_MM
    return None
