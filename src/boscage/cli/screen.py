"""What commands share on the screen: progress, wrapped text, the folder they write in."""

from __future__ import annotations

import shutil
import sys
import textwrap
from pathlib import Path

import click


class ProgressLine:
    """One line on standard error that is overwritten; a line for each step where that is no terminal."""

    def __init__(self) -> None:
        self._live = sys.stderr.isatty()
        self._step = ""
        self._shown = 0

    def __call__(self, step: str, done: int, total: int) -> None:
        """Show how far a step is."""
        if self._live:
            part = f" {done}/{total}" if total > 1 else ""
            text = "" if step == "done" else f"  {step}{part} ..."
            click.echo("\r" + text.ljust(self._shown) + ("\r" if step == "done" else ""), nl=False, err=True)
            self._shown = len(text)
        elif step not in (self._step, "done"):
            click.echo(f"  {step} ...", err=True)
        self._step = step


def default_out(plan: str) -> Path:
    """The folder `out` beside a plan file."""
    return Path(plan).parent / "out"


def wrapped(text: str, *, indent: str = "") -> str:
    """Text broken to the terminal's width, at most 110, every line but the first with the indent."""
    width = max(40, min(110, shutil.get_terminal_size().columns))
    return textwrap.fill(text, width=width, subsequent_indent=indent, break_long_words=False)
