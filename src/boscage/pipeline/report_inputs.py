"""What a report reads: the plan's land, log, sign, cameras and transects, and the moment it is made for."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from pathlib import Path
from zoneinfo import ZoneInfo

import shapely

from boscage.errors import PlanError
from boscage.ledger.book import make_book
from boscage.model.layers import LayerSet
from boscage.model.ledger import Book, Log
from boscage.model.ledger_land import Parcel
from boscage.model.plan import Plan
from boscage.plugins import load_readers
from boscage.readers.last_sites import read_site_places
from boscage.readers.layers import read_layers
from boscage.readers.log import read_log
from boscage.readers.plan_file import read_plan
from boscage.readers.protocol import Request
from boscage.readers.transects import TransectRow, read_transects
from boscage.values import Bounds

LAYERS = ("parcels", "tracks", "water", "sign", "cameras")
"""Layers that a report reads; rasters are none of them."""


@dataclass(frozen=True, kw_only=True)
class ReportInputs:
    """All that a report is made from.

    Attributes:
        land: Parcels in the order of their layer; where they overlap, the stricter access holds.
        transects: None where the plan names no table.
        borrowed: Sets whose place comes from the last ranking.
    """

    plan: Plan
    layers: LayerSet
    land: tuple[Parcel, ...]
    log: Log
    book: Book
    transects: tuple[TransectRow, ...] | None
    borrowed: tuple[str, ...]

    @property
    def rows(self) -> int:
        """Rows of the log, those that could not be read among them."""
        read = {r.row for r in self.log.rows}
        return len(read | {p.row for p in self.log.problems if not p.counted})


def read_inputs(plan: Plan | str | Path, out: Path) -> ReportInputs:
    """Read what a report needs; places that the log does not give come from `sites.gpkg` in `out`.

    Raises:
        InputError: The plan is wrong or names no log, or a file that it names cannot be used.
    """
    plan = plan if isinstance(plan, Plan) else read_plan(plan)
    if "log" not in plan.layers:
        raise PlanError(
            "the plan names no log", expected="a table of what happened at the sets", mend='add log = "log.csv"',
            file=plan.file, field="layers.log",
        )  # fmt: skip
    own = replace(plan, layers={n: s for n, s in plan.layers.items() if n in LAYERS})
    layers = read_layers(own, load_readers())
    log = read_plan_log(plan, layers.crs, layers.ranch)
    ranked = {name.casefold(): place for name, place in read_site_places(out, layers.crs).items()}
    bare = {r.site for r in log.rows} - {r.site for r in log.rows if r.has_place}
    places = {site: ranked[site.casefold()] for site in sorted(bare) if site.casefold() in ranked}
    transects = None
    if plan.report.transects is not None:
        transects = read_transects(Path(plan.folder) / Path(plan.report.transects).expanduser(), plan.report.transects)
    return ReportInputs(
        plan=plan, layers=layers, land=make_parcels(layers), log=log, book=make_book(log, plan.date, places),
        transects=transects, borrowed=tuple(places),
    )  # fmt: skip


def read_plan_log(plan: Plan, crs: str, ranch: Bounds) -> Log:
    """The log that a plan names.

    Raises:
        LayerError: The file cannot be used.
    """
    spec = plan.layers["log"]
    path = Path(plan.folder) / Path(spec.path).expanduser()
    return read_log(Request(layer="log", path=path, spec=spec), crs=crs, day=plan.date, ranch=ranch)


def make_parcels(layers: LayerSet) -> tuple[Parcel, ...]:
    """Parcels as the coverage needs them."""
    frame = layers.vectors["parcels"].frame
    shapes = frame.geometry.to_numpy()
    access = frame["access"].tolist()
    denied = shapely.union_all([s for s, a in zip(shapes, access, strict=True) if a != "granted"])
    owners = frame["owner"].tolist() if "owner" in frame.columns else [""] * len(frame)
    return tuple(
        Parcel(
            parcel=str(name), owner=owner if isinstance(owner, str) else "", access=word,
            shape=shapely.difference(shape, denied) if word == "granted" else shape,
        )
        for name, owner, word, shape in zip(frame["parcel"].tolist(), owners, access, shapes, strict=True)
    )  # fmt: skip


def moment(plan: Plan, stated: dt.datetime | None = None) -> dt.datetime:
    """The moment that checks are counted at, in the ranch's own time and without a zone.

    What is stated; else noon of the date that the plan states, so that the same plan gives the same report; else now.
    """
    if stated is not None:
        return stated
    if plan.ranch.date is not None:
        return dt.datetime.combine(plan.date, dt.time(12))
    return dt.datetime.now(time_zone(plan)).replace(second=0, microsecond=0, tzinfo=None)


def time_zone(plan: Plan) -> dt.tzinfo:
    """The ranch's time zone, UTC where the plan states none."""
    return ZoneInfo(plan.ranch.zone) if plan.ranch.zone else dt.UTC


def zone_words(plan: Plan) -> str:
    """The time zone as people read it."""
    return plan.ranch.zone or "UTC"
