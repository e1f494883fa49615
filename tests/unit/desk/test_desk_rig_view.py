"""The rig view: what the operator does to trees, and the ring that comes back."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from pathlib import Path

import pytest

pytest.importorskip("PySide6", reason="the window needs PySide6-Essentials, the extra `desk`")
pytest.importorskip("pytestqt", reason="the window is tested with pytest-qt")

import tiny_ranch as tiny
from desk_near import NearClient, near_desk
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from boscage.desk.hub import Desk
from boscage.desk.rigchanges import DRAFT, TYPED
from boscage.desk.rigview import RigView
from boscage.model.desk import Opened
from boscage.model.rig import NoRing, Ring, RingOptions
from boscage.pipeline.demo import sample_folder
from boscage.pipeline.desk_session import Session
from boscage.pipeline.scout import scout
from boscage.readers.stem_list import read_stem_list
from boscage.rigging.ring import fit_ring


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The tiny ranch with the sample ranch's stems by the creek round its best site."""
    made = tiny.build(tmp_path_factory.mktemp("rig") / "ranch", tiny.Variant())
    site = scout(made, out=made.parent / "out", sheets=False).sites[0].place
    stems = read_stem_list(sample_folder() / "stems_creek.csv").stems
    lines = [f"{s.stem},{site.x_m + s.x_m:.3f},{site.y_m + s.y_m:.3f},{100 * s.dbh_m:.1f},{s.kind}" for s in stems]
    (made.parent / "stems.csv").write_text("stem,x_m,y_m,dbh_cm,kind\n" + "\n".join(lines) + "\n", encoding="utf-8")
    text = made.read_text(encoding="utf-8").replace("[layers]\n", '[layers]\nstems = "stems.csv"\n')
    made.write_text(text + '\n[net]\nperimeter = "60ft"\n', encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def session(plan: Path) -> Session:
    return Session.open(plan)


@pytest.fixture
def view(plan: Path, session: Session, qtbot) -> RigView:
    (plan.parent / DRAFT).unlink(missing_ok=True)
    desk = Desk(NearClient(session))
    desk.set_opened(session.opened())
    desk.set_ranking(session.rank())
    made = RigView(desk)
    qtbot.addWidget(made)
    made.resize(1100, 700)
    made.show()
    made.shown()
    qtbot.waitUntil(lambda: made.answer is not None and made.canvas.ring is not None)
    return made


def settled(view: RigView, qtbot, act) -> None:
    """Do something and wait for the ring that comes of it."""
    before = view.answer
    act()
    qtbot.waitUntil(lambda: view.answer is not before and not view._fit.waits and not view._compare.waits)


def names(ring: Ring | NoRing | None) -> list[str]:
    assert isinstance(ring, Ring)
    return [c.stem.stem if c.stem is not None else "post" for c in ring.contacts]


def expected(view: RigView, out: tuple[str, ...] = (), bad: tuple[str, ...] = ()) -> Ring | NoRing:
    """The ring by the fitting itself, from the stems of the answer."""
    assert view.answer is not None and view.canvas.ring is not None
    first = [s.stem for s in view.answer.stems if s.stem.stem not in out]
    stems = [replace(s, kind="dead") if s.stem in bad else s for s in first]
    return fit_ring(stems, replace(view.canvas.ring.options, posts=False))


def test_the_ring_shown_is_the_exact_one(view: RigView) -> None:
    ring = expected(view)
    assert names(view.canvas.ring) == names(ring)
    assert view.panel.figure("Score") == f"{ring.score:.1f} of 100"
    assert view.panel.figure("Lost against the best") == "nothing"


def test_a_contact_left_out_gives_the_next_best_ring_and_says_what_is_lost(view: RigView, qtbot) -> None:
    best = view.canvas.ring
    gone = names(best)[0]
    want = expected(view, out=(gone,))
    settled(view, qtbot, lambda: view.leave_out(gone))
    assert isinstance(want, Ring)
    assert gone not in names(view.canvas.ring)
    assert names(view.canvas.ring) == names(want)
    assert view.canvas.ring.score == pytest.approx(want.score, abs=1e-9)
    assert want.score < best.score
    assert view.panel.figure("Lost against the best") == f"{best.score - want.score:.1f} points of {best.score:.1f}"
    row = view.panel.table.stems.row_of(gone)
    assert view.panel.table.stems.index(row, 2).data() == "LEFT OUT"


def test_a_bad_tree_stays_on_the_drawing_and_holds_nothing(view: RigView, qtbot) -> None:
    bad = names(view.canvas.ring)[2]
    want = expected(view, bad=(bad,))
    settled(view, qtbot, lambda: view.mark_bad(bad))
    assert names(view.canvas.ring) == names(want)
    shown = {s.stem.stem: s.state for s in view.answer.stems}
    assert shown[bad] == "bad"
    assert "Bad: " + bad in view.panel.sentences.text()


def test_undo_and_redo(view: RigView, qtbot) -> None:
    best = names(view.canvas.ring)
    settled(view, qtbot, lambda: view.leave_out(best[0]))
    second = names(view.canvas.ring)
    settled(view, qtbot, lambda: view.mark_bad(second[0]))
    third = names(view.canvas.ring)
    assert best != second != third
    settled(view, qtbot, view.undo)
    assert names(view.canvas.ring) == second
    settled(view, qtbot, view.undo)
    assert names(view.canvas.ring) == best
    settled(view, qtbot, view.redo)
    assert names(view.canvas.ring) == second
    assert view.panel.buttons["redo"].isEnabled()


def test_by_keyboard_alone(view: RigView, qtbot) -> None:
    best = names(view.canvas.ring)
    view.canvas.setFocus()
    QTest.keyClick(view.canvas, Qt.Key.Key_N)
    assert view.canvas.stem == best[0]
    settled(view, qtbot, lambda: QTest.keyClick(view.canvas, Qt.Key.Key_Delete))
    assert best[0] not in names(view.canvas.ring)
    settled(view, qtbot, lambda: QTest.keyClick(view.canvas, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier))
    assert names(view.canvas.ring) == best
    settled(view, qtbot, lambda: QTest.keyClick(view.canvas, Qt.Key.Key_B))
    assert view.history.now.bad == (best[0],)
    at = view.canvas.stem
    QTest.keyClick(view.canvas, Qt.Key.Key_Up)
    assert view.canvas.stem != at
    assert view.panel.table.current_stem() == view.canvas.stem


def test_a_tree_dragged_off_the_canvas_is_left_out(view: RigView, qtbot) -> None:
    gone = names(view.canvas.ring)[1]
    stem = next(s.stem for s in view.answer.stems if s.stem.stem == gone)
    at = view.canvas.to_px(stem.x_m, stem.y_m).toPoint()

    def drag(to: QPoint) -> None:
        QTest.mousePress(view.canvas, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, at)
        QTest.mouseMove(view.canvas, at + QPoint(30, 0))
        QTest.mouseMove(view.canvas, to)
        QTest.mouseRelease(view.canvas, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, to)

    drag(at + QPoint(25, 5))
    assert view.history.now.removed == ()
    settled(view, qtbot, lambda: drag(QPoint(view.canvas.width() + 50, 100)))
    assert gone not in names(view.canvas.ring)


def test_only_the_latest_answer_counts(view: RigView) -> None:
    client = view._desk.client
    first, second = names(view.canvas.ring)[:2]
    client.held = True
    view.leave_out(first)
    view.leave_out(second)
    client.let_go((1, 0))
    client.held = False
    shown = {s.stem.stem for s in view.answer.stems if s.state == "removed"}
    assert shown == {first, second}


def test_changes_outlive_the_window(view: RigView, qtbot) -> None:
    gone = names(view.canvas.ring)[0]
    settled(view, qtbot, lambda: view.leave_out(gone))
    kept = json.loads((view._desk.plan.parent / DRAFT).read_text(encoding="utf-8"))
    assert kept["places"][view.place]["removed"] == [gone]
    again = RigView(view._desk)
    qtbot.addWidget(again)
    again.show()
    again.shown()
    qtbot.waitUntil(lambda: again.answer is not None and not again._compare.waits)
    assert gone not in names(again.canvas.ring)
    assert "points of" in again.panel.figure("Lost against the best")


def test_a_typed_list_gives_the_ring_of_the_same_csv(qtbot, tmp_path: Path) -> None:
    path = sample_folder() / "stems_creek.csv"
    with path.open(encoding="utf-8") as file:
        _head, *rows = csv.reader(file)
    view = RigView(near_desk(None))
    qtbot.addWidget(view)
    view.show()
    view.type_list()
    table = view.panel.table
    assert table.stems.columns == ("stem", "dbh_in", "bearing_deg", "distance_ft")
    typed = [(r[0], r[1], r[3], r[4]) for r in rows if r[2] == "tree"]
    view.panel.declination.setText("-0.6")
    for n, row in enumerate(typed):
        for col, cell in enumerate(row):
            assert table.stems.setData(table.stems.index(n, col), cell) or table.stems.rows[n][col] == cell
    qtbot.waitUntil(lambda: view.answer is not None and len(view.answer.stems) == len(typed))
    shown = tmp_path / "trees.csv"
    shown.write_text("\n".join([",".join(table.stems.columns), *map(",".join, typed)]) + "\n", encoding="utf-8")
    stems = read_stem_list(shown, declination_deg=-0.6).stems
    want = fit_ring(stems, RingOptions(perimeter_m=view.canvas.ring.options.perimeter_m))
    assert names(view.canvas.ring) == names(want)
    assert view.canvas.ring.score == pytest.approx(want.score, abs=1e-9)


def test_a_list_typed_by_keys_with_a_wrong_cell(qtbot) -> None:
    view = RigView(near_desk(None))
    qtbot.addWidget(view)
    view.show()
    view.type_list()
    table = view.panel.table
    for row in (("1", "10", "0", "9"), ("2", "9.5", "60", "9"), ("3", "oak", "120", "9"), ("4", "11", "180", "9")):
        start = table.currentIndex().column()
        for cell in row[start:]:
            index = table.currentIndex()
            table.edit(index)
            editor = table.focusWidget() if table.focusWidget() is not table else None
            editor = editor or table.indexWidget(index) or table.findChild(type(view.panel.declination))
            editor.setText(cell)
            QTest.keyClick(editor, Qt.Key.Key_Tab)
    assert [r[:4] for r in table.stems.filled()] == [
        ("1", "10", "0", "9"), ("2", "9.5", "60", "9"), ("3", "oak", "120", "9"), ("4", "11", "180", "9")
    ]  # fmt: skip
    qtbot.waitUntil(lambda: view.answer is not None and len(view.answer.stems) == 3)
    said = table.stems.index(2, 4).data()
    assert "oak" in said and "expected a number" in said
    assert table.stems.headerData(2, Qt.Orientation.Vertical) == "! 3"
    assert "1 row left out" in view.panel.sentences.text()


def test_a_saved_list_gives_the_ring_that_was_shown(qtbot, tmp_path: Path) -> None:
    view = RigView(near_desk(None))
    qtbot.addWidget(view)
    view.show()
    view.load_list(str(sample_folder() / "stems_creek.csv"))
    qtbot.waitUntil(lambda: view.answer is not None)
    best = names(view.canvas.ring)
    settled(view, qtbot, lambda: view.leave_out(best[0]))
    settled(view, qtbot, lambda: view.mark_bad(names(view.canvas.ring)[0]))
    saved = tmp_path / "kept.csv"
    view.save_list(str(saved))
    want = fit_ring(read_stem_list(saved).stems, RingOptions(perimeter_m=view.canvas.ring.options.perimeter_m))
    assert names(view.canvas.ring) == names(want)


def test_a_site_without_trees_says_so(view: RigView, session: Session, qtbot) -> None:
    other = view._sites()[-1]
    view.show_place(other)
    qtbot.waitUntil(lambda: view.answer is not None)
    assert view.canvas.ring is None
    assert view.canvas.sentence
    assert view.panel.figure("Ring") in ("", "NONE")
    assert isinstance(session.opened(), Opened)
    assert view.place != TYPED
