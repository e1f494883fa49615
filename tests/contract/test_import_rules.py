"""The one direction of imports holds, and each rule is seen to break when a forbidden import is put in."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]

# contract: file that gets a forbidden line, the line, words that the report must hold
CANARIES = {
    "floors": ("siting/land.py", "import boscage.factors.cover", "boscage.siting.land -> boscage.factors.cover"),
    "floors-up": ("model/scene.py", "import boscage.pipeline.scout", "boscage.model.scene -> boscage.pipeline.scout"),
    "floors-list": ("attic/__init__.py", "", "boscage.attic"),
    "numba": ("factors/cover.py", "import numba", "boscage.factors.cover -> numba"),
    "matplotlib": ("pipeline/scout.py", "import matplotlib", "boscage.pipeline.scout -> matplotlib"),
    "click": ("pipeline/scout.py", "import click", "boscage.pipeline.scout -> click"),
    "drivers": ("siting/stops.py", "import rasterio", "boscage.siting.stops -> rasterio"),
    "qt": ("sheets/style.py", "import PySide6", "boscage.sheets.style -> PySide6"),
}


def lint(folder: Path) -> subprocess.CompletedProcess[str]:
    code = "import sys; from importlinter.cli import lint_imports; sys.exit(lint_imports(no_cache=True))"
    env = {**os.environ, "PYTHONPATH": str(folder / "src"), "PYTHONWARNINGS": ""}
    return subprocess.run(
        [sys.executable, "-c", code], cwd=folder, env=env, capture_output=True, text=True, check=False
    )


@pytest.fixture
def house(tmp_path: Path) -> Path:
    shutil.copytree(ROOT / "src", tmp_path / "src", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    return tmp_path


def test_the_house_keeps_its_rules(house: Path) -> None:
    done = lint(house)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 broken" in done.stdout


@pytest.mark.parametrize("name", CANARIES)
def test_a_forbidden_import_is_caught(house: Path, name: str) -> None:
    where, line, words = CANARIES[name]
    path = house / "src" / "boscage" / where
    path.parent.mkdir(exist_ok=True)
    path.write_text((path.read_text(encoding="utf-8") if path.exists() else "") + "\n" + line + "\n", encoding="utf-8")
    done = lint(house)
    assert done.returncode == 1, done.stdout + done.stderr
    assert words in done.stdout
