"""The tiny ranch with a stem list on it, opened once."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
import tiny_ranch as tiny
from pyproj import Transformer

from boscage.pipeline.desk_session import Session

ROOT = Path(__file__).resolve().parents[3]
STEMS = ROOT / "sample_data" / "stems_creek.csv"
WOOD = (1900.0, 1500.0)
"""Where the pivot of the stem list stands, local metres."""


def place(u: float, v: float) -> tuple[float, float]:
    """East and north of a local place."""
    return tiny.place(tiny.Variant(), u, v)


@pytest.fixture(scope="session")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The plan of a ranch on which nothing has been run."""
    folder = tmp_path_factory.mktemp("desk") / "tiny"
    plan = tiny.build(folder, tiny.Variant())
    shutil.copy(STEMS, folder / "stems.csv")
    lon, lat = Transformer.from_crs(tiny.UTM, "EPSG:4326", always_xy=True).transform(*place(*WOOD))
    stems = f'stems = {{ path = "stems.csv", pivot = [{lon:.8f}, {lat:.8f}], declination = -0.6 }}\n'
    text = plan.read_text(encoding="utf-8").replace('sign = "sign.csv"\n', f'sign = "sign.csv"\n{stems}')
    assert stems in text
    plan.write_text(text, encoding="utf-8")
    return plan


@pytest.fixture(scope="session")
def plan(built: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same with its results in the store, as a first opening leaves it."""
    folder = tmp_path_factory.mktemp("warm") / "tiny"
    shutil.copytree(built.parent, folder)
    Session.open(folder / "plan.toml")
    return folder / "plan.toml"


@pytest.fixture(scope="session")
def session(plan: Path) -> Session:
    """The ranch, opened; tests put its ranking back as it was."""
    return Session.open(plan)


@pytest.fixture
def again(session: Session) -> Session:
    """The opened ranch with the plan's own ranking."""
    session.rank()
    return session


@pytest.fixture
def copy(plan: Path, tmp_path: Path) -> Callable[..., Path]:
    """A copy of the ranch whose plan text is changed: pairs of what is there and what comes in its place."""

    def make(*changes: tuple[str, str], more: str = "") -> Path:
        shutil.copytree(plan.parent, tmp_path / "tiny")
        target = tmp_path / "tiny" / "plan.toml"
        text = target.read_text(encoding="utf-8")
        for old, new in changes:
            assert old in text
            text = text.replace(old, new)
        target.write_text(text + more, encoding="utf-8")
        return target

    return make
