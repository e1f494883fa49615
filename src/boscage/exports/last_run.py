"""The ranking of a run, kept beside the outputs so that the next run can say what moved."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

from boscage.exports.staging import STATE_FOLDER

RANKING = "ranking.json"


def keep_ranking(out: Path, table: dict[str, Any]) -> None:
    """Write the kept rankings, whole or not at all; where that cannot be done nothing is kept and nothing is said."""
    target = out / STATE_FOLDER / RANKING
    part = target.with_suffix(f".{os.getpid()}.part")
    try:
        part.write_text(json.dumps(table, allow_nan=False) + "\n", encoding="utf-8")
        os.replace(part, target)
    except (OSError, ValueError):
        part.unlink(missing_ok=True)
