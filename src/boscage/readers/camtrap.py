"""Camera packages in Camtrap DP: read, checked row by row, people left out."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from boscage.errors import LayerError
from boscage.model.camtrap import (
    LAYER,
    MISSING,
    OBSERVATIONS,
    PACKAGE,
    TABLES,
    TRUE,
    VERSION,
    VERSIONS,
    check_cell,
    read_time,
)
from boscage.model.groups import BadRow, CameraData, Deployment, Sighting

PEOPLE = ("human", "vehicle")
NO_PEOPLE = ("animal", "blank", "unknown", "unclassified")
NEAR = dt.timedelta(minutes=1)
_VERSION = re.compile(r"camtrap-dp/(\d[^/]*)/")

Cells = Mapping[str, str]


def read_camera_packages(folders: Sequence[Path]) -> CameraData:
    """Read one or more packages and check each row against the table schemas.

    A row that breaks the schema is left out and listed with its row, column and what was expected. A deployment without
    an end is no broken row: the camera is still out, and its end is the last thing it recorded. Rows of people and
    vehicles are counted and go no farther, and neither do photographs taken while they were there or not public.

    Raises:
        LayerError: A folder holds no package, a table or a column that must be there is missing, the package follows a
            version that is not known, two packages have one id, or a deployment is in two packages.
    """
    packages = [_read(Path(f)) for f in folders]
    seen: dict[str, Path] = {}
    for package in packages:
        if package.name in seen:
            raise _error(
                package.folder, f"the package has the id {package.name}, as has {seen[package.name].name}",
                expected="an id of its own for each package", mend=f"change id or name in {PACKAGE}, or leave one out",
            )  # fmt: skip
        seen[package.name] = package.folder
    deployments: dict[str, Deployment] = {}
    for package in packages:
        twice = next((d for d in package.deployments if d in deployments), None)
        if twice is not None:
            raise _error(
                package.folder, f"the deployment {twice} is in another package too", expected="each in one package",
                mend="rename it in one of the two", field="deploymentID",
            )  # fmt: skip
        deployments |= package.deployments
    return CameraData(
        packages=tuple(seen), version=VERSION, deployments=deployments,
        sightings=tuple(s for p in packages for s in p.sightings), media=tuple(m for p in packages for m in p.media),
        bad=tuple(b for p in packages for b in p.bad), people=sum(p.people for p in packages),
        doubts=tuple(d for p in packages for d in p.doubts),
    )  # fmt: skip


@dataclass(kw_only=True)
class _Package:
    """One package while it is read."""

    folder: Path
    name: str
    deployments: dict[str, Deployment] = field(default_factory=dict)
    sightings: list[Sighting] = field(default_factory=list)
    media: list[Cells] = field(default_factory=list)
    bad: list[BadRow] = field(default_factory=list)
    people: int = 0
    doubts: list[str] = field(default_factory=list)
    broken: list[Cells] = field(default_factory=list)


def _error(folder: Path, wrong: str, **facts: Any) -> LayerError:
    return LayerError(wrong, file=str(folder), layer=LAYER, **facts)


def _read(folder: Path) -> _Package:
    described = _described(folder)
    package = _Package(folder=folder, name=str(described.get("id") or described.get("name") or folder.name))
    tables = {name: _table(folder, described, name, package) for name in TABLES}
    package.deployments = {cells["deploymentID"]: _deployment(cells) for _, cells in tables["deployments"]}
    known = {n: _known(package, n, tables[n]) for n in ("media", "observations")}
    known["observations"] = _with_media(package, tables, known)
    people = [c for c in known["observations"] if c["observationType"] in PEOPLE]
    package.people = len(people)
    package.sightings = [_sighting(c) for c in known["observations"] if c["observationType"] not in PEOPLE]
    people += [c for c in package.broken if c["observationType"] not in NO_PEOPLE]
    package.media = [c for c in known["media"] if c["filePublic"] in TRUE and not _shows(c, people)]
    _close_open_ends(package, known)
    _check_clocks(package)
    if package.bad:
        package.doubts.append(f"{folder.name}: rows that break the standard: {len(package.bad)}; left out and listed.")
    return package


def _described(folder: Path) -> dict[str, Any]:
    """The package's description, its profile checked."""
    path = folder / PACKAGE
    try:
        described = json.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise _error(
            folder, f"there is no {PACKAGE} that can be read", expected="a folder with a Camtrap DP package"
        ) from error
    except ValueError as error:
        raise _error(path, "the description is no JSON", mend="export the package again") from error
    profile = described.get("profile") if isinstance(described, dict) else None
    found = _VERSION.search(profile) if isinstance(profile, str) else None
    if found is None or found.group(1) not in VERSIONS:
        shown = found.group(1) if found else profile
        raise _error(
            path, f"the package follows the profile {shown}", expected=f"Camtrap DP {', '.join(VERSIONS)}",
            mend="export the package again in one of these versions", field="profile",
        )  # fmt: skip
    return described


