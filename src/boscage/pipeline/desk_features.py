"""Features by tile: cut piece by piece from the coarser tile that holds them, so that a tile costs what is on it."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from boscage.model.desk import TileScheme
from boscage.values import Bounds

PAD_PX = 64
"""Ground round a tile that its pieces reach over, so that no cut edge shows and marks beside it reach in."""
FEW_POINTS = 400
MOST_HELD = 600
THIN_PX = 0.3
Tile = tuple[int, int, int]


@dataclass(frozen=True, kw_only=True)
class Pieces:
    """Features as the sheets ask for them: like a GeoDataFrame's, with a column of shapes and columns of values."""

    shapes: NDArray[Any]
    values: Mapping[str, NDArray[Any]] = field(default_factory=dict)

    @property
    def geometry(self) -> Column:
        """The shapes."""
        return Column(self.shapes)

    @property
    def columns(self) -> tuple[str, ...]:
        """Names of the columns of values."""
        return tuple(self.values)

    def __getitem__(self, name: str) -> Column:
        return Column(self.values[name])

    def __len__(self) -> int:
        return len(self.shapes)

    def taken(self, rows: NDArray[np.int64], shapes: NDArray[Any]) -> Pieces:
        """Some rows with other shapes."""
        return Pieces(shapes=shapes, values={name: column[rows] for name, column in self.values.items()})


class Column:
    """One column of `Pieces`."""

    def __init__(self, values: NDArray[Any]) -> None:
        self._values = values

    def to_numpy(self) -> NDArray[Any]:
        """As an array."""
        return self._values

    def tolist(self) -> list[Any]:
        """As a list."""
        return list(self._values)


class Cutter:
    """One layer's features, cut to tiles.

    Args:
        whole: All features.
        scheme: How the ranch is cut.

    Attributes:
        points: Vertices of all features.
    """

    def __init__(self, whole: Pieces, scheme: TileScheme) -> None:
        shapes = np.array([shapely.force_2d(s) for s in whole.shapes], dtype=object)
        self._whole = Pieces(shapes=shapes, values=whole.values)
        self._scheme = scheme
        self.points = int(shapely.get_num_coordinates(shapes).sum()) if len(shapes) else 0
        self._held: OrderedDict[Tile, Pieces] = OrderedDict()
        self._thin: OrderedDict[Tile, Pieces] = OrderedDict()

    @classmethod
    def of_frame(cls, frame: Any, scheme: TileScheme) -> Cutter:
        """Of a GeoDataFrame."""
        names = [n for n in frame.columns if n != frame.geometry.name]
        values = {n: frame[n].to_numpy(dtype=object) for n in names}
        return cls(Pieces(shapes=frame.geometry.to_numpy(), values=values), scheme)

    def tile(self, zoom: int, col: int, row: int) -> Pieces:
        """The pieces on a tile and just around it, thinned by less than a third of a pixel."""
        at = (zoom, col, row)
        if at in self._thin:
            self._thin.move_to_end(at)
            return self._thin[at]
        pieces = _thinned(self._cut(zoom, col, row), self._scheme.metres_per_px(zoom))
        return _hold(self._thin, at, pieces)

    def over(self, bounds: Bounds, metres_per_px: float) -> Pieces:
        """The pieces on any stretch of ground, thinned for its scale: from the tile that holds it all."""
        zoom, col, row = self._holder(bounds.padded(PAD_PX * metres_per_px))
        return _thinned(_clipped(self._cut(zoom, col, row), bounds.padded(PAD_PX * metres_per_px)), metres_per_px)

    def _holder(self, bounds: Bounds) -> Tile:
        """The finest tile whose padded ground holds some ground; the whole where none does."""
        best = (0, 0, 0)
        x, y = (bounds.west + bounds.east) / 2.0, (bounds.south + bounds.north) / 2.0
        for zoom in range(1, self._scheme.zooms):
            side = self._scheme.bounds(zoom, 0, 0).width
            col, row = int((x - self._scheme.west) // side), int((self._scheme.north - y) // side)
            most = 2**zoom
            held = self._padded(zoom, col, row)
            if not (0 <= col < most and 0 <= row < most) or not _holds(held, bounds):
                break
            best = (zoom, col, row)
        return best

    def _padded(self, zoom: int, col: int, row: int) -> Bounds:
        return self._scheme.bounds(zoom, col, row).padded(PAD_PX * self._scheme.metres_per_px(zoom))

    def _cut(self, zoom: int, col: int, row: int) -> Pieces:
        """The pieces of a tile, not thinned, from those of the tile of the next coarser zoom that holds it."""
        if zoom == 0:
            return self._whole
        at = (zoom, col, row)
        if at in self._held:
            self._held.move_to_end(at)
            return self._held[at]
        parent = self._cut(zoom - 1, col // 2, row // 2)
        if int(shapely.get_num_coordinates(parent.shapes).sum()) <= FEW_POINTS:
            return parent
        return _hold(self._held, at, _clipped(parent, self._padded(zoom, col, row)))


def _hold(held: OrderedDict[Tile, Pieces], at: Tile, pieces: Pieces) -> Pieces:
    held[at] = pieces
    if len(held) > MOST_HELD:
        held.popitem(last=False)
    return pieces


def _holds(outer: Bounds, inner: Bounds) -> bool:
    return (
        outer.west <= inner.west
        and outer.south <= inner.south
        and outer.east >= inner.east
        and outer.north >= inner.north
    )


def _clipped(pieces: Pieces, bounds: Bounds) -> Pieces:
    """The parts of pieces inside a rectangle; those that lie in it whole are left as they are."""
    if not len(pieces):
        return pieces
    west, south, east, north = shapely.bounds(pieces.shapes).T
    with np.errstate(invalid="ignore"):
        touch = (west <= bounds.east) & (east >= bounds.west) & (south <= bounds.north) & (north >= bounds.south)
        inside = (west >= bounds.west) & (east <= bounds.east) & (south >= bounds.south) & (north <= bounds.north)
    rows = np.flatnonzero(touch)
    shapes = pieces.shapes[rows].copy()
    cross = np.flatnonzero(~inside[rows])
    shapes[cross] = shapely.clip_by_rect(shapes[cross], bounds.west, bounds.south, bounds.east, bounds.north)
    keep = np.flatnonzero(~shapely.is_empty(shapes))
    return pieces.taken(rows[keep], shapes[keep])


def _thinned(pieces: Pieces, metres_per_px: float) -> Pieces:
    """Pieces without the vertices that do not show at a scale, all of them valid."""
    shapes = pieces.shapes
    if not len(shapes):
        return pieces
    if int(shapely.get_num_coordinates(shapes).sum()) > FEW_POINTS:
        shapes = shapely.simplify(shapes, THIN_PX * metres_per_px)
    broken = ~shapely.is_valid(shapes)
    if broken.any():  # a cut by a rectangle may leave an area that touches itself
        shapes = np.where(broken, shapely.make_valid(shapes), shapes)
    keep = np.flatnonzero(~shapely.is_empty(shapes))
    return pieces.taken(keep, shapes[keep])
