"""Plug-ins: factors and readers found through entry points, built-in ones the same way as outside ones.

Listing imports nothing. A name claimed twice is an error; a broken plug-in is reported by name when it is asked for.
"""

from __future__ import annotations

from importlib.metadata import EntryPoint, entry_points
from typing import TYPE_CHECKING, Any

from boscage.errors import PlanError, PluginError

if TYPE_CHECKING:
    from boscage.model.factor import Factor, FactorOptions
    from boscage.model.plan import Plan
    from boscage.readers.protocol import Reader

FACTORS = "boscage.factors"
READERS = "boscage.readers"


def list_plugins(group: str) -> dict[str, EntryPoint]:
    """Entry points of a group by name, in alphabetical order; nothing is imported.

    Raises:
        PluginError: Two different objects claim one name.
    """
    found: dict[str, EntryPoint] = {}
    for point in sorted(entry_points(group=group), key=lambda p: (p.name, p.value)):
        other = found.get(point.name)
        if other is not None and other.value != point.value:
            raise PluginError(
                f"the plug-in name {point.name} in {group} is claimed by both {other.value} and {point.value}; "
                "uninstall one of the two packages",
                plugin=point.name,
                group=group,
            )
        found[point.name] = point
    return found


def load_plugin(group: str, name: str) -> Any:
    """Import one plug-in and make its object.

    Raises:
        PluginError: There is no such name, the import fails, or making the object fails.
    """
    points = list_plugins(group)
    if name not in points:
        raise PluginError(
            f"there is no plug-in {name} in {group}; installed are {', '.join(points) or 'none'}",
            plugin=name,
            group=group,
        )
    try:
        return points[name].load()()
    except Exception as error:
        raise PluginError(
            f"the plug-in {name} ({points[name].value}) cannot be loaded: {error}; "
            "mend or uninstall the package that brings it",
            plugin=name,
            group=group,
        ) from error


def load_readers() -> list[Reader]:
    """Every installed reader, in alphabetical order of their names."""
    return [load_plugin(READERS, name) for name in list_plugins(READERS)]


def load_factors(plan: Plan) -> list[tuple[Factor, FactorOptions]]:
    """The factors of a run with the options that the plan gives each; weight 0 leaves one out.

    Raises:
        PlanError: The plan has a table for a factor that is not installed, or a wrong value in one.
        PluginError: A factor that takes part cannot be loaded.
    """
    from boscage.model.options import read_options, unknown_key

    names = list_plugins(FACTORS)
    for name in plan.factors:
        if name not in names:
            raise unknown_key(name, names, file=plan.file, key="factors")
    chosen = []
    for name in names:
        if plan.factors.get(name, {}).get("weight") == 0:
            continue
        factor = load_plugin(FACTORS, name)
        options = read_options(factor.Options, plan.factors.get(name, {}), file=plan.file, key=f"factors.{name}")
        chosen.append((factor, options))
    if not chosen:
        raise PlanError(
            "every factor has the weight 0", expected="at least one above 0", file=plan.file, field="factors"
        )
    return chosen
