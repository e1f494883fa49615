"""What a table of rows is: a stem list, a log, filled-in forms, readings, points, or none of these."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from boscage.errors import InputError
from boscage.model.camtrap import PACKAGE
from boscage.model.recognised import Recognised
from boscage.readers.form_tables import is_form_export
from boscage.readers.protocol import RawVector, Reader, choose_reader
from boscage.readers.recognise_answer import LOG, Candidate, made_of, reason_of, request_of, unknown
from boscage.readers.recognise_vector import Facts, candidates, facts_of, is_log
from boscage.readers.stem_list import NAMES as STEM_NAMES
from boscage.readers.stem_list import read_stem_list
from boscage.readers.table import NAMES as PLACE_NAMES
from boscage.readers.table import SUFFIXES, read_rows

FORMS = Candidate(layer="log", points=4.0, why=("answers to the field forms: visits, checks or captures",))


def recognise_table(path: Path, readers: Sequence[Reader]) -> Recognised:
    """The answer for one table.

    Raises:
        InputError: It cannot be read as rows and columns.
    """
    if is_form_export(request_of(path, "log")):
        return made_of(path, (FORMS,), read="filled-in forms")
    if path.suffix.lower() not in SUFFIXES:
        return unknown(path, "it holds no table of the field forms, and no other layer comes in such a file")
    header, rows, _, _ = read_rows(request_of(path, "sign"))
    if not rows:
        return unknown(path, f"it has column names and no rows (the columns are {', '.join(header)})")
    if _holds(header, "dbh_cm", "dbh_in") or any(_letters(h) in ("dbh", "diameter") for h in header):
        return _stems(path, _rows(len(rows)))
    return _other(path, header, rows, readers)


def _other(
    path: Path, header: list[str], rows: Sequence[tuple[int, list[str]]], readers: Sequence[Reader]
) -> Recognised:
    """The answer for rows that are no stem list."""
    cells = {name: [c[i].strip() for _, c in rows] for i, name in enumerate(header)}
    facts = Facts(kinds=frozenset(), count=len(rows), cells=cells, name=path.stem)
    if is_log(facts):
        return made_of(path, (LOG,), read=_rows(len(rows)))
    if _has_places(header):
        return _points(path, readers, _rows(len(rows)), f"the columns are {', '.join(header)}")
    if facts.column("deploymentID", "observationID", "mediaID"):
        return unknown(path, f"it is one table of a camera package; drop the folder that holds {PACKAGE}")
    return unknown(path, f"it has no places and is no stem list and no log (the columns are {', '.join(header)})")


def _rows(count: int) -> str:
    return f"{count} row{'s' if count != 1 else ''}"


def _letters(name: str) -> str:
    return re.sub(r"[^a-z0-9]", "", name.lower())


def _holds(header: Sequence[str], *ours: str) -> bool:
    wanted = {n for name in ours for n in STEM_NAMES[name]}
    return any(_letters(h) in wanted for h in header)


def _has_places(header: Sequence[str]) -> bool:
    plain = {_letters(h) for h in header}
    return any(plain & set(PLACE_NAMES[a]) and plain & set(PLACE_NAMES[b]) for a, b in (("lon", "lat"), ("x", "y")))


def _stems(path: Path, read: str) -> Recognised:
    """A list of trunks, read as `boscage rig` would."""
    try:
        listed = read_stem_list(path)
    except InputError as error:
        doubt = f"{reason_of(error)[:1].upper()}{reason_of(error)[1:]}."
        wrong = Candidate(layer="stems", points=2.0, why=("trunks with their diameters",), doubts=(doubt,))
        return made_of(path, (wrong,), read=read)
    ways = {"pivot": "by tape and compass", "crs": f"in {listed.crs}", "grid": "in a grid of their own"}
    doubts = list(listed.doubts)
    if listed.frame == "pivot":
        doubts.append("the list does not say where its pivot stands; state pivot = [lon, lat] in the plan.")
    why = f"trunks with their diameters and places {ways[listed.frame]}"
    found = Candidate(layer="stems", points=4.0, why=(why,), doubts=tuple(doubts))
    return made_of(path, (found,), read=f"{len(listed.stems)} stems {ways[listed.frame]}")


def _points(path: Path, readers: Sequence[Reader], read: str, listed: str) -> Recognised:
    request = request_of(path, "sign")
    doubts, box = (), None
    try:
        raw = choose_reader(readers, request).read(request)
        assert isinstance(raw, RawVector), "a table reader gives features"
        facts = facts_of(raw.frame, path.stem)
        bounds = tuple(float(v) for v in raw.frame.total_bounds)
        box = bounds if raw.frame.crs is not None and raw.frame.crs.is_geographic else None
        if box is not None and max(abs(box[1]), abs(box[3])) > 90.0:
            doubts, box = (f"The latitude {box[1]:g} does not exist; are lon and lat exchanged?",), None
    except InputError as error:
        header, rows, _, _ = read_rows(request)
        cells = {name: [c[i].strip() for _, c in rows] for i, name in enumerate(header)}
        facts = Facts(kinds=frozenset({"point"}), count=len(rows), cells=cells, name=path.stem)
        doubts = (f"{reason_of(error)[:1].upper()}{reason_of(error)[1:]}.",)
    no = f"nothing speaks for any of the layers ({read}; {listed})"
    return made_of(path, candidates(facts), read=read, no=no, doubts=doubts, box=box)  # type: ignore[arg-type]
