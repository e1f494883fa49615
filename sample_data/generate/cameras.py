"""A small camera data package in Camtrap DP 1.0: six cameras, fifteen nights.

Tables follow the Camtrap DP 1.0 table schemas of TDWG. Observations are at event level, one row for
each class of animal. Times carry the zone -06:00. The pictures themselves are not part of the package.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta, timezone

import numpy as np
import pandas as pd

from generate.frame import GRID, PLAN_DATE, lonlat, rng
from generate.haunts import Haunts

ZONE = timezone(timedelta(hours=-6))
FIRST = datetime(2026, 11, 5, 15, 0, tzinfo=ZONE)
NIGHTS = 15
SCHEMA = "https://raw.githubusercontent.com/tdwg/camtrap-dp/1.0/"
PIG, DEER, RACCOON = "Sus scrofa", "Odocoileus virginianus", "Procyon lotor"
# Classes of each group: (life stage, sex, count). An empty sex was not seen.
GROUP_OF_9 = (("adult", "female", 3), ("juvenile", "", 6))
GROUP_OF_14 = (("adult", "female", 4), ("subadult", "", 4), ("juvenile", "", 6))
BOAR = (("adult", "male", 1),)


@dataclass(frozen=True, kw_only=True)
class Camera:
    """One deployment: where, what draws animals there, and which nights what came."""

    deployment: str
    haunt: str
    east_off_m: float
    north_off_m: float
    heading_deg: int
    feature: str
    bait: bool
    nine: tuple[int, ...] = ()
    fourteen: tuple[int, ...] = ()
    boar: tuple[int, ...] = ()
    deer: int = 4
    raccoon: int = 3
    blank: int = 3


CAMERAS = (
    Camera(
        deployment="UC-C1", haunt="upper creek", east_off_m=12, north_off_m=18, heading_deg=0, feature="",
        bait=True, nine=(1, 3, 4, 6, 8, 9, 10, 11, 12, 13, 14), boar=(5, 10), deer=5,
    ),
    Camera(
        deployment="UC-C2", haunt="upper creek", east_off_m=-160, north_off_m=-60, heading_deg=180,
        feature="trailGame", bait=False, nine=(2, 7, 12), boar=(6,), deer=6, blank=5,
    ),
    Camera(
        deployment="CD-C1", haunt="cedar draws", east_off_m=20, north_off_m=-15, heading_deg=10, feature="",
        bait=True, fourteen=(2, 4, 5, 8, 11, 12, 13, 14), raccoon=6,
    ),
    Camera(
        deployment="CD-C2", haunt="cedar draws", east_off_m=150, north_off_m=70, heading_deg=190,
        feature="waterSource", bait=False, fourteen=(5, 9, 13), boar=(3,), deer=5,
    ),
    Camera(
        deployment="SH-C1", haunt="south hollow", east_off_m=10, north_off_m=10, heading_deg=0, feature="",
        bait=True, boar=(4, 7, 11, 14), deer=8, raccoon=5, blank=6,
    ),
    Camera(
        deployment="BC-C1", haunt="bench corner", east_off_m=-15, north_off_m=5, heading_deg=350, feature="",
        bait=False, deer=11, raccoon=2, blank=7,
    ),
)  # fmt: skip


def _place(camera: Camera, haunts: Haunts) -> tuple[float, float]:
    east, north = {**haunts.fresh, **haunts.stale}[camera.haunt]
    return east + camera.east_off_m, north + camera.north_off_m


def deployments(haunts: Haunts) -> pd.DataFrame:
    """deployments.csv: place, start and end, set-up."""
    rows = []
    for number, camera in enumerate(CAMERAS):
        lon, lat = lonlat(*_place(camera, haunts))
        start = FIRST + timedelta(minutes=35 * number)
        rows.append(
            {
                "deploymentID": camera.deployment,
                "locationID": f"loc-{camera.deployment}",
                "locationName": f"{camera.haunt} {camera.deployment[-1]}",
                "latitude": f"{lat:.6f}",
                "longitude": f"{lon:.6f}",
                "coordinateUncertainty": 8,
                "deploymentStart": start.isoformat(),
                "deploymentEnd": (start + timedelta(days=NIGHTS)).isoformat(),
                "setupBy": "op 1",
                "cameraID": f"cam-{number + 1:02d}",
                "cameraHeight": 0.8,
                "cameraHeading": camera.heading_deg,
                "timestampIssues": "false",
                "baitUse": str(camera.bait).lower(),
                "featureType": camera.feature,
                "deploymentTags": f"ranch:Dunnock Hollow|invented:yes{'|bait:corn' if camera.bait else ''}",
            }
        )
    return pd.DataFrame(rows)


def _visits(camera: Camera, random: np.random.Generator) -> list[tuple[datetime, str, tuple]]:
    """(time, species, classes) of every event at one camera; classes are empty when nothing is seen."""

    def when(night: int, low: float, high: float) -> datetime:
        midnight = datetime(FIRST.year, FIRST.month, FIRST.day, tzinfo=ZONE) + timedelta(days=night - 1)
        return (midnight + timedelta(hours=float(random.uniform(low, high)))).replace(microsecond=0)

    found: list[tuple[datetime, str, tuple]] = []
    for nights, group in ((camera.nine, GROUP_OF_9), (camera.fourteen, GROUP_OF_14), (camera.boar, BOAR)):
        for night in nights:
            whole = night >= 9 or group is BOAR
            classes = group if whole else tuple((s, x, max(1, c - int(random.integers(0, 3)))) for s, x, c in group)
            found.append((when(night, 18.2, 29.0), PIG, classes))
    for species, count in ((DEER, camera.deer), (RACCOON, camera.raccoon), ("", camera.blank)):
        for night in random.integers(1, NIGHTS, size=count):
            classes = (
                ((("adult", "", int(random.integers(1, 4))),) if species == DEER else (("", "", 1),)) if species else ()
            )
            found.append((when(int(night), 17.5, 30.5), species, classes))
    return sorted(found, key=lambda v: v[0])


def events() -> pd.DataFrame:
    """Every event with its camera, its times and its classes, in order."""
    rows = []
    for camera in CAMERAS:
        random = rng(f"camera {camera.deployment}")
        for number, (start, species, classes) in enumerate(_visits(camera, random), start=1):
            stay = {PIG: (420, 2400), DEER: (40, 600), RACCOON: (30, 400)}.get(species, (1, 4))
            rows.append(
                {
                    "deploymentID": camera.deployment,
                    "eventID": f"{camera.deployment}-E{number:03d}",
                    "start": start,
                    "end": start + timedelta(seconds=int(random.integers(*stay))),
                    "type": "animal" if species else "blank",
                    "species": species,
                    "classes": classes,
                }
            )
    walk = FIRST + timedelta(days=6, hours=-4, minutes=12)
    rows.append(
        {
            "deploymentID": "UC-C2",
            "eventID": "UC-C2-E900",
            "start": walk,
            "end": walk + timedelta(seconds=6),
            "type": "human",
            "species": "",
            "classes": (),
        }
    )
    return pd.DataFrame(rows)


def media(visits: pd.DataFrame) -> pd.DataFrame:
    """media.csv: two pictures an event, one for a blank; a person's picture is not public."""
    rows = []
    counter: dict[str, int] = {}
    ordered = visits.sort_values(["deploymentID", "start", "eventID"], kind="stable")
    for visit in ordered.itertuples():
        times = [visit.start] if visit.type != "animal" else [visit.start, visit.end]
        for time in times:
            number = counter[visit.deploymentID] = counter.get(visit.deploymentID, 0) + 1
            name = f"IMG_{number:04d}.JPG"
            rows.append(
                {
                    "mediaID": f"{visit.deploymentID}-M{number:04d}",
                    "deploymentID": visit.deploymentID,
                    "captureMethod": "activityDetection",
                    "timestamp": time.isoformat(),
                    "filePath": f"media/{visit.deploymentID}/{name}",
                    "filePublic": str(visit.type != "human").lower(),
                    "fileName": name,
                    "fileMediatype": "image/jpeg",
                }
            )
    return pd.DataFrame(rows)


