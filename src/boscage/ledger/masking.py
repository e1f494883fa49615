"""What a masked copy makes of places and words: coarse squares for places, no coordinates, codes or people in words."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
import re
from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import Any, TypeVar

import shapely

from boscage.values import Bounds

T = TypeVar("T")
LEAST_LAND = 0.5
"""Land with permission that must lie in a square, as a share of the plan's own square; else a larger one is taken."""
MOST_TIMES = 64
PLACE, NAME = "[place]", "[name]"
_PLAIN = (int, float, dt.date, type(None))
ROLE_WORDS = frozenset({"crew", "operator", "supervisor", "landowner", "owner", "pilot", "nobody"})

_QUOTED = re.compile(r"(?<!\w)(?:'[^']*'|\"[^\"]*\")(?!\w)")
_PLAIN_QUOTE = re.compile(r"^['\"](?:\d{4}-\d{2}-\d{2}|\d{1,2}:\d{2}|\d{1,3}(?:\.\d)?)?['\"]$")
_CODE_WORD = re.compile(r"(?i)\b(?:code|combo|combination|keypad|password|padlock|lockbox)\b|\bpin\W{0,3}\d{3}")
_PLACES = (
    re.compile(r"(?i)\b\d{1,2}\s?[C-HJ-NP-X]\s?[A-HJ-NP-Z]{2}\s?\d{2,5}\s?\d{2,5}\b"),
    re.compile(r"[+-]?\b\d{1,3}\s?°\s?\d[\d\s.'′\"″]*[NSEW]?"),
    re.compile(r"(?i)\b[NSEW]?\s?\d{1,3}[ :]\d{1,2}\.\d{2,}\s?[NSEW]?"),
    re.compile(r"[+-]?\b\d{1,3}\.\d{3,}\b"),
    re.compile(r"(?<![\w.-])\d{6,8}(?:\.\d+)?(?![\w-])"),
)
_PHONE = re.compile(r"\+?(?:\(\d{3}\)|\d{3})[-. ]?\d{3}[-. ]\d{4}\b|\b\d{3}-\d{4}\b")


def coarse_square(x_m: float, y_m: float, side_m: float, land: Any) -> Bounds:
    """The square of the grid of whole sides, from the CRS's origin, that holds a place.

    Where less land with permission than half the square lies in it the side is doubled, so that the land that is left
    to choose from is never small.

    Args:
        x_m: East.
        y_m: North.
        side_m: Of the square.
        land: Shapely area that a set may stand on.
    """
    times = 1
    while True:
        side = side_m * times
        west, south = math.floor(x_m / side) * side, math.floor(y_m / side) * side
        square = Bounds(west, south, west + side, south + side)
        inside = shapely.intersection(land, shapely.box(square.west, square.south, square.east, square.north)).area
        if inside >= LEAST_LAND * side_m**2 or times >= MOST_TIMES:
            return square
        times *= 2


def middle_of(square: Bounds) -> tuple[float, float]:
    """Middle of a square."""
    return (square.west + square.east) / 2.0, (square.south + square.north) / 2.0


def three_figures(value: float) -> float:
    """A number to three figures; NaN and 0 stay.

    >>> three_figures(812.34), three_figures(0.01234)
    (812.0, 0.0123)
    """
    if value == 0.0 or not math.isfinite(value):
        return value
    return round(value, 2 - math.floor(math.log10(abs(value))))


@lru_cache(maxsize=256)
def _field_names(kind: type) -> tuple[str, ...] | None:
    """Fields of a dataclass that it is made from; None for any other type."""
    return tuple(f.name for f in dataclasses.fields(kind) if f.init) if dataclasses.is_dataclass(kind) else None


class Hider:
    """Takes gate codes, telephone numbers and names of people out of words, and coordinates unless places may stand.

    Args:
        people: Names as written in the log.
        places: Whether places may stand; then so may what somebody typed.
    """

    def __init__(self, people: Iterable[str] = (), *, places: bool = False) -> None:
        self._places = places
        names = {p.strip() for p in people}
        names = {n for n in names if sum(c.isalpha() for c in n) >= 2 and n.lower() not in ROLE_WORDS}
        words = "|".join(re.escape(n) for n in sorted(names, key=lambda n: (-len(n), n)))
        self._people = re.compile(rf"(?<![\w-])(?:{words})(?![\w-])") if words else None
        self.text = lru_cache(maxsize=50_000)(self._text)

    def _text(self, text: str) -> str:
        """The words that may be shared; what stood in quotes was typed by somebody and goes, but for plain figures."""
        if not self._places:
            text = _QUOTED.sub(lambda m: m[0] if _PLAIN_QUOTE.match(m[0]) else "'...'", text)
        if self._people is not None:
            text = self._people.sub(NAME, text)
        text = _PHONE.sub(NAME, text)
        for pattern in () if self._places else _PLACES:
            text = pattern.sub(PLACE, text)
        return re.sub(r"\d", "#", text) if _CODE_WORD.search(text) else text

    def every(self, value: T) -> T:
        """A value with every text in it gone through: dataclasses, tuples, lists and mappings, keys among them."""
        return self._any(value)  # type: ignore[no-any-return]

    def _any(self, value: Any) -> Any:
        if isinstance(value, str):
            return self.text(value)
        if isinstance(value, _PLAIN):
            return value
        names = _field_names(type(value))
        if names is not None:
            held = [(name, getattr(value, name)) for name in names]
            made = {name: new for name, old in held if (new := self._any(old)) is not old and new != old}
            return dataclasses.replace(value, **made) if made else value
        if isinstance(value, tuple | list):
            new = [self._any(v) for v in value]
            same = all(a is b for a, b in zip(value, new, strict=True))
            return value if same else type(value)(new)
        return self._mapping(value) if isinstance(value, Mapping) else value

    def _mapping(self, value: Mapping[Any, Any]) -> dict[Any, Any]:
        """Keys that come out alike are one, and their numbers are added."""
        out: dict[Any, Any] = {}
        for key, held in value.items():
            shown, new = self._any(key), self._any(held)
            out[shown] = out[shown] + new if isinstance(new, int | float) and shown in out else new
        return out
