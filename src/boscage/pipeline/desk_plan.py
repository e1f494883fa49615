"""A new plan out of files that are dropped: what each is, what is still missing, and the plan's text."""

from __future__ import annotations

import datetime as dt
import os
import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from boscage.errors import InputError
from boscage.exports.new_plan import PlanLine, plan_page
from boscage.model.layers import LayerReport
from boscage.model.plan import LAYER_NAMES, plan_from_table
from boscage.model.recognised import CANOPY, GUESS, LAYER_ADDS, LIKELY, REQUIRED, SURE, MissingLayer, Recognised
from boscage.pipeline.progress import Progress, silent
from boscage.plugins import load_readers
from boscage.readers.layers import inspect_layers
from boscage.readers.recognise import recognise

FIRM = (SURE, LIKELY, GUESS)
NEAR_DEG = 0.05
KM_PER_DEGREE = 111.2


def try_layers(paths: Iterable[str | Path], progress: Progress = silent) -> tuple[Recognised, ...]:
    """What each dropped file or folder is taken for; those that lie far from the parcels among them are doubted."""
    readers, found = load_readers(), []
    every = list(dict.fromkeys(Path(p).expanduser() for p in paths))
    for n, path in enumerate(every):
        progress(f"looking at {path.name}", n, len(every))
        found += recognise(path, readers)
    return doubt_places(found)


def doubt_places(found: Sequence[Recognised]) -> tuple[Recognised, ...]:
    """The same with a doubt on everything that lies away from the parcels, or has its axes exchanged."""
    ranch = next((r.box for r in found if r.layer == "parcels" and r.box is not None), None)
    return tuple(found) if ranch is None else tuple(_doubted(r, ranch) for r in found)


def _doubted(one: Recognised, ranch: tuple[float, float, float, float]) -> Recognised:
    if not one or one.box is None or _gap(one.box, ranch) <= NEAR_DEG:
        return one
    west, south, east, north = one.box
    if _gap((south, west, north, east), ranch) <= NEAR_DEG:
        doubt = "It lies far from the parcels, and on them once x and y are exchanged; exchange them in the file."
    else:
        km = _gap(one.box, ranch) * KM_PER_DEGREE
        doubt = f"It lies about {km:,.0f} km from the parcels; check its CRS, or drop the right file."
    return replace(one, doubts=(*one.doubts, doubt))


def _gap(one: tuple[float, float, float, float], other: tuple[float, float, float, float]) -> float:
    """Degrees between two boxes, 0 where they meet."""
    across = max(one[0] - other[2], other[0] - one[2], 0.0)
    return max(across, one[1] - other[3], other[1] - one[3])


def missing_layers(found: Sequence[Recognised]) -> tuple[MissingLayer, ...]:
    """The layers that nothing dropped gives, those without which there is no answer first."""
    held = {r.layer for r in found}
    canopy = any(n in held for n in CANOPY)
    gaps = [
        MissingLayer(layer=name, adds=LAYER_ADDS[name], required=name in REQUIRED or (name in CANOPY and not canopy))
        for name in LAYER_NAMES
        if name not in held
    ]
    return tuple(sorted(gaps, key=lambda g: not g.required))


def new_plan(folder: str | Path, name: str, units: str, found: Sequence[Recognised]) -> str:
    """The text of a plan of what was dropped; it passes `boscage check`.

    Of two files for one layer the one that is recognised more firmly is named. A layer that cannot be read as it is,
    is left out with the reason beside it. Nothing is written.

    Args:
        folder: Where the plan is to lie; paths are relative to it.
        name: Of the ranch.
        units: `us` or `metric`.
        found: As `try_layers` gives them.

    Raises:
        InputError: The folder is not there; there are no parcels or no canopy among the files, or these cannot be used:
            the sentence says why.
    """
    if not Path(folder).is_dir():
        raise InputError("there is no such folder", mend="make it first, or choose another", file=str(folder))
    lines = _lines(Path(folder), found)
    gaps = missing_layers(found)
    for gap in gaps:
        if gap.required:
            also = " (or a canopy_height)" if gap.layer == "canopy_cover" else ""
            raise InputError(
                f"no layer {gap.layer}{also} is among what was dropped", expected=gap.adds.rstrip("."),
                mend="drop a file with it too", layer=gap.layer,
            )  # fmt: skip
    file = str(Path(folder) / "plan.toml")
    for _ in lines:
        text = plan_page(name, units, lines, gaps)
        wrong = [r for r in _reports(text, file) if r.state == "wrong"]
        if not wrong:
            return text
        named = {line.layer for line in lines if not line.why_not} - {r.name for r in wrong}
        if "parcels" not in named or not named & set(CANOPY):
            worst = next(r for r in wrong if r.name in (*REQUIRED, *CANOPY))
            raise InputError(worst.error.rstrip("."), mend="mend the file and drop it again")
        errors = {r.name: r.error for r in wrong}
        lines = [replace(n, why_not=errors[n.layer]) if n.layer in errors and not n.why_not else n for n in lines]
    raise AssertionError("each round leaves a layer out")


def _reports(text: str, file: str) -> tuple[LayerReport, ...]:
    plan = plan_from_table(tomllib.loads(text), file=file, folder=str(Path(file).parent), today=dt.date.today())
    return inspect_layers(plan, load_readers())[1]


def _lines(folder: Path, found: Sequence[Recognised]) -> list[PlanLine]:
    """Lines of the plan in the order of its page; of several for one layer all but the firmest are left out."""
    lines: list[PlanLine] = []
    for name in LAYER_NAMES:
        held = sorted((r for r in found if r.layer == name), key=lambda r: FIRM.index(r.confidence))
        for n, one in enumerate(held):
            firm = "" if one.confidence == SURE else f"Only {one.confidence}: check that this is the right file. "
            known = f"Known by: {one.why[:1].lower()}{one.why[1:]}"
            said = (f"{firm}{known}", *([one.unit_why] if one.unit else []), *(f"Look: {d}" for d in one.doubts))
            why_not = f"It is {name} too, and a plan takes one; name it instead of the other if it is." if n else ""
            lines.append(PlanLine(layer=name, entry=_entry(one, folder), said=said, why_not=why_not))
    return lines


def _entry(one: Recognised, folder: Path) -> dict[str, Any]:
    entry: dict[str, Any] = {"path": _relative(Path(one.path), folder)}
    if one.inner:
        entry["layer"] = one.inner
    if one.columns:
        entry["columns"] = dict(one.columns)
    return {**entry, **({"unit": one.unit} if one.unit else {})}


def _relative(path: Path, folder: Path) -> str:
    """A path as the plan writes it: relative with forward slashes; whole where it lies on another drive."""
    try:
        text = os.path.relpath(path.absolute(), folder.absolute())
    except ValueError:
        text = str(path.absolute())
    return text.replace(os.sep, "/") + ("/" if path.is_dir() else "")
