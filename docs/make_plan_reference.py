"""Write the reference of the plan file, docs/plan.md, and the defaults in docs/methods.md from the option metadata.

`python docs/make_plan_reference.py` writes both; a contract test holds the committed files to what this makes.
"""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from importlib.metadata import entry_points
from importlib.resources import files
from pathlib import Path

from boscage.model.evidence import SIGN_KINDS
from boscage.model.factor import Factor
from boscage.model.layers import LATER_LAYERS, RASTER_LAYERS, READING_LAYERS
from boscage.model.options import OptionRow, describe
from boscage.model.plan import LAYER_NAMES, describe_plan
from boscage.model.rules import GRADES, STOP_TITLES, Rule
from boscage.model.soil import MOISTURES
from boscage.plugins import FACTORS
from boscage.readers.columns import COLUMNS
from boscage.readers.features import ACCESS, SOIL_NUMBERS, TRACK_CLASSES
from boscage.readers.fencing import GATE_KINDS, GATE_STATES
from boscage.readers.geometry import ALLOWED
from boscage.readers.probes import INDEX_NAMES, LENGTHS_M
from boscage.readers.raster_layer import COVER_UNITS, HEIGHT_UNITS
from boscage.soil.readings import DROP_M, HAMMER_KG, LARGE_CONE_MM, MPA_PER, SMALL_CONE_MM
from boscage.values import Length, Mass

TARGET = Path(__file__).with_name("plan.md")
METHODS = Path(__file__).with_name("methods.md")

