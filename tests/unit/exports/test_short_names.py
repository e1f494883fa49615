"""Names for receivers, and what a share set takes and refuses."""

from __future__ import annotations

import datetime as dt
import random
import re

import numpy as np
import pytest
import shapely
import share_sets
from hypothesis import given, settings
from hypothesis import strategies as st

from boscage.errors import InputError
from boscage.model.share import Area, Route, ShareSet, Track, Waypoint, id_of, short_names

ANY_TEXT = st.text(st.characters(exclude_categories=()), max_size=40)
LIKELY = st.text("ABab01 -–äÑ鹿", max_size=14)


@pytest.mark.parametrize(
    ("name", "short"),
    [
        ("DH-01", "DH-01"),
        ("DH-01 Creek bench", "DH-01-Cree"),
        ("DH–01 Creek", "DH-01-Cree"),
        ("RB03 of the hill", "RB03-hill"),
        ("DH-01a Creek", "DH-01a-Cre"),
        ("Creek bench 12", "Creek-12"),
        ("Upper Bottom", "Upper-Bott"),
        ("Bäckerwäldchen – Ñandú 鹿", "Backerwald"),
        ("Łódź Straße", "Lodz-Stras"),
        ("O'Neill’s", "ONeills"),
        ("鹿", "Place"),
        ("", "Place"),
        ("12345678901234", "1234567890"),
        ("Creek 123456789", "Creek-1234"),
    ],
)
def test_one_name(name: str, short: str) -> None:
    assert short_names([name]) == (short,)


def test_twelve_long_names_that_differ_at_the_end_keep_their_numbers() -> None:
    found = short_names(share_sets.LONG_NAMES)
    assert found == tuple(f"North-{n}" for n in range(1, 13))


def test_names_that_come_out_alike_are_told_apart_by_their_last_word() -> None:
    names = [
        "North Fork Creek crossing",
        "North Fork Creek bench",
        "North Fork Creek bend",
        "DH-01 big oak",
        "DH-01 big elm",
    ]
    assert short_names(names) == ("Nort-cross", "Nort-bench", "North-bend", "DH-01-oak", "DH-01-elm")


def test_names_that_no_word_tells_apart_get_a_letter_each_in_the_order_of_people() -> None:
    names = ["North Fork 10, far oak", "North Fork 9, far oak", "North Fork 11, far oak"]
    assert short_names(names) == ("North-B", "North-A", "North-C")


def test_ids_stay_whole_when_everything_else_is_alike() -> None:
    names = [f"DH-01 place {word}" for word in ("near oak", "near elm", "near ash")]
    assert all(short.startswith("DH-01") for short in short_names(names, 6))
    assert short_names(names, 6) == ("DH-01C", "DH-01B", "DH-01A")


def test_case_alone_does_not_tell_names_apart() -> None:
    """A maker's own page says that its receivers write every letter as a capital; source in the docstring."""
    found = short_names(["oak", "OAK", "Oak"])
    assert len({short.upper() for short in found}) == 3


def test_a_short_name_is_not_changed_by_longer_ones() -> None:
    assert short_names(["Creek-benc", "Creek bench long", "Creek bench"])[0] == "Creek-benc"
    assert "North-12" in short_names(["North-12", "North Fork bench 12", "North Fork bend 12"])


def test_an_id_wider_than_the_room_is_cut() -> None:
    assert short_names(["ABCD-1234X north"], 6) == ("ABCD-1",)


def test_names_wholly_alike_are_still_told_apart() -> None:
    assert short_names(["DH-01"] * 3) == ("DH-01", "DH-01-A", "DH-01-B")


def test_many_names_alike() -> None:
    found = short_names([f"鹿{chr(0x4E00 + n)}" for n in range(705)], 6)
    assert len(set(found)) == 705
    assert max(map(len, found)) <= 6


@settings(max_examples=150, deadline=None, derandomize=True)
@given(st.lists(ANY_TEXT | LIKELY, max_size=25), st.integers(6, 20))
def test_short_names_are_ascii_narrow_and_unlike(names: list[str], width: int) -> None:
    found = short_names(names, width)
    assert len(found) == len(names)
    assert all(re.fullmatch(r"[A-Za-z0-9](?:[A-Za-z0-9-]*[A-Za-z0-9])?", short) for short in found)
    assert all(len(short) <= width for short in found)
    assert len({short[:width].upper() for short in found}) == len(names)
    for name, short in zip(names, found, strict=True):
        assert short.startswith(id_of(name)[:width])


