"""KML, and KMZ once unpacked: tracks with times, timed points, timed lines; folders may nest.

References
----------
OGC 12-007r2, KML 2.3: ``Track`` (``gx:Track`` in the 2.2 extensions) pairs each ``when`` with a ``coord`` of
longitude, latitude and altitude in metres; ``angles`` holds heading, tilt and roll in degrees; a ``LineString``
has no times of its own; ``altitudeMode`` says what the altitude is measured from.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analyser.errors import LogError
from analyser.logs.kml_elements import Document, Line, TrackElement
from analyser.logs.point_flight import extension_fields
from analyser.logs.raw import Content, FloatArray, RawFlight, cut_off
from analyser.logs.text import shown
from analyser.logs.times import untimed_notice
from analyser.logs.track import Notice, Source
from analyser.logs.units import FEET_PER_METRE
from analyser.logs.xml_stream import read_xml, root_name

_ROOTS = ("kml", "document", "folder", "placemark", "track", "multitrack")


def looks_like(head: str) -> bool:
    """Tell KML by its root element."""
    return root_name(head) in _ROOTS


def read(content: Content) -> list[RawFlight]:
    """Read every track of a KML document.

    Raises
    ------
    LogError
        Where nothing has times: a plain line cannot be timed.
    """
    flights: list[RawFlight] = []
    # Lines of two points each make one flight.
    segments: list[RawFlight] = []
    document = Document(
        on_track=lambda track: flights.append(_track(track, content)),
        on_line=lambda line: (segments if len(line.places) == 2 else flights).append(_line(line)),
    )
    broken_at = read_xml(content, document.start, document.end)
    if segments:
        flights.append(_chained(segments))
    flights += [_line(points) for points in document.timed_points() if len(points.times) > 1]
    if not flights:
        raise _refusal(document, content, broken_at)
    notices = (*cut_off(broken_at), *untimed_notice(document.untimed))
    return [flight.with_notices(notices) for flight in flights]


def _refusal(document: Document, content: Content, broken_at: str) -> LogError:
    what, place = "the document holds no track", "element Placemark"
    if document.untimed:
        what, place = "the line has no times, so nothing can be timed", "element LineString"
    if document.timed_whole:
        what = "a line has one time span for all its points, so its points cannot be timed"
    hint = "export the flight as a track with times (a Track element, GPX or CSV)"
    return content.refusal(what, place, hint, broken_at)


def _track(track: TrackElement, content: Content) -> RawFlight:
    time_s = track.times.values()
    places = track.places.values()
    if time_s.size != len(places):
        time_s = _interleaved(time_s, track, content)
    arrays = {name: values.values() for name, values in track.arrays.items() if len(values) == len(places)}
    fields = extension_fields(arrays, content.options)
    flight = _line(track, time_s)
    attitude = _attitude(track.angles.values()) if len(track.angles) == len(places) else {}
    return replace(
        flight,
        channels={**flight.channels, **fields.channels, **attitude},
        sources=(*flight.sources, *fields.sources),
        undecided=tuple(fields.undecided),
    )


def _interleaved(time_s: FloatArray, track: TrackElement, content: Content) -> FloatArray:
    """Pair by neighbourhood where times and positions alternate; refuse to guess where they stand in two lists."""
    before = track.times_before.values().astype(int)
    if np.unique(before).size <= 0.5 * before.size:
        raise content.refusal(
            f"a track has {time_s.size} times for {before.size} positions, and nothing tells which is missing",
            "element Track",
            "export it again",
        )
    # A second position after the same time lacks its own.
    first = np.concatenate([[True], np.diff(before) != 0]) & (before > 0)
    return np.where(first, time_s[np.maximum(before - 1, 0)] if time_s.size else np.nan, np.nan)


def _altitude(
    metres: FloatArray, mode: str
) -> tuple[dict[str, FloatArray], tuple[Notice, ...], tuple[Source, ...]]:
    position = Source("coord", "position", "deg", "recognised")
    if not (np.isfinite(metres).any() and np.nanmax(np.abs(metres)) > 0.0):
        return {}, (), (position,)
    if mode.strip().lower().startswith("relative"):
        notice = Notice("altitude-above-ground", "The altitude is measured from the ground; it was not used.")
        return {}, (notice,), (position, Source("altitude", "", "m", "ignored", "measured from the ground"))
    notice = Notice(
        "altitude-datum",
        "KML altitude is a height above a sea-level model, not an altimeter's: it differs from the indicated.",
    )
    return (
        {"altitude_ft": metres * FEET_PER_METRE},
        (notice,),
        (position, Source("altitude", "altitude_ft", "m", "recognised")),
    )


def _attitude(angles: FloatArray) -> dict[str, FloatArray]:
    columns = zip(("heading_true_deg", "pitch_deg", "bank_deg"), angles.T, strict=True)
    # Writers that know only the track fill the rest with zeros.
    return {name: values for name, values in columns if np.isfinite(values).any() and np.nanstd(values) > 0.0}


def _line(line: Line, time_s: FloatArray | None = None) -> RawFlight:
    places = line.places.values()
    channels, notices, sources = _altitude(places[:, 2], line.altitude_mode)
    return RawFlight(
        line.times.values() if time_s is None else time_s,
        places[:, 1],
        places[:, 0],
        channels=channels,
        label=shown(line.label),
        notices=(*notices, *line.iso.notices()),
        sources=(Source("when", "time", "", "recognised"), *sources),
    )


def _chained(segments: list[RawFlight]) -> RawFlight:
    """Join segments of two points each; an end that repeats the next one's beginning is taken once."""
    keys = set(segments[0].channels).intersection(*(segment.channels for segment in segments))
    chain = replace(
        segments[0],
        time_s=np.concatenate([segment.time_s for segment in segments]),
        lat_deg=np.concatenate([segment.lat_deg for segment in segments]),
        lon_deg=np.concatenate([segment.lon_deg for segment in segments]),
        channels={key: np.concatenate([segment.channels[key] for segment in segments]) for key in keys},
    )
    same = (np.diff(chain.time_s) == 0.0) & (np.diff(chain.lat_deg) == 0.0) & (np.diff(chain.lon_deg) == 0.0)
    return chain.take(np.concatenate([[True], ~same]))