SECTION_WORDS: Mapping[str, str] = {
    "ranch": "The place and how to print it.",
    "net": "The net that is to be hung. The ring's radius, perimeter / (2 pi), is added to every setback.",
    "sites": "How sites are picked from the score.",
    "stops": "Distances and limits that rule ground out. A figure given here takes the place of the one in the rules "
    "(see [Rules](#rules)); left out, the rule's own figure holds.",
    "trees": "How trees are found in canopy heights ([Rigging](rigging.md#trees-from-above)).",
    "travel": "How the crew and the gear get to a place ([Methods](methods.md#access)).",
    "ground": "What counts as ground that takes posts, stakes and a spade. No driving force of a post by penetration "
    "resistance is published: the limits in MPa are the project's own assumption, and are printed as such.",
    "cameras": "How photographs become visits, and visits groups ([Methods](methods.md#cameras)).",
    "weights": "Weights from comparisons of every two factors ([Methods](methods.md#weights)).",
    "steadiness": "How far weights and value functions are shaken to see how firm the ranking is "
    "([Methods](methods.md#steadiness)).",
    "together": "Nets, crews and hours: which of the ranked sites to use together "
    "([Methods](methods.md#sites-together)).",
    "bait": "Spacing of bait places, which baited cameras are checked against ([Methods](methods.md#bait)).",
    "pack": "What goes in beside the gear of the ring, and on which carriers ([Packing](packing.md)).",
    "sheets": "The printed pages.",
    "drop": "The helicopter's base and the figures of the day ([The drop](drop.md)). What is absent stays blank.",
    "gap": "What a drop point must be ([The drop](drop.md#the-drop-point)).",
    "brief": "What the mission page says in words, and what hangs on the hook beside the load. What is absent is left "
    "blank, to be written in by hand.",
    "share": "What others get to see ([Out to phones](phones.md#the-masked-copy)).",
    "report": "The landowner's report ([Report](report.md)).",
    "checks": "The rule that says how often an armed set is looked at ([Report](report.md)).",
    "removal": "What must hold before an estimate of the animals left is offered ([Report](report.md)).",
}
CARRIER_WORDS = (
    "One table a carrier, such as `[carriers.atv]`. Carriers without a table of their own are those built in: `atv` "
    "and `back` ([Packing](packing.md))."
)
CHOICE_WORDS = (
    "One table a place that was pinned, rejected or added by hand. A pinned or added place is ranked where it is, with "
    "its own score, and other sites keep `sites.spacing` from it. A hard stop, missing permission or a rejected place "
    "nearer than half of `sites.spacing` rules it out all the same; `scout.json` and the sheets say what became of "
    "each. Two choices for one place are refused."
)
LAYER_WORDS: Mapping[str, str] = {
    "parcels": "Required. Land and permission. Fixes the CRS and the extent of the ranch.",
    "canopy_cover": "This or `canopy_height` is required. Canopy cover round a place.",
    "canopy_height": "Tallest trees near power lines; canopy cover where `canopy_cover` has none.",
    "terrain": "Slope, bumps, the way in, lines of sight. Bare ground, not tree tops.",
    "tracks": "The way in; who passes by; the setback from public roads.",
    "gates": "Where driving in starts, and the gates on the way in. Drawn on the maps.",
    "fences": "What stands across the way in. Drawn on the maps.",
    "dwellings": "The setback from dwellings; who looks out.",
    "water": "Distance to water; the strip along it; what stands across the way in.",
    "power_lines": "The setback from power lines.",
    "no_go": "Ground that is out of bounds, always or on dates.",
    "soils": "Whether the ground can be staked, posted, dug; how often it floods. Polygons with columns, or a soil "
    "survey (SSURGO) as a folder, GeoPackage or file geodatabase.",
    "sign": "What the animals left, with kind and date.",
    "probes": "Penetrometer readings, which correct the soil map round them.",
    "searched": "Where somebody walked and looked for sign: nothing found there differs from never looked.",
    "cameras": "A Camtrap DP package, or a folder of packages. People are left out of everything.",
    "stems": "A stem list, for `rig` ([Rigging](rigging.md)).",
    "log": "What happened at the sets, as a table or as filled-in [field forms](forms.md); for `report` and `check`.",
}
COLUMN_WORDS: Mapping[str, Mapping[str, str]] = {
    "parcels": {
        "parcel": "Name or number of the parcel. Without it parcels are called P1, P2, ...",
        "owner": "Who owns it. Printed on the sheet.",
        "access": f"Required. One of {', '.join(ACCESS)}. An empty cell counts as unknown.",
    },
    "tracks": {
        "class": f"Required. One of {', '.join(TRACK_CLASSES)}. Roads and tracks take a vehicle, trails do not.",
        "name": "Name of the way.",
        "public": "Yes or no. Empty: a road counts as public, a track or trail does not.",
        "surface": "Carried along, not used.",
    },
    "gates": {
        "name": "What people call the gate. Printed.",
        "kind": f"One of {', '.join(GATE_KINDS)}. entry: leads in from outside, driving in starts there; inner: in a "
        "fence on the ranch. Empty: not known, counts as inner.",
        "state": f"One of {', '.join(GATE_STATES)}. Empty: not known.",
        "note": "Carried along. A note or a name that looks like a gate code is left out. Columns of any other name "
        "are not read.",
    },
    "fences": {
        "name": "Name of the fence.", "kind": "In your own words. Carried along, not used.", "note": "Carried along.",
    },
    "dwellings": {"name": "Name of the house."},
    "water": {"name": "Name of the creek or pond.", "class": "Carried along and printed as a detail."},
    "power_lines": {
        "name": "Name of the line.",
        "voltage_kv": "Carried along, not used.",
        "source": "Who mapped it; printed as the layer's source where the plan states none.",
    },
    "no_go": {
        "reason": "Why; printed.",
        "from": "First day, as 2026-11-21, or 11-21 for every year. Empty: always was.",
        "until": "Last day, in the same form. Empty: no end.",
    },
    "soils": {
        "mapunit": "Symbol of the soil.", "name": "Name of the soil.",
        "texture": "Texture class of the Soil Survey Manual; stands for the middle of its class without sand and clay.",
        "sand_pct": "Sand of the fine earth, per cent by mass.",
        "clay_pct": "Clay of the fine earth, per cent by mass.",
        "organic_pct": "Organic matter, per cent by mass.", "bulk_density": "Dry bulk density, g/cm3.",
        "rock_pct": "Rock fragments, per cent by volume.",
        "depth_cm": "Depth to rock or a pan, centimetres.",
        "depth_in": "The same in inches; used where depth_cm is not there.",
        "flood_class": "none, very rare, rare, occasional, frequent or very frequent. Any other word is no data.",
        "resistance_mpa": "Penetration resistance when moist, MPa; without it, it is estimated from texture, density "
        "and organic matter.",
        "water_cm": "Depth that wet soil rises to in the wettest month, centimetres.",
    },
    "sign": {
        "kind": f"Required. One of {', '.join(SIGN_KINDS)}.",
        "date": "Day, as 2026-11-21 or 2026-11-21T17:05. Empty: age not known.",
        "note": "Carried along.", "observer": "Carried along.",
        "age_class": "A under 24 h, B 1 to 3 days, C 4 to 14 days, D over 14 days: how old it looked that day. Empty: "
        "fresh that day.",
        "rain_days": "Days from the last rain of 0.1 in or more to that day. Empty: not known.",
    },
    "searched": {"date": "Day of the walk, as 2026-11-21. Empty: not known, counts.", "observer": "Carried along."},
}  # fmt: skip
HEAD = """# The plan file

<!-- Made by docs/make_plan_reference.py from the program's own option metadata. Change those, not this file. -->

A plan is one text file in [TOML](https://toml.io). It names the layers of a ranch, the net, and how sites are chosen.
Start from the plan that `boscage demo` leaves and put your own files in it. `boscage check` says what it makes of it.

- Paths are relative to the plan file. Write them with forward slashes.
- A length or a mass carries its unit inside quotes: `"60ft"`, `"18.3m"`, `"50lb"`. A bare number is refused.
  Length units: {lengths}. Mass units: {masses}.
- A date stands without quotes: `2026-11-21`.
- A key that does not exist is refused, and the nearest one that does is named.
- *Grade* says where a default comes from: {grades}.
"""
KIND_HEAD = "| key | kind | default | allowed | grade | what it is |\n| --- | --- | --- | --- | --- | --- |\n"


