"""Camera packages: checked row by row, people kept out, clocks doubted, written back."""

from __future__ import annotations

import csv
import datetime as dt
import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from boscage.errors import LayerError
from boscage.exports.camtrap import write_camera_package
from boscage.model.camtrap import DEPLOYMENTS, MEDIA, OBSERVATIONS, TABLES, check_cell
from boscage.model.groups import CameraData
from boscage.readers.camtrap import read_camera_packages

SAMPLE = Path(__file__).parents[3] / "sample_data" / "cameras"
MADE = dt.datetime(2026, 11, 21, 12, tzinfo=dt.UTC)


@pytest.fixture
def package(tmp_path: Path) -> Path:
    shutil.copytree(SAMPLE, tmp_path / "cameras")
    return tmp_path / "cameras"


def change(folder: Path, table: str, edit: Callable[[list[dict[str, str]]], None]) -> None:
    path = folder / f"{table}.csv"
    with path.open(newline="") as file:
        reader = csv.DictReader(file)
        rows, names = list(reader), list(reader.fieldnames or [])
    edit(rows)
    with path.open("w", newline="") as file:
        writer = csv.DictWriter(file, names)
        writer.writeheader()
        writer.writerows(rows)


def put(folder: Path, table: str, row: int, **cells: str) -> None:
    change(folder, table, lambda rows: rows[row - 1].update(cells))


def describe(folder: Path, **keys: object) -> None:
    path = folder / "datapackage.json"
    path.write_text(json.dumps(json.loads(path.read_text()) | keys))


def test_the_sample_package_breaks_nothing() -> None:
    """Six cameras, 158 rows of observations of which one is a person, 216 photographs of which one shows a person."""
    found = read_camera_packages([SAMPLE])
    assert (len(found.deployments), len(found.sightings), len(found.media)) == (6, 157, 215)
    assert (found.bad, found.doubts, found.people) == ((), (), 1)
    assert (found.packages, found.version) == (("dunnock-hollow-cameras",), "1.0.2")
    first = found.deployments["UC-C1"]
    assert (first.lon, first.lat, first.bait, first.nights) == (-92.695433, 36.209811, True, 15.0)
    assert first.start.utcoffset() == dt.timedelta(hours=-6)
    assert {s.animal_class for s in found.sightings if s.kind == "animal"} == {
        "adult female", "adult male", "adult", "subadult", "juvenile", "unknown",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("table", "row", "cells", "said"),
    [
        ("observations", 3, {"count": "0"}, "count is 0; expected 1 or more"),
        ("observations", 1, {"count": "2.5"}, "count is 2.5; expected a whole number"),
        ("observations", 4, {"lifeStage": "piglet"}, "lifeStage is piglet; expected one of adult, subadult, juvenile"),
        ("observations", 4, {"sex": "sow"}, "sex is sow; expected one of female, male"),
        ("observations", 5, {"eventStart": "2026-11-06T04:05:51"}, "without a time zone"),
        ("observations", 5, {"eventStart": "2026-13-06T04:05:51Z"}, "no day or time of day"),
        ("observations", 5, {"eventEnd": "2026-01-01T04:05:51Z"}, "eventEnd is before eventStart"),
        ("observations", 2, {"observationID": "UC-C1-E001-0001"}, "stands twice"),
        ("observations", 2, {"deploymentID": "UC-C9"}, "none of the deployments"),
        ("observations", 2, {"mediaID": "nowhere"}, "none of the photographs"),
        ("observations", 2, {"observationLevel": ""}, "observationLevel is missing; expected a value"),
        ("media", 7, {"filePath": "../private/IMG.JPG"}, "the standard's pattern"),
        ("media", 7, {"filePath": "~/IMG.JPG"}, "the standard's pattern"),
        ("media", 7, {"filePublic": "maybe"}, "filePublic is maybe; expected true or false"),
        ("deployments", 6, {"latitude": "3612.5"}, "latitude is 3612.5; expected -90 to 90"),
        ("deployments", 6, {"coordinateUncertainty": "0"}, "coordinateUncertainty is 0; expected 1 or more"),
        ("deployments", 6, {"featureType": "wallow"}, "featureType is wallow"),
    ],
)
def test_a_bad_row_is_left_out_and_listed(
    package: Path, table: str, row: int, cells: dict[str, str], said: str
) -> None:
    put(package, table, row, **cells)
    found = read_camera_packages([package])
    assert (found.bad[0].table, found.bad[0].row) == (table, row)
    assert said in found.bad[0].text
    assert any("rows that break the standard" in d for d in found.doubts)
    if table != "deployments":
        assert len(found.bad) == 1 and len(found.sightings) + len(found.media) == 157 + 215 - 1
    else:
        lost = [b for b in found.bad[1:] if "none of the deployments" in b.text]
        assert "BC-C1" not in found.deployments and len(lost) == len(found.bad) - 1 > 0


