"""Remake every picture in docs/images from the sample ranch.

`python docs/make_images.py [FIELD_SHEETS.pdf]` takes the field sheets of the sample ranch, printed anew where no file
is named, and prints the rig sheet of its stem list by the creek. Needs `pdftoppm` and `pdftotext` of Poppler on the
path. Every picture stays under 250 kB.
"""

from __future__ import annotations

import io
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path

from PIL import Image

from boscage.model.rig import RingOptions
from boscage.pipeline.demo import demo, sample_folder
from boscage.pipeline.rig import RigRequest, rig_stems
from boscage.values import Length

IMAGES = Path(__file__).with_name("images")
# Picture: words that the first such page of the PDF holds, dots per inch.
PICTURES: Mapping[str, tuple[str, int]] = {
    "overview.png": ("Ranked sites:", 100),
    "rules_page.png": ("Ruled out, by hard stop", 90),
    "ground_page.png": ("Whether posts can be driven", 90),
    "evidence_page.png": ("Use of the ranch", 90),
    "sets_page.png": ("Sites together", 90),
    "site_page.png": ("Which point", 110),
    "site_back.png": ("on the spot", 90),
    "site_way.png": ("until the whole", 90),
}
RIG_PICTURES: Mapping[str, tuple[str, int]] = {
    "rig_front.png": ("Contacts, from the pivot", 110),
    "rig_back.png": ("Rigging, step by step", 90),
}
STEMS, PERIMETER, DECLINATION_DEG = "stems_creek.csv", "60ft", -0.6
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


def print_rig_sheet(folder: Path) -> Path:
    """The rig sheet of the sample stem list, in a folder."""
    ring = RingOptions(perimeter_m=Length.parse(PERIMETER).m)
    stems = sample_folder() / STEMS
    rig_stems(RigRequest(stems=stems, name=STEMS, ring=ring, declination_deg=DECLINATION_DEG), out=folder)
    return folder / "rig_sheet.pdf"


def make_images(pdf: Path, pictures: Mapping[str, tuple[str, int]]) -> None:
    """Write the pictures of one PDF."""
    IMAGES.mkdir(exist_ok=True)
    for name, (words, dpi) in pictures.items():
        data = draw_page(pdf, find_page(pdf, words), dpi)
        (IMAGES / name).write_bytes(data)
        print(f"{name}: {len(data) / 1000:.0f} kB")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        if len(sys.argv) > 1:
            sheets = Path(sys.argv[1])
        else:
            demo(Path(made))
            sheets = Path(made) / "out" / "field_sheets.pdf"
        make_images(sheets, PICTURES)
        make_images(print_rig_sheet(Path(made) / "rig"), RIG_PICTURES)
