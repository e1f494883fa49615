"""A plan file as text, so that it can be edited with everything in it kept."""

from __future__ import annotations

from pathlib import Path

from boscage.errors import PlanError
from boscage.model.plan_edits import BOM, PlanText, digest
from boscage.readers.plan_file import read_toml


def read_plan_text(path: str | Path) -> PlanText:
    """The text of a plan file.

    Raises:
        PlanError: There is no such file, it is a folder, it is not UTF-8, or its TOML is broken.
    """
    read_toml(path, what="plan")
    try:
        data = Path(path).expanduser().read_bytes()
    except OSError as error:
        raise PlanError(f"the plan cannot be read ({error.strerror})", file=str(path)) from None
    return PlanText(file=str(path), text=data.decode("utf-8-sig"), bom=data.startswith(BOM), on_disk=digest(data))
