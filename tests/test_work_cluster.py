"""Work over a cluster: two workers behind real sockets, one of which dies midway."""

from __future__ import annotations

import os
import signal
import socket
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from analyser.errors import UsageError
from analyser.work import cluster as cluster_module
from analyser.work.job import Job
from analyser.work.run import debrief_many
from tests.work_flights import flight, write_gpx

SCALE = """
key = "school"
name = "Two words"
required = "good"
levels = [{ key = "poor", label = "poor", points_from = 0 }, { key = "good", label = "good", points_from = 60 }]
"""

pytestmark = [pytest.mark.server, pytest.mark.slow, pytest.mark.filterwarnings("default")]


@pytest.fixture(scope="module")
def two_workers():
    distributed = pytest.importorskip("distributed", reason="Dask, the extra 'cluster', is not installed")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, host="127.0.0.1", dashboard_address=None
    ) as running:
        yield running


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


def test_a_scheduler_that_is_not_there(monkeypatch):
    monkeypatch.setattr(cluster_module, "PATIENCE_S", 1)
    with socket.socket() as unused:
        unused.bind(("127.0.0.1", 0))
        address = f"tcp://127.0.0.1:{unused.getsockname()[1]}"
        with pytest.raises(UsageError, match="no scheduler answers"):
            cluster_module.Cluster(address)
    with pytest.raises(UsageError, match="--scheduler"):
        cluster_module.Cluster("nonsense://x")


def test_workers_of_another_version_are_refused(two_workers, monkeypatch):
    monkeypatch.setattr(cluster_module, "__version__", "0.0.0")
    with pytest.raises(UsageError, match=r"the workers run version .* and this is 0\.0\.0"):
        cluster_module.Cluster(two_workers.scheduler_address)


def test_a_cluster_without_dask_is_said(monkeypatch):
    import sys

    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(UsageError, match="needs Dask"):
        cluster_module.Cluster("tcp://127.0.0.1:1")
