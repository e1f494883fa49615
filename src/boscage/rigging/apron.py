"""How the netting hangs from the top rope and lies inward to its stake.

The netting, of length S from the top rope at height h to its edge, hangs as a catenary and lies flat from where it
touches the ground to the stake at offset d inward of the top rope. With the catenary's constant a it comes down at
a acosh(1 + h / a), hangs over sqrt(h**2 + 2 a h), and the rest lies flat. As a goes to 0 it drops at a right angle and
d = S - h; where none lies flat any more, at a = (S**2 - h**2) / 2h, it still comes down level; farther out it meets the
stake at an angle, until it is straight at d = sqrt(S**2 - h**2).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from boscage.errors import InputError
from boscage.rigging.statics import acosh_1p

BEST_FLAT = 0.5
"""Share of the apron that lies flat at the recommended offset; common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class Apron:
    """Netting that hangs and lies inward.

    Attributes:
        height_m: Top rope above ground, over 0.
        netting_m: From the top rope to the edge, over the height.

    Raises:
        InputError: The netting does not reach the ground.
    """

    height_m: float
    netting_m: float

    def __post_init__(self) -> None:
        if not self.height_m > 0.0:
            raise InputError(f"the top rope's height is {self.height_m:g} m", expected="over 0", field="height")
        if not (math.isfinite(self.netting_m) and self.netting_m > self.height_m):
            raise InputError(
                f"the netting is {self.netting_m:g} m from top rope to edge",
                expected=f"more than the top rope's height, {self.height_m:g} m",
                mend="lower the top rope or take a deeper net", field="netting",
            )  # fmt: skip

    @property
    def apron_m(self) -> float:
        """What is left for the apron when the netting drops at a right angle."""
        return self.netting_m - self.height_m

    @property
    def near_m(self) -> float:
        """Offset at which the netting drops at a right angle; nearer and it bunches."""
        return self.apron_m

    @property
    def touching_m(self) -> float:
        """Offset at which the netting comes down level at the stake, with nothing lying flat."""
        return self.offset_m(0.0)

    @property
    def best_m(self) -> float:
        """Recommended offset: half of the apron lies flat."""
        return self.offset_m(BEST_FLAT)

    @property
    def far_m(self) -> float:
        """Offset at which the netting is straight and tight; farther is impossible."""
        return math.sqrt(self.netting_m**2 - self.height_m**2)

    def constant_m(self, flat: float) -> float:
        """The catenary's constant where a share of the apron, 0..1, lies flat.

        Raises:
            InputError: The share is outside 0..1.
        """
        if not 0.0 <= flat <= 1.0:
            raise InputError(f"the share that lies flat is {flat:g}", expected="0 to 1")
        hanging = self.netting_m - flat * self.apron_m
        return max(hanging**2 - self.height_m**2, 0.0) / (2.0 * self.height_m)

    def offset_m(self, flat: float) -> float:
        """Where the stake stands when a share of the apron, 0..1, lies flat; falls as the share rises.

        Raises:
            InputError: The share is outside 0..1.
        """
        return _reach(self.constant_m(flat), self.height_m) + flat * self.apron_m

    def profile(self, offset_m: float, points: int = 49) -> NDArray[np.float64]:
        """The netting seen from the side: (points + 1, 2) metres inward of the top rope and above ground.

        Raises:
            InputError: The offset is outside the band from near to far.
        """
        slack = 1e-9 * self.netting_m
        if not self.near_m - slack <= offset_m <= self.far_m + slack:
            raise InputError(
                f"the offset is {offset_m:.3f} m", expected=f"{self.near_m:.3f} to {self.far_m:.3f} m", field="offset"
            )
        offset = min(max(offset_m, self.near_m), self.far_m)
        if offset <= self.touching_m:
            return self._with_flat(offset, points)
        return self._without_flat(offset, points)

    def _with_flat(self, offset: float, points: int) -> NDArray[np.float64]:
        if offset <= self.near_m * (1.0 + 1e-12):
            drop = np.column_stack([np.zeros(points), np.linspace(self.height_m, 0.0, points)])
            return np.vstack([drop, [offset, 0.0]])
        flat = brentq(lambda share: self.offset_m(share) - offset, 0.0, 1.0, xtol=1e-15, rtol=8.9e-16)
        a = self.constant_m(flat)
        if a < 1e-9 * self.height_m:
            return self._with_flat(self.near_m, points)
        down = _reach(a, self.height_m)
        # even steps of the catenary's angle, so that a tight bend is drawn as well as a wide one
        along = a * np.sinh(np.linspace(down / a, 0.0, points))
        out = down - a * np.arcsinh(along / a)
        up = np.hypot(a, along) - a
        return np.vstack([np.column_stack([out, up]), [offset, 0.0]])

    def _without_flat(self, offset: float, points: int) -> NDArray[np.float64]:
        chord = self.far_m  # sqrt(S**2 - h**2) = 2 a sinh(d / 2a)
        if offset >= chord * (1.0 - 1e-9):
            return np.column_stack([np.linspace(0.0, offset, points + 1), np.linspace(self.height_m, 0.0, points + 1)])
        u = brentq(lambda v: math.sinh(v) / v - chord / offset, 1e-6, 60.0, xtol=1e-15, rtol=8.9e-16)
        a = 0.5 * offset / u
        middle = 0.5 * offset + a * math.atanh(self.height_m / self.netting_m)  # its lowest point, inward of the rope
        out = np.linspace(0.0, offset, points + 1)
        up = a * (np.cosh((out - middle) / a) - math.cosh((offset - middle) / a))
        return np.column_stack([out, up])


def _reach(constant_m: float, height_m: float) -> float:
    """How far out a catenary that starts level on the ground is at a height."""
    return constant_m * acosh_1p(height_m / constant_m) if constant_m > 0.0 else 0.0
