"""The two workers as processes of their own: answers, order, failures, and what a kill leaves behind."""

from __future__ import annotations

import multiprocessing
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

import pytest

from boscage.model.desk import LayerSwitches, Opened, Pixels, TileRequest, ViewFrame, ViewRequest
from boscage.model.desk_answers import (
    Failure,
    JobDone,
    JobRequest,
    PlaceAnswer,
    RankAnswer,
    RigAnswer,
    RigListRequest,
    RigRequest,
    SiteEdits,
)
from boscage.pipeline.desk_worker import DONE, DROPPED, FAILED, PROGRESS, run_job_worker, run_map_worker

SPAWN = multiprocessing.get_context("spawn")
PATIENCE_S = 200.0


class Worker:
    """A worker and this end of its connection."""

    def __init__(self, target: Callable[[Connection], None]) -> None:
        self.ours, theirs = SPAWN.Pipe()
        self.process = SPAWN.Process(target=target, args=(theirs,), daemon=True)
        self.process.start()
        theirs.close()
        self.progress: list[tuple[int, tuple[str, int, int]]] = []

    def send(self, number: Any, verb: Any, *arguments: Any) -> None:
        self.ours.send((number, verb, arguments))

    def receive(self) -> tuple[int, str, Any]:
        """The next answer that is no progress."""
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            if self.ours.poll(0.5):
                number, kind, payload = self.ours.recv()
                if kind != PROGRESS:
                    return number, kind, payload
                self.progress.append((number, payload))
        raise AssertionError("no answer")

    def ask(self, number: int, verb: str, *arguments: Any) -> tuple[str, Any]:
        self.send(number, verb, *arguments)
        found, kind, payload = self.receive()
        assert found == number
        return kind, payload

    def end(self) -> None:
        if self.process.is_alive():
            self.process.kill()
        self.process.join(20)


@pytest.fixture(scope="module")
def opened(plan: Path) -> Iterator[tuple[Worker, Opened]]:
    worker = Worker(run_map_worker)
    kind, payload = worker.ask(1, "open", str(plan), "")
    assert kind == DONE, payload
    yield worker, payload
    worker.end()


@pytest.fixture
def jobs() -> Iterator[Worker]:
    worker = Worker(run_job_worker)
    yield worker
    worker.end()


def test_naming_the_entry_points_loads_nothing_heavy() -> None:
    heavy = ("numpy", "numba", "matplotlib", "geopandas", "rasterio", "pandas", "scipy", "shapely", "pyproj")
    code = f"import sys, boscage.pipeline.desk_worker; print([m for m in {heavy!r} if m in sys.modules])"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "[]\n"
    code = f"import sys, boscage.model.desk_answers; print([m for m in {heavy[1:]!r} if m in sys.modules])"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "[]\n"


def test_an_opened_ranch_answers_every_question(opened: tuple[Worker, Opened]) -> None:
    worker, ranch = opened
    assert ranch.ranch == "Tiny Ranch" and len(ranch.factors) == 8 and ranch.open_ha > 0
    steps = [payload[0] for number, payload in worker.progress if number == 1]
    assert "reading layers" in steps and "ranking" in steps and steps[-1] == "done"
    b = ranch.bounds
    frame = ViewFrame(
        x_m=(b.west + b.east) / 2, y_m=(b.south + b.north) / 2, metres_per_px=10.0, width_px=300, height_px=200
    )
    site = "T-01"
    expected = {
        "tile": (Pixels, (TileRequest(zoom=2, col=1, row=1),)), "view": (Pixels, (ViewRequest(frame=frame),)),
        "legend": (tuple, (ViewRequest(frame=frame),)), "rank": (RankAnswer, (SiteEdits(weights={"cover": 2.0}),)),
        "steadiness": (RankAnswer, (SiteEdits(weights={"cover": 2.0}),)),
        "place": (PlaceAnswer, (frame.x_m, frame.y_m, True)), "rig": (RigAnswer, (RigRequest(site=site),)),
        "rig_list": (RigAnswer, (RigListRequest(columns=("stem", "dbh_cm", "x_m", "y_m"), rows=()),)),
    }  # fmt: skip
    for number, (verb, (cls, arguments)) in enumerate(expected.items(), start=10):
        kind, payload = worker.ask(number, verb, *arguments)
        assert kind == DONE, (verb, payload)
        assert isinstance(payload, cls), verb