def test_a_row_with_too_many_cells_is_listed(package: Path) -> None:
    path = package / "observations.csv"
    lines = path.read_text().splitlines()
    lines[4] += ",more"
    path.write_text("\n".join(lines) + "\n")
    (bad,) = read_camera_packages([package]).bad
    assert (bad.row, bad.text) == (4, "has more cells than there are columns")


def test_a_camera_without_an_end_is_still_out(package: Path) -> None:
    put(package, "deployments", 1, deploymentEnd="")
    found = read_camera_packages([package])
    camera = found.deployments["UC-C1"]
    last = max(s.end for s in found.sightings if s.deployment == "UC-C1")
    assert camera.end_is_assumed and camera.end == last and found.bad == ()
    assert 13.0 < camera.nights < 15.0
    assert "UC-C1 has no end; the camera is taken as still out" in found.doubts[0]


def shift(rows: list[dict[str, str]], deployment: str, hours: int) -> None:
    for row in rows:
        if row["deploymentID"] == deployment:
            for name in ("eventStart", "eventEnd"):
                row[name] = (dt.datetime.fromisoformat(row[name]) + dt.timedelta(hours=hours)).isoformat()


def test_a_time_zone_slip_is_doubted_and_the_way_back_named(package: Path) -> None:
    """A camera put up at 03:30 whose events are stamped 6 hours early: the first of them lies before it was out."""
    put(package, "deployments", 1, deploymentStart="2026-11-06T03:30:00-06:00")
    change(package, "observations", lambda rows: shift(rows, "UC-C1", -6))
    found = read_camera_packages([package])
    assert found.deployments["UC-C1"].clock_is_doubtful
    assert "if moved by +6 h: a time zone or AM/PM slip?" in found.doubts[0] and found.bad == ()
    assert not found.deployments["UC-C2"].clock_is_doubtful


def test_another_zone_than_the_start_is_doubted_and_summer_time_is_not(package: Path) -> None:
    def relabel(hours: int) -> Callable[[list[dict[str, str]]], None]:
        zone = dt.timezone(dt.timedelta(hours=hours))

        def edit(rows: list[dict[str, str]]) -> None:
            for row in rows:
                for name in ("eventStart", "eventEnd"):
                    row[name] = dt.datetime.fromisoformat(row[name]).astimezone(zone).isoformat()

        return edit

    change(package, "observations", relabel(-5))
    assert read_camera_packages([package]).doubts == ()
    change(package, "observations", relabel(0))
    found = read_camera_packages([package])
    assert all("carry another time zone than its start" in d for d in found.doubts) and len(found.doubts) == 6


def test_people_are_in_no_output(package: Path, tmp_path: Path) -> None:
    """The person on the trail at UC-C2, and the photograph taken meanwhile even where it is marked as public."""
    with (package / "media.csv").open(newline="") as file:
        (person,) = [r for r in csv.DictReader(file) if r["filePublic"] == "false"]
    change(package, "media", lambda rows: [r.update(filePublic="true") for r in rows])
    change(package, "observations", lambda rows: rows[-1].update(classifiedBy="op 1"))
    found = read_camera_packages([package])
    assert person["mediaID"] not in {m["mediaID"] for m in found.media} and len(found.media) == 215
    assert all(s.kind not in ("human", "vehicle") for s in found.sightings)
    write_camera_package(found, tmp_path / "out", name="out", created=MADE, title="Cameras")
    written = "".join(p.read_text() for p in (tmp_path / "out").iterdir())
    assert person["fileName"] != "" and person["mediaID"] not in written and person["filePath"] not in written
    assert ",human,," not in written and "UC-C2-E900" not in written


