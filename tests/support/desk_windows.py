"""Waiting for the window's workers, and answering what its bar asks."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

PATIENCE_S = 60.0
NOTE = "# walked twice, keep this line"


def settle(ready: Callable[[], Any], seconds: float = PATIENCE_S) -> Any:
    """Run the event loop until something is ready."""
    from PySide6.QtWidgets import QApplication

    end = time.monotonic() + seconds
    while not ready() and time.monotonic() < end:
        QApplication.processEvents()
        time.sleep(0.002)
    found = ready()
    assert found, "it is not ready in time"
    return found


def answer(bar: Any, text: str = "", button: int = 0) -> None:
    """Type an answer in the bar and press one of its buttons."""
    if text:
        bar.line.setText(text)
    bar._buttons[button].click()
