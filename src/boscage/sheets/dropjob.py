"""The drops of a brief in the order flown, in groups that each fill a front."""

from __future__ import annotations

from dataclasses import dataclass

from boscage.model.brief import DropResult, DropSite, FlightRound, SlungLoad
from boscage.model.results import Backdrop
from boscage.sheets.dropwords import DropFigures
from boscage.sheets.page import Box, Page
from boscage.sheets.running import body_box
from boscage.sheets.style import TextStyle
from boscage.sheets.typeset import fit

LEAST_PT = 7.0
"""Smallest type of a front."""
MOST_DROPS = 4
"""Drops on one front: the most whose coordinates stand there in 14 points."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Numbered:
    """A drop with its number in the order flown, and its loads."""

    number: int
    drop: DropSite
    loads: tuple[tuple[int, SlungLoad], ...]

    @property
    def name(self) -> str:
        """Number and site."""
        return f"{self.number} {self.drop.site}"

    def name_in(self, width_mm: float, style: TextStyle, *, lines: int = 1) -> str:
        """The name where it fits, else the number alone: the site's name stands whole on the back."""
        is_cut = fit(self.name, width_mm, style, lines=lines, floor_pt=LEAST_PT).cut
        return f"drop {self.number}" if is_cut else self.name


@dataclass(frozen=True, kw_only=True, eq=False)
class DropGroup:
    """What one front and its back are about.

    Attributes:
        drops: On this front; `every` all of the brief.
    """

    result: DropResult
    overview: Backdrop
    drops: tuple[Numbered, ...]
    every: tuple[Numbered, ...]

    @property
    def figures(self) -> DropFigures:
        """How figures are printed."""
        ranch = self.result.plan.ranch
        return DropFigures(units=ranch.units, zone=ranch.zone)

    @property
    def is_part(self) -> bool:
        """Whether the brief has other fronts."""
        return len(self.drops) < len(self.every)

    @property
    def title(self) -> str:
        """Such as `drops 1 to 4 of 7`."""
        first, last, count = self.drops[0].number, self.drops[-1].number, len(self.every)
        if count == 1:
            return "1 drop"
        if first == last:
            return f"drop {first} of {count}"
        return f"drops {first} to {last} of {count}"

    @property
    def loads(self) -> tuple[tuple[int, SlungLoad], ...]:
        """Loads of the front's drops with their numbers, in the order flown; those over the limit last."""
        return tuple(sorted((row for d in self.drops for row in d.loads), key=lambda row: row[0]))

    @property
    def rounds(self) -> tuple[FlightRound, ...]:
        """Flights that bring one of these loads."""
        own = {load.flight for _, load in self.loads}
        return tuple(r for r in self.result.rounds if r.number in own)

    def is_over(self, load: SlungLoad) -> bool:
        """Whether a load is over the limit, so that it is not flown."""
        if self.result.base is not None:
            return load.flight == 0
        limit = self.result.plan.drop.load_limit
        return limit is not None and load.items_kg + (load.rigging_kg or 0.0) > limit.kg

    def body(self) -> Box:
        """Room on a page between margins and above the foot."""
        blank = Page(self.result.plan.paper)
        return body_box(blank.width_mm, blank.height_mm)


def groups_of(result: DropResult, overview: Backdrop, *, most: int = MOST_DROPS) -> list[DropGroup]:
    """Groups of at most so many drops, in the order flown; drops without a flight come last."""
    numbers = [(load.number or n, load) for n, load in enumerate(result.loads, start=1)]
    flown = list(dict.fromkeys(load.site for _, load in numbers if load.flight))
    sites = [*flown, *[d.site for d in result.drops if d.site not in flown]]
    every = tuple(
        Numbered(number=n, drop=result.drop_of(site), loads=tuple(row for row in numbers if row[1].site == site))
        for n, site in enumerate(sites, start=1)
    )
    parts = [every[k : k + most] for k in range(0, len(every), most)]
    return [DropGroup(result=result, overview=overview, drops=part, every=every) for part in parts]
