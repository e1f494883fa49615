"""What must hold of logs, rates, groups, land and removals whatever the rows."""

from __future__ import annotations

import datetime as dt
import math

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from boscage.ledger.book import make_book
from boscage.ledger.clock import check_clock
from boscage.ledger.covered import cover_land
from boscage.ledger.effort import poisson_rate, sum_captures, sum_effort
from boscage.ledger.groups import settle_groups
from boscage.ledger.removal import make_passes
from boscage.ledger.removal_likelihood import carle_strub, maximum_likelihood
from boscage.model.ledger import EVENTS, STATES, Book, GroupCount, Log, LogRow
from boscage.model.ledger_clock import CheckOptions
from boscage.model.ledger_land import Parcel

FEW = settings(derandomize=True, deadline=None, max_examples=60)
DAY = dt.date(2026, 11, 21)
BEGIN = dt.date(2026, 10, 1)
PLACES = {"A": (0.0, 0.0), "B": (700.0, 100.0), "C": (4000.0, 0.0)}

events = st.tuples(
    st.integers(0, 50),
    st.sampled_from("ABC"),
    st.sampled_from(EVENTS),
    st.integers(0, 4),
    st.sampled_from(["", "G", "H"]),
)
logs = st.lists(events, max_size=40)


def book_of(drawn: list[tuple[int, str, str, int, str]], day: dt.date = DAY) -> Book:
    rows = tuple(
        LogRow(
            row=i, night=BEGIN + dt.timedelta(days=offset), site=site, event=event, group=group,
            counts=(0, n + 1, n, 0) if event == "capture" else (0, 0, 0, 0), hours=1.5,
        )
        for i, (offset, site, event, n, group) in enumerate(drawn, start=1)
    )  # fmt: skip
    return make_book(Log(rows=rows), day, PLACES)


def state_of(rows: list[tuple[int, str, str, int, str]], site: str, offset: int) -> str | None:
    """The plain reading: the last state or pull at the set on or before a night."""
    held = [
        (o, i, e) for i, (o, s, e, _, _) in enumerate(rows) if s == site and e in (*STATES, "pulled") and o <= offset
    ]
    return max(held)[2] if held else None


@FEW
@given(logs)
def test_nights_are_those_of_the_plain_reading_night_by_night(drawn: list) -> None:
    book = book_of(drawn)
    days = (DAY - BEGIN).days
    for state in STATES:
        plain = sum(state_of(drawn, s, o) == state for s in "ABC" for o in range(days))
        assert book.nights(state) == plain


@FEW
@given(logs)
def test_no_row_falls_away_in_silence(drawn: list) -> None:
    book = book_of(drawn)
    kept, aside = {r.row for r in book.rows}, {p.row for p in book.problems if not p.counted}
    assert kept | aside == set(range(1, len(drawn) + 1)) and not kept & aside
    every = sum(2 * n + 1 for _, _, e, n, _ in drawn if e == "capture")
    caught = sum_captures(book)
    assert caught.total + caught.set_aside == every
    assert sum(n.animals for n in caught.nights) == caught.total
    assert sum(p.catch for p in make_passes(book, 7)) in (caught.total, 0)


@FEW
@given(logs)
def test_a_capture_counts_just_where_the_set_was_armed_or_ceased_to_be(drawn: list) -> None:
    book = book_of(drawn)
    kept = {r.row for r in book.of("capture")}
    for row, (offset, site, event, _, _) in enumerate(drawn, start=1):
        if event != "capture":
            continue
        if state_of(drawn, site, offset) == "armed":
            assert row in kept
        elif state_of(drawn, site, offset - 1) != "armed" and not any(
            o == offset and s == site and e == "armed" for o, s, e, _, _ in drawn
        ):
            assert row not in kept


@FEW
@given(logs, st.integers(0, 20))
def test_a_later_day_takes_no_night_away(drawn: list, more: int) -> None:
    first, second = book_of(drawn), book_of(drawn, DAY + dt.timedelta(days=more))
    for state in STATES:
        assert second.nights(state) >= first.nights(state)


@FEW
@given(logs)
def test_hours_and_passes_add_up(drawn: list) -> None:
    book = book_of(drawn)
    effort = sum_effort(book)
    assert math.isnan(effort.hours) if not book.rows else effort.hours == 1.5 * len(book.rows)
    assert sum(p.effort for p in make_passes(book, 5)) == effort.armed_nights


