"""The ring that is packed for where nobody knows the trees: the net's own, on evenly spaced trees of one thickness."""

from __future__ import annotations

import math

from boscage.model.rig import RingOptions, Stem
from boscage.model.rig_plan import GearItem, NetProfile, RiggingOptions
from boscage.model.trees import StemList
from boscage.rigging.plan_ring import plan_rig
from boscage.rigging.ring import fit_ring

DBH_M = 0.3048
"""Diameter of the trees that straps are cut for, a foot: common practice, no source."""


def standard_gear(ring: RingOptions, net: NetProfile, rigging: RiggingOptions) -> tuple[GearItem, ...]:
    """Gear of a ring on the fewest contacts, evenly spaced, with half of the net's gather taken up; guys to stakes.

    What the real trees take is not known: straps may be too short, supports too few.
    """
    span = (1.0 - 0.5 * ring.gather) * ring.perimeter_m / ring.contacts
    radius = span / (2.0 * math.sin(math.pi / ring.contacts)) + 0.5 * DBH_M
    turns = (2.0 * math.pi * k / ring.contacts for k in range(ring.contacts))
    stems = tuple(
        Stem(stem=str(k + 1), x_m=radius * math.cos(t), y_m=radius * math.sin(t), dbh_m=DBH_M)
        for k, t in enumerate(turns)
    )
    made = fit_ring(stems, ring)
    assert made, "evenly spaced trees hold a ring of their own size"
    return plan_rig("standard ring", made, StemList(stems=stems, frame="grid"), net, rigging).gear
