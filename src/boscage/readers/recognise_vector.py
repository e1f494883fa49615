"""What features or rows are, by their shapes, columns and words.

Each layer has a judge that counts what speaks for it: 3 points and more are sure, 2 likely, 1 a guess. Words are those
of county and state GIS offices, OpenStreetMap and the trade.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from boscage.model.evidence import SIGN_KINDS
from boscage.model.ledger import EVENTS
from boscage.readers.columns import COLUMNS, cell, listed, plain, read_day
from boscage.readers.features import ACCESS, TRACK_CLASSES
from boscage.readers.fencing import GATE_KINDS, GATE_STATES
from boscage.readers.probes import INDEX_NAMES
from boscage.readers.recognise_answer import Candidate
from boscage.readers.recognise_words import FENCES, HOUSES, NAMES, POWER, ROADS, WATERS

if TYPE_CHECKING:
    import pandas as pd

MOST_ROWS = 3000
TILED_SHARE = 0.7
SMALL_M2 = 2000.0
NOTES = frozenset({"note", "notes", "comment", "comments", "remark", "remarks"})


@dataclass(frozen=True, kw_only=True)
class Facts:
    """What is known of one layer of features, or of a table without places.

    Attributes:
        kinds: `point`, `line`, `polygon`; empty for a table.
        count: Features.
        cells: The file's columns, each with the trimmed texts of its first rows.
        name: Of file and layer, for its words.
        gpx: `waypoints`, `tracks` or '' for any other format.
        tiled: Share of the polygons that touch another one.
        small: Share of the polygons under 2,000 square metres.
    """

    kinds: frozenset[str]
    count: int
    cells: Mapping[str, list[str]]
    name: str
    gpx: str = ""
    tiled: float = 0.0
    small: float = 0.0

    def column(self, *names: str) -> str | None:
        """The file's column under any of these names, or None."""
        wanted = {plain(n) for n in names}
        return next((c for c in self.cells if plain(c) in wanted), None)

    def share(self, words: Iterable[str], *columns: str) -> tuple[str | None, float]:
        """The column of which most cells hold one of the words, and that share of the cells that are filled in.

        A column of which more than half is empty counts as half full.

        Args:
            words: Compared with the single words of a cell.
            columns: Where to look; by default everywhere but in notes.
        """
        wanted, best = frozenset(words), (None, 0.0)
        for column in columns or (c for c in self.cells if plain(c) not in NOTES):
            texts = [t.lower() for t in self.cells.get(column, ()) if t]
            hits = sum(bool(wanted & frozenset((t, *re.split(r"[^a-z_]+", t)))) for t in texts)
            told = hits / max(len(texts), len(self.cells[column]) / 2.0, 1.0) if column in self.cells else 0.0
            if told > best[1]:
                best = (column, told)
        return best

    def within(self, words: Iterable[str]) -> str | None:
        """A column whose filled cells, at least one, are all among the words."""
        wanted = {plain(w) for w in words}
        for column, texts in self.cells.items():
            held = {plain(t) for t in texts if t}
            if held and held <= wanted:
                return column
        return None

    @property
    def words(self) -> frozenset[str]:
        """Single words of the names of file and layer."""
        return frozenset(re.split(r"[^a-z]+", self.name.lower()))


def facts_of(frame: pd.DataFrame, name: str, gpx: str = "") -> Facts:
    """The facts of features as a reader gives them."""
    shapes = frame.geometry.to_numpy()
    shapes = shapes[~(shapely.is_missing(shapes) | shapely.is_empty(shapes))]
    kinds = {0: "point", 4: "point", 1: "line", 2: "line", 5: "line", 3: "polygon", 6: "polygon", 7: "other"}
    found = frozenset(kinds[int(k)] for k in np.unique(shapely.get_type_id(shapes)))
    tiled = small = 0.0
    if found == {"polygon"}:
        some = shapes[:MOST_ROWS]
        one, other = shapely.STRtree(some).query(some, predicate="intersects")
        tiled = len(np.unique(one[one != other])) / len(some)
        projected = frame.crs is not None and frame.crs.is_projected
        small = float(np.mean(shapely.area(some) < SMALL_M2)) if projected else 0.0
    head = frame.head(MOST_ROWS)
    cells = {str(c): [cell(v) for v in head[c].tolist()] for c in frame.columns if c not in ("geometry", "row")}
    return Facts(kinds=found, count=len(shapes), cells=cells, name=name, gpx=gpx, tiled=tiled, small=small)


def candidates(facts: Facts) -> list[Candidate]:
    """The layers that features may be, the likeliest first; none where nothing speaks for any."""
    found = []
    for layer, (kinds, judge) in JUDGES.items():
        if not facts.kinds <= kinds or not facts.kinds:
            continue
        made = judge(facts)
        if facts.words & NAMES.get(layer, frozenset()):
            said = f"its name says {', '.join(sorted(facts.words & NAMES[layer]))}"
            made = replace(made, points=made.points + 1.0, why=(*made.why, said))
        found.append(made)
    return sorted((c for c in found if c.points > 0.0), key=lambda c: -c.points)


