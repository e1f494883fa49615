"""Colours of the map on a screen, by palette: every ramp darkens step by step and holds its order without colour."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from boscage.sheets.style import BLUE, BROWN, CANOPY_TINTS, FAINT, GREY, INK, PALE

Tint = tuple[int, int, int]


@dataclass(frozen=True, kw_only=True)
class ScreenColours:
    """One palette.

    Attributes:
        score: A tint a class of score, low to high.
        score_steps: Scores between the classes, of 100.
        canopy: A tint a class of canopy, open to closed, and one for no data; grey where the score is shown beside it.
        canopy_grey: The same without colour.
        dots, gaps: Of the dots over dense canopy, and of the diagonals where the canopy is unknown.
        hatch: Of the lines over ground that is ruled out, where they are painted.
        shade: Least and greatest light of the relief.
        inks: Colours of the sheets' looks that are drawn in another colour.
        widen: Times that lines are as wide, and letters as high, as on the sheets.
    """

    score: tuple[Tint, ...]
    score_steps: tuple[float, ...]
    canopy: tuple[Tint, ...]
    canopy_grey: tuple[Tint, ...]
    dots: Tint
    gaps: Tint = (176, 176, 176)
    hatch: Tint = (111, 111, 111)
    shade: tuple[float, float] = (0.83, 1.0)
    inks: Mapping[str, str] = field(default_factory=dict)
    widen: float = 1.0

    def __post_init__(self) -> None:
        assert len(self.score) == len(self.score_steps) + 1, "a tint a class"
        assert len(self.canopy) == len(self.canopy_grey) == len(CANOPY_TINTS) + 1, "a tint a class, and one for no data"


def _tints(words: str) -> tuple[Tint, ...]:
    """Tints from `rrggbb` words."""
    return tuple((int(w[:2], 16), int(w[2:4], 16), int(w[4:], 16)) for w in words.split())


_TENS = (20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0)

COLOURS: Mapping[str, ScreenColours] = {
    "standard": ScreenColours(
        score=_tints("fbf5e0 ede5bd ded49a c2c78e 9fba8c 7cac8a 5b9c8b 2f8c8c"), score_steps=_TENS,
        canopy=(*CANOPY_TINTS, (250, 250, 250)), canopy_grey=_tints("fafafa eeeeee e2e2e2 d6d6d6 fdfdfd"),
        dots=(96, 112, 84),
    ),
    "contrast": ScreenColours(
        score=_tints("fffbe6 f3dfa0 e2c45a d29f3c c07a1e"), score_steps=(30.0, 45.0, 60.0, 75.0),
        canopy=_tints("ffffff d9e4d5 b4c9ad 8fae86 ffffff"), canopy_grey=_tints("ffffff e0e0e0 c4c4c4 a8a8a8 ffffff"),
        dots=(40, 40, 40), gaps=(90, 90, 90), hatch=(48, 48, 48), shade=(0.93, 1.0), widen=1.35,
        inks={GREY: "#000000", "#6f6f6f": "#303030", PALE: "#303030", FAINT: "#8a8a8a", INK: "#000000",
              BROWN: "#4a3c20", BLUE: "#003a66", "#a8a8a8": "#909090"},
    ),
    "deuteran": ScreenColours(
        score=_tints("fff3b8 eee3a4 ded490 c5c196 a6aca6 8698b1 6783b3 3f6fb5"), score_steps=_TENS,
        canopy=_tints("fdfdf6 e1e8e0 c5d4ca a9c0b4 ffffff"), canopy_grey=_tints("fafafa eaeaea dadada cacaca fdfdfd"),
        dots=(84, 96, 104), inks={BROWN: "#6b5c45", BLUE: "#1d3f7a"},
    ),
}  # fmt: skip
