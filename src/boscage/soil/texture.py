"""Texture classes of the fine earth: which class a sand, silt and clay make, and the middle of a class.

The twelve classes are those of the Soil Survey Manual (USDA Handbook 18), chapter 3, as inequalities in per cent.
"""

from __future__ import annotations

import functools
import re

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boscage.errors import InputError

TEXTURES = (
    "sand", "loamy sand", "sandy loam", "loam", "silt loam", "silt", "sandy clay loam", "clay loam", "silty clay loam",
    "sandy clay", "silty clay", "clay",
)  # fmt: skip
_SUM_TOLERANCE = 0.1
_SIZES = re.compile(r"\b(very fine|fine|coarse|very coarse)\s+(?=(sand\b|sandy|loamy))")
_ROCKS = re.compile(
    r"\b(very |extremely )?(gravelly|cobbly|stony|bouldery|channery|flaggy|fine gravelly|medium gravelly|"
    r"coarse gravelly|parachannery|paragravelly|mucky|peaty)\s+"
)


def texture_index(sand_pct: ArrayLike, clay_pct: ArrayLike) -> NDArray[np.int64]:
    """Index into `TEXTURES`; silt is the rest to 100 %. -1 where a value is NaN.

    Args:
        sand_pct, clay_pct: Per cent of the fine earth by mass, broadcast against each other.

    Raises:
        InputError: A value is outside 0..100, or the two sum to over 100.
    """
    s, c = np.broadcast_arrays(np.asarray(sand_pct, dtype=float), np.asarray(clay_pct, dtype=float))
    known = np.isfinite(s) & np.isfinite(c)
    if (known & ((s < 0.0) | (c < 0.0) | (s + c > 100.0 + _SUM_TOLERANCE))).any():
        raise InputError("sand and clay are not shares of one soil", expected="0 to 100 %, together at most 100 %")
    si = np.maximum(100.0 - s - c, 0.0)
    rules = (
        si + 1.5 * c < 15,
        (si + 1.5 * c >= 15) & (si + 2 * c < 30),
        ((c >= 7) & (c < 20) & (s > 52) & (si + 2 * c >= 30)) | ((c < 7) & (si < 50) & (si + 2 * c >= 30)),
        (c >= 7) & (c < 27) & (si >= 28) & (si < 50) & (s <= 52),
        ((si >= 50) & (c >= 12) & (c < 27)) | ((si >= 50) & (si < 80) & (c < 12)),
        (si >= 80) & (c < 12),
        (c >= 20) & (c < 35) & (si < 28) & (s > 45),
        (c >= 27) & (c < 40) & (s > 20) & (s <= 45),
        (c >= 27) & (c < 40) & (s <= 20),
        (c >= 35) & (s > 45),
        (c >= 40) & (si >= 40),
        (c >= 40) & (s <= 45) & (si < 40),
    )
    return np.where(known, np.select(rules, range(len(TEXTURES)), default=-1), -1)


def texture_class(sand_pct: float, clay_pct: float) -> str:
    """The class of one soil, '' where a value is NaN.

    >>> texture_class(40.0, 20.0)
    'loam'
    """
    index = int(texture_index(sand_pct, clay_pct))
    return TEXTURES[index] if index >= 0 else ""


def plain_texture(text: str) -> str:
    """A texture in anybody's words as one of `TEXTURES`, '' where it is none.

    Words for rock fragments and for the size of the sand are passed over.

    >>> plain_texture("Very gravelly fine sandy loam"), plain_texture("Rock")
    ('sandy loam', '')
    """
    words = re.sub(r"[\s_\-]+", " ", text.strip().lower())
    words = _SIZES.sub("", _ROCKS.sub("", words)).strip()
    return words if words in TEXTURES else ""


@functools.cache
def _middles() -> tuple[tuple[float, float], ...]:
    sand, clay = np.meshgrid(np.arange(101.0), np.arange(101.0))
    inside = sand + clay <= 100.0
    sand, clay = sand[inside], clay[inside]
    index = texture_index(sand, clay)
    return tuple((float(sand[index == k].mean()), float(clay[index == k].mean())) for k in range(len(TEXTURES)))


def class_middle(name: str) -> tuple[float, float]:
    """Sand and clay, per cent, in the middle of a class: the mean of its points with whole percentages.

    Raises:
        InputError: The class is none of the twelve.
    """
    if name not in TEXTURES:
        raise InputError(f"the texture is {name!r}", expected=f"one of {', '.join(TEXTURES)}", field="texture")
    return _middles()[TEXTURES.index(name)]
