"""Edits that outlive a crash, and one plan in one window."""

from __future__ import annotations

import datetime as dt
import json
import os
import signal
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from boscage.errors import InputError
from boscage.exports.desk_lock import PlanLock, process_runs, process_start, take_lock
from boscage.exports.journal import Journal, state_path
from boscage.model.journal import OpenElsewhere

NOW = dt.datetime(2026, 11, 21, 14, 3, tzinfo=dt.UTC)
EDITS = [{"edit": "set", "key": ["sites", "count"], "value": n, "note": "Süd\n" * (n % 3)} for n in range(6)]


def journal(folder: Path, on_disk: str = "first") -> Journal:
    return Journal(folder, "plan.toml", on_disk)


def filled(folder: Path) -> Journal:
    made = journal(folder)
    for edit in EDITS:
        made.append(edit)
    return made


def test_edits_come_back_in_order(tmp_path: Path) -> None:
    assert not journal(tmp_path).path.exists()
    assert filled(tmp_path).path == tmp_path / ".boscage" / "desk.journal"
    again = journal(tmp_path).replay
    assert list(again.edits) == EDITS
    assert again.fits
    assert again.said == (
        "The program stopped before saving: 6 edits that were not in the plan file came out of the journal.",
    )


def test_wherever_the_file_is_cut_off_the_whole_lines_before_come_back(tmp_path: Path) -> None:
    """Every length that a stop in the middle of a write can leave behind."""
    path = filled(tmp_path).path
    data = path.read_bytes()
    ends = [n + 1 for n, byte in enumerate(data) if byte == 10]
    for length in range(len(data) + 1):
        path.write_bytes(data[:length])
        found = journal(tmp_path).replay
        whole = sum(end <= length for end in ends)
        assert list(found.edits) == EDITS[: max(0, whole - 1)]
        assert ("is lost" in " ".join(found.said)) == (length > 0 and length not in ends)


def test_edits_go_on_behind_a_torn_line(tmp_path: Path) -> None:
    path = filled(tmp_path).path
    path.write_bytes(path.read_bytes()[:-20])
    after = journal(tmp_path)
    after.append({"edit": "more"})
    found = journal(tmp_path).replay
    assert list(found.edits) == [*EDITS[:-1], {"edit": "more"}]
    assert len(found.said) == 1


@pytest.mark.parametrize("change", [(b'"value": 2', b'"value": 9'), (b'"n": 4', b'"n": 5'), (b"{", b"\0")])
def test_a_damaged_line_ends_what_is_used(tmp_path: Path, change: tuple[bytes, bytes]) -> None:
    path = filled(tmp_path).path
    lines = path.read_bytes().split(b"\n")
    assert change[0] in lines[3]
    lines[3] = lines[3].replace(*change)
    path.write_bytes(b"\n".join(lines))
    found = journal(tmp_path).replay
    assert list(found.edits) == EDITS[:2]
    assert found.said[1] == "The journal is damaged: 4 lines from the first damaged one on are not used."


@pytest.mark.parametrize("order", [(0, 1, 2, 2, 3), (0, 1, 2, 4, 3), (0, 1, 2, 0)], ids=["twice", "turned", "head"])
def test_whole_lines_out_of_order_end_it_too(tmp_path: Path, order: tuple[int, ...]) -> None:
    path = filled(tmp_path).path
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(lines[n] for n in order))
    assert list(journal(tmp_path).replay.edits) == EDITS[:2]


