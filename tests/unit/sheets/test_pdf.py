"""The file: the same bytes for the same pages, and whole or not there."""

import datetime as dt
import hashlib
import os
import subprocess
import sys
from pathlib import Path

import matplotlib
import pytest

from boscage.sheets.field_sheets import print_field_sheets
from boscage.sheets.page import Page
from boscage.sheets.pdf import own_settings, write_pdf

PRINT_ONE = """
import sys
sys.path[:0] = sys.argv[1:3]
from pathlib import Path
import conftest
from boscage.sheets.field_sheets import print_field_sheets
made = conftest.build(sites=1)
print_field_sheets(made.result, made.overview, made.closeups, Path(sys.argv[3]))
"""


def test_same_bytes_whatever_the_hash_seed_and_the_settings(make, tmp_path):
    target, digests, here = tmp_path / "there.pdf", set(), Path(__file__).parent
    subprocess.run(
        [sys.executable, "-c", PRINT_ONE, str(here), str(here.parents[1] / "support"), str(target)], check=True,
        env={**os.environ, "PYTHONHASHSEED": "12"},
    )  # fmt: skip
    digests.add(hashlib.sha256(target.read_bytes()).hexdigest())
    made = make(sites=1)
    with matplotlib.rc_context({"font.size": 20, "pdf.fonttype": 3, "lines.linewidth": 9, "hatch.linewidth": 4}):
        print_field_sheets(made.result, made.overview, made.closeups, tmp_path / "here.pdf")
    digests.add(hashlib.sha256((tmp_path / "here.pdf").read_bytes()).hexdigest())
    assert len(digests) == 1


def test_a_failure_leaves_the_old_file_and_nothing_else(tmp_path):
    target = tmp_path / "a.pdf"
    target.write_bytes(b"old")

    def pages():
        yield Page("a4", number=1, of=2)
        raise RuntimeError("no more paper")

    with own_settings(), pytest.raises(RuntimeError, match="no more paper"):
        write_pdf(pages(), target, title="t", date=dt.date(2026, 1, 1))
    assert target.read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["a.pdf"]
