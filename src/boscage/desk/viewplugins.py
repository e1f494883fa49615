"""Views of the window as plug-ins: built-in ones are registered under `boscage.views` like those from outside.

A view is a callable `make(desk) -> QWidget`, a class of widgets for the most part, with three attributes:

    name      the word under which it is registered
    title     what people read on its button
    shortcut  a key sequence such as "Ctrl+2", or ''

`desk` is a `boscage.desk.hub.Desk`. A view that wants the keyboard when it is shown gives the widget a method
`shown()`; one that holds something open gives it `closed()`. Both are optional.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from importlib.metadata import EntryPoint, entry_points
from typing import TYPE_CHECKING, Protocol

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

if TYPE_CHECKING:
    from boscage.desk.hub import Desk

GROUP = "boscage.views"
ORDER = ("ranch", "rig", "sheets", "pack", "drop", "log", "report")


class ViewMaker(Protocol):
    """What an entry point of `boscage.views` names."""

    name: str
    title: str
    shortcut: str

    def __call__(self, desk: Desk) -> QWidget:
        """Make the widget."""


@dataclass(frozen=True, kw_only=True)
class ViewEntry:
    """A view as registered.

    Attributes:
        make: Makes the widget; of a broken one a page that says what is wrong.
        fault: Why it cannot be shown, one sentence, or ''.
    """

    name: str
    title: str
    shortcut: str
    make: Callable[[Desk], QWidget]
    fault: str = ""


def list_views(points: Iterable[EntryPoint] | None = None) -> tuple[ViewEntry, ...]:
    """Every registered view: the built-in ones in their order, then the others by name.

    Args:
        points: Entry points to go by; None for those that are installed.
    """
    found: dict[str, ViewEntry] = {}
    given = entry_points(group=GROUP) if points is None else points
    for point in sorted(given, key=lambda p: (p.name, p.value)):
        entry = _entry(point)
        if point.name in found:
            entry = _broken(point, f"the name {point.name} is claimed twice, by {point.value} too; uninstall one")
        found[point.name] = entry
    built_in = [found.pop(name) for name in ORDER if name in found]
    return (*built_in, *found.values())


def make_view(entry: ViewEntry, desk: Desk) -> tuple[QWidget, str]:
    """The widget of a view and '', or a page in its place and why: whatever a view does wrong stops that view alone."""
    if entry.fault:
        return _fault_page(entry.title, entry.fault), entry.fault
    try:
        widget = entry.make(desk)
        if not isinstance(widget, QWidget):
            raise TypeError(f"it gave a {type(widget).__name__}, not a widget")
    except Exception as error:
        fault = f"The view {entry.name} cannot be shown: {type(error).__name__}: {error}."
        return _fault_page(entry.title, fault), fault
    return widget, ""


def _entry(point: EntryPoint) -> ViewEntry:
    try:
        maker = point.load()
        return ViewEntry(name=point.name, title=str(maker.title), shortcut=str(maker.shortcut), make=maker)
    except Exception as error:
        return _broken(point, f"{type(error).__name__}: {error}; mend or uninstall the package that brings it")


def _broken(point: EntryPoint, why: str) -> ViewEntry:
    fault = f"The view {point.name} ({point.value}) cannot be loaded: {why}."
    return ViewEntry(name=point.name, title=point.name, shortcut="", fault=fault, make=lambda _: QWidget())


def _fault_page(title: str, fault: str) -> QWidget:
    page = QWidget()
    label = QLabel(fault, page)
    label.setWordWrap(True)
    label.setAlignment(Qt.AlignmentFlag.AlignTop)
    label.setTextInteractionFlags(Qt.TextInteractionFlag.TextBrowserInteraction)
    page.setAccessibleName(title)
    QVBoxLayout(page).addWidget(label)
    return page
