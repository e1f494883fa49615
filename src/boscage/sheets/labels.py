"""Labels on a map that never overlap one another and never leave the frame."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

Rect = tuple[float, float, float, float]


@dataclass(frozen=True)
class Spot:
    """Where a label goes: its middle in mm from the frame's top left."""

    x: float
    y: float


class Placer:
    """Keeps the rectangles that are taken on a map of a given paper size, mm, y downward."""

    def __init__(self, width_mm: float, height_mm: float, *, edge_mm: float = 0.6) -> None:
        self.width_mm, self.height_mm, self.edge_mm = width_mm, height_mm, edge_mm
        self.taken: list[Rect] = []
        self.marked: list[Rect] = []

    def inside(self, rect: Rect) -> bool:
        """Whether a rectangle (left, top, right, bottom) lies in the frame."""
        left, top, right, bottom = rect
        edge = self.edge_mm
        return left >= edge and top >= edge and right <= self.width_mm - edge and bottom <= self.height_mm - edge

    def mark(self, x: float, y: float, size: float) -> None:
        """Mark a square that labels cover only when there is no other place."""
        self.marked.append(_rect(x, y, size, size))

    def bare(self, rect: Rect) -> bool:
        """Whether a rectangle is free and covers nothing that is marked."""
        left, top, right, bottom = rect
        return self.free(rect) and not any(
            left < r and west < right and top < b and north < bottom for west, north, r, b in self.marked
        )

    def free(self, rect: Rect) -> bool:
        """Whether a rectangle lies in the frame and touches none that is taken."""
        left, top, right, bottom = rect
        return self.inside(rect) and not any(
            left < r and l < right and top < b and t < bottom
            for l, t, r, b in self.taken  # noqa: E741
        )

    def take(self, x: float, y: float, width: float, height: float) -> None:
        """Mark the rectangle round a middle as taken."""
        self.taken.append(_rect(x, y, width, height))

    def place(self, places: Iterable[tuple[float, float]], width: float, height: float) -> Spot | None:
        """Take the first of several middles that covers no mark, else the first free one, or none."""
        free = [(x, y) for x, y in places if self.free(_rect(x, y, width, height))]
        for x, y in free:
            if self.bare(_rect(x, y, width, height)):
                self.take(x, y, width, height)
                return Spot(x, y)
        if not free:
            return None
        self.take(*free[0], width, height)
        return Spot(*free[0])

    def beside(self, x: float, y: float, width: float, height: float, *, off_mm: float) -> Spot | None:
        """Take a free rectangle beside a point: right, left, above, below, then the corners."""
        dx, dy = width / 2 + off_mm, height / 2 + off_mm
        around = ((dx, 0), (-dx, 0), (0, -dy), (0, dy), (dx, -dy), (dx, dy), (-dx, -dy), (-dx, dy))
        return self.place([(x + ax, y + ay) for ax, ay in around], width, height)

    def must_place(self, x: float, y: float, size: float) -> Spot | None:
        """Take a square at a point, or as near to it as there is room; None only when the map is full."""
        for px, py in self._spiral(x, y, size):
            if self.free(_rect(px, py, size, size)):
                self.take(px, py, size, size)
                return Spot(px, py)
        return None

    def _spiral(self, x: float, y: float, size: float) -> Iterable[tuple[float, float]]:
        low, half = self.edge_mm, size / 2 + 1e-6
        x = min(max(x, low + half), self.width_mm - low - half)
        y = min(max(y, low + half), self.height_mm - low - half)
        yield x, y
        radius = size * 0.5
        while radius < math.hypot(self.width_mm, self.height_mm):
            count = max(8, int(2 * math.pi * radius / (size * 0.5)))
            for k in range(count):
                angle = 2 * math.pi * k / count
                yield x + radius * math.cos(angle), y + radius * math.sin(angle)
            radius += size * 0.5


def _rect(x: float, y: float, width: float, height: float) -> Rect:
    return x - width / 2, y - height / 2, x + width / 2, y + height / 2
