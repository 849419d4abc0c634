"""Print how long reading takes beside the bare library call on the same file, in one run.

Run ``python -m tests.benchmark_reading``. The bounds are the project's: reading a 72,000-point log costs at most
2.5 times a bare ``gpxpy.parse`` (GPX) or a bare ``pandas.read_csv`` with the C engine (tables).
"""

from __future__ import annotations

import io
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from analyser.logs.read import read_log
from tests.logs_invented import as_csv, as_gpx, invented_flight

POINTS = 72_000
BOUND = 2.5


def best_of(action: Callable[[], object], rounds: int = 5) -> float:
    """Return the shortest of several runs: the one least disturbed by the machine."""
    taken = []
    for _ in range(rounds):
        start = time.perf_counter()
        action()
        taken.append(time.perf_counter() - start)
    return min(taken)


def ratios() -> dict[str, tuple[float, float]]:
    """Time the bare call and the whole reading for each kind of file.

    Returns
    -------
    dict of str to (bare_s, reading_s)
    """
    import gpxpy
    import pandas as pd

    flight = invented_flight(samples=POINTS)
    written = {"gpx": as_gpx(flight), "csv": as_csv(flight)}
    measured = {}
    with tempfile.TemporaryDirectory() as folder:
        for kind, text in written.items():
            path = Path(folder) / f"long.{kind}"
            path.write_text(text)
            if kind == "gpx":
                bare = best_of(lambda text=text: gpxpy.parse(text), 2)
            else:
                bare = best_of(lambda path=path: pd.read_csv(io.BytesIO(path.read_bytes()), engine="c"))
            read_log(path)
            measured[kind] = (bare, best_of(lambda path=path: read_log(path)))
    return measured


def main() -> int:
    """Print the table; exit status 1 where a bound is broken."""
    broken = False
    print(f"reading a log of {POINTS:,} points")
    print(f"{'kind':6}{'bare s':>9}{'reading s':>11}{'ratio':>8}{'bound':>8}")
    for kind, (bare, reading) in ratios().items():
        broken |= reading / bare > BOUND
        print(f"{kind:6}{bare:9.3f}{reading:11.3f}{reading / bare:8.2f}{BOUND:8.1f}")
    return int(broken)


if __name__ == "__main__":
    sys.exit(main())
