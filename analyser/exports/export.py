"""The way out: a cleaned track, cut into phases, in an open format that reads back equal."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from analyser.errors import UsageError
from analyser.exports.segments import Phase, Segment, Waypoint, segments
from analyser.logs.track import Track


def export_track(track: Track, to: str, phases: Sequence[Phase] = (), places: Sequence[Waypoint] = ()) -> str:
    """Write a track.

    Parameters
    ----------
    track : Track
    to : str
        ``"gpx"``, ``"kml"``, ``"geojson"`` or ``"csv"``.
    phases : sequence of Phase
        Become segments (GPX), styled folders (KML), features (GeoJSON) or a column (CSV).
    places : sequence of Waypoint
        Become waypoints (GPX), placemarks (KML) or features (GeoJSON); a table has no room for them.

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
    return writer(track, segments(track, phases), places)


def _writers() -> dict[str, Callable[[Track, list[Segment], Sequence[Waypoint]], str]]:
    from analyser.exports.csv_writer import write_csv
    from analyser.exports.geojson_writer import write_geojson
    from analyser.exports.gpx_writer import write_gpx
    from analyser.exports.kml_writer import write_kml

    return {"gpx": write_gpx, "kml": write_kml, "geojson": write_geojson, "csv": write_csv}
