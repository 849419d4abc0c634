"""NMEA 0183 sentences, as receivers send them: RMC, GGA, GNS, GLL, VTG, HDT, HDG, HDM and ZDA from any talker.

Whatever stands between sentences is passed over: a logger's own time stamps, and a receiver's binary messages.

References
----------
NMEA 0183: ``$`` talker and sentence name, comma-separated fields, ``*`` and the exclusive-or of everything
between as two hexadecimal digits. RMC carries time, status, position, speed (kt), track (true) and the date; GGA
time, position, fix quality and antenna altitude (m above mean sea level), GNS the same with a mode for each
constellation; HDG a magnetic sensor's heading with deviation and variation. Field orders agree with the reference
library used in the tests.
"""

from __future__ import annotations

import math
import re
from collections import Counter, deque
from collections.abc import Callable
from functools import lru_cache
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analyser.earth.angles import wrap180
from analyser.frozen import dataclass
from analyser.logs.movement import movement
from analyser.logs.raw import Content, FloatArray, RawFlight
from analyser.logs.samples import Samples
from analyser.logs.text import counted, is_binary, left_out, refuse_long_lines, sound_utf8
from analyser.logs.times import DAY_S, midnight_s, unroll_days
from analyser.logs.track import Notice, Source
from analyser.logs.units import FEET_PER_METRE, KNOTS_PER_KILOMETRE_PER_HOUR

_READ = "RMC|GGA|GNS|GLL|VTG|HDT|HDG|HDM|ZDA"
#: ``DDDMM.mmmm`` and ``hhmmss.ss``.
_DEGREES = re.compile(r"(\d{1,3})(\d{2}(?:\.\d*)?)")
_CLOCK = re.compile(r"(\d{2})(\d{2})(\d{2}(?:\.\d*)?)")
_LOOKS = re.compile(rf"\$[A-Z]{{2}}(?:{_READ}|GSA|GSV),")
_WHOLE = re.compile(rb"\$[A-OQ-Z][A-Z](?:RMC|GGA|GNS|GLL),[ -#%-)+-~]{10,160}\*[0-9A-Fa-f]{2}")
#: A sentence that is read: its body, its checksum, and whether a line ends after it.
_SENTENCE = re.compile(
    rb"\$([A-OQ-Z][A-Z](?:%b),[ -#%%-)+-~]{0,160})(\*[^\r\n$]{0,2})?(?=([\r\n]|$)?)" % _READ.encode()
)
_NAN = float("nan")
_DATUM = (
    "a receiver's height above mean sea level, not an altimeter's: it differs from the indicated altitude"
)
#: Places of one instant farther apart than this are not one aircraft's, degrees.
_FAR_DEG = 0.01
#: Two receivers take turns where so large a share of the sentences of one kind follows another talker's.
_TURNS = 0.3
#: Fewer samples in turns tell nothing.
_FEW = 20
#: So many instants may still be told of; a date holds for places of the same day so near it, seconds.
_OPEN, _SOON_S = 4, 60.0
#: The clock of one receiver goes back less often than this. Of two, each goes on by no more than so many usual steps
#: within so many instants, or after a pause no longer than this, seconds.
_SELDOM, _STEPS, _LATELY, _PAUSE_S = 0.05, 5.0, 20, 1800.0


def looks_like(head: str) -> bool:
    """Tell NMEA 0183 by a sentence of a kind receivers send."""
    return _LOOKS.search(head) is not None


def stands_between(data: bytes) -> bool:
    """Tell sentences among binary messages: a whole one, with its checksum."""
    return _WHOLE.search(data) is not None


def _checksum(body: bytes) -> int:
    """Return the exclusive-or of all bytes: of halves of halves, which is five times as fast as of one by one."""
    total = int.from_bytes(body, "big")
    for bits in (1024, 512, 256, 128, 64, 32, 16, 8):
        total = (total >> bits) ^ (total & ((1 << bits) - 1))
    return total


