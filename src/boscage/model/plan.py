"""The plan: what the operator states about a ranch, its layers, the net and the way of choosing. No I/O."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any
from zoneinfo import available_timezones

from boscage.errors import PlanError
from boscage.model.choices import Choice, read_choices
from boscage.model.drop_plan import BriefOptions, DropOptions, GapOptions
from boscage.model.groups import CameraOptions
from boscage.model.journey import TravelOptions
from boscage.model.layers import LATER_LAYERS, RASTER_LAYERS, READING_LAYERS, VECTOR_LAYERS, LayerSpec
from boscage.model.ledger_clock import CheckOptions
from boscage.model.ledger_removal import RemovalOptions
from boscage.model.options import OptionRow, describe, option, read_options, unknown_key
from boscage.model.pack import CarrierOptions, PackOptions
from boscage.model.portfolio import BaitOptions, PortfolioOptions
from boscage.model.report_plan import ReportOptions
from boscage.model.rig import RingOptions
from boscage.model.rig_plan import RiggingOptions
from boscage.model.rules import StopOptions
from boscage.model.share_plan import ShareOptions
from boscage.model.soil import SoilOptions
from boscage.model.trees import AUTO, DIAMETERS, LOWEST_TOP_M, WINDOWS, TreeOptions
from boscage.model.weights import SteadinessOptions, WeightsOptions
from boscage.values import Length, Mass

LAYER_NAMES = (
    "parcels", *RASTER_LAYERS, *[n for n in VECTOR_LAYERS if n != "parcels"], *READING_LAYERS, *LATER_LAYERS,
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class RanchOptions:
    """`[ranch]`: the place and how to print it."""

    name: str = option(help="Name printed on every sheet.")
    units: str = option("us", help="Units on everything people read; files stay metric.", choices=("us", "metric"))
    crs: str | None = option(None, help="Projected CRS in metres; by default the UTM zone of the parcels.")
    date: dt.date | None = option(None, help="Day that ages are counted from; by default today.")
    zone: str | None = option(
        None, help="Time zone of times that people read, such as America/Chicago; by default they are in UTC."
    )
    note: str | None = option(None, help="A line printed at the foot of every sheet, such as 'invented data'.")

    def __post_init__(self) -> None:
        if self.zone is not None and self.zone not in available_timezones():
            raise PlanError(
                f"there is no time zone {self.zone!r}", expected="a name such as America/Chicago",
                mend="correct the name, or leave it out for UTC", field="ranch.zone",
            )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class NetOptions:
    """`[net]`: the net that is to be hung."""

    perimeter: Length = option(Length(18.288), help="Length of the top rope.", low=5.0, high=200.0, grade="C")
    height: Length = option(Length(1.524), help="Height of the top rope above ground.", low=0.5, high=4.0, grade="C")
    gather: float = option(
        0.10, help="Net taken up as slack at the closure, as a share of its perimeter.", low=0.0, high=0.5, grade="C"
    )
    netting: Length = option(
        Length(2.4384), help="Netting from the top rope down the wall and along the apron to its edge.", low=0.6,
        high=12.0, grade="C",
    )  # fmt: skip
    mass: Mass = option(Mass(22.679618), help="Mass of the net, dry.", low=1.0, high=500.0, grade="C")

    @property
    def radius_m(self) -> float:
        """Radius of the circle that the top rope could enclose at the most, metres."""
        return self.perimeter.m / 6.283185307179586


@dataclass(frozen=True, kw_only=True)
class SitesOptions:
    """`[sites]`: how sites are picked from the score."""

    count: int = option(12, help="Most sites to rank.", low=1, high=200)
    spacing: Length = option(Length(300.0), help="Least distance between two ranked sites.", low=0.0, high=20000.0)
    cell: Length = option(Length(10.0), help="Cell of the scoring grid.", low=1.0, high=100.0)
    least_data: float = option(
        0.5,
        help="Least share of the weight that must rest on data for a place to be ranked.",
        low=0.0,
        high=1.0,
    )
    prefix: str | None = option(None, help="Letters before the site number; by default the ranch's initials.")


@dataclass(frozen=True, kw_only=True)
class TreesOptions:
    """`[trees]`: how trees are found in canopy heights."""

    window: str = option(AUTO, help="Window round a tree top, wider with height.", choices=(AUTO, *WINDOWS), grade="V")
    coefficients: tuple[float, float, float] | None = option(
        None, help="A window of your own instead: its diameter in metres as base, times height, times height squared.",
        low=-10.0, high=60.0,
    )  # fmt: skip
    least_height: Length = option(Length(5.0), help="Lower tops are no trees.", low=LOWEST_TOP_M, high=60.0, grade="C")
    group: str = option(
        "any", help="Kind of tree whose equation gives the estimated diameter.", choices=tuple(DIAMETERS), grade="V"
    )

    def tree_options(self) -> TreeOptions:
        """The same, as the tree finder takes it."""
        return TreeOptions(
            window=self.coefficients or self.window, least_height_m=self.least_height.m, group=self.group
        )


@dataclass(frozen=True, kw_only=True)
class SheetOptions:
    """`[sheets]`: the printed pages."""

    paper: str | None = option(
        None, help="Paper size; by default letter for us units and a4 for metric.", choices=("letter", "a4")
    )


SECTIONS: Mapping[str, type] = {
    "ranch": RanchOptions, "net": NetOptions, "sites": SitesOptions, "stops": StopOptions, "rigging": RiggingOptions,
    "trees": TreesOptions, "travel": TravelOptions, "ground": SoilOptions, "cameras": CameraOptions,
    "weights": WeightsOptions, "steadiness": SteadinessOptions, "together": PortfolioOptions, "bait": BaitOptions,
    "pack": PackOptions, "sheets": SheetOptions, "drop": DropOptions, "gap": GapOptions, "brief": BriefOptions,
    "share": ShareOptions,
    "report": ReportOptions, "checks": CheckOptions, "removal": RemovalOptions,
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A plan as read: options by section, layer specifications, the factors' own tables as given.

    Attributes:
        file: The plan file as the user wrote it.
        folder: The folder that paths are relative to.
        date: The day that ages are counted from.
        carriers: Of `[carriers.NAME]`.
        choices: Of `[[choices]]`, in the order of the file.
        factors: The raw tables of `[factors.NAME]`; each factor reads its own.
    """

    file: str
    folder: str
    date: dt.date
    ranch: RanchOptions
    layers: Mapping[str, LayerSpec]
    net: NetOptions = field(default_factory=NetOptions)
    sites: SitesOptions = field(default_factory=SitesOptions)
    stops: StopOptions = field(default_factory=StopOptions)
    rigging: RiggingOptions = field(default_factory=RiggingOptions)
    trees: TreesOptions = field(default_factory=TreesOptions)
    travel: TravelOptions = field(default_factory=TravelOptions)
    ground: SoilOptions = field(default_factory=SoilOptions)
    cameras: CameraOptions = field(default_factory=CameraOptions)
    weights: WeightsOptions = field(default_factory=WeightsOptions)
    steadiness: SteadinessOptions = field(default_factory=SteadinessOptions)
    together: PortfolioOptions = field(default_factory=PortfolioOptions)
    bait: BaitOptions = field(default_factory=BaitOptions)
    pack: PackOptions = field(default_factory=PackOptions)
    sheets: SheetOptions = field(default_factory=SheetOptions)
    drop: DropOptions = field(default_factory=DropOptions)
    gap: GapOptions = field(default_factory=GapOptions)
    brief: BriefOptions = field(default_factory=BriefOptions)
    share: ShareOptions = field(default_factory=ShareOptions)
    report: ReportOptions = field(default_factory=ReportOptions)
    checks: CheckOptions = field(default_factory=CheckOptions)
    removal: RemovalOptions = field(default_factory=RemovalOptions)
    factors: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    carriers: Mapping[str, CarrierOptions] = field(default_factory=dict)
    choices: tuple[Choice, ...] = ()

    def ring_options(self, *, posts: bool = False) -> RingOptions:
        """What the ring of this plan's net may be.

        Args:
            posts: Whether the soil takes posts, where the plan does not say.
        """
        return RingOptions(
            perimeter_m=self.net.perimeter.m, gather=self.net.gather, reach_m=self.rigging.reach.m,
            spacing_m=None if self.rigging.spacing is None else self.rigging.spacing.m,
            contacts=self.rigging.contacts, min_dbh_m=self.rigging.min_dbh.m,
            posts=posts if self.rigging.posts is None else self.rigging.posts,
        )  # fmt: skip

    @property
    def paper(self) -> str:
        """Paper size of the sheets: `letter` or `a4`."""
        return self.sheets.paper or ("letter" if self.ranch.units == "us" else "a4")

    @property
    def prefix(self) -> str:
        """Letters before a site's number."""
        if self.sites.prefix:
            return self.sites.prefix
        words = [w for w in self.ranch.name.split() if w[0].isalnum() and w.lower() not in ("the", "ranch")]
        return "".join(w[0] for w in words[:2]).upper() or "S"


