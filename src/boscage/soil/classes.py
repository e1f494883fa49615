"""Classes of the Soil Survey Manual (USDA Handbook 18), chapter 3: a number's class is the last whose bound it reaches.

Bounds are those of the NASIS domains; the lower one belongs to the class.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from boscage.errors import InputError

Bounds = tuple[tuple[float, str], ...]

RESISTANCE_MPA: Bounds = (
    (0.0, "extremely low"), (0.01, "very low"), (0.1, "low"), (1.0, "moderate"), (2.0, "high"), (4.0, "very high"),
    (8.0, "extremely high"),
)  # fmt: skip
RUPTURE_MOIST_N: Bounds = (
    (0.0, "very friable"), (8.0, "friable"), (20.0, "firm"), (40.0, "very firm"), (80.0, "extremely firm"),
    (160.0, "slightly rigid"), (800.0, "rigid"),
)  # fmt: skip
"""Rupture resistance of a moist block; from 3 J it is very rigid, which a force does not tell."""
RUPTURE_DRY_N: Bounds = (
    (0.0, "soft"), (8.0, "slightly hard"), (20.0, "moderately hard"), (40.0, "hard"), (80.0, "very hard"),
    (160.0, "extremely hard"), (800.0, "rigid"),
)  # fmt: skip
RUPTURE_CEMENTED_N: Bounds = (
    (0.0, "noncoherent"), (8.0, "extremely weakly coherent"), (20.0, "very weakly coherent"),
    (40.0, "weakly coherent"), (80.0, "moderately coherent"), (160.0, "strongly coherent"),
    (800.0, "very strongly coherent"),
)  # fmt: skip
ROCK_PCT: Bounds = (
    (0.0, ""), (15.0, "gravelly"), (35.0, "very gravelly"), (60.0, "extremely gravelly"), (90.0, "gravel"),
)  # fmt: skip
"""Modifier by rock fragments, per cent by volume; from 90 % (recalled) the fragments alone give the name."""
FRAGMENT_MM: Bounds = ((2.0, "gravel"), (75.0, "cobbles"), (250.0, "stones"), (600.0, "boulders"))
EXCAVATION: Mapping[str, str] = {
    "low": "with a spade, by the arms alone",
    "moderate": "with a spade and the foot or a blow, quite easily",
    "high": "with a spade and difficulty; easily with a full-length pick",
    "very high": "with a pick, moderately to markedly difficult; with a backhoe on a 40 to 60 kW tractor",
    "extremely high": "nearly impossible with a pick, nor in reasonable time with that backhoe",
}
"""Excavation difficulty, table 3-21."""
EXCAVATION_MPA: Bounds = (
    (0.0, "low"), (1.0, "moderate"), (2.0, "high"), (4.0, "very high"), (8.0, "extremely high"),
)  # fmt: skip
"""Project's own assumption: excavation difficulty by penetration resistance, class for class. Nobody publishes one."""


def class_of(value: float, bounds: Bounds, what: str = "the value") -> str:
    """The class of a number, '' for NaN.

    Raises:
        InputError: It lies below the lowest class.
    """
    if math.isnan(value):
        return ""
    if value < bounds[0][0]:
        raise InputError(f"{what} is {value:g}", expected=f"{bounds[0][0]:g} or more")
    return next(name for low, name in reversed(bounds) if value >= low)


def resistance_class(mpa: float) -> str:
    """Penetration resistance class.

    >>> resistance_class(1.999), resistance_class(2.0)
    ('moderate', 'high')
    """
    return class_of(mpa, RESISTANCE_MPA, "the penetration resistance")


def rock_modifier(percent: float) -> str:
    """The word that rock fragments put before a texture, '' under 15 % and for NaN.

    Raises:
        InputError: The percentage is not 0 to 100.
    """
    if percent > 100.0:
        raise InputError(f"rock fragments are {percent:g} %", expected="0 to 100 %")
    return class_of(percent, ROCK_PCT, "the share of rock fragments")


def excavation_class(mpa: float) -> str:
    """Excavation difficulty that is assumed for a penetration resistance."""
    return class_of(mpa, EXCAVATION_MPA, "the penetration resistance")