@lru_cache(maxsize=64)
def _names(name: str) -> tuple[str, str]:
    """Cut a sentence's name into its talker's and its kind's, each kept once."""
    return name[:2], name[2:]


def _only_metres(fields: list[str]) -> None:
    if fields[9] not in ("M", ""):
        fields[8] = ""


def _with_deviation(fields: list[str]) -> None:
    """Add the deviation to a magnetic sensor's heading: east is positive."""
    deviation = _number(fields[1])
    if not math.isnan(deviation):
        fields[0] = str(_number(fields[0]) + (-deviation if fields[2] == "W" else deviation))


def _position(fields: list[str]) -> tuple[float, float]:
    """Read latitude, its side, longitude, its side: degrees; NaN where either is missing or none."""
    if fields[1] not in ("N", "S") or fields[3] not in ("E", "W"):
        return _NAN, _NAN
    return _angle(fields[0], fields[1] == "S"), _angle(fields[2], fields[3] == "W")


def _angle(text: str, negative: bool) -> float:
    """Read ``DDDMM.mmmm``."""
    match = _DEGREES.fullmatch(text)
    if match is None or float(match[2]) >= 60.0:
        return _NAN
    value = int(match[1]) + float(match[2]) / 60.0
    return -value if negative else value


@lru_cache(maxsize=8)
def _time_of_day(text: str) -> float:
    """Read ``hhmmss.ss`` as seconds; NaN where it is none."""
    match = _CLOCK.fullmatch(text)
    if match is None or int(match[1]) > 23 or int(match[2]) > 59 or float(match[3]) >= 61.0:
        return _NAN
    return int(match[1]) * 3600.0 + int(match[2]) * 60.0 + float(match[3])


@lru_cache(maxsize=8)
def _midnight(year: str, month: str, day: str) -> float:
    whole = (year + month + day).isdecimal()
    return midnight_s(int(year), int(month), int(day)) if whole and year and month and day else _NAN


def _number(text: str) -> float:
    """Read a decimal number; NaN where it is none."""
    try:
        return float(text) if text and "_" not in text else _NAN
    except ValueError:
        return _NAN


@dataclass(frozen=True)
class _Kind:
    """What a kind of sentence says, by the places of its fields after the name."""

    #: Time of day; without one the sentence belongs to the instant before it.
    clock: int | None = None
    #: Latitude, its side, longitude, its side.
    place: int | None = None
    #: Whether the sentence says that it holds good.
    fixed: Callable[[list[str]], bool] = lambda fields: True
    #: POSIX seconds of the date's midnight, NaN where it gives none.
    day: Callable[[list[str]], float] | None = None
    #: Field, channel, and factor into the program's unit.
    values: tuple[tuple[int, str, float], ...] = ()
    #: Brings the fields into order before the values are read.
    adjust: Callable[[list[str]], None] | None = None


_KINDS = {
    "RMC": _Kind(
        clock=0,
        place=2,
        fixed=lambda fields: fields[1] == "A" and fields[11] != "N",
        day=lambda fields: _midnight(fields[8][4:6], fields[8][2:4], fields[8][:2]),
        values=((6, "ground_speed_kt", 1.0), (7, "track_true_deg", 1.0)),
    ),
    "GGA": _Kind(
        clock=0,
        place=1,
        fixed=lambda fields: fields[5] not in ("", "0"),
        values=((8, "altitude_ft", FEET_PER_METRE),),
        adjust=_only_metres,
    ),
    "GNS": _Kind(
        clock=0,
        place=1,
        # One letter for each constellation; N is none.
        fixed=lambda fields: bool(fields[5].strip("N")),
        values=((8, "altitude_ft", FEET_PER_METRE),),
    ),
    "GLL": _Kind(clock=4, place=0, fixed=lambda fields: fields[5] != "V"),
    "VTG": _Kind(
        fixed=lambda fields: fields[1] == "T",
        values=(
            (0, "track_true_deg", 1.0),
            (4, "ground_speed_kt", 1.0),
            (6, "ground_speed_kt", KNOTS_PER_KILOMETRE_PER_HOUR),
        ),
    ),
    "HDT": _Kind(values=((0, "heading_true_deg", 1.0),)),
    "HDG": _Kind(values=((0, "heading_magnetic_deg", 1.0),), adjust=_with_deviation),
    "HDM": _Kind(values=((0, "heading_magnetic_deg", 1.0),)),
    "ZDA": _Kind(clock=0, day=lambda fields: _midnight(fields[3], fields[2], fields[1])),
}
#: The sentences that give each channel.
_FROM = {
    "altitude_ft": "GGA, GNS",
    "ground_speed_kt": "RMC, VTG",
    "track_true_deg": "RMC, VTG",
    "heading_true_deg": "HDT",
    "heading_magnetic_deg": "HDG, HDM",
}


