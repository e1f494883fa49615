"""Classes and texture against the Soil Survey Manual (USDA Handbook 18), chapter 3, and the NASIS domains."""

from __future__ import annotations

import math
from collections import Counter

import numpy as np
import pytest

from boscage.errors import InputError
from boscage.soil.classes import (
    EXCAVATION,
    FRAGMENT_MM,
    RUPTURE_CEMENTED_N,
    RUPTURE_DRY_N,
    RUPTURE_MOIST_N,
    class_of,
    excavation_class,
    resistance_class,
    rock_modifier,
)
from boscage.soil.texture import TEXTURES, class_middle, plain_texture, texture_class, texture_index

# Every boundary of the domain `penetration_resistance` of NASIS, from above and from just below.
RESISTANCE = [
    (0.0, "extremely low"), (0.00999, "extremely low"), (0.01, "very low"), (0.0999, "very low"), (0.1, "low"),
    (0.999, "low"), (1.0, "moderate"), (1.999, "moderate"), (2.0, "high"), (3.999, "high"), (4.0, "very high"),
    (7.999, "very high"), (8.0, "extremely high"), (50.0, "extremely high"),
]  # fmt: skip
MOIST = ["very friable", "friable", "firm", "very firm", "extremely firm", "slightly rigid", "rigid"]
DRY = ["soft", "slightly hard", "moderately hard", "hard", "very hard", "extremely hard", "rigid"]
CEMENTED = ["noncoherent", "extremely weakly coherent", "very weakly coherent", "weakly coherent",
            "moderately coherent", "strongly coherent", "very strongly coherent"]  # fmt: skip
FORCES_N = [8.0, 20.0, 40.0, 80.0, 160.0, 800.0]


@pytest.mark.parametrize(("mpa", "name"), RESISTANCE)
def test_penetration_resistance(mpa: float, name: str) -> None:
    assert resistance_class(mpa) == name


@pytest.mark.parametrize(
    ("bounds", "names"), [(RUPTURE_MOIST_N, MOIST), (RUPTURE_DRY_N, DRY), (RUPTURE_CEMENTED_N, CEMENTED)]
)
def test_rupture_resistance(bounds: tuple, names: list[str]) -> None:
    """Boundaries 8, 20, 40, 80, 160 and 800 N for moist, dry and cemented blocks (NASIS metadata)."""
    assert class_of(0.0, bounds) == names[0]
    for k, force in enumerate(FORCES_N):
        assert class_of(math.nextafter(force, 0.0), bounds) == names[k]
        assert class_of(force, bounds) == names[k + 1]


@pytest.mark.parametrize(
    ("percent", "word"),
    [(0, ""), (14.9, ""), (15, "gravelly"), (34.9, "gravelly"), (35, "very gravelly"), (59.9, "very gravelly"),
     (60, "extremely gravelly"), (89.9, "extremely gravelly"), (90, "gravel"), (100, "gravel")],
)  # fmt: skip
def test_rock_fragment_modifier(percent: float, word: str) -> None:
    """Breaks at 15, 35 and 60 % read in the manual; 90 % from memory."""
    assert rock_modifier(percent) == word


def test_rock_fragments_over_100_are_refused_and_unknown_ones_have_no_word() -> None:
    assert rock_modifier(math.nan) == ""
    with pytest.raises(InputError, match="0 to 100 %"):
        rock_modifier(100.5)
    with pytest.raises(InputError, match="0 or more"):
        resistance_class(-0.1)


@pytest.mark.parametrize(
    ("mm", "name"), [(2, "gravel"), (74.9, "gravel"), (75, "cobbles"), (250, "stones"), (600, "boulders")]
)
def test_fragment_sizes(mm: float, name: str) -> None:
    """2, 75 and 250 mm read in the manual, boulders over 600 mm from memory."""
    assert class_of(mm, FRAGMENT_MM) == name


def test_excavation_difficulty_has_five_ordered_classes() -> None:
    """Table 3-21. The MPa that they are laid on are the project's own assumption: common practice, no source."""
    assert list(EXCAVATION) == ["low", "moderate", "high", "very high", "extremely high"]
    assert "arms" in EXCAVATION["low"] and "40 to 60 kW" in EXCAVATION["very high"]
    assert [excavation_class(mpa) for mpa in (0.5, 1.0, 2.0, 4.0, 8.0)] == list(EXCAVATION)


# (sand, silt, clay) inside each class: NRCS inequalities and the package soiltexture agree on these.
INSIDE = [
    (92, 5, 3, "sand"), (82, 10, 8, "loamy sand"), (65, 25, 10, "sandy loam"), (40, 40, 20, "loam"),
    (20, 65, 15, "silt loam"), (5, 88, 7, "silt"), (60, 15, 25, "sandy clay loam"), (32, 33, 35, "clay loam"),
    (10, 55, 35, "silty clay loam"), (52, 6, 42, "sandy clay"), (5, 48, 47, "silty clay"), (20, 20, 60, "clay"),
]  # fmt: skip
# On the lines between classes.
EDGE = [
    (0, 100, 0, "silt"), (0, 73, 27, "silty clay loam"), (0, 60, 40, "silty clay"), (0, 40, 60, "silty clay"),
    (0, 88, 12, "silt loam"), (52, 28, 20, "loam"), (45, 35, 20, "loam"), (45, 20, 35, "clay loam"),
    (46, 19, 35, "sandy clay"), (70, 15, 15, "sandy loam"), (85, 10, 5, "loamy sand"), (45, 28, 27, "clay loam"),
]  # fmt: skip
COUNTS = {
    "clay": 1540, "silt loam": 840, "sandy loam": 565, "sandy clay loam": 392, "loam": 349, "clay loam": 325,
    "silty clay loam": 273, "silty clay": 231, "sandy clay": 210, "silt": 186, "loamy sand": 155, "sand": 85,
}  # fmt: skip


@pytest.mark.parametrize(("sand", "silt", "clay", "name"), INSIDE + EDGE)
def test_texture(sand: float, silt: float, clay: float, name: str) -> None:
    assert sand + silt + clay == 100
    assert texture_class(sand, clay) == name


def test_every_whole_percentage_has_one_class() -> None:
    """Counts over the 5,151 points, worked out once with a separate rule set."""
    sand, clay = np.meshgrid(np.arange(101.0), np.arange(101.0))
    inside = sand + clay <= 100
    index = texture_index(sand[inside], clay[inside])
    assert len(index) == 5151 and (index >= 0).all()
    assert Counter(TEXTURES[k] for k in index) == COUNTS


def test_the_middle_of_a_class_lies_in_it() -> None:
    for name in TEXTURES:
        assert texture_class(*class_middle(name)) == name
    with pytest.raises(InputError, match="one of sand, loamy sand"):
        class_middle("mud")


@pytest.mark.parametrize(
    ("text", "name"),
    [("Silt Loam", "silt loam"), ("very gravelly sandy_loam", "sandy loam"), ("loamy very fine sand", "loamy sand"),
     ("Fine sandy loam", "sandy loam"), ("extremely cobbly CLAY", "clay"), ("bedrock", ""), ("", "")],
)  # fmt: skip
def test_textures_in_words(text: str, name: str) -> None:
    assert plain_texture(text) == name


def test_texture_of_what_is_no_soil_is_refused_or_empty() -> None:
    assert texture_class(math.nan, 20.0) == ""
    with pytest.raises(InputError, match="together at most 100 %"):
        texture_class(70.0, 40.0)
