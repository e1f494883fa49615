"""What is put up where no tree stands, by a stated rule.

In this order: a sapling close to the place, guyed back; a driven post where the ground takes posts; a high rope from
a tree outside; a guy line to the foot of a tree outside; a guy line to a ground stake. No two places take one sapling:
saplings are shared out so that as many places as possible have one and the distances are least in all. Where a contact
is a post it is listed among the built supports.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import linear_sum_assignment

from boscage.model.rig import Point, Ring, Stem
from boscage.model.rig_plan import BuiltSupport, RigFrame, RiggingOptions, SupportKind, Tie
from boscage.rigging.anchors import Need, Woods, look_for_trees, to_stake, to_tree
from boscage.rigging.bearings import Pivot, magnetic_deg
from boscage.rigging.course import Corner, distance_m
from boscage.rigging.statics import contact_pull_n
from boscage.soil.answers import Asking


@dataclass(frozen=True, kw_only=True)
class Tied:
    """The built supports in the order of the ring, and what has to be said about them."""

    supports: tuple[BuiltSupport, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Ground:
    """What tying needs to know: all stems, whether posts can be driven, height of the top rope, frame and pivot.

    `soil` is asked what holds a line that runs to the ground; None where nothing is known of it.
    """

    stems: tuple[Stem, ...]
    posts: bool
    height_m: float
    frame: RigFrame
    pivot: Pivot
    soil: Asking | None = None


def tie_all(ring: Ring, corners: Sequence[Corner], options: RiggingOptions, ground: Ground) -> Tied:
    """Give every built support its kind and its line.

    Args:
        ring: The ring.
        corners: Of its finished shape, as `course.walk` gives them.
        options: Reaches and angles.
        ground: What stands and what the ground takes.
    """
    woods = _woods(ring, options, ground)
    places = [c for c in corners if c.contact is None or c.contact.stem is None]
    free = [c.place for c in places if c.contact is None]
    saplings = iter(share_saplings(free, ground.stems, options.sapling_reach.m))
    supports, notes = [], []
    for i, corner in enumerate(places):
        need = Need(
            place=corner.place, outward=corner.outward, turning_deg=corner.turning_deg,
            pull_n=contact_pull_n(options.pretension_n, corner.turning_deg),
        )  # fmt: skip
        if corner.contact is not None:
            held = _Held(kind="post")
        else:
            held = _in_soil(_hold(need, next(saplings), woods, ground.posts), ground.soil)
        label = label_of(i)
        notes += [f"Built support {label}: {text}" for text in held.notes]
        made = BuiltSupport(
            label=label, x_m=corner.place[0], y_m=corner.place[1], kind=held.kind, stem=held.stem, tie=held.tie,
            pull_n=need.pull_n, bearing_deg=magnetic_deg(ground.pivot.place, corner.place, ground.frame),
            distance_m=distance_m(ground.pivot.place, corner.place),
        )  # fmt: skip
        supports.append(made)
    return Tied(supports=tuple(supports), notes=tuple(notes))


def label_of(i: int) -> str:
    """a, b, ... z, aa, ab, ...

    >>> label_of(0), label_of(25), label_of(26)
    ('a', 'z', 'aa')
    """
    letter = chr(ord("a") + i % 26)
    return letter if i < 26 else label_of(i // 26 - 1) + letter


def share_saplings(places: Sequence[Point], stems: Sequence[Stem], reach_m: float) -> list[Stem | None]:
    """A sapling for each place, or None: none twice, as many as can be, the least distance in all."""
    saplings = sorted((s for s in stems if s.kind == "sapling"), key=lambda s: s.stem)
    if not places or not saplings:
        return [None] * len(places)
    apart = np.array([[distance_m(p, (s.x_m, s.y_m)) for s in saplings] for p in places])
    cost = np.where(apart <= reach_m, apart, (len(places) + 1) * (reach_m + 1.0))
    given: list[Stem | None] = [None] * len(places)
    for row, col in zip(*linear_sum_assignment(cost), strict=True):
        if apart[row, col] <= reach_m:
            given[row] = saplings[col]
    return given


@dataclass(frozen=True, kw_only=True)
class _Held:
    kind: SupportKind
    stem: str | None = None
    tie: Tie | None = None
    notes: tuple[str, ...] = ()


def _woods(ring: Ring, options: RiggingOptions, ground: Ground) -> Woods:
    outline = np.asarray(ring.outline, dtype=np.float64)
    contacts = {c.stem.stem for c in ring.contacts if c.stem is not None}
    high, foot = look_for_trees(ground.stems, outline, contacts, ring.options.min_dbh_m)
    return Woods(
        outline=outline, high=high, foot=foot, height_m=ground.height_m, options=options, frame=ground.frame,
        trunks=np.array([(s.x_m, s.y_m, s.radius_m) for s in ground.stems], dtype=np.float64).reshape(-1, 3),
        ids=tuple(s.stem for s in ground.stems),
    )  # fmt: skip


def _hold(need: Need, sapling: Stem | None, woods: Woods, posts: bool) -> _Held:
    """One place by the rule."""
    if sapling is not None:
        held = _guy(replace(need, place=(sapling.x_m, sapling.y_m), beside=(sapling.stem,)), woods)
        return replace(held, kind="sapling", stem=sapling.stem)
    if posts:
        return _Held(kind="post")
    high = to_tree(need, woods, high=True)
    if high is not None:
        return _Held(kind="high_rope", stem=high.stem, tie=high)
    return _guy(need, woods)


def _in_soil(held: _Held, soil: Asking | None) -> _Held:
    """The same, with the pickets that hold a line to the ground there."""
    tie = held.tie
    if soil is None or tie is None or tie.stem is not None or not tie.tension_n:
        return held
    pickets = soil.pickets(tie.tension_n)
    said = () if pickets.holdfast is not None else (f"its guy line runs to the ground. {pickets.why}",)
    return replace(held, tie=replace(tie, pickets=pickets), notes=(*held.notes, *said))


def _guy(need: Need, woods: Woods) -> _Held:
    tie = to_tree(need, woods, high=False)
    if tie is not None:
        return _Held(kind="guy_line", stem=tie.stem, tie=tie)
    tie, free = to_stake(need, woods)
    notes = () if free else ("a trunk stands in the way of its guy line on every side; look for a way round it.",)
    return _Held(kind="guy_line", tie=tie, notes=notes)
