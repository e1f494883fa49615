"""Pages on the screen are those of the printed file, and printing is the command."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

pytest.importorskip("PySide6", reason="the window needs PySide6-Essentials, the extra `desk`")
pytest.importorskip("pytestqt", reason="the window is tested with pytest-qt")

import tiny_ranch as tiny
from desk_near import NearClient
from pypdf import PdfReader
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from boscage.desk.hub import Desk
from boscage.desk.sheetpane import SheetPane
from boscage.desk.sheetview import LogView
from boscage.model.desk_pages import PageRequest, PagesRequest
from boscage.model.report import ReportAsk
from boscage.pipeline import desk_sheets
from boscage.pipeline.demo import sample_folder
from boscage.pipeline.desk_views import FILES, PageDesk, print_pages
from boscage.pipeline.drop import drop
from boscage.pipeline.pack import pack
from boscage.pipeline.report import report
from boscage.pipeline.scout import scout
from boscage.readers.plan_file import read_plan
from boscage.sheets.page import Page
from boscage.sheets.pdf import own_settings, write_pdf


class PlanDesk(Desk):
    """A desk whose plan is known and whose ranch is not opened."""

    path: Path

    @property
    def plan(self) -> Path:
        return self.path


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The tiny ranch, ranked, with the sample ranch's log moved to its dates alone."""
    made = tiny.build(tmp_path_factory.mktemp("pages") / "ranch", tiny.Variant())
    shutil.copyfile(sample_folder() / "log.csv", made.parent / "log.csv")
    text = made.read_text(encoding="utf-8").replace("[layers]\n", '[layers]\nlog = "log.csv"\n')
    made.write_text(text, encoding="utf-8")
    scout(made, out=made.parent / "out", sheets=False)
    return made


COMMANDS = {
    "pack": lambda plan, out: pack(plan, out=out),
    "drop": lambda plan, out: drop(plan, out=out),
    "report": lambda plan, out: report(plan, out=out, ask=ReportAsk()),
    "log": lambda plan, out: report(plan, out=out, ask=ReportAsk()),
}


_RUN: dict[str, Path] = {}


def run(kind: str, plan: Path, folder: Path) -> Path:
    """The command's own PDF, printed beside what the last ranking left; a command is run once for all tests."""
    command = "report" if kind == "log" else kind
    if command not in _RUN:
        shutil.copytree(plan.parent / "out", folder)
        COMMANDS[kind](plan, folder)
        _RUN[command] = folder
    return _RUN[command] / FILES[kind]


@pytest.mark.parametrize("kind", sorted(COMMANDS))
def test_pages_and_print_are_the_commands(kind: str, plan: Path, tmp_path: Path) -> None:
    printed = run(kind, plan, tmp_path / "out")
    own = tmp_path / "own"
    shutil.copytree(plan.parent / "out", own)
    pages = PageDesk().pages(PagesRequest(kind=kind, plan=str(plan), out=str(own)))
    assert len(pages.rows) == len(PdfReader(printed).pages)
    assert pages.file == printed.name
    done = print_pages(PagesRequest(kind=kind, plan=str(plan), out=str(own)))
    assert (own / FILES[kind]).read_bytes() == printed.read_bytes()
    assert FILES[kind] in done.files


@pytest.mark.parametrize("kind", ["pack", "drop", "report"])
def test_the_pages_laid_out_are_the_pages_of_the_file(kind: str, plan: Path, tmp_path: Path) -> None:
    """Written to a PDF, the sheets that the screen shows give the very bytes of the command."""
    printed = run(kind, plan, tmp_path / "out")
    made = read_plan(plan)
    with own_settings():
        request = PagesRequest(kind=kind, plan=str(plan))
        laid = desk_sheets.PLANNERS[kind](made, plan.parent / "out", request, lambda *_: None)
        pages = []
        for n, sheet in enumerate(laid.sheets, start=1):
            page = Page(laid.paper, number=n, of=len(laid.sheets))
            sheet.draw(page)
            pages.append(page)
        write_pdf(pages, tmp_path / "again.pdf", title=PdfReader(printed).metadata.title, date=made.date)
    assert (tmp_path / "again.pdf").read_bytes() == printed.read_bytes()


def test_a_page_is_drawn_at_its_size(plan: Path) -> None:
    desk = PageDesk()
    pages = desk.pages(PagesRequest(kind="pack", plan=str(plan)))
    image = desk.page(PageRequest(kind="pack", serial=pages.serial, number=1, dpi=50.0))
    assert image.pixels.width_px == pytest.approx(pages.width_mm / 25.4 * 50.0, abs=1.0)
    assert len(image.pixels.data) == 4 * image.pixels.width_px * image.pixels.height_px
    assert len(set(image.pixels.data)) > 2
    with pytest.raises(ValueError, match="not held any more"):
        desk.page(PageRequest(kind="pack", serial=pages.serial + 1, number=1))
    with pytest.raises(ValueError, match="no page 99"):
        desk.page(PageRequest(kind="pack", serial=pages.serial, number=99))


