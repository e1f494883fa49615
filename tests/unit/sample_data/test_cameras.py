"""The camera package against Camtrap DP 1.0.

Field names, required fields and controlled values are those of the table schemas and the profile that TDWG
publishes at github.com/tdwg/camtrap-dp. Deployment and media fields were read there in drafts of 1.0 and put
into the names of 1.0 from memory; the observation fields are from memory.
"""

from __future__ import annotations

import json
import re
from datetime import datetime

import pandas as pd
import pytest
from generate import cameras

REQUIRED = {
    "deployments": {"deploymentID", "latitude", "longitude", "deploymentStart", "deploymentEnd"},
    "media": {"mediaID", "deploymentID", "timestamp", "filePath", "filePublic", "fileMediatype"},
    "observations": {
        "observationID", "deploymentID", "eventStart", "eventEnd", "observationLevel", "observationType",
    },
}  # fmt: skip
KNOWN = {
    "deployments": REQUIRED["deployments"]
    | {
        "locationID", "locationName", "coordinateUncertainty", "setupBy", "cameraID", "cameraModel",
        "cameraDelay", "cameraHeight", "cameraDepth", "cameraTilt", "cameraHeading", "detectionDistance",
        "timestampIssues", "baitUse", "featureType", "habitat", "deploymentGroups", "deploymentTags",
        "deploymentComments",
    },
    "media": REQUIRED["media"] | {"captureMethod", "fileName", "exifData", "favorite", "mediaComments"},
    "observations": REQUIRED["observations"]
    | {
        "mediaID", "eventID", "cameraSetupType", "scientificName", "count", "lifeStage", "sex", "behavior",
        "individualID", "individualPositionRadius", "individualPositionAngle", "individualSpeed", "bboxX",
        "bboxY", "bboxWidth", "bboxHeight", "classificationMethod", "classifiedBy", "classificationTimestamp",
        "classificationProbability", "observationTags", "observationComments",
    },
}  # fmt: skip
CONTROLLED = {
    ("deployments", "featureType"): {
        "roadPaved", "roadDirt", "trailHiking", "trailGame", "roadUnderpass", "roadOverpass", "roadBridge",
        "culvert",
        "burrow", "nestSite", "carcass", "waterSource", "fruitingTree",
    },
    ("deployments", "baitUse"): {"true", "false"},
    ("deployments", "timestampIssues"): {"true", "false"},
    ("media", "captureMethod"): {"activityDetection", "timeLapse"},
    ("media", "filePublic"): {"true", "false"},
    ("observations", "observationLevel"): {"media", "event"},
    ("observations", "observationType"): {"animal", "human", "vehicle", "blank", "unknown", "unclassified"},
    ("observations", "lifeStage"): {"adult", "subadult", "juvenile"},
    ("observations", "sex"): {"female", "male"},
    ("observations", "classificationMethod"): {"human", "machine"},
}  # fmt: skip
TIMES = {
    "deployments": ["deploymentStart", "deploymentEnd"],
    "media": ["timestamp"],
    "observations": ["eventStart", "eventEnd", "classificationTimestamp"],
}
KEYS = {"deployments": "deploymentID", "media": "mediaID", "observations": "observationID"}


@pytest.fixture(scope="module")
def tables(ranch) -> dict[str, pd.DataFrame]:
    return {name: ranch.table(f"cameras/{name}.csv", dtype=str) for name in KEYS}


@pytest.mark.parametrize("name", KEYS)
def test_fields_and_keys(tables, name):
    table = tables[name]
    assert REQUIRED[name] <= set(table.columns) <= KNOWN[name]
    for field in REQUIRED[name]:
        assert (table[field] != "").all(), field
    assert table[KEYS[name]].is_unique


@pytest.mark.parametrize(("name", "field"), CONTROLLED)
def test_controlled_values(tables, name, field):
    assert set(tables[name][field]) - {""} <= CONTROLLED[name, field]


@pytest.mark.parametrize("name", TIMES)
def test_times_are_iso_8601_with_the_zone(tables, name):
    for field in TIMES[name]:
        for text in tables[name][field]:
            assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d-06:00", text)
            datetime.strptime(text, "%Y-%m-%dT%H:%M:%S%z")


