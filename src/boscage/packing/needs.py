"""What has to go in: the gear of each ring, then aid, tools, cameras and bait, item by item with its mass."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from boscage.errors import PlanError
from boscage.model.options import unknown_key
from boscage.model.pack import SOAKS, PackItem, PackOptions, Purpose
from boscage.model.rig_plan import GearItem


def list_needs(
    gear: Mapping[str, Sequence[GearItem]], options: PackOptions, *, file: str = "plan.toml"
) -> tuple[PackItem, ...]:
    """Everything to be carried: each site's own, then what the job takes once (`site` is '').

    Args:
        gear: Gear list of each site's ring, by the site's name.
        options: `[pack]`.
        file: The plan, for messages.

    Raises:
        PlanError: A weighed item is none of those that go, or comes in several lengths; a mass is negative.
    """
    items = [item for site, lines in gear.items() for item in (*_rig(site, lines, options), *_site(site, options))]
    items += _crew(options)
    kept = [i for i in items if i.count > 0]
    for name in options.weighed:
        _check_weighed(name, kept, file)
    return tuple(_on_scale(i, options) for i in kept)


def _check_weighed(name: str, items: Sequence[PackItem], file: str) -> None:
    """That a weighed item is one of those that go, and one only."""
    if any(i.label == name for i in items):
        return
    labels = {i.label for i in items if i.item == name}
    if not labels:
        raise unknown_key(name, sorted({i.item for i in items}), file=file, key="pack.weighed")
    if len(labels) > 1:
        raise PlanError(
            f"{name} comes in several lengths", expected="one of " + ", ".join(sorted(labels)),
            mend="weigh each and name it with its length", file=file, field=f"pack.weighed.{name}",
        )  # fmt: skip


def _on_scale(item: PackItem, options: PackOptions) -> PackItem:
    """The item with the mass that the scale gave, if it was on one."""
    scale = options.weighed.get(item.label, options.weighed.get(item.item))
    if scale is None:
        return item
    wet = 0.0 if options.weighed_wet else item.wet_share
    return replace(item, dry_kg=scale.kg, weighed=True, wet_share=wet, grade="")


def total_kg(items: Sequence[PackItem]) -> tuple[float, int]:
    """Mass of all items whose mass is known, and how many lines have none."""
    known = [i.total_kg for i in items if i.total_kg is not None]
    return sum(known), len(items) - len(known)


def _rig(site: str, lines: Sequence[GearItem], options: PackOptions) -> list[PackItem]:
    for line in lines:
        if line.mass_kg is not None and line.mass_kg < 0.0:
            raise PlanError(
                f"{line.item} of {site} has the mass {line.mass_kg:g} kg", expected="a mass of 0 or more",
                mend="weigh it and state it under [pack] weighed", field="gear",
            )  # fmt: skip
    return [_item(site, "rig", line, options) for line in lines]


def _site(site: str, options: PackOptions) -> list[PackItem]:
    camera = GearItem(item="camera", count=options.cameras, mass_kg=options.camera.kg)
    bait = GearItem(item="bag of bait", count=options.bait_bags, mass_kg=options.bait_bag.kg)
    return [_item(site, "camera", camera, options), _item(site, "bait", bait, options)]


def _crew(options: PackOptions) -> list[PackItem]:
    aid = [
        GearItem(item="first aid kit", count=int(options.first_aid.kg > 0.0), mass_kg=options.first_aid.kg),
        GearItem(item="protective equipment", count=options.people, mass_kg=options.ppe.kg),
        GearItem(item="drinking water", count=options.people, mass_kg=options.water.kg),
    ]
    tools = [GearItem(item=name, count=1, mass_kg=mass.kg) for name, mass in options.tools.items()]
    return [_item("", "aid", line, options) for line in aid] + [_item("", "tool", line, options) for line in tools]


def _item(site: str, purpose: Purpose, line: GearItem, options: PackOptions) -> PackItem:
    # whole words, so that a pipeline is no line
    soaks = purpose == "rig" and any(word in SOAKS for word in line.item.replace("-", " ").split())
    return PackItem(
        site=site, item=line.item, count=line.count, dry_kg=line.mass_kg, wet_share=options.wet if soaks else 0.0,
        purpose=purpose, length_m=line.length_m, grade="C", note=line.note,
    )  # fmt: skip
