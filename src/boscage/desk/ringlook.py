"""How stems and the ring look on the screen, in each palette; what a tree counts for is told by shape as well."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtGui import QColor


@dataclass(frozen=True, kw_only=True)
class RingLook:
    """Colours of the drawing."""

    ground: QColor
    ink: QColor
    faint: QColor
    ring: QColor
    net: QColor
    contact: QColor
    support: QColor
    gone: QColor
    chosen: QColor


LOOKS: dict[str, RingLook] = {
    "standard": RingLook(
        ground=QColor("#f7f5ee"), ink=QColor("#1d2320"), faint=QColor("#9aa39b"), ring=QColor("#14532d"),
        net=QColor("#dbe9d3"), contact=QColor("#14532d"), support=QColor("#8a4b00"), gone=QColor("#8c1d18"),
        chosen=QColor("#0b4f9e"),
    ),
    "contrast": RingLook(
        ground=QColor("#ffffff"), ink=QColor("#000000"), faint=QColor("#5a5a5a"), ring=QColor("#000000"),
        net=QColor("#e4e4e4"), contact=QColor("#000000"), support=QColor("#000000"), gone=QColor("#000000"),
        chosen=QColor("#0000c0"),
    ),
    "deuteran": RingLook(
        ground=QColor("#f7f6f2"), ink=QColor("#1b1f2a"), faint=QColor("#9a9da6"), ring=QColor("#0a3d78"),
        net=QColor("#d6e2f2"), contact=QColor("#0a3d78"), support=QColor("#b35900"), gone=QColor("#7a4a00"),
        chosen=QColor("#5b2a86"),
    ),
}  # fmt: skip
