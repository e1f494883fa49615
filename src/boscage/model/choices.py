"""What the operator decided by hand: places pinned, rejected or added (`[[choices]]`), and what became of each."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from boscage.errors import PlanError
from boscage.model.options import option, read_options

KINDS = ("pin", "reject", "add")
DONE: Mapping[str, str] = {"pin": "pinned", "reject": "rejected", "add": "added"}
SAME_PLACE_M = 1.0
METRES_PER_DEGREE = 111_195.0


@dataclass(frozen=True, kw_only=True)
class Choice:
    """One table of `[[choices]]`: a place that the operator pinned, rejected or added by hand."""

    site: str | None = option(None, help="Name of the place as people call it. Required for `add`.")
    at: tuple[float, float] = option(help="Where it is, as [lon, lat], WGS 84.", low=-180.0, high=180.0)
    choice: str = option(
        help="pin: keep this place in the ranking; reject: rank nothing within half of sites.spacing of it; add: as "
        "pin, for a place that the program did not find. A hard stop rules a place out all the same.", choices=KINDS,
    )  # fmt: skip
    reason: str | None = option(None, help="Why, in a few words; printed. Required for `reject`.")
    date: dt.date | None = option(None, help="Day of the decision; printed.")

    def __post_init__(self) -> None:
        if abs(self.at[1]) > 90.0:
            raise PlanError(
                f"the place is {list(self.at)}", expected="[longitude, latitude] in degrees",
                mend="exchange the two numbers" if abs(self.at[0]) <= 90.0 else "correct them", field="choices.at",
            )  # fmt: skip
        for name, kind in (("site", "add"), ("reason", "reject")):
            if self.choice == kind and not (getattr(self, name) or "").strip():
                raise PlanError(
                    f"the place is {DONE[kind]} and has no {name}", expected=_NEEDS[kind], field=f"choices.{name}",
                    mend=f'add {name} = "..."',
                )  # fmt: skip

    @property
    def lon(self) -> float:
        """Longitude, WGS 84 degrees."""
        return self.at[0]

    @property
    def lat(self) -> float:
        """Latitude, WGS 84 degrees."""
        return self.at[1]

    def told(self, *, named: bool = False) -> str:
        """Such as `pinned by hand on 2026-11-21: good oaks`, with the place's name or without."""
        named_as = f" as {self.site}" if named and self.site else ""
        day = f" on {self.date.isoformat()}" if self.date else ", day not stated"
        return f"{DONE[self.choice]} by hand{named_as}{day}: {(self.reason or 'no reason stated').rstrip('. ')}"


_NEEDS: Mapping[str, str] = {"add": "the name that people know the place by", "reject": "why nobody should go there"}


@dataclass(frozen=True, kw_only=True)
class PlacedChoice:
    """A choice in the ranch's CRS.

    Attributes:
        choice: As the plan has it.
        row: Which table of `[[choices]]` it is, counted from 1.
        x_m, y_m: East and north; infinite where the place cannot be expressed in the ranch's CRS.
    """

    choice: Choice
    row: int
    x_m: float
    y_m: float


@dataclass(frozen=True, kw_only=True)
class ChoiceOutcome:
    """What became of one choice.

    Attributes:
        placed: The choice and where it is.
        state: `ranked`, `ruled out` (a pinned or added place that may not be ranked) or `rejected`.
        sentence: The same for people, with the reason.
        stops: Hard stops that rule it out, by name; empty where none does.
        score: The place's own score 0..100, or None where it lies off the grid or has too few data.
        site: Its name in the ranking, or ''.
        rank: Its rank, or None.
    """

    placed: PlacedChoice
    state: str
    sentence: str
    stops: tuple[str, ...] = ()
    score: float | None = None
    site: str = ""
    rank: int | None = None


def read_choices(rows: object, *, file: str) -> tuple[Choice, ...]:
    """The choices of a plan.

    Args:
        rows: What the TOML file holds under `choices`.
        file: The plan file, for messages.

    Raises:
        PlanError: It is no array of tables, a key is unknown, missing or wrong, two rows stand at one place, or two
            added places have one name; the message names the row, counted from 1, and the key.
    """
    if isinstance(rows, str) or not isinstance(rows, Sequence):
        mend = "write the table's name in two pairs of brackets" if isinstance(rows, Mapping) else ""
        raise PlanError(
            "choices is no list of tables", expected="tables that begin with [[choices]]", mend=mend, file=file,
            field="choices",
        )  # fmt: skip
    made: list[Choice] = []
    for row, table in enumerate(rows, start=1):
        try:
            made.append(read_options(Choice, table, file=file, key="choices"))
            _refuse_twins(made)
        except PlanError as error:
            raise PlanError(
                error.wrong, expected=error.expected, mend=error.mend, file=file, field=error.field, row=row
            ) from None
    return tuple(made)


def _refuse_twins(made: Sequence[Choice]) -> None:
    """Refuse the last choice where one before it is at the same place, or is added under the same name."""
    last = made[-1]
    for row, other in enumerate(made[:-1], start=1):
        if apart_m(last, other) < SAME_PLACE_M:
            raise PlanError(
                f"the place is {DONE[last.choice]} here and {DONE[other.choice]} in row {row}",
                expected="one choice for one place", mend="take one of the two out", field="choices.at",
            )  # fmt: skip
        both = last.choice == other.choice == "add"
        if both and (last.site or "").strip().casefold() == (other.site or "").strip().casefold():
            raise PlanError(
                f"the added place is named {last.site!r}, as is that of row {row}", expected="names that differ",
                mend="rename one of the two", field="choices.site",
            )  # fmt: skip


def apart_m(one: Choice, other: Choice) -> float:
    """Distance between two choices on a sphere of 6,371 km, flat: right for near ones, large for far ones."""
    turn = abs(one.lon - other.lon)
    east = min(turn, 360.0 - turn) * math.cos(math.radians((one.lat + other.lat) / 2.0))
    return math.hypot(east, one.lat - other.lat) * METRES_PER_DEGREE
