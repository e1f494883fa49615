"""Camera tables written back as a Camtrap DP package, without people."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import os
from collections.abc import Iterable, Mapping
from pathlib import Path

from boscage.errors import LayerError
from boscage.model.camtrap import LAYER, PACKAGE, PROFILE, SCHEMA, TABLES, VERSION
from boscage.model.groups import CameraData, Deployment, Sighting


def write_camera_package(data: CameraData, folder: Path, *, name: str, created: dt.datetime, title: str) -> None:
    """Write a package that the reader, and the standard, take without a bad row.

    People, vehicles and photographs that are not public were left out when reading and are not written. A camera still
    out gets the time up to which it is known to have worked as its end, and a comment says so: the standard wants one.

    Args:
        folder: Made where it is not there; files of the same names are replaced, each by renaming.
        name: Id of the package.
        created: With its time zone; a fixed one gives the same bytes.

    Raises:
        LayerError: There is no deployment: the standard's extent in place and time would be empty.
    """
    if not data.deployments:
        raise LayerError("there is no deployment to write", layer=LAYER, expected="one or more")
    folder.mkdir(parents=True, exist_ok=True)
    shown = {m["mediaID"] for m in data.media}
    tables = {
        "deployments": [_deployment_row(d) for d in data.deployments.values()],
        "media": [dict(m) for m in data.media],
        "observations": [_sighting_row(s, shown) for s in data.sightings],
    }
    for table, rows in tables.items():
        _put(folder / f"{table}.csv", _csv(table, rows))
    described = _described(data, name=name, created=created, title=title)
    _put(folder / PACKAGE, json.dumps(described, indent=2, ensure_ascii=False) + "\n")


def _deployment_row(camera: Deployment) -> dict[str, str]:
    row = dict(camera.fields or {}) | {
        "deploymentID": camera.deployment, "locationID": camera.location, "locationName": camera.name,
        "latitude": repr(camera.lat), "longitude": repr(camera.lon), "deploymentStart": _time(camera.start),
        "deploymentEnd": _time(camera.end), "timestampIssues": str(camera.clock_is_doubtful).lower(),
        "baitUse": "" if camera.bait is None else str(camera.bait).lower(),
    }  # fmt: skip
    if camera.end_is_assumed:
        said = "camera still out; deploymentEnd is the last thing it recorded"
        row["deploymentComments"] = f"{row.get('deploymentComments', '')} {said}".strip()
    return row


def _sighting_row(sighting: Sighting, shown: set[str]) -> dict[str, str]:
    """One row; a photograph that is not written is not named."""
    return dict(sighting.fields or {}) | {
        "observationID": sighting.sighting, "deploymentID": sighting.deployment,
        "mediaID": sighting.media if sighting.media in shown else "",
        "eventID": sighting.event, "eventStart": _time(sighting.start), "eventEnd": _time(sighting.end),
        "observationLevel": sighting.level, "observationType": sighting.kind, "scientificName": sighting.species,
        "count": str(sighting.count) if sighting.kind == "animal" else "", "lifeStage": sighting.life_stage,
        "sex": sighting.sex,
    }  # fmt: skip


def _time(moment: dt.datetime) -> str:
    return moment.isoformat(timespec="seconds")


def _csv(table: str, rows: Iterable[Mapping[str, str]]) -> str:
    out = io.StringIO()
    writer = csv.DictWriter(out, fieldnames=list(TABLES[table]), extrasaction="ignore", lineterminator="\n", restval="")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def _described(data: CameraData, *, name: str, created: dt.datetime, title: str) -> dict[str, object]:
    cameras = list(data.deployments.values())
    west, east = min(c.lon for c in cameras), max(c.lon for c in cameras)
    south, north = min(c.lat for c in cameras), max(c.lat for c in cameras)
    corners = [[west, south], [east, south], [east, north], [west, north], [west, south]]
    levels = sorted({s.level for s in data.sightings}) or ["event"]
    species = sorted({s.species for s in data.sightings if s.species})
    return {
        "resources": [_resource(t) for t in TABLES], "profile": PROFILE.format(version=VERSION), "name": name,
        "created": _time(created), "title": title, "version": "1.0", "contributors": [{"title": title}],
        "project": {
            "title": title, "samplingDesign": "targeted", "captureMethod": ["activityDetection"],
            "individualAnimals": False, "observationLevel": levels,
        },
        "spatial": {"type": "Polygon", "coordinates": [corners]},
        "temporal": {
            "start": min(c.start for c in cameras).date().isoformat(),
            "end": max(c.end for c in cameras).date().isoformat(),
        },
        "taxonomic": [{"scientificName": s} for s in species],
    }  # fmt: skip


def _resource(table: str) -> dict[str, str]:
    return {
        "name": table, "path": f"{table}.csv", "profile": "tabular-data-resource", "format": "csv",
        "mediatype": "text/csv", "encoding": "utf-8", "schema": SCHEMA.format(version=VERSION, table=table),
    }  # fmt: skip


def _put(path: Path, text: str) -> None:
    """Write beside the target, then rename: no half file."""
    part = path.with_name(f".{path.name}.part")
    try:
        part.write_text(text, encoding="utf-8", newline="")
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)
