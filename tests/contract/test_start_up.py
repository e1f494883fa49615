"""Starting is quick: the package and its help load nothing heavy."""

from __future__ import annotations

import os
import resource
import subprocess
import sys

import pytest

HEAVY = ("numpy", "numba", "matplotlib", "geopandas", "rasterio", "pandas", "scipy", "shapely", "pyproj")
MOST_CPU_S = 0.4


def cpu_of(*words: str) -> float:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, *words], check=True, stdout=subprocess.DEVNULL, env=dict(os.environ))
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return (after.ru_utime - before.ru_utime) + (after.ru_stime - before.ru_stime)


@pytest.mark.parametrize("words", [("-c", "import boscage"), ("-m", "boscage", "--help")])
def test_start_up_takes_under_the_limit(words: tuple[str, ...]) -> None:
    assert min(cpu_of(*words) for _ in range(3)) < MOST_CPU_S


@pytest.mark.parametrize("line", ["import boscage", "from boscage.cli.main import main; main(['--help'])"])
def test_nothing_heavy_is_loaded(line: str) -> None:
    code = f"import sys; {line}; print([m for m in {HEAVY!r} if m in sys.modules], file=sys.stderr)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"


def test_every_public_name_resolves() -> None:
    import boscage

    for name in boscage.__all__:
        assert getattr(boscage, name) is not None
    with pytest.raises(AttributeError):
        _ = boscage.no_such_name
