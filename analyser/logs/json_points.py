"""JSON that is a list of points, and NDJSON with one point a line: names of values as in a table's header.

References
----------
RFC 8259 (JSON); newline-delimited JSON is RFC 8259 texts parted by line ends (RFC 7464 parts them by another sign).
"""

from __future__ import annotations

from typing import Any

from analyser.errors import LogError
from analyser.logs.json_stream import JsonStream
from analyser.logs.limits import check_samples
from analyser.logs.meaning import meaning_of
from analyser.logs.raw import Content, RawFlight
from analyser.logs.records import Records, flat
from analyser.logs.text import shown
from analyser.logs.track import Notice

_MEND = 'give each point its time, latitude and longitude, such as {"time": …, "lat": …, "lon": …}'


def looks_like(head: str) -> bool:
    """Tell a JSON text, of which GeoJSON was asked about before."""
    bare = head.lstrip("\ufeff \t\r\n\x1e")
    return bare.startswith("{") or bare.lstrip("[ \t\r\n").startswith("{")


def read(content: Content) -> list[RawFlight]:
    """Read points.

    A list of objects, objects one after another, or an object that holds such a list, whatever its name.

    Raises
    ------
    LogError
        For broken JSON, and where the points have no time or no position.
    """
    stream, records = JsonStream(content), Records()
    damage: tuple[Notice, ...] = ()
    try:
        while stream.peek():
            if stream.peek() == "\x1e":
                stream.pass_mark()
            elif stream.peek() == "[":
                _list(stream, records)
            elif stream.peek() == "{":
                _object(stream, records, content)
            else:
                raise stream.fault("Expecting a list or an object")
    except LogError as error:
        damage = stream.cut_off(error, enough=len(records) > 1)
    concepts = {meaning.concept.name for name in records.names() if (meaning := meaning_of(name)) is not None}
    if not ({"lat", "lon"} <= concepts or "position" in concepts or content.options.columns):
        what = "no timed line and no list of points with a position is in it"
        raise content.refusal(what, "JSON", _MEND)
    flights = records.flights(content)
    return [flight.with_notices(damage) for flight in flights]


def _list(stream: JsonStream, records: Records) -> None:
    for _ in stream.items():
        if stream.peek() == "{":
            records.add(flat(stream.value()))
        elif stream.peek() == "[":
            _list(stream, records)
        else:
            stream.skip()


def _object(stream: JsonStream, records: Records, content: Content) -> None:
    """Take an object for a point, for what lies around a list of points, or for one list of each value."""
    alone: dict[str, object] = {}
    columns: dict[str, list[Any]] = {}
    held = len(records)
    for key in stream.members():
        if stream.peek() == "[" and stream.peek_inside() == "{":
            _list(stream, records)
        elif stream.peek() == "[" and meaning_of(key) is not None:
            columns[key] = _values(stream)
        elif stream.peek() == "[":
            stream.skip()
        elif stream.peek() == "{" and stream.peek_inside() != "}":
            _inside(stream, key, alone, records)
        else:
            alone[key] = stream.value()
    if len(records) > held:
        return
    if columns:
        _pair(columns, records, content)
    elif alone:
        records.add(flat(alone))


def _values(stream: JsonStream) -> list[Any]:
    values = []
    for _ in stream.items():
        value = stream.value()
        values.append(None if isinstance(value, (list, dict)) else value)
        check_samples(len(values))
    return values


def _pair(columns: dict[str, list[Any]], records: Records, content: Content) -> None:
    """Refuse lists of different lengths: nothing tells which value is missing."""
    lengths = {len(values) for values in columns.values()}
    if len(lengths) > 1:
        listed = ", ".join(f"{len(values):,} under '{shown(name, 40)}'" for name, values in columns.items())
        raise content.refusal(
            f"the lists differ in length, and nothing tells what is missing: {listed}",
            mend="give every point all its values",
        )
    records.add_columns(columns)


def _inside(stream: JsonStream, key: str, alone: dict[str, object], records: Records) -> None:
    """Go into an object: a point's own, or one more round a list."""
    inner: dict[str, object] = {}
    for name in stream.members():
        if stream.peek() == "[" and stream.peek_inside() == "{":
            _list(stream, records)
        elif stream.peek() in ("[", "{"):
            stream.skip()
        else:
            inner[name] = stream.value()
    alone[key] = inner
