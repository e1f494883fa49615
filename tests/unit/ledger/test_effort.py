"""Effort, captures and rates: each kind of night apart, nothing written down is NaN and not nought."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from boscage.errors import InputError
from boscage.ledger.effort import corrected_per_hundred, find_rates, poisson_rate, sum_captures, sum_effort
from boscage.model.ledger import Book

HEAD = "date,site,event,boar,sow,yearling,piglet,group,hours\n"


def test_the_sample_by_hand(sample: Book) -> None:
    effort, caught = sum_effort(sample), sum_captures(sample)
    assert (effort.armed_nights, effort.open_nights, effort.prebait_nights, effort.sites) == (12, 33, 80, 4)
    assert caught.by_class == {"boar": 1, "sow": 5, "yearling": 4, "piglet": 9, "total": 19}
    assert (effort.checks, effort.rows_without_hours, len(caught.nights)) == (54, 0, 3)
    assert (
        effort.hours
        == pytest.approx(sum(effort.hours_by_task.values()))
        == pytest.approx(sum(r.hours for r in sample.rows))
    )
    assert math.isnan(effort.camera_nights)
    assert effort.bait_kg == pytest.approx((135 + 210 + 250 + 130) * 0.45359237), "pounds by set, added by hand"
    assert [n.days_from_bait for n in caught.nights] == [16.0, 18.0, 25.0]
    assert caught.nontargets == {"raccoon": 1} and caught.fates == {"dispatched": 19}
    assert caught.injuries == {"boar": 1, "sow": 0, "yearling": 0, "piglet": 0}
    assert [n.minutes_to_approach for n in caught.nights] == [40.0, 50.0, 40.0]
    assert [n.minutes_to_finish for n in caught.nights] == [75.0, 95.0, 55.0]
    rates = find_rates(effort, caught)
    assert rates.per_armed_night.value == pytest.approx(19 / 12)
    assert rates.events_per_armed_night.value == pytest.approx(3 / 12)
    assert rates.hours_per_capture == pytest.approx(effort.hours / 19)
    assert "too narrow" in rates.notes[0]


def test_the_sample_counts_agree_with_the_file(sample: Book) -> None:
    """Counted once more straight from the text of the file."""
    import csv
    from pathlib import Path

    with (Path(__file__).parents[3] / "sample_data" / "log.csv").open() as file:
        rows = list(csv.DictReader(file))
    assert sum_effort(sample).hours == pytest.approx(sum(float(r["hours"]) for r in rows))
    assert sum_effort(sample).checks == sum(r["event"] == "check" for r in rows)
    caught = [r for r in rows if r["event"] == "capture"]
    for name in ("boar", "sow", "yearling", "piglet"):
        assert sum_captures(sample).by_class[name] == sum(int(r[name]) for r in caught)


def test_rows_set_aside_are_counted_as_such(book_of: Callable[..., Book]) -> None:
    book = book_of(
        f"{HEAD}2026-09-01,A,armed,,,,,,1\n2026-09-02,A,capture,,1,,x,,2\n2026-09-02,B,capture,,1,,2,,2\n"
        "2026-09-02,A,capture,,1,,2,,4\n"
    )
    caught = sum_captures(book)
    assert (caught.total, caught.set_aside, sum_effort(book).hours) == (3, 4, 5.0)


def test_no_capture_and_one_night(book_of: Callable[..., Book]) -> None:
    book = book_of(f"{HEAD}2026-11-20,A,armed,,,,,,\n")
    effort, caught = sum_effort(book), sum_captures(book)
    rates = find_rates(effort, caught)
    assert (effort.armed_nights, caught.total, rates.per_armed_night.value, rates.per_armed_night.low) == (
        1,
        0,
        0.0,
        0.0,
    )
    assert rates.per_armed_night.high == pytest.approx(3.688879, abs=1e-6)
    assert math.isnan(effort.hours) and math.isnan(rates.hours_per_capture) and "no row states hours." in rates.notes


def test_an_empty_log_has_no_rate(book_of: Callable[..., Book]) -> None:
    book = book_of(HEAD)
    rates = find_rates(sum_effort(book), sum_captures(book))
    assert math.isnan(rates.per_armed_night.value) and math.isnan(rates.per_armed_night.high)
    assert rates.per_armed_night.exposure == 0.0
    assert rates.notes == ("no armed night: there is no rate.", "no row states hours.")
    assert sum_captures(book).by_class["total"] == 0


def test_animals_caught_one_by_one_need_no_word_on_groups(book_of: Callable[..., Book]) -> None:
    book = book_of(f"{HEAD}2026-09-01,A,armed,,,,,,1\n2026-09-02,A,capture,1,,,,,1\n2026-09-04,A,capture,1,,,,,1\n")
    assert find_rates(sum_effort(book), sum_captures(book)).notes == ()


def test_hours_by_task_and_rows_that_state_none(book_of: Callable[..., Book]) -> None:
    book = book_of(
        "date,site,event,hours,task,bait_lb\n2026-09-01,A,prebait,2,haul,100\n2026-09-02,A,check,0.5,,\n"
        "2026-09-03,A,check,,,50\n2026-09-04,A,check,1,haul,\n"
    )
    effort = sum_effort(book, camera_nights=30.0)
    assert effort.hours_by_task == {"check": 0.5, "haul": 3.0} and effort.hours == 3.5
    assert (effort.rows_without_hours, effort.rows_with_bait, effort.camera_nights) == (1, 2, 30.0)
    assert effort.bait_kg == pytest.approx(150 * 0.45359237)
    assert (
        "1 row without hours; the hours are at least what is written." in find_rates(effort, sum_captures(book)).notes
    )


def test_injuries_fates_and_nontargets(book_of: Callable[..., Book]) -> None:
    book = book_of(
        "date,site,event,sow,piglet,injury,fate,species\n2026-09-01,A,armed,,,,,\n2026-09-02,A,capture,1,,snout,Killed,\n"
        "2026-09-02,A,capture,,3,none,killed,\n2026-09-03,A,nontarget,,,,,Raccoon\n2026-09-04,A,nontarget,,,,,raccoon\n"
    )
    caught = sum_captures(book)
    assert caught.injuries == {"boar": 0, "sow": 1, "yearling": 0, "piglet": 0}
    assert caught.fates == {"killed": 4} and caught.nontargets == {"raccoon": 2}


def test_minutes_of_a_capture_over_midnight(book_of: Callable[..., Book]) -> None:
    """The two intervals that are the welfare record: net down to first approach, and to the last animal dead."""
    book = book_of(
        "date,site,event,sow,closed,approached,finished\n2026-09-01,A,armed,,,,\n2026-09-02,A,capture,2,23:50,00:10,01:05\n"
        "2026-09-03,A,capture,1,11:30,12:15,\n"
    )
    first, second = sum_captures(book).nights
    assert (first.minutes_to_approach, first.minutes_to_finish) == (20.0, 75.0)
    assert second.minutes_to_approach == 45.0 and math.isnan(second.minutes_to_finish)


def test_days_from_bait_start_anew_after_a_pull(book_of: Callable[..., Book]) -> None:
    book = book_of(
        f"{HEAD}2026-09-01,A,prebait,,,,,,\n2026-09-05,A,pulled,,,,,,\n2026-09-10,A,prebait,,,,,,\n"
        "2026-09-12,A,armed,,,,,,\n2026-09-13,A,capture,,1,,,,\n2026-09-01,B,armed,,,,,,\n2026-09-02,B,capture,,1,,,,\n"
    )
    later = {n.site: n.days_from_bait for n in sum_captures(book).nights}
    assert later["A"] == 3.0 and math.isnan(later["B"])


@pytest.mark.parametrize("bad", [(-1, 1.0, 0.95), (1, -1.0, 0.95), (1, 1.0, 1.0), (1, 1.0, 0.0)])
def test_a_rate_of_nothing_sensible_is_refused(bad: tuple[int, float, float]) -> None:
    with pytest.raises(InputError, match="none negative"):
        poisson_rate(*bad)


def test_sprung_traps_leave_no_effort() -> None:
    assert math.isnan(corrected_per_hundred(1, 2.0, 4))
