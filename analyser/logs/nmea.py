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
from collections import Counter, defaultdict, deque
from collections.abc import Callable
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analyser.earth.angles import wrap180
from analyser.earth.constants import DAY_S
from analyser.frozen import dataclass
from analyser.logs.log_thresholds import LOOK, RECEIVERS
from analyser.logs.movement import movement
from analyser.logs.raw import Content, FloatArray, RawFlight
from analyser.logs.samples import Field, Samples, flight_of, height, to_float
from analyser.logs.text import is_binary, refuse_long_lines, sound_utf8
from analyser.logs.times import midnight_s, unroll_days
from analyser.logs.track import Notice, Source
from analyser.logs.units import KNOTS_PER_KILOMETRE_PER_HOUR

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


def _only_metres(fields: list[str]) -> None:
    if fields[9] not in ("M", ""):
        fields[8] = ""


def _in_knots(fields: list[str]) -> None:
    fields[4] = fields[4] or str(to_float(fields[6]) * KNOTS_PER_KILOMETRE_PER_HOUR)


def _with_deviation(fields: list[str]) -> None:
    """Add the deviation to a magnetic sensor's heading: east is positive."""
    deviation = to_float(fields[1])
    if not math.isnan(deviation):
        fields[0] = str(to_float(fields[0]) + (-deviation if fields[2] == "W" else deviation))


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
def _midnight(day: str, month: str, year: str) -> float:
    whole = (year + month + day).isdecimal()
    return midnight_s(int(year), int(month), int(day)) if whole and year and month and day else _NAN


@dataclass(frozen=True)
class _Kind:
    """What a kind of sentence says, by the places of its fields after the name."""

    #: Time of day; without one the sentence belongs to the instant before it.
    clock: int | None = None
    #: Latitude, its side, longitude, its side.
    place: int | None = None
    #: Whether the sentence says that it holds good.
    fixed: Callable[[list[str]], bool] = lambda fields: True
    #: Day, month and year, each a field and what of it.
    day: tuple[tuple[int, slice], ...] = ()
    #: Fields and the names of what they give.
    values: tuple[tuple[int, str], ...] = ()
    #: Brings the fields into order before the values are read.
    adjust: Callable[[list[str]], None] | None = None


_ALL = slice(None)
_ALTITUDE, _SPEED, _TRACK = "altitude of GGA, GNS", "speed of RMC, VTG", "track of RMC, VTG"
_HEADING, _MAGNETIC = "heading of HDT", "heading of HDG, HDM"
_KINDS = {
    "RMC": _Kind(
        clock=0,
        place=2,
        fixed=lambda fields: fields[1] == "A" and fields[11] != "N",
        day=((8, slice(0, 2)), (8, slice(2, 4)), (8, slice(4, 6))),
        values=((6, _SPEED), (7, _TRACK)),
    ),
    "GGA": _Kind(
        clock=0,
        place=1,
        fixed=lambda fields: fields[5] not in ("", "0"),
        values=((8, _ALTITUDE),),
        adjust=_only_metres,
    ),
    # One letter for each constellation; N is none.
    "GNS": _Kind(clock=0, place=1, fixed=lambda fields: bool(fields[5].strip("N")), values=((8, _ALTITUDE),)),
    "GLL": _Kind(clock=4, place=0, fixed=lambda fields: fields[5] != "V"),
    "VTG": _Kind(
        fixed=lambda fields: fields[1] == "T",
        values=((0, _TRACK), (4, _SPEED)),
        adjust=_in_knots,
    ),
    "HDT": _Kind(values=((0, _HEADING),)),
    "HDG": _Kind(values=((0, _MAGNETIC),), adjust=_with_deviation),
    "HDM": _Kind(values=((0, _MAGNETIC),)),
    "ZDA": _Kind(clock=0, day=((1, _ALL), (2, _ALL), (3, _ALL))),
}
_FIELDS = (
    height(_ALTITUDE, "The altitude is a receiver's height above mean sea level"),
    Field(_SPEED, "ground_speed_kt", "kt"),
    Field(_TRACK, "track_true_deg", "deg"),
    Field(_HEADING, "heading_true_deg", "deg"),
    Field(_MAGNETIC, "heading_magnetic_deg", "deg"),
)
_PLACES = "sentences RMC, GGA, GNS and GLL"
_POINT = (Source(_PLACES, "position", "deg", "recognised"), Source(_PLACES, "time", "UTC", "recognised"))
_TWO_CLOCKS = "two clocks"
#: What is said of what a stream holds, each with its number.
_SAID = {
    "checksum-wrong": "Damaged sentences that were left out (checksum): {}.",
    "checksum-missing": "Sentences without a checksum, which were used: {}.",
    "fix-missing": "Sentences that say that there was no fix: {}.",
    "receiver-left-out": "Two receivers take turns in the stream: {} sentences of talker {} were left out.",
    _TWO_CLOCKS: "Two clocks take turns in the stream, as of two receivers: {} instants of one were left out.",
    "aircraft-mixed": "Sentences that give a second position to an instant, far from the first, as where two aircraft "
    "are recorded into one stream: {}; the first was used.",
}


