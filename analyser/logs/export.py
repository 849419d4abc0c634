"""The way out: a cleaned track, cut into phases, in an open format that reads back equal."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from analyser.errors import UsageError
from analyser.logs.track import Track


@dataclass(frozen=True)
class Phase:
    """A stretch of flight with a name.

    Attributes
    ----------
    start_s, end_s : float
        Seconds from the log's first sample.
    name : str
        Such as ``"circuit 1, outbound turn"``.
    """

    start_s: float
    end_s: float
    name: str


@dataclass(frozen=True)
class Piece:
    """Samples of one phase, or between phases.

    Attributes
    ----------
    first, last : int
        First sample, and one past the last. Neighbouring pieces share no sample.
    name : str
        Empty between phases.
    """

    first: int
    last: int
    name: str


def pieces(track: Track, phases: Sequence[Phase]) -> list[Piece]:
    """Cut a track at its phases.

    Parameters
    ----------
    track : Track
    phases : sequence of Phase
        In any order; where two overlap the later one begins where the earlier one ends.

    Returns
    -------
    list of Piece
        Every sample in exactly one piece, in order.
    """
    owner = np.full(track.samples, -1)
    ordered = sorted(phases, key=lambda phase: (phase.start_s, phase.end_s))
    for place, phase in enumerate(ordered):
        inside = (track.time_s >= phase.start_s - 1e-6) & (track.time_s < phase.end_s - 1e-6) & (owner < 0)
        owner[inside] = place
    edges = [0, *(np.flatnonzero(np.diff(owner)) + 1).tolist(), track.samples]
    return [
        Piece(first, last, ordered[owner[first]].name if owner[first] >= 0 else "")
        for first, last in itertools.pairwise(edges)
    ]


def export_track(track: Track, to: str, phases: Sequence[Phase] = ()) -> str:
    """Write a track.

    Parameters
    ----------
    track : Track
    to : str
        ``"gpx"``, ``"kml"``, ``"geojson"`` or ``"csv"``.
    phases : sequence of Phase
        Become segments (GPX), styled folders (KML), features (GeoJSON) or a column (CSV).

    Returns
    -------
    str
        The whole file.

    Raises
    ------
    UsageError
        For another format, and where the format needs a date that the log does not have.
    """
    writer = _writers().get(to)
    if writer is None:
        raise UsageError(
            f"'{to}' is no format to export to", place="--to", mend="choose gpx, kml, geojson or csv"
        )
    if track.start_utc is None and to != "csv":
        raise UsageError(
            f"the log has no date, and {to.upper()} times need one",
            file=track.name,
            place="--to",
            mend="export it to csv, which can carry seconds alone",
        )
    return writer(track, pieces(track, phases))


def _writers() -> dict[str, Callable[[Track, list[Piece]], str]]:
    from analyser.logs.export_csv import write_csv
    from analyser.logs.export_geojson import write_geojson
    from analyser.logs.export_gpx import write_gpx
    from analyser.logs.export_kml import write_kml

    return {"gpx": write_gpx, "kml": write_kml, "geojson": write_geojson, "csv": write_csv}
