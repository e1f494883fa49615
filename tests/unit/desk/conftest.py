"""One tiny ranch for all tests of the window, opened once; skipped where PySide6 is not installed."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
pytest.importorskip("PySide6.QtWidgets", reason="the window needs PySide6", exc_type=ImportError)

from desk_windows import NOTE, settle
from tiny_ranch import Variant, build


@pytest.fixture(scope="session")
def ranch(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A plan of a tiny ranch with a comment, and its results in the store."""
    plan = build(tmp_path_factory.mktemp("ranch"), Variant())
    plan.write_text(f"{NOTE}\n{plan.read_text(encoding='utf-8')}", encoding="utf-8")
    return plan


@pytest.fixture(scope="session")
def client(qapp: Any) -> Iterator[Any]:
    """Workers that outlive single windows, so that the ranch is measured once."""
    from boscage.desk.client import Client

    made = Client()
    yield made
    made.stop()


@pytest.fixture
def window(qapp: Any, client: Any, monkeypatch: pytest.MonkeyPatch) -> Iterator[Any]:
    """A window on the first page; its workers go on after it."""
    from boscage.desk.app import make_application
    from boscage.desk.window import Window

    make_application()
    made = Window(client)
    monkeypatch.setattr(made.client, "stop", lambda: None)
    made.show()
    yield made
    made._closing = True
    made.close()
    made.deleteLater()
    settle(lambda: not client.map.open_questions)
    qapp.processEvents()


@pytest.fixture
def plan(ranch: Path, tmp_path: Path) -> Path:
    """A copy of the ranch with its results, to edit."""
    shutil.copytree(ranch.parent, tmp_path / "ranch")
    return tmp_path / "ranch" / ranch.name


@pytest.fixture
def desk(window: Any, plan: Path) -> Any:
    """A window on the ranch, ranked."""
    assert window.open_plan(str(plan)), window.bar.text
    settle(lambda: window.desk.ranking is not None)
    return window
