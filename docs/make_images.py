"""Remake every picture in docs/images from the sample ranch.

`python docs/make_images.py [FIELD_SHEETS.pdf]` takes the sheets of the sample ranch, printed anew where no file is
named. Needs `pdftoppm` and `pdftotext` of Poppler on the path. Every picture stays under 250 kB.
"""

from __future__ import annotations

import io
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path

from PIL import Image

from boscage.pipeline.demo import demo

IMAGES = Path(__file__).with_name("images")
# Picture: words that the first such page of the PDF holds, dots per inch.
PICTURES: Mapping[str, tuple[str, int]] = {
    "overview.png": ("Ranked sites:", 100),
    "rules_page.png": ("Ruled out, by hard stop", 90),
    "site_page.png": ("Which point", 110),
    "site_back.png": ("on the spot", 90),
}
MOST_BYTES = 250_000
LEAST_COLOURS = 8


def find_page(pdf: Path, words: str) -> int:
    """Number of the first page that holds the words.

    Raises:
        LookupError: No page does.
    """
    text = subprocess.run(["pdftotext", str(pdf), "-"], capture_output=True, text=True, check=True).stdout
    for number, page in enumerate(text.split("\f"), start=1):
        if words in page:
            return number
    raise LookupError(f"{pdf} has no page with the words {words!r}")


def draw_page(pdf: Path, page: int, dpi: int) -> bytes:
    """One page as a PNG of few colours, as many as the size allows."""
    command = ["pdftoppm", "-png", "-singlefile", "-r", str(dpi), "-f", str(page), "-l", str(page), str(pdf)]
    image = Image.open(io.BytesIO(subprocess.run(command, capture_output=True, check=True).stdout)).convert("RGB")
    colours = 128
    while True:
        out = io.BytesIO()
        image.quantize(colours, dither=Image.Dither.NONE).save(out, "PNG", optimize=True)
        if out.tell() < MOST_BYTES or colours <= LEAST_COLOURS:
            return out.getvalue()
        colours //= 2


def make_images(pdf: Path) -> None:
    """Write every picture."""
    IMAGES.mkdir(exist_ok=True)
    for name, (words, dpi) in PICTURES.items():
        data = draw_page(pdf, find_page(pdf, words), dpi)
        (IMAGES / name).write_bytes(data)
        print(f"{name}: {len(data) / 1000:.0f} kB")


if __name__ == "__main__":
    if len(sys.argv) > 1:
        make_images(Path(sys.argv[1]))
    else:
        with tempfile.TemporaryDirectory() as folder:
            demo(Path(folder))
            make_images(Path(folder) / "out" / "field_sheets.pdf")