@settings(max_examples=100, deadline=None, derandomize=True)
@given(st.lists(ANY_TEXT | LIKELY, max_size=25, unique=True), st.integers(6, 20), st.integers(0, 99))
def test_order_does_not_matter(names: list[str], width: int, seed: int) -> None:
    shuffled = names.copy()
    random.Random(seed).shuffle(shuffled)
    first = dict(zip(names, short_names(names, width), strict=True))
    assert first == dict(zip(shuffled, short_names(shuffled, width), strict=True))


def test_too_narrow_is_refused() -> None:
    with pytest.raises(InputError, match="6 or more"):
        short_names(["a"], 5)


def test_the_same_place_has_one_name_and_every_place_its_own() -> None:
    here = Waypoint(name="DH-01", lon=-92.7, lat=36.2)
    there = Waypoint(name="DH-01", lon=-92.8, lat=36.2)
    share = ShareSet(
        title="x", date=share_sets.DAY, waypoints=(here, there), routes=(Route(name="r", points=(there, here)),)
    )
    turned = ShareSet(title="x", date=share_sets.DAY, waypoints=(there, here))
    assert share.places == (here, there)
    assert len(set(share.place_names().values())) == 2
    assert share.place_names() == turned.place_names()


def test_areas_say_that_they_are_areas() -> None:
    area = Area(name="DH-01 covered", polygons=shapely.box(-92.7, 36.2, -92.6, 36.3), kind="covered")
    track = Track(name="DH-01 covered", lines=(np.eye(2),))
    nothing = Track(name="DH-02 in", lines=())
    share = ShareSet(title="x", date=share_sets.DAY, tracks=(nothing, track), areas=(area,))
    assert share.named_lines() == ([(track, "DH-01-covered")], [(area, "DH-01-area-covered")])


def test_what_has_nothing_to_draw_is_named() -> None:
    assert share_sets.full().undrawn == (
        "Flight 2, one stop", "Flight 3, none", "DH-03 in, never found", "DH-04 in, one point", "Ruled out, nowhere",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Waypoint(name="a", lon=36.2, lat=-92.7), "swap the two"),
        (lambda: Waypoint(name="a", lon=512_345.0, lat=4_007_000.0), "bring the points to WGS 84"),
        (lambda: Waypoint(name="a", lon=float("nan"), lat=0.0), "longitude nan"),
        (lambda: Waypoint(name="a", lon=0.0, lat=0.0, elevation_m=float("inf")), "elevation of 'a'"),
        (lambda: Waypoint(name="a", lon=0.0, lat=0.0, elevation_m=float("nan")), "elevation of 'a'"),
        (lambda: Waypoint(name="a", lon=0.0, lat=0.0, kind="tree"), "one of set, site"),
        (lambda: Track(name="a", lines=(np.zeros((3, 4)),)), r"the shape \(3, 4\)"),
        (lambda: Track(name="a", lines=(np.array([[0.0, 91.0], [0.0, 0.0]]),)), "latitude 91"),
        (lambda: Track(name="a", lines=(np.array([[0.0, 0.0, np.inf]]),)), "elevation of 'a'"),
        (lambda: Track(name="a", lines=(), kind="site"), "one of vehicle"),
        (lambda: Area(name="a", polygons=shapely.Point(0, 0)), "is a Point; expected a polygon"),
        (lambda: Area(name="a", polygons=shapely.box(0, 0, 5e5, 4e6)), "WGS 84"),
        (lambda: Area(name="a", polygons=shapely.Polygon(), kind="no-go"), "no_go"),
    ],
)
def test_what_is_refused(make, words: str) -> None:
    with pytest.raises(InputError, match=words):
        make()


def test_empty_is_allowed() -> None:
    share = ShareSet(title="", date=dt.date(2026, 1, 1))
    assert share.places == () == share.undrawn
    assert Area(name="a", polygons=shapely.MultiPolygon()).parts == ()
