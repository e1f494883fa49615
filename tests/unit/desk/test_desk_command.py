"""`boscage desk`: help without Qt, a plain sentence without PySide6, a window that opens and closes."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

WITHOUT = "import sys; sys.modules['PySide6'] = None; from boscage.cli.main import main; sys.exit(main({words!r}))"
RUN = """
import sys
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
import boscage.desk.app as app

def close():
    (window,) = [w for w in QApplication.topLevelWidgets() if type(w).__name__ == "Window"]
    if window.desk.opened is None:
        QTimer.singleShot(50, close)
        return
    print("opened", window.desk.opened.ranch, flush=True)
    window.close()

if __name__ == "__main__":
    held = app.make_application()
    QTimer.singleShot(0, close)
    sys.exit(app.run(sys.argv[1]))
"""


def run(code: str, *words: str) -> subprocess.CompletedProcess[str]:
    env = {**os.environ, "QT_QPA_PLATFORM": "offscreen"}
    return subprocess.run(
        [sys.executable, "-c", code, *words], capture_output=True, text=True, env=env, check=False, timeout=120
    )


def test_without_qt_there_is_one_plain_sentence() -> None:
    done = run(WITHOUT.format(words=["desk"]))
    assert done.returncode == 2
    assert done.stderr.strip().splitlines() == [
        "boscage: the window needs PySide6, which is not installed; pip install 'boscage[desk]'."
    ]


def test_help_needs_no_qt() -> None:
    done = run(WITHOUT.format(words=["desk", "--help"]))
    assert done.returncode == 0 and "No network is used" in done.stdout


def test_the_window_opens_a_plan_and_closes(plan: Path, tmp_path: Path) -> None:
    script = tmp_path / "run.py"
    script.write_text(RUN, encoding="utf-8")
    env = {**os.environ, "QT_QPA_PLATFORM": "offscreen"}
    done = subprocess.run(
        [sys.executable, str(script), str(plan)], capture_output=True, text=True, env=env, check=False, timeout=120
    )
    assert done.returncode == 0, done.stderr
    assert "opened" in done.stdout
    assert not list(plan.parent.glob(".boscage/*lock")), "the plan is given free"
