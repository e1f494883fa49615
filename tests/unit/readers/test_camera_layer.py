"""The camera layer: packages in a folder, places in the ranch's CRS, what is said of it; and the kept rankings."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from boscage.errors import LayerError
from boscage.exports.last_run import keep_ranking
from boscage.readers.last_run import read_rankings

SAMPLE = Path(__file__).parents[3] / "sample_data" / "cameras"


@pytest.fixture
def cameras(folder) -> Path:
    """The sample's package in a folder of packages; the test ranch is put round it."""
    shutil.copytree(SAMPLE, folder.path / "cameras" / "first")
    folder.layers["cameras"] = '"cameras"'
    return folder.path / "cameras"


def moved(path: Path, lat: float, lon: float) -> None:
    """All cameras at one place."""
    lines = (path / "deployments.csv").read_text().splitlines()
    names = lines[0].split(",")
    rows = []
    for line in lines[1:]:
        cells = line.split(",")
        cells[names.index("latitude")], cells[names.index("longitude")] = f"{lat}", f"{lon}"
        rows.append(",".join(cells))
    (path / "deployments.csv").write_text("\n".join([lines[0], *rows]) + "\n")


def report(found):
    return next(r for r in found.reports if r.name == "cameras")


def test_cameras_far_from_the_ranch_are_said_and_not_used(folder, cameras: Path) -> None:
    moved(cameras / "first", 10.0, 10.0)
    found = folder.read()
    assert report(found).state == "missing" and "no camera stands at the ranch" in report(found).doubts[-1]
    assert found.cameras is None and found.camera_places == {}


def test_two_packages_with_one_id_are_refused_by_the_path_as_written(folder, cameras: Path) -> None:
    shutil.copytree(cameras / "first", cameras / "second")
    with pytest.raises(LayerError, match=r"^cameras/second, layer cameras: the package has the id") as caught:
        folder.read()
    assert str(folder.path) not in str(caught.value)


def test_a_folder_without_a_package_is_refused(folder, cameras: Path) -> None:
    shutil.rmtree(cameras / "first")
    with pytest.raises(LayerError, match=r"cameras, layer cameras: there is no datapackage\.json"):
        folder.read()


def test_bad_rows_are_listed_in_the_report_and_people_counted(folder, cameras: Path) -> None:
    path = cameras / "first" / "observations.csv"
    text = path.read_text().splitlines()
    names = text[0].split(",")
    cells = text[1].split(",")
    cells[names.index("count")] = "many"
    path.write_text("\n".join([text[0], ",".join(cells), *text[2:]]) + "\n")
    found = report(folder.read())
    assert "observations row 1, count" in " ".join(found.doubts)
    assert "1 row of people or vehicles is left out" in found.read


def test_rankings_that_are_broken_or_not_ours_are_as_good_as_none(tmp_path: Path) -> None:
    assert read_rankings(tmp_path) == (None, None)
    row = {"site": "S-01", "rank": 1, "x_m": 0.0, "y_m": 0.0, "score": 9.0, "points": {}, "titles": {}}
    keep_ranking(tmp_path, {"before": None, "now": [row]})
    assert read_rankings(tmp_path) == (None, None), "nothing is kept where the state folder is not there"
    (tmp_path / ".boscage").mkdir()
    keep_ranking(tmp_path, {"before": None, "now": [row]})
    assert read_rankings(tmp_path) == (None, [row])
    for text in ("{", "[]", json.dumps({"now": [{"site": "S-01"}]}), json.dumps({"now": 3})):
        (tmp_path / ".boscage" / "ranking.json").write_text(text)
        assert read_rankings(tmp_path) == (None, None)