class _Stream:
    """The instants so far; sentences without a time belong to the last one."""

    def __init__(self, left_out: str = "") -> None:
        #: Talker whose sentences are passed over, and how many were.
        self.left_out, self.of_other = left_out, 0
        self.samples = Samples()
        #: Of each kind of sentence with a place: the talkers in their order.
        self._talkers: dict[str, list[str]] = {}
        #: The last instants, each with the kinds of sentences that told of it, and the one that is told of.
        self._recent: deque[tuple[dict[str, float], set[str]]] = deque()
        self._now: tuple[dict[str, float], set[str]] = ({}, set())
        #: Of a sentence that gives a date and no place: its time of day, and the day.
        self._dated = (_NAN, _NAN)
        #: Instants with places far apart; instants whose track VTG gives.
        self.elsewhere = self.by_vtg = 0
        self.damaged = self.unchecked = self.checked = self.without_fix = 0

    def _at(self, clock: str, called: str) -> bool:
        """Go to the instant of a time of day; one told of a little late may still lack this kind of sentence."""
        seconds = _time_of_day(clock)
        if math.isnan(seconds):
            return False
        if self._now[0].get("clock") != seconds:
            late = (one for one in self._recent if one[0]["clock"] == seconds and called not in one[1])
            now = next(late, None)
            if now is None:
                now = {"clock": seconds}, set()
                if abs(seconds - self._dated[0]) < _SOON_S:
                    now[0]["day"] = self._dated[1]
                self._recent.append(now)
            if len(self._recent) > _OPEN:
                self._close()
            self._now = now
        return True

    def take(self, sentence: re.Match[bytes]) -> None:
        """Add what a sentence says to its instant; what was said first stays."""
        body, check, ended = sentence.groups()
        sound = check is not None and check.upper() == b"*%02X" % _checksum(body)
        # One without a checksum was cut off where others carry it, and where no line ends after it.
        if not sound and (check is not None or ended is None or self.checked):
            self.damaged += 1
            return
        self.checked += sound
        self.unchecked += not sound
        fields = [*body.decode("ascii").split(","), *[""] * 12]
        talker, called = _names(fields.pop(0))
        kind = _KINDS[called]
        if talker == self.left_out:
            self.of_other += 1
            return
        if kind.place is not None:
            self._talkers.setdefault(called, []).append(talker)
        if not (self._recent if kind.clock is None else self._at(fields[kind.clock], called)):
            return
        epoch, kinds = self._now
        if kind.day is not None and not math.isnan(day := kind.day(fields)):
            epoch["day"] = day
            if kind.place is None:
                self._dated = epoch["clock"], day
        if not kind.fixed(fields):
            self.without_fix += kind.place is not None
            return
        if kind.adjust is not None:
            kind.adjust(fields)
        self.by_vtg += called == "VTG" and "track_true_deg" not in epoch
        if kind.place is not None and (called in kinds or "lat" not in epoch):
            self._put(epoch, *_position(fields[kind.place : kind.place + 4]))
        kinds.add(called)
        for field, name, factor in kind.values:
            value = _number(fields[field])
            if not math.isnan(value):
                epoch.setdefault(name, value * factor)

    def _put(self, epoch: dict[str, float], lat: float, lon: float) -> None:
        """Give an instant its place; a second one that lies far off is another aircraft's."""
        if "lat" not in epoch:
            if not math.isnan(lat + lon):
                epoch["lat"], epoch["lon"] = lat, lon
        elif max(abs(lat - epoch["lat"]), abs(float(wrap180(lon - epoch["lon"])))) > _FAR_DEG:
            self.elsewhere += 1

    def second_receiver(self) -> str:
        """Return the talker of a second receiver in the stream; empty for one receiver.

        One that goes over to other satellites changes its talker now and then; two take turns.
        """
        for talkers in self._talkers.values():
            if sum(one != other for one, other in pairwise(talkers)) > _TURNS * len(talkers):
                return Counter(talkers).most_common()[1][0]
        return ""

    def _close(self) -> None:
        """Keep the first instant that is open, if it has a place."""
        epoch, _ = self._recent.popleft()
        if "lat" in epoch:
            self.samples.add(epoch)

    def columns(self) -> dict[str, FloatArray]:
        """Return what all instants said."""
        while self._recent:
            self._close()
        return self.samples.columns()


