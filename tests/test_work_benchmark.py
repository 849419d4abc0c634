"""The benchmark's own instruments: they run, and they would notice what they are to notice."""

from __future__ import annotations

import mmap
import sys
from pathlib import Path

import pytest

from tests import benchmark
from tests.work_flights import flight, write_gpx

linux = pytest.mark.skipif(not Path("/proc/self/clear_refs").exists(), reason="the kernel keeps no such peak")


def test_reading_is_timed_beside_the_usual_libraries(tmp_path: Path) -> None:
    lines = list(benchmark.reading(tmp_path, runs=1, points=400))
    assert [line.what for line in lines] == ["reading 400 points of GPX", "reading 400 points of CSV"]
    assert all(line.ratio > 0 for line in lines)


def test_the_time_of_workers_is_told_beside_that_of_who_leads_them(tmp_path: Path) -> None:
    for number in range(4):
        write_gpx(flight(900, seed=number, laps=2), tmp_path / f"{number}.gpx")
    words = ["debrief", str(tmp_path), "--out", str(tmp_path / "out"), "--quiet", "--again", "--jobs"]
    (alone_s, none_s), (leading_s, led_s) = (benchmark.process_s([*words, jobs]) for jobs in ("1", "2"))
    assert none_s < 0.1 * alone_s and led_s > 0.5 * alone_s > leading_s


def test_a_bound_is_broken_on_its_own_side() -> None:
    most = benchmark.Line("this", "that", 1.7, 1.6)
    least = benchmark.Line("this", "that", 1.7, 1.8, at_most=False)
    assert not most.held and "BROKEN" in str(most)
    assert not least.held and benchmark.Line("this", "that", 1.9, 1.8, at_most=False).held


@linux
def test_the_peak_of_memory_is_the_works_own() -> None:
    _touched(80_000_000).close()
    before = benchmark.forget_peak()
    _touched(30_000_000).close()
    grown_kb = benchmark.peak_kb() - before
    assert 25_000 < grown_kb < 60_000


def _touched(size: int) -> mmap.mmap:
    """Return new pages from the kernel, written to: the heap might hand out some that it kept from an earlier test."""
    pages = mmap.mmap(-1, size)
    for place in range(0, size, 1000):
        pages[place] = 1
    return pages


def test_a_childs_peak_is_not_its_parents() -> None:
    ballast = bytearray(200_000_000)
    for place in range(0, len(ballast), 1000):
        ballast[place] = 1
    assert benchmark._peak([sys.executable, "-c", "pass"]) < 100_000_000
    del ballast
