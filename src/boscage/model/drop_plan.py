"""Options of the helicopter drop: `[drop]` the figures of the day, `[gap]` the drop point, `[brief]` the page."""

from __future__ import annotations

import math
from dataclasses import dataclass

from boscage.errors import PlanError
from boscage.model.options import option
from boscage.values import Length, Mass

FT = 0.3048


@dataclass(frozen=True, kw_only=True)
class DropOptions:
    """`[drop]`: the helicopter's base and the day's figures; anything absent stays blank on the brief."""

    base: tuple[float, float] | None = option(None, help="Base as [lon, lat], WGS 84 degrees.", low=-180.0, high=180.0)
    base_name: str = option("base", help="What the base is called.")
    base_elevation: Length | None = option(
        None, help="Elevation of the base; by default the terrain's.", low=-500.0, high=6000.0
    )
    temperature_c: float | None = option(
        None, help="Forecast air temperature; it is used for the base and every drop as it stands.", unit="°C", low=-60,
        high=60,
    )  # fmt: skip
    dew_point_c: float | None = option(
        None, help="Forecast dew point; without it the air is taken as dry.", unit="°C", low=-60, high=40
    )
    altimeter_hpa: float | None = option(None, help="Altimeter setting.", unit="hPa", low=850, high=1100)
    ground_speed_kt: float | None = option(None, help="Speed over the ground.", unit="kt", low=1, high=200)
    air_speed_kt: float | None = option(
        None, help="Speed through the air instead, from which the wind gives that over the ground.", unit="kt", low=1,
        high=200,
    )  # fmt: skip
    wind_deg: float | None = option(None, help="Direction the wind comes from, true.", unit="degrees", low=0, high=360)
    wind_kt: float | None = option(None, help="Wind speed.", unit="kt", low=0, high=150)
    load_limit: Mass | None = option(None, help="Most mass on the hook, as the pilot states it.", low=1.0, high=10000.0)
    hooks: int = option(
        1, help="Loads that can be let go one by one on a flight; a plain hook takes one.", low=1, high=12, grade="C"
    )
    helicopter: str = option(
        "3", help="Type whose landing place is looked for, 1 the largest.", choices=("1", "2", "3")
    )
    landing_reach: Length = option(
        Length(400.0), help="How far from a drop point a landing place is looked for.", low=0.0, high=5000.0, grade="C"
    )
    declination: float | None = option(
        None, help="Magnetic declination, east positive, where another figure than that of WMM2025 is to be used.",
        unit="degrees", low=-180, high=180,
    )  # fmt: skip

    def __post_init__(self) -> None:
        if self.base is not None and abs(self.base[1]) > 90.0:
            raise PlanError(
                f"the base is {list(self.base)}", expected="[longitude, latitude] in degrees",
                mend="exchange the two numbers" if abs(self.base[0]) <= 90.0 else "correct them", field="drop.base",
            )  # fmt: skip
        if (self.wind_deg is None) != (self.wind_kt is None):
            raise PlanError(
                "the wind has a speed or a direction, not both", expected="wind_deg and wind_kt together",
                mend="state both or neither", field="drop.wind_deg",
            )  # fmt: skip
        if self.ground_speed_kt is not None and self.air_speed_kt is not None:
            raise PlanError(
                "ground_speed_kt and air_speed_kt are both stated", expected="one of them",
                mend="leave one out", field="drop.air_speed_kt",
            )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class GapOptions:
    """`[gap]`: what a drop point must be. The load is put into a gap; the set itself stands under trees."""

    diameter: Length = option(
        Length(12.0), help="Least diameter of the gap in the canopy.", low=2.0, high=200.0, grade="C"
    )
    reach: Length = option(Length(150.0), help="Farthest from the set.", low=10.0, high=5000.0, grade="C")
    apart: Length = option(
        Length(15.0), help="Nearest to the set, so that no load comes down on it.", low=0.0, high=500.0, grade="C"
    )
    open_height: Length = option(
        Length(0.4572), help="Vegetation up to here does not close a gap, 18 in.", low=0.0, high=5.0, grade="V"
    )
    near: Length = option(
        Length(60.0), help="How far from the drop point the tallest tree counts for the line.", low=5.0, high=500.0,
        grade="C",
    )  # fmt: skip
    line_margin: Length = option(
        Length(50 * FT), help="Line beyond the tallest tree near.", low=0.0, high=100.0, grade="C"
    )
    line_step: Length = option(
        Length(50 * FT), help="Lengths that a longline is made in.", low=1.0, high=100.0, grade="V"
    )
    wire_flag: Length = option(
        Length(300 * FT), help="A known wire nearer than this is flagged.", low=0.0, high=5000.0, grade="C"
    )
    wire_stop: Length = option(
        Length(100 * FT), help="A known wire nearer than this, or than 1.5 times the tallest tree, rules a gap out.",
        low=0.0, high=1000.0, grade="C",
    )  # fmt: skip
    count: int = option(12, help="Most gaps to look at for a site.", low=1, high=50)