def test_an_edit_is_on_the_disk_when_it_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The whole line is in the file at the moment when the system is asked to bring it to the disk."""
    sizes = []
    real = os.fsync
    monkeypatch.setattr(os, "fsync", lambda number: (sizes.append(os.fstat(number).st_size), real(number)))
    made = journal(tmp_path)
    for n, edit in enumerate(EDITS, start=1):
        made.append(edit)
        assert made.path.stat().st_size in sizes[-2:]
        assert len(sizes) >= n


def test_a_save_clears_it(tmp_path: Path) -> None:
    made = filled(tmp_path)
    made.about_to_save("second")
    made.clear("second")
    assert not made.path.exists()
    made.append({"edit": "later"})
    assert journal(tmp_path, "second").replay.edits == ({"edit": "later"},)
    assert journal(tmp_path, "second").replay.fits
    assert not journal(tmp_path, "first").replay.fits


def test_a_stop_between_the_save_and_the_clearing_makes_no_edit_twice(tmp_path: Path) -> None:
    filled(tmp_path).about_to_save("second")
    before, after = journal(tmp_path, "first").replay, journal(tmp_path, "second")
    assert list(before.edits) == EDITS, "the plan file was not written yet"
    assert before.fits
    assert not after.replay
    assert after.replay.fits
    after.append({"edit": "later"})
    assert journal(tmp_path, "second").replay.edits == ({"edit": "later"},)


def test_edits_after_a_save_that_could_not_be_cleared_are_the_only_ones(tmp_path: Path) -> None:
    made = filled(tmp_path)
    made.about_to_save("second")
    made.append({"edit": "later"})
    assert journal(tmp_path, "second").replay.edits == ({"edit": "later"},)


def test_a_plan_that_was_changed_meanwhile_is_said_and_nothing_is_made_by_itself(tmp_path: Path) -> None:
    filled(tmp_path)
    other = journal(tmp_path, "theirs")
    assert list(other.replay.edits) == EDITS
    assert not other.replay.fits
    assert "look at each" in other.replay.said[-1]
    other.keep_only(EDITS[:2], "theirs")
    found = journal(tmp_path, "theirs").replay
    assert (list(found.edits), found.fits) == (EDITS[:2], True)
    other.append(EDITS[5])
    assert list(journal(tmp_path, "theirs").replay.edits) == [*EDITS[:2], EDITS[5]]


def test_each_plan_of_a_folder_has_its_own(tmp_path: Path) -> None:
    filled(tmp_path)
    other = Journal(tmp_path, str(tmp_path / "north.toml"), "")
    other.append({"edit": "north"})
    assert other.path.name == "desk.north.journal"
    assert list(journal(tmp_path).replay.edits) == EDITS


WRITER = """
import sys
from pathlib import Path
from boscage.exports.journal import Journal
made = Journal(Path(sys.argv[1]), "plan.toml", "first")
n = 0
while True:
    made.append({"edit": n, "text": "x" * (n * 37 % 5000)})
    print(n, flush=True)
    n += 1
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no such signal on this system")
@pytest.mark.parametrize("told", [0, 1, 2, 7, 40])
def test_a_killed_process_loses_at_most_the_edit_it_was_writing(tmp_path: Path, told: int) -> None:
    writer = subprocess.Popen([sys.executable, "-c", WRITER, str(tmp_path)], stdout=subprocess.PIPE, text=True)
    assert writer.stdout is not None
    last = -1
    while last < told:
        last = int(writer.stdout.readline())
    os.kill(writer.pid, signal.SIGKILL)
    rest = writer.stdout.read().split()
    writer.wait()
    writer.stdout.close()
    last = int(rest[-1]) if rest else last
    found = journal(tmp_path).replay
    assert [e["edit"] for e in found.edits][: last + 1] == list(range(last + 1)), "an edit that was told is gone"
    assert len(found.edits) <= last + 2
    assert found.fits


FULL = """
import resource, signal, sys
from pathlib import Path
from boscage.errors import InputError
from boscage.exports.journal import Journal
made = Journal(Path(sys.argv[1]), "plan.toml", "first")
made.append({"edit": 0})
whole = made.path.stat().st_size
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
hard = resource.getrlimit(resource.RLIMIT_FSIZE)[1]
resource.setrlimit(resource.RLIMIT_FSIZE, (made.path.stat().st_size + 50, hard))
try:
    made.append({"edit": 1, "text": "x" * 500})
except InputError as error:
    print(error)
    print(made.path.stat().st_size == whole)
resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))
made.append({"edit": 2})
"""


@pytest.mark.skipif(sys.platform != "linux", reason="the limit of a file's size stands for a full disk")
def test_a_full_disk_is_one_sentence_and_leaves_no_torn_line(tmp_path: Path) -> None:
    told = subprocess.run(
        [sys.executable, "-c", FULL, str(tmp_path)], capture_output=True, text=True, check=True
    ).stdout.splitlines()  # fmt: skip
    path = state_path(tmp_path, "plan.toml", "journal")
    assert told == [
        f"{path}: the last edit is not kept against a crash: File too large; "
        "free some space or check who may write there, and save the plan now.",
        "True",
    ]
    found = journal(tmp_path).replay
    assert [e["edit"] for e in found.edits] == [0, 2]
    assert len(found.said) == 1


def test_a_folder_that_cannot_be_written_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / ".boscage").write_text("a file", encoding="utf-8")
    with pytest.raises(InputError, match="the last edit is not kept against a crash"):
        journal(tmp_path).append({"edit": 1})
    with pytest.raises(InputError, match="nothing can be written that says the plan is open"):
        take_lock(tmp_path, "plan.toml")


def lock(folder: Path) -> PlanLock | OpenElsewhere:
    return take_lock(folder, str(folder / "plan.toml"), now=NOW)


def written(folder: Path, **facts: object) -> Path:
    path = state_path(folder, "plan.toml", "lock")
    path.parent.mkdir(exist_ok=True)
    held = {"host": socket.gethostname(), "process": os.getpid(), "started": process_start(os.getpid()),
            "since": "2026-11-20 08:00 UTC", "plan": "plan.toml", **facts}  # fmt: skip
    path.write_text(json.dumps(held), encoding="utf-8")
    return path


