"""Cameras and what they saw: deployments, sightings, visits, groups with members and nights."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from boscage.model.options import option
from boscage.values import Length

SWINE = "Sus scrofa"
CLASSES = ("adult male", "adult female", "adult", "subadult", "juvenile", "unknown")
"""Classes that animals are counted in: life stage, and sex for adults; a boar is an adult male, a sow the female."""


@dataclass(frozen=True, kw_only=True)
class CameraOptions:
    """How photographs become visits, and visits groups."""

    species: str = option(SWINE, help="Scientific name of the animals that count.")
    gap_minutes: float = option(
        30.0, help="Minutes without a photograph after which a new visit begins.", unit="minutes", low=1.0, high=1440.0,
        grade="C",
    )  # fmt: skip
    reach: Length = option(
        Length(500.0), help="Cameras no farther apart are taken to see the same group.", low=0.0, high=20000.0,
        grade="C",
    )  # fmt: skip
    nights: int = option(
        2, help="Nights running on which the same group must show the same count.", low=1, high=30, grade="C"
    )


@dataclass(frozen=True, kw_only=True)
class Deployment:
    """One camera at one place.

    Attributes:
        deployment: Its id, unique over all packages read.
        location: Id of the place, or ''.
        name: What people call the place, or ''.
        start, end: With their time zone; `end` of a camera still out is the last thing it recorded.
        end_is_assumed: Whether the file states no end.
        bait: Whether bait was used, None for not written down.
        clock_is_doubtful: Whether the file says that its times have issues.
        fields: Every cell of the row, by the standard's name.
    """

    deployment: str
    location: str
    name: str
    lon: float
    lat: float
    start: dt.datetime
    end: dt.datetime
    end_is_assumed: bool = False
    bait: bool | None = None
    clock_is_doubtful: bool = False
    fields: Mapping[str, str] | None = None

    @property
    def nights(self) -> float:
        """Camera nights: days between start and end, parts of days counted."""
        return max(0.0, (self.end - self.start).total_seconds() / 86400.0)


@dataclass(frozen=True, kw_only=True)
class Sighting:
    """One row of observations of animals, or of nothing.

    Attributes:
        level: `event` or `media`.
        event: Id of the event, or ''.
        media: Id of the photograph, or ''.
        kind: `animal`, `blank`, `unknown` or `unclassified`; never a person or a vehicle.
        count: Animals of that class; 1 where not written down.
        group: Name of the group from a tag `group:NAME`, or ''.
        fields: Every cell of the row, by the standard's name.
    """

    sighting: str
    deployment: str
    level: str
    event: str
    media: str
    start: dt.datetime
    end: dt.datetime
    kind: str
    species: str = ""
    count: int = 1
    life_stage: str = ""
    sex: str = ""
    group: str = ""
    fields: Mapping[str, str] | None = None

    @property
    def animal_class(self) -> str:
        """One of `CLASSES`."""
        if self.life_stage == "adult":
            return f"adult {self.sex}" if self.sex else "adult"
        return self.life_stage or "unknown"


@dataclass(frozen=True, kw_only=True)
class BadRow:
    """A row that breaks the standard; it is left out and listed.

    Attributes:
        table: `deployments`, `media` or `observations`.
        row: As people count it: 1 is the first row of data.
        field: Column, or '' where the row as a whole is wrong.
        text: What is wrong and what was expected.
    """

    table: str
    row: int
    field: str
    text: str


@dataclass(frozen=True, kw_only=True)
class CameraData:
    """What one or more camera packages hold, people left out.

    Attributes:
        packages: Ids of the packages.
        version: Of the standard that the tables were checked against.
        deployments: By id, in file order.
        sightings: In file order.
        media: Rows of photographs without people that may be shown, by the standard's names.
        bad: Rows left out, with the reason.
        people: Rows of people and vehicles left out.
        doubts: Sentences on what may be wrong.
    """

    packages: tuple[str, ...]
    version: str
    deployments: Mapping[str, Deployment]
    sightings: tuple[Sighting, ...]
    media: tuple[Mapping[str, str], ...] = ()
    bad: tuple[BadRow, ...] = ()
    people: int = 0
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Visit:
    """Animals at one camera without a gap.

    Attributes:
        members: Largest number of each class seen at one time.
        size: Largest number of animals seen at one time; never a sum over photographs.
        group: Name from a tag, or ''.
    """

    deployment: str
    start: dt.datetime
    end: dt.datetime
    members: Mapping[str, int]
    size: int
    group: str = ""

    @property
    def night(self) -> dt.date:
        """Evening date of the night, in the camera's own time: what is before noon belongs to the evening before."""
        return (self.start - dt.timedelta(hours=12)).date()

    @property
    def is_boar_alone(self) -> bool:
        """Whether every animal is an adult male; boars are usually no members of a group."""
        return bool(self.members) and set(self.members) == {"adult male"}


@dataclass(frozen=True, kw_only=True)
class CameraUse:
    """Use of one place by the animals that count.

    Attributes:
        visits: How many.
        nights: Camera nights.
        visits_per_night: NaN without a camera night.
        nights_seen: Evening dates with a visit, rising.
        by_hour: 24 counts of visits by the hour they began in, in the camera's own time.
        largest: Largest number seen at one time, 0 for none.
    """

    deployment: str
    visits: int
    nights: float
    visits_per_night: float
    nights_seen: tuple[dt.date, ...]
    by_hour: tuple[int, ...]
    largest: int


@dataclass(frozen=True, kw_only=True)
class GroupNight:
    """One night of a group: the largest number seen at one time, and of each class."""

    night: dt.date
    size: int
    members: Mapping[str, int]


@dataclass(frozen=True, kw_only=True)
class NightsTest:
    """Whether the same group showed the same count on enough nights running.

    Attributes:
        passed: Whether it did, up to the last night that a camera was out.
        running: Nights running with one composition, up to the last night it was seen.
        wanted: Nights asked for.
        why: One sentence.
    """

    passed: bool
    running: int
    wanted: int
    why: str


@dataclass(frozen=True, kw_only=True)
class Group:
    """A group of animals.

    Attributes:
        name: From a tag, or after the place.
        is_named: Whether a tag names it; otherwise cameras near each other are taken to see one group.
        deployments: Ids of the cameras that saw it.
        nights: Nights seen, rising.
        members: Composition of the night with most animals, the last one of several.
        least, most: Smallest and largest nightly count.
        test: Same count on nights running.
        boars: Visits by boars alone at its cameras, which count for no member.
    """

    name: str
    is_named: bool
    deployments: tuple[str, ...]
    nights: tuple[GroupNight, ...]
    members: Mapping[str, int]
    least: int
    most: int
    test: NightsTest
    boars: int = 0
