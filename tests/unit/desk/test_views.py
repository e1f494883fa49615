"""Views as plug-ins: an outside one appears, a broken one stops only itself."""

from __future__ import annotations

from importlib.metadata import EntryPoint
from typing import Any

import pytest

pytest.importorskip("PySide6.QtWidgets", reason="the window needs PySide6", exc_type=ImportError)

from PySide6.QtWidgets import QLabel, QPushButton, QWidget

from boscage.desk.viewplugins import GROUP, list_views


class Weather(QLabel):
    """A view from outside."""

    name, title, shortcut = "weather", "Weather", "Ctrl+9"

    def __init__(self, desk: Any) -> None:
        super().__init__("wind from the north")
        self.desk = desk


class Broken(QWidget):
    """A view that cannot be made."""

    name, title, shortcut = "broken", "Broken", ""

    def __init__(self, desk: Any) -> None:
        raise RuntimeError("no barometer")


def point(name: str, kind: str, module: str = __name__) -> EntryPoint:
    return EntryPoint(name, f"{module}:{kind}", GROUP)


@pytest.fixture
def here(monkeypatch: pytest.MonkeyPatch) -> str:
    """This module under a name that an entry point can import."""
    import sys
    import types

    module = types.ModuleType("outside_views")
    module.Weather, module.Broken = Weather, Broken  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "outside_views", module)
    return "outside_views"


def test_an_outside_view_appears_and_a_broken_one_stops_only_itself(qapp: Any, client: Any, here: str) -> None:
    from boscage.desk.window import Window

    points = [point("weather", "Weather", here), point("broken", "Broken", here), point("gone", "Gone", here)]
    window = Window(client, list_views(points))
    assert isinstance(window.view("weather"), Weather) and window.view("weather").desk is window.desk
    titles = [b.text() for b in window.findChildren(QPushButton) if b.property("role") == "room"]
    assert titles == ["Map", "Broken", "gone", "Weather"]
    assert "The view broken cannot be shown: RuntimeError: no barometer." in window.bar.text
    assert "gone" in window.bar.text
    window.show_view("weather")
    assert window.stack.currentWidget() is window.view("weather")
    window.deleteLater()


def test_a_name_claimed_twice_is_said(here: str) -> None:
    points = [point("weather", "Weather", here), point("weather", "Broken", here)]
    (entry,) = list_views(points)
    assert "claimed twice" in entry.fault


def test_the_built_in_views_are_registered_like_any_other() -> None:
    names = [v.name for v in list_views()]
    assert names[:2] == ["ranch", "rig"]
    assert not [v.fault for v in list_views() if v.fault]
