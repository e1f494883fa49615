"""`boscage desk`: the application round the window."""

from __future__ import annotations

import sys

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QFont, QGuiApplication
from PySide6.QtWidgets import QApplication

from boscage.desk.window import NAME, Window

LEAST_PT = 10.0
AWAKE_MS = 200


def make_application(arguments: list[str] | None = None) -> QApplication:
    """The application: at the screen's own scale, in a style that looks the same everywhere."""
    held = QApplication.instance()
    if isinstance(held, QApplication):
        return held
    QGuiApplication.setHighDpiScaleFactorRoundingPolicy(Qt.HighDpiScaleFactorRoundingPolicy.PassThrough)
    app = QApplication([NAME, *(arguments or [])])
    app.setApplicationName(NAME)
    app.setStyle("Fusion")
    font = QFont(app.font())
    font.setPointSizeF(max(font.pointSizeF(), LEAST_PT))
    app.setFont(font)
    return app


def run(plan: str | None) -> int:
    """Show the window until it is closed.

    Args:
        plan: Path of a plan to open, or None for the first page.

    Returns:
        Exit status: 0.
    """
    app = make_application()
    window = Window()
    window.client.start()
    window.show()
    if plan is not None:
        QTimer.singleShot(0, lambda: window.open_plan(plan))
    awake = QTimer()  # lets an interrupt from the keyboard through
    awake.timeout.connect(lambda: None)
    awake.start(AWAKE_MS)
    return int(app.exec())


if __name__ == "__main__":
    sys.exit(run(sys.argv[1] if len(sys.argv) > 1 else None))
