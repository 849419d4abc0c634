"""Work over cores: in order, every log once, whoever dies on the way."""

from __future__ import annotations

import gc
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path, PosixPath
from types import SimpleNamespace

import pytest

from analyser.schema.debrief_file import WrittenDebrief
from analyser.work import pool, run
from analyser.work.job import Job
from analyser.work.pool import Pool
from analyser.work.run import debrief_many, open_executor
from analyser.work.task import InThisProcess, Task, carry_out
from tests.work_flights import flight, write_gpx


class Deadly(PosixPath):
    """A path that ends whatever process unpacks it."""

    def __reduce__(self):
        return os._exit, (9,)


@pytest.fixture(scope="module")
def logs(tmp_path_factory):
    folder = tmp_path_factory.mktemp("logs")
    return [write_gpx(flight(200 + k, seed=k), folder / f"log{k:02d}.gpx") for k in range(10)]


def test_results_come_in_order_and_are_those_of_one_process(tmp_path, logs):
    alone = list(debrief_many(logs, Job(tmp_path / "a"), InThisProcess(), rows=True))
    with Pool(2) as pool:
        shared = list(debrief_many(logs, Job(tmp_path / "b"), pool, rows=True))
    assert [one.log for one in alone] == [one.log for one in shared] == logs
    assert not any(one.faults for one in alone + shared)
    for path in (tmp_path / "a").iterdir():
        # But for the fingerprint of the job there is nothing in a report of where or by whom it was made.
        assert path.read_bytes() == (tmp_path / "b" / path.name).read_bytes()


def test_what_is_done_is_told_again_and_done_again_only_where_that_is_asked_for(tmp_path, logs):
    job = Job(tmp_path / "out")
    for again, told in ((False, False), (False, True), (True, False)):
        (one,) = debrief_many(logs[:1], job, InThisProcess(), again=again) if again else debrief_many(
            logs[:1], job, InThisProcess()
        )  # fmt: skip
        assert any("debriefed before" in note for note in one.notes) == told
        assert one.reports[0].rows == () and (one.reports[0].entry is None) == told


def test_a_log_done_is_let_go_before_the_next_but_one(tmp_path):
    """The page of a hold keeps what it shows in reference cycles, and those are looked for rarely."""
    logs = [write_gpx(flight(1200 + k, seed=k), tmp_path / f"log{k}.gpx") for k in range(4)]
    gc.collect()
    gc.disable()
    try:
        results = debrief_many(logs, Job(tmp_path / "out"), InThisProcess())
        kept = [sum(isinstance(one, WrittenDebrief) for one in gc.get_objects()) for _ in results]
    finally:
        gc.enable()
    assert len(kept) == 4
    assert max(kept) <= 2


def test_a_worker_killed_from_outside_costs_no_log(tmp_path, logs, monkeypatch):
    alone, once = Pool._alone, []
    monkeypatch.setattr(Pool, "_alone", lambda self, task: (once.append(task.log), alone(self, task))[1])
    with Pool(2) as pool:
        results = debrief_many(logs, Job(tmp_path), pool)
        found = [next(results)]
        os.kill(next(iter(pool._executor._processes)), signal.SIGKILL)
        found += results
    assert [one.log for one in found] == logs
    assert not any(one.faults for one in found)
    assert len(list(tmp_path.glob("*.json"))) == len(logs)
    # Those that may have been in hand are done alone, the rest by a new pool.
    assert 0 < len(once) <= 5 and len(set(once)) == len(once)


def test_a_log_that_kills_its_worker_is_the_only_one_lost(tmp_path, logs):
    tasks = [Task(log, log.stem, Job(tmp_path)) for log in logs[:4]]
    tasks[1:1] = [Task(Deadly("deadly.gpx"), "deadly", Job(tmp_path))]
    with Pool(2) as pool:
        found = list(pool.run(tasks))
        # And the pool works on.
        assert not next(iter(pool.run([Task(logs[5], "again", Job(tmp_path))]))).faults
    assert [bool(one.faults) for one in found] == [False, True, False, False, False]
    assert "ended from outside" in found[1].faults[0]
    assert "--jobs 1" in found[1].faults[0]


def test_a_fault_of_the_program_is_a_fault_of_one_log(tmp_path, logs, monkeypatch):
    def broken(*_args, **_more):
        raise ZeroDivisionError("planted")

    monkeypatch.setattr("analyser.debrief.debrief_track", broken)
    found = carry_out(Task(logs[0], "x", Job(tmp_path)))
    assert len(found.faults) == 1
    assert "ZeroDivisionError: planted at test_work_pool.py:" in found.faults[0]
    assert "please report it" in found.faults[0]


def test_tasks_are_taken_as_they_are_needed(tmp_path, logs):
    taken = 0

    def coming():
        nonlocal taken
        for place in range(1000):
            taken += 1
            yield Task(logs[place % len(logs)], f"x{place}", Job(tmp_path), twin=logs[0])

    with Pool(2) as pool:
        results = pool.run(coming())
        next(results)
        assert taken < 100


@pytest.mark.parametrize(
    ("logs", "jobs", "processes"),
    [
        (1, None, 1),
        (3, None, 1),
        (4, None, 4),
        (200, None, 6),
        (1, 8, 1),
        (2, 8, 2),
        (200, 8, 8),
        (200, 1, 1),
    ],
)
def test_few_logs_are_not_worth_a_pool(monkeypatch, logs, jobs, processes):
    """On six cores, by themselves from four logs on; who asks for processes has them from two on, but none idle."""
    monkeypatch.setattr(run, "cores", lambda: 6)
    executor = open_executor(logs, jobs, None)
    assert isinstance(executor, Pool) == (processes > 1)
    assert getattr(executor, "_jobs", 1) == processes