def _streamed(data: bytes, left_out: str) -> _Stream:
    """Take all sentences but those of one talker."""
    stream = _Stream(left_out)
    for sentence in _SENTENCE.finditer(data):
        stream.take(sentence)
    return stream


def read(content: Content) -> list[RawFlight]:
    """Read a stream of sentences as one flight; LogError where none gives a time and a position."""
    data = content.data
    if not is_binary(data[:64_000]):
        data = sound_utf8(data)
        refuse_long_lines(data, content.name)
    stream = _streamed(data, "")
    second = stream.second_receiver()
    stream = _streamed(data, second) if second else stream
    columns = stream.columns()
    if not columns:
        what = "no sentence gives both a time and a position"
        if stream.without_fix:
            what = "the receiver never had a fix"
        elif stream.damaged:
            what = f"no sentence with a position is whole ({stream.damaged} have a wrong checksum)"
        mend = "record RMC or GGA sentences with a fix"
        raise content.refusal(what, "sentences RMC, GGA, GNS and GLL", mend)
    own = _of_one_clock(columns["clock"])
    of_clock = int(own.size - own.sum())
    columns = {name: values[own] for name, values in columns.items()} if of_clock else columns
    time_s, dated = _times(columns)
    channels = {name: columns[name] for name in _FROM if name in columns}
    if stream.by_vtg > 0.5 * time_s.size and _vtg_leads(time_s, columns):
        for name in ("track_true_deg", "ground_speed_kt"):
            channels[name] = np.append(_NAN, channels[name][:-1])
    sources = (
        Source("RMC, GGA, GNS, GLL", "position", "deg", "recognised"),
        Source("RMC, GGA, GNS, GLL", "time", "UTC", "recognised"),
        *(Source(_FROM[name], name, "", "recognised") for name in channels),
    )
    damaged = left_out(stream.damaged, "sentence is damaged (checksum)", "sentences are damaged (checksum)")
    unchecked = ("sentence carries no checksum; it was used.", "sentences carry no checksum; they were used.")
    unfixed = ("sentence says that there was no fix.", "sentences say that there was no fix.")
    other = (
        "Two talkers take turns in the stream, as where two receivers are recorded into one: the sentences "
        f"of {second} ({stream.of_other:,}) were left out."
    )
    other_clock = (
        "The clock jumps back and forth in the stream, as where two receivers are recorded into one: "
        f"{counted(of_clock, 'instant', 'instants')} of the other clock were left out."
    )
    elsewhere = (
        f"{counted(stream.elsewhere, 'sentence gives', 'sentences give')} a second position to an instant, far from "
        "the first, as where two aircraft are recorded into one stream; the first was used."
    )
    said = (
        (stream.damaged, "checksum-wrong", damaged),
        (stream.unchecked, "checksum-missing", counted(stream.unchecked, *unchecked)),
        (stream.without_fix, "fix-missing", counted(stream.without_fix, *unfixed)),
        (stream.of_other, "receiver-left-out", other),
        (of_clock, "receiver-left-out", other_clock),
        (stream.elsewhere, "aircraft-mixed", elsewhere),
        ("altitude_ft" in channels, "altitude-datum", f"The altitude is {_DATUM}."),
    )
    notices = tuple(Notice(code, message) for is_so, code, message in said if is_so)
    place = columns["lat"], columns["lon"]
    return [RawFlight(time_s, *place, dated, channels, notices=notices, sources=sources)]


