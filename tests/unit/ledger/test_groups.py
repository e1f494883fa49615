"""Groups: known, taken, missing; the least number known to be alive, and never an estimate."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest

from boscage.ledger.groups import counts_from_cameras, counts_in_log, settle_groups
from boscage.model.groups import Group, GroupNight, NightsTest
from boscage.model.ledger import Book, GroupCount

HEAD = "date,site,event,boar,sow,yearling,piglet,group,known\n2026-09-01,A,armed,,,,,,\n"


def day(number: int) -> dt.date:
    return dt.date(2026, 9, number)


def test_the_sample(sample: Book) -> None:
    """Two groups taken whole, a boar beside the second; 14 and 9 of the other two known and left."""
    found = settle_groups(sample, counts_in_log(sample))
    told = {g.group: (g.known, g.taken, g.boars_apart, g.missing, g.state) for g in found.groups}
    assert told == {
        "LH group of 7": (7, 7, 0, 0, "complete"), "SH group of 11": (11, 11, 1, 0, "complete"),
        "CD group of 14": (14, 0, 0, 14, "missing"), "UC group of 9": (9, 0, 0, 9, "missing"),
    }  # fmt: skip
    assert (found.complete, found.known, found.minimum_alive, found.taken_apart) == (2, 4, 23, 1)
    assert found.as_of == dt.date(2026, 11, 19), "the newest count, of the group of 14"
    assert found.notes == ()


def test_a_count_without_a_night_is_said(book_of: Callable[..., Book]) -> None:
    book = book_of(f"{HEAD}2026-09-05,A,check,,,,,CD group of 14,\n")
    assert settle_groups(book, counts_in_log(book)).notes == (
        "when these groups were counted is not written down: CD group of 14.",
    )


def test_who_is_missing_by_class(book_of: Callable[..., Book]) -> None:
    book = book_of(f"{HEAD}2026-09-05,A,capture,,1,2,3,G,\n")
    count = GroupCount(
        group="G", count=8, members={"sow": 2, "yearling": 2, "piglet": 4}, night=day(4), source="cameras"
    )
    (group,) = settle_groups(book, [count]).groups
    assert (group.missing, dict(group.missing_by_class), group.state) == (2, {"sow": 1, "piglet": 1}, "missing")
    assert (group.night, group.source) == (day(4), "cameras")


def test_a_number_that_fits_with_classes_that_do_not_is_unsettled(book_of: Callable[..., Book]) -> None:
    book = book_of(f"{HEAD}2026-09-05,A,capture,,1,1,,G,\n")
    (group,) = settle_groups(book, [GroupCount(group="G", count=2, members={"sow": 2}, night=day(4))]).groups
    assert group.state == "unsettled" and "1 sow would be missing" in group.note


def test_more_taken_than_known_is_no_good_news(book_of: Callable[..., Book]) -> None:
    found = settle_groups(book_of(f"{HEAD}2026-09-05,A,capture,,3,,,G of 2,\n"), [GroupCount(group="G of 2", count=2)])
    assert found.groups[0].state == "unsettled" and found.complete == 0
    assert "3 were taken and 2 known; the count was too low, so others may be left." in found.notes[0]


def test_a_boar_counts_where_the_count_names_it(book_of: Callable[..., Book]) -> None:
    book = book_of(f"{HEAD}2026-09-05,A,capture,1,1,,,G,\n")
    plain, named = GroupCount(group="G", count=2), GroupCount(group="G", count=2, members={"boar": 1, "sow": 1})
    assert [settle_groups(book, [c]).groups[0].missing for c in (plain, named)] == [1, 0]
    assert settle_groups(book, [plain]).groups[0].boars_apart == 1


def test_a_boar_beside_a_group_whose_classes_are_known_unsettles_nothing(book_of: Callable[..., Book]) -> None:
    book = book_of(f"{HEAD}2026-09-05,A,capture,1,1,1,,G,\n")
    count = GroupCount(group="G", count=2, members={"sow": 1, "yearling": 1}, night=day(5))
    (group,) = settle_groups(book, [count]).groups
    assert (group.state, group.missing_by_class, group.note, group.boars_apart) == ("complete", {}, "", 1)


def test_classes_taken_before_a_count_are_not_of_it(book_of: Callable[..., Book]) -> None:
    book = book_of(f"{HEAD}2026-09-05,A,capture,1,3,,,G,\n2026-09-07,A,capture,,1,,,G,\n")
    count = GroupCount(group="G", count=3, members={"sow": 1, "piglet": 2}, night=day(6))
    (group,) = settle_groups(book, [count]).groups
    assert (group.known, group.taken, group.missing, group.missing_by_class) == (6, 4, 2, {"piglet": 2})


def test_a_count_after_a_capture_is_net_of_it(book_of: Callable[..., Book]) -> None:
    book = book_of(f"{HEAD}2026-09-05,A,capture,,2,,4,G,\n2026-09-10,A,capture,,1,,,G,\n")
    before, after = GroupCount(group="G", count=8, night=day(4)), GroupCount(group="G", count=4, night=day(8))
    assert settle_groups(book, [before]).minimum_alive == 1
    assert settle_groups(book, [before, after]).minimum_alive == 3
    assert settle_groups(book, [after, before]).groups[0].known == 10


def test_a_count_of_the_capture_night_is_of_the_evening_before_it(book_of: Callable[..., Book]) -> None:
    book = book_of(f"{HEAD}2026-09-05,A,capture,,2,,4,G,7\n")
    (count,) = counts_in_log(book)
    assert (count.count, count.night, count.source) == (7, day(5), "row 2 of the log")
    assert settle_groups(book, [count]).minimum_alive == 1


def test_a_group_without_a_count_is_said_to_be_unknown(book_of: Callable[..., Book]) -> None:
    found = settle_groups(book_of(f"{HEAD}2026-09-05,A,capture,,2,,,G,\n"), [])
    assert (found.groups[0].state, found.groups[0].missing, found.known, found.taken_apart) == ("not known", None, 0, 2)
    assert "groups without a count: G; who of them is left is not known." in found.notes


def test_a_group_that_the_log_never_names_is_alive(book_of: Callable[..., Book]) -> None:
    found = settle_groups(book_of(HEAD), [GroupCount(group="far", count=6, night=day(3))])
    assert (found.minimum_alive, found.as_of) == (6, day(3))


@pytest.mark.parametrize(
    ("name", "count"), [("LH group of 7", 7), ("creek lot of 12", 12), ("gang of the creek", None), ("7 of them", None)]
)
def test_a_number_at_the_end_of_a_name(book_of: Callable[..., Book], name: str, count: int | None) -> None:
    book = book_of(f"{HEAD}2026-09-05,A,check,,,,,{name},\n")
    assert [c.count for c in counts_in_log(book)] == ([] if count is None else [count])


def test_counts_of_cameras() -> None:
    nights = (
        GroupNight(night=day(3), size=5, members={"adult female": 2, "juvenile": 3}),
        GroupNight(night=day(4), size=6, members={"adult female": 2, "unknown": 4}),
    )
    group = Group(
        name="G", is_named=True, deployments=("C",), nights=nights, members=nights[1].members, least=5, most=6,
        test=NightsTest(passed=False, running=1, wanted=2, why=""),
    )  # fmt: skip
    first, second = counts_from_cameras([group])
    assert (first.count, dict(first.members), first.night) == (5, {"sow": 2, "piglet": 3}, day(3))
    assert (second.count, dict(second.members)) == (6, {})


def test_an_empty_log_and_no_count(book_of: Callable[..., Book]) -> None:
    found = settle_groups(book_of("date,site,event\n"), [])
    assert (found.groups, found.minimum_alive, found.as_of, found.notes) == ((), 0, None, ())
