"""Rules of the hard stops: built-in, from the plan's rules file, and stated in the plan."""

from __future__ import annotations

import datetime as dt

import pytest

from boscage.errors import PlanError
from boscage.model.rules import STOP_TITLES
from boscage.readers.rules import read_rules


def test_every_stop_has_a_built_in_rule(folder) -> None:
    rules = read_rules(folder.plan())
    assert set(rules) == set(STOP_TITLES)
    assert rules["dwelling"].distance.m == pytest.approx(402.336)  # a quarter of the mile of 1,609.344 m
    assert all(rule.citation and rule.text for rule in rules.values())


def test_the_plans_rules_file_goes_on_top(folder) -> None:
    (folder.path / "own.toml").write_text(
        '[[rule]]\nstop = "dwelling"\ndistance = "500m"\ntext = "t"\ncitation = "c"\n'
        'checked = 2026-01-01\ngrade = "V"\n'
    )
    folder.extra = '[stops]\nrules = "own.toml"\n'
    rules = read_rules(folder.plan())
    assert rules["dwelling"].distance.m == 500.0 and rules["dwelling"].grade == "V"
    assert rules["water"].citation.startswith("common practice")


def test_what_the_plan_states_directly_wins(folder) -> None:
    (folder.path / "own.toml").write_text(
        '[[rule]]\nstop = "dwelling"\ndistance = "500m"\ntext = "t"\ncitation = "c"\nchecked = 2026-01-01\n'
    )
    folder.extra = '[stops]\nrules = "own.toml"\ndwelling = "1000ft"\nsteep = 30\nflood = ["rare"]\n'
    rules = read_rules(folder.plan())
    rule = rules["dwelling"]
    assert rule.distance.m == pytest.approx(304.8) and rule.grade == "P" and rule.citation == "the plan"
    assert rule.checked == dt.date(2026, 11, 21) and rule.text == "1,000 ft from a dwelling."
    assert rules["steep"].percent == 30.0 and "30 %" in rules["steep"].text
    assert rules["flood"].classes == ("rare",) and "rare" in rules["flood"].text


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('[[rule]]\nstop = "dweling"\n', r"own\.toml, field rule 1\.stop"),
        ('[[rule]]\nstop = "water"\ntext = "t"\ncitation = "c"\nchecked = 2026-01-01\n' * 2, "two rules"),
        ("rule = 3\n", r"own\.toml.*\[\[rule\]\]"),
        ('[[rules]]\nstop = "water"\n', "did you mean rule"),
        ("[[rule]\n", r"own\.toml: line 1"),
    ],
)
def test_a_wrong_rules_file_is_blamed_by_name(folder, text: str, said: str) -> None:
    (folder.path / "own.toml").write_text(text)
    folder.extra = '[stops]\nrules = "own.toml"\n'
    with pytest.raises(PlanError, match=said):
        read_rules(folder.plan())


def test_a_missing_rules_file_is_said(folder) -> None:
    folder.extra = '[stops]\nrules = "none.toml"\n'
    with pytest.raises(PlanError, match=r"none\.toml: there is no such rules file"):
        read_rules(folder.plan())
