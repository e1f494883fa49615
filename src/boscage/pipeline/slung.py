"""What hangs on the hook: each site's gear divided into loads under the pilot's limit."""

from __future__ import annotations

import math
from collections.abc import Sequence

from boscage.airlift.flights import hanging_kg
from boscage.model.brief import SlungItem, SlungLoad
from boscage.model.pack import Convoy, PackItem, Part
from boscage.model.plan import Plan
from boscage.packing.load import plan_loads

NO_LIMIT_KG = 1e6


def carried_kg(items: Sequence[PackItem], site: str) -> float:
    """Known mass of a site's own items."""
    return sum(i.total_kg or 0.0 for i in items if i.site == site)


def hook_loads(
    items: Sequence[PackItem], sites: Sequence[str], plan: Plan
) -> tuple[tuple[SlungLoad, ...], list[str]]:  # fmt: skip
    """Loads of each site, as few as the limit on the hook lets, and what does not hang on any, in words.

    The limit holds for line, swivel and sling net too, as far as they are stated. An item over the limit is a load of
    its own, for the flights to leave out; it is never split.
    """
    brief, drop = plan.brief, plan.drop
    sling = 0.0 if brief.sling_mass is None else brief.sling_mass.kg
    limit = NO_LIMIT_KG if drop.load_limit is None else drop.load_limit.kg - hanging_kg(brief) - sling
    convoy = Convoy(parts=(Part(carrier=0, name="hook", limit_kg=max(limit, 0.001)),), cargo_kg=(math.inf,))
    loads: list[SlungLoad] = []
    notes: list[str] = []
    for site in sites:
        own = [i for i in items if i.site == site]
        made = plan_loads(own, convoy, plan.pack)
        loads += [_load(site, [(p.item, p.count) for p in load.portions], plan) for load in made.loads]
        loads += [_load(site, [(item, 1)], plan) for item in made.over_limit for _ in range(item.count)]
        lost = [b.item.label for b in made.left_behind if b.item.mass_kg is None]
        if lost:
            notes.append(f"Not in any load for {site}, its mass is not known: {', '.join(lost)}. Weigh it.")
    return tuple(loads), notes


def _load(site: str, portions: Sequence[tuple[PackItem, int]], plan: Plan) -> SlungLoad:
    def mass(weighed: tuple[bool, ...]) -> float:
        return sum(n * (i.mass_kg or 0.0) for i, n in portions if i.weighed in weighed)

    return SlungLoad(
        number=0, site=site, flight=0, order=0, items=tuple(SlungItem(item=i, count=n) for i, n in portions),
        items_kg=mass((True, False)), estimated_kg=mass((False,)), rigging_kg=plan.brief.rigging_kg,
    )  # fmt: skip
