"""How long reading takes beside the bare library call on the same file, in one run, and what memory it takes.

Run ``python -m tests.benchmark reading``. The bounds are the project's: reading a 72,000-point log costs at most
2.5 times a bare ``gpxpy.parse`` (GPX) or a bare ``pandas.read_csv`` with the C engine (tables). Bare call and
reading take turns, so that a machine that is busy with something else slows both.
"""

from __future__ import annotations

import gzip
import io
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from analyser.logs.read import read_log
from tests.logs_invented import as_csv, as_geojson, as_gpx, as_kml, as_nmea, invented_flight

POINTS = 72_000
BOUND = 2.5
#: Peak of resident memory beyond the program's own, in sizes of what is read: the columns of numbers.
MEMORY_BOUND = 12.0
#: So many points make 88 MB of GPX; so many rows a long table has.
_GPX_POINTS, _TABLE_ROWS = 514_000, 1_000_000


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


def large_logs(folder: Path, points: int | None = None) -> Iterator[tuple[str, Path]]:
    """Write logs that must be read in pieces, one at a time; ``points`` makes them smaller."""
    flight = invented_flight(samples=points or _GPX_POINTS)
    gpx = folder / "large.gpx"
    gpx.write_text(as_gpx(flight))
    size = gpx.stat().st_size
    yield f"{size / 1e6:.0f} MB of GPX", gpx
    packed = folder / "large.gpx.gz"
    packed.write_bytes(gzip.compress(gpx.read_bytes(), 1))
    gpx.unlink()
    yield f"{size / 1e6:.0f} MB of GPX inside gzip", packed
    packed.unlink()
    for name, write in (("KML", as_kml), ("GeoJSON", as_geojson), ("NMEA", as_nmea)):
        path = folder / f"large.{name.lower()}"
        path.write_text(write(flight))
        yield f"{path.stat().st_size / 1e6:.0f} MB of {name}", path
        path.unlink()
    rows = points or _TABLE_ROWS
    table = folder / "large.csv"
    table.write_text(as_csv(invented_flight(samples=rows)))
    yield f"a table of {rows:,} rows", table
    table.unlink()


def memory_ratio(path: Path) -> float:
    """Read a log in a process of its own; return the peak of its memory in sizes of the numbers it holds."""
    code = (
        "import sys\nfrom pathlib import Path\nfrom analyser.logs.read import read_log\n"
        "from tests.benchmark import forget_peak, peak_kb\nfrom tests.logs_invented import as_csv, invented_flight\n"
        "path = Path(sys.argv[1])\nsmall = path.with_name('small.csv')\n"
        "small.write_text(as_csv(invented_flight(100)))\nread_log(small)\n"
        "before = forget_peak()\ntracks = read_log(path)\nafter = peak_kb()\n"
        "columns = [c for t in tracks for c in (t.time_s, t.lat_deg, t.lon_deg, *t.channels.values())]\n"
        "print((after - before) * 1024 / sum(column.nbytes for column in columns))\n"
    )
    run = subprocess.run([sys.executable, "-c", code, str(path)], check=True, capture_output=True)
    return float(run.stdout)
