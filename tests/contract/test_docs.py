"""The docs say what the program does: generated pages, commands, links, outputs, examples that run."""

from __future__ import annotations

import datetime as dt
import doctest
import importlib
import importlib.util
import json
import os
import pkgutil
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pyogrio
import pytest
import tiny_ranch as tiny

import boscage
from boscage.cli.main import COMMANDS, main
from boscage.evidence import surface
from boscage.factors import timber
from boscage.kernels import crowns
from boscage.model import rig, rig_plan, trees
from boscage.model.factor import Factor, Measure
from boscage.model.options import option, read_options
from boscage.model.plan import plan_from_table
from boscage.model.scene import Scene, Surface
from boscage.pipeline import ranking as pipeline_ranking
from boscage.pipeline import rig as pipeline_rig
from boscage.pipeline import scene
from boscage.readers import canopy_model, crs, point_cloud, surfaces, tree_map
from boscage.rigging.anchors import SECTOR_DEG, STEEPEST_DEG, STEP_DEG
from boscage.siting import land, ranking, sites, stops
from boscage.values import Grid, Printer

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs"
PAGES = sorted([*ROOT.glob("*.md"), *DOCS.rglob("*.md")])
PATHS_OF_A_MACHINE = re.compile(r"(?<![\w.])/(home|tmp|work|opt|root|Users|mnt)/|[A-Z]:\\")
FINDINGS = re.compile(r"\b(safe|clear)\b", re.IGNORECASE)
WORDS_OF_DATA = (
    "factors", "points", "sentences", "stops", "stops_not_applied", "weights", "clock", "hours_by_task", "nontargets",
    "fates",
)  # fmt: skip


