"""Words on evidence and sets: nothing unproven reads as proven, nothing missing as good news."""

import math
from dataclasses import replace

import pytest
from evidence_results import REASON, make_moves, make_standing, make_together, make_weighting

from boscage.model.findings import Standing
from boscage.model.portfolio import NoPortfolio, Portfolio
from boscage.model.weights import SteadinessOptions
from boscage.sheets.evidencewords import (
    drawn_words,
    kept_ranks,
    known_percent,
    known_share,
    members_words,
    move_words,
    proof_words,
    rank_words,
    signed,
    standing_words,
    tenths,
    together_words,
)
from boscage.sheets.firmtext import times
from boscage.sheets.rankingtable import changed_words

SET = Portfolio(chosen=(0,), names=("DH-01",), covered=0.98, bound=1.0, share=0.49, ending="optimal")


def test_shares_are_never_rounded_to_nothing_or_to_all():
    assert [known_share(v) for v in (0.0, 0.001, 0.5, 0.999, 1.0, math.nan)] == [
        "0 %", "under 1 %", "50 %", "over 99 %", "100 %", "not known",
    ]  # fmt: skip
    assert [known_percent(v) for v in (0.0, 0.001, 0.999, math.nan)] == ["0", "<1", ">99", "not known"]
    assert [tenths(v) for v in (0.6312, math.nan)] == ["63.1 %", "not known"]


def test_a_rank_is_printed_as_its_label():
    assert rank_words(3, None) == "3"
    assert rank_words(3, make_standing(3)) == "2="


def test_standing_says_share_and_ranks():
    one = Standing(label="2=", top_rank_share=0.31, first_share=0.8, low_rank=1, high_rank=4)
    assert standing_words(one) == "Rank 2=: first in 31 % of draws, ranks 1 to 4 in nine of ten."
    assert kept_ranks(replace(one, high_rank=1)) == "rank 1"


def test_what_was_drawn_is_told_or_said_to_be_untold():
    assert drawn_words(SteadinessOptions(draws=2000, spread=0.4, bend=0.1)) == (
        "2,000 draws: weights shaken by 40 %, value functions bent by 10 %."
    )
    assert "not stated" in drawn_words(None)


def test_moves_up_down_new_and_gone():
    words = [move_words(m) for m in make_moves(5, "")]
    assert words == [
        "DH-01 from 3 to 1 (+6 points)", "DH-02 from 1 to 2 (-3 points)", "DH-05 new at 5",
        "DH-07 was 7, ranked no more (-11 points)", "DH-08 from 9 to 8 (0 points)",
    ]  # fmt: skip
    assert move_words(replace(make_moves(1, "")[0], rank=3)) == "DH-01 still 3 (+6 points)"
    assert [signed(v) for v in (-0.4, 0.6, -12.7)] == ["0", "+1", "-13"]


def test_the_overview_names_two_moves_and_counts_the_rest():
    assert changed_words(make_moves(2, "")).endswith("DH-02 from 1 to 2 (-3 points).")
    assert changed_words(make_moves(5, "")).endswith("; 3 more on the evidence sheet.")


def test_animals_by_class():
    members = {"adult female": 2, "juvenile": 1, "adult male": 1, "unknown": 3, "subadult": 0}
    assert members_words(members) == "2 sows, 1 juvenile, 1 boar, 3 of a class not known"
    assert members_words({}) == "classes not known"


def test_only_a_proven_choice_is_called_proven():
    assert proof_words(replace(SET, covered=1.0)) == "Proven: no allowed choice covers more (gap 0.00 %)."
    for ending, why in (
        ("time limit", "stopped at the time limit"), ("gap reached", "stopped within the gap that was asked for"),
        ("rounds not proven", "cannot be worked out exactly"),
    ):  # fmt: skip
        words = proof_words(replace(SET, ending=ending))
        assert words.startswith("NOT PROVEN BEST:")
        assert why in words
        assert "(gap 2.00 %)" in words
        assert "Proven:" not in words
        assert "optimal" not in words.lower()


def test_sets_together_or_why_there_are_none(make):
    made = make(sites=5)
    land = made.overview.vectors["parcels"].union_all()
    together = make_together(made.result.sites, land, limit=True)
    words = together_words(together)
    assert words.startswith("Sets together: DH-01, DH-03, DH-04 cover 63.1 % of the use. NOT PROVEN BEST: ")
    one = replace(together, chosen=SET)
    assert together_words(one).startswith("Sets together: DH-01 covers 49.0 % of the use. Proven")
    none = replace(together, chosen=NoPortfolio(reason=REASON))
    assert together_words(none) == f"No sets together: {REASON}"


def test_ratios_as_people_say_them():
    assert [times(v) for v in (7.0, 1.0 / 3.0, 1.0)] == ["7", "1/3", "1"]
    assert make_weighting(bad=True).worst is not None


@pytest.mark.parametrize("share", [0.004, 0.996])
def test_a_bar_never_says_all_or_nothing_that_is_not(share):
    assert known_percent(share) not in ("0", "100")
