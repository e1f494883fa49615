"""Boscage: choose, rig, supply and account for live-capture sets hung from standing trees.

Public names are resolved on first use, so that importing the package loads nothing heavy.
"""

from __future__ import annotations

from typing import Any

__version__ = "0.1.0"

_PUBLIC = {
    "BoscageError": "boscage.errors",
    "InputError": "boscage.errors",
    "Length": "boscage.values",
    "Mass": "boscage.values",
    "Grid": "boscage.values",
    "Plan": "boscage.model.plan",
    "Factor": "boscage.model.factor",
    "read_plan": "boscage.readers.plan_file",
    "check": "boscage.pipeline.check",
    "scout": "boscage.pipeline.scout",
}
__all__ = ["__version__", *_PUBLIC]  # noqa: PLE0604


def __getattr__(name: str) -> Any:
    """Import the module that holds a public name and return the name."""
    if name not in _PUBLIC:
        raise AttributeError(f"module 'boscage' has no attribute '{name}'")
    from importlib import import_module

    return getattr(import_module(_PUBLIC[name]), name)


def __dir__() -> list[str]:
    return sorted(__all__)