def plan_from_table(table: Mapping[str, Any], *, file: str, folder: str, today: dt.date) -> Plan:
    """Build a plan from what the TOML file holds.

    Raises:
        PlanError: A key is unknown, missing, or has a wrong value; a required layer is not named.
    """
    known = (*SECTIONS, "layers", "factors", "carriers", "choices")
    for name in table:
        if name not in known:
            raise unknown_key(name, known, file=file, key="")
    for name in ("ranch", "layers"):
        if name not in table:
            raise PlanError(f"the table [{name}] is missing", mend=f"add [{name}] to the plan", file=file, field=name)
    sections = {name: read_options(cls, table.get(name, {}), file=file, key=name) for name, cls in SECTIONS.items()}
    layers = _layers(table["layers"], file)
    factors = table.get("factors", {})
    if not isinstance(factors, Mapping):
        raise PlanError("factors is no table", expected="tables such as [factors.cover]", file=file, field="factors")
    for name, own in factors.items():
        if not isinstance(own, Mapping):
            raise PlanError(
                f"the value is {own}", expected=f"a table [factors.{name}] with weight and value", file=file,
                field=f"factors.{name}",
            )  # fmt: skip
    carriers = table.get("carriers", {})
    if not isinstance(carriers, Mapping):
        raise PlanError("carriers is no table", expected="tables such as [carriers.atv]", file=file, field="carriers")
    carriers = {n: read_options(CarrierOptions, own, file=file, key=f"carriers.{n}") for n, own in carriers.items()}
    date = sections["ranch"].date or today
    return Plan(
        file=file,
        folder=folder,
        date=date,
        layers=layers,
        factors=MappingProxyType(dict(factors)),
        carriers=MappingProxyType(carriers),
        choices=read_choices(table.get("choices", ()), file=file),
        **sections,
    )


