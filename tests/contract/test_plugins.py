"""Plug-ins: built-in ones keep the rules, an outside one takes part, a broken or doubled one is named."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest
import tiny_ranch as tiny

from boscage.errors import PluginError
from boscage.plugins import FACTORS, READERS, list_plugins, load_plugin, load_readers
from boscage.testing import check_factor

MOON = """
import numpy as np
from boscage.model.factor import Factor, FactorOptions, Measure

class Moon(Factor):
    name = "moon"
    title = "Moon"
    unit = "share"
    needs = ("parcels",)

    def measure(self, scene, options):
        if "parcels" not in scene.vectors:
            nan = np.full(scene.grid.shape, np.nan, np.float32)
            return Measure(values=nan, figures={"lit": nan})
        half = np.full(scene.grid.shape, 0.5, np.float32)
        return Measure(values=half, figures={"lit": half})

    def sentence(self, figures, options, printer):
        known = figures["lit"] == figures["lit"]
        return f"The moon is {100 * figures['lit']:.0f} % lit." if known else "Moon not known."
"""


def install(folder: Path, module: str, code: str, points: str) -> None:
    """Lay a package in a folder on the path as an installer would: the module and its metadata."""
    (folder / f"{module}.py").write_text(textwrap.dedent(code), encoding="utf-8")
    info = folder / f"{module}-1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {module}\nVersion: 1.0\n", encoding="utf-8")
    (info / "entry_points.txt").write_text(textwrap.dedent(points), encoding="utf-8")


@pytest.fixture
def shelf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "shelf"
    folder.mkdir()
    monkeypatch.syspath_prepend(str(folder))
    return folder


@pytest.mark.parametrize("name", sorted(list_plugins(FACTORS)))
def test_built_in_factors_keep_the_rules(name: str) -> None:
    factor = load_plugin(FACTORS, name)
    assert factor.name == name
    check_factor(factor)


def test_the_check_sees_a_guess() -> None:
    cover = load_plugin(FACTORS, "cover")

    class Guess(type(cover)):
        def measure(self, scene, options):
            import numpy as np

            from boscage.model.factor import Measure

            zero = np.zeros(scene.grid.shape, np.float32)
            return Measure(values=zero, figures={"cover_pct": zero})

    with pytest.raises(AssertionError, match="not a guess"):
        check_factor(Guess())


def test_listing_imports_nothing() -> None:
    code = (
        "import sys; from boscage.plugins import list_plugins; names = list(list_plugins('boscage.factors')); "
        "assert 'cover' in names; print([m for m in sys.modules if m.startswith('boscage.factors')])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_readers_are_found() -> None:
    assert {reader.name for reader in load_readers()} >= {"vector", "table", "raster"}


def test_an_outside_factor_takes_part_without_a_change_to_the_program(shelf: Path, tmp_path: Path) -> None:
    from boscage.cli.main import main

    install(shelf, "moonlight", MOON, "[boscage.factors]\nmoon = moonlight:Moon\n")
    check_factor(load_plugin(FACTORS, "moon"))
    plan = tiny.build(tmp_path / "ranch", tiny.Variant())
    plan.write_text(plan.read_text(encoding="utf-8") + "\n[factors.moon]\nweight = 2\n", encoding="utf-8")
    assert main(["scout", str(plan), "--no-sheets"]) == 0
    told = json.loads((plan.parent / "out" / "scout.json").read_text(encoding="utf-8"))
    assert told["weights"]["moon"] == 2
    assert told["sites"][0]["factors"]["moon"] == 0.5
    assert told["sites"][0]["sentences"]["moon"] == "The moon is 50 % lit."


def test_a_name_claimed_twice_is_an_error(shelf: Path) -> None:
    install(shelf, "othercover", "class Cover: pass", "[boscage.factors]\ncover = othercover:Cover\n")
    with pytest.raises(PluginError, match="claimed by both") as caught:
        list_plugins(FACTORS)
    assert caught.value.plugin == "cover"


def test_a_broken_plugin_is_named_and_stops_only_the_run_that_asks_for_it(
    shelf: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    from boscage.cli.main import main

    install(shelf, "halfbaked", "import no_such_module", "[boscage.factors]\nhalf = halfbaked:Half\n")
    assert "half" in list_plugins(FACTORS)
    plan = tiny.build(tmp_path / "ranch", tiny.Variant())
    assert main(["scout", str(plan), "--no-sheets"]) == 1
    said = capfd.readouterr().err
    assert "halfbaked" in said
    assert "no_such_module" in said
    plan.write_text(plan.read_text(encoding="utf-8") + "\n[factors.half]\nweight = 0\n", encoding="utf-8")
    shutil.rmtree(plan.parent / "out", ignore_errors=True)
    assert main(["scout", str(plan), "--no-sheets"]) == 0


def test_an_unknown_plugin_lists_those_there_are() -> None:
    with pytest.raises(PluginError, match="table") as caught:
        load_plugin(READERS, "punchcards")
    assert caught.value.group == READERS