def _table(folder: Path, described: Mapping[str, Any], name: str, package: _Package) -> list[tuple[int, Cells]]:
    """Rows of a table that keep its schema, with their numbers; the others go to the list of bad rows."""
    resources = described.get("resources")
    entry = next((r for r in resources or [] if isinstance(r, dict) and r.get("name") == name), None)
    if entry is None or not isinstance(entry.get("path"), str):
        raise _error(
            folder / PACKAGE, f"the table {name} is not named with one path", expected="a resource of that name"
        )
    path = folder / entry["path"]
    if path.resolve().parent != folder.resolve():
        raise _error(folder / PACKAGE, f"the table {name} lies at {entry['path']}", expected="a file in the package")
    header, rows = _rows(path)
    schema = TABLES[name]
    lacking = [n for n, c in schema.items() if c.required and n not in header]
    if lacking:
        raise _error(
            path, f"there is no column {lacking[0]} (the columns are {', '.join(header)})",
            expected=f"the columns of Camtrap DP {VERSION}", mend="export the package again", field=lacking[0],
        )  # fmt: skip
    kept: list[tuple[int, Cells]] = []
    keys: dict[str, set[str]] = {n: set() for n, c in schema.items() if c.unique}
    for number, row in rows:
        cells = {n: row.get(n, "") for n in (*schema, *(h for h in header if h not in schema))}
        wrong = _wrong(name, cells, keys, over=len(row) > len(header))
        if wrong is None:
            kept.append((number, cells))
        else:
            package.bad.append(BadRow(table=name, row=number, field=wrong[0], text=wrong[1]))
            package.broken += [cells] if name == "observations" else []
    return kept


def _rows(path: Path) -> tuple[list[str], list[tuple[int, dict[str, str]]]]:
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise _error(path, f"the file cannot be read ({error.strerror})") from error
    except UnicodeDecodeError as error:
        raise _error(path, "the file is no UTF-8 text", mend="export the package again") from error
    table = list(csv.reader(io.StringIO(text)))
    if not table or not table[0]:
        raise _error(path, "the file is empty", expected="a first line with column names")
    header = [n.strip() for n in table[0]]
    rows = []
    for number, cells in enumerate(table[1:], start=1):
        if not any(c.strip() for c in cells):
            continue
        row = dict(zip(header, (c.strip() for c in cells), strict=False))
        rows.append((number, row | {f"over {k}": c for k, c in enumerate(cells[len(header) :]) if c.strip()}))
    return header, rows


def _wrong(name: str, cells: Cells, keys: Mapping[str, set[str]], *, over: bool) -> tuple[str, str] | None:
    """The first column that is wrong and why, or None; keys of rows let pass are remembered."""
    if over:
        return "", "has more cells than there are columns"
    for column, rule in TABLES[name].items():
        if column == "deploymentEnd" and cells[column] in MISSING:
            continue
        text = check_cell(cells[column], rule)
        if text:
            return column, f"{column} {text}"
    for begin, end in (("deploymentStart", "deploymentEnd"), ("eventStart", "eventEnd")):
        if cells.get(end, "") not in MISSING and read_time(cells[end]) < read_time(cells[begin]):
            return end, f"{end} is before {begin}"
    for column, held in keys.items():
        if cells[column] in held:
            return column, f"{column} {cells[column]} stands twice; expected each once"
        held.add(cells[column])
    return None


def _known(package: _Package, name: str, rows: Sequence[tuple[int, Cells]]) -> list[Cells]:
    """Rows whose deployment is in the package; the others are bad."""
    kept = []
    for number, cells in rows:
        if cells["deploymentID"] in package.deployments:
            kept.append(cells)
            continue
        text = f"deploymentID {cells['deploymentID']} is none of the deployments that were kept"
        package.bad.append(BadRow(table=name, row=number, field="deploymentID", text=text))
    return kept


def _with_media(
    package: _Package, tables: Mapping[str, Sequence[tuple[int, Cells]]], known: Mapping[str, Sequence[Cells]]
) -> list[Cells]:
    """Observations whose photograph, where one is named, is in the package; the others are bad."""
    photographs = {c["mediaID"] for c in known["media"]}
    numbers = {c["observationID"]: n for n, c in tables["observations"]}
    kept = []
    for cells in known["observations"]:
        if cells["mediaID"] in MISSING or cells["mediaID"] in photographs:
            kept.append(cells)
            continue
        text = f"mediaID {cells['mediaID']} is none of the photographs that were kept"
        number = numbers[cells["observationID"]]
        package.bad.append(BadRow(table="observations", row=number, field="mediaID", text=text))
    return kept


