"""Patterns of the map of use: the more ink the more use, and one of their own for ground searched and not looked at."""

from __future__ import annotations

from collections.abc import Mapping

from boscage.sheets.groundpatterns import Pattern

_DOTS = ("........", "..##....", "..##....", "........", "........", "......##", "......##", "........")
_SLANTS = tuple("".join("#" if (row - col) % 7 == 0 else "." for col in range(7)) for row in range(7))
_NET = tuple("".join("#" if row in (col, 7 - col) or row == 0 else "." for col in range(8)) for row in range(8))
_GRAINS = ("....#...........", "................", "................", "................", "............#...",
           "................", "................", "................")  # fmt: skip
_MARK = ("..###...", ".#...#..", ".....#..", "....#...", "...#....", "...#....", "........", "...#....")
_QUESTIONS = tuple(
    [row + "." * 24 for row in _MARK] + ["." * 32] * 6 + ["." * 16 + row + "." * 8 for row in _MARK] + ["." * 32] * 6
)
_SEARCHED = ("......", "......", "######", "......")

NOT_LOOKED = "not looked"
USE_PATTERNS: Mapping[str, Pattern] = {
    "high use": Pattern(tile=_NET, paper=150, mark=30, warm=False),
    "middle use": Pattern(tile=_SLANTS, paper=190, mark=50, warm=False),
    "low use": Pattern(tile=_DOTS, paper=222, mark=60, warm=False),
    "trace": Pattern(tile=_GRAINS, paper=240, mark=50, warm=False),
    "looked, no sign": Pattern(tile=_SEARCHED, paper=255, mark=80, warm=False),
    NOT_LOOKED: Pattern(tile=_QUESTIONS, paper=255, mark=90, warm=False),
}
"""Of each class on the map of use, high to nothing, then what nobody looked at."""
