"""What goes to a phone or a receiver: places, routes, lines and areas on WGS 84, and names that survive there."""

from __future__ import annotations

import datetime as dt
import math
import re
import unicodedata
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import count

import numpy as np
import shapely
from numpy.typing import NDArray

from boscage.errors import InputError

WAYPOINT_KINDS: Mapping[str, str] = {
    "set": "Sets", "site": "Sites", "drop": "Drop points", "landing": "Landing places", "base": "Base",
    "gate": "Gates", "camera": "Cameras", "sign": "Sign", "hazard": "Hazards", "rescue": "Rescue",
    "other": "Other places",
}  # fmt: skip
TRACK_KINDS: Mapping[str, str] = {
    "vehicle": "By vehicle", "atv": "By ATV", "foot": "On foot", "track": "Tracks", "fence": "Fences",
    "wire": "Wires", "other": "Other lines",
}  # fmt: skip
AREA_KINDS: Mapping[str, str] = {
    "parcel": "Parcels", "no_go": "No-go areas", "ruled_out": "Ruled out", "covered": "Covered",
    "other": "Other areas",
}  # fmt: skip
WAYPOINT_WIDTH = 10
ROUTE_WIDTH = 15
TRACK_WIDTH = 20
NARROWEST = 6

_ID = re.compile(r"[A-Za-z]{1,4}-?[0-9]{1,4}[A-Za-z]?(?![A-Za-z0-9])")
_DASHES = str.maketrans(dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2015\u2212", "-"))
_LETTERS = str.maketrans({
    "ß": "ss", "ẞ": "SS", "æ": "ae", "Æ": "Ae", "ø": "o", "Ø": "O", "œ": "oe", "Œ": "Oe", "đ": "d", "Đ": "D",
    "ð": "d", "Ð": "D", "þ": "th", "Þ": "Th", "ł": "l", "Ł": "L", "ı": "i", "ħ": "h", "Ħ": "H", "’": "", "'": "",
})  # fmt: skip
_SMALL_WORDS = frozenset({"a", "an", "and", "at", "by", "in", "near", "of", "on", "the", "to"})
_NAMELESS = "Place"


@dataclass(frozen=True, kw_only=True)
class Waypoint:
    """One place.

    Attributes:
        name: As people say it, its id first: `DH-01 Creek bench`.
        lon, lat: WGS 84, degrees.
        elevation_m: Of the ground, or None where it is not known.
        kind: A key of `WAYPOINT_KINDS`; empty means `other`.
        text: Sentences for the description.

    Raises:
        InputError: The place is not on the globe, or the kind is unknown.
    """

    name: str
    lon: float
    lat: float
    elevation_m: float | None = None
    kind: str = ""
    text: str = ""

    def __post_init__(self) -> None:
        _check_kind(self.name, self.kind, WAYPOINT_KINDS)
        heights = () if self.elevation_m is None else (self.elevation_m,)
        _check_places(self.name, np.array([[self.lon, self.lat]]), np.array(heights))

    @property
    def key(self) -> tuple[str, float, float]:
        """What makes it the same waypoint wherever it is listed: name and place."""
        return self.name, self.lon, self.lat


@dataclass(frozen=True, kw_only=True)
class Route:
    """Stops in the order in which they are visited: a flight, a crew's round; one of fewer than two is not drawn."""

    name: str
    points: tuple[Waypoint, ...]
    text: str = ""

    @property
    def drawn(self) -> bool:
        """Whether there is a line from stop to stop."""
        return len(self.points) > 1


@dataclass(frozen=True, kw_only=True, eq=False)
class Track:
    """Lines on the ground: a way in, a fence.

    Attributes:
        lines: Each (N, 2) longitude and latitude, or (N, 3) with elevation in metres, NaN where it is not known; in
            the direction of travel. One of fewer than two points is not drawn.
        kind: A key of `TRACK_KINDS`; empty means `other`.

    Raises:
        InputError: A point is not on the globe, an array has another shape, or the kind is unknown.
    """

    name: str
    lines: tuple[NDArray[np.float64], ...]
    kind: str = ""
    text: str = ""

    def __post_init__(self) -> None:
        _check_kind(self.name, self.kind, TRACK_KINDS)
        for line in self.lines:
            if line.ndim != 2 or line.shape[1] not in (2, 3):
                raise InputError(
                    f"a line of {self.name!r} has the shape {line.shape}", expected="(points, 2) or (points, 3)"
                )
            heights = line[:, 2:].ravel()
            _check_places(self.name, line[:, :2], heights[~np.isnan(heights)])

    @property
    def drawn(self) -> tuple[NDArray[np.float64], ...]:
        """The lines of two points or more."""
        return tuple(line for line in self.lines if len(line) > 1)


@dataclass(frozen=True, kw_only=True, eq=False)
class Area:
    """Land.

    Attributes:
        polygons: A polygon or multipolygon, longitude and latitude; it may have holes and may be empty.
        kind: A key of `AREA_KINDS`; empty means `other`.

    Raises:
        InputError: It is no polygon, a corner is not on the globe, or the kind is unknown.
    """

    name: str
    polygons: shapely.Polygon | shapely.MultiPolygon
    kind: str = ""
    text: str = ""

    def __post_init__(self) -> None:
        _check_kind(self.name, self.kind, AREA_KINDS)
        if not isinstance(self.polygons, shapely.Polygon | shapely.MultiPolygon):
            raise InputError(
                f"{self.name!r} is a {type(self.polygons).__name__}", expected="a polygon or a multipolygon"
            )
        _check_places(self.name, shapely.get_coordinates(self.polygons), np.empty(0))

    @property
    def parts(self) -> tuple[shapely.Polygon, ...]:
        """The polygons that are not empty, outer rings counter-clockwise and holes clockwise."""
        found = (part for part in shapely.get_parts(self.polygons) if not part.is_empty)
        return tuple(shapely.orient_polygons(part) for part in found)


@dataclass(frozen=True, kw_only=True, eq=False)
class ShareSet:
    """Everything that one file for phones holds, in the order in which it is listed there.

    Attributes:
        title: Of the file.
        date: The plan's date, which stands in the file in place of the clock.
        note: Sentences for whoever opens it.
    """

    title: str
    date: dt.date
    waypoints: tuple[Waypoint, ...] = ()
    routes: tuple[Route, ...] = ()
    tracks: tuple[Track, ...] = ()
    areas: tuple[Area, ...] = ()
    note: str = ""

    @property
    def places(self) -> tuple[Waypoint, ...]:
        """All waypoints, then the routes' stops that are not among them."""
        stops = (point for route in self.routes for point in route.points)
        seen = {w.key for w in self.waypoints}
        return self.waypoints + tuple({p.key: p for p in stops if p.key not in seen}.values())

    @property
    def undrawn(self) -> tuple[str, ...]:
        """Names of what has nothing to draw: routes and tracks without a line, empty areas."""
        found = [r.name for r in self.routes if not r.drawn]
        found += [t.name for t in self.tracks if not t.drawn]
        return tuple(found + [a.name for a in self.areas if not a.parts])

    def place_names(self) -> dict[tuple[str, float, float], str]:
        """Short name of every place by its key; the same place has one name in the list and on every route."""
        keys = sorted({place.key for place in self.places})
        return dict(zip(keys, short_names([key[0] for key in keys], WAYPOINT_WIDTH), strict=True))

    def named_routes(self) -> list[tuple[Route, str]]:
        """The routes that are drawn, each with its short name."""
        names = short_names([route.name for route in self.routes], ROUTE_WIDTH)
        return [(r, name) for r, name in zip(self.routes, names, strict=True) if r.drawn]

    def named_lines(self) -> tuple[list[tuple[Track, str]], list[tuple[Area, str]]]:
        """The tracks and the areas that are drawn, each with its short name; those of areas say that they are areas."""
        called = [t.name for t in self.tracks] + [_as_area(a.name) for a in self.areas]
        names = iter(short_names(called, TRACK_WIDTH))
        tracks = [(t, name) for t, name in zip(self.tracks, names, strict=False) if t.drawn]
        return tracks, [(a, name) for a, name in zip(self.areas, names, strict=True) if a.parts]


def id_of(name: str) -> str:
    """The id that a name begins with, else nothing.

    >>> id_of("DH-01 Creek bench"), id_of("RB–03"), id_of("Creek bench 12")
    ('DH-01', 'RB-03', '')
    """
    found = _ID.match(name.strip().translate(_DASHES))
    return found.group() if found else ""


def short_names(names: Sequence[str], width: int = WAYPOINT_WIDTH) -> tuple[str, ...]:
    """Names that a receiver keeps as they are: ASCII letters, digits and hyphens, no two alike in any case of letters.

    An id at the front and a number at the end are kept, words are cut from behind; of names that would come out alike
    the first and the last word are taken, and where that does not part them they get a letter. A name keeps its short
    one however the list is ordered, and one that is short enough already stays as it is whatever else is in the list;
    only names that are wholly alike are told apart by their place in it.

    Args:
        names: In any script; letters that have no ASCII form fall away.
        width: Most characters; common receivers keep 10 of a waypoint, 15 of a route and 20 of a track (common
            practice, no source).

    Raises:
        InputError: The width is under 6.

    >>> short_names(["DH-01 Creek bench", "Bäckerwäldchen", "North Fork bench 12", "North Fork bend 12"])
    ('DH-01-Cree', 'Backerwald', 'North-12-A', 'North-12-B')
    """
    if width < NARROWEST:
        raise InputError(f"a width of {width} characters is too narrow for names", expected=f"{NARROWEST} or more")
    order = sorted(range(len(names)), key=lambda i: (_natural(names[i]), names[i]))
    plain = [_plain(name) for name in names]
    out: dict[int, str] = {}
    taken: set[str] = set()
    for i in order:
        if plain[i] == names[i].strip().replace(" ", "-") and 0 < len(plain[i]) <= width:
            _claim(i, plain[i], out, taken)
    for shorten in (_cut, _ends):
        tried = {i: shorten(names[i], width) for i in order if i not in out}
        alike = Counter(short.lower() for short in tried.values())
        for i, short in tried.items():
            if alike[short.lower()] == 1:
                _claim(i, short, out, taken)
    for i in order:
        if i not in out:
            next(lettered for lettered in _lettered(names[i], width) if _claim(i, lettered, out, taken))
    return tuple(out[i] for i in range(len(names)))


def _as_area(name: str) -> str:
    """`DH-01 covered` as `DH-01 area covered`."""
    head = id_of(name)
    return " ".join(filter(None, (head, "area", name.strip()[len(head) :])))


def _claim(i: int, short: str, out: dict[int, str], taken: set[str]) -> bool:
    """Take a short name where nobody has it."""
    free = short.lower() not in taken
    if free:
        out[i] = short
        taken.add(short.lower())
    return free


def _natural(name: str) -> tuple[tuple[str, int], ...]:
    """Sorts 2 before 10."""
    found = re.findall(r"([^0-9]*)([0-9]{0,18})", name)
    return tuple((text, int(digits or 0)) for text, digits in found)


def _plain(name: str) -> str:
    """ASCII words joined by hyphens."""
    bare = unicodedata.normalize("NFKD", name.translate(_LETTERS).translate(_DASHES))
    ascii_only = "".join(c for c in bare if not unicodedata.combining(c))
    return "-".join(re.findall(r"[A-Za-z0-9]+", ascii_only))


def _cut(name: str, width: int) -> str:
    """The id, as much of the words as has room, and a number at the end."""
    plain = _plain(name) or _NAMELESS
    if len(plain) <= width:
        return plain
    head = id_of(name)
    words = (plain[len(head) :] if plain.startswith(head) else plain).strip("-").split("-")
    ends_in_number = len(words) > 1 and (words[-1].isdigit() or len(words[-1]) == 1) and len(words[-1]) <= width // 2
    tail = words.pop() if ends_in_number else ""
    kept = [head] if head else []
    left = width - len(head) - (len(tail) + 1 if tail else 0) - (1 if head else 0)
    for word in _weighty(words):
        if len(word) <= left:
            kept.append(word)
            left -= len(word) + 1
            continue
        if left >= 3 or not kept:
            kept.append(word[: max(left, 0)])
        break
    return "-".join(part for part in (*kept, tail) if part)[:width].rstrip("-")


def _ends(name: str, width: int) -> str:
    """The id or else the first word, and the last word, each with at least half of the room if it needs it."""
    head = id_of(name)
    plain = _plain(name)
    words = _weighty((plain[len(head) :] if plain.startswith(head) else plain).strip("-").split("-"))
    first = head or words[0]
    last = words[-1][: max(width - 1 - len(first), 0 if head else width // 2)]
    if not last or (not head and len(words) == 1):
        return _cut(name, width)
    return f"{first[: width - 1 - len(last)]}-{last}"


def _weighty(words: Sequence[str]) -> list[str]:
    """Words without the small ones, unless there are no others."""
    return [w for w in words if w.lower() not in _SMALL_WORDS] or list(words)


def _lettered(name: str, width: int) -> Iterator[str]:
    """The cut name with -A, -B, ... -Z, -AA, ..., the id whole as long as it has room."""
    head = id_of(name)
    for number in count(1):
        letters = ""
        while number:
            number, digit = divmod(number - 1, 26)  # noqa: PLW2901
            letters = chr(ord("A") + digit) + letters
        room = width - len(letters) - 1
        if head and room < len(head) <= width - len(letters):
            yield head + letters
        else:
            yield f"{_cut(name, room)}-{letters}"


def _check_kind(name: str, kind: str, kinds: Iterable[str]) -> None:
    if kind and kind not in kinds:
        raise InputError(f"{name!r} has the kind {kind!r}", expected=f"one of {', '.join(kinds)}", field="kind")


def _check_places(name: str, places: NDArray[np.float64], heights: NDArray[np.float64]) -> None:
    """Longitudes and latitudes on the globe, heights that are numbers."""
    low, high = np.array([-180.0, -90.0]), np.array([180.0, 90.0])
    wrong = np.flatnonzero(~((places >= low) & (places <= high)).all(axis=1))
    if len(wrong):
        lon, lat = places[wrong[0]]
        swapped = math.isfinite(lon + lat) and abs(lat) <= 180 and abs(lon) <= 90
        raise InputError(
            f"{name!r} has a point at longitude {lon:g}, latitude {lat:g}",
            expected="degrees, longitude first, -180 to 180 and -90 to 90",
            mend="swap the two" if swapped else "bring the points to WGS 84 before they are shared",
        )
    if not np.isfinite(heights).all():
        raise InputError(f"an elevation of {name!r} is no number", expected="metres, or None where it is not known")
