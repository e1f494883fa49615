"""A ranch opened for the window: pictures of its map, its ranking under other weights, what is known of a place, rings.

What a run of `boscage scout` has measured is reused, and the other way round: both keep their results in one store.
"""

from __future__ import annotations

import datetime as dt
import time
import tomllib
from dataclasses import replace
from pathlib import Path

from boscage.errors import InputError, PlanError
from boscage.model.desk import LayerRow, LegendRow, Opened, Pixels, TileRequest, TileScheme, ViewRequest
from boscage.model.desk_answers import (
    PlaceAnswer,
    RankAnswer,
    RigAnswer,
    RigListRequest,
    RigRequest,
    SiteEdits,
)
from boscage.model.layers import LAYER_TITLES
from boscage.model.plan import Plan, plan_from_table
from boscage.pipeline import desk_rig
from boscage.pipeline.desk_map import MapPainter
from boscage.pipeline.desk_places import PlaceTeller, stop_row
from boscage.pipeline.desk_rank import Ranker
from boscage.pipeline.desk_store import MappedStore
from boscage.pipeline.progress import Progress, silent
from boscage.pipeline.ranch import Ranch, make_ranch, read_inputs
from boscage.readers.gear_list import read_gear_loads
from boscage.readers.plan_file import read_plan
from boscage.values import Printer

UNITS = ("us", "metric")


def plan_of_text(path: str, text: str) -> Plan:
    """A plan as it is being edited, in the place of its file.

    Raises:
        PlanError: The text is no TOML, or a key is wrong.
    """
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise PlanError(f"the text is not valid TOML ({error})", mend="undo the last edit", file=path) from None
    folder = str(Path(path).expanduser().parent)
    return plan_from_table(table, file=path, folder=folder, today=dt.date.today())


class Session:
    """One ranch, opened.

    Attributes:
        ranch: As opened.
        out: Folder of the run's outputs.
        open_ms: What opening took.
    """

    def __init__(self, ranch: Ranch, out: Path, progress: Progress = silent) -> None:
        self.ranch, self.out, self.open_ms = ranch, out, 0.0
        progress("ranking", 0, 1)
        self._ranker = Ranker(ranch, MappedStore(out))
        self._map = MapPainter(ranch, out, progress)
        self._places = PlaceTeller(ranch)
        self._rigger = desk_rig.Rigger(ranch)
        self._edits = SiteEdits()

    @classmethod
    def open(cls, plan: Plan | str | Path, progress: Progress = silent, *, out: Path | None = None) -> Session:
        """Read a plan and its layers, and measure what the store does not hold.

        Args:
            plan: The plan or its path.
            progress: Told how far it is.
            out: Folder of the run's outputs; by default `out` beside the plan.

        Raises:
            InputError: The plan or a layer is wrong.
            PluginError: A factor or reader that takes part cannot be loaded.
        """
        begun = time.perf_counter()
        plan = plan if isinstance(plan, Plan) else read_plan(plan)
        out = Path(plan.folder) / "out" if out is None else out
        made = cls(make_ranch(read_inputs(plan, progress), MappedStore(out), progress), out, progress)
        made.open_ms = 1e3 * (time.perf_counter() - begun)
        progress("done", 1, 1)
        return made

    @property
    def scheme(self) -> TileScheme:
        """How the ranch is cut into tiles."""
        return self._map.scheme

    def opened(self) -> Opened:
        """The ranch in short."""
        ranch, plan, grid = self.ranch, self.ranch.plan, self.ranch.scene.grid
        printer, result = Printer(plan.ranch.units), self._ranker.result
        return Opened(
            plan=plan.file, ranch=plan.ranch.name, units=plan.ranch.units, date=plan.date.isoformat(),
            crs=ranch.layers.crs, bounds=ranch.layers.ranch, scheme=self.scheme, factors=self._ranker.factors(),
            weights_from="comparison table" if plan.weights.comparisons else "ratios",
            layers=tuple(
                LayerRow(name=r.name, title=LAYER_TITLES[r.name], state=r.state, read=r.read, doubts=r.doubts)
                for r in ranch.layers.reports
            ),
            stops=tuple(stop_row(s, printer) for s in ranch.stops), ranch_ha=result.ranch_ha,
            granted_ha=result.granted_ha, open_ha=result.open_ha, cells=grid.rows * grid.cols, cell_m=grid.cell_m,
            ring_radius_m=plan.net.radius_m, count=plan.sites.count, spacing_m=plan.sites.spacing.m,
            notes=(*ranch.layers.problems, *result.notes, *ranch.inputs.weighting.notes),
        )  # fmt: skip

    def units(self, units: str) -> Opened:
        """Tell everything in `us` or `metric` units from now on; pictures are asked for with theirs.

        Raises:
            InputError: There are no such units.
        """
        if units not in UNITS:
            raise InputError(f"there are no units {units}", expected=f"one of {', '.join(UNITS)}", field="units")
        plan = self.ranch.plan
        plan = replace(plan, ranch=replace(plan.ranch, units=units))
        self.ranch = self._ranker.ranch = replace(self.ranch, inputs=replace(self.ranch.inputs, plan=plan))
        self._places.use_units(units)
        return self.opened()

    def tile(self, request: TileRequest) -> Pixels:
        """One tile of the map.

        Raises:
            InputError: There is no such tile, palette or scale.
        """
        return self._map.tile(request, self._ranker.result, self._ranker.ranking)

    def view(self, request: ViewRequest) -> Pixels:
        """A whole view, or what lies over its tiles.

        Raises:
            InputError: The view is empty, or there is no such palette, part or scale.
        """
        return self._map.view(request, self._ranker.result, self._ranker.ranking)

    def legend(self, request: ViewRequest) -> tuple[LegendRow, ...]:
        """The legend of what a view shows."""
        return self._map.legend(replace(request, part="ground"), self._ranker.result, self._ranker.ranking)

    def rank(self, edits: SiteEdits | None = None, progress: Progress = silent) -> RankAnswer:
        """Rank again under other weights and choices; pictures show this ranking from now on.

        Raises:
            InputError: A weight is none, of no factor, or all are 0.
        """
        edits = edits or SiteEdits()
        answer = self._ranker.rank(edits, progress)
        self._edits = edits
        return answer

    def steadiness(self, edits: SiteEdits | None = None) -> RankAnswer:
        """The ranking with how firm each rank is."""
        return self._ranker.steadiness(self._edits if edits is None else edits)

    def place(self, x_m: float, y_m: float, *, with_ways: bool = True) -> PlaceAnswer:
        """Everything that is known of a place, under the weights of the last ranking.

        Args:
            x_m, y_m: East and north in the ranch's CRS.
            with_ways: Whether the way in and who sees it are worked out; the first time takes longer.
        """
        return self._places.place(
            x_m, y_m, rated=self._ranker.edited(self._edits, silent), sites=self._ranker.result.sites,
            loads=read_gear_loads(self.out), with_ways=with_ways,
        )  # fmt: skip

    def rig(self, request: RigRequest) -> RigAnswer:
        """The best ring of the trees near a place after the operator's changes.

        Raises:
            InputError: There is no such site, no place is given, or an option is wrong.
        """
        return self._rigger.rig(request, self._ranker.result.sites)

    def rig_list(self, request: RigListRequest) -> RigAnswer:
        """The ring of a typed list, with the plan's net and rigging.

        Raises:
            InputError: An option is wrong.
        """
        return desk_rig.rig_list(request, self.ranch.plan)