def render() -> str:
    """The whole reference page."""
    sections = describe_plan()
    parts = [
        HEAD.format(
            lengths=", ".join(Length.UNITS), masses=", ".join(Mass.UNITS),
            grades="; ".join(f"{letter}, {words}" for letter, words in GRADES.items()),
        ),
        "## [layers]\n\nEach layer is a path, or a table with a path and more.\n",
        _layers_table(),
        "\nKeys of a layer's table:\n",
        _options_table(sections["layers"]),
        _units_words(),
        "\n### Columns\n",
        _columns_words(),
    ]  # fmt: skip
    for name, words in SECTION_WORDS.items():
        parts += [f"\n## [{name}]\n\n{words}\n", _options_table(sections[name])]
    parts += [f"\n## [carriers]\n\n{CARRIER_WORDS}\n", _options_table(sections["carriers"])]
    parts += [f"\n## [[choices]]\n\n{CHOICE_WORDS}\n", _options_table(sections["choices"])]
    parts += [_factors_part(), _rules_part()]
    text = "\n".join(part.strip("\n") + "\n" for part in parts)
    return re.sub(r"\n{3,}", "\n\n", text)


def fill_defaults(text: str) -> str:
    """The methods page with the defaults of each factor put between its markers."""
    for factor in built_in_factors():
        told = "; ".join(_told(row) for row in describe(factor.Options, ""))
        pattern = rf"(<!-- defaults of {factor.name} -->\n).*?(<!-- end -->)"
        if not re.search(pattern, text, flags=re.DOTALL):
            raise ValueError(f"docs/methods.md has no place for the defaults of {factor.name}")
        line = f"Defaults: {told}.\n"
        text = re.sub(pattern, lambda found, line=line: found[1] + line + found[2], text, flags=re.DOTALL)
    return text


def _told(row: OptionRow) -> str:
    return f"`{row.key}` {_default(row)}" + (f" [{row.info.grade}]" if row.info.grade else "")


def built_in_factors() -> list[Factor]:
    """The factors that come with the program, by name; plug-ins from outside are left out."""
    points = [p for p in entry_points(group=FACTORS) if p.value.startswith("boscage.")]
    return [point.load()() for point in sorted(points, key=lambda p: p.name)]


