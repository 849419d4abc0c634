"""Work over a cluster: with a scheduler that is played, and with two workers behind real sockets, one of which dies."""

from __future__ import annotations

import os
import signal
import socket
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from analyser import __version__
from analyser.errors import UsageError
from analyser.work import cluster as cluster_module
from analyser.work.job import Job
from analyser.work.run import debrief_many
from analyser.work.task import Task
from tests.work_flights import flight, write_gpx

SCALE = """
key = "school"
name = "Two words"
required = "good"
levels = [{ key = "poor", label = "poor", points_from = 0 }, { key = "good", label = "good", points_from = 60 }]
"""


def _on_real(test):
    """Mark a test that begins a scheduler and its workers."""
    for mark in (pytest.mark.server, pytest.mark.slow, pytest.mark.filterwarnings("default")):
        test = mark(test)
    return test


class Scheduler:
    """Plays the part of a scheduler's client: it does each task when its result is asked for."""

    def __init__(self, versions=(__version__,), workers=1, lost=()):
        self.versions, self.workers, self.lost = versions, workers, lost
        self.asked, self.in_hand, self.most_in_hand, self.released, self.closed = [], 0, 0, 0, False

    def Client(self, address, **_):  # noqa: N802
        if not address.startswith("tcp://"):
            raise ValueError("unknown protocol")
        return self

    def wait_for_workers(self, count, timeout):
        if self.workers < count:
            raise TimeoutError

    def run(self, function):
        if "broken" in self.versions:
            raise ModuleNotFoundError("No module named 'analyser'")
        return {f"tcp://worker{place}": one for place, one in enumerate(self.versions)}

    def submit(self, function, task, *, pure):
        self.asked.append(task)
        self.in_hand += 1
        self.most_in_hand = max(self.most_in_hand, self.in_hand)
        return Future(self, function, task)

    def close(self):
        self.closed = True


class Future:
    """A result that is still to come."""

    def __init__(self, scheduler, function, task):
        self.scheduler, self.function, self.task = scheduler, function, task

    def result(self):
        self.scheduler.in_hand -= 1
        if self.task.log.name in self.scheduler.lost:
            raise RuntimeError("killed three workers")
        return self.function(self.task)

    def release(self):
        self.scheduler.released += 1


def joined(monkeypatch, scheduler, address="tcp://host:8786"):
    monkeypatch.setitem(sys.modules, "distributed", scheduler)
    return cluster_module.Cluster(address)


