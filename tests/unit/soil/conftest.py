"""Small soils with known answers."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from boscage.model.soil import Component, Horizon, Restriction, SoilUnit


@pytest.fixture
def soil() -> Callable[..., Component]:
    """A soil of one horizon of stated resistance, to a depth, on rock where asked for."""

    def make(
        mpa: float = 1.0, *, percent: float = 100.0, deep_cm: float = 200.0, rock_cm: float | None = None,
        rock_pct: float = 0.0, name: str = "loam", flood: str | None = "none", wet_cm: float | None = math.inf,
        kind: str = "Lithic bedrock", hardness: str = "stops",
    ) -> Component:  # fmt: skip
        bottom = deep_cm if rock_cm is None else rock_cm
        hard = () if rock_cm is None else (Restriction(top_cm=rock_cm, kind=kind, hardness=hardness),)
        horizons = (Horizon(top_cm=0.0, bottom_cm=bottom, rock_pct=rock_pct, resistance_mpa=mpa),) if bottom else ()
        return Component(
            name=name, percent=percent, horizons=horizons, restrictions=hard, flood_class=flood,
            wet_top_cm=() if wet_cm is None else (wet_cm,) * 12,
        )  # fmt: skip

    return make


@pytest.fixture
def unit() -> Callable[..., SoilUnit]:
    def make(*components: Component, key: str = "A") -> SoilUnit:
        return SoilUnit(key=key, symbol=key, name=f"unit {key}", components=components)

    return make
