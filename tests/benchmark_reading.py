"""Print how long reading takes beside the bare library call on the same file, in one run.

Run ``python -m tests.benchmark_reading``. The bounds are the project's: reading a 72,000-point log costs at most
2.5 times a bare ``gpxpy.parse`` (GPX) or a bare ``pandas.read_csv`` with the C engine (tables). Bare call and
reading take turns, so that a machine that is busy with something else slows both.
"""

from __future__ import annotations

import io
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from analyser.logs.read import read_log
from tests.logs_invented import as_csv, as_gpx, invented_flight

POINTS = 72_000
BOUND = 2.5


def seconds(action: Callable[[], object]) -> float:
    """Time one call, seconds of this process."""
    start = time.process_time()
    action()
    return time.process_time() - start


def in_turns(
    bare: Callable[[], object], reading: Callable[[], object], rounds: int
) -> tuple[float, float, float]:
    """Time two calls in turns.

    Returns
    -------
    bare_s, reading_s, ratio : float
        The median of each, and of the rounds' ratios.
    """
    pairs = [(seconds(bare), seconds(reading)) for _ in range(rounds)]
    return (
        statistics.median(p[0] for p in pairs),
        statistics.median(p[1] for p in pairs),
        statistics.median(p[1] / p[0] for p in pairs),
    )


def measured(folder: Path, rounds: int = 5, points: int = POINTS) -> dict[str, tuple[float, float, float]]:
    """Write the files, read each once to load what is loaded late, and time them.

    A table is read so fast that four times as many rounds are needed to see past the clock.
    """
    import gpxpy
    import pandas as pd

    flight = invented_flight(samples=points)
    gpx, csv = folder / "long.gpx", folder / "long.csv"
    gpx.write_text(as_gpx(flight))
    csv.write_text(as_csv(flight))
    for path in (gpx, csv):
        read_log(path)
    return {
        "gpx": in_turns(lambda: gpxpy.parse(gpx.read_text()), lambda: read_log(gpx), rounds),
        "csv": in_turns(
            lambda: pd.read_csv(io.BytesIO(csv.read_bytes()), engine="c"), lambda: read_log(csv), 4 * rounds
        ),
    }


def main() -> int:
    """Print the table; exit status 1 where a bound is broken."""
    with tempfile.TemporaryDirectory() as folder:
        found = measured(Path(folder))
    print(f"reading a log of {POINTS:,} points, beside gpxpy.parse and pandas.read_csv")
    print(f"{'kind':6}{'bare s':>9}{'reading s':>11}{'ratio':>8}{'bound':>8}")
    for kind, (bare, reading, ratio) in found.items():
        print(f"{kind:6}{bare:9.3f}{reading:11.3f}{ratio:8.2f}{BOUND:8.1f}")
    return int(any(ratio > BOUND for _, _, ratio in found.values()))


if __name__ == "__main__":
    sys.exit(main())
