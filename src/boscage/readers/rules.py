"""The rules of the hard stops: built-in ones, the plan's rules file on top, then distances stated in the plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace
from importlib.resources import files
from pathlib import Path
from types import MappingProxyType
from typing import Any

from boscage.errors import PlanError
from boscage.model.options import read_options, unknown_key
from boscage.model.plan import Plan
from boscage.model.rules import Rule
from boscage.readers.plan_file import read_toml
from boscage.values import Printer

BUILT_IN = "built-in rules.toml"


def read_rules(plan: Plan) -> Mapping[str, Rule]:
    """The rule of each hard stop, by the stop's name.

    Raises:
        PlanError: The rules file named in the plan is missing or wrong, or names a stop twice.
    """
    built_in = files("boscage").joinpath("data", "rules.toml")
    with_path = Path(str(built_in))
    rules = _rules(read_toml(with_path, what="rules file", shown=BUILT_IN), BUILT_IN)
    if plan.stops.rules is not None:
        shown = plan.stops.rules
        table = read_toml(Path(plan.folder) / Path(shown).expanduser(), what="rules file", shown=shown)
        rules |= _rules(table, shown)
    for name, rule in list(rules.items()):
        rules[name] = _stated(rule, plan)
    return MappingProxyType(rules)


def _rules(table: Mapping[str, Any], file: str) -> dict[str, Rule]:
    for key in table:
        if key != "rule":
            raise unknown_key(key, ("rule",), file=file, key="")
    entries = table.get("rule", [])
    if not isinstance(entries, list):
        raise PlanError("rule is no list of tables", expected="tables headed [[rule]]", file=file, field="rule")
    found: dict[str, Rule] = {}
    for number, entry in enumerate(entries, start=1):
        rule = read_options(Rule, entry, file=file, key=f"rule {number}")
        if rule.stop in found:
            raise PlanError(
                f"the stop {rule.stop} has two rules",
                mend="keep one of them",
                file=file,
                field=f"rule {number}",
            )
        found[rule.stop] = rule
    return found


def _stated(rule: Rule, plan: Plan) -> Rule:
    """The rule with what the plan's [stops] table states directly in place of its own figure."""
    if rule.stop not in {f.name for f in fields(plan.stops)}:
        return rule
    given = getattr(plan.stops, rule.stop)
    if given is None:
        return rule
    own = {"citation": "the plan", "checked": plan.date, "grade": "P", "place": plan.ranch.name}
    if rule.stop == "steep":
        return replace(rule, percent=given, text=f"A floor steeper than {given:g} %.", **own)
    if rule.stop == "flood":
        classes = ", ".join(given) or "none"
        return replace(rule, classes=given, text=f"Ground in the flood classes: {classes}.", **own)
    words = {
        "dwelling": "from a dwelling", "public_road": "from a public road", "power_line": "from a power line",
        "water": "from the water's edge or a creek's line", "parcel_line": "inside the granted land's lines",
    }[rule.stop]  # fmt: skip
    text = f"{Printer(plan.ranch.units).length(given.m)} {words}."
    return replace(rule, distance=given, text=text, **own)
