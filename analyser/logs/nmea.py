"""NMEA 0183 sentences, as receivers send them: RMC, GGA, GNS, GLL, VTG, HDT, HDG, HDM and ZDA from any talker.

Whatever stands between sentences is passed over: a logger's own time stamps, and a receiver's binary messages.
"""

from __future__ import annotations

import math
import re
from typing import Any

import numpy as np

from analyser.logs.nmea_sentences import KINDS, Standing, number, position, sentences, time_of_day
from analyser.logs.raw import Content, FloatArray, RawFlight
from analyser.logs.samples import Samples
from analyser.logs.text import counted, is_binary, left_out, refuse_long_lines, sound_utf8
from analyser.logs.times import unroll_days
from analyser.logs.track import Notice, Source

_LOOKS = re.compile(r"\$[A-Z]{2}(?:RMC|GGA|GNS|GLL|VTG|HDT|HDG|HDM|ZDA|GSA|GSV),")
_WHOLE = re.compile(rb"\$[A-OQ-Z][A-Z](?:RMC|GGA|GNS|GLL),[ -#%-)+-~]{10,160}\*[0-9A-Fa-f]{2}")
_NAN = float("nan")
_Epoch = dict[str, Any]


def looks_like(head: str) -> bool:
    """Tell NMEA 0183 by a sentence of a kind receivers send."""
    return _LOOKS.search(head) is not None


def stands_between(data: bytes) -> bool:
    """Tell sentences among binary messages: a whole one, with its checksum."""
    return _WHOLE.search(data) is not None


class _Stream:
    """The instants so far; sentences without a time belong to the last one."""

    def __init__(self) -> None:
        self.samples = Samples()
        self.epoch: _Epoch | None = None
        self.damaged = self.unchecked = self.checked = self.without_fix = 0

    def at(self, clock: str) -> _Epoch | None:
        """Return the instant of a time of day; a new time closes the one before."""
        seconds = time_of_day(clock)
        if math.isnan(seconds):
            return None
        if self.epoch is None or self.epoch["clock"] != seconds:
            self.close()
            self.epoch = {"clock": seconds}
        return self.epoch

    def take(self, standing: Standing, fields: list[str]) -> None:
        """Add what a sentence says to its instant; what was said first stays."""
        # Where others carry a checksum, one without it was cut off.
        if standing == "damaged" or (standing == "unchecked" and self.checked):
            self.damaged += 1
            return
        self.checked += standing == "checked"
        self.unchecked += standing == "unchecked"
        kind, fields = KINDS[fields[0][2:]], [*fields[1:], *[""] * 12]
        epoch = self.epoch if kind.clock is None else self.at(fields[kind.clock])
        if epoch is None:
            return
        day = kind.day(fields)
        if not math.isnan(day):
            epoch["day"] = day
        if not kind.fixed(fields):
            self.without_fix += kind.place is not None
            return
        kind.adjust(fields)
        if kind.place is not None and "lat" not in epoch:
            lat, lon = position(fields[kind.place : kind.place + 4])
            if not math.isnan(lat + lon):
                epoch["lat"], epoch["lon"] = lat, lon
        for field, name, factor in kind.values:
            value = number(fields[field])
            if not math.isnan(value):
                epoch.setdefault(name, value * factor)

    def close(self) -> None:
        """Keep the last instant, if it has a place."""
        if self.epoch is not None and "lat" in self.epoch:
            self.samples.add(self.epoch)


def read(content: Content) -> list[RawFlight]:
    """Read a stream of sentences as one flight.

    Raises
    ------
    LogError
        Where no sentence gives a time and a position.
    """
    if is_binary(content.data[:64_000]):
        data = content.data
    else:
        data = sound_utf8(content.data)
        refuse_long_lines(data, content.name)
    stream = _Stream()
    for standing, fields in sentences(data):
        stream.take(standing, fields)
    stream.close()
    columns = stream.samples.columns()
    if not columns:
        raise content.refusal(
            _why(stream), "sentences RMC, GGA, GNS and GLL", "record RMC or GGA sentences with a fix"
        )
    time_s, dated = _times(columns)
    channels = {name: columns[name] for name in _FROM if name in columns}
    return [
        RawFlight(
            time_s,
            columns["lat"],
            columns["lon"],
            dated,
            channels,
            notices=tuple(_notices(stream, channels)),
            sources=(
                Source("RMC, GGA, GNS, GLL", "position", "deg", "recognised"),
                Source("RMC, GGA, GNS, GLL", "time", "UTC", "recognised"),
                *(Source(_FROM[name], name, "", "recognised") for name in channels),
            ),
        )
    ]


_FROM = {
    "altitude_ft": "GGA, GNS",
    "ground_speed_kt": "RMC, VTG",
    "track_true_deg": "RMC, VTG",
    "heading_true_deg": "HDT",
    "heading_magnetic_deg": "HDG, HDM",
}


def _why(stream: _Stream) -> str:
    if stream.without_fix:
        return "the receiver never had a fix"
    if stream.damaged:
        return f"no sentence with a position is whole ({stream.damaged} have a wrong checksum)"
    return "no sentence gives both a time and a position"


def _notices(stream: _Stream, channels: dict[str, FloatArray]) -> list[Notice]:
    damaged = left_out(stream.damaged, "sentence is damaged (checksum)", "sentences are damaged (checksum)")
    unchecked = counted(
        stream.unchecked,
        "sentence carries no checksum; it was used.",
        "sentences carry no checksum; they were used.",
    )
    unfixed = counted(stream.without_fix, "sentence says", "sentences say") + " that there was no fix."
    notices = [Notice("checksum-wrong", damaged)] * bool(stream.damaged)
    notices += [Notice("checksum-missing", unchecked)] * bool(stream.unchecked)
    notices += [Notice("fix-missing", unfixed)] * bool(stream.without_fix)
    if "altitude_ft" in channels:
        datum = "a receiver's height above mean sea level, not an altimeter's: it differs from the indicated altitude"
        notices.append(Notice("altitude-datum", f"The altitude is {datum}."))
    return notices


def _times(columns: dict[str, FloatArray]) -> tuple[FloatArray, bool]:
    """Give each instant its date: its own sentence's, else carried on over midnights from the nearest known."""
    clock, days = columns["clock"], columns.get("day")
    unrolled, _ = unroll_days(clock)
    known = np.flatnonzero(np.isfinite(days)) if days is not None else np.empty(0, dtype=int)
    if days is None or known.size == 0:
        return unrolled, False
    base = days[known] + clock[known] - unrolled[known]
    nearest = np.clip(np.searchsorted(known, np.arange(clock.size), side="right") - 1, 0, known.size - 1)
    return unrolled + base[nearest], True