@FEW
@given(logs)
def test_checks_never_come_before_arming_and_every_armed_night_is_told(drawn: list) -> None:
    book = book_of(drawn)
    found = check_clock(book, CheckOptions(), dt.datetime(2026, 11, 21, 18))
    assert all(0.0 <= g.least_hours <= g.most_hours for g in found.gaps)
    assert all(d.due <= d.due_latest for d in found.due)
    looked = {(r.site, r.night) for r in book.of("check", "capture", "nontarget")}
    assert len(set(found.unchecked)) == len(found.unchecked) <= book.nights("armed")
    assert not looked & set(found.unchecked)


@FEW
@given(st.integers(0, 300), st.integers(1, 200), st.floats(0.5, 0.99))
def test_a_rate_lies_in_its_interval_and_scales_with_exposure(events: int, nights: int, level: float) -> None:
    found, twice = poisson_rate(events, nights, level), poisson_rate(events, 2 * nights, level)
    assert found.low <= found.value <= found.high
    assert math.isclose(found.high, 2 * twice.high) and found.low <= poisson_rate(events + 1, nights, level).low


@FEW
@given(logs, st.integers(0, 60), st.integers(0, 60))
def test_a_higher_count_leaves_no_fewer_alive(drawn: list, count: int, more: int) -> None:
    book = book_of(drawn)
    first, second = (
        settle_groups(book, [GroupCount(group="G", count=c), GroupCount(group="H", count=5, night=BEGIN)])
        for c in (count, count + more)
    )
    assert 0 <= first.minimum_alive <= second.minimum_alive
    for group in first.groups:
        assert group.known is None or group.missing == max(0, group.known - group.taken)


@FEW
@given(logs, st.floats(-1e6, 1e6), st.floats(100.0, 900.0))
def test_covered_land_moves_with_the_ranch_and_grows_with_the_radius(drawn: list, shift: float, radius: float) -> None:
    import shapely

    def at(move: float, reach: float) -> tuple[float, float]:
        book = make_book(
            Log(rows=tuple(book_of(drawn).rows)), DAY, {s: (x + move, y - move) for s, (x, y) in PLACES.items()}
        )
        land = shapely.box(-600 + move, -500 - move, 3000 + move, 600 - move)
        found = cover_land(book, [Parcel(parcel="P", owner="N", access="granted", shape=land)], reach)
        assert 0.0 <= found.covered_ha <= found.granted_ha + 1e-9
        assert found.hectare_nights <= found.covered_ha * (DAY - BEGIN).days + 1e-6
        return found.covered_ha, found.hectare_nights

    near, moved, wide = at(0.0, radius), at(shift, radius), at(0.0, radius * 1.5)
    assert all(math.isclose(a, b, rel_tol=1e-6, abs_tol=1e-6) for a, b in zip(near, moved, strict=True))
    assert wide[0] >= near[0] - 1e-9 and wide[1] >= near[1] - 1e-9


@FEW
@given(st.lists(st.integers(0, 40), min_size=2, max_size=6))
def test_carle_and_strub_is_the_least_number_found_one_by_one(catches: list[int]) -> None:
    assume(sum(catches) > 0)
    found = carle_strub(catches)
    assert found
    total, k = sum(catches), len(catches)
    x = sum((k - i) * c for i, c in enumerate(catches, start=1))
    n = total
    while True:
        step = (n + 1) / (n - total + 1)
        for i in range(1, k + 1):
            step *= (k * n - x - total + 1 + k - i) / (k * n - x + 2 + k - i)
        if step <= 1.0 + 1e-12:
            break
        n += 1
    assert found.number == n


@FEW
@given(st.lists(st.integers(0, 60), min_size=3, max_size=6))
def test_maximum_likelihood_is_at_least_as_likely_as_any_number_beside_it(catches: list[int]) -> None:
    found = maximum_likelihood(catches)
    assume(bool(found))
    total, k = sum(catches), len(catches)
    x = sum((k - i) * c for i, c in enumerate(catches, start=1))

    def fit(n: float) -> float:
        p = total / (k * n - x)
        left = k * n - x - total
        value = math.lgamma(n + 1) - math.lgamma(n - total + 1) + total * math.log(p)
        return value + (left * math.log(1 - p) if left > 0 else 0.0)

    best = fit(found.number)
    for factor in (0.9, 0.99, 1.01, 1.1, 1.5, 3.0):
        n = max(float(total), found.number * factor)
        assert fit(n) <= best + 1e-6
    assert total <= found.low <= found.number <= found.high
