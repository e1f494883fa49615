"""Pages of the report: nothing overlaps or leaves the paper, whatever the log holds; the front is always one page."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
import report_ranch as ranch
from paper import outside, overlaps, text_boxes
from report_ranch import Row

from boscage.model.report import NightLine, ReportAsk, ReportResult
from boscage.model.results import Backdrop
from boscage.pipeline.report import make_backdrop
from boscage.pipeline.report_compute import make_result
from boscage.pipeline.report_inputs import read_inputs
from boscage.pipeline.report_masked import finished
from boscage.sheets.page import Page
from boscage.sheets.pdf import own_settings
from boscage.sheets.report_sheets import plan_report_sheets
from boscage.sheets.reportchart import bins_of, top_of
from boscage.sheets.reportchecks import plan_check_sheets
from boscage.sheets.reportwords import percent, two

LONG = "Żabia Łąka and the Upper Dunnock Hollow timber, pasture, creek bottom, ridge and glade tracts of one name " * 2
MIDDLE = (2000.0, 3000.0)


@dataclass(frozen=True)
class Case:
    """A log and how it is printed."""

    rows: tuple[Row, ...]
    units: str = "metric"
    name: str = "Test Ranch"
    exact: bool = False
    owner: str | None = None
    note: str = ""


def season(site: str, group: str, begin: dt.date, at: tuple[float, float], *, catch: int = 3) -> list[Row]:
    def day(n: int) -> str:
        return (begin + dt.timedelta(days=n)).isoformat()

    return [
        Row(day(0), site, "prebait", hours="2", at=at, time="16:00"), Row(day(6), site, "open", hours="5"),
        Row(day(9), site, "armed", group=group, time="18:00"), Row(day(9), site, "check", time="06:30"),
        Row(day(10), site, "capture", (0, 1, 1, catch), group, "4"), Row(day(12), site, "armed", time="18:00"),
    ]  # fmt: skip


PLAIN = tuple(season("A-1", "creek of 7", dt.date(2026, 10, 1), MIDDLE))
MANY = tuple(
    row for k in range(45)
    for row in season(f"M-{k:02d}", f"group {k} of {5 + k % 4}", dt.date(2026, 9, 1) + dt.timedelta(days=k),
                      (300 + 170 * k % 7500, 300 + 410 * k % 5500))
)  # fmt: skip
LONG_NAMES = tuple(
    replace(row, group=row.group and f'"{LONG} {row.group}"')
    for k in range(12) for row in season(f'"{LONG} {k}"', f"of {7 + k}", dt.date(2026, 10, 1), (500 + 600 * k, 3000))
)  # fmt: skip
CASES = {
    "plain": Case(PLAIN), "plain us exact": Case(PLAIN, units="us", exact=True), "many": Case(MANY),
    "many us exact": Case(MANY, units="us", exact=True), "empty": Case(()), "one night": Case((PLAIN[2],), units="us"),
    "long": Case(LONG_NAMES, name=LONG, note=LONG),
    "long us exact": Case(LONG_NAMES, units="us", name=LONG, exact=True),
    "owner": Case(MANY, owner=ranch.WEST, exact=True), "owner us": Case(MANY, owner=ranch.EAST, units="us"),
}  # fmt: skip


@pytest.fixture
def made(tmp_path: Path) -> Callable[[Case], tuple[ReportResult, Backdrop]]:
    def make(case: Case) -> tuple[ReportResult, Backdrop]:
        plan = ranch.build(tmp_path, list(case.rows), ranch=f'note = "{case.note or "Invented data"}"')
        text = plan.read_text(encoding="utf-8").replace('"Test Ranch"', f'"{case.name}"')
        plan.write_text(text.replace('units = "metric"', f'units = "{case.units}"'), encoding="utf-8")
        inputs = read_inputs(plan, tmp_path / "out")
        exact = make_result(inputs, ReportAsk(owner=case.owner, exact=case.exact))
        result = finished(exact, inputs, exact=case.exact)
        return result, make_backdrop(inputs, result)

    return make


@pytest.mark.parametrize("name", CASES)
def test_no_text_overlaps_another_or_leaves_the_paper(made: Callable[..., object], name: str) -> None:
    result, backdrop = made(CASES[name])  # type: ignore[misc]
    with own_settings():
        sheets = [*plan_report_sheets(result, backdrop), *plan_check_sheets(result)]
        kinds = [s.kind for s in sheets]
        assert kinds[:2] == ["front", "map"] and set(kinds[2:]) == {"annex", "checks"}
        for number, sheet in enumerate(sheets, start=1):
            page = Page(result.plan.paper, number=number, of=len(sheets))
            sheet.draw(page)
            texts, boxes = text_boxes(page)
            where = f"{name}, page {number} ({sheet.kind})"
            assert outside(page, texts, boxes) == [], where
            assert overlaps(texts, boxes) == [], where
            said = " ".join(texts)
            assert re.search(r"\b(safe|clear)\b", said, re.IGNORECASE) is None, where
            assert "nan" not in said.lower().replace("nannette", "").split(), where


@pytest.mark.parametrize("name", ["plain", "many us exact", "long", "empty"])
def test_the_front_has_everything_that_an_owner_asks(made: Callable[..., object], name: str) -> None:
    """What you did, what you caught, where, what is left, what next, and what to mind: all of it on one page."""
    result, backdrop = made(CASES[name])  # type: ignore[misc]
    with own_settings():
        page = Page(result.plan.paper)
        plan_report_sheets(result, backdrop)[0].draw(page)
        texts, _ = text_boxes(page)
    for words in ("What was done", "What was caught", "Where", "What is left", "Damage", "What comes next", "Mind",
                  "who", "by"):  # fmt: skip
        assert words in texts, words
    said = " ".join(texts)
    for words in ("Nothing is said of the other land", "brucellosis", "animal-health office", "never walk up"):
        assert words in said, words


def test_a_list_that_is_cut_says_so(made: Callable[..., object]) -> None:
    result, backdrop = made(CASES["many"])  # type: ignore[misc]
    with own_settings():
        said = []
        for sheet in plan_report_sheets(result, backdrop):
            page = Page(result.plan.paper)
            sheet.draw(page)
            said += text_boxes(page)[0]
    words = " ".join(said)
    assert "earlier catches more: see the annex" in words and "33 sets more in report.json" in words
    assert "33 groups more in report.json" in words


def test_the_chart_puts_nights_together_where_they_are_many() -> None:
    begin = dt.date(2026, 1, 1)
    nights = [NightLine(night=begin + dt.timedelta(days=k), armed=1, animals=k % 2) for k in range(1000)]
    for count, word, bins in ((100, "night", 100), (131, "week", 20), (911, "month", 30)):
        told, held = bins_of(nights[:count])
        assert (told, len(held)) == (word, bins)
        assert sum(b.armed for b in held) == count and sum(b.animals for b in held) == count // 2
    assert all(top_of(n)[0] >= n and top_of(n)[0] % top_of(n)[1] == 0 for n in range(500))


@pytest.mark.parametrize(
    ("share", "said"), [(0.0, "0 %"), (1.0, "100 %"), (0.0049, "under 1 %"), (0.996, "over 99 %"), (0.5, "50 %")]
)
def test_a_little_is_never_nothing_and_nearly_all_is_never_all(share: float, said: str) -> None:
    assert percent(share) == said


def test_rates_have_two_figures() -> None:
    assert [two(v) for v in (1.5833, 12.34, 0.0521, 123.4, float("inf"))] == [
        "1.6", "12", "0.052", "120", "no upper end"
    ]  # fmt: skip