def _layers_table() -> str:
    lines = ["| layer | what | holds | used for |", "| --- | --- | --- | --- |"]
    for name in LAYER_NAMES:
        if name in RASTER_LAYERS:
            unit = "per cent" if name == "canopy_cover" else "metres"
            what, holds = "raster, or a folder of tiles", f"one number a cell, {unit} unless `unit` says otherwise"
        elif name == "cameras":
            what, holds = "folder", "Camtrap DP tables"
        elif name in READING_LAYERS:
            what, holds = "vector, or a point table (CSV)", "points, one row a reading"
        elif name in LATER_LAYERS:
            what, holds = "file or folder", "one row a stem" if name == "stems" else "one row an event"
        else:
            what = "vector, or a point table (CSV)" if "points" in ALLOWED[name][1] else "vector"
            holds = ALLOWED[name][1]
        lines.append(f"| `{name}` | {what} | {holds} | {LAYER_WORDS[name]} |")
    return "\n".join(lines)


def _units_words() -> str:
    heights, covers = ", ".join(f"`{u}`" for u in HEIGHT_UNITS), ", ".join(f"`{u}`" for u in COVER_UNITS)
    return f"\nUnits of `canopy_height` and `terrain`: {heights}. Units of `canopy_cover`: {covers}.\n"


def _columns_words() -> str:
    parts = [
        "Columns under these names are read. Case, blanks, hyphens and underscores do not matter. Where your file "
        'calls one otherwise, map it: `columns = { access = "PERMISSION" }`. A point table (CSV) also needs `lon` and '
        "`lat`, or `x` and `y` with their CRS.\n"
    ]
    for layer, columns in COLUMNS.items():
        parts.append(f"\n`{layer}`\n\n| column | also read as | what it holds |\n| --- | --- | --- |")
        for name, also in columns.items():
            words = COLUMN_WORDS[layer][name]
            if name in SOIL_NUMBERS and layer == "soils":
                low, high = SOIL_NUMBERS[name]
                words += f" {low:g} to {high:g}."
            parts.append(f"| `{name}` | {', '.join(f'`{a}`' for a in also) or '-'} | {words} |")
    parts.append(_probe_words())
    return "\n".join(parts)


def _probe_words() -> str:
    """The columns of readings, whose units stand at the end of their names."""
    pressures, depths = (", ".join(f"`{u}`" for u in units) for units in (MPA_PER, LENGTHS_M))
    rows = {
        "cone_index_UNIT": f"Cone index; UNIT is one of {pressures}. Also {', '.join(INDEX_NAMES[3:6])} and others.",
        "depth_UNIT": f"Required. Depth of the reading; UNIT is one of {depths}. `depth_from_UNIT`: where it starts.",
        "blows": "Blows of a dynamic penetrometer, with `distance_UNIT` driven; `hammer_kg` or `hammer_lb` and "
        f"`drop_UNIT` where they are not {HAMMER_KG:g} kg and {DROP_M:g} m.",
        "cone": f"Diameter of the cone's base: {LARGE_CONE_MM} or {SMALL_CONE_MM} (mm), or `large`, `small`.",
        "moisture": f"One of {', '.join(MOISTURES)}. Empty: taken as moist, and said.",
        "stopped": "Yes where the probe would go no deeper; a note with `stopped` or `refusal` counts too.",
        "date": "Day, as 2026-11-21.", "note": "Carried along.",
    }  # fmt: skip
    lines = "\n".join(f"| `{name}` | {words} |" for name, words in rows.items())
    return f"\n`probes`\n\n| column | what it holds |\n| --- | --- |\n{lines}"


def _options_table(rows: Iterable[OptionRow], *, input_unit: str = "") -> str:
    return KIND_HEAD + "\n".join(_option_line(row, input_unit) for row in rows)