def test_tiles_come_latest_first_and_questions_before_them(opened: tuple[Worker, Opened]) -> None:
    worker, ranch = opened
    odd = LayerSwitches(sign=False, names=False)
    tiles = ranch.scheme.tiles(4, ranch.bounds)[:12]
    worker.send(100, "view", ViewRequest(frame=ViewFrame(x_m=ranch.bounds.west, y_m=ranch.bounds.south,
                metres_per_px=8.0, width_px=900, height_px=900), part="all"))  # fmt: skip
    for n, (col, row) in enumerate(tiles):
        worker.send(200 + n, "tile", TileRequest(zoom=4, col=col, row=row, switches=odd))
    worker.send(300, "place", ranch.bounds.west + 500.0, ranch.bounds.south + 500.0, False)
    worker.send(150, "withdraw", (203, 204, 999))
    answers = [worker.receive() for _ in range(2 + len(tiles))]
    kinds = {number: kind for number, kind, _ in answers}
    assert kinds[203] == kinds[204] == DROPPED
    assert all(kinds[n] == DONE for n in kinds if n not in (203, 204))
    order = [number for number, kind, _ in answers if kind == DONE]
    late = order[order.index(300) + 1 :]
    assert late == sorted(late, reverse=True) and len(late) >= 8, "the question overtook the tiles that waited"


def test_all_that_is_wanted_now_takes_the_place_of_what_was(opened: tuple[Worker, Opened]) -> None:
    worker, ranch = opened
    odd = LayerSwitches(fences=False)
    tiles = [TileRequest(zoom=5, col=c, row=r, switches=odd) for c, r in ranch.scheme.tiles(5, ranch.bounds)[:20]]
    worker.send(400, "view", ViewRequest(frame=ViewFrame(x_m=ranch.bounds.west, y_m=ranch.bounds.south,
                metres_per_px=8.0, width_px=900, height_px=901), part="all"))  # fmt: skip
    worker.send(0, "tiles", tuple((500 + n, t) for n, t in enumerate(tiles[:10])))
    worker.send(0, "tiles", tuple((505 + n, t) for n, t in enumerate(tiles[5:15])))
    answers = [worker.receive() for _ in range(16)]
    kinds = {number: kind for number, kind, _ in answers}
    assert all(kinds[n] == DROPPED for n in range(500, 505))
    done = [number for number, kind, _ in answers if kind == DONE and number != 400]
    assert done == list(range(505, 515)), "in the order of want"


def test_only_the_latest_of_rankings_that_wait_is_made(opened: tuple[Worker, Opened]) -> None:
    worker, ranch = opened
    worker.send(600, "view", ViewRequest(frame=ViewFrame(x_m=ranch.bounds.west, y_m=ranch.bounds.south,
                metres_per_px=8.0, width_px=900, height_px=902), part="all"))  # fmt: skip
    for n in range(6):
        worker.send(601 + n, "rank", SiteEdits(weights={"cover": 1.0 + n}))
    answers = {number: (kind, payload) for number, kind, payload in (worker.receive() for _ in range(7))}
    assert answers[606][0] == DONE and answers[606][1].weights["cover"] == 6.0
    assert sum(kind == DROPPED for kind, _ in answers.values()) >= 4


@pytest.mark.parametrize(
    ("verb", "arguments", "words"),
    [
        ("fly", (), "there is no request fly"), ("tile", (), "0 arguments"), ("rank", ("x", "y"), "2 arguments"),
        ("rank", (SiteEdits(weights={"covr": 1.0}),), "there is no factor covr"),
        ("tile", (TileRequest(zoom=50, col=0, row=0),), "there is no tile"),
        ("rig", (RigRequest(site="T-77"),), "there is no site T-77"),
        (7, (), "there is no request 7"),
    ],
)  # fmt: skip
def test_a_wrong_request_fails_in_one_sentence_and_the_worker_goes_on(
    opened: tuple[Worker, Opened], verb: Any, arguments: tuple, words: str
) -> None:
    worker, _ = opened
    kind, failure = worker.ask(700, verb, *arguments)
    assert kind == FAILED and isinstance(failure, Failure)
    assert words in failure.sentence and not failure.is_fault
    assert failure.sentence.count("\n") == 0 and failure.sentence.endswith((".", "?"))
    assert worker.ask(701, "rank", SiteEdits())[0] == DONE


