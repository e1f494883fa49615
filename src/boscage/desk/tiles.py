"""Tiles that are held, and what is drawn where a sharp one is still on its way."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterator
from dataclasses import dataclass

from PySide6.QtCore import QRectF
from PySide6.QtGui import QImage, QPixmap

from boscage.model.desk import TILE_PX, LayerSwitches, Pixels, TileScheme

MOST_BYTES = 256 << 20
DEEPEST = 6
"""Zooms above a missing tile that are looked through for one to stretch."""
Tile = tuple[int, int, int]


@dataclass(frozen=True, kw_only=True)
class Version:
    """What a tile's looks depend on beside its place."""

    switches: LayerSwitches
    palette: str
    units: str
    scale: float
    ranking: int


def image_of(pixels: Pixels, *, opaque: bool) -> QPixmap:
    """A picture as Qt draws it fastest."""
    kind = QImage.Format.Format_RGBX8888 if opaque else QImage.Format.Format_RGBA8888
    image = QImage(pixels.data, pixels.width_px, pixels.height_px, 4 * pixels.width_px, kind)
    wanted = QImage.Format.Format_RGB32 if opaque else QImage.Format.Format_ARGB32_Premultiplied
    return QPixmap.fromImage(image.convertToFormat(wanted))


class TileStore:
    """Tiles by place, the least used given up once they take more than `most_bytes`."""

    def __init__(self, most_bytes: int = MOST_BYTES) -> None:
        self.most_bytes, self.bytes = most_bytes, 0
        self._held: OrderedDict[Tile, tuple[Version, QPixmap]] = OrderedDict()

    def __len__(self) -> int:
        return len(self._held)

    def put(self, tile: Tile, version: Version, pixmap: QPixmap) -> None:
        """Hold a tile in the place of an older one."""
        old = self._held.pop(tile, None)
        if old is not None:
            self.bytes -= _bytes(old[1])
        self._held[tile] = (version, pixmap)
        self.bytes += _bytes(pixmap)
        while self.bytes > self.most_bytes and len(self._held) > 1:
            _, (_, gone) = self._held.popitem(last=False)
            self.bytes -= _bytes(gone)

    def pixmap(self, tile: Tile) -> QPixmap | None:
        """The tile as last made, of whatever version."""
        held = self._held.get(tile)
        if held is None:
            return None
        self._held.move_to_end(tile)
        return held[1]

    def is_fresh(self, tile: Tile, version: Version) -> bool:
        """Whether the tile is held in this version."""
        held = self._held.get(tile)
        return held is not None and held[0] == version

    def clear(self) -> None:
        """Hold nothing."""
        self._held.clear()
        self.bytes = 0

    def stand_ins(self, tile: Tile) -> Iterator[tuple[QPixmap, QRectF, QRectF]]:
        """What can be drawn in the place of a tile that is not held.

        Gives picture, the part of it to take in its pixels, and the part of the tile that it fills, 0..1.
        """
        zoom, col, row = tile
        for up in range(1, min(DEEPEST, zoom) + 1):
            held = self.pixmap((zoom - up, col >> up, row >> up))
            if held is not None:
                side = held.width() / 2**up
                at = QRectF((col - ((col >> up) << up)) * side, (row - ((row >> up) << up)) * side, side, side)
                yield held, at, QRectF(0.0, 0.0, 1.0, 1.0)
                break
        for n in range(4):
            east, south = n % 2, n // 2
            held = self.pixmap((zoom + 1, 2 * col + east, 2 * row + south))
            if held is not None:
                yield held, QRectF(held.rect()), QRectF(east / 2, south / 2, 0.5, 0.5)


def _bytes(pixmap: QPixmap) -> int:
    return pixmap.width() * pixmap.height() * 4


def tile_rect(scheme: TileScheme, tile: Tile, west: float, north: float, metres_per_px: float) -> QRectF:
    """Where a tile lies in a view whose upper left corner is at (west, north), pixels."""
    zoom, col, row = tile
    side_m = TILE_PX * scheme.metres_per_px(zoom)
    side = side_m / metres_per_px
    return QRectF((scheme.west + col * side_m - west) / metres_per_px, (north - scheme.north + row * side_m)
                  / metres_per_px, side, side)  # fmt: skip
