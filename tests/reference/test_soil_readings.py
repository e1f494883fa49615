"""Penetrometer arithmetic against Herrick and Jones (2002), ASAE S313.3 and exact unit factors; pickets in print."""

from __future__ import annotations

import pytest

from boscage.errors import InputError
from boscage.model.soil import HOLDFASTS
from boscage.soil.readings import MPA_PER, cone_area_m2, dynamic_resistance_mpa, is_known_cone


@pytest.mark.parametrize(("mm_per_blow", "mpa"), [(10, 2.431), (20, 1.216), (50, 0.486)])
def test_a_dynamic_penetrometer(mm_per_blow: float, mpa: float) -> None:
    """2 kg falling 0.40 m (7.845 J) on a cone of 20.27 mm: work over distance and base."""
    assert dynamic_resistance_mpa(1, mm_per_blow / 1000.0) == pytest.approx(mpa, rel=1e-3)
    assert dynamic_resistance_mpa(7, 7 * mm_per_blow / 1000.0) == pytest.approx(mpa, rel=1e-3)
    force_n = dynamic_resistance_mpa(1, mm_per_blow / 1000.0) * 1e6 * cone_area_m2(20.27)
    assert force_n == pytest.approx(7.845 / (mm_per_blow / 1000.0), rel=1e-3)


def test_hammer_drop_and_cone_count() -> None:
    base = dynamic_resistance_mpa(3, 0.1)
    assert dynamic_resistance_mpa(3, 0.1, hammer_kg=4.0) == pytest.approx(2 * base)
    assert dynamic_resistance_mpa(3, 0.1, drop_m=0.2) == pytest.approx(base / 2)
    assert dynamic_resistance_mpa(3, 0.1, cone_mm=12.83) == pytest.approx(base * (20.27 / 12.83) ** 2)
    with pytest.raises(InputError, match="distance is 0"):
        dynamic_resistance_mpa(3, 0.0)


@pytest.mark.parametrize(("mm", "mm2"), [(20.27, 322.70), (12.83, 129.28)])
def test_cones(mm: float, mm2: float) -> None:
    """ASAE S313.3: 0.5 and 0.2 square inch; to be thrown away when worn by 3 %."""
    assert cone_area_m2(mm) * 1e6 == pytest.approx(mm2, abs=0.01)
    assert is_known_cone(mm) and is_known_cone(0.975 * mm) and not is_known_cone(0.96 * mm)
    assert not is_known_cone(1.02 * mm)


def test_units() -> None:
    """Exact factors: 300 psi = 2.06843 MPa, 2 MPa = 290.075 psi."""
    assert 300 * MPA_PER["psi"] == pytest.approx(2.06843, rel=1e-5)
    assert 2 / MPA_PER["psi"] == pytest.approx(290.075, rel=1e-5)
    assert 1500 * MPA_PER["kpa"] == pytest.approx(1.5)
    assert MPA_PER["kgf_cm2"] == 0.0980665


def test_published_pickets() -> None:
    """Pounds in undisturbed loam: 700, 1,800 and 4,000 read in NAVEDTRA 14251; 1,400 and 2,000 from memory of
    FM 5-125."""
    pounds = {h.name: h.holds_n / 4.4482216152605 for h in HOLDFASTS}
    assert pounds == pytest.approx({"1": 700, "1-1": 1400, "1-1-1": 1800, "2-1": 2000, "3-2-1": 4000})
    assert {h.name: h.pickets for h in HOLDFASTS} == {"1": 1, "1-1": 2, "1-1-1": 3, "2-1": 3, "3-2-1": 6}
    assert {h.name for h in HOLDFASTS if h.grade == "V"} == {"1", "1-1-1", "3-2-1"}