def _option_line(row: OptionRow, input_unit: str) -> str:
    kind = row.kind + (f", {row.info.unit}" if row.info.unit else "")
    if row.kind == "points" and row.key.endswith(".value") and input_unit:
        kind = f"points, input in {input_unit}"
    cells = [f"`{row.key}`", kind, _default(row), _allowed(row), row.info.grade or "-", row.info.help]
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def _default(row: OptionRow) -> str:
    """The default as one could write it in a plan."""
    text = row.default
    if text == "required":
        return "**required**"
    if text in ("none", "[]", "{}"):
        return "by the rules" if row.key.split(".")[-1] in STOP_TITLES and row.key.startswith("stops.") else "-"
    if row.kind == "length":
        metres = float(text.removesuffix(" m"))
        feet = metres / 0.3048
        return f'`"{metres:g}m"`' + (f" ({feet:.0f} ft)" if abs(feet - round(feet)) < 1e-3 and feet > 0 else "")
    if row.kind == "mass":
        kg = float(text.removesuffix(" kg"))
        return f'`"{kg:g}kg"` ({kg / 0.45359237:.0f} lb)'
    if row.kind == "table":
        table = ast.literal_eval(text)
        return "`{ " + ", ".join(_entry(name, value) for name, value in table.items()) + " }`" if table else "-"
    return f"`{text}`"


def _entry(name: str, value: object) -> str:
    """One entry of a table as one could write it."""
    key = name if name.isidentifier() else f'"{name}"'
    return f'{key} = "{value.replace(" ", "")}"' if isinstance(value, str) else f"{key} = {value}"


def _allowed(row: OptionRow) -> str:
    info = row.info
    if info.choices:
        return _words(info.choices, _numbers(row))
    return _numbers(row) or "-"


def _words(choices: Sequence[str], numbers: str) -> str:
    listed = ", ".join(f"`{c}`" for c in choices)
    return f"keys {listed}; {numbers}" if numbers else listed


def _numbers(row: OptionRow) -> str:
    low, high = row.info.low, row.info.high
    unit = {"length": " m", "mass": " kg"}.get(row.kind, "")
    if low is not None and high is not None:
        return f"{low:g} to {high:g}{unit}"
    return f"at least {low:g}{unit}" if low is not None else f"at most {high:g}{unit}" if high is not None else ""


def _factors_part() -> str:
    parts = [
        "\n## [factors.NAME]\n\nOne table a factor. Left out, a factor keeps its defaults; `weight = 0` leaves it out "
        "of the score. `value` is the value function: points [input, value from 0 to 1], straight lines between them, "
        "constant beyond the first and the last. [Methods](methods.md#factors) says what each measures.\n"
    ]
    for factor in built_in_factors():
        needs = " or ".join(f"`{name}`" for name in factor.needs)
        parts.append(f"\n### [factors.{factor.name}]\n\nNeeds {needs}; without it there is no data.\n")
        parts.append(_options_table(describe(factor.Options, f"factors.{factor.name}"), input_unit=factor.unit))
    return "\n".join(parts)


def _rules_part() -> str:
    parts = [
        "\n## Rules\n\nWhat a hard stop reaches, who says so, and when that was last checked, are data. The built-in "
        'rules are defaults for want of yours. Put your own in a file and name it: `[stops] rules = "rules.toml"`. It '
        "replaces the built-in rules of the stops it names. A rule that was checked more than a year before the plan's "
        "date is marked on the sheets.\n",
        "\nKeys of a `[[rule]]`:\n",
        _options_table(describe(Rule, "")),
        "\nBuilt-in rules:\n",
        "| stop | title on the sheets | figure | rule | who says so | grade |\n| --- | --- | --- | --- | --- | --- |",
    ]
    built_in = tomllib.loads(files("boscage").joinpath("data", "rules.toml").read_text(encoding="utf-8"))
    held = {rule["stop"]: rule for rule in built_in["rule"]}
    for stop, title in STOP_TITLES.items():
        rule = held[stop]
        percent = f"{rule['percent']} %" if "percent" in rule else ""
        figure = rule.get("distance") or percent or ", ".join(rule.get("classes", ())) or "-"
        cells = [f"`{stop}`", title, figure, rule["text"], rule["citation"], rule["grade"]]
        parts.append("| " + " | ".join(cells) + " |")
    return "\n".join(parts)


if __name__ == "__main__":
    TARGET.write_text(render(), encoding="utf-8")
    METHODS.write_text(fill_defaults(METHODS.read_text(encoding="utf-8")), encoding="utf-8")