def test_ctrl_c_breaks_off_the_task_of_a_worker_and_nothing_else(monkeypatch):
    """Between tasks it is for the parent, who tells the workers to end."""
    before, during = signal.getsignal(signal.SIGINT), []
    monkeypatch.setattr(pool, "collect_rarely", lambda: None)
    monkeypatch.setattr(pool, "carry_out", lambda task: during.append(signal.getsignal(signal.SIGINT)))
    try:
        pool._prepare()
        waiting = signal.getsignal(signal.SIGINT)
        pool._do(Task(Path("a.gpx"), "a", Job(Path("out"))))
        after = signal.getsignal(signal.SIGINT)
    finally:
        signal.signal(signal.SIGINT, before)
    assert (waiting, during, after) == (signal.SIG_IGN, [signal.default_int_handler], signal.SIG_IGN)


@pytest.mark.parametrize("has_parent", [True, False])
def test_a_worker_watches_for_the_end_of_its_parent_where_it_has_one(monkeypatch, has_parent):
    before, begun = signal.getsignal(signal.SIGINT), []
    parent = SimpleNamespace(sentinel=77) if has_parent else None
    monkeypatch.setattr(pool.multiprocessing, "parent_process", lambda: parent)
    monkeypatch.setattr(pool, "collect_rarely", lambda: None)
    monkeypatch.setattr(pool, "_end_with", begun.append)
    try:
        pool._prepare()
        time.sleep(0.01)
    finally:
        signal.signal(signal.SIGINT, before)
    assert begun == [77] * has_parent


def test_flights_of_one_log_are_done_or_done_again_together(tmp_path):
    first, second = flight(300), flight(300, seed=2, course_deg=100.0)
    rows = ["aircraft,time,lat,lon,altitude_ft"]
    for name, flown in (("A", first), ("B", second)):
        for t, lat, lon, altitude in zip(flown.time_s, flown.lat, flown.lon, flown.altitude_ft, strict=True):
            rows.append(
                f"{name},2026-03-14T09:{int(t) // 60:02d}:{int(t) % 60:02d}Z,{lat:.6f},{lon:.6f},{altitude:.0f}"
            )
    log = tmp_path / "two.csv"
    log.write_text("\n".join(rows))
    job = Job(tmp_path / "out")
    (found,) = debrief_many([log], job, InThisProcess())
    if len(found.reports) == 1:
        pytest.fail("the log of two aircraft was read as one flight")
    assert [one.page.name for one in found.reports] == ["two.html", "two+2.html"]
    (again,) = debrief_many([log], job, InThisProcess())
    assert [one.summary for one in again.reports] == [one.summary for one in found.reports]
    assert again.notes
    (tmp_path / "out" / "two+2.html").unlink()
    (anew,) = debrief_many([log], job, InThisProcess())
    assert not anew.notes
    assert (tmp_path / "out" / "two+2.html").exists()


def test_workers_start_with_what_a_debrief_comes_to_need(tmp_path, logs):
    # The server that workers start from passes over a name that it cannot import, without a word.
    code = (
        "import importlib, sys\nfrom pathlib import Path\nfrom analyser.work import pool\n"
        "for name in pool._NEEDED:\n importlib.import_module(name)\n"
        "before = set(sys.modules)\nfrom analyser.work.job import Job\nfrom analyser.work.task import Task\n"
        "found = pool.carry_out(Task(Path(sys.argv[2]), 'x', Job(Path(sys.argv[1]))))\n"
        "assert not found.faults\nprint(*set(sys.modules) - before)\n"
    )
    log = write_gpx(flight(1300), tmp_path / "a.gpx")
    run = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path), str(log)], stdout=subprocess.PIPE, text=True, check=True
    )
    late = set(run.stdout.split())
    # The reader of this format, which the log decides, and nothing that weighs.
    assert all(name.startswith("analyser.logs.") for name in late if name.startswith("analyser"))
    heavy = {"numpy", "pandas", "scipy", "matplotlib", "jinja2", "pyproj", "pygeomag", "shapely"}
    assert not heavy & {name.partition(".")[0] for name in late}


@pytest.mark.slow
def test_workers_end_with_their_parent(tmp_path, logs):
    code = (
        "import sys\nfrom pathlib import Path\n"
        "from analyser.work.pool import Pool\nfrom analyser.work.task import Task\nfrom analyser.work.job import Job\n"
        "if __name__ == '__main__':\n"
        " pool = Pool(2)\n"
        " job = Job(Path(sys.argv[1]))\n"
        " results = pool.run(Task(Path(sys.argv[2]), f'x{k}', job) for k in range(10**6))\n"
        " next(results)\n print(*pool._executor._processes, flush=True)\n"
        " list(results)\n"
    )
    parent = subprocess.Popen(
        [sys.executable, "-c", code, str(tmp_path), str(logs[0])], stdout=subprocess.PIPE, text=True
    )
    workers = [int(word) for word in parent.stdout.readline().split()]
    parent.kill()
    parent.wait()
    parent.stdout.close()
    assert workers
    until = time.monotonic() + 30
    while any(map(_alive, workers)) and time.monotonic() < until:
        time.sleep(0.05)
    assert not any(map(_alive, workers))


def _alive(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except OSError:
        return False


def test_what_a_worker_sends_back_is_small(tmp_path, logs):
    import pickle

    found = carry_out(Task(write_gpx(flight(1300), tmp_path / "a.gpx"), "a", Job(tmp_path), rows=True))
    assert len(pickle.dumps(found)) < 0.1 * (tmp_path / "a.json").stat().st_size
    assert json.loads((tmp_path / "a.json").read_text())["holds"]
