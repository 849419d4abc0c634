"""KML, and KMZ once unpacked: tracks with times, timed points, timed segments; folders may nest.

References
----------
OGC 12-007r2, KML 2.3: ``Track`` (``gx:Track`` in the 2.2 extensions) pairs each ``when`` with a ``coord`` of
longitude, latitude and altitude in metres; ``angles`` holds heading, tilt and roll in degrees; a ``LineString``
has no times of its own; ``altitudeMode`` says what the altitude is measured from.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from xml.etree.ElementTree import Element

import numpy as np

from analyser.errors import LogError
from analyser.logs.meaning import meaning_of
from analyser.logs.named import named_channels
from analyser.logs.raw import Content, FloatArray, RawFlight
from analyser.logs.text import shown
from analyser.logs.times import iso_seconds, to_floats, untimed_notice, zone_notice
from analyser.logs.track import Notice, Source
from analyser.logs.units import FEET_PER_METRE
from analyser.logs.xml_tree import local, parse_xml, root_name

_ROOTS = ("kml", "document", "folder", "placemark", "track", "multitrack")


def looks_like(head: str) -> bool:
    """Tell KML by its root element.

    Parameters
    ----------
    head : str

    Returns
    -------
    bool
    """
    return root_name(head) in _ROOTS


@dataclass
class _Found:
    """What was met on the way through the document."""

    flights: list[RawFlight] = field(default_factory=list)
    untimed: int = 0
    timed_whole: int = 0


def read(content: Content) -> list[RawFlight]:
    """Read every track of a KML document.

    Parameters
    ----------
    content : Content

    Returns
    -------
    list of RawFlight

    Raises
    ------
    LogError
        Where nothing has times: a plain line cannot be timed.
    """
    tree = parse_xml(content)
    found = _Found()
    _tracks(tree.root, content, found)
    _lines(tree.root, content, found)
    _timed_points(tree.root, found)
    if not found.flights:
        raise _refusal(found, content)
    said = (*tree.notices, *untimed_notice(found.untimed))
    return [replace(flight, notices=(*said, *flight.notices)) for flight in found.flights]


def _refusal(found: _Found, content: Content) -> LogError:
    mend = "export the flight as a track with times (a Track element, GPX or CSV)"
    if found.timed_whole:
        return LogError(
            "a line has one time span for all its points, so its points cannot be timed",
            file=content.name,
            place="element LineString",
            mend=mend,
        )
    if found.untimed:
        return LogError(
            "the line has no times, so nothing can be timed",
            file=content.name,
            place="element LineString",
            mend=mend,
        )
    return LogError("the document holds no track", file=content.name, place="element Placemark", mend=mend)


def _tracks(root: Element, content: Content, found: _Found) -> None:
    labels = {
        id(track): _text_of(placemark, "name")
        for placemark in root.iter()
        if local(placemark.tag) == "placemark"
        for track in placemark.iter()
        if local(track.tag) == "track"
    }
    for track in root.iter():
        flight = _track(track, content) if local(track.tag) == "track" else None
        if flight is not None:
            found.flights.append(replace(flight, label=shown(labels.get(id(track), ""))))


def _text_of(parent: Element, name: str) -> str:
    return next((child.text or "" for child in parent if local(child.tag) == name), "")


def _track(track: Element, content: Content) -> RawFlight | None:
    whens: list[str | None] = []
    coords: list[str | None] = []
    angles: list[str | None] = []
    paired: list[int] = []
    for child in track:
        name = local(child.tag)
        if name == "when":
            whens.append(child.text)
        elif name == "coord":
            paired.append(len(whens) - 1)
            coords.append(child.text)
        elif name == "angles":
            angles.append(child.text)
    if not coords:
        return None
    if len(whens) != len(coords):
        whens = _interleaved(whens, coords, paired, content)
    time_s, without_zone = iso_seconds(whens)
    lon, lat, alt = _split_coordinates(coords, " ")
    channels, notices, sources = _altitude(alt, _text_of(track, "altitudemode"))
    named = named_channels(_arrays(track, len(coords)), content.options)
    channels |= named.channels | (_attitude(angles) if len(angles) == len(coords) else {})
    return RawFlight(
        time_s,
        lat,
        lon,
        channels=channels,
        notices=(*notices, *zone_notice(without_zone, len(whens))),
        sources=(Source("when", "time", "", "recognised"), *sources, *named.sources),
        undecided=tuple(named.undecided),
    )


def _interleaved(
    whens: list[str | None], coords: list[str | None], paired: list[int], content: Content
) -> list[str | None]:
    """Pair by neighbourhood where times and positions alternate; refuse to guess where they stand in two lists."""
    in_turn = len(set(paired)) > 0.5 * len(coords)
    if not in_turn:
        raise LogError(
            f"a track has {len(whens)} times for {len(coords)} positions, and nothing tells which is missing",
            file=content.name,
            place="element Track",
            mend="export it again",
        )
    met: set[int] = set()
    result: list[str | None] = []
    for place in paired:
        # A second position after the same time lacks its own.
        result.append(whens[place] if place >= 0 and place not in met else None)
        met.add(place)
    return result


def _split_coordinates(
    coords: Iterable[str | None], separator: str
) -> tuple[FloatArray, FloatArray, FloatArray]:
    parts = [(text or "").split(None if separator == " " else separator) for text in coords]
    columns = [[part[place].strip() if len(part) > place else None for part in parts] for place in range(3)]
    return to_floats(columns[0]), to_floats(columns[1]), to_floats(columns[2])


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


def _attitude(angles: list[str | None]) -> dict[str, FloatArray]:
    heading, tilt, roll = _split_coordinates(angles, " ")
    named = {"heading_true_deg": heading, "pitch_deg": tilt, "bank_deg": roll}
    # Writers that know only the track fill the rest with zeros.
    return {
        name: values
        for name, values in named.items()
        if np.isfinite(values).any() and np.nanstd(values) > 0.0
    }


def _arrays(track: Element, count: int) -> dict[str, list[object]]:
    """Collect the arrays of extended data that have a value for each position."""
    arrays: dict[str, list[object]] = {}
    for element in track.iter():
        if local(element.tag) == "simplearraydata":
            values: list[object] = [child.text for child in element if local(child.tag) == "value"]
            if len(values) == count:
                arrays[element.get("name") or ""] = values
    return arrays


def _lines(root: Element, content: Content, found: _Found) -> None:
    """Read lines whose Placemark gives a time for every point, or a span for a line of two points."""
    segments: list[RawFlight] = []
    for placemark in root.iter():
        if local(placemark.tag) != "placemark":
            continue
        for line in placemark.iter():
            if local(line.tag) != "linestring":
                continue
            coords = _text_of(line, "coordinates").split()
            times = _line_times(placemark, len(coords))
            if times is None:
                found.untimed += 1
                found.timed_whole += any(local(e.tag) == "timespan" for e in placemark)
                continue
            flight = _line(coords, times, _text_of(line, "altitudemode"))
            flight = replace(flight, label=shown(_text_of(placemark, "name")))
            (segments if len(coords) == 2 else found.flights).append(flight)
    if segments:
        found.flights.append(_chained(segments))


def _line_times(placemark: Element, count: int) -> list[str | None] | None:
    whens: list[str | None] = [e.text for e in placemark.iter() if local(e.tag) == "when"]
    if count and len(whens) == count:
        return whens
    if count == 2:
        span = [e.text for name in ("begin", "end") for e in placemark.iter() if local(e.tag) == name]
        if len(span) == 2:
            return [span[0], span[1]]
    for name, values in _arrays(placemark, count).items():
        meaning = meaning_of(name)
        if meaning is not None and meaning.concept.name == "time":
            return [value if isinstance(value, str) else None for value in values]
    return None


def _line(coords: list[str], times: list[str | None], mode: str) -> RawFlight:
    lon, lat, alt = _split_coordinates(coords, ",")
    time_s, without_zone = iso_seconds(times)
    channels, notices, sources = _altitude(alt, mode)
    return RawFlight(
        time_s,
        lat,
        lon,
        channels=channels,
        notices=(*notices, *zone_notice(without_zone, len(times))),
        sources=sources,
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


def _timed_points(root: Element, found: _Found) -> None:
    """Read Placemarks that hold one point and one time; those of one folder are one flight."""
    for folder in root.iter():
        rows = [row for placemark in folder if (row := _timed_point(placemark)) is not None]
        if len(rows) < 2:
            continue
        time_s, without_zone = iso_seconds([row[0] for row in rows])
        lon, lat, alt = _split_coordinates([row[1] for row in rows], ",")
        channels, notices, sources = _altitude(alt, rows[0][2])
        found.flights.append(
            RawFlight(
                time_s,
                lat,
                lon,
                channels=channels,
                label=shown(_text_of(folder, "name")),
                notices=(*notices, *zone_notice(without_zone, len(rows))),
                sources=(Source("TimeStamp", "time", "", "recognised"), *sources),
            )
        )


def _timed_point(placemark: Element) -> tuple[str, str, str] | None:
    if local(placemark.tag) != "placemark":
        return None
    when = next((e.text for e in placemark.iter() if local(e.tag) == "when"), None)
    point = next((e for e in placemark if local(e.tag) == "point"), None)
    if when is None or point is None:
        return None
    return when, _text_of(point, "coordinates").strip(), _text_of(point, "altitudemode")