def test_what_is_no_request_at_all_is_answered_too(opened: tuple[Worker, Opened]) -> None:
    worker, _ = opened
    for message in ("hello", (1, 2), None, ("a", "tile", ())):
        worker.ours.send(message)
        number, kind, failure = worker.receive()
        assert (number, kind) == (-1, FAILED) and "there is no request" in failure.sentence
    worker.send(702, "rank", "not edits")
    _, kind, failure = worker.receive()
    assert kind == FAILED and failure.is_fault and failure.sentence.startswith("A fault of the program")
    assert worker.ask(703, "rank", SiteEdits())[0] == DONE


def test_a_broken_plan_and_no_plan_fail_with_their_place(plan: Path, tmp_path: Path) -> None:
    worker = Worker(run_map_worker)
    try:
        kind, failure = worker.ask(1, "rank", SiteEdits())
        assert kind == FAILED and failure.sentence.startswith("field rank: no ranch is open")
        broken = tmp_path / "broken.toml"
        broken.write_text("[ranch\nname = 3", encoding="utf-8")
        kind, failure = worker.ask(2, "open", str(broken), "")
        assert kind == FAILED and failure.file == str(broken) and "not valid TOML" in failure.sentence
        kind, failure = worker.ask(3, "open", str(tmp_path / "none.toml"), "")
        assert kind == FAILED and "there is no such plan" in failure.sentence
        folder = tmp_path / "tiny"
        shutil.copytree(plan.parent, folder)
        (folder / "sign.csv").write_text("lon,lat,kind\nx,36.1,track\n", encoding="utf-8")
        kind, failure = worker.ask(4, "open", str(folder / "plan.toml"), "")
        assert kind == FAILED and (failure.layer, failure.row, failure.field) == ("sign", 1, "lon")
        kind, _ = worker.ask(5, "rig_list", RigListRequest(columns=("stem", "dbh_cm", "x_m", "y_m"), rows=()))
        assert kind == DONE, "a list can be typed without a plan"
        kind, failure = worker.ask(6, "open", str(plan), "", "[ranch")
        assert kind == FAILED and "not valid TOML" in failure.sentence and failure.file == str(plan)
        text = plan.read_text(encoding="utf-8").replace("count = 5", "count = 2")
        kind, ranch = worker.ask(7, "open", str(plan), "", text)
        assert kind == DONE and ranch.count == 2, "a plan that is not saved yet"
        assert len(worker.ask(8, "rank", SiteEdits())[1].sites) == 2
        assert worker.ask(9, "open", str(plan), "")[1].count == 5
        assert worker.ask(10, "open", str(plan))[0] == FAILED
    finally:
        worker.end()


@pytest.mark.parametrize("target", [run_map_worker, run_job_worker])
def test_a_worker_ends_with_its_connection_or_when_told(target: Callable[[Connection], None]) -> None:
    first, second = Worker(target), Worker(target)
    first.ours.close()
    second.send(1, "close")
    for worker in (first, second):
        worker.process.join(60)
        assert worker.process.exitcode == 0


def test_a_window_that_goes_while_work_runs_ends_the_worker(plan: Path, tmp_path: Path) -> None:
    worker = Worker(run_map_worker)
    worker.send(1, "open", str(plan), str(tmp_path / "other"))
    assert worker.ours.poll(PATIENCE_S)
    worker.ours.close()
    worker.process.join(PATIENCE_S)
    assert worker.process.exitcode == 0


# Jobs


def test_jobs_run_one_after_another_and_say_what_came_of_them(jobs: Worker, plan: Path, tmp_path: Path) -> None:
    folder = tmp_path / "tiny"
    shutil.copytree(plan.parent, folder)
    path, out = str(folder / "plan.toml"), folder / "out"
    kind, done = jobs.ask(1, "check", JobRequest(plan=path))
    assert kind == DONE and isinstance(done, JobDone) and done.files == ("check.json",)
    assert done.sentences[0].startswith("Layers: ")
    kind, done = jobs.ask(2, "scout", JobRequest(plan=path, options={"sheets": False}))
    assert kind == DONE and done.fits and Path(done.folder) == out
    assert {"scout.json", "sites.csv", "sites.gpkg", "score.tif"} <= set(done.files)
    assert "field_sheets.pdf" not in done.files
    assert "T-01" in done.sentences[0]
    steps = {payload[0] for number, payload in jobs.progress if number == 2}
    assert {"reading layers", "hard stops", "done"} <= steps
    kind, done = jobs.ask(3, "pack", JobRequest(plan=path, sites=("T-01",)))
    assert kind == DONE and set(done.files) == {"pack.json", "pack.csv", "pack_sheet.pdf"}
    assert not any(p.name.startswith("staging") for p in (out / ".boscage").iterdir())


