"""The clock of checks in the window: overdue is loud, unknown is said, changes of the log are seen."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path

import pytest

pytest.importorskip("PySide6", reason="the window needs PySide6-Essentials, the extra `desk`")
pytest.importorskip("pytestqt", reason="the window is tested with pytest-qt")

from desk_near import NearClient
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from boscage.desk.clockbar import ClockBar, DueChip, due_words
from boscage.desk.hub import Desk
from boscage.model.desk_pages import ClockRequest
from boscage.model.ledger_clock import DueCheck
from boscage.pipeline.demo import sample_folder
from boscage.pipeline.desk_clock import CheckClock

NOON = dt.datetime(2026, 11, 21, 12)
LATE = dt.datetime(2026, 11, 22, 9, 40)


class PlanDesk(Desk):
    """A desk whose plan is known and whose ranch is not opened."""

    path: Path

    @property
    def plan(self) -> Path:
        return self.path


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    for name in ("plan.toml", "log.csv", "parcels.gpkg"):
        shutil.copyfile(sample_folder() / name, tmp_path / name)
    return tmp_path / "plan.toml"


def make_bar(plan: Path, qtbot, now: dt.datetime) -> ClockBar:
    desk = PlanDesk(NearClient())
    desk.path = plan
    bar = ClockBar(desk)
    bar.watch.now = now
    qtbot.addWidget(bar)
    bar.refresh()
    qtbot.waitUntil(lambda: bar.answer is not None and bar.answer.now == now)
    return bar


def chips(bar: ClockBar) -> list[DueChip]:
    return [c for c in bar.findChildren(DueChip) if c.parent() is bar]


def test_overdue_is_said_in_words_and_shown_by_shape(plan: Path, qtbot) -> None:
    bar = make_bar(plan, qtbot, LATE)
    (chip,) = chips(bar)
    assert chip.label.text() == "OVERDUE: UC-1, a look was due Sun 22 Nov 06:40, 3 h 00 min ago"
    assert chip.badge.state == "overdue"
    assert chip.label.font().bold()
    ground, ink = chip.palette().window().color(), chip.palette().windowText().color()
    assert ground.lightness() < 100 < ink.lightness()
    badge = chip.badge.grab().toImage()
    assert len({badge.pixel(x, y) for x in range(badge.width()) for y in range(badge.height())}) > 1


def test_a_look_in_time_is_quiet(plan: Path, qtbot) -> None:
    bar = make_bar(plan, qtbot, NOON)
    (chip,) = chips(bar)
    assert chip.state == "upcoming"
    assert "OVERDUE" not in bar.words()
    assert chip.label.text() == "UC-1: next look by Sun 22 Nov 06:40, in 18 h 40 min"
    assert not chip.label.font().bold()


def test_a_new_row_of_the_log_is_seen(plan: Path, qtbot) -> None:
    bar = make_bar(plan, qtbot, LATE)
    log = plan.parent / "log.csv"
    head, *rows = log.read_text(encoding="utf-8").splitlines()
    look = rows[-1].replace("2026-11-20", "2026-11-21").replace("06:40", "08:00")  # the morning after that evening
    log.write_text("\n".join([head, *rows, look]) + "\n", encoding="utf-8")
    qtbot.waitUntil(lambda: "OVERDUE" not in bar.words() and "UC-1" in bar.words(), timeout=8000)
    assert "by Mon 23 Nov 08:00" in bar.words()


def test_a_log_that_cannot_be_read_is_no_good_news(plan: Path, qtbot) -> None:
    (plan.parent / "log.csv").write_text("nothing,of,a,log\n1,2,3,4\n", encoding="utf-8")
    bar = make_bar(plan, qtbot, LATE)
    assert chips(bar) == []
    assert bar.words().startswith("Checks not known: log.csv")


def test_a_plan_without_a_log_says_so(plan: Path, qtbot) -> None:
    plan.write_text(plan.read_text(encoding="utf-8").replace('log           = "log.csv"', "#"), encoding="utf-8")
    bar = make_bar(plan, qtbot, LATE)
    assert "names no log" in bar.words()


def test_a_look_without_a_time_is_perhaps_overdue() -> None:
    due = DueCheck(
        site="A-1", last_row=3, last_night=dt.date(2026, 11, 20), due=dt.datetime(2026, 11, 21, 12),
        due_latest=dt.datetime(2026, 11, 22, 12), state="perhaps overdue",
    )  # fmt: skip
    assert due_words(due, dt.datetime(2026, 11, 21, 18)).startswith("PERHAPS OVERDUE: A-1")


def test_enter_goes_to_the_log(plan: Path, qtbot) -> None:
    bar = make_bar(plan, qtbot, LATE)
    bar.show()
    with qtbot.waitSignal(bar.activated):
        QTest.keyClick(bar, Qt.Key.Key_Return)


def test_rows_after_the_plans_date_count(plan: Path) -> None:
    later = dt.datetime(2026, 12, 24, 9)
    answer = CheckClock().clock(ClockRequest(plan=str(plan), now=later))
    assert [d.state for d in answer.due] == ["overdue"]
    assert answer.zone == "America/Chicago"
