"""`boscage desk [PLAN]`."""

from __future__ import annotations

import click

from boscage.errors import InputError


@click.command(name="desk")
@click.argument("plan", type=click.Path(), required=False)
def command(plan: str | None) -> int:
    """Open the desktop window on a plan, or on a first page that makes one out of dropped layers.

    The map, the ranking with weights moved by hand, everything known of a place, rings, and what the other commands
    print. Nothing is written but the plan, when it is saved, and what jobs write. No network is used.
    """
    try:
        from boscage.desk.app import run
    except ModuleNotFoundError as error:
        if (error.name or "").split(".")[0] != "PySide6":
            raise
        raise InputError(
            "the window needs PySide6, which is not installed", mend="pip install 'boscage[desk]'"
        ) from error
    return run(plan)