def test_tasks_are_handed_out_a_few_ahead_and_results_come_in_their_order(monkeypatch, tmp_path):
    """Each is named from the root, told by its own name, and let go; one that was lost is a fault of its log."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(cluster_module, "IN_HAND", 3)
    Path("school.toml").write_text(SCALE, encoding="utf-8")
    scheduler = Scheduler(lost=("4.gpx",))
    logs = [Path(f"{number}.gpx") for number in range(8)]
    job = Job(
        Path("out"), standard="part-fcl-instrument", scoring=Path("own.toml"), scales=("school.toml", "icao")
    )
    with joined(monkeypatch, scheduler) as seam:
        found = []
        for one in seam.run(Task(log, log.stem, job) for log in logs):
            assert scheduler.released == len(found), "a result is let go when the next is asked for"
            found.append(one)
    assert [one.log for one in found] == logs and all(one.faults for one in found)
    assert ["killed three workers" in one.faults[0] for one in found] == [log.stem == "4" for log in logs]
    assert scheduler.most_in_hand == 3 and scheduler.released == 8 and scheduler.closed
    sent = scheduler.asked[0]
    assert (sent.log, sent.job.out, sent.job.scoring) == (
        tmp_path / "0.gpx", tmp_path / "out", tmp_path / "own.toml"
    )  # fmt: skip
    # What is no file is a name that the program knows on every machine.
    assert sent.job.scales == (str(tmp_path / "school.toml"), "icao") and sent.job.obstacles is None
    assert sent.job.standard == "part-fcl-instrument"


@pytest.mark.parametrize(
    ("scheduler", "address", "said"),
    [
        (Scheduler(), "nonsense://x", "no scheduler answers at 'nonsense://x'"),
        (Scheduler(workers=0), "tcp://host:1", "the scheduler has no workers"),
        (Scheduler(versions=("broken",)), "tcp://host:1", "the workers cannot debrief: No module named"),
        (Scheduler(versions=(__version__, "0.0.1")), "tcp://host:1", r"the workers run version 0\.0\.1, "),
    ],
)
def test_a_cluster_that_cannot_debrief_is_refused_with_the_reason(monkeypatch, scheduler, address, said):
    with pytest.raises(UsageError, match=said):
        joined(monkeypatch, scheduler, address)
    assert scheduler.closed == address.startswith("tcp"), "a client that was begun is closed"


@pytest.fixture(scope="module")
def two_workers():
    distributed = pytest.importorskip("distributed", reason="Dask, the extra 'cluster', is not installed")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, host="127.0.0.1", dashboard_address=None
    ) as running:
        yield running


@_on_real
def test_every_debrief_once_although_a_worker_dies(two_workers, tmp_path, monkeypatch):
    (tmp_path / "logs").mkdir()
    logs = [write_gpx(flight(300 + k, seed=k), tmp_path / "logs" / f"log{k:02d}.gpx") for k in range(24)]
    bad = tmp_path / "logs" / "log05.gpx"
    bad.write_text("<gpx")
    monkeypatch.chdir(tmp_path)
    named = [log.relative_to(tmp_path) for log in logs]
    # Workers have folders of their own: what is named from here must reach them.
    Path("school.toml").write_text(SCALE, encoding="utf-8")
    doomed = two_workers.workers[0]
    killed = doomed.pid
    assert two_workers.scheduler_address.startswith("tcp://127.0.0.1:")
    with cluster_module.Cluster(two_workers.scheduler_address) as seam:
        results = debrief_many(named, Job(Path("out"), scales=("school.toml",)), seam, rows=True)
        with ThreadPoolExecutor(1) as beside:
            done = beside.submit(_kill_midway, killed, tmp_path / "out")
            found = list(results)
    assert 0 < done.result() < len(logs) - 3, "the worker is to die midway"
    assert doomed.pid != killed, "the worker lived on"
    assert [one.log for one in found] == named
    assert [bool(one.faults) for one in found] == [log == bad for log in logs]
    stems = sorted(path.stem for path in (tmp_path / "out").glob("*.json"))
    assert stems == sorted(path.stem for path in (tmp_path / "out").glob("*.html"))
    assert stems == [log.stem for log in logs if log != bad]


def _kill_midway(pid, out):
    """Kill a worker as soon as there is a debrief; return how many there were."""
    given_up = time.monotonic() + 120.0
    while not (done := len(list(out.glob("*.json")))) and time.monotonic() < given_up:
        time.sleep(0.005)
    os.kill(pid, signal.SIGKILL)
    return done


@_on_real
def test_a_scheduler_that_is_not_there(monkeypatch):
    monkeypatch.setattr(cluster_module, "PATIENCE_S", 1)
    with socket.socket() as unused:
        unused.bind(("127.0.0.1", 0))
        address = f"tcp://127.0.0.1:{unused.getsockname()[1]}"
        with pytest.raises(UsageError, match="no scheduler answers"):
            cluster_module.Cluster(address)
    with pytest.raises(UsageError, match="--scheduler"):
        cluster_module.Cluster("nonsense://x")


@_on_real
def test_workers_of_another_version_are_refused(two_workers, monkeypatch):
    monkeypatch.setattr(cluster_module, "__version__", "0.0.0")
    with pytest.raises(UsageError, match=r"the workers run version .* and this is 0\.0\.0"):
        cluster_module.Cluster(two_workers.scheduler_address)


def test_a_cluster_without_dask_is_said(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(UsageError, match="needs Dask"):
        cluster_module.Cluster("tcp://127.0.0.1:1")