def observations(visits: pd.DataFrame) -> pd.DataFrame:
    """observations.csv: one row for each class of each event."""
    rows = []
    for visit in visits.itertuples():
        for life_stage, sex, count in visit.classes or (("", "", ""),):
            rows.append(
                {
                    "observationID": f"{visit.eventID}-{len(rows) + 1:04d}",
                    "deploymentID": visit.deploymentID,
                    "mediaID": "",
                    "eventID": visit.eventID,
                    "eventStart": visit.start.isoformat(),
                    "eventEnd": visit.end.isoformat(),
                    "observationLevel": "event",
                    "observationType": visit.type,
                    "scientificName": visit.species,
                    "count": 1 if visit.type == "human" else count,
                    "lifeStage": life_stage,
                    "sex": sex,
                    "classificationMethod": "human",
                    "classifiedBy": "op 1",
                    "classificationTimestamp": f"{PLAN_DATE.isoformat()}T09:30:00-06:00",
                }
            )
    return pd.DataFrame(rows)


def package() -> dict:
    """datapackage.json by the Camtrap DP 1.0 profile."""
    west, north = (float(v) for v in lonlat(GRID.west_m, GRID.north_m))
    east, south = (float(v) for v in lonlat(GRID.west_m + GRID.cols * 10, GRID.north_m - GRID.rows * 10))
    ring = [[west, south], [east, south], [east, north], [west, north], [west, south]]
    end = (FIRST + timedelta(days=NIGHTS)).date().isoformat()
    common = {
        "profile": "tabular-data-resource",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
    }
    names = ((PIG, "feral swine"), (DEER, "white-tailed deer"), (RACCOON, "raccoon"))
    return {
        "resources": [
            {"name": n, "path": f"{n}.csv", **common, "schema": f"{SCHEMA}{n}-table-schema.json"}
            for n in ("deployments", "media", "observations")
        ],
        "profile": f"{SCHEMA}camtrap-dp-profile.json",
        "name": "dunnock-hollow-cameras",
        "created": f"{PLAN_DATE.isoformat()}T12:00:00-06:00",
        "title": "Cameras on Dunnock Hollow Ranch (invented data)",
        "description": "Invented data. The picture files that media.csv names do not exist.",
        "version": "1.0",
        "contributors": [{"title": "Dunnock Hollow operators (invented)", "role": "rightsHolder"}],
        "licenses": [{"name": "CC0-1.0", "scope": "data"}, {"name": "CC0-1.0", "scope": "media"}],
        "project": {
            "title": "Dunnock Hollow Ranch, autumn 2026 (invented)",
            "samplingDesign": "targeted",
            "captureMethod": ["activityDetection"],
            "individualAnimals": False,
            "observationLevel": ["event"],
        },
        "spatial": {"type": "Polygon", "coordinates": [ring]},
        "temporal": {"start": FIRST.date().isoformat(), "end": end},
        "taxonomic": [
            {"scientificName": latin, "taxonRank": "species", "vernacularNames": {"eng": plain}}
            for latin, plain in names
        ],
    }
