"""The text of a new plan: readable, with a word on every layer, on those left out and on those that are missing."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import tomlkit

from boscage.model.recognised import LAYER_ADDS, MissingLayer

WIDTH = 116
NET: Mapping[str, tuple[str, str, str]] = {"us": ("60ft", "5ft", "50lb"), "metric": ("18.3m", "1.5m", "23kg")}
SPACING: Mapping[str, str] = {"us": "1000ft", "metric": "300m"}


@dataclass(frozen=True, kw_only=True)
class PlanLine:
    """One layer of a new plan.

    Attributes:
        layer: The plan's key.
        entry: Keys of the layer's table; a path alone is written as such.
        said: Sentences on it.
        why_not: Why it is left out, a sentence; '' for a layer that is named.
    """

    layer: str
    entry: Mapping[str, Any]
    said: tuple[str, ...] = ()
    why_not: str = ""


def plan_page(name: str, units: str, lines: Sequence[PlanLine], missing: Sequence[MissingLayer]) -> str:
    """A plan of some layers.

    Args:
        name: Of the ranch.
        units: `us` or `metric`.
        lines: In the order in which they are to stand; at most one of a layer is named, the others are left out.
        missing: Layers that nothing gives.
    """
    perimeter, height, mass = NET[units]
    parts = [
        *_words(f"The plan of {name}, made of files that were dropped on the program."),
        *_words("Lines that start with # are notes. Paths are relative to this file. What is missing is said on every "
                "sheet, and never taken for good news."),
        "", "[ranch]", f"name  = {_value(name)}", f'units = "{units}"   # "us" or "metric", for what people read', "",
        "[layers]",
    ]  # fmt: skip
    named = [line for line in lines if not line.why_not]
    for line in named:
        parts += [*_words(f"{LAYER_ADDS[line.layer]} {' '.join(line.said)}".strip()), _entry(line), ""]
    for line in (line for line in lines if line.why_not):
        parts += [*_words(f"LEFT OUT. {line.why_not}"), f"# {_entry(line)}", ""]
    if missing:
        parts += _words("Not given. What each would add; take the # away and write your own file's name:")
        for gap in missing:
            parts += [*_words(f"  {gap.adds}"), f"# {gap.layer.ljust(13)} = {_value(_example(gap.layer))}"]
        parts.append("")
    parts += [
        *_words("The net. These figures are common practice: write those of your own."), "[net]",
        f'perimeter = "{perimeter}"   # length of the top rope', f'height    = "{height}"   # top rope above ground',
        f'mass      = "{mass}"', "", "[sites]", "count   = 12", f'spacing = "{SPACING[units]}"   # least distance '
        "between two ranked sites", "",
        *_words("Hard stops rule ground out whatever its score. Their distances are common practice, not law: state "
                "what holds where you work, such as"),
        "# [stops]", f'# dwelling = {_value("500ft" if units == "us" else "150m")}',
    ]  # fmt: skip
    return "\n".join(parts) + "\n"


def _entry(line: PlanLine) -> str:
    path = line.entry["path"]
    value = _value(path) if len(line.entry) == 1 else _value(line.entry)
    return f"{line.layer.ljust(13)} = {value}"


def _value(value: object) -> str:
    """A value on one line, tables with a blank inside their braces."""
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{tomlkit.key(n).as_string()} = {_value(v)}" for n, v in value.items()) + " }"
    return tomlkit.item(value).as_string()


def _example(layer: str) -> str:
    endings = {"canopy_cover": ".tif", "canopy_height": ".tif", "terrain": ".tif", "cameras": "/", "sign": ".csv",
               "probes": ".csv", "stems": ".csv", "log": ".csv"}  # fmt: skip
    return f"{layer}{endings.get(layer, '.gpkg')}"


def _words(text: str) -> list[str]:
    """Text as notes."""
    start = "#   " if text.startswith("  ") else "# "
    text = "".join(c if c.isprintable() else " " for c in text.strip())
    lines = textwrap.wrap(text, WIDTH, break_long_words=False, break_on_hyphens=False)
    return [f"{start}{line}" for line in lines]