def load(path: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def text_of(path: Path) -> str:
    return path.read_text(encoding="utf-8")


LOG = """date,site,event,boar,sow,yearling,piglet,group,hours,note
2026-11-10,T-01,prebait,,,,,,2.0,
2026-11-17,T-01,open,,,,,,1.5,
2026-11-19,T-01,armed,,,,,,1.5,
2026-11-19,T-01,capture,0,1,0,3,T group of 4,3.0,
2026-11-20,T-01,open,,,,,,1.0,
2026-11-21,T-01,armed,,,,,,1.0,
"""
# canopy of 8 % is 1.6 m high there
DROP = """
[gap]
open_height = "2m"
reach = "400m"

[drop]
base = [-92.72, 36.18]
temperature_c = 20.0
altimeter_hpa = 1015.0
air_speed_kt = 60.0
wind_deg = 200.0
wind_kt = 10.0
landing_reach = "600m"
"""


@pytest.fixture(scope="module")
def maker() -> ModuleType:
    return load(DOCS / "make_plan_reference.py")


@pytest.fixture(scope="module")
def outputs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Everything that every command writes: a ranch of one site, and the sample stem list."""
    plan = tiny.build(tmp_path_factory.mktemp("ranch"), tiny.Variant())
    text = re.sub(r"count = \d+", "count = 1", text_of(plan))
    (plan.parent / "log.csv").write_text(LOG, encoding="utf-8")
    text = text.replace("[layers]\n", '[layers]\nlog = "log.csv"\n') + DROP
    plan.write_text(text, encoding="utf-8")
    assert main(["check", str(plan)]) == 0
    assert main(["scout", str(plan)]) == 0
    out = plan.parent / "out"
    stems = str(ROOT / "sample_data" / "stems_creek.csv")
    assert main(["rig", "--stems", stems, "--perimeter", "60ft", "--out", str(out)]) == 0
    assert main(["pack", str(plan)]) == 0
    assert main(["drop", str(plan)]) == 0
    assert main(["share", str(plan)]) == 0 == main(["share", str(plan), "--masked"])
    assert main(["report", str(plan)]) == 0
    return out


def test_the_plan_reference_is_in_step(maker: ModuleType) -> None:
    assert text_of(DOCS / "plan.md") == maker.render(), "run docs/make_plan_reference.py"


def test_the_defaults_in_the_methods_are_in_step(maker: ModuleType) -> None:
    text = text_of(DOCS / "methods.md")
    assert text == maker.fill_defaults(text), "run docs/make_plan_reference.py"


def test_the_constants_in_the_methods_are_those_of_the_code() -> None:
    page = " ".join(text_of(DOCS / "methods.md").split())
    feet = round(sites.POWER_LINE_FLAG_M / 0.3048)
    for words in (
        f"margin of {scene.GRID_MARGIN_M:g} m round the parcels. At most {scene.MOST_CELLS // 1_000_000} million cells",
        f"Gaps of up to {2 * land.SLIVER_M:g} m between",
        f"nearer to it than {stops.TREE_HEIGHTS_TO_A_LINE:g} x the tallest canopy there",
        f"`canopy_height` cells that are {surfaces.CANOPY_M:g} m or higher, if at least half of them",
        f"Hills are cut at {surface.CUTOFF:g} *h*",
        f"no better cell within {ranking.PEAK_RADIUS_M:g} m to the east",
        f"is {sites.TREES_FROM_PCT:g} % or more, `hybrid` from {sites.HYBRID_FROM_PCT:g} %",
        f"A power line within {feet} ft",
        f"lengths may be off by at most {100 * crs.MOST_SCALE_ERROR:g} %",
    ):
        assert words in page, words
    assert surfaces.LEAST_VALID == 0.5


def test_the_constants_in_rigging_are_those_of_the_code() -> None:
    page = " ".join(text_of(DOCS / "rigging.md").split())
    close, combined, pines = (trees.WINDOWS[name] for name in ("close", "combined", "pines"))
    a, b, s = trees.DIAMETERS["any"]
    options = rig_plan.RiggingOptions()
    for words in (
        f"`combined` {combined[0]} + {combined[2]} h²",
        f"`pines` {pines[0]} - {-pines[1]} h + {pines[2]} h²",
        f"`close` {close[0]} + {close[1]} h",
        f"in squares of {tree_map.SQUARE_M:g} m where `close` gives over {trees.CROWDED_PER_HA:,.0f} tops a hectare",
        f"Least height {trees.TreeOptions().least_height_m:g} m",
        f"each up to {crowns.LONGEST_RAY_M:g} m, to where the canopy falls to {crowns.RAY_SHARE:g} of the height or "
        f"rises again by {crowns.RAY_RISE_M:g} m",
        f"D = {a} (H C)^{b} exp({s}^2 / 2)",
        f"Use cells of {tree_map.FINEST_M:g} to {tree_map.COARSEST_M:g} m",
        f"Cells are {point_cloud.CELL_M:g} m, or {point_cloud.FINE_CELL_M:g} m where there are "
        f"{point_cloud.FINE_PER_M2:g} returns or more on a square metre; under {point_cloud.LEAST_PER_M2:g} a square "
        "metre",
        f"roundness - {rig.BUILT_COST} built supports",
        f"stand within {pipeline_rig.AROUND_M:g} m of the site's middle",
        f"a sapling within {options.sapling_reach.m:g} m of its place",
        f"within {SECTOR_DEG:g} degrees of straight outward, seen from above, is at most "
        f"{options.guy_reach.m:g} m long and {STEEPEST_DEG:g} degrees steep",
        f"straightest in steps of {STEP_DEG:g} degrees",
        f"made fast {options.rope_up.m:g} m up",
        f"T = {options.pretension_n:g} N",
        f"P = {options.push_n:g} N",
        f"EA = {options.stiffness_n:,.0f} N",
        f"{options.draws} lists are drawn with the errors of tape and compass ({options.bearing_error_deg:g} degree, "
        f"{100 * options.distance_error:g} %) or of a map from above ({options.mapped_error.m:g} m)",
        f"best ring within {pipeline_ranking.SETTLE_M:g} m [C] that lies on ground",
        f"`walk` ({timber.TimberOptions().walk.m:g} m [C])",
    ):
        assert words in page, words
    assert canopy_model.NOT_CANOPY == (6, 9, 13, 14, 15, 16, 17)  # ASPRS LAS 1.4: building, water, wires, towers, deck


def test_a_changed_default_would_be_noticed(maker: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    page = maker.render()
    rows = maker.describe_plan()
    rows["sites"] = [r for r in rows["sites"] if r.key != "sites.count"]
    monkeypatch.setattr(maker, "describe_plan", lambda: rows)
    assert maker.render() != page


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_is_in_the_docs(command: str) -> None:
    words = f"boscage {command}"
    assert words in text_of(ROOT / "README.md")
    assert any(words in text_of(page) for page in DOCS.glob("*.md"))


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_every_link_and_picture_is_there(page: Path) -> None:
    for target in re.findall(r"\]\(([^)\s]+)\)", text_of(page)):
        if target.startswith(("http://", "https://")):
            continue
        name, _, anchor = target.partition("#")
        there = page if not name else (page.parent / name).resolve()
        assert there.exists(), f"{page.name}: {target}"
        if anchor and there.suffix == ".md":
            assert anchor in anchors(there), f"{page.name}: {target}"


def anchors(page: Path) -> set[str]:
    """Anchors of a page's headings, as the common renderers make them."""
    heads = re.findall(r"^#+ (.+)$", text_of(page), flags=re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", head.lower()).replace(" ", "-") for head in heads}


def test_pictures_are_small() -> None:
    pictures = sorted((DOCS / "images").glob("*"))
    assert len(pictures) >= 4
    assert all(p.stat().st_size < 250_000 for p in pictures)


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_no_path_of_a_machine(page: Path) -> None:
    assert not PATHS_OF_A_MACHINE.search(text_of(page))


def test_a_path_of_a_machine_would_be_noticed() -> None:
    assert PATHS_OF_A_MACHINE.search("see /home/somebody/ranch")
    assert not PATHS_OF_A_MACHINE.search("see docs/home/ and out/")


def test_the_sheets_never_call_ground_safe_or_clear() -> None:
    for path in sorted((ROOT / "src" / "boscage" / "sheets").glob("*.py")):
        for text in re.findall(r'"([^"\n]*)"', re.sub(r'""".*?"""', "", text_of(path), flags=re.DOTALL)):
            assert not FINDINGS.search(text), f"{path.name}: {text}"


def test_a_finding_would_be_noticed() -> None:
    assert FINDINGS.search("This ground is Safe.")
    assert not FINDINGS.search("clearing, safety")


def test_ci_runs_the_commands_of_the_readme() -> None:
    script = text_of(ROOT / ".ci" / "run")
    command = next(line for line in text_of(ROOT / "README.md").splitlines() if line.endswith("-m pytest"))
    *steps, last = command.split(" && ")
    assert " && ".join(steps) in script.splitlines()
    assert last in script.splitlines()
    assert os.access(ROOT / ".ci" / "run", os.X_OK)


def test_every_file_written_is_in_the_docs(outputs: Path) -> None:
    page = text_of(DOCS / "outputs.md")
    head = page.split("## check.json")[0]
    rows = re.findall(r"^\| ((?:`[\w.]+/?`(?:, )?)+) \|", head, flags=re.MULTILINE)
    told = {name for row in rows for name in re.findall(r"`([\w.]+/?)`", row)}
    written = {p.name + ("/" if p.is_dir() else "") for p in outputs.iterdir()}
    assert told == written


def keys_of(value: object) -> Iterator[str]:
    """Every key of a JSON document that is a word of the program, not of the data."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield key
            if key not in WORDS_OF_DATA:
                yield from keys_of(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from keys_of(inner)


@pytest.mark.parametrize("name", ["check.json", "scout.json", "rig.json", "pack.json", "drop.json", "report.json"])
def test_every_key_written_is_in_the_docs(outputs: Path, name: str) -> None:
    page = DOCS / ("report.md" if name == "report.json" else "outputs.md")
    part = re.split(r"^## (?:Keys of )?", text_of(page), flags=re.MULTILINE)
    section = next(p for p in part if p.startswith(name))
    missing = [key for key in keys_of(json.loads(text_of(outputs / name))) if f"`{key}`" not in section]
    assert not missing


def test_every_column_written_is_in_the_docs(outputs: Path) -> None:
    page = text_of(DOCS / "outputs.md")
    factors = json.loads(text_of(outputs / "scout.json"))["weights"]
    columns = text_of(outputs / "sites.csv").splitlines()[0].split(",")
    for layer in ("sites", "stops"):
        columns += list(pyogrio.read_info(outputs / "sites.gpkg", layer=layer)["fields"])
    assert not [c for c in columns if c not in factors and f"`{c}`" not in page]


def test_every_layer_and_column_of_the_rig_is_in_the_docs(outputs: Path) -> None:
    section = text_of(DOCS / "outputs.md").split("## rig.gpkg")[1].split("\n## ")[0]
    rows = dict(re.findall(r"^\| `(\w+)` \| [^|]+ \| ([^|]+) \|$", section, flags=re.MULTILINE))
    assert set(rows) == {name for name, _ in pyogrio.list_layers(outputs / "rig.gpkg")}
    for layer, told in rows.items():
        written = list(pyogrio.read_info(outputs / "rig.gpkg", layer=layer)["fields"])
        assert re.findall(r"`(\w+)`", told) == written, layer


def test_the_options_of_rig_are_in_the_docs() -> None:
    from boscage.cli.rig import command

    pages = text_of(DOCS / "rigging.md") + text_of(DOCS / "guide.md")
    asked = {"--stems", "--perimeter", "--declination", "--min-dbh", "--contacts", "--reach", "--spacing", "--posts"}
    assert asked <= {name for option in command.params for name in option.opts}
    assert not [name for name in asked if name not in pages]


def modules() -> list[str]:
    found = pkgutil.walk_packages(boscage.__path__, "boscage.")
    return [m.name for m in found if not m.name.endswith("__main__") and "sample_data" not in m.name]


@pytest.mark.parametrize("name", modules())
def test_examples_in_docstrings_run(name: str) -> None:
    assert doctest.testmod(importlib.import_module(name)).failed == 0


def block(page: Path, start: str) -> str:
    """The code block of a page that starts with some words."""
    blocks = re.findall(r"^```python\n(.*?)^```", text_of(page), flags=re.MULTILINE | re.DOTALL)
    return next(b for b in blocks if b.startswith(start))


def hill_scene() -> Scene:
    """A scene of 60 x 60 cells of 10 m: a hollow that rises 0.1 m a metre to the east of column 20, flat west of it."""
    table = {"ranch": {"name": "R"}, "layers": {"parcels": "p", "canopy_cover": "c"}}
    plan = plan_from_table(table, file="plan.toml", folder=".", today=dt.date(2026, 11, 21))
    grid = Grid("EPSG:32615", 0.0, 600.0, 10.0, 60, 60)
    z = np.maximum(np.arange(60) - 20.0, 0.0)[None, :].repeat(60, axis=0).astype(np.float32)
    yes = np.ones(grid.shape, dtype=bool)
    return Scene(
        plan=plan, grid=grid, date=plan.date, surfaces={"elevation": Surface(values=z, note="made up")}, vectors={},
        granted=yes, ranch=yes, digests={},
    )  # fmt: skip


def measured(factor: Factor, **table: object) -> tuple[Measure, Any]:
    options = read_options(factor.Options, table, file="plan.toml", key=f"factors.{factor.name}")
    return factor.measure(hill_scene(), options), options


def test_the_worked_example_of_a_factor_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    code = block(ROOT / "DEVELOPERS.md", '"""Bottom:')
    (tmp_path / "bottom_example.py").write_text(code, encoding="utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    factor = importlib.import_module("bottom_example").Bottom()
    measure, options = measured(factor, around="100m")
    assert measure.values[30, 5] == 1.0
    assert measure.figures["over_m"][30, 45] == pytest.approx(10.0)  # 100 m up a slope of 0.1, closed form
    assert "33 ft over" in factor.sentence({"over_m": 10.0, "value": 0.8}, options, Printer("us"))


def test_the_sample_package_works(tmp_path: Path) -> None:
    """Laid out as an installed package is, in a fresh interpreter."""
    package = DOCS / "examples" / "boscage-moon"
    groups = tomllib.loads(text_of(package / "pyproject.toml"))["project"]["entry-points"]
    info = tmp_path / "boscage_moon-0.1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: boscage-moon\nVersion: 0.1.0\n", encoding="utf-8")
    lines = [f"[{group}]\n" + "\n".join(f"{n} = {v}" for n, v in names.items()) for group, names in groups.items()]
    (info / "entry_points.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
    plan = tiny.build(tmp_path / "ranch", tiny.Variant())
    rows = [line.split(",") for line in text_of(plan.parent / "sign.csv").splitlines()[1:]]
    items = [{"lon": float(a), "lat": float(b), "kind": kind, "date": day} for a, b, kind, day in rows]
    walk = plan.parent / "sign.jsonl"
    walk.write_text("".join(json.dumps(item) + "\n" for item in items), encoding="utf-8")
    text = text_of(plan).replace('sign = "sign.csv"', 'sign = "sign.jsonl"')
    plan.write_text(text + "\n[factors.aspect]\nweight = 0.5\n", encoding="utf-8")
    paths = [str(tmp_path), str(package / "src"), *[p for p in sys.path if p]]
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(paths)}
    command = [sys.executable, "-m", "boscage", "scout", str(plan), "--no-sheets"]
    done = subprocess.run(command, capture_output=True, text=True, check=False, env=env)
    assert done.returncode == 0, done.stderr
    result = json.loads(text_of(plan.parent / "out" / "scout.json"))
    assert result["weights"]["aspect"] == 0.5
    assert "aspect" in result["sites"][0]["factors"]
    assert result["sites"][0]["sentences"]["aspect"].startswith("The ground")
    assert "sign" not in result["missing_layers"]


def test_the_sample_factor_knows_its_directions(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.syspath_prepend(DOCS / "examples" / "boscage-moon" / "src")
    factor = importlib.import_module("boscage_moon.aspect").Aspect()
    measure, options = measured(factor, best_deg=270.0)
    assert measure.figures["facing_deg"][30, 40] == pytest.approx(270.0)  # rises eastward, so it faces west
    assert measure.values[30, 40] == 1.0
    assert measure.figures["facing_deg"][30, 5] == -1.0
    assert measure.values[30, 5] == options.flat_value


def test_option_makes_fields_with_help() -> None:
    """The reference rests on metadata: a field cannot be declared without its sentence."""
    with pytest.raises(TypeError):
        option(1.0)
