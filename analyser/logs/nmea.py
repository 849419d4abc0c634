"""NMEA 0183 sentences, as receivers send them: RMC, GGA, GLL, VTG, HDT, HDG and ZDA from any talker.

References
----------
NMEA 0183: ``$`` talker and sentence name, comma-separated fields, ``*`` and the exclusive-or of everything
between as two hexadecimal digits. RMC carries time, status, position, speed (kt), track (true) and the date; GGA
time, position, fix quality and antenna altitude (m above mean sea level); HDG a magnetic sensor's heading with
deviation and variation. Field orders agree with the reference library used in the tests.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import reduce

import numpy as np

from analyser.errors import LogError
from analyser.logs.raw import Content, FloatArray, RawFlight
from analyser.logs.text import counted, decode, left_out, refuse_long_lines
from analyser.logs.times import unroll_days
from analyser.logs.track import Notice, Source
from analyser.logs.units import FEET_PER_METRE, KNOTS_PER_KILOMETRE_PER_HOUR

_LOOKS = re.compile(r"\$[A-Z]{2}(?:RMC|GGA|GLL|VTG|HDT|HDG|ZDA|GSA|GSV),")
_NAN = float("nan")


def looks_like(head: str) -> bool:
    """Tell NMEA 0183 by a sentence of a kind receivers send.

    Parameters
    ----------
    head : str

    Returns
    -------
    bool
    """
    return _LOOKS.search(head) is not None


@dataclass
class _Epoch:
    """What the sentences of one instant say."""

    clock_s: float
    day_s: float = _NAN
    lat: float = _NAN
    lon: float = _NAN
    values: dict[str, float] = field(default_factory=dict)


@dataclass
class _Stream:
    """The epochs so far; sentences without a time belong to the last one."""

    epochs: list[_Epoch] = field(default_factory=list)
    damaged: int = 0
    unchecked: int = 0
    without_fix: int = 0

    def at(self, clock: str) -> _Epoch | None:
        seconds = _clock(clock)
        if math.isnan(seconds):
            return None
        if not self.epochs or self.epochs[-1].clock_s != seconds:
            self.epochs.append(_Epoch(seconds))
        return self.epochs[-1]

    def last(self) -> _Epoch | None:
        return self.epochs[-1] if self.epochs else None


def read(content: Content) -> list[RawFlight]:
    """Read a stream of sentences.

    Parameters
    ----------
    content : Content

    Returns
    -------
    list of RawFlight
        One.

    Raises
    ------
    LogError
        Where no sentence gives a time and a position.
    """
    refuse_long_lines(content.data, content.name)
    stream = _Stream()
    for line in decode(content.data).splitlines():
        _sentence(line, stream)
    epochs = [epoch for epoch in stream.epochs if not math.isnan(epoch.lat + epoch.lon)]
    if not epochs:
        raise LogError(
            _why(stream),
            file=content.name,
            place="sentences RMC, GGA and GLL",
            mend="record RMC or GGA sentences with a fix",
        )
    time_s, dated = _times(epochs)
    channels = _channels(epochs)
    return [
        RawFlight(
            time_s,
            np.array([epoch.lat for epoch in epochs]),
            np.array([epoch.lon for epoch in epochs]),
            dated,
            channels,
            notices=tuple(_notices(stream, channels)),
            sources=(
                Source("RMC, GGA, GLL", "position", "deg", "recognised"),
                Source("RMC, GGA, GLL", "time", "UTC", "recognised"),
                *(Source(_FROM[name], name, "", "recognised") for name in channels),
            ),
        )
    ]


_FROM = {
    "altitude_ft": "GGA",
    "ground_speed_kt": "RMC, VTG",
    "track_true_deg": "RMC, VTG",
    "heading_true_deg": "HDT",
    "heading_magnetic_deg": "HDG",
}


def _why(stream: _Stream) -> str:
    if stream.without_fix:
        return "the receiver never had a fix"
    if stream.damaged:
        return f"no sentence with a position is whole ({stream.damaged} have a wrong checksum)"
    return "no sentence gives both a time and a position"


def _notices(stream: _Stream, channels: dict[str, FloatArray]) -> list[Notice]:
    notices = []
    if stream.damaged:
        notices.append(
            Notice(
                "checksum-wrong",
                left_out(
                    stream.damaged, "sentence is damaged (checksum)", "sentences are damaged (checksum)"
                ),
            )
        )
    if stream.unchecked:
        notices.append(
            Notice(
                "checksum-missing",
                counted(
                    stream.unchecked,
                    "sentence carries no checksum; it was used.",
                    "sentences carry no checksum; they were used.",
                ),
            )
        )
    if stream.without_fix:
        notices.append(
            Notice(
                "fix-missing",
                counted(stream.without_fix, "sentence says", "sentences say") + " that there was no fix.",
            )
        )
    if "altitude_ft" in channels:
        said = "a receiver's height above mean sea level, not an altimeter's: it differs from the indicated altitude"
        notices.append(Notice("altitude-datum", f"The altitude is {said}."))
    return notices


def _sentence(line: str, stream: _Stream) -> None:
    start = line.find("$")
    if start < 0:
        return
    body, star, check = line[start + 1 :].strip().partition("*")
    name = body[2:5]
    reader = _READERS.get(name)
    if reader is None or body[:1] == "P" or body[5:6] != ",":
        return
    if star:
        total = reduce(lambda sum_, code: sum_ ^ code, body.encode("latin-1", "replace"), 0)
        if not re.fullmatch(r"[0-9A-Fa-f]{2}", check[:2]) or int(check[:2], 16) != total:
            stream.damaged += 1
            return
    else:
        stream.unchecked += 1
    fields = body.split(",")[1:]
    reader(fields + [""] * 12, stream)


def _rmc(fields: list[str], stream: _Stream) -> None:
    epoch = stream.at(fields[0])
    if epoch is None:
        return
    day = _date(fields[8])
    if not math.isnan(day):
        epoch.day_s = day
    if fields[1] != "A" or fields[11] == "N":
        stream.without_fix += 1
        return
    _place(epoch, fields[2:6])
    _put(epoch, "ground_speed_kt", fields[6])
    _put(epoch, "track_true_deg", fields[7])


def _gga(fields: list[str], stream: _Stream) -> None:
    epoch = stream.at(fields[0])
    if epoch is None:
        return
    if fields[5] in ("", "0"):
        stream.without_fix += 1
        return
    _place(epoch, fields[1:5])
    if fields[9] in ("M", ""):
        _put(epoch, "altitude_ft", fields[8], FEET_PER_METRE)


def _gll(fields: list[str], stream: _Stream) -> None:
    epoch = stream.at(fields[4])
    if epoch is None:
        return
    if fields[5] == "V":
        stream.without_fix += 1
        return
    _place(epoch, fields[0:4])


def _vtg(fields: list[str], stream: _Stream) -> None:
    epoch = stream.last()
    if epoch is None:
        return
    if fields[1] == "T":
        _put(epoch, "track_true_deg", fields[0])
        _put(epoch, "ground_speed_kt", fields[4])
        if "ground_speed_kt" not in epoch.values:
            _put(epoch, "ground_speed_kt", fields[6], KNOTS_PER_KILOMETRE_PER_HOUR)


def _hdt(fields: list[str], stream: _Stream) -> None:
    epoch = stream.last()
    if epoch is not None:
        _put(epoch, "heading_true_deg", fields[0])


def _hdg(fields: list[str], stream: _Stream) -> None:
    """Add the deviation to a magnetic sensor's heading: east is positive."""
    epoch, sensor = stream.last(), _float(fields[0])
    if epoch is None or math.isnan(sensor):
        return
    deviation = _float(fields[1])
    correction = 0.0 if math.isnan(deviation) else -deviation if fields[2] == "W" else deviation
    epoch.values["heading_magnetic_deg"] = sensor + correction