def person_of(folder: Path) -> dict[str, str]:
    with (folder / "media.csv").open(newline="") as file:
        (person,) = [r for r in csv.DictReader(file) if r["filePublic"] == "false"]
    change(folder, "media", lambda rows: [r.update(filePublic="true") for r in rows])
    return person


@pytest.mark.parametrize(
    ("cells", "left"),
    [
        ({"count": "many"}, 215),
        ({"observationType": "somebody"}, 215),
        ({"observationType": "animal"}, 216),
        ({"eventStart": "noon"}, 0),
    ],
)
def test_a_broken_row_of_a_person_hides_the_photograph_too(package: Path, cells: dict[str, str], left: int) -> None:
    """Where the time cannot be read either, all photographs of that camera stay out."""
    person = person_of(package)
    change(package, "observations", lambda rows: rows[-1].update(cells))
    found = read_camera_packages([package])
    of_camera = sum(m["deploymentID"] == "UC-C2" for m in found.media)
    assert len(found.media) == (left if "eventStart" not in cells else 216 - of_camera_in(package))
    assert (of_camera == 0) == ("eventStart" in cells)
    if left < 216:
        assert person["mediaID"] not in {m["mediaID"] for m in found.media}


def of_camera_in(folder: Path) -> int:
    with (folder / "media.csv").open(newline="") as file:
        return sum(r["deploymentID"] == "UC-C2" for r in csv.DictReader(file))


def test_a_photograph_named_by_a_row_of_a_person_is_hidden_whatever_its_time(package: Path, tmp_path: Path) -> None:
    person_of(package)
    with (package / "media.csv").open(newline="") as file:
        other = next(r["mediaID"] for r in csv.DictReader(file) if r["deploymentID"] == "UC-C2")
    change(package, "observations", lambda rows: rows[-1].update(mediaID=other, observationLevel="media"))
    change(package, "observations", lambda rows: rows[0].update(mediaID=other))
    found = read_camera_packages([package])
    assert other not in {m["mediaID"] for m in found.media} and found.sightings[0].media == other
    write_camera_package(found, tmp_path / "out", name="out", created=MADE, title="Cameras")
    again = read_camera_packages([tmp_path / "out"])
    assert again.bad == () and again.sightings[0].media == ""
    assert other not in (tmp_path / "out" / "observations.csv").read_text()


def test_photographs_that_are_not_public_are_left_out(package: Path) -> None:
    change(package, "media", lambda rows: rows[10].update(filePublic="false"))
    assert len(read_camera_packages([package]).media) == 214


def test_two_packages_with_one_id_are_refused(package: Path, tmp_path: Path) -> None:
    second = tmp_path / "second"
    shutil.copytree(package, second)
    with pytest.raises(
        LayerError, match=r"second, layer cameras: the package has the id dunnock-hollow-cameras, as has"
    ):
        read_camera_packages([package, second])
    describe(second, name="other")
    with pytest.raises(LayerError, match="the deployment UC-C1 is in another package too"):
        read_camera_packages([package, second])
    for table in ("deployments", "media", "observations"):
        change(second, table, lambda rows: [r.update(deploymentID="B-" + r["deploymentID"]) for r in rows])
    both = read_camera_packages([package, second])
    assert both.packages == ("dunnock-hollow-cameras", "other") and len(both.deployments) == 12
    describe(package, id="the same")
    describe(second, id="the same")
    with pytest.raises(LayerError, match="the package has the id the same"):
        read_camera_packages([package, second])


def test_what_is_written_back_validates_and_says_the_same(tmp_path: Path) -> None:
    first = read_camera_packages([SAMPLE])
    write_camera_package(first, tmp_path / "out", name="again", created=MADE, title="Cameras")
    second = read_camera_packages([tmp_path / "out"])
    assert (second.bad, second.doubts, second.people) == ((), (), 0)
    assert plain(second) == plain(first)
    once = {p.name: p.read_bytes() for p in (tmp_path / "out").iterdir()}
    write_camera_package(first, tmp_path / "out", name="again", created=MADE, title="Cameras")
    assert once == {p.name: p.read_bytes() for p in (tmp_path / "out").iterdir()}
    assert sorted(once) == ["datapackage.json", "deployments.csv", "media.csv", "observations.csv"]
    with (tmp_path / "out" / "observations.csv").open(newline="") as file:
        for row in csv.DictReader(file):
            assert not any(check_cell(row[n], c) for n, c in OBSERVATIONS.items())