def make_pane(kind: str, plan: Path, qtbot) -> SheetPane:
    desk = PlanDesk(NearClient())
    desk.path = plan
    pane = SheetPane(desk, kind)
    qtbot.addWidget(pane)
    pane.resize(1100, 700)
    pane.show()
    pane.shown()
    qtbot.waitUntil(lambda: pane.pages is not None and not pane.sheet.pixmap().isNull(), timeout=60_000)
    return pane


def test_a_pane_shows_the_pages_and_turns_them_by_keys(plan: Path, qtbot) -> None:
    pane = make_pane("report", plan, qtbot)
    count = len(pane.pages.rows)
    assert count > 2
    assert pane.page_list.count() == count
    for number in range(2, count + 1):
        QTest.keyClick(pane.scroll, Qt.Key.Key_PageDown)
        assert pane.number == number
    QTest.keyClick(pane.scroll, Qt.Key.Key_PageDown)
    assert pane.number == count
    QTest.keyClick(pane.scroll, Qt.Key.Key_Home)
    assert pane.number == 1
    assert f"Page 1 of {count}" in pane.status.text()
    wide = pane.sheet.pixmap().width()
    QTest.keyClick(pane.scroll, Qt.Key.Key_Plus)
    assert pane.sheet.pixmap().width() == pytest.approx(1.25 * wide, abs=2)


def test_grey_shows_no_colour(plan: Path, qtbot) -> None:
    pane = make_pane("report", plan, qtbot)
    pane.go_to(2)
    qtbot.waitUntil(lambda: pane._has(2))
    assert coloured(pane)
    QTest.keyClick(pane.scroll, Qt.Key.Key_G)
    assert not coloured(pane)


def coloured(pane: SheetPane) -> bool:
    image = pane.sheet.pixmap().toImage()
    places = [(x, y) for x in range(0, image.width(), 3) for y in range(0, image.height(), 3)]
    colours = [image.pixelColor(x, y) for x, y in places]
    return any(max(c.red(), c.green(), c.blue()) - min(c.red(), c.green(), c.blue()) > 24 for c in colours)


def test_ticking_a_site_lays_its_pages_out(plan: Path, qtbot) -> None:
    pane = make_pane("pack", plan, qtbot)
    before = pane.pages
    other = next(n for n in before.ranked if n not in before.chosen) if len(before.chosen) < len(before.ranked) else ""
    if other:
        pane.site_list.item(before.ranked.index(other)).setCheckState(Qt.CheckState.Checked)
        want = {*before.chosen, other}
    else:
        pane.site_list.item(0).setCheckState(Qt.CheckState.Unchecked)
        want = set(before.ranked[1:])
    qtbot.waitUntil(lambda: pane.pages is not before)
    assert set(pane.pages.chosen) == want


def test_print_by_key_writes_the_file(plan: Path, qtbot) -> None:
    pane = make_pane("pack", plan, qtbot)
    target = plan.parent / "out" / "pack_sheet.pdf"
    target.unlink(missing_ok=True)
    QTest.keyClick(pane.scroll, Qt.Key.Key_P, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(target.exists, timeout=30_000)
    qtbot.waitUntil(lambda: "pack_sheet.pdf" in pane.status.text() and "Written" in pane.status.text())


def test_what_is_wrong_is_said_in_the_pane(tmp_path: Path, qtbot) -> None:
    plan = tiny.build(tmp_path / "bare", tiny.Variant())
    desk = PlanDesk(NearClient())
    desk.path = plan
    pane = SheetPane(desk, "pack")
    qtbot.addWidget(pane)
    pane.show()
    pane.shown()
    qtbot.waitUntil(lambda: "no sites are ranked yet" in pane.status.text())
    assert pane.page_list.count() == 0


def test_the_log_counts_from_now_unless_told_otherwise(plan: Path, qtbot) -> None:
    desk = PlanDesk(NearClient())
    desk.path = plan
    view = LogView(desk)
    qtbot.addWidget(view)
    view.show()
    view.shown()
    assert view.sheets.request().live
    view.sheets.side.live.setChecked(False)
    assert not view.sheets.request().live
    qtbot.waitUntil(lambda: view.sheets.pages is not None, timeout=30_000)