def _counted(layer: str, *evidence: tuple[float, str], **more: object) -> Candidate:
    """A candidate out of points and what each is for."""
    held = [e for e in evidence if e[0] > 0.0]
    return Candidate(
        layer=layer, points=sum(p for p, _ in held), why=tuple(w for _, w in sorted(held, key=lambda e: -e[0])), **more
    )  # type: ignore[arg-type]


def _for(column: str | None, points: float) -> tuple[float, str]:
    """What a column of a telling name speaks for."""
    return (points, f"column {column}") if column else (0.0, "")


def _words(found: tuple[str | None, float], points: float, what: str, least: float = 0.3) -> tuple[float, str]:
    """What a column of telling words speaks for."""
    return (points, f"{what} in column {found[0]}") if found[1] >= least else (0.0, "")


def _known(facts: Facts, layer: str, name: str) -> str | None:
    """A column that the layer's reader takes under one of our names by itself."""
    return facts.column(name, *COLUMNS[layer][name])


def _mapped(facts: Facts, layer: str, name: str, column: str | None) -> tuple[tuple[str, str], ...]:
    """The mapping that the plan must state, where the reader would not find the column by itself."""
    return ((name, column),) if column and _known(facts, layer, name) != column else ()


def _parcels(facts: Facts) -> Candidate:
    access = facts.within(ACCESS)
    named = _known(facts, "parcels", "access") or facts.column("permission", "consent", "permitted", "allowed")
    owner = _known(facts, "parcels", "owner") or facts.column(
        "owner1", "own1", "own", "ownername1", "name_owner", "holder", "taxpayer", "ownr_name"
    )
    parcel = _known(facts, "parcels", "parcel") or facts.column(
        "parcelid", "propid", "prop_id", "parno", "pid", "geo_id"
    )
    doubts = []
    if access is None:
        held = f"the column {named} holds {_some(facts, named)}" if named else "there is no column access"
        doubts.append(f"{held}: write granted, refused or unknown for each parcel, or nothing can be ranked.")
    return _counted(
        "parcels", (3.0 if access else 0.0, f"words on permission in column {access}"),
        (1.0 if named and not access else 0.0, f"column {named}"), _for(owner, 2.0), _for(parcel, 1.0),
        (0.5 if facts.tiled >= TILED_SHARE else 0.0, "polygons that border on one another"), doubts=tuple(doubts),
        columns=(*_mapped(facts, "parcels", "access", access), *_mapped(facts, "parcels", "owner", owner),
                 *_mapped(facts, "parcels", "parcel", parcel)),
    )  # fmt: skip


def _some(facts: Facts, column: str) -> str:
    return listed(sorted({t for t in facts.cells[column] if t}), most=3) or "nothing"


def _soils(facts: Facts) -> Candidate:
    own = [c for n in COLUMNS["soils"] if n != "name" and (c := _known(facts, "soils", n))]
    own += [c for n in ("mukey", "muaggatt", "hydgrp", "drclassdcd", "texcl") if (c := facts.column(n))]
    return _counted(
        "soils", (1.5 * min(len(own), 3), f"columns {listed(own, most=4)}"),
        (0.5 if facts.tiled >= TILED_SHARE else 0.0, "polygons that border on one another"),
    )  # fmt: skip


def _no_go(facts: Facts) -> Candidate:
    reason = _known(facts, "no_go", "reason") or facts.column("restriction", "why", "cause")
    ends = [c for n in ("from", "until") if (c := _known(facts, "no_go", n))]
    return _counted(
        "no_go", _for(reason, 2.0), (1.0 * len(ends), f"column {' and '.join(ends)}"),
        columns=_mapped(facts, "no_go", "reason", reason),
    )  # fmt: skip


def _water(facts: Facts) -> Candidate:
    return _counted(
        "water", _for(facts.column("waterway", "fcode", "ftype", "gnis_name", "reachcode"), 2.5),
        _words(facts.share(WATERS), 2.0, "words such as creek or pond"),
    )  # fmt: skip


def _dwellings(facts: Facts) -> Candidate:
    return _counted(
        "dwellings", _for(facts.column("building", "bldg_type", "address", "addr_full"), 2.5),
        _words(facts.share(HOUSES), 2.0, "words such as house or barn"),
        (0.5 if facts.small >= 0.9 else 0.0, "polygons as small as houses"),
    )  # fmt: skip


def _tracks(facts: Facts) -> Candidate:
    ours = facts.within(TRACK_CLASSES)
    column, share = facts.share(ROADS, *([ours] if ours else []))
    doubts = ()
    if share >= 0.3 and ours is None:
        doubts = (f"the column {column} holds {_some(facts, column or '')}: write road, track or trail for each line.",)
    classed = plain(column or "") in {"class", "highway", "fclass", "roadtype", "type", "roadclass", "roadway"}
    return _counted(
        "tracks", (3.0 if ours else 2.5 if share >= 0.3 and classed else 2.0 if share >= 0.3 else 0.0,
                   f"words such as {_example(facts, column)} in column {column}"),
        _for(facts.column("surface", "public", "mtfcc", "rttyp"), 0.5), doubts=doubts,
        columns=_mapped(facts, "tracks", "class", ours),
    )  # fmt: skip


