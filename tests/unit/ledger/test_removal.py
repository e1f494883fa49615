"""Removal: an estimate only where every condition is met, and each one that is not is named."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Sequence

import pytest

from boscage.errors import InputError
from boscage.ledger.removal import judge_removal, make_passes
from boscage.ledger.removal_closed import asymptotic_error, three_pass, two_pass, two_pass_adjusted
from boscage.ledger.removal_effort import delury, leslie
from boscage.ledger.removal_likelihood import carle_strub, maximum_likelihood
from boscage.model.ledger import Book
from boscage.model.ledger_removal import NoEstimate, RemovalOptions, RemovalPass

CLOSED = RemovalOptions(closed=True)


def passes(catches: Sequence[int], efforts: Sequence[float] | None = None, days: int = 7) -> list[RemovalPass]:
    begin = dt.date(2026, 9, 1)
    return [
        RemovalPass(
            first=begin + dt.timedelta(days=days * i), last=begin + dt.timedelta(days=days * i + days - 1),
            effort=efforts[i] if efforts else 10.0, catch=c,
        )
        for i, c in enumerate(catches)
    ]  # fmt: skip


def failed(found: object) -> list[str]:
    return [t.name for t in found.tests if not t.passed]  # type: ignore[attr-defined]


def test_the_sample_supports_no_estimate_and_every_reason_is_named(sample: Book) -> None:
    found = judge_removal(make_passes(sample, 7), RemovalOptions())
    assert not found.fit and found.estimate is None and found.left is None and found.taken == 19
    weeks = [(3.0, 7), (1.0, 0), (3.0, 10), (2.0, 2), (1.0, 0), (2.0, 0)]
    assert [(p.effort, p.catch) for p in found.passes] == weeks, "weeks from 17 September, counted by hand"
    assert "closure" in failed(found) and "nobody has said whether animals came or left meanwhile." in found.reasons
    assert len(found.reasons) == len(failed(found))


def test_a_removal_that_meets_every_condition() -> None:
    found = judge_removal(passes([60, 28, 12, 6]), CLOSED)
    assert found.fit and found.reasons == () and found.estimate is not None and found.beside is not None
    assert found.estimate.method == "maximum likelihood" and found.beside.method == "Carle and Strub"
    assert found.estimate.low <= found.estimate.number <= found.estimate.high
    assert found.left == pytest.approx(
        [n - 106 for n in (found.estimate.number, found.estimate.low, found.estimate.high)]
    )
    assert "whole groups" in found.caveat


@pytest.mark.parametrize(
    ("change", "names"),
    [
        ({"catches": [60, 28, 12]}, ["passes"]),
        ({"days": 25}, ["time"]),
        ({"closed": None}, ["closure"]),
        ({"closed": False}, ["closure"]),
        ({"catches": [12, 28, 30, 60]}, ["falling"]),
        ({"catches": [20, 9, 4, 2]}, ["rate"]),
        ({"catches": [30, 25, 21, 18]}, ["rate"]),
        ({"catches": [0, 0, 0, 0]}, ["catch", "falling"]),
        ({"catches": [1, 0, 0, 0]}, ["catch", "falling"]),
        ({"catches": [2, 0, 0]}, ["passes"]),
        ({"catches": [60, 28]}, ["passes", "falling"]),
        ({"catches": []}, ["passes", "time", "catch", "falling"]),
    ],
)
def test_each_condition_by_itself(change: dict[str, object], names: list[str]) -> None:
    made = {"catches": [60, 28, 12, 6], "days": 7, "closed": True, **change}
    found = judge_removal(passes(made["catches"], days=made["days"]), RemovalOptions(closed=made["closed"]))  # type: ignore[arg-type]
    assert failed(found) == names and not found.fit
    assert found.estimate is None and found.beside is None and found.left is None


def test_few_animals_need_the_higher_rate() -> None:
    """Under 50 animals a rate of 0.70: Davis et al. (2016), Ecol. Appl. 26:2339."""
    few = judge_removal(passes([22, 6, 2, 0]), CLOSED)
    assert few.fit and few.estimate is not None and few.estimate.rate > 0.70
    many = judge_removal(passes([60, 28, 12, 6]), CLOSED)
    assert many.estimate is not None and 0.40 < many.estimate.rate < 0.70
    assert "over 0.70 is needed for fewer than 50 animals" in judge_removal(passes([20, 9, 4, 2]), CLOSED).reasons[0]


def test_uneven_effort_goes_to_leslie() -> None:
    """N 100, q 0.06 for each unit of effort: catches are those of Leslie's line itself."""
    efforts, left, catches = [8.0, 12.0, 10.0, 6.0], 100.0, []
    for effort in efforts:
        catches.append(left * 0.06 * effort)
        left -= catches[-1]
    found = leslie(catches, efforts)
    assert found and (found.number, found.rate) == pytest.approx((100.0, 0.06))
    judged = judge_removal(passes([round(c) for c in catches], efforts), CLOSED)
    assert judged.fit and judged.estimate is not None and judged.estimate.method == "Leslie" and judged.beside is None
    assert judged.estimate.number == pytest.approx(100.0, abs=3.0)
    rate = next(t.text for t in judged.tests if t.name == "rate")
    share = 1 - math.exp(-judged.estimate.rate * 9.0)
    assert f"each pass removed a share of {share:.2f}" in rate, "a pass of mean effort"


