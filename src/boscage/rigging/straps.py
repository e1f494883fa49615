"""Straps round contact trees: how long, and the next length they come in.

Two to a contact, at the top rope and at half its height. Each goes round the trunk so many turns, runs from the bark to
the net, and has a tail to tie off.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from boscage.model.rig import Contact
from boscage.model.rig_plan import RiggingOptions
from boscage.rigging.statics import capstan_ratio

PER_CONTACT = 2
POST_M = 0.06
"""Thickness taken for a driven post; common practice, no source."""
_GUARD = 1e-9


@dataclass(frozen=True, kw_only=True)
class Strap:
    """Length needed and the next stock length up; None where none is long enough."""

    needed_m: float
    stock_m: float | None


def strap_for(contact: Contact, options: RiggingOptions) -> Strap:
    """The strap of one contact: turns * pi * dbh + from the bark to the net + tail."""
    thick = POST_M if contact.stem is None else contact.stem.dbh_m
    needed = options.turns * math.pi * thick + contact.standoff_m + options.strap_tail.m
    stock = [s.m for s in sorted(options.strap_stock) if s.m >= needed * (1.0 - _GUARD)]
    return Strap(needed_m=needed, stock_m=stock[0] if stock else None)


def why_turns(options: RiggingOptions) -> str:
    """One sentence on what the turns are for, with its figure."""
    ratio = capstan_ratio(options.friction, options.turns)
    turns = f"{options.turns:g} turn" + ("" if options.turns == 1.0 else "s")
    return (
        f"{turns} round the trunk: friction (coefficient {options.friction:g}, assumed) holds a pull {ratio:.0f} times "
        "that on the strap's tail, so the strap stays at its height; planning figure, not a rating."
    )
