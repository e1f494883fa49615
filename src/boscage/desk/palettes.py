"""Colours of the window, one look for each palette of the map, and what is drawn by hand in them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from PySide6.QtGui import QColor, QPalette

PALETTE_TITLES: Mapping[str, str] = {
    "standard": "Standard", "contrast": "High contrast", "deuteran": "Proof against colour blindness",
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Look:
    """Colours by their use; every text is readable on its ground in grey too (WCAG 2.1, 1.4.3: 4.5 to 1 at least).

    Attributes:
        window, base, band: Grounds of the window, of lists, and of every other row or head.
        text, quiet: Text, and text of less weight.
        mark, on_mark: Chosen things and text on them.
        bar, hollow: The filled and the empty part of a factor's bar.
        error, on_error, note, on_note: Grounds of the bar of sentences and their text.
        line: Frames.
        width: Of frames and of the ring round what has the keyboard, pixels.
    """

    window: str
    base: str
    band: str
    text: str
    quiet: str
    mark: str
    on_mark: str
    bar: str
    hollow: str
    error: str
    on_error: str
    note: str
    on_note: str
    line: str
    width: int = 1


LOOKS: Mapping[str, Look] = {
    "standard": Look(
        window="#f1efe9", base="#fcfbf8", band="#e6e2d8", text="#1d2320", quiet="#4d5650", mark="#2f5d50",
        on_mark="#ffffff", bar="#41715f", hollow="#d8d4c9", error="#7d1f1b", on_error="#ffffff", note="#ece2bd",
        on_note="#1d2320", line="#9a978c",
    ),
    "contrast": Look(
        window="#ffffff", base="#ffffff", band="#e8e8e8", text="#000000", quiet="#000000", mark="#000000",
        on_mark="#ffffff", bar="#000000", hollow="#ffffff", error="#000000", on_error="#ffffff", note="#ffffff",
        on_note="#000000", line="#000000", width=2,
    ),
    "deuteran": Look(
        window="#eff1f4", base="#fbfcfd", band="#dfe4eb", text="#14181f", quiet="#454e5c", mark="#0b4f8a",
        on_mark="#ffffff", bar="#2a6fb0", hollow="#d5dae1", error="#5b2b00", on_error="#ffffff", note="#fbe3b5",
        on_note="#14181f", line="#8b93a0",
    ),
}  # fmt: skip


def qt_palette(look: Look) -> QPalette:
    """The look for Qt's own widgets."""
    made, role = QPalette(), QPalette.ColorRole
    for part, colour in {
        role.Window: look.window, role.WindowText: look.text, role.Base: look.base, role.AlternateBase: look.band,
        role.Text: look.text, role.Button: look.band, role.ButtonText: look.text, role.ToolTipBase: look.base,
        role.ToolTipText: look.text, role.PlaceholderText: look.quiet, role.Highlight: look.mark,
        role.HighlightedText: look.on_mark, role.Link: look.mark, role.LinkVisited: look.mark, role.Mid: look.line,
        role.Dark: look.line,
    }.items():  # fmt: skip
        made.setColor(part, QColor(colour))
    faint = QColor(look.quiet)
    faint.setAlpha(150)
    for part in (role.WindowText, role.Text, role.ButtonText):
        made.setColor(QPalette.ColorGroup.Disabled, part, faint)
    return made


def style_sheet(look: Look) -> str:
    """Frames and the ring round what has the keyboard."""
    thick = look.width + 1
    return f"""
    QToolTip {{ border: 1px solid {look.line}; padding: 3px; }}
    *[role="head"] {{ font-weight: bold; }}
    *[role="quiet"] {{ color: {look.quiet}; }}
    QFrame[role="card"] {{ border: {look.width}px solid {look.line}; background: {look.base}; }}
    QFrame[role="saybar"][kind="error"] {{ background: {look.error}; border: {look.width}px solid {look.line}; }}
    QFrame[role="saybar"][kind="error"] QLabel {{ color: {look.on_error}; }}
    QFrame[role="saybar"] {{ background: {look.note}; border: {look.width}px solid {look.line}; }}
    QFrame[role="saybar"] QLabel {{ color: {look.on_note}; }}
    QPushButton[role="room"] {{ text-align: left; padding: 9px 12px; border: none; background: transparent; }}
    QPushButton[role="room"]:checked {{ background: {look.mark}; color: {look.on_mark}; font-weight: bold; }}
    QPushButton[role="room"]:hover:!checked {{ background: {look.band}; }}
    QPushButton[role="room"]:focus {{ border: {thick}px solid {look.text}; padding: {9 - thick}px {12 - thick}px; }}
    QPushButton[role="main"] {{ background: {look.mark}; color: {look.on_mark}; padding: 7px 14px; border: none; }}
    QPushButton[role="main"]:disabled {{ background: {look.band}; color: {look.quiet}; }}
    QPushButton[role="main"]:focus {{ border: {thick}px solid {look.text}; }}
    QListView:focus, QTextBrowser:focus {{ border: {thick}px solid {look.mark}; }}
    """
