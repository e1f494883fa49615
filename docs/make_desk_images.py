"""Remake the pictures of the window in docs/images from the sample ranch.

`python docs/make_desk_images.py [PLAN [FOLDER]]` opens a plan of the sample ranch whose jobs have run (a demo is run
where none is named), goes through the views and keeps a picture of each: in docs/images at 1280 by 720, or at 1280 by
720 and 2560 by 1440 in a folder that is named. Needs PySide6; no screen is needed.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from make_images import IMAGES, MOST_BYTES
from PIL import Image
from PySide6.QtCore import QBuffer, QIODevice
from PySide6.QtWidgets import QApplication

from boscage.desk.app import make_application
from boscage.desk.window import Window
from boscage.pipeline.demo import demo, sample_folder

PATIENCE_S, REST_S = 180.0, 1.5
SIZES = ((1280, 720), (2560, 1440))
RIG_SITE, LIST = "DH-12", "stems_creek.csv"


def wait(ready: Callable[[], Any], seconds: float = PATIENCE_S) -> None:
    """Run the event loop until something is ready.

    Raises:
        TimeoutError: It is not in time.
    """
    end = time.monotonic() + seconds
    while not ready():
        if time.monotonic() > end:
            raise TimeoutError("the window is not ready in time")
        QApplication.processEvents()
        time.sleep(0.005)


def rest(seconds: float = REST_S) -> None:
    """Let what is under way come in."""
    end = time.monotonic() + seconds
    wait(lambda: time.monotonic() > end)


class Camera:
    """Keeps pictures of a window."""

    def __init__(self, window: Window, folder: Path | None) -> None:
        self._window, self._folder = window, folder

    def take(self, name: str) -> None:
        """A picture of the window as it is."""
        for size in SIZES if self._folder is not None else SIZES[:1]:
            self._window.resize(*size)
            rest()
            if self._folder is not None:
                self._window.grab().save(str(self._folder / f"{name}_{size[0]}.png"))
            else:
                self._keep(IMAGES / f"desk_{name}.png")

    def _keep(self, path: Path) -> None:
        """Few colours, as many as the size allows."""
        held = QBuffer()
        held.open(QIODevice.OpenModeFlag.WriteOnly)
        self._window.grab().save(held, "PNG")
        part = path.with_suffix(".whole.png")
        part.write_bytes(bytes(held.data()))
        with Image.open(part) as image:
            colours = 128
            while True:
                image.convert("RGB").quantize(colours, dither=Image.Dither.NONE).save(path, "PNG", optimize=True)
                if path.stat().st_size < MOST_BYTES or colours <= 8:
                    break
                colours //= 2
        part.unlink()
        print(f"{path.name}: {path.stat().st_size / 1000:.0f} kB")


def go_through(window: Window, camera: Camera) -> None:
    """Every view in turn."""
    wait(lambda: window.desk.ranking is not None)
    window.desk.choose(window.desk.ranking.sites[0].site)
    rest(4.0)
    window.show_view("map")
    camera.take("map")
    window.show_view("ranch")
    camera.take("ranch")
    window.show_view("rig")
    rig = window.view("rig")
    rig.show_place(RIG_SITE)
    wait(lambda: rig.canvas.ring is not None)
    camera.take("rig")
    before = rig.answer
    rig.canvas._along(1)
    rig.leave_out(rig.canvas.stem)
    wait(lambda: rig.answer is not before and not rig._compare.waits)
    camera.take("rig_next")
    rig.load_list(str(sample_folder() / LIST))
    wait(lambda: rig.answer is not None and rig.canvas.ring is not None)
    stems = rig.panel.table.stems
    stems.setData(stems.index(3, 1), "thick")
    wait(lambda: rig.answer is not None and rig.answer.faults)
    camera.take("rig_list")
    for name in ("pack", "drop", "log", "report", "sheets"):
        window.show_view(name)
        view = window.view(name)
        pane = getattr(view, "sheets", view)
        wait(lambda pane=pane: pane.pages is not None and pane._has(pane.number))
        camera.take(name)
    window.desk.set_palette("contrast")
    window.show_view("rig")
    rig.show_place(RIG_SITE)
    wait(lambda: rig.canvas.ring is not None)
    camera.take("contrast")


def run(plan: Path, folder: Path | None) -> None:
    """Open the window on a plan and take its pictures."""
    make_application()
    window = Window()
    window.client.start()
    window.show()
    camera = Camera(window, folder)
    camera.take("first")
    window.open_plan(str(plan))
    try:
        go_through(window, camera)
    finally:
        window._closing = True
        window.close()


if __name__ == "__main__":
    named = [Path(a) for a in sys.argv[1:]]
    if named:
        run(named[0], named[1] if len(named) > 1 else None)
    else:
        with tempfile.TemporaryDirectory() as made:
            demo(Path(made))
            run(Path(made) / "plan.toml", None)
