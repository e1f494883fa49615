"""The gear list of one set: what, how many, how long, how heavy.

Every mass but the net's is a planning mass, common practice without a source (grade C): weigh the real thing.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from boscage.model.rig_plan import BuiltSupport, GearItem, NetProfile, RiggedContact, RiggingOptions, Tie
from boscage.model.soil import APRON_STAKES, ApronStakes
from boscage.rigging.straps import PER_CONTACT

# kg a piece, or kg a metre where the name ends so; grade C, common practice, no source
MASSES: Mapping[str, float] = MappingProxyType({
    "strap_a_metre": 0.045, "guy_rope_a_metre": 0.05, "tie_cord_a_metre": 0.02, "carabiner": 0.08, "guy_stake": 1.2,
    "picket": 4.2, "post": 4.0, "mallet": 1.4, "sledge_hammer": 3.0, "post_driver": 7.0, "tape": 0.5, "compass": 0.1,
    "knife": 0.2, "gloves": 0.15, "throw_line": 0.6, "flagging": 0.1,
})  # fmt: skip
GUY_STAKE_M, PICKET_M, POST_M, CORD_M = 0.6096, 1.524, 1.9812, 1.5
WEIGH = "planning mass, common practice without a source: weigh it"


@dataclass(frozen=True, kw_only=True)
class StakeKinds:
    """How many stakes hold the apron, and which in this ground."""

    count: int
    apron: ApronStakes

    @property
    def needs_hammer(self) -> bool:
        """Whether any of them is driven with a sledge hammer."""
        return "steel pin" in (self.apron.kind, *self.apron.also)


def list_gear(
    net: NetProfile,
    perimeter_m: float,
    contacts: Sequence[RiggedContact],
    supports: Sequence[BuiltSupport],
    stakes: StakeKinds,
    options: RiggingOptions,
) -> tuple[GearItem, ...]:
    """Everything that one ring takes, heaviest kind of thing first: net, straps, lines, stakes, hardware, tools."""
    lines = [s.tie for s in supports if s.tie is not None]
    bound = [s for s in supports if s.kind in ("sapling", "post")]
    posts = sum(s.kind == "post" for s in supports)
    straps = _straps(contacts, options)
    items = [
        GearItem(
            item="net with its top rope", count=1, length_m=perimeter_m, mass_kg=net.mass_kg,
            note="dry, as stated; wet it weighs more",
        ),
        *straps,
    ]  # fmt: skip
    if lines:
        rope = sum(t.length_m + options.line_tail.m for t in lines)
        note = f"in all, for {len(lines)} line{'s' if len(lines) > 1 else ''}, knots included; {WEIGH}"
        items.append(_item("guy rope", 1, MASSES["guy_rope_a_metre"] * rope, length_m=rope, note=note))
    if bound:
        cord = MASSES["tie_cord_a_metre"] * CORD_M
        items.append(_item("tie cord", 2 * len(bound), cord, length_m=CORD_M))
    items += _apron_stakes(stakes, options)
    items += _line_stakes([t for t in lines if t.stem is None], options)
    if posts:
        items.append(_item("post", posts, MASSES["post"], length_m=POST_M))
    hooks = sum(s.count for s in straps) + len(lines)
    items.append(_item("carabiner", hooks, MASSES["carabiner"]))
    hammering = stakes.needs_hammer or any(i.item == "picket" for i in items)
    return (*items, *_tools(posts > 0, any(s.kind == "high_rope" for s in supports), hammering))


def _item(name: str, count: int, mass_kg: float, *, length_m: float | None = None, note: str = WEIGH) -> GearItem:
    return GearItem(item=name, count=count, length_m=length_m, mass_kg=mass_kg, note=note)


def _spares(count: int, options: RiggingOptions) -> int:
    """The share of spares, rounded up, and at least one."""
    return max(1, math.ceil(options.spares * count - 1e-9))


def _straps(contacts: Sequence[RiggedContact], options: RiggingOptions) -> list[GearItem]:
    """Straps by length; the spares come in the longest, which can stand in for any other."""
    wanted = Counter(c.strap_m if c.strap_stock_m is None else c.strap_stock_m for c in contacts)
    made_up = {c.strap_m for c in contacts if c.strap_stock_m is None}
    longest = max(wanted)
    spare = _spares(PER_CONTACT * len(contacts), options)
    items = []
    for length in sorted(wanted):
        note = f"{spare} spare; {WEIGH}" if length == longest else WEIGH
        note = f"longer than any in stock: make it up; {note}" if length in made_up else note
        count = PER_CONTACT * wanted[length] + (spare if length == longest else 0)
        items.append(_item("strap", count, MASSES["strap_a_metre"] * length, length_m=length, note=note))
    return items


def _apron_stakes(stakes: StakeKinds, options: RiggingOptions) -> list[GearItem]:
    """What holds the apron in this ground, and what is brought beside it where nobody knows."""
    spare = _spares(stakes.count, options)
    items = []
    for kind in (stakes.apron.kind, *stakes.apron.also):
        made = APRON_STAKES[kind]
        length = None if math.isnan(made.length_m) else made.length_m
        why = "; in case stakes do not hold" if kind in stakes.apron.also else ""
        note = f"{spare} spare{why}; {WEIGH}"
        items.append(_item(made.title, stakes.count + spare, made.mass_kg, length_m=length, note=note))
    return items


def _line_stakes(ties: Sequence[Tie], options: RiggingOptions) -> list[GearItem]:
    """Pickets where the soil tells how many hold; a guy stake for each other line, which is then to be tested."""
    pickets = sum(t.pickets.pickets for t in ties if t.pickets is not None)
    bare = sum(t.pickets is None or t.pickets.holdfast is None for t in ties)
    unproven = sum(t.pickets is not None and t.pickets.holdfast is None for t in ties)
    items = []
    if pickets:
        spare = _spares(pickets, options)
        note = f"{spare} spare; wood, 3 in (8 cm) thick, may be cut on the spot where the owner allows; {WEIGH}"
        items.append(_item("picket", pickets + spare, MASSES["picket"], length_m=PICKET_M, note=note))
    if bare:
        spare = _spares(bare, options)
        doubt = "; this ground may not take them: test one" if unproven else ""
        note = f"{spare} spare{doubt}; {WEIGH}"
        items.append(_item("guy stake", bare + spare, MASSES["guy_stake"], length_m=GUY_STAKE_M, note=note))
    return items


def _tools(driving: bool, throwing: bool, hammering: bool) -> list[GearItem]:
    items = [
        _item("mallet", 1, MASSES["mallet"]),
        _item("measuring tape", 1, MASSES["tape"]),
        _item("compass", 1, MASSES["compass"]),
        _item("knife", 1, MASSES["knife"]),
        _item("pair of gloves", 2, MASSES["gloves"]),
        _item("roll of flagging", 1, MASSES["flagging"]),
    ]
    if driving:
        items.insert(1, _item("post driver", 1, MASSES["post_driver"]))
    if hammering:
        items.insert(1, _item("sledge hammer", 1, MASSES["sledge_hammer"]))
    if throwing:
        items.append(_item("throw line with weight", 1, MASSES["throw_line"]))
    return items
