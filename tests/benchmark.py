"""Print the speed tables: ratios measured in one run, for the machine's own speed must not matter.

::

    python -m tests.benchmark              everything; a quarter of an hour on a quiet machine of two cores
    python -m tests.benchmark log motion   only these: log, long, growth, motion, reading, rendering, many
    python -m tests.benchmark --runs 9     medians of so many runs, taken in turns; never fewer than five count

Times are process times (user and system, of the process and its children), except for the work of several cores, which
is measured by the clock. The bounds are the project's own; the exit status is 1 where one is broken.
"""

from __future__ import annotations

import argparse
import os
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from analyser.logs.track import Track
from analyser.process_settings import use_one_thread
from tests.work_flights import START, flight, write_gpx

BARE = (
    "import sys, pandas, scipy.optimize, matplotlib, jinja2, gpxpy\n"
    "with open(sys.argv[1], encoding='utf-8') as file:\n"
    "    gpxpy.parse(file)\n"
)
#: Where the pieces of a long flight begin in its stages, seconds: the hold is left, the turn to the next one ahead.
STAGE_BEGIN_S = 690.0
IMPORTS = "import pandas, scipy.optimize, matplotlib.figure"


@dataclass(frozen=True)
class Line:
    """One line of a table."""

    what: str
    against: str
    ratio: float
    bound: float
    at_most: bool = True

    @property
    def held(self) -> bool:
        return self.ratio <= self.bound if self.at_most else self.ratio >= self.bound

    def __str__(self) -> str:
        sign = "≤" if self.at_most else "≥"
        verdict = "" if self.held else "  BROKEN"
        return f"| {self.what} | {self.against} | {self.ratio:.2f} | {sign} {self.bound:g} |{verdict}"


def one_log(folder: Path, runs: int) -> Iterator[Line]:
    """Time an hour at one hertz, page included, against a bare parse of it with the usual libraries."""
    log = write_gpx(flight(3600), folder / "hour.gpx")
    yield _whole_way(log, folder, runs, "an hour at 1 Hz (3,600 points), page included", 1.2)


def long_log(folder: Path, runs: int) -> Iterator[Line]:
    """Time ten hours at ten hertz."""
    log = write_gpx(flight(360_000, 0.1), folder / "long.gpx")
    yield _whole_way(log, folder, runs, "ten hours at 10 Hz (360,000 points), page included", 3.0)


def _whole_way(log: Path, folder: Path, runs: int, what: str, bound: float) -> Line:
    def bare() -> float:
        return _child([sys.executable, "-c", BARE, str(log)])

    def ours() -> float:
        words = ["debrief", str(log), "--out", str(folder / "out"), "--again", "--quiet"]
        return _child([sys.executable, "-m", "analyser", *words])

    ratio = _ratio(ours, bare, runs)
    return Line(
        what, "Python importing pandas, scipy, matplotlib, jinja2 and parsing it with gpxpy", ratio, bound
    )


def motion(_folder: Path, runs: int) -> Iterator[Line]:
    """Time the motion estimator on an hour, from positions alone."""
    code = (
        "import time\nfrom tests.benchmark import track_of\n"
        "from analyser.earth.plane import LocalPlane\nfrom analyser.motion.estimate import measure\n"
        "track = track_of(3600)\nplane = LocalPlane(float(track.lat_deg[0]), float(track.lon_deg[0]))\n"
        "measure(track, plane, 0.0, 600.0, (0.0, 600.0))\n"
        "begun = time.process_time()\n"
        "measure(track, plane, 0.0, 3599.0, (0.0, 3599.0))\n"
        "print(time.process_time() - begun)\n"
    )

    def ours() -> float:
        return float(subprocess.run([sys.executable, "-c", code], check=True, capture_output=True).stdout)

    def imports() -> float:
        return _child([sys.executable, "-c", IMPORTS]) - _child([sys.executable, "-c", "pass"])

    yield Line(
        "motion of an hour at 1 Hz",
        "importing pandas, scipy and matplotlib",
        _ratio(ours, imports, runs),
        0.4,
    )


def growth(_folder: Path, runs: int, largest: int = 1_000_000) -> Iterator[Line]:
    """Time the analysis without a page as the samples grow, and measure what it holds in memory."""
    sizes = [size for size in (1_000, 10_000, 100_000, 1_000_000) if size <= largest]
    taken: dict[int, list[float]] = {size: [] for size in sizes}
    for _ in range(runs):
        for size in sizes:
            taken[size].append(_analysis_s(size))
    for small, large in pairwise(sizes):
        ratio = statistics.median(taken[large]) / statistics.median(taken[small])
        yield Line(f"{large:,} samples, no page", f"{small:,} samples", ratio, 11.0)
    # Below a hundred thousand samples what the program holds anyway outweighs what grows.
    for size in sizes[2:]:
        peak, columns = _memory(size)
        yield Line(f"memory for {size:,} samples", "the log's numeric columns", peak / columns, 12.0)


