"""The wheel carries the whole sample ranch and nothing of its generator."""

from __future__ import annotations

import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
MOST_BYTES = 15_000_000


def test_every_file_of_the_sample_ranch_is_listed_for_the_wheel() -> None:
    table = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    listed = table["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"]
    names = {p.name for p in (ROOT / "sample_data").iterdir()} - {"generate", "__pycache__"}
    assert listed == {f"sample_data/{n}": f"boscage/sample_data/{n}" for n in names}


def test_the_sample_ranch_is_small() -> None:
    files = [p for p in (ROOT / "sample_data").rglob("*") if p.is_file() and "__pycache__" not in p.parts]
    assert sum(p.stat().st_size for p in files) < MOST_BYTES


def test_no_test_data_under_other_licences_enters_the_wheel() -> None:
    table = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    wheel = table["tool"]["hatch"]["build"]["targets"]["wheel"]
    assert wheel["packages"] == ["src/boscage"]
    assert not any("tests" in path for path in wheel["force-include"])
