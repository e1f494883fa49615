"""`python sample_data/generate [FOLDER]`: write the sample ranch, by default into sample_data."""

from __future__ import annotations

import sys
from pathlib import Path

HOME = Path(__file__).resolve().parent.parent

if __name__ == "__main__":
    sys.path.insert(0, str(HOME))
    from generate.build import build

    build(Path(sys.argv[1]) if len(sys.argv) > 1 else HOME)
