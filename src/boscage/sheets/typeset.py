"""Text measured and fitted: wrapping, shrinking to a floor, and cutting with an ellipsis as the last resort."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass, replace
from functools import lru_cache

from matplotlib.font_manager import FontProperties, fontManager, get_font
from matplotlib.textpath import text_to_path

from boscage.sheets.style import FLOOR_PT, MM_PER_PT, TextStyle

_UNIT_PT = 100.0
_SLACK = 1.004
ELLIPSIS = "…"


@lru_cache(maxsize=4)
def _properties(bold: bool, italic: bool) -> FontProperties:
    return FontProperties(
        family="DejaVu Sans",
        weight="bold" if bold else "normal",
        style="oblique" if italic else "normal",
        size=_UNIT_PT,
    )


@lru_cache(maxsize=1)
def _glyphs() -> frozenset[int]:
    return frozenset(get_font(fontManager.findfont(_properties(False, False))).get_charmap())


def printable(text: object) -> str:
    """Text in one line that the font can print: composed letters, no control characters, □ for missing glyphs.

    Runs of spaces inside the text stay: they part latitude from longitude.
    """
    composed = unicodedata.normalize("NFC", str(text))
    spaced = "".join(" " if unicodedata.category(c) in ("Cc", "Zl", "Zp") else c for c in composed)
    drawn = "".join(c if ord(c) in _glyphs() else "□" for c in spaced if unicodedata.category(c) != "Cf")
    return drawn.strip()


@lru_cache(maxsize=60_000)
def _unit_width(text: str, bold: bool, italic: bool) -> float:
    """Width of a text at 1 pt, mm."""
    width, _, _ = text_to_path.get_text_width_height_descent(text, _properties(bold, italic), False)
    return width / _UNIT_PT * MM_PER_PT * _SLACK


def text_width_mm(text: str, style: TextStyle) -> float:
    """Width of one line of text, mm."""
    return _unit_width(text, style.bold, style.italic) * style.size_pt if text else 0.0


def _space_mm(style: TextStyle) -> float:
    return text_width_mm("n n", style) - text_width_mm("nn", style)


def _pieces(word: str, width_mm: float, style: TextStyle) -> list[str]:
    """A word broken into pieces that fit the width; at least one letter each."""
    if text_width_mm(word, style) <= width_mm:
        return [word]
    pieces, piece = [], ""
    for letter in word:
        if piece and text_width_mm(piece + letter, style) > width_mm:
            pieces.append(piece)
            piece = ""
        piece += letter
    return [*pieces, piece]


def wrap(text: str, width_mm: float, style: TextStyle) -> list[str]:
    """Lines of at most the given width; words longer than a line are broken. Empty text gives no line."""
    space = _space_mm(style)
    lines: list[str] = []
    line, used = "", 0.0
    for word in printable(text).split(" "):
        if not word and not line:
            continue
        for piece in _pieces(word, width_mm, style):
            long = text_width_mm(piece, style)
            if line and used + space + long > width_mm:
                lines.append(line)
                line, used = piece, long
            else:
                line, used = (f"{line} {piece}", used + space + long) if line else (piece, long)
    return [*lines, line] if line else lines


@dataclass(frozen=True, kw_only=True)
class Fitted:
    """Text as it will be set.

    Attributes:
        lines: One entry a line.
        style: The style with the size that was found.
        cut: Whether an ellipsis stands for some of the text.
    """

    lines: tuple[str, ...]
    style: TextStyle
    cut: bool = False

    @property
    def height_mm(self) -> float:
        """Height of all lines, mm."""
        return len(self.lines) * self.style.line_mm

    @property
    def width_mm(self) -> float:
        """Width of the longest line, mm."""
        return max((text_width_mm(line, self.style) for line in self.lines), default=0.0)


def fit(text: str, width_mm: float, style: TextStyle, *, lines: int = 1, floor_pt: float = FLOOR_PT) -> Fitted:
    """Fit text into a width and a number of lines: shrink to the floor, then cut with an ellipsis."""
    size = style.size_pt
    while True:
        tried = replace(style, size_pt=size)
        wrapped = wrap(text, width_mm, tried)
        if len(wrapped) <= lines:
            return Fitted(lines=tuple(wrapped), style=tried)
        if size <= floor_pt:
            break
        size = max(floor_pt, size - 0.5)
    kept = wrapped[:lines]
    last = kept[-1]
    while last and text_width_mm(last + ELLIPSIS, tried) > width_mm:
        last = last[:-1].rstrip()
    return Fitted(lines=(*kept[:-1], last + ELLIPSIS), style=tried, cut=True)
