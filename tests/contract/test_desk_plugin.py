"""The sample package for the window: installed, its factor is in the ranking's list and its view among the rooms."""

from __future__ import annotations

import datetime as dt
import json
import os
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

pytest.importorskip("PySide6", reason="the window needs PySide6-Essentials, the extra `desk`")

import tiny_ranch as tiny
from pyproj import Transformer

from boscage.airlift.sun import daylight

PACKAGE = Path(__file__).resolve().parents[2] / "docs" / "examples" / "boscage-dusk"
SCRIPT = """
import json, sys, time

def main():
    from PySide6.QtWidgets import QPushButton
    from boscage.desk.app import make_application
    from boscage.desk.window import Window

    app = make_application()
    window = Window()
    window.client.start()
    window.show()
    window.open_plan(sys.argv[1])
    end = time.monotonic() + 120
    while window.desk.ranking is None and time.monotonic() < end:
        app.processEvents()
        time.sleep(0.01)
    ranking = window.desk.ranking
    view = window.view("dusk")
    rooms = [b.text() for b in window.findChildren(QPushButton) if b.property("role") == "room"]
    window.show_view("dusk")
    weights = window.map_desk.ranking.weights
    told = {
        "rooms": rooms,
        "is_shown": view.isVisible(),
        "head": view.head.text(),
        "nights": [[view.table.item(r, c).text() for c in range(5)] for r in range(view.table.rowCount())],
        "weights": dict(ranking.weights),
        "bars": [b.name for b in ranking.sites[0].bars],
        "has_slider": weights.controls("evening") is not None,
    }
    window._closing = True
    window.close()
    window.client.stop()
    print("TOLD" + json.dumps(told))

if __name__ == "__main__":
    main()
"""


def installed(folder: Path) -> dict[str, str]:
    """The package laid out as an installer lays it, and the environment in which it is found."""
    groups = tomllib.loads((PACKAGE / "pyproject.toml").read_text(encoding="utf-8"))["project"]["entry-points"]
    info = folder / "boscage_dusk-0.1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: boscage-dusk\nVersion: 0.1.0\n", encoding="utf-8")
    lines = [f"[{group}]\n" + "\n".join(f"{n} = {v}" for n, v in names.items()) for group, names in groups.items()]
    (info / "entry_points.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
    paths = [str(folder), str(PACKAGE / "src"), *[p for p in sys.path if p]]
    return {**os.environ, "PYTHONPATH": os.pathsep.join(paths), "QT_QPA_PLATFORM": "offscreen"}


def test_factor_and_view_from_outside_are_in_the_window(tmp_path: Path) -> None:
    env = installed(tmp_path)
    plan = tiny.build(tmp_path / "ranch", tiny.Variant())
    script = tmp_path / "look.py"
    script.write_text(SCRIPT, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, str(script), str(plan)], capture_output=True, text=True, check=False, env=env, timeout=240
    )
    assert "TOLD" in done.stdout, done.stderr
    told = json.loads(done.stdout.split("TOLD", 1)[1])
    assert told["weights"]["evening"] == 1.0
    assert "evening" in told["bars"]
    assert told["has_slider"]
    assert "Dusk" in told["rooms"]
    assert told["is_shown"]
    assert told["head"].startswith("Site T-01")
    assert len(told["nights"]) == 7
    evening, sunset, dusk, dawn, sunrise = told["nights"][0]
    assert evening == "2026-11-21"
    assert sunset < dusk and dawn < sunrise
    to_degrees = Transformer.from_crs(tiny.UTM, "EPSG:4326", always_xy=True)
    lon, lat = to_degrees.transform(*tiny.place(tiny.Variant(), *tiny.A))
    assert dusk == f"{daylight(dt.date(2026, 11, 21), lat, lon).civil_dusk:%H:%M}"


def test_the_sample_factor_keeps_the_rules(monkeypatch: pytest.MonkeyPatch) -> None:
    import importlib

    from boscage.testing import check_factor

    monkeypatch.syspath_prepend(PACKAGE / "src")
    check_factor(importlib.import_module("boscage_dusk.evening").Evening())