@pytest.mark.parametrize(
    ("verb", "request_", "words"),
    [
        ("dig", JobRequest(plan="plan.toml"), "there is no job dig"), ("scout", "plan.toml", "has no request"),
        ("scout", JobRequest(plan="none.toml"), "there is no such plan"),
        ("scout", JobRequest(plan="none.toml", options={"masked": True}), "has no option masked"),
        ("rig", JobRequest(plan="none.toml"), "there is no such plan"),
    ],
)  # fmt: skip
def test_a_wrong_job_fails_in_one_sentence(jobs: Worker, verb: str, request_: Any, words: str, tmp_path: Path) -> None:
    if isinstance(request_, JobRequest):
        request_ = JobRequest(plan=str(tmp_path / request_.plan), options=request_.options)
    kind, failure = jobs.ask(1, verb, request_)
    assert kind == FAILED and words in failure.sentence and not failure.is_fault


def test_a_job_that_is_not_installed_fails_in_one_sentence(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    from boscage.errors import InputError
    from boscage.pipeline import desk_jobs

    monkeypatch.setattr(desk_jobs, "JOBS", {"drop": "boscage.pipeline.no_such_module:drop"})
    with pytest.raises(InputError, match="the job drop is not part of this installation"):
        desk_jobs.run_job("drop", JobRequest(plan=str(tmp_path / "p.toml")), lambda *step: None)


def files_of(folder: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in sorted(folder.iterdir()) if p.is_file()}


def test_a_killed_job_leaves_the_former_outputs_whole(plan: Path, tmp_path: Path) -> None:
    """Killed in the middle of printing; a later run ends well in the same folder."""
    folder = tmp_path / "tiny"
    shutil.copytree(plan.parent, folder)
    path, out = str(folder / "plan.toml"), folder / "out"
    text = (folder / "plan.toml").read_text(encoding="utf-8")
    assert "count = 5" in text
    (folder / "plan.toml").write_text(text.replace("count = 5", "count = 2"), encoding="utf-8")
    worker = Worker(run_job_worker)
    assert worker.ask(1, "scout", JobRequest(plan=path))[0] == DONE
    before = files_of(out)
    assert "field_sheets.pdf" in before
    (folder / "plan.toml").write_text(text.replace("count = 5", "count = 1"), encoding="utf-8")
    for step in ("printing sheets",):
        worker.send(2, "scout", JobRequest(plan=path))
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            _, kind, payload = worker.ours.recv()
            if kind == PROGRESS and payload[0] == step:
                break
            assert kind == PROGRESS, payload
        worker.process.kill()
        worker.process.join(20)
        assert files_of(out) == before, f"killed at {step}"
        worker = Worker(run_job_worker)
    kind, _ = worker.ask(3, "scout", JobRequest(plan=path))
    worker.end()
    assert kind == DONE
    after = files_of(out)
    assert set(after) == set(before) and after["scout.json"] != before["scout.json"]


def test_what_killed_runs_left_is_swept_away_after_an_hour(tmp_path: Path) -> None:
    from boscage.pipeline.desk_jobs import sweep

    state = tmp_path / ".boscage"
    (state / "staging-abc").mkdir(parents=True)
    (state / "staging-abc" / "half.pdf").write_bytes(b"half")
    (state / "layers").mkdir()
    (state / "layers" / "k.1.part").write_bytes(b"half")
    (state / "layers" / "k.npz").write_bytes(b"whole")
    now = time.time()
    sweep(tmp_path, now + 60.0)
    assert (state / "staging-abc").exists(), "a run may be at it"
    sweep(tmp_path, now + 4000.0)
    assert sorted(p.name for p in state.rglob("*")) == ["k.npz", "layers"]


def test_a_waiting_job_can_be_withdrawn(jobs: Worker, plan: Path, tmp_path: Path) -> None:
    jobs.send(1, "check", JobRequest(plan=str(plan), out=str(tmp_path)))
    jobs.send(2, "check", JobRequest(plan=str(plan), out=str(tmp_path / "two")))
    jobs.send(3, "withdraw", (2,))
    answers = {number: kind for number, kind, _ in (jobs.receive() for _ in range(2))}
    assert answers == {1: DONE, 2: DROPPED}
    assert jobs.ask(4, "check", JobRequest(plan=str(plan), out=str(tmp_path)))[0] == DONE, "nothing came in between"
    assert not (tmp_path / "two").exists()
