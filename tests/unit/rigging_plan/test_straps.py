"""Straps: arithmetic by hand."""

from __future__ import annotations

import math

import pytest

from boscage.model.rig import Contact, Stem
from boscage.model.rig_plan import RiggingOptions
from boscage.rigging.straps import strap_for, why_turns
from boscage.values import Length


def contact(dbh_m, standoff_m=0.25):
    return Contact(x_m=0.0, y_m=0.0, stem=Stem(stem="7", x_m=1.0, y_m=0.0, dbh_m=dbh_m), standoff_m=standoff_m)


def test_two_turns_run_and_tail():
    strap = strap_for(contact(0.31), RiggingOptions())
    assert strap.needed_m == pytest.approx(2 * math.pi * 0.31 + 0.25 + 0.3048)
    assert strap.stock_m == pytest.approx(10 * 0.3048)  # 2.503 m is over 8 ft, 2.438 m


def test_a_stock_length_that_just_does_is_taken_and_one_too_short_is_not():
    options = RiggingOptions(strap_stock=(Length(3.0), Length(1.0), Length(2.0)), strap_tail=Length(0.0), turns=1.0)
    assert strap_for(contact(2.0 / math.pi, 0.0), options).stock_m == 2.0
    assert strap_for(contact(2.0 / math.pi, 1e-6), options).stock_m == 3.0
    assert strap_for(contact(2.0 / math.pi, 1.1), options).stock_m is None


def test_a_post_takes_the_shortest_strap():
    post = Contact(x_m=0.0, y_m=0.0, stem=None)
    assert strap_for(post, RiggingOptions()).stock_m == pytest.approx(6 * 0.3048)


def test_why_two_turns():
    text = why_turns(RiggingOptions())
    assert "2 turns" in text
    assert "12 times" in text  # e^(0.2 * 4 pi) = 12.345, Euler and Eytelwein
    assert "planning figure, not a rating" in text
