"""`boscage demo [DIR]`."""

from __future__ import annotations

from pathlib import Path

import click

from boscage.cli.scout import show
from boscage.cli.screen import ProgressLine


@click.command(name="demo")
@click.argument("folder", type=click.Path(), default="dunnock-hollow", metavar="[DIR]")
def command(folder: str) -> int:
    """Copy the sample ranch to DIR (default: dunnock-hollow) and run the whole job on it.

    Dunnock Hollow Ranch is invented, and so are all its data. The plan file in DIR is a good one to copy.
    """
    from boscage.pipeline.demo import demo

    target = Path(folder)
    result = demo(target, progress=ProgressLine())
    show(result, target / "out")
    return 0 if result else 3