def _analysis_s(size: int) -> float:
    """Analyse in a process of its own and return seconds for so many samples.

    Short logs are pieces of one longer flight, so that long and short ones hold the same things: a way to the fix
    and a hold for every thousand samples.
    """
    code = (
        "import time\nfrom tests.benchmark import track_of\nfrom analyser.debrief import debrief_track\n"
        f"times = {max(1, 20_000 // size)}\n"
        f"tracks = [track_of({size}, stage=1000, number=number) for number in range(times)]\n"
        "debrief_track(track_of(1500))\nbegun = time.process_time()\n"
        "for track in tracks:\n    debrief_track(track)\n"
        "print((time.process_time() - begun) / times)\n"
    )
    return float(subprocess.run([sys.executable, "-c", code], check=True, capture_output=True).stdout)


def _memory(size: int) -> tuple[float, float]:
    """Return the peak resident memory of an analysis beyond what was there before, and the columns' size, bytes."""
    code = (
        "from tests.benchmark import forget_peak, peak_kb, track_of\nfrom analyser.debrief import debrief_track\n"
        f"debrief_track(track_of(3000, stage=1000))\ntrack = track_of({size}, stage=1000)\n"
        "before = forget_peak()\n"
        "found = debrief_track(track)\n"
        "after = peak_kb()\n"
        "columns = [track.time_s, track.lat_deg, track.lon_deg, *track.channels.values()]\n"
        "print((after - before) * 1024, sum(column.nbytes for column in columns))\n"
    )
    words = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True).stdout.split()
    return float(words[0]), float(words[1])


def forget_peak() -> float:
    """Let the kernel count the peak of this process's memory anew from now, and return what it is, kB.

    ``ru_maxrss`` will not do: a process inherits it from the one that started it.
    """
    Path("/proc/self/clear_refs").write_text("5", encoding="ascii")
    return peak_kb()


def peak_kb() -> float:
    """Return the peak of this process's resident memory, kB."""
    lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    return float(next(line.split()[1] for line in lines if line.startswith("VmHWM:")))


def reading(folder: Path, runs: int, points: int | None = None) -> Iterator[Line]:
    """Time the readers on a file that the usual libraries read too."""
    from tests import benchmark_reading

    size = points or benchmark_reading.POINTS
    for kind, (_, _, ratio) in benchmark_reading.measured(folder, runs, size).items():
        against = "gpxpy.parse" if kind == "gpx" else "pandas.read_csv with the C engine"
        yield Line(f"reading {size:,} points of {kind.upper()}", against, ratio, benchmark_reading.BOUND)
    for what, path in benchmark_reading.large_logs(folder) if points is None else ():
        ratio = benchmark_reading.memory_ratio(path)
        yield Line(
            f"memory for reading {what}", "the log's numeric columns", ratio, benchmark_reading.MEMORY_BOUND
        )


def rendering(_folder: Path, runs: int) -> Iterator[Line]:
    """Time the page of a debrief, first with one hold and then with three, beside bare figures."""
    from tests import benchmark_rendering

    for holds, what in ((1, "one hold"), (3, "three holds")):
        ratio = statistics.median(benchmark_rendering.ratios(runs, holds))
        against = f"{benchmark_rendering.FIGURES} bare matplotlib SVG figures"
        yield Line(f"rendering a page of {what}", against, ratio, benchmark_rendering.BOUND)