@dataclass(frozen=True, kw_only=True)
class BriefOptions:
    """`[brief]`: what the mission page says in words; what is absent is left blank to be written in by hand."""

    mission: str | None = option(None, help="Name of the mission.")
    plan_number: str | None = option(None, help="Number of the aviation plan.")
    takeoff: str | None = option(None, help="Planned take-off, local, such as 07:30.")
    objective: str | None = option(None, help="Objective in one line.")
    abort: str | None = option(None, help="Rule for breaking off.")
    aircraft: str | None = option(None, help="Registration, make and colour.")
    receive: str | None = option(None, help="Frequency received.")
    transmit: str | None = option(None, help="Frequency sent on.")
    tone: str | None = option(None, help="Tone.")
    air_to_air: str | None = option(None, help="Air to air frequency.")
    following: str | None = option(None, help="Flight following: by whom, and how often.")
    lost_comms: str | None = option(None, help="What is done when radio contact is lost.")
    hospital: str | None = option(None, help="Nearest trauma or burn centre.")
    hospital_phone: str | None = option(None, help="Its telephone.")
    hospital_place: tuple[float, float] | None = option(
        None, help="Its place as [lon, lat], WGS 84 degrees.", low=-180.0, high=180.0
    )
    evacuation: tuple[float, float] | None = option(
        None, help="Place for a rescue helicopter as [lon, lat], WGS 84 degrees.", low=-180.0, high=180.0
    )
    road_end: tuple[float, float] | None = option(
        None, help="Where an ambulance gets to, as [lon, lat], WGS 84 degrees.", low=-180.0, high=180.0
    )
    county: str | None = option(None, help="County that an emergency call names.")
    caller: str | None = option(None, help="Who calls, by role.")
    kit: str | None = option(None, help="Where extinguisher and first aid kit are.")
    hazmat: str | None = option(None, help="Dangerous goods in the loads, or 'none'; blank is unknown.")
    line_mass: Mass | None = option(None, help="Mass of the line.", low=0.1, high=500.0)
    swivel_mass: Mass | None = option(None, help="Mass of hook and swivel.", low=0.1, high=200.0)
    sling_mass: Mass | None = option(None, help="Mass of one sling net or bag.", low=0.1, high=200.0)

    @property
    def rigging_kg(self) -> float | None:
        """Line, swivel and one sling net, or None where one of them is not stated."""
        parts = (self.line_mass, self.swivel_mass, self.sling_mass)
        return None if any(p is None for p in parts) else sum(p.kg for p in parts if p is not None)


def line_length(tallest_m: float, options: GapOptions) -> float:
    """Tallest tree near and the margin, up to the next whole number of line lengths.

    >>> line_length(18.3, GapOptions()) / FT
    150.0
    """
    steps = math.ceil((tallest_m + options.line_margin.m) / options.line_step.m - 1e-9)
    return max(1, steps) * options.line_step.m