def test_a_plan_opens_once(tmp_path: Path) -> None:
    first = lock(tmp_path)
    assert isinstance(first, PlanLock)
    assert first.note == ""
    second = lock(tmp_path)
    assert isinstance(second, OpenElsewhere)
    assert not second
    assert second.reason == "plan.toml is open in this window since 2026-11-21 14:03 UTC; close it there first."
    first.release()
    assert not first.path.exists()
    assert isinstance(lock(tmp_path), PlanLock)


HOLDER = """
import sys
from pathlib import Path
from boscage.exports.desk_lock import take_lock
print(bool(take_lock(Path(sys.argv[1]), "plan.toml")), flush=True)
sys.stdin.readline()
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no such signal on this system")
def test_a_lock_of_a_running_process_holds_and_that_of_a_killed_one_is_taken_over(tmp_path: Path) -> None:
    holder = subprocess.Popen(
        [sys.executable, "-c", HOLDER, str(tmp_path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert holder.stdout is not None
    assert holder.stdin is not None
    assert holder.stdout.readline() == "True\n"
    held = lock(tmp_path)
    assert isinstance(held, OpenElsewhere)
    assert held.process == holder.pid
    assert f"is open in another window (process {holder.pid}) since" in held.reason
    os.kill(holder.pid, signal.SIGKILL)
    os.waitid(os.P_PID, holder.pid, os.WEXITED | os.WNOWAIT)
    assert not process_runs(holder.pid), "dead, and still listed until its parent takes note"
    taken = lock(tmp_path)
    assert isinstance(taken, PlanLock)
    assert taken.note.startswith(f"A lock of process {holder.pid}, which is gone, was taken over: ")
    holder.wait()
    holder.stdin.close()
    holder.stdout.close()


@pytest.mark.skipif(not process_start(os.getpid()), reason="the system does not say when a process started")
def test_a_later_process_of_the_same_number_is_not_taken_for_the_holder(tmp_path: Path) -> None:
    written(tmp_path, started="another boot 17")
    taken = lock(tmp_path)
    assert isinstance(taken, PlanLock)
    assert "was taken over" in taken.note


def test_a_lock_of_another_machine_is_never_taken_over(tmp_path: Path) -> None:
    path = written(tmp_path, host="other-host", process=2**22 + 1, started="")
    held = lock(tmp_path)
    assert isinstance(held, OpenElsewhere)
    assert held.reason == (
        f"plan.toml is open on other-host since 2026-11-20 08:00 UTC (process {2**22 + 1}); close it there, or take "
        f"{path} away if that window is gone."
    )


@pytest.mark.parametrize("text", ["", "{", "null", '{"host": 3}', "\0\0\0"])
def test_a_damaged_lock_keeps_nobody_out(tmp_path: Path, text: str) -> None:
    path = written(tmp_path)
    path.write_text(text, encoding="utf-8")
    taken = lock(tmp_path)
    assert isinstance(taken, PlanLock)
    assert taken.note == ("A damaged lock was taken over." if text else "")


def test_a_lock_that_is_no_longer_ours_is_left_alone(tmp_path: Path) -> None:
    mine = lock(tmp_path)
    assert isinstance(mine, PlanLock)
    path = written(tmp_path, host="other-host")
    mine.release()
    assert "other-host" in path.read_text(encoding="utf-8")


@pytest.mark.skipif(sys.platform == "win32", reason="held in another way there")
def test_nobody_reads_a_lock_while_it_is_being_written(tmp_path: Path) -> None:
    import fcntl

    path = state_path(tmp_path, "plan.toml", "lock")
    path.parent.mkdir()
    with path.open("wb") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        other = subprocess.Popen(
            [sys.executable, "-c", HOLDER, str(tmp_path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        with pytest.raises(subprocess.TimeoutExpired):
            other.communicate("\n", timeout=2.0)
        written(tmp_path)
    assert other.communicate(timeout=20.0)[0] == "False\n"


RACER = """
import sys
from pathlib import Path
from boscage.exports.desk_lock import take_lock
sys.stdin.readline()
print(bool(take_lock(Path(sys.argv[1]), "plan.toml")), flush=True)
sys.stdin.readline()
"""


def test_of_several_that_come_at_once_one_gets_it(tmp_path: Path) -> None:
    """A stale lock lies there, and all of them find it."""
    written(tmp_path, process=2**22 + 1)
    racers = [
        subprocess.Popen([sys.executable, "-c", RACER, str(tmp_path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                         text=True)
        for _ in range(4)
    ]  # fmt: skip
    for racer in racers:
        assert racer.stdin is not None
        racer.stdin.write("\n")
        racer.stdin.flush()
    got = [racer.stdout.readline() for racer in racers if racer.stdout is not None]
    for racer in racers:
        racer.communicate("\n")
    assert sorted(got) == ["False\n"] * 3 + ["True\n"]