def many(folder: Path, runs: int, logs: int = 200) -> Iterator[Line]:
    """Time many logs on two processes against one, by the clock; and the memory of the process that leads."""
    if (os.cpu_count() or 1) < 2:
        print("many logs: this machine has one core; nothing to compare")
        return
    place = folder / "logs"
    place.mkdir()
    for number in range(logs):
        write_gpx(
            flight(1800, seed=number, course_deg=float(number * 37 % 360)), place / f"log{number:03d}.gpx"
        )

    def by(jobs: int, source: Path = place) -> tuple[float, float]:
        shutil.rmtree(folder / "out", ignore_errors=True)
        words = ["debrief", str(source), "--out", str(folder / "out"), "--jobs", str(jobs), "--quiet"]
        begun = time.perf_counter()
        peak = _peak([sys.executable, "-m", "analyser", *words])
        return time.perf_counter() - begun, peak

    words = ["debrief", str(place), "--out", str(folder / "out"), "--quiet", "--again", "--jobs"]
    (alone, _), (leading, led) = process_s([*words, "1"]), process_s([*words, "2"])
    # What processes do by themselves hardly hangs on who else is busy on the machine, and bounds what two can gain.
    yield Line(f"time of the process that leads two, {logs} logs", "doing them alone", leading / alone, 0.05)
    yield Line(f"time of all processes where two do {logs} logs", "one by one", (leading + led) / alone, 1.1)
    one, two = zip(*((by(1), by(2)) for _ in range(runs)), strict=True)
    faster = statistics.median(t for t, _ in one) / statistics.median(t for t, _ in two)
    yield Line(f"{logs} logs one by one", "on two processes", faster, 1.8, at_most=False)
    few = folder / "few"
    few.mkdir()
    for log in sorted(place.iterdir())[: logs // 10]:
        shutil.copy(log, few)
    for jobs, who, found in (
        (1, "the process that does them all", one),
        (2, "the process that leads two", two),
    ):
        more = statistics.median(peak for _, peak in found) / by(jobs, few)[1]
        yield Line(f"memory for {logs} logs, {who}", f"for {logs // 10} logs", more, 1.25)


def track_of(samples: int, interval_s: float = 1.0, stage: float | None = None, number: int = 0) -> Track:
    """Return an invented flight as a track.

    With ``stage`` a hold begins every so many seconds, in still air, for the wind of these flights turns between holds;
    ``number`` tells which piece of the long flight it is.
    """
    if stage is None:
        flown = flight(samples, interval_s)
    else:
        # A piece begins after a hold and ends after the next, so that the way between belongs to each.
        begin_s = number * samples * interval_s + STAGE_BEGIN_S
        flown = flight(
            samples, interval_s, laps=2, stage_s=stage, wind_kt=0j, begin_s=begin_s, seed=number + 1
        )
    channels = {"altitude_ft": flown.altitude_ft}
    return Track("invented", "gpx", "0" * 64, flown.time_s, flown.lat, flown.lon, channels, START)


def _ratio(ours: Callable[[], float], theirs: Callable[[], float], runs: int) -> float:
    """Return the ratio of medians; the two take turns, so that a busy machine slows both."""
    ours(), theirs()
    pairs = [(ours(), theirs()) for _ in range(runs)]
    return statistics.median(a for a, _ in pairs) / statistics.median(b for _, b in pairs)


def _child(words: list[str]) -> float:
    """Run a program to its end and return its process time, seconds."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(words, check=True, stdout=subprocess.DEVNULL)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def process_s(words: list[str]) -> tuple[float, float]:
    """Run the program to its end and return its own process time and that of its workers, seconds."""
    code = (
        "import resource\nfrom multiprocessing import forkserver\nfrom analyser.cli import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        "own = resource.getrusage(resource.RUSAGE_SELF)\n"
        # What the workers took is told when the server that they come from has ended.
        "forkserver._forkserver._stop()\n"
        "theirs = resource.getrusage(resource.RUSAGE_CHILDREN)\n"
        "print(own.ru_utime + own.ru_stime, theirs.ru_utime + theirs.ru_stime)\n"
    )
    run = subprocess.run([sys.executable, "-c", code, *words], check=True, stdout=subprocess.PIPE)
    own_s, theirs_s = map(float, run.stdout.split())
    return own_s, theirs_s


def _peak(words: list[str]) -> float:
    """Run a program to its end and return its largest resident memory, bytes.

    A small process starts it, for what a process has at its start counts as its own.
    """
    small = (
        "import resource, subprocess, sys\n"
        "subprocess.run(sys.argv[1:], check=True, stdout=subprocess.DEVNULL)\n"
        "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)\n"
    )
    run = subprocess.run([sys.executable, "-c", small, *words], check=True, stdout=subprocess.PIPE)
    return float(run.stdout) * 1024.0


SECTIONS: dict[str, Callable[[Path, int], Iterator[Line]]] = {
    "log": one_log,
    "long": long_log,
    "growth": growth,
    "motion": motion,
    "reading": reading,
    "rendering": rendering,
    "many": many,
}


def main() -> int:
    """Print the tables; return 1 where a bound is broken."""
    # As the program itself does it; what is compared with gets the same.
    use_one_thread()
    # As an installed program has it: compiled once. The first run of each pair, which does it, is not counted.
    compiled = tempfile.TemporaryDirectory()
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    os.environ["PYTHONPYCACHEPREFIX"] = compiled.name
    parser = argparse.ArgumentParser(description="Print the speed tables.")
    parser.add_argument("sections", nargs="*", metavar="SECTION", help=", ".join(SECTIONS))
    parser.add_argument("--runs", type=int, default=5, help="runs of each, in turns")
    asked = parser.parse_args()
    unknown = set(asked.sections) - set(SECTIONS)
    if unknown:
        parser.error(f"no such section: {', '.join(sorted(unknown))}")
    print("| what | against | ratio | bound |\n|---|---|---|---|")
    held = True
    for name in asked.sections or SECTIONS:
        with tempfile.TemporaryDirectory() as folder:
            for line in SECTIONS[name](Path(folder), asked.runs):
                print(line, flush=True)
                held = held and line.held
    return 0 if held else 1


if __name__ == "__main__":
    sys.exit(main())
