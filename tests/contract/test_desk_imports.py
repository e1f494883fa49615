"""The window computes nothing: desk imports pipeline and model only, beside Qt, values and errors."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

DESK = Path(__file__).resolve().parents[2] / "src" / "boscage" / "desk"
ALLOWED = ("boscage.desk", "boscage.pipeline", "boscage.model", "boscage.values", "boscage.errors")
HEAVY = ("matplotlib", "numba", "rasterio", "fiona", "pyogrio", "geopandas", "pandas", "shapely", "scipy", "laspy")
CANARIES = {
    "a room below": "from boscage.siting.ranking import Peak",
    "readers in a function": "def f():\n    import boscage.readers.layers",
    "a library": "import numpy as np",
    "plug-ins": "from boscage import plugins",
}


def strangers(text: str) -> Iterator[str]:
    """Modules that a text of desk imports and must not, wherever the import stands."""
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            names = [a.name for a in node.names]
        elif isinstance(node, ast.ImportFrom):
            module = node.module or ""
            names = [f"boscage.{a.name}" for a in node.names] if module == "boscage" else [module]
            assert node.level == 0, "imports are absolute"
        else:
            continue
        for name in names:
            if not _is_allowed(name):
                yield name


def _is_allowed(name: str) -> bool:
    top = name.split(".", maxsplit=1)[0]
    if top == "boscage":
        return any(name == a or name.startswith(f"{a}.") for a in ALLOWED)
    return top == "PySide6" or top in sys.stdlib_module_names


@pytest.mark.parametrize("path", sorted(DESK.rglob("*.py")), ids=lambda p: p.name)
def test_desk_imports_pipeline_and_model_only(path: Path) -> None:
    assert list(strangers(path.read_text(encoding="utf-8"))) == []


@pytest.mark.parametrize("name", CANARIES)
def test_a_forbidden_import_is_caught(name: str) -> None:
    assert list(strangers(f"from __future__ import annotations\n{CANARIES[name]}\n"))


def loaded(code: str) -> set[str]:
    done = subprocess.run(
        [sys.executable, "-c", f"{code}\nimport sys; print(' '.join(sys.modules))"], capture_output=True, text=True,
        check=True,
    )  # fmt: skip
    return set(done.stdout.split())


def test_the_window_loads_nothing_heavy() -> None:
    pytest.importorskip("PySide6.QtWidgets", reason="the window needs PySide6", exc_type=ImportError)
    assert not loaded("import boscage.desk.app") & set(HEAVY)
    assert "shapely" in loaded("import boscage.desk.app, boscage.readers.layers"), "the check can fail"