def test_an_interval_without_an_upper_end_is_not_fit() -> None:
    found = maximum_likelihood([10, 9, 8, 8])
    assert found and math.isinf(found.high) and found.low >= 35
    assert "interval" in failed(judge_removal(passes([10, 9, 8, 8]), CLOSED))


@pytest.mark.parametrize(
    ("found", "said"),
    [
        (two_pass(5, 5), "the last pass took 5 and the first 5; the catch must fall"),
        (two_pass(5, 7), "the last pass took 7"),
        (two_pass(0, 0), "nothing was caught"),
        (two_pass_adjusted(5, 7), "the last pass took 7"),
        (three_pass(5, 9, 5), "the catch must fall"),
        (three_pass(0, 0, 0), "nothing was caught"),
        (maximum_likelihood([5, 7, 8]), "the catch does not fall"),
        (maximum_likelihood([0, 0, 0]), "nothing was caught"),
        (maximum_likelihood([1, 0, 0]), "one animal was caught"),
        (carle_strub([0, 0]), "nothing was caught"),
        (leslie([1, 2, 3], [1, 1, 1]), "does not fall"),
        (leslie([0, 0, 0], [1, 1, 1]), "nothing was caught before the last pass"),
        (delury([1, 2, 3], [1, 1, 1]), "does not fall"),
        (delury([3, 0, 1], [1, 1, 1]), "no logarithm"),
    ],
)
def test_estimators_without_an_answer_say_why(found: object, said: str) -> None:
    assert isinstance(found, NoEstimate) and not found and said in found.reason


def test_everything_in_the_first_pass() -> None:
    for found in (maximum_likelihood([30, 0, 0]), carle_strub([30, 0, 0]), three_pass(30, 0, 0), two_pass(30, 0)):
        assert found and (found.number, found.rate, found.error) == (30.0, 1.0, 0.0)


@pytest.mark.parametrize(
    "call",
    [
        lambda: two_pass(-1, 0), lambda: carle_strub([5]), lambda: maximum_likelihood([5, -2]),
        lambda: maximum_likelihood([5, 2.5]), lambda: leslie([1, 2], [1, 1]), lambda: leslie([1, 2, 3], [1, 1]),
        lambda: leslie([1, 2, 3], [1, 0, 1]), lambda: delury([1, -2, 3], [1, 1, 1]),
    ],
)  # fmt: skip
def test_catches_that_are_none_are_refused(call: Callable[[], object]) -> None:
    with pytest.raises(InputError):
        call()


def test_no_error_where_the_variance_has_none() -> None:
    assert all(map(math.isnan, asymptotic_error(10.0, 0.0, 3)))
    assert all(map(math.isnan, asymptotic_error(10.0, 1e-9, 3)))


def test_passes_from_a_log(book_of: Callable[..., Book]) -> None:
    book = book_of(
        "date,site,event,sow\n2026-09-01,A,armed,\n2026-09-05,A,capture,3\n2026-09-06,A,open,\n2026-09-30,B,armed,\n"
        "2026-10-01,B,capture,2\n2026-10-02,B,pulled,\n2026-10-02,B,capture,1\n"
    )
    found = make_passes(book, 3)
    assert [(p.first.day, p.last.day, p.effort, p.catch) for p in found] == [
        (1, 3, 3.0, 0),
        (4, 5, 2.0, 3),
        (30, 30, 1.0, 0),
        (1, 1, 1.0, 3),
    ]
    assert make_passes(book_of("date,site,event\n"), 7) == ()
