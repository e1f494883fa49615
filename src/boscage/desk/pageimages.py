"""Pictures of pages that were drawn, the least used given up."""

from __future__ import annotations

from collections import OrderedDict

from PySide6.QtCore import Qt
from PySide6.QtGui import QImage, QPixmap

from boscage.model.desk import Pixels
from boscage.model.desk_pages import PageImage

DPI_STEPS = (60.0, 75.0, 96.0, 110.0, 132.0, 160.0, 192.0, 240.0, 300.0)
KEPT = 12


def to_image(pixels: Pixels) -> QImage:
    """Pixels as a picture of the screen."""
    image = QImage(pixels.data, pixels.width_px, pixels.height_px, 4 * pixels.width_px, QImage.Format.Format_RGBA8888)
    return image.convertToFormat(QImage.Format.Format_RGB32)


def dpi_for(wanted: float) -> float:
    """The least step that is no coarser than the screen.

    >>> dpi_for(97.0), dpi_for(900.0)
    (110.0, 300.0)
    """
    return next((d for d in DPI_STEPS if d >= wanted - 0.5), DPI_STEPS[-1])


class PageImages:
    """Pictures by serial of their set, number and dots per inch."""

    def __init__(self) -> None:
        self._held: OrderedDict[tuple[int, int, float], QImage] = OrderedDict()

    def __len__(self) -> int:
        return len(self._held)

    def __contains__(self, key: tuple[int, int, float]) -> bool:
        return key in self._held

    def clear(self) -> None:
        """Forget all."""
        self._held.clear()

    def keep(self, image: PageImage) -> None:
        """Keep a picture."""
        self._held[(image.serial, image.number, image.dpi)] = to_image(image.pixels)
        while len(self._held) > KEPT:
            self._held.popitem(last=False)

    def best(self, serial: int, number: int, dpi: float) -> QImage | None:
        """The picture of a page at these dots per inch, else the finest that is held, or None."""
        held = {k[2]: i for k, i in self._held.items() if k[:2] == (serial, number)}
        return held.get(dpi) or (held[max(held)] if held else None)


def shown_as(image: QImage, width_px: int, ratio: float, *, grey: bool) -> QPixmap:
    """A picture as wide as wanted, in grey where asked for as a black-and-white printer gives it."""
    if grey:
        image = image.convertToFormat(QImage.Format.Format_Grayscale8)
    shown = QPixmap.fromImage(image.scaledToWidth(width_px, Qt.TransformationMode.SmoothTransformation))
    shown.setDevicePixelRatio(ratio)
    return shown
