"""What a factor is: one plug-in that turns the scene into values from 0 to 1 and explains them.

A new factor is one module with a subclass of `Factor` and one entry-point line in the group `boscage.factors`.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from boscage.model.exposure import Exposure
from boscage.model.journey import Journey, Load, NoWay
from boscage.model.options import ValuePoints, option
from boscage.model.scene import Scene
from boscage.values import Printer

Places = Sequence[tuple[float, float]]
Journeys = tuple[Journey | NoWay, ...]


@dataclass(frozen=True, kw_only=True)
class FactorOptions:
    """What every factor's table in the plan may hold; a factor adds its own keys by subclassing."""

    weight: float = option(1.0, help="Weight of the factor in the score; 0 leaves it out.", low=0.0, high=1000.0)
    value: ValuePoints = option(
        ((0.0, 0.0), (1.0, 1.0)), help="Value function as [input, value 0..1] points, straight lines between."
    )


@dataclass(frozen=True, kw_only=True)
class Measure:
    """What a factor found on the grid.

    Attributes:
        values: (rows, cols) float32 from 0 to 1; NaN where there are no data.
        figures: Named (rows, cols) arrays that the sentence quotes, in the units the factor documents; NaN for no data.
        notes: Sentences on the whole layer, such as a default that was used.
        kept: Arrays that the factor needs later for questions about single places.
    """

    values: NDArray[np.float32]
    figures: Mapping[str, NDArray[np.float32]] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    kept: Mapping[str, NDArray[Any]] = field(default_factory=dict)


class Factor(ABC):
    """Base of every factor.

    Class attributes:
        name: The word in the plan and in outputs.
        title: What people read beside the bar.
        unit: Unit of the value function's input.
        needs: Layers without which it has no data; any one of them is enough.
        reads: Every layer that its figures depend on, surfaces aside; None stands for all. Stored results are reused
            while these do not change.
        is_dated: Whether its figures depend on the plan's date.
        Options: The dataclass of its table in the plan.
    """

    name: ClassVar[str]
    title: ClassVar[str]
    unit: ClassVar[str]
    needs: ClassVar[tuple[str, ...]]
    reads: ClassVar[tuple[str, ...] | None] = None
    is_dated: ClassVar[bool] = True
    Options: ClassVar[type[FactorOptions]] = FactorOptions

    @abstractmethod
    def measure(self, scene: Scene, options: FactorOptions) -> Measure:
        """Compute the factor over the whole grid."""

    @abstractmethod
    def sentence(self, figures: Mapping[str, float], options: FactorOptions, printer: Printer) -> str:
        """One sentence with a figure and a unit for one place; `figures` holds `value` too, NaN for no data."""

    def journeys(self, scene: Scene, measure: Measure, places: Places, loads: Sequence[Load]) -> Journeys:
        """The way to each place with its load, or why there is none; () from factors that find no ways.

        Args:
            places: (east, north) of each, metres.
        """
        return ()

    def rounds(self, scene: Scene, measure: Measure, places: Places, journeys: Journeys) -> NDArray[np.float64] | None:
        """Minutes from row to column of a crew without a load, the base first; None from factors that find no ways.

        Args:
            places: (east, north) of each of S sites, metres.
            journeys: Of each, as `journeys` gives them for the same places.

        Returns:
            (S + 1, S + 1), 0 on the diagonal, infinite where there is no way.
        """
        return None

    def exposures(self, scene: Scene, options: FactorOptions, places: Places) -> tuple[Exposure, ...]:
        """Who sees each place; () from factors that look at no lines of sight."""
        return ()


def rate(inputs: NDArray[np.floating], points: ValuePoints) -> NDArray[np.float32]:
    """Apply a value function: linear between points, constant beyond the first and last, NaN stays NaN.

    >>> rate(np.array([-5.0, 30.0, 80.0, np.nan]), ((0.0, 0.0), (60.0, 1.0))).tolist()
    [0.0, 0.5, 1.0, nan]
    """
    x, v = np.array(points, dtype=np.float64).T
    return np.where(np.isnan(inputs), np.nan, np.interp(inputs, x, v)).astype(np.float32)


def no_data(scene: Scene, *names: str) -> Measure:
    """The measure of a factor whose layers are missing: NaN everywhere."""
    nan = np.full(scene.grid.shape, np.nan, dtype=np.float32)
    return Measure(values=nan, figures=dict.fromkeys(names, nan))
