"""Garbage is collected rarely: the many small objects of a debrief live to its end, and reference cycles are few."""

from __future__ import annotations

import gc

#: Objects made before the youngest generation is looked through (Python's own: 700), and how many such looks make
#: the next generation's turn. Measured on an hour's debrief: the usual pace takes a twentieth of its time.
THRESHOLD = (100_000, 50, 50)


def collect_rarely() -> None:
    """Look for reference cycles less often in this process; what is in none is freed at once as ever."""
    gc.set_threshold(*THRESHOLD)
