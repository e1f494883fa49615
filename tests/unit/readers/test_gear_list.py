"""What the gear of a place weighs, read from rig.json."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from boscage.readers.gear_list import read_gear_loads


def rig(x: float, mass: float | None = 0.5) -> dict[str, Any]:
    return {
        "feasible": True, "contacts": [{"x_m": x - 1, "y_m": 10.0}, {"x_m": x + 1, "y_m": 12.0}],
        "gear": [{"item": "net", "count": 1, "mass_kg": 22.7}, {"item": "stake", "count": 20, "mass_kg": mass}],
    }  # fmt: skip


def test_masses_are_summed_by_place(tmp_path: Path) -> None:
    (tmp_path / "rig.json").write_text(json.dumps({"sites": [rig(100.0), rig(300.0, 1.0)]}))
    assert read_gear_loads(tmp_path) == ((100.0, 11.0, pytest.approx(32.7)), (300.0, 11.0, pytest.approx(42.7)))


def test_one_rig_alone_is_read_too(tmp_path: Path) -> None:
    (tmp_path / "rig.json").write_text(json.dumps(rig(100.0)))
    assert len(read_gear_loads(tmp_path)) == 1


def test_an_item_without_mass_leaves_the_rig_out(tmp_path: Path) -> None:
    (tmp_path / "rig.json").write_text(json.dumps({"sites": [rig(100.0, None), {"feasible": False}, rig(5.0)]}))
    assert [x for x, _, _ in read_gear_loads(tmp_path)] == [5.0]


@pytest.mark.parametrize(
    "text", ["", "[]", "{", '{"sites": 3}', '{"sites": [3]}', '{"sites": [{"gear": [1], "contacts": [2]}]}']
)
def test_what_is_no_gear_list_gives_none(tmp_path: Path, text: str) -> None:
    (tmp_path / "rig.json").write_text(text)
    assert read_gear_loads(tmp_path) == ()
    assert read_gear_loads(tmp_path / "nowhere") == ()
