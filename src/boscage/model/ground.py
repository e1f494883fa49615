"""The ground of a ranch on the scoring grid: what a factor rates, a site asks and the ground sheet draws."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boscage.model.soil import Moisture, Verdict


@dataclass(frozen=True, kw_only=True)
class UnitRow:
    """One map unit on the ranch, a row of the ground sheet's table; figures of the map alone, without readings.

    Attributes:
        symbol, name: As the soil map has them.
        hectares: Of the ranch.
        named_share: Share of the unit of which anything is known, 0..1.
        resistance_mpa: From the surface to the depth of a post, NaN for unknown.
        error_ln: Its standard error for a spot of the unit, as a natural logarithm; NaN likewise.
        depth_cm: Depth that a hard layer, or the end of the description, keeps under on most of it; NaN for unknown.
        rock_pct: Rock fragments by volume that are not exceeded on most of it; NaN for unknown.
        flood_class: As in `FLOOD_CLASSES`, or None where not stated.
        posts, burial: What the map lets one expect.
    """

    symbol: str
    name: str
    hectares: float
    named_share: float
    resistance_mpa: float
    error_ln: float
    depth_cm: float
    rock_pct: float
    flood_class: str | None
    posts: Verdict
    burial: Verdict


@dataclass(frozen=True, kw_only=True)
class ReadPlace:
    """One place with penetrometer readings.

    Attributes:
        resistance_mpa: Of the readings from the surface to the depth of a post, NaN where all lie deeper.
        stopped_cm: Depth at which the probe was stopped, or NaN.
        readings: How many.
    """

    x_m: float
    y_m: float
    resistance_mpa: float
    stopped_cm: float
    readings: int


@dataclass(frozen=True, kw_only=True)
class GroundField:
    """The soil of the ranch, map and readings together.

    Attributes:
        resistance_mpa: (rows, cols) float32 from the surface to the depth of a post; NaN for unknown and off the
            ranch.
        error_ln: (rows, cols) float32 its standard error as a natural logarithm; NaN likewise.
        posts: (rows, cols) int8, index into `VERDICTS`: whether posts can be driven; `unknown` off the ranch.
        depth_cm: (rows, cols) float32 depth to a hard layer as the map has it; NaN for unknown.
        rock_pct: (rows, cols) float32 rock fragments by volume as the map has them; NaN for unknown.
        moisture: State of the ground that all is judged for.
        rows: Map units of the ranch, widest first.
        places: Places with readings; empty without any.
        rule: How readings correct the map, one phrase; '' without readings.
        left_out: What leaving each place out gives, one sentence; '' where it cannot be worked out.
        assumption: The rule that maps resistance to posts, to be printed with every answer.
        notes: Sentences on what was assumed.
    """

    resistance_mpa: NDArray[np.float32]
    error_ln: NDArray[np.float32]
    posts: NDArray[np.int8]
    depth_cm: NDArray[np.float32]
    rock_pct: NDArray[np.float32]
    moisture: Moisture
    rows: tuple[UnitRow, ...] = ()
    places: tuple[ReadPlace, ...] = ()
    rule: str = ""
    left_out: str = ""
    assumption: str = ""
    notes: tuple[str, ...] = ()
