"""The first page: layers dropped, told apart, a plan made of them that opens."""

from __future__ import annotations

import shutil
import tomllib
from pathlib import Path
from typing import Any

import pytest

pytest.importorskip("PySide6.QtWidgets", reason="the window needs PySide6", exc_type=ImportError)

from desk_windows import settle
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent
from PySide6.QtWidgets import QComboBox, QLabel


def drop(page: Any, *paths: Path) -> None:
    """Drop files as a hand does."""
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(p)) for p in paths])
    event = QDropEvent(
        QPointF(9.0, 9.0), Qt.DropAction.CopyAction, data, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    )
    page.dropEvent(event)


def words(page: Any) -> str:
    return "\n".join(label.text() for label in page.findChildren(QLabel) if label.isVisibleTo(page))


def test_dropped_layers_are_told_apart_and_make_a_plan_that_opens(window: Any, ranch: Path, tmp_path: Path) -> None:
    folder = tmp_path / "own"
    shutil.copytree(ranch.parent, folder, ignore=shutil.ignore_patterns("*.toml", "out", ".boscage"))
    page = window.first
    assert page.lacking() == "Nothing is dropped yet." and not page.make_button.isEnabled()
    drop(page, folder / "parcels.gpkg")
    settle(lambda: page.found)
    assert [r.layer for r in page.found] == ["parcels"]
    page.name.setText("Two Oaks")
    assert "canopy" in page.lacking()
    drop(page, folder / "canopy_cover.tif", folder / "sign.csv")
    settle(lambda: len(page.found) == 3)
    assert {r.layer for r in page.found} == {"parcels", "canopy_cover", "sign"}
    assert page.lacking() == "" and page.make_button.isEnabled()
    settle(lambda: "Adds: " in words(page) and "terrain" in words(page))
    page.units.setCurrentIndex(1)
    page.make()
    settle(lambda: window.desk.ranking is not None)
    table = tomllib.loads((folder / "plan.toml").read_text(encoding="utf-8"))
    assert table["ranch"]["name"] == "Two Oaks" and table["ranch"]["units"] == "metric"
    assert set(table["layers"]) == {"parcels", "canopy_cover", "sign"}
    assert window.desk.printer.units == "metric"


def test_what_is_no_layer_says_why_and_can_be_taken_away(window: Any, tmp_path: Path) -> None:
    path = tmp_path / "recipe.csv"
    path.write_text("flour,eggs\n2,3\n", encoding="utf-8")
    page = window.first
    drop(page, path)
    settle(lambda: page.found)
    assert page.found[0].layer is None
    settle(lambda: page.found[0].why in words(page))
    page._remove(0)
    assert not page.found and "recipe" not in words(page)


def test_a_layer_can_be_taken_for_another_or_left_out(window: Any, ranch: Path) -> None:
    page = window.first
    drop(page, ranch.parent / "canopy_cover.tif")
    settle(lambda: page.found)
    combo = next(c for c in page.findChildren(QComboBox) if c.accessibleName().startswith("What canopy_cover"))
    combo.setCurrentIndex(combo.count() - 1)
    assert page.picked() == ()
    settle(lambda: "Left out of the plan" in words(page))


def test_a_dropped_plan_is_opened(window: Any, plan: Path) -> None:
    drop(window.first, plan)
    settle(lambda: window.desk.opened is not None)


def test_a_fault_while_looking_is_said_in_the_bar(window: Any, tmp_path: Path) -> None:
    (tmp_path / "file2").write_text("x", encoding="utf-8")
    window.first.copy_sample(str(tmp_path / "file2"))
    settle(lambda: window.bar.kind == "error")
    assert "expected a folder for the sample ranch" in window.bar.text
