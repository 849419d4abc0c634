"""A track cut into the stretches that an export keeps apart."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np

from analyser.frozen import dataclass
from analyser.logs.track import Track


@dataclass(frozen=True)
class Phase:
    """A stretch of flight with a name, such as ``"circuit 1, outbound turn"``."""

    #: Seconds from the log's first sample.
    start_s: float
    end_s: float
    name: str


@dataclass(frozen=True)
class Waypoint:
    """A point that is named in an export; its texts are untrusted."""

    lat_deg: float
    lon_deg: float
    name: str
    told: str = ""


@dataclass(frozen=True)
class Segment:
    """Samples of one phase, or between phases; neighbouring segments share no sample."""

    #: First sample, and one past the last.
    first: int
    last: int
    #: Empty between phases.
    name: str


def segments(track: Track, phases: Sequence[Phase]) -> list[Segment]:
    """Cut a track at its phases, in any order: every sample is in exactly one segment.

    Where two phases overlap the later one begins where the earlier one ends.
    """
    owner = np.full(track.samples, -1)
    ordered = sorted(phases, key=lambda phase: (phase.start_s, phase.end_s))
    for place, phase in enumerate(ordered):
        inside = (track.time_s >= phase.start_s - 1e-6) & (track.time_s < phase.end_s - 1e-6) & (owner < 0)
        owner[inside] = place
    edges = [0, *(np.flatnonzero(np.diff(owner)) + 1).tolist(), track.samples]
    return [
        Segment(first, last, ordered[owner[first]].name if owner[first] >= 0 else "")
        for first, last in itertools.pairwise(edges)
    ]