def test_foreign_keys_and_order_of_times(tables):
    cameras_there = tables["deployments"].set_index("deploymentID")
    for name, first, last in (
        ("media", "timestamp", "timestamp"),
        ("observations", "eventStart", "eventEnd"),
    ):
        joined = tables[name].join(cameras_there[["deploymentStart", "deploymentEnd"]], on="deploymentID")
        assert (joined["deploymentStart"] != "").all() and joined["deploymentStart"].notna().all()
        assert (joined["deploymentStart"] <= joined[first]).all()
        assert (joined[first] <= joined[last]).all() and (joined[last] <= joined["deploymentEnd"]).all()
    linked = tables["observations"]["mediaID"]
    assert set(linked) - {""} <= set(tables["media"]["mediaID"])


def test_every_event_has_a_picture(tables):
    media = tables["media"]
    for row in tables["observations"].drop_duplicates("eventID").itertuples():
        here = media[media["deploymentID"] == row.deploymentID]["timestamp"]
        assert here.between(row.eventStart, row.eventEnd).any()


def test_file_paths_are_relative_and_a_person_is_not_public(tables):
    media = tables["media"]
    assert media["filePath"].str.match(r"^(?=^[^./~])(^((?!\.{2}).)*$).*$").all()  # pattern of the media schema
    people = tables["observations"].query("observationType == 'human'")
    hidden = media[media["filePublic"] == "false"]
    assert len(hidden) == 1 and len(people) == 1
    assert hidden["timestamp"].iloc[0] == people["eventStart"].iloc[0]


def test_groups_as_seen(tables):
    seen = tables["observations"].query("scientificName == 'Sus scrofa'").copy()
    seen["count"] = seen["count"].astype(int)
    size = seen.groupby("eventID")["count"].sum()
    assert (size == 9).sum() >= 3 and (size == 14).sum() >= 3 and size.max() == 14
    nine = seen[seen["eventID"].isin(size[size == 9].index)].groupby(["lifeStage", "sex"])["count"].max()
    assert nine["adult", "female"] == 3 and nine["juvenile", ""] == 6
    assert ((seen["sex"] == "male") & (seen["count"] == 1)).sum() >= 4
    kinds = set(tables["observations"]["scientificName"])
    assert kinds == {"Sus scrofa", "Odocoileus virginianus", "Procyon lotor", ""}


def test_six_cameras_for_fifteen_nights_near_the_sign(ranch, tables, granted):
    assert len(tables["deployments"]) == 6
    for row in tables["deployments"].itertuples():
        stay = datetime.fromisoformat(row.deploymentEnd) - datetime.fromisoformat(row.deploymentStart)
        assert stay.days == 15
    places = ranch.points("cameras/deployments.csv", "longitude", "latitude")
    sign = ranch.points("sign.csv").query("date >= '2026-11-15'").union_all()
    assert places.within(granted).all()
    assert (places.distance(sign) < 200).sum() >= 5


def test_package_follows_the_profile(ranch, tables):
    package = json.loads((ranch.folder / "cameras/datapackage.json").read_text(encoding="utf-8"))
    for key in (
        "profile",
        "created",
        "contributors",
        "project",
        "spatial",
        "temporal",
        "taxonomic",
        "resources",
    ):
        assert package[key]
    assert package["profile"].endswith("camtrap-dp/1.0/camtrap-dp-profile.json")
    assert [r["name"] for r in package["resources"]] == list(KEYS)
    for resource in package["resources"]:
        assert resource["profile"] == "tabular-data-resource"
        assert resource["schema"].endswith(f"camtrap-dp/1.0/{resource['name']}-table-schema.json")
        assert (ranch.folder / "cameras" / resource["path"]).is_file()
    project = package["project"]
    assert project["samplingDesign"] == "targeted" and project["captureMethod"] == ["activityDetection"]
    assert {"title", "individualAnimals", "observationLevel"} <= set(project)
    assert {licence["scope"] for licence in package["licenses"]} == {"data", "media"}
    assert package["temporal"]["start"] == tables["deployments"]["deploymentStart"].min()[:10]
    assert {t["scientificName"] for t in package["taxonomic"]} == set(tables["observations"]["scientificName"]) - {""}


def test_generator_makes_the_shipped_tables(ranch):
    visits = cameras.events()
    made = {"media": cameras.media(visits), "observations": cameras.observations(visits)}
    for name, table in made.items():
        shipped = (ranch.folder / f"cameras/{name}.csv").read_bytes()
        assert table.to_csv(index=False, lineterminator="\n").encode() == shipped
    text = json.dumps(cameras.package(), indent=2) + "\n"
    assert text.encode() == (ranch.folder / "cameras/datapackage.json").read_bytes()