def plain(data: CameraData) -> list[tuple[object, ...]]:
    out: list[tuple[object, ...]] = [
        (d.deployment, d.location, d.lon, d.lat, d.start, d.end, d.bait) for d in data.deployments.values()
    ]
    out += [(s.sighting, s.event, s.start, s.end, s.species, s.count, s.life_stage, s.sex) for s in data.sightings]
    return out + [tuple(m[n] for n in MEDIA) for m in data.media]


def test_a_camera_still_out_is_written_with_an_end_and_a_word(package: Path, tmp_path: Path) -> None:
    put(package, "deployments", 1, deploymentEnd="")
    found = read_camera_packages([package])
    write_camera_package(found, tmp_path / "out", name="out", created=MADE, title="Cameras")
    with (tmp_path / "out" / "deployments.csv").open(newline="") as file:
        row = next(csv.DictReader(file))
    assert row["deploymentEnd"] and "still out" in row["deploymentComments"]
    assert not any(check_cell(row[n], c) for n, c in DEPLOYMENTS.items())
    assert not read_camera_packages([tmp_path / "out"]).deployments["UC-C1"].end_is_assumed
    with pytest.raises(LayerError, match="there is no deployment to write"):
        nothing = CameraData(packages=(), version="1.0.2", deployments={}, sightings=())
        write_camera_package(nothing, tmp_path / "none", name="x", created=MADE, title="x")


def drop_column(folder: Path) -> None:
    path = folder / "deployments.csv"
    path.write_text(path.read_text().replace("latitude", "lat", 1))


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda f: (f / "datapackage.json").unlink(), "there is no datapackage.json"),
        (lambda f: (f / "datapackage.json").write_text("{"), "is no JSON"),
        (
            lambda f: describe(f, profile="https://x/camtrap-dp/0.1.6/p.json"),
            "follows the profile 0.1.6; expected Camtrap",
        ),
        (lambda f: describe(f, profile=None), "follows the profile None"),
        (lambda f: describe(f, resources=[]), "the table deployments is not named"),
        (
            lambda f: describe(f, resources=[{"name": "deployments", "path": "../x.csv"}]),
            "expected a file in the package",
        ),
        (lambda f: (f / "media.csv").unlink(), "media.csv, layer cameras: the file cannot be read"),
        (lambda f: (f / "media.csv").write_text(""), "the file is empty"),
        (lambda f: (f / "media.csv").write_bytes(b"\xff\xfe\x00"), "no UTF-8"),
        (drop_column, "there is no column latitude"),
    ],
)
def test_packages_refused(package: Path, spoil: Callable[[Path], object], said: str) -> None:
    spoil(package)
    with pytest.raises(LayerError, match=said):
        read_camera_packages([package])


def test_columns_of_the_standard() -> None:
    """Names in the order of Camtrap DP 1.0 as in the dataclasses of PyPI camtrapdp 0.1.0 (favorite, behavior: 1.0)."""
    assert list(MEDIA) == [
        "mediaID", "deploymentID", "captureMethod", "timestamp", "filePath", "filePublic", "fileName", "fileMediatype",
        "exifData", "favorite", "mediaComments",
    ]  # fmt: skip
    assert list(DEPLOYMENTS)[6:9] == ["deploymentStart", "deploymentEnd", "setupBy"] and len(DEPLOYMENTS) == 24
    assert list(OBSERVATIONS)[:8] == [
        "observationID", "deploymentID", "mediaID", "eventID", "eventStart", "eventEnd", "observationLevel",
        "observationType",
    ] and len(OBSERVATIONS) == 28  # fmt: skip
    needed = {t: [n for n, c in columns.items() if c.required] for t, columns in TABLES.items()}
    assert needed["deployments"] == ["deploymentID", "latitude", "longitude", "deploymentStart", "deploymentEnd"]
    assert needed["media"] == ["mediaID", "deploymentID", "timestamp", "filePath", "filePublic", "fileMediatype"]
    assert len(needed["observations"]) == 6