def _deployment(cells: Cells) -> Deployment:
    start = read_time(cells["deploymentStart"])
    still_out = cells["deploymentEnd"] in MISSING
    return Deployment(
        deployment=cells["deploymentID"], location=_text(cells["locationID"]), name=_text(cells["locationName"]),
        lon=float(cells["longitude"]), lat=float(cells["latitude"]), start=start,
        end=start if still_out else read_time(cells["deploymentEnd"]), end_is_assumed=still_out,
        bait=None if cells["baitUse"] in MISSING else cells["baitUse"] in TRUE,
        clock_is_doubtful=cells["timestampIssues"] in TRUE, fields=cells,
    )  # fmt: skip


def _sighting(cells: Cells) -> Sighting:
    tags = [t.strip() for t in _text(cells["observationTags"]).split("|")]
    group = next((t.split(":", 1)[1].strip() for t in tags if t.startswith("group:")), "")
    return Sighting(
        sighting=cells["observationID"], deployment=cells["deploymentID"], level=cells["observationLevel"],
        event=_text(cells["eventID"]), media=_text(cells["mediaID"]), start=read_time(cells["eventStart"]),
        end=read_time(cells["eventEnd"]), kind=cells["observationType"], species=_text(cells["scientificName"]),
        count=1 if cells["count"] in MISSING else int(cells["count"]), life_stage=_text(cells["lifeStage"]),
        sex=_text(cells["sex"]), group=group, fields=cells,
    )  # fmt: skip


def _text(cell: str) -> str:
    return "" if cell in MISSING else cell


def _shows(media: Cells, people: Sequence[Cells]) -> bool:
    """Whether a photograph is of a person or vehicle, or was taken while one was there.

    A broken row of a person whose times cannot be read and that names no photograph hides all of its camera's.
    """
    time = read_time(media["timestamp"])
    for row in people:
        if row["mediaID"] == media["mediaID"]:
            return True
        if row["deploymentID"] != media["deploymentID"]:
            continue
        if any(check_cell(row[n], OBSERVATIONS[n]) for n in ("eventStart", "eventEnd")):
            if row["mediaID"] in MISSING:
                return True
        elif read_time(row["eventStart"]) <= time <= read_time(row["eventEnd"]):
            return True
    return False


def _close_open_ends(package: _Package, known: Mapping[str, Sequence[Cells]]) -> None:
    """Give cameras that are still out the time of the last thing they recorded, people among it."""
    last: dict[str, dt.datetime] = {}
    for cells in (*known["media"], *known["observations"]):
        time = read_time(cells["timestamp"] if "timestamp" in cells else cells["eventEnd"])
        key = cells["deploymentID"]
        last[key] = max(last.get(key, time), time)
    for key, camera in package.deployments.items():
        if camera.end_is_assumed:
            end = max(camera.start, last.get(key, camera.start))
            package.deployments[key] = replace(camera, end=end)
            package.doubts.append(
                f"deployment {key} has no end; the camera is taken as still out, its nights counted up to the last "
                f"thing that it recorded, {end:%Y-%m-%d %H:%M}."
            )


def _check_clocks(package: _Package) -> None:
    """Doubt cameras whose times lie outside their deployment or carry another time zone than its start."""
    for key, camera in package.deployments.items():
        times = [t for s in package.sightings if s.deployment == key for t in (s.start, s.end)]
        doubt = _outside(camera, times) or _other_zone(camera, times)
        if doubt:
            package.doubts.append(f"deployment {key}: {doubt}")
            package.deployments[key] = replace(camera, clock_is_doubtful=True)


def _outside(camera: Deployment, times: Sequence[dt.datetime]) -> str:
    def out(hours: int) -> int:
        moved = (t + dt.timedelta(hours=hours) for t in times)
        late = dt.datetime.max.replace(tzinfo=dt.UTC) if camera.end_is_assumed else camera.end + NEAR
        return sum(not camera.start - NEAR <= t <= late for t in moved)

    wrong = out(0)
    if not wrong:
        return ""
    fits = next((h for h in sorted(range(-14, 15), key=abs) if h and out(h) == 0), None)
    slip = f"; all would lie inside if moved by {fits:+d} h: a time zone or AM/PM slip?" if fits is not None else "."
    return f"{wrong} of {len(times)} times lie outside the time it was out{slip} Check the camera's clock."


def _other_zone(camera: Deployment, times: Sequence[dt.datetime]) -> str:
    """Zones that differ from that of the start by more than the hour of daylight saving."""
    own = camera.start.utcoffset() or dt.timedelta(0)
    zones = Counter(t.utcoffset() or dt.timedelta(0) for t in times)
    odd = sum(n for zone, n in zones.items() if abs(zone - own) > dt.timedelta(hours=1))
    return f"{odd} of {len(times)} times carry another time zone than its start; check the clock." if odd else ""
