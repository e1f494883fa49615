"""From a ring to everything that is needed to rig it. Planning figures, not a rating."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from boscage.model.rig import Point, Ring
from boscage.model.rig_plan import (
    ApronBand,
    BuiltSupport,
    Loads,
    NetProfile,
    RigFrame,
    RiggedContact,
    RiggingOptions,
    RigPlan,
    Stake,
)
from boscage.model.soil import ApronStakes, GroundAnswer
from boscage.model.trees import StemList
from boscage.rigging.apron import Apron
from boscage.rigging.bearings import Pivot, check_distances, choose_pivot, first_contact, magnetic_deg, trunk_place
from boscage.rigging.closing import choose_closure
from boscage.rigging.course import Array, Corner, distance_m, look_around, rotated, run_lengths, walk
from boscage.rigging.gear import StakeKinds, list_gear
from boscage.rigging.ring import fit_ring
from boscage.rigging.stakes import StakePlaces, place_stakes
from boscage.rigging.statics import GRAVITY, capstan_ratio, catenary_at, contact_pull_n, push_dip, widest_span_m
from boscage.rigging.steadiness import judge_steadiness
from boscage.rigging.straps import strap_for, why_turns
from boscage.rigging.ties import Ground, tie_all
from boscage.rigging.without import Fallback, without_each
from boscage.soil.answers import Asking

PLANNING = "All lengths, forces and masses here are planning figures, not a rating."


def plan_rig(
    name: str,
    ring: Ring,
    stems: StemList,
    net: NetProfile,
    options: RiggingOptions,
    *,
    mapped: bool = False,
    stated: bool = False,
    posts: bool | None = None,
    source: str = "",
    date: dt.date | None = None,
    soil: Asking | None = None,
) -> RigPlan:
    """Make a ring ready to rig.

    Args:
        name: Site or stem list.
        ring: As `fit_ring` gave it for these stems.
        stems: All stems, with their frame.
        net: Height, depth and mass of the net.
        options: How it is tied, staked and judged.
        mapped: Whether the places come from a map made from above, not from the ground.
        stated: Whether anybody stated the declination.
        posts: Whether the ground takes posts; as the ring was asked for if left out.
        source: Where the stems come from, in words.
        date: The plan's date.
        soil: The ground of the place, which decides on kind and number of stakes; None where nothing is known.

    Raises:
        InputError: The netting does not reach the ground.
    """
    frame = RigFrame(
        taped=not mapped, pivot=stems.pivot, declination_deg=stems.declination_deg, declination_stated=stated,
        convergence_deg=stems.convergence_deg, crs=stems.crs, stems_source=source, date=date,
    )  # fmt: skip
    pivot = choose_pivot(ring, stems.stems, frame, _outline(ring))
    ring = rotated(ring, first_contact(ring, pivot, frame))
    corners = walk(ring)
    drive = ring.options.posts if posts is None else posts
    ground = Ground(stems=stems.stems, posts=drive, height_m=net.height_m, frame=frame, pivot=pivot, soil=soil)
    tied = tie_all(ring, corners, options, ground)
    contacts = _contacts(ring, corners, pivot, frame, options, without_each(ring, stems.stems, fit_ring))
    closure = choose_closure(ring)
    apron = Apron(height_m=net.height_m, netting_m=net.netting_m)
    allowed = None if soil is None else soil.all()
    spacing_m = options.stake_spacing.m / (1.0 if allowed is None else allowed.apron.times)
    staked = place_stakes(_outline(ring), closure.place, apron.best_m, spacing_m)
    stakes = _stakes(staked, pivot, frame)
    around = look_around(ring, stems.stems, options.guy_reach.m, _named(tied.supports))
    return RigPlan(
        name=name, date=date, ring=ring, net=net, options=options, pivot=pivot.place, pivot_stem=pivot.stem,
        declination_deg=frame.declination_deg, declination_stated=stated, contacts=contacts, supports=tied.supports,
        stakes=stakes, apron=_band(apron, staked), loads=_loads(ring, corners, net, options),
        gear=list_gear(net, ring.options.perimeter_m, contacts, tied.supports, _in_ground(stakes, allowed), options),
        steadiness=judge_steadiness(ring, pivot, frame, options), inside=around.inside, near_wall=around.near_wall,
        closure=closure.place, closure_text=closure.text, nearby=around.nearby, crs=frame.crs, stems_source=source,
        estimated=mapped, soil=allowed,
        notes=_notes(
            _Said(
                contacts=contacts, ties=tied.notes, apron=apron, staked=staked, ring=ring, net=net, options=options,
                doubts=stems.doubts,
            )
        ),
    )  # fmt: skip


def _in_ground(stakes: Sequence[Stake], soil: GroundAnswer | None) -> StakeKinds:
    apron = ApronStakes(kind="stake", times=1.0, why="") if soil is None else soil.apron
    return StakeKinds(count=len(stakes), apron=apron)


def _outline(ring: Ring) -> Array:
    return np.asarray(ring.outline, dtype=np.float64)


def _named(supports: Sequence[BuiltSupport]) -> list[str]:
    """Ids of the stems that supports and their lines use."""
    ids = [s.stem for s in supports] + [s.tie.stem for s in supports if s.tie is not None]
    return [i for i in ids if i is not None]


def _contacts(
    ring: Ring,
    corners: Sequence[Corner],
    pivot: Pivot,
    frame: RigFrame,
    options: RiggingOptions,
    fallbacks: Sequence[Fallback],
) -> tuple[RiggedContact, ...]:
    made = []
    held = [c for c in corners if c.contact is not None]
    for corner, check, other in zip(held, check_distances(ring, pivot), fallbacks, strict=True):
        contact = ring.contacts[corner.number - 1]
        strap, trunk = strap_for(contact, options), trunk_place(contact)
        one = RiggedContact(
            number=corner.number, x_m=contact.x_m, y_m=contact.y_m, stem=contact.stem,
            bearing_deg=magnetic_deg(pivot.place, trunk, frame), distance_m=distance_m(pivot.place, trunk),
            check_from=check.first + 1, check_m=check.length_m, turning_deg=corner.turning_deg,
            pull_n=contact_pull_n(options.pretension_n, corner.turning_deg), strap_m=strap.needed_m,
            strap_stock_m=strap.stock_m, standoff_m=contact.standoff_m, without_score=other.score,
            without_stems=other.stems, without_built=other.built,
        )  # fmt: skip
        made.append(one)
    return tuple(made)


def _stakes(staked: StakePlaces, pivot: Pivot, frame: RigFrame) -> tuple[Stake, ...]:
    made = []
    for place, offset in zip(staked.places, staked.offsets_m, strict=True):
        at: Point = (float(place[0]), float(place[1]))
        one = Stake(
            x_m=at[0], y_m=at[1], offset_m=float(offset), bearing_deg=magnetic_deg(pivot.place, at, frame),
            distance_m=distance_m(pivot.place, at),
        )  # fmt: skip
        made.append(one)
    return tuple(made)


def _band(apron: Apron, staked: StakePlaces) -> ApronBand:
    """The band, with the netting as it lies at the middle one of the offsets that came out."""
    offset = float(np.median(staked.offsets_m))
    drawn = apron.profile(min(max(offset, apron.near_m), apron.far_m))
    return ApronBand(
        near_m=apron.near_m, best_m=apron.best_m, far_m=apron.far_m, room_m=staked.room_m,
        profile=tuple((float(x), float(y)) for x, y in drawn),
    )  # fmt: skip


def _loads(ring: Ring, corners: Sequence[Corner], net: NetProfile, options: RiggingOptions) -> Loads:
    """The top rope's figures on the longest run of the finished ring, the whole net's weight on the rope."""
    longest = float(run_lengths(_outline(ring)).max())
    weight = net.mass_kg * GRAVITY / ring.options.perimeter_m
    dip = push_dip(options.push_n, longest, options.pretension_n, options.stiffness_n)
    return Loads(
        pretension_n=options.pretension_n, push_n=options.push_n, longest_span_m=longest,
        dip_m=None if dip is None else dip.dip_m, push_tension_n=None if dip is None else dip.tension_n,
        own_sag_m=catenary_at(longest, options.pretension_n, weight).sag_m,
        widest_span_m=widest_span_m(net.height_m - options.least_height.m, options.pretension_n, weight),
        capstan_ratio=capstan_ratio(options.friction, options.turns),
        largest_pull_n=max(contact_pull_n(options.pretension_n, c.turning_deg) for c in corners),
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class _Said:
    """What the notes are written from."""

    contacts: Sequence[RiggedContact]
    ties: Sequence[str]
    apron: Apron
    staked: StakePlaces
    ring: Ring
    net: NetProfile
    options: RiggingOptions
    doubts: Sequence[str]


def _notes(said: _Said) -> tuple[str, ...]:
    notes = [PLANNING, why_turns(said.options)]
    for one in said.contacts:
        if one.strap_stock_m is None:
            who = f"post {one.number}" if one.stem is None else f"contact {one.number} (stem {one.stem.stem})"
            notes.append(f"No strap in stock is long enough for {who}: it needs {_both(one.strap_m)}.")
    notes += said.ties
    notes += _apron_notes(said)
    notes += _rope_notes(said)
    return (*notes, *said.doubts)


def _apron_notes(said: _Said) -> list[str]:
    staked, apron, notes = said.staked, said.apron, []
    if staked.shortened:
        notes.append(
            f"The ring is too small or too pointed for the recommended stake offset of {_both(apron.best_m)} at "
            f"{staked.shortened} of {len(staked.offsets_m)} stakes; the shortest is "
            f"{_both(float(staked.offsets_m.min()))}."
        )
    bunched = int((staked.offsets_m < apron.near_m * (1.0 - 1e-9)).sum())
    if bunched:
        notes.append(
            f"At {bunched} of {len(staked.offsets_m)} stakes the netting is deeper than the room inside and bunches "
            "on the ground; fold it inward."
        )
    return notes


def _rope_notes(said: _Said) -> list[str]:
    options, notes = said.options, []
    longest = float(run_lengths(_outline(said.ring)).max())
    if push_dip(options.push_n, longest, options.pretension_n, options.stiffness_n) is None:
        notes.append(
            f"A rope that gives way at {options.pretension_n:g} N cannot hold a push of {options.push_n:g} N at "
            "mid-span; its dip is not known."
        )
    weight = said.net.mass_kg * GRAVITY / said.ring.options.perimeter_m
    wide = widest_span_m(said.net.height_m - options.least_height.m, options.pretension_n, weight)
    if wide <= 0.0:
        notes.append("The top rope is set no higher than the least height asked for, so that any sag is too much.")
    elif longest > wide:
        notes.append(
            f"Under the net's own weight the longest run, {_both(longest)}, sags below the least height; the widest "
            f"that does not is {_both(wide)} at {options.pretension_n:g} N. Tighten the rope or add a support."
        )
    return notes


def _both(metres: float) -> str:
    return f"{metres:.2f} m ({metres / 0.3048:.1f} ft)"
