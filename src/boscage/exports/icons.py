"""Map icons of our own, black on a white rim, told apart by shape alone; drawn here and written as PNG.

References:
    W3C (2003), Portable Network Graphics (PNG) Specification, second edition: chunks IHDR, IDAT, IEND.
"""

from __future__ import annotations

import math
import struct
import zlib
from collections.abc import Mapping
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity

PIXELS = 64
_FINER = 4
_REACH = 1.3
_RIM = 0.2


def _disc(x: float, y: float, radius: float) -> shapely.Geometry:
    return shapely.Point(x, y).buffer(radius, quad_segs=24)


def _bar(*points: tuple[float, float], half: float = 0.16) -> shapely.Geometry:
    return shapely.LineString(points).buffer(half, cap_style="flat", join_style="mitre")


def _star() -> shapely.Geometry:
    turns = [math.pi / 2 + math.pi * n / 5 for n in range(10)]
    return shapely.Polygon(
        [((0.45, 1.08)[n % 2 == 0] * math.cos(a), (0.45, 1.08)[n % 2 == 0] * math.sin(a)) for n, a in enumerate(turns)]
    )


def _toe(x: float, lean_deg: float) -> shapely.Geometry:
    """One half of a cloven track."""
    return affinity.rotate(affinity.scale(_disc(x, 0, 1.0), 0.36, 1.0), lean_deg, origin=(x, 0))


@lru_cache(maxsize=1)
def icon_shapes() -> Mapping[str, shapely.Geometry]:
    """What is black of each kind's icon, about one unit round the origin, north up."""
    letter_h = shapely.union_all(
        [_bar((-0.4, -0.6), (-0.4, 0.6)), _bar((0.4, -0.6), (0.4, 0.6)), _bar((-0.4, 0), (0.4, 0))]
    )
    posts = shapely.union_all([_bar((-0.9, -0.85), (-0.9, 0.85)), _bar((0.9, -0.85), (0.9, 0.85))])
    bars = [_bar((-0.9, 0.45), (0.9, 0.45), half=0.12), _bar((-0.9, -0.45), (0.9, -0.45), half=0.12)]
    arrow = shapely.union_all(
        [shapely.Polygon([(-0.65, 0.1), (0.65, 0.1), (0, -0.65)]), _bar((0, 1.05), (0, 0), half=0.22)]
    )
    body = shapely.union_all([shapely.box(-1.05, -0.7, 1.05, 0.5), shapely.box(-0.4, 0.4, 0.4, 0.8)])
    lens = _disc(0, -0.1, 0.45).difference(_disc(0, -0.1, 0.2))
    call = shapely.union_all([_bar((0, -0.12), (0, 0.42), half=0.13), _disc(0, -0.45, 0.15)])
    return {
        "site": shapely.box(-0.8, -0.8, 0.8, 0.8),
        "set": _disc(0, 0, 1.05).difference(_disc(0, 0, 0.7)).union(_disc(0, 0, 0.28)),
        "drop": arrow.union(_bar((-0.9, -0.95), (0.9, -0.95), half=0.14)),
        "landing": _disc(0, 0, 1.08).difference(letter_h),
        "base": _star(),
        "gate": shapely.union_all([posts, *bars, _bar((-0.9, -0.45), (0.9, 0.45), half=0.12)]),
        "camera": body.difference(lens),
        "sign": _toe(-0.5, -10.0).union(_toe(0.5, 10.0)),
        "hazard": shapely.Polygon([(-1.08, -0.85), (1.08, -0.85), (0, 1.08)]).difference(call),
        "rescue": _bar((0, -1.0), (0, 1.0), half=0.36).union(_bar((-1.0, 0), (1.0, 0), half=0.36)),
        "other": _disc(0, 0, 0.62),
    }  # fmt: skip


@lru_cache(maxsize=16)
def icon(kind: str) -> bytes:
    """The icon of a kind of waypoint as a PNG of 64 by 64 pixels with transparency."""
    shape = icon_shapes()[kind]
    rim = shape.buffer(_RIM)
    rim = shapely.union_all([shapely.Polygon(part.exterior) for part in shapely.get_parts(rim)])
    black, seen = _share(shape), _share(rim)
    grey = np.where(seen > 0, 255.0 * (1.0 - black / np.maximum(seen, 1e-9)), 255.0)
    levels = np.dstack([grey, grey, grey, 255.0 * seen])
    return png(np.clip(np.rint(levels), 0, 255).astype(np.uint8))


def _share(shape: shapely.Geometry) -> NDArray[np.float64]:
    """(64, 64) share of every pixel that the shape covers, first row north."""
    count = PIXELS * _FINER
    steps = (np.arange(count) + 0.5) / count * 2 * _REACH - _REACH
    shapely.prepare(shape)
    inside = shapely.contains_xy(shape, *np.meshgrid(steps, steps[::-1]))
    return inside.reshape(PIXELS, _FINER, PIXELS, _FINER).mean(axis=(1, 3))


def png(pixels: NDArray[np.uint8]) -> bytes:
    """(rows, columns, 4) red, green, blue and opacity as a PNG without a time."""
    rows, cols, _ = pixels.shape
    lines = np.hstack([np.zeros((rows, 1), np.uint8), pixels.reshape(rows, cols * 4)])
    header = struct.pack(">IIBBBBB", cols, rows, 8, 6, 0, 0, 0)
    chunks = [(b"IHDR", header), (b"IDAT", zlib.compress(lines.tobytes(), 9)), (b"IEND", b"")]
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body)) for name, body in chunks
    )
