"""Patterns of the ground sheet, painted pixel by pixel: one kind each, and the more ink the harder the ground.

Each is read without colour and from a photocopy: by its marks, and by how dark it is. What is not known is the only
one on white paper and the only one with question marks.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boscage.sheets.page import Box, Page
from boscage.sheets.style import IMAGE_DPI, AreaLook, LineLook

LEAST_STEP = 0.05
"""Least step of mean ink (1 is black) from one class to the next harder one, and between the answers on posts."""
UNKNOWN = "unknown"
_WARM = np.array([1.02, 1.0, 0.93])
Tile = tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Pattern:
    """Marks on paper.

    Attributes:
        tile: Rows of one repeat, `#` where a mark is.
        paper, mark: Grey levels, 0 black to 255 white.
        warm: Whether it is tinted like earth; the greys stay as they are.
    """

    tile: Tile
    paper: int
    mark: int = 60
    warm: bool = True

    @property
    def mask(self) -> NDArray[np.bool_]:
        """One repeat, True where a mark is."""
        return np.array([[letter == "#" for letter in row] for row in self.tile])

    @property
    def palette(self) -> NDArray[np.uint8]:
        """(2, 3) colours of paper and mark."""
        tint = _WARM if self.warm else np.ones(3)
        return np.clip(np.rint(np.outer([self.paper, self.mark], tint)), 0, 255).astype(np.uint8)

    def paint(self, shape: tuple[int, int]) -> NDArray[np.uint8]:
        """(rows, cols, 3) pixels of the pattern."""
        return self.palette[self._marks(shape).astype(np.intp)]

    def _marks(self, shape: tuple[int, int]) -> NDArray[np.bool_]:
        mask = self.mask
        repeats = [-(-n // m) for n, m in zip(shape, mask.shape, strict=True)]
        return np.tile(mask, repeats)[: shape[0], : shape[1]]


def _staggered(tile: Tile) -> Tile:
    """The tile with a second row of it below, moved by half its width."""
    half = len(tile[0]) // 2
    return (*tile, *(row[half:] + row[:half] for row in tile))


_WAVES = ("............", "....####....", "..##....##..", "##........##", "............", "............",
          "............", "............", "............", "............", "............")  # fmt: skip
_DASHES = _staggered(("............", ".######.....", "............", "............"))
_DOTS = _staggered(("........", "..##....", "..##....", "........"))
_SLANTS = tuple("".join("#" if row == col else "." for col in range(8)) for row in range(8))
_NET = tuple("".join("#" if row in (col, 7 - col) else "." for col in range(8)) for row in range(8))
_BRICKS = _staggered(("##############", "#.............", "#.............", "#.............", "#............."))
_STARS = _staggered(("##########", "####..####", "####..####", "##......##", "##......##", "####..####", "####..####"))
_QUESTIONS = _staggered((
    "..................", "......#####.......", ".....##...##......", "..........##......", ".........##.......",
    "........##........", "........##........", "..................", "........##........", "........##........",
    "..................",
))  # fmt: skip
_POSTS = _staggered(("...........", ".....#.....", ".....#.....", ".....#.....", ".....#.....", "....###....",
                     "..........."))  # fmt: skip
_STRIPES = ("##.......",)
_CROSSES = (
    "############", "##..####..##", "##...##...##", "###......###", "####....####", "####....####", "###......###",
    "##...##...##", "##..####..##", "############", "############", "############",
)  # fmt: skip

_NOT_KNOWN = Pattern(tile=_QUESTIONS, paper=255, mark=70, warm=False)
RESISTANCE_PATTERNS: Mapping[str, Pattern] = {
    "extremely low": Pattern(tile=_WAVES, paper=253),
    "very low": Pattern(tile=_DASHES, paper=244),
    "low": Pattern(tile=_DOTS, paper=228),
    "moderate": Pattern(tile=_SLANTS, paper=212),
    "high": Pattern(tile=_NET, paper=192),
    "very high": Pattern(tile=_BRICKS, paper=172),
    "extremely high": Pattern(tile=_STARS, paper=226, mark=72),
    UNKNOWN: _NOT_KNOWN,
}
"""By penetration resistance class, soft to hard, then what is not known."""
POSTS_PATTERNS: Mapping[str, Pattern] = {
    "yes": Pattern(tile=_POSTS, paper=250),
    "doubtful": Pattern(tile=_STRIPES, paper=226),
    "no": Pattern(tile=_CROSSES, paper=236, mark=84),
    UNKNOWN: _NOT_KNOWN,
}
"""By the answer on posts, in the order of `VERDICTS`."""


def paint(classes: NDArray[np.intp], patterns: Mapping[str, Pattern]) -> NDArray[np.uint8]:
    """(rows, cols, 3) image of classes: index into `patterns`, negative for bare paper."""
    image = np.full((*classes.shape, 3), 255, dtype=np.uint8)
    for index, pattern in enumerate(patterns.values()):
        here = classes == index
        if here.any():
            image[here] = pattern.paint((classes.shape[0], classes.shape[1]))[here]
    return image


def draw_swatch(page: Page, box: Box, pattern: Pattern) -> None:
    """A piece of a pattern with an outline."""
    shape = (round(box.height / 25.4 * IMAGE_DPI), round(box.width / 25.4 * IMAGE_DPI))
    page.axes(box).imshow(pattern.paint(shape), interpolation="none", aspect="auto")
    page.area(box, AreaLook(outline=LineLook(width_pt=0.5)))