def _layers(table: object, file: str) -> Mapping[str, LayerSpec]:
    if not isinstance(table, Mapping):
        raise PlanError("layers is no table", expected="a table [layers]", file=file, field="layers")
    for name in table:
        if name not in LAYER_NAMES:
            raise unknown_key(name, LAYER_NAMES, file=file, key="layers")
    specs = {}
    for name in LAYER_NAMES:
        if name in table:
            given = table[name]
            given = {"path": given} if isinstance(given, str) else given
            specs[name] = read_options(LayerSpec, given, file=file, key=f"layers.{name}")
    if "parcels" not in specs:
        raise PlanError(
            "the layer parcels is not named", expected="a path to the parcel polygons",
            mend='add parcels = "parcels.gpkg"', file=file, field="layers.parcels",
        )  # fmt: skip
    if "canopy_cover" not in specs and "canopy_height" not in specs:
        raise PlanError(
            "neither canopy_cover nor canopy_height is named", expected="at least one of the two rasters",
            mend='add canopy_cover = "canopy_cover.tif"', file=file, field="layers.canopy_cover",
        )  # fmt: skip
    return MappingProxyType(specs)


def describe_plan() -> dict[str, list[OptionRow]]:
    """Metadata of every fixed section and of a layer's table, for the reference page and the window."""
    rows = {name: describe(cls, name) for name, cls in SECTIONS.items()}
    rows["layers"] = describe(LayerSpec, "layers.NAME")
    rows["carriers"] = describe(CarrierOptions, "carriers.NAME")
    rows["choices"] = describe(Choice, "choices")
    return rows