def _of_one_clock(clock: FloatArray) -> NDArray[np.bool_]:
    """Tell the instants of one receiver: where two of one talker take turns, each clock goes on for itself.

    A receiver whose clock is set back does so once; one that is behind by no more than a second may be late to tell.
    """
    back = int((_ahead_s(clock[:-1], clock[1:]) < -1.0).sum())
    if clock.size < _FEW or back <= _SELDOM * clock.size:
        return np.ones(clock.size, dtype=bool)
    usual = min(float(np.median(np.abs(_ahead_s(clock[:-by], clock[by:])))) for by in (1, 2))
    chains: list[list[int]] = []
    for place in range(clock.size):
        recent = [chain for chain in chains if chain[-1] > place - _LATELY]
        _continue(chains, recent, [place], clock, _STEPS * usual)
    # What comes after a pause goes on where a clock stopped that was heard no more.
    receivers: list[list[int]] = []
    for chain in chains:
        stopped = [receiver for receiver in receivers if receiver[-1] < chain[0]]
        _continue(receivers, stopped, chain, clock, _PAUSE_S)
    return np.isin(np.arange(clock.size), max(receivers, key=len))


def _continue(
    chains: list[list[int]], may: list[list[int]], places: list[int], clock: FloatArray, within_s: float
) -> None:
    """Let places follow the chain whose clock they continue by the least, or begin another."""
    ahead = {float(_ahead_s(clock[chain[-1]], clock[places[0]])): chain for chain in may}
    step_s = min((step_s for step_s in ahead if 0.0 < step_s <= within_s), default=None)
    if step_s is None:
        chains.append(places)
    else:
        ahead[step_s].extend(places)


def _ahead_s(earlier: Any, later: Any) -> Any:
    """Return how far one time of day is ahead of another, by half a day at most."""
    return (later - earlier + 0.5 * DAY_S) % DAY_S - 0.5 * DAY_S


def _vtg_leads(time_s: FloatArray, columns: dict[str, FloatArray]) -> bool:
    """Tell whether VTG, which has no time, stands before the sentences of its own instant and not behind them.

    Taken with the instant before it, its track then runs one instant ahead of the movement in every turn.
    """
    if time_s.size < 2 * _FEW or (np.diff(time_s) <= 0.0).any():
        return False
    moved = movement(time_s, columns["lat"], columns["lon"])
    turning = moved.flying & (np.abs(moved.turn_dps) > 1.0) & (moved.index > 0)
    places, track_deg = moved.index[turning], moved.track_deg[turning]
    if places.size < _FEW:
        return False
    here, before = (np.abs(wrap180(columns["track_true_deg"][places - step] - track_deg)) for step in (0, 1))
    return bool(np.nanmedian(before) < 0.5 * np.nanmedian(here))


def _times(columns: dict[str, FloatArray]) -> tuple[FloatArray, bool]:
    """Give each instant its date: its own sentence's, else carried on over midnights from the nearest known."""
    clock, days = columns["clock"], columns.get("day")
    unrolled = unroll_days(clock)
    if days is None:
        return unrolled, False
    known = np.flatnonzero(np.isfinite(days))
    base = days[known] + clock[known] - unrolled[known]
    nearest = np.clip(np.searchsorted(known, np.arange(clock.size), side="right") - 1, 0, known.size - 1)
    return unrolled + base[nearest], True