class _Stream:
    """The instants so far; sentences without a time belong to the last one."""

    def __init__(self, data: bytes, left_out: str = "") -> None:
        """Take all sentences but those of one talker."""
        self.left_out = left_out
        self.samples = Samples()
        #: How often something odd was met, by the code of what is said of it; instants whose track VTG gives.
        self.odd, self.by_vtg, self._checked = Counter[str](), 0, 0
        #: Of each kind of sentence with a place: how often each talker sends it, and how often after another; the last.
        self._talkers = defaultdict[str, Counter[str]](Counter)
        self._turns, self._last = Counter[str](), dict[str, str]()
        #: The last instants, each with the kinds of sentences that told of it, and the one that is told of.
        self._recent: deque[tuple[dict[str, float], set[str]]] = deque()
        self._now: tuple[dict[str, float], set[str]] = ({}, set())
        for sentence in _SENTENCE.finditer(data):
            self._take(sentence)
        while self._recent:
            self._close()

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
                self._recent.append(now)
            if len(self._recent) > RECEIVERS.open_instants:
                self._close()
            self._now = now
        return True

    def _take(self, sentence: re.Match[bytes]) -> None:
        """Add what a sentence says to its instant; what was said first stays."""
        body, check, ended = sentence.groups()
        sound = check is not None and check.upper() == b"*%02X" % _checksum(body)
        # One without a checksum was cut off where others carry it, and where no line ends after it.
        if not sound and (check is not None or ended is None or self._checked):
            self.odd["checksum-wrong"] += 1
            return
        self._checked += sound
        self.odd["checksum-missing"] += not sound
        fields = [*body.decode("ascii").split(","), *[""] * 12]
        name = fields.pop(0)
        talker, called = name[:2], name[2:]
        kind = _KINDS[called]
        if talker == self.left_out:
            self.odd["receiver-left-out"] += 1
            return
        if kind.place is not None:
            self._talkers[called][talker] += 1
            self._turns[called] += self._last.get(called, talker) != talker
            self._last[called] = talker
        if not (self._recent if kind.clock is None else self._at(fields[kind.clock], called)):
            return
        epoch, kinds = self._now
        if kind.day and not math.isnan(day := _midnight(*(fields[field][part] for field, part in kind.day))):
            epoch["day"] = day
        if not kind.fixed(fields):
            self.odd["fix-missing"] += kind.place is not None
            return
        if kind.adjust is not None:
            kind.adjust(fields)
        self.by_vtg += called == "VTG" and _TRACK not in epoch
        if kind.place is not None and (called in kinds or "lat" not in epoch):
            self._put(epoch, *_position(fields[kind.place : kind.place + 4]))
        kinds.add(called)
        for field, name in kind.values:
            value = to_float(fields[field])
            if not math.isnan(value):
                epoch.setdefault(name, value)

    def _put(self, epoch: dict[str, float], lat: float, lon: float) -> None:
        """Give an instant its place; a second one that lies far off is another aircraft's."""
        if "lat" not in epoch:
            if not math.isnan(lat + lon):
                epoch["lat"], epoch["lon"] = lat, lon
        elif max(abs(lat - epoch["lat"]), abs(float(wrap180(lon - epoch["lon"])))) > RECEIVERS.far_deg:
            self.odd["aircraft-mixed"] += 1

    def _close(self) -> None:
        """Keep the first instant that is open, if it has a place or a date."""
        epoch, _ = self._recent.popleft()
        if "lat" in epoch or "day" in epoch:
            self.samples.add(epoch)

    def second_receiver(self) -> str:
        """Return the talker of a second receiver in the stream; empty for one receiver.

        One that goes over to other satellites changes its talker now and then; two take turns.
        """
        for called, talkers in self._talkers.items():
            if self._turns[called] > RECEIVERS.in_turns_share * talkers.total():
                return talkers.most_common()[1][0]
        return ""