def _example(facts: Facts, column: str | None) -> str:
    return next((t for t in facts.cells.get(column or "", ()) if t), "road")


def _power_lines(facts: Facts) -> Candidate:
    return _counted(
        "power_lines", _for(facts.column("voltage_kv", "voltage", "kv", "volts", "volt_class"), 3.0),
        _for(facts.column("power"), 2.5), _words(facts.share(POWER), 2.0, "words such as tower or pole"),
    )  # fmt: skip


def _fences(facts: Facts) -> Candidate:
    return _counted(
        "fences", _for(facts.column("fence_type", "fence_kind", "fence", "barrier"), 2.0),
        _words(facts.share(FENCES), 2.0, "words such as fence or barbed"),
    )  # fmt: skip


def _searched(facts: Facts) -> Candidate:
    date = _known(facts, "searched", "date")
    dated = date is not None and _dated(facts.cells[date])
    who = _known(facts, "searched", "observer")
    if facts.gpx == "tracks":
        doubt = "nothing says on which day they were walked, so they count as walked just now; leave old ones out."
        return _counted("searched", (2.0, "recorded tracks, which say where somebody went"), doubts=(doubt,))
    return _counted("searched", (2.0 if dated else 0.0, f"lines with dates in column {date}"), _for(who, 1.0))


def _dated(texts: Iterable[str]) -> bool:
    """Whether most filled cells are days that the readers understand."""
    held = [t for t in texts if t]
    return bool(held) and sum(not isinstance(read_day(t), str) for t in held) >= 0.8 * len(held)


def _sign(facts: Facts) -> Candidate:
    kinds = facts.within(SIGN_KINDS)
    column, share = facts.share(SIGN_KINDS, *([kinds] if kinds else []))
    date = _known(facts, "sign", "date")
    dated = date is not None and _dated(facts.cells[date])
    doubts = []
    if kinds is None:
        held = f"the column {column} holds {_some(facts, column)}" if column else "no column names what was found"
        doubts.append(f"{held}: write one of {', '.join(SIGN_KINDS)} for each point.")
    waypoints = facts.gpx == "waypoints"
    return _counted(
        "sign", (3.0 if kinds else 2.0 if share >= 0.3 else 0.0, f"words such as {_example(facts, column)} in column "
                 f"{column}"), (1.0 if dated and (kinds or share >= 0.3) else 0.0, f"dates in column {date}"),
        (1.0 if waypoints else 0.0, "waypoints of a hand-held receiver"), doubts=tuple(doubts),
        columns=_mapped(facts, "sign", "kind", kinds),
    )  # fmt: skip


def _probes(facts: Facts) -> Candidate:
    index = next((c for c in facts.cells if plain(c).startswith(tuple(plain(n) for n in INDEX_NAMES[:2])) or re.sub(
        r"(kpa|mpa|psi|bar|kgcm2)$", "", plain(c)) in {plain(n) for n in INDEX_NAMES}), None)  # fmt: skip
    blows = facts.column("blows", "blow_count")
    depth = next((c for c in facts.cells if re.fullmatch(r"(depth|depthto|bottom)(cm|mm|in|m|ft)?", plain(c))), None)
    told = index or blows
    return _counted("probes", _for(told, 2.0), _for(depth, 2.0 if told else 0.0))


def _gates(facts: Facts) -> Candidate:
    kind, state = facts.column("kind", "gate_kind"), facts.column("state", "gate_state")
    words = facts.share(("gate", "gates"))
    return _counted(
        "gates", _words(facts.share(GATE_KINDS, kind) if kind else (None, 0.0), 2.0, "entry or inner", 0.8),
        _words(facts.share(GATE_STATES, state) if state else (None, 0.0), 1.0, "open, closed or locked", 0.8),
        _words(words, 2.0, "the word gate"), _for(facts.column("lock", "locked", "width_m"), 1.0),
    )  # fmt: skip


def is_log(facts: Facts) -> bool:
    """Whether rows are a log: a date, a set, and words that say what happened there."""
    event = facts.column("event", "action")
    there = facts.column("date", "night", "evening", "evening_date") and facts.column("site", "set", "trap", "site_id")
    return bool(there and event) and facts.share(EVENTS, event or "")[1] >= 0.5


JUDGES: Mapping[str, tuple[frozenset[str], Callable[[Facts], Candidate]]] = {
    "parcels": (frozenset({"polygon"}), _parcels), "soils": (frozenset({"polygon"}), _soils),
    "no_go": (frozenset({"polygon"}), _no_go), "water": (frozenset({"line", "polygon"}), _water),
    "dwellings": (frozenset({"point", "polygon"}), _dwellings), "tracks": (frozenset({"line"}), _tracks),
    "power_lines": (frozenset({"line", "point"}), _power_lines), "fences": (frozenset({"line"}), _fences),
    "searched": (frozenset({"line"}), _searched), "sign": (frozenset({"point"}), _sign),
    "probes": (frozenset({"point"}), _probes), "gates": (frozenset({"point"}), _gates),
}  # fmt: skip
