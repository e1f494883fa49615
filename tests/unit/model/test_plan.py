"""The plan: what is taken, what is refused and in which words."""

from __future__ import annotations

import datetime as dt
import tomllib

import pytest

from boscage.errors import PlanError
from boscage.model.options import describe
from boscage.model.plan import SECTIONS, Plan, plan_from_table

GOOD = """
[ranch]
name = "The Long Meadow Ranch"
[layers]
parcels = "p.gpkg"
canopy_cover = { path = "c.tif", unit = "fraction" }
"""
TODAY = dt.date(2026, 11, 25)


def plan_of(text: str) -> Plan:
    return plan_from_table(tomllib.loads(text), file="plan.toml", folder=".", today=TODAY)


def test_defaults() -> None:
    plan = plan_of(GOOD)
    assert plan.date == TODAY
    assert plan.prefix == "LM"
    assert plan.paper == "letter"
    assert plan.net.perimeter.m == pytest.approx(18.288)
    assert plan.net.radius_m == pytest.approx(18.288 / 6.283185307)
    assert plan.layers["canopy_cover"].unit == "fraction"
    assert plan.layers["parcels"].path == "p.gpkg"
    assert plan.stops.dwelling is None


def test_values_are_read_with_their_units() -> None:
    plan = plan_of(
        GOOD.replace('name = "The Long Meadow Ranch"', 'name = "Äland"\nunits = "metric"\ndate = 2026-11-21')
        + '[net]\nperimeter = "24m"\nmass = "23kg"\n[sites]\ncount = 5\nspacing = "0.5mi"\nprefix = "Q"\n'
        '[stops]\ndwelling = "500ft"\nflood = ["frequent"]\n[drop]\nbase = [-92.7, 36.2]\n'
    )
    assert plan.date == dt.date(2026, 11, 21)
    assert plan.paper == "a4"
    assert plan.prefix == "Q"
    assert plan.sites.spacing.m == pytest.approx(804.672)
    assert plan.stops.dwelling is not None
    assert plan.stops.dwelling.m == pytest.approx(152.4)
    assert plan.drop.base == (-92.7, 36.2)


BAD = {
    "unknown section": (GOOD + "[sitess]\ncount = 3", "sitess: there is no such key; did you mean sites?"),
    "unknown key": (GOOD + "[net]\nperimiter = '60ft'", "net.perimiter: there is no such key; did you mean perimeter?"),
    "unknown layer": (GOOD + "terrian = 't.tif'", "layers.terrian: there is no such key; did you mean terrain?"),
    "bare length": (GOOD + "[net]\nperimeter = 60", "net.perimeter: the length 60 has no unit; expected a length"),
    "length as text without unit": (GOOD + "[net]\nperimeter = '60'", "net.perimeter: the length 60 has no unit"),
    "length too long": (GOOD + "[net]\nperimeter = '60km'", "net.perimeter: the value is 60000 m; expected 5 to 200 m"),
    "text for a number": (GOOD + "[sites]\ncount = 'five'", 'the value is "five"; expected a whole number'),
    "number for text": (GOOD.replace('"The Long Meadow Ranch"', "7"), "ranch.name: the value is 7; expected a text"),
    "bad word": (GOOD.replace("[layers]", "units = 'imperial'\n[layers]"), 'expected "us" or "metric"'),
    "date as text": (GOOD.replace("[layers]", "date = '2026-11-21'\n[layers]"), "expected a date such as 2026-11-21"),
    "no ranch": (GOOD.replace('[ranch]\nname = "The Long Meadow Ranch"', ""), "the table [ranch] is missing"),
    "no name": (GOOD.replace('name = "The Long Meadow Ranch"', ""), "ranch.name: the key is missing"),
    "empty name": (GOOD.replace("The Long Meadow Ranch", ""), "ranch.name: the value is empty"),
    "no parcels": (GOOD.replace('parcels = "p.gpkg"', ""), "layers.parcels: the layer parcels is not named"),
    "no canopy": (GOOD.replace("canopy_cover", "terrain"), "neither canopy_cover nor canopy_height is named"),
    "layer without path": (GOOD + "terrain = { unit = 'm' }", "layers.terrain.path: the key is missing"),
    "layer as number": (GOOD + "terrain = 5", "layers.terrain: layers.terrain is 5; expected a table"),
    "factor as number": (GOOD + "[factors]\ncover = 3", "factors.cover: the value is 3; expected a table"),
    "base with one number": (GOOD + "[drop]\nbase = [1.0]", "drop.base: the list has 1 entries; expected 2"),
    "flood class": (GOOD + "[stops]\nflood = ['often']", 'stops.flood: the value is "often"; expected "none"'),
    "share over one": (GOOD + "[sites]\nleast_data = 50", "sites.least_data: the value is 50; expected 0 to 1"),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_a_wrong_plan_gets_one_sentence(name: str) -> None:
    text, words = BAD[name]
    with pytest.raises(PlanError) as caught:
        plan_of(text)
    message = str(caught.value)
    assert words in message
    assert message.startswith("plan.toml, field ")
    assert "\n" not in message
    assert caught.value.file == "plan.toml"


def test_every_option_has_a_sentence() -> None:
    for name, cls in SECTIONS.items():
        for row in describe(cls, name):
            assert row.info.help.endswith("."), row.key
            assert row.kind, row.key


def test_the_plan_states_how_trees_are_found() -> None:
    assert plan_of(GOOD).trees.tree_options().window == "auto"
    stated = plan_of(GOOD + '[trees]\nwindow = "pines"\nleast_height = "4m"\ngroup = "conifer"\n').trees.tree_options()
    assert (stated.window, stated.least_height_m, stated.group) == ("pines", 4.0, "conifer")
    own = plan_of(GOOD + "[trees]\ncoefficients = [1.2, 0.05, 0.001]\n").trees.tree_options()
    assert float(own.window_m(20.0)) == pytest.approx(1.2 + 1.0 + 0.4)
    with pytest.raises(PlanError, match="window"):
        plan_of(GOOD + '[trees]\nwindow = "oaks"\n')