def _zda(fields: list[str], stream: _Stream) -> None:
    epoch = stream.at(fields[0])
    if epoch is None or not (fields[1].isdigit() and fields[2].isdigit() and fields[3].isdigit()):
        return
    epoch.day_s = _midnight(int(fields[3]), int(fields[2]), int(fields[1]))


_READERS: dict[str, Callable[[list[str], _Stream], None]] = {
    "RMC": _rmc,
    "GGA": _gga,
    "GLL": _gll,
    "VTG": _vtg,
    "HDT": _hdt,
    "HDG": _hdg,
    "ZDA": _zda,
}


def _put(epoch: _Epoch, name: str, text: str, factor: float = 1.0) -> None:
    value = _float(text)
    if not math.isnan(value):
        epoch.values.setdefault(name, value * factor)


def _place(epoch: _Epoch, fields: list[str]) -> None:
    """Read latitude and longitude; the first good pair of an epoch stays."""
    if not math.isnan(epoch.lat):
        return
    lat, lon = _angle(fields[0], fields[1] == "S"), _angle(fields[2], fields[3] == "W")
    if not math.isnan(lat + lon) and fields[1] in ("N", "S") and fields[3] in ("E", "W"):
        epoch.lat, epoch.lon = lat, lon


def _angle(text: str, negative: bool) -> float:
    """Read ``DDDMM.mmmm``."""
    match = re.fullmatch(r"(\d{1,3})(\d{2}(?:\.\d*)?)", text)
    if match is None or float(match[2]) >= 60.0:
        return _NAN
    value = int(match[1]) + float(match[2]) / 60.0
    return -value if negative else value


def _clock(text: str) -> float:
    match = re.fullmatch(r"(\d{2})(\d{2})(\d{2}(?:\.\d*)?)", text)
    if match is None or int(match[1]) > 23 or int(match[2]) > 59 or float(match[3]) >= 61.0:
        return _NAN
    return int(match[1]) * 3600.0 + int(match[2]) * 60.0 + float(match[3])


def _date(text: str) -> float:
    if not re.fullmatch(r"\d{6}", text):
        return _NAN
    year = int(text[4:])
    return _midnight(2000 + year if year < 80 else 1900 + year, int(text[2:4]), int(text[:2]))


def _midnight(year: int, month: int, day: int) -> float:
    try:
        return datetime(year, month, day, tzinfo=UTC).timestamp()
    except ValueError:
        return _NAN


def _float(text: str) -> float:
    try:
        return float(text) if text and "_" not in text else _NAN
    except ValueError:
        return _NAN


def _times(epochs: list[_Epoch]) -> tuple[FloatArray, bool]:
    """Give each epoch its date: its own sentence's, else carried on over midnights from the nearest known."""
    clock = np.array([epoch.clock_s for epoch in epochs])
    days = np.array([epoch.day_s for epoch in epochs])
    unrolled, _ = unroll_days(clock)
    known = np.flatnonzero(np.isfinite(days))
    if known.size == 0:
        return unrolled, False
    base = days[known] + clock[known] - unrolled[known]
    nearest = np.clip(np.searchsorted(known, np.arange(clock.size), side="right") - 1, 0, known.size - 1)
    return unrolled + base[nearest], True


def _channels(epochs: list[_Epoch]) -> dict[str, FloatArray]:
    names = [name for name in _FROM if any(name in epoch.values for epoch in epochs)]
    return {name: np.array([epoch.values.get(name, _NAN) for epoch in epochs]) for name in names}
