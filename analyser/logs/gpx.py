"""GPX 1.0 and 1.1, with or without its namespace.

References
----------
GPX 1.1 Schema Documentation, topografix.com/GPX/1/1: ``trkpt`` lat and lon in WGS84 decimal degrees, ``ele`` in
metres, ``time`` in UTC as ISO 8601. GPX 1.0 adds ``course`` (degrees true) and ``speed`` (m/s) to each point;
1.1 leaves such things to ``extensions``, whose common elements ``speed`` and ``course`` keep those units; what else
stands there is known by what its name means, as a table's columns are.
"""

from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree

import numpy as np

from analyser.errors import LogError
from analyser.logs.named import named_channels
from analyser.logs.raw import Content, FloatArray, RawFlight, ReadOptions
from analyser.logs.text import shown
from analyser.logs.times import iso_seconds, to_floats, zone_notice
from analyser.logs.track import Notice, Source
from analyser.logs.units import FEET_PER_METRE, KNOTS_PER_METRE_PER_SECOND
from analyser.logs.xml_tree import local, parse_xml, root_name

#: So many kinds of other elements are looked at.
_MOST_OTHERS = 40
#: What the schema's own elements say wherever they stand: of the receiver, not of the aircraft.
_OF_RECEIVER = frozenset(
    ("sat", "fix", "hdop", "vdop", "pdop", "geoidheight", "magvar", "ageofdgpsdata", "dgpsid")
)
#: What a point's child elements are called, lower-case, and which value they give.
_ELEMENTS = {"ele": "ele", "time": "time", "speed": "speed", "course": "course"}


def looks_like(head: str) -> bool:
    """Tell GPX by its root element.

    Parameters
    ----------
    head : str
        The first characters of the content.

    Returns
    -------
    bool
    """
    return root_name(head) == "gpx"


def read(content: Content) -> list[RawFlight]:
    """Read every track of a GPX file; segments of a track are joined, time tells where they belong.

    Parameters
    ----------
    content : Content

    Returns
    -------
    list of RawFlight
        One for each ``trk`` (a ``rte`` has no times and is no flight).

    Raises
    ------
    LogError
        Where there is no track, or no point of any track has a time.
    """
    tree = parse_xml(content)
    tracks = [element for element in tree.root.iter() if local(element.tag) == "trk"]
    read_tracks = (_track(track, tree.notices, content.options) for track in tracks)
    flights = [flight for flight in read_tracks if flight is not None]
    if not flights:
        raise LogError(
            "the GPX file holds no track points",
            file=content.name,
            place="element trk",
            mend="export the track, not the route or the waypoints",
        )
    if not any(np.isfinite(flight.time_s).any() for flight in flights):
        raise LogError(
            "no track point has a time, so nothing can be timed",
            file=content.name,
            place="element trkpt 1",
            mend="export the track again with its times",
        )
    return flights


def _track(track: ElementTree.Element, notices: tuple[Notice, ...], options: ReadOptions) -> RawFlight | None:
    points = [point for point in track.iter() if local(point.tag) == "trkpt"]
    if not points:
        return None
    values, others = _point_values(points)
    time_s, without_zone = iso_seconds(values["time"])
    channels, sources = _channels(values)
    named = named_channels(others, options)
    # The schema's own elements come first.
    sources += [_second(source) if source.channel in channels else source for source in named.sources]
    channels = named.channels | channels
    name = next((child.text or "" for child in track if local(child.tag) == "name"), "")
    if "altitude_ft" in channels:
        notices += (
            Notice(
                "altitude-datum",
                "GPX altitude is a receiver's height, not an altimeter's: it differs from the indicated altitude "
                "by the day's pressure and temperature error.",
            ),
        )
    return RawFlight(
        time_s,
        to_floats([point.get("lat") for point in points]),
        to_floats([point.get("lon") for point in points]),
        channels=channels,
        label=shown(name),
        notices=notices + zone_notice(without_zone, len(points)),
        sources=(
            Source("lat, lon", "position", "deg", "recognised"),
            Source("time", "time", "", "recognised"),
            *sources,
        ),
        undecided=tuple(one for one in named.undecided if one.channel not in channels),
    )


def _second(source: Source) -> Source:
    return replace(
        source, channel="", unit="", standing="ignored", why="the point's own element says the same"
    )


def _point_values(
    points: list[ElementTree.Element],
) -> tuple[dict[str, list[str | None]], dict[str, list[str | None]]]:
    """Collect the children of every point, and by their names what else its extensions hold.

    An extension's inner elements count, whatever their prefix.
    """
    others: dict[str, list[str | None]] = {}
    values: dict[str, list[str | None]] = {key: [] for key in _ELEMENTS.values()}
    wanted: dict[object, str | None] = {}
    columns = [(key, values[key].append) for key in values]
    for number, point in enumerate(points):
        found: dict[str, str | None] = {}
        for child in point:
            tag = child.tag
            if tag not in wanted:
                name = local(tag)
                wanted[tag] = _ELEMENTS.get(name, "extensions" if name == "extensions" else None)
            key = wanted[tag]
            if key == "extensions":
                for inner in child.iter():
                    name = local(inner.tag)
                    if name in ("speed", "course"):
                        found.setdefault(name, inner.text)
                    elif name not in _OF_RECEIVER and (inner.text or "").strip():
                        _keep(others, name, inner.text, number)
            elif key is not None:
                found[key] = child.text
        for key, append in columns:
            append(found.get(key))
    for texts in others.values():
        texts.extend([None] * (len(points) - len(texts)))
    return values, others


def _keep(others: dict[str, list[str | None]], name: str, text: str | None, number: int) -> None:
    """Keep what an element of a point holds, the first of its name."""
    if name not in others and len(others) >= _MOST_OTHERS:
        return
    texts = others.setdefault(name, [])
    if len(texts) <= number:
        texts.extend([None] * (number - len(texts)))
        texts.append(text)


def _channels(values: dict[str, list[str | None]]) -> tuple[dict[str, FloatArray], list[Source]]:
    channels: dict[str, FloatArray] = {}
    sources: list[Source] = []
    for element, channel, unit, factor in (
        ("ele", "altitude_ft", "m", FEET_PER_METRE),
        ("speed", "ground_speed_kt", "m/s", KNOTS_PER_METRE_PER_SECOND),
        ("course", "track_true_deg", "deg", 1.0),
    ):
        if any(values[element]):
            channels[channel] = to_floats(values[element]) * factor
            sources.append(Source(element, channel, unit, "recognised"))
    return channels, sources
