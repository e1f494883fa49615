"""`boscage demo`: the sample ranch copied to a folder, and the whole job on it."""

from __future__ import annotations

import shutil
from importlib import resources
from pathlib import Path

from boscage.errors import InputError
from boscage.model.results import ScoutResult
from boscage.pipeline.check import check
from boscage.pipeline.drop import drop
from boscage.pipeline.pack import pack
from boscage.pipeline.progress import Progress, silent
from boscage.pipeline.report import report
from boscage.pipeline.rig import rig_plan
from boscage.pipeline.scout import scout
from boscage.pipeline.share import share
from boscage.readers.gear_list import read_gear_lists

PLAN = "plan.toml"


def sample_folder() -> Path:
    """Where the sample ranch lies: in the installed package, or beside `src` in a checkout.

    Raises:
        InputError: The installation has no sample ranch.
    """
    installed = Path(str(resources.files("boscage"))) / "sample_data"
    checkout = Path(__file__).resolve().parents[3] / "sample_data"
    for folder in (installed, checkout):
        if (folder / PLAN).is_file():
            return folder
    raise InputError("the sample ranch is not installed", mend="install the program again from its wheel")


def copy_sample(target: Path) -> Path:
    """Copy the sample ranch's layers and plan to a folder and return the plan.

    Files of the sample that are there already are replaced; anything else in the folder stays.

    Raises:
        InputError: The folder is a file, or cannot be written.
    """
    source = sample_folder()
    try:
        if target.exists() and not target.is_dir():
            raise InputError("it is a file", expected="a folder for the sample ranch", file=str(target))
        for path in sorted(source.rglob("*")):
            relative = path.relative_to(source)
            if relative.parts[0] in ("generate", "out") or "__pycache__" in relative.parts or path.is_dir():
                continue
            (target / relative).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(path, target / relative)
    except OSError as error:
        raise InputError(
            f"the sample ranch cannot be copied: {error.strerror or error}", mend="name another folder",
            file=str(target),
        ) from error  # fmt: skip
    return target / PLAN


def demo(target: Path, *, progress: Progress = silent) -> ScoutResult:
    """Copy the sample ranch and run every job on it; the outputs are in `out` beside the plan."""
    plan = copy_sample(target)
    out = target / "out"
    check(plan, out=out)
    result = scout(plan, out=out, progress=progress)
    if result:
        rig_plan(plan, out=out, progress=progress)
        pack(plan, out=out, progress=progress)
        drop(plan, tuple(read_gear_lists(out)), out=out, progress=progress)
        for masked in (False, True):
            share(plan, out=out, masked=masked, progress=progress)
        report(plan, out=out, progress=progress)
    progress("done", 1, 1)
    return result