def read(content: Content) -> list[RawFlight]:
    """Read a stream of sentences as one flight; LogError where none gives a time and a position."""
    data = content.data
    if not is_binary(data[: LOOK.head_bytes]):
        data = sound_utf8(data)
        refuse_long_lines(data, content.name)
    stream = _Stream(data)
    if second := stream.second_receiver():
        stream = _Stream(data, second)
    columns = stream.samples.columns()
    if "lat" not in columns:
        what = "no sentence gives both a time and a position"
        if stream.odd["fix-missing"]:
            what = "the receiver never had a fix"
        elif damaged := stream.odd["checksum-wrong"]:
            what = f"no sentence with a position is whole ({damaged} have a wrong checksum)"
        raise content.refusal(what, _PLACES, "record RMC or GGA sentences with a fix")
    placed = np.isfinite(columns["lat"])
    own = np.ones(placed.size, dtype=bool)
    own[placed] = _of_one_clock(columns["clock"][placed])
    stream.odd[_TWO_CLOCKS] = int((~own).sum())
    columns["time"] = np.full(own.size, _NAN)
    columns["time"][own], dated = _dated(columns["clock"][own], columns.get("day", columns["time"])[own])
    columns = {name: values[own & placed] for name, values in columns.items()}
    if stream.by_vtg > 0.5 * columns["lat"].size and _vtg_leads(columns):
        for name in (_TRACK, _SPEED):
            columns[name] = np.append(_NAN, columns[name][:-1])
    said = [
        Notice(
            "receiver-left-out" if code == _TWO_CLOCKS else code,
            words.format(f"{stream.odd[code]:,}", second),
        )
        for code, words in _SAID.items()
        if stream.odd[code]
    ]
    return [flight_of(columns, _FIELDS, content, _POINT, tuple(said), dated=dated)]


def _of_one_clock(clock: FloatArray) -> NDArray[np.bool_]:
    """Tell the instants of one receiver: where two of one talker take turns, each clock goes on for itself.

    A receiver whose clock is set back does so once; one that is behind by no more than a second may be late to tell.
    """
    back = int((_ahead_s(clock[:-1], clock[1:]) < -1.0).sum())
    if clock.size < RECEIVERS.in_turns_samples or back <= RECEIVERS.backward_share * clock.size:
        return np.ones(clock.size, dtype=bool)
    usual = min(float(np.median(np.abs(_ahead_s(clock[:-by], clock[by:])))) for by in (1, 2))
    times = clock.tolist()
    chains: list[list[int]] = []
    recent: list[list[int]] = []
    for place in range(clock.size):
        recent = [chain for chain in recent if chain[-1] > place - RECEIVERS.lately_instants]
        followed = _followed(recent, times, place, RECEIVERS.onward_steps * usual)
        if followed is None:
            chains.append([place])
            recent.append(chains[-1])
        else:
            followed.append(place)
    if len(chains) > RECEIVERS.most_chains:
        # Noise.
        return np.ones(clock.size, dtype=bool)
    # What comes after a pause goes on where a clock stopped that was heard no more.
    receivers: list[list[int]] = []
    for chain in chains:
        stopped = [receiver for receiver in receivers if receiver[-1] < chain[0]]
        followed = _followed(stopped, times, chain[0], RECEIVERS.pause_s)
        if followed is None:
            receivers.append(chain)
        else:
            followed += chain
    return np.isin(np.arange(clock.size), max(receivers, key=len))


def _followed(chains: list[list[int]], times: list[float], place: int, within_s: float) -> list[int] | None:
    """Return the chain whose clock goes on at a place after the shortest time; None where none does so soon."""
    ahead = {_ahead_s(times[chain[-1]], times[place]): chain for chain in chains}
    soon = [step_s for step_s in ahead if 0.0 < step_s <= within_s]
    return ahead[min(soon)] if soon else None


def _ahead_s(earlier: Any, later: Any) -> Any:
    """Return how far one time of day is ahead of another, by half a day at most."""
    return (later - earlier + 0.5 * DAY_S) % DAY_S - 0.5 * DAY_S


def _vtg_leads(columns: dict[str, FloatArray]) -> bool:
    """Tell whether VTG, which has no time, stands before the sentences of its own instant and not behind them.

    Taken with the instant before it, its track then runs one instant ahead of the movement in every turn.
    """
    time_s = columns["time"]
    if time_s.size < 2 * RECEIVERS.in_turns_samples or (np.diff(time_s) <= 0.0).any():
        return False
    moved = movement(time_s, columns["lat"], columns["lon"])
    turning = moved.flying & (np.abs(moved.turn_dps) > 1.0) & (moved.index > 0)
    places, track_deg = moved.index[turning], moved.track_deg[turning]
    if places.size < RECEIVERS.in_turns_samples:
        return False
    here, before = (np.abs(wrap180(columns[_TRACK][places - step] - track_deg)) for step in (0, 1))
    return bool(np.nanmedian(before) < 0.5 * np.nanmedian(here))


def _dated(clock_s: FloatArray, midnights_s: FloatArray) -> tuple[FloatArray, bool]:
    """Give times of day, in file order, the dates that stand beside some of them, and whether any does.

    One without a date, NaN, is carried on over midnights from the nearest before it that has one, or the first after.
    """
    unrolled, known = unroll_days(clock_s), np.flatnonzero(np.isfinite(midnights_s))
    if not known.size:
        return unrolled, False
    base = midnights_s[known] + clock_s[known] - unrolled[known]
    nearest = np.maximum(np.searchsorted(known, np.arange(clock_s.size), side="right") - 1, 0)
    return unrolled + base[nearest], True
